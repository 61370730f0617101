"""What the shelf answers: kept blends against stock, one more oil against a full forecast."""

from datetime import date

import numpy as np
import pytest

from blendkit.blend.blend import Blend
from blendkit.choosing.tonight import BRING, Kept, MoreOils, tonight
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.design import with_more_oils
from blendkit.evaporation.forecast import lasting_of
from blendkit.evaporation.wear import film_of
from blendkit.foundation.data import example_document
from blendkit.materials import catalogue
from blendkit.skin import check
from tests.tools.skin import blend_of

PLENTY = 1e-4


def example():
    return Blend(example_document())


def stocked(blend, *without):
    names = [portion.material for portion in blend.bottle.portions]
    return {name: PLENTY for name in names if name not in without}


def test_what_can_be_made_comes_first_and_the_oldest_of_it():
    blend = example()
    other = blend_of(["lavender", "rose-otto"])
    kept = [Kept(other, date(2020, 1, 1)), Kept(blend, date(2026, 5, 1)),
            Kept(blend.with_(name="older"), date(2025, 5, 1))]  # fmt: skip
    found = tonight(kept, stocked(blend))
    assert [row.kept.day.year for row in found] == [2025, 2026, 2020]
    assert [len(row.short) for row in found] == [0, 0, 1]
    assert found[0].words == "Everything for one bottle is there."


def test_one_oil_short_names_its_relative_on_the_shelf():
    blend = example()
    shelf = {**stocked(blend, "lavender"), "lavandin-grosso": PLENTY, "clove-bud": PLENTY}
    (row,) = tonight([Kept(blend, date(2026, 1, 1))], shelf)
    portion = next(p for p in blend.bottle.portions if p.material == "lavender")
    assert row.short == {"lavender": pytest.approx(portion.volume_m3)}
    assert row.relative == "lavandin-grosso"
    assert row.words.endswith("Nearest relative on your shelf: Lavandin Grosso.")
    (barred,) = tonight([row.kept], shelf, excluded=["lavandin-grosso"])
    assert barred.relative != "lavandin-grosso"


def test_two_oils_or_a_carrier_short_name_no_relative():
    blend = example()
    for gone in (("lavender", "petitgrain"), ("jojoba",)):
        (row,) = tonight([Kept(blend, date(2026, 1, 1))], stocked(blend, *gone))
        assert set(row.short) == set(gone)
        assert row.relative == ""


def test_a_little_too_little_is_too_little():
    blend = example()
    shelf = {p.material: p.volume_m3 for p in blend.bottle.portions}
    assert tonight([Kept(blend, date(2026, 1, 1))], shelf)[0].short == {}
    shelf["patchouli"] *= 0.99
    assert set(tonight([Kept(blend, date(2026, 1, 1))], shelf)[0].short) == {"patchouli"}


@pytest.fixture(scope="module")
def more():
    return MoreOils(example(), catalogue.oil_ids())


def test_what_is_over_a_limit_comes_last_and_is_what_the_check_says(more):
    found = more.ranked(more=2)
    fits = [row.is_allowed for row in found]
    assert fits == sorted(fits, reverse=True)
    assert not all(fits)
    for row in found[::15]:
        made = with_more_oils(example(), [row.oil])
        made = made.with_(drops={**made.oil_drops, row.oil: 2})
        fractions = made.bottle.mass_fractions()
        broken = any(rule.is_broken_by(fractions) for rule in check.rules_in(made))
        assert row.is_allowed == (not broken), row.oil


def test_what_lengthens_a_short_blend_lasts_as_long_on_its_own_film():
    blend = blend_of(["lemon", "sweet-orange"], strength="10 %")
    more = MoreOils(blend, ["lavender", "geranium", "petitgrain", "cinnamon-leaf"])
    before = lasting_of(film_of(blend.bottle, Conditions()), 8).hours[-1]
    for row in more.ranked():
        made = with_more_oils(blend, [row.oil])
        made = made.with_(drops={**made.oil_drops, row.oil: 2})
        hours = lasting_of(film_of(made.bottle, Conditions()), 8).hours[-1]
        # hours on a grid a fifth apart, and losses as without the oil
        assert row.longer_h == pytest.approx(max(hours - before, 0), rel=0.5, abs=0.5), row.oil


def test_it_brings_what_is_not_there(more):
    found = more.ranked(by=BRING)
    values = [row.heard * row.new for row in found if row.is_allowed]
    assert values == sorted(values, reverse=True)
    by_oil = {row.oil: row for row in found}
    assert by_oil["lavandin-grosso"].new < 0.5 < by_oil["vetiver"].new
    assert all(0 <= row.heard <= 1 + 1e-9 and 0 <= row.new <= 1 + 1e-9 for row in found)
    assert not {row.oil for row in found} & set(example().oil_drops)


def test_dragged_drops_are_those_that_are_judged(more):
    plain = more.ranked()
    assert more.ranked(dict(example().oil_drops)) == plain
    fuller = more.ranked({"lavender": 60})
    assert sum(row.is_allowed for row in fuller) <= sum(row.is_allowed for row in plain)
    assert np.mean([row.heard for row in fuller]) <= np.mean([row.heard for row in plain])
