"""The map between three corners: every whole-drop recipe, limits, and who leads."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blendkit.blend.blend import Blend
from blendkit.choosing.map import HOURS, REST, map_of
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.fade_words import in_front
from blendkit.evaporation.forecast import forecast
from blendkit.evaporation.wear import film_of
from blendkit.foundation.data import example_document
from blendkit.foundation.errors import BadNumber
from blendkit.skin import check
from tests.tools.skin import blend_of


@pytest.fixture(scope="module")
def limited():
    blend = blend_of(["lemon", "geranium", "patchouli"])
    return blend, map_of(blend)


def test_every_recipe_is_a_dot_once(limited):
    blend, found = limited
    total = sum(blend.oil_drops.values())
    assert len(found.dots) == (total + 1) * (total + 2) // 2
    assert len(np.unique(found.dots, axis=0)) == len(found.dots)
    assert (found.drops.sum(axis=1) == total).all()


def test_the_barred_corner_is_what_the_check_bars(limited):
    blend, found = limited
    rules = check.rules_in(blend)
    nearly = 0
    for number, (drops, barred_by) in enumerate(zip(found.drops, found.barred_by, strict=True)):
        fractions = found.bottle.mass_fractions(drops)
        if number % 40 == 0:
            counts = dict(zip(found.bottle.ids, drops.tolist(), strict=True))
            made = blend.with_(drops=counts).bottle.mass_fractions()
            assert fractions == pytest.approx({name: made[name] for name in fractions})
        broken = [rule for rule in rules if rule.is_broken_by(fractions)]
        assert bool(barred_by) == bool(broken)
        assert not barred_by or any(f"{r.rule_set}, {r.subject}" == barred_by for r in broken)
        nearly += any(1 < rule.share(fractions, rule.binding) < 1.05 for rule in broken)
    assert nearly
    assert any(found.barred_by)
    assert not all(found.barred_by)


def test_the_notes_lead_as_the_forecast_says():
    blend = Blend(example_document())
    found = map_of(blend)
    counts = np.array([blend.oil_drops[name] for name in found.bottle.ids])
    dot = int(np.flatnonzero((found.drops == counts).all(axis=1))[0])
    film = film_of(blend.bottle, Conditions())
    expected = in_front(forecast(film, HOURS, 2048)).T
    assert found.leads_at(dot, 2048) == pytest.approx(expected, abs=0.02)
    assert found.leads.shape == (len(found.grid), len(HOURS), 3)
    assert found.leads.sum(axis=2) == pytest.approx(np.ones(found.leads.shape[:2]))


@settings(max_examples=30)
@given(
    st.lists(st.floats(0, 1), min_size=3, max_size=3).filter(lambda shares: sum(shares) > 0.01)
)
def test_a_dragged_dot_is_the_nearest_recipe(limited, shares):
    _, found = limited
    dot = found.nearest(shares)
    target = np.array(shares) / sum(shares) * found.dots[0].sum()
    away = ((found.dots - target) ** 2).sum(axis=1)
    assert away[dot] == away.min()
    assert found.drops[dot].sum() == found.dots[0].sum()


def test_a_corner_alone_leads_there(limited):
    _, found = limited
    for corner in range(3):
        leads = found.leads_at(found.nearest(np.eye(3)[corner]), 128)
        assert leads[:, corner] == pytest.approx(np.ones(3))


def test_other_oils_keep_their_drops():
    blend = Blend(example_document())
    corners = {name: [name] for name in ("lavender", "geranium", "petitgrain")}
    found = map_of(blend, corners)
    assert found.corners == ("lavender", "geranium", "petitgrain", REST)
    for name in ("patchouli", "bergamot-fcf"):
        column = found.drops[:, found.bottle.ids.index(name)]
        assert set(column.tolist()) == {blend.oil_drops[name]}


def test_kept_versions_have_a_place_where_they_have_no_other_oil(limited):
    blend, found = limited
    place = found.place(blend.with_(drops={"lemon": 1, "geranium": 1, "patchouli": 2}))
    held = dict(zip(found.corners, place, strict=True))
    assert held == {"top": 0.25, "middle": 0.25, "base": 0.5}
    assert found.place(Blend(example_document())) is None


@pytest.mark.parametrize(
    "corners",
    [
        {"a": ["lavender"], "b": ["patchouli"]},
        {"a": ["lavender"], "b": ["lavender"], "c": ["patchouli"]},
        {"a": ["lavender"], "b": ["rose-otto"], "c": ["patchouli"]},
        {"a": ["lavender"], "b": [], "c": ["patchouli"]},
    ],
)
def test_corners_that_mean_nothing_are_refused(corners):
    with pytest.raises(BadNumber):
        map_of(Blend(example_document()), corners)


@pytest.mark.parametrize("shares", [(0, 0, 0), (1, 1), (-1, 1, 1)])
def test_shares_that_mean_nothing_are_refused(limited, shares):
    with pytest.raises(BadNumber):
        limited[1].nearest(shares)
