"""Loudness matched on two blotters, and a ratio in which every oil is heard."""

import csv
import itertools
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from blendkit.blend.blend import Blend
from blendkit.choosing.answers import CANNOT_TELL, FIRST, SECOND
from blendkit.choosing.loudness import (
    NOSE,
    ROW,
    Answer,
    Nose,
    _heard,
    _smell_of,
    heard_ratio,
    match,
    read_answer,
)
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.wear import film_of
from blendkit.foundation.data import example_document
from blendkit.foundation.errors import BadNumber, UnknownMaterial
from blendkit.skin import check
from blendkit.skin.counted_bottle import CountedBottle
from tests.tools.skin import blend_of

OILS = ("lavender", "patchouli", "lemon", "clove-bud", "geranium", "sandalwood-album")
PAIRS = Path(__file__).parents[1] / "published" / "binary_mixtures.csv"
TWO = st.lists(st.sampled_from(OILS), min_size=2, max_size=2, unique=True)
SAID = st.sampled_from([FIRST, SECOND, CANNOT_TELL])
ANSWERS = st.lists(
    st.builds(
        lambda two, a, b, said: Answer(two[0], a / 100, two[1], b / 100, said),
        TWO, st.sampled_from(ROW), st.sampled_from(ROW), SAID,
    ),
    max_size=8,
)  # fmt: skip


@settings(max_examples=60)
@given(ANSWERS)
def test_answers_never_widen_a_band(answers):
    before, after = match(OILS), match(OILS, answers)
    assert (after.belief.covariance.diagonal() <= before.before.diagonal() + 1e-9).all()
    assert np.linalg.eigvalsh(after.belief.covariance).min() > 0


@settings(max_examples=30)
@given(TWO, st.sampled_from(ROW), st.sampled_from(ROW), SAID)
def test_either_may_be_named_first(two, at_one, at_two, said):
    one, two = two
    here = match(OILS, [Answer(one, at_one / 100, two, at_two / 100, said)])
    there = match(OILS, [Answer(two, at_two / 100, one, at_one / 100, -said)])
    assert here.belief.mean == pytest.approx(there.belief.mean, abs=1e-6)


@pytest.mark.parametrize(
    ("oil", "truth"), [("patchouli", 2.5), ("lemon", -1.0), ("geranium", 0.7)]
)
def test_eight_answers_come_near_a_nose_that_is_known(oil, truth):
    chance = np.random.default_rng(3)
    found, answers = match([oil, "lavender"]), []
    for _ in range(8):
        step = found.next_step(oil, "lavender", 4.0)
        one, _ = _smell_of(oil).log_strength(truth + math.log(step))
        two, _ = _smell_of("lavender").log_strength(math.log(4.0))
        felt = one - two + 0.15 * chance.standard_normal()
        said = FIRST if felt > 0.1 else SECOND if felt < -0.1 else CANNOT_TELL
        answers.append(Answer(oil, step / 100, "lavender", 0.04, said))
        found = match([oil, "lavender"], answers)
    blind = match([oil, "lavender"]).drops_as_loud(oil, "lavender")
    likely, low, high = found.drops_as_loud(oil, "lavender")
    assert low <= likely <= high
    assert math.log(high / low) < math.log(blind[2] / blind[1])
    known = _smell_of("lavender").shift_for(_smell_of(oil).log_strength(truth)[0])
    assert abs(math.log(likely) - known) < max(1.0, abs(math.log(blind[0]) - known))


@given(st.sampled_from(OILS), st.floats(-8, 8))
def test_a_strength_and_the_shift_for_it_are_inverse(oil, shift):
    strength, slope = _smell_of(oil).log_strength(shift)
    assert _smell_of(oil).shift_for(strength) == pytest.approx(shift, abs=1e-5)
    step = 1e-5
    rise = _smell_of(oil).log_strength(shift + step)[0] - strength
    assert slope >= 0
    assert rise >= slope * step * 0.99 - 1e-9  # at a corner the louder molecule takes over


def test_a_strength_that_is_never_reached_is_infinite():
    assert _smell_of("lavender").shift_for(math.log(1e4)) == math.inf


def test_the_next_step_goes_down_as_an_oil_proves_louder():
    found = match(["patchouli", "lavender"])
    assert found.next_step("lavender", "lavender", 4.0) == 4.0
    louder = [Answer("patchouli", 0.01, "lavender", 0.16, FIRST)] * 5
    louder = match(["patchouli", "lavender"], louder)
    assert louder.next_step("patchouli", "lavender", 4.0) < 4.0
    assert louder.next_step("lavender", "patchouli", 16.0) == ROW[-1]


def test_an_oil_is_as_loud_as_itself():
    found = match(OILS, [Answer("lavender", 0.04, "lemon", 0.04, FIRST)])
    assert found.drops_as_loud("lavender", "lavender") == pytest.approx((1, 1, 1))


def test_oils_of_one_class_share_an_error():
    found = match(["sweet-orange", "grapefruit", "lavender"],
                  [Answer("sweet-orange", 0.04, "lavender", 0.01, SECOND)] * 6)  # fmt: skip
    mean = dict(zip(found.oils, found.belief.mean, strict=True))
    assert mean["sweet-orange"] < 0
    same = _smell_of("sweet-orange").chemical_class == _smell_of("grapefruit").chemical_class
    assert (mean["grapefruit"] < -1e-6) == same


def test_the_error_of_one_sniff_is_no_smaller_than_that_of_a_panel(beside_published):
    rows = list(csv.DictReader(PAIRS.read_text(encoding="utf-8").splitlines()))
    columns = [name for name in rows[0] if name.startswith(("intensity_a", "intensity_b"))]
    a, b, in_a, in_b = (np.array([float(row[name]) for row in rows]) for name in sorted(
        columns, key=lambda name: ("mixture" in name, name)))  # fmt: skip
    ratio = np.abs(np.log(a / b))
    right = (a > b) == (in_a > in_b)
    near = (ratio > math.log(1.1)) & (ratio < math.log(1.2))
    expected = norm.cdf(np.median(ratio[near]) / 0.25)
    beside_published(
        "pairs 10 to 20 % apart in order; one nose is taken to do no better than a panel",
        expected, right[near].mean(), 0.5, right[near].mean(),
        source="Rated mixtures of 2021, doi 10.15454/51OVY6 (read)",
    )  # fmt: skip


# --- as one nose smells a film ----------------------------------------------------------------


def test_without_answers_a_film_smells_as_ever():
    film = film_of(Blend(example_document()).bottle, Conditions())
    assert NOSE.heard(film) is film
    same = Nose(match(film.oils)).heard(film)
    assert same.curves.half_kg_per_m3 == pytest.approx(film.curves.half_kg_per_m3)
    assert same.curves.log_spread == pytest.approx(film.curves.log_spread)


def test_a_louder_oil_makes_its_molecules_louder_and_surer():
    film = film_of(Blend(example_document()).bottle, Conditions())
    answers = [Answer("patchouli", 0.01, "lavender", 0.16, FIRST)] * 4
    heard = Nose(match(film.oils, answers)).heard(film)
    own = film.share_of_oil[film.oils.index("patchouli")] > 0.99
    assert (heard.curves.half_kg_per_m3[own] < film.curves.half_kg_per_m3[own]).all()
    assert (heard.curves.log_spread[own] < film.curves.log_spread[own]).all()


# --- a ratio in which every oil is heard ------------------------------------------------------


@settings(max_examples=12)
@given(st.lists(st.sampled_from(OILS), min_size=2, max_size=4, unique=True), st.integers(5, 14))
def test_the_ratio_keeps_total_oils_and_limits(oils, strength):
    blend = blend_of(oils, strength=f"{strength} %")
    bottle = CountedBottle(blend, check.rules_in(blend), {})
    if bottle.over(np.ones(len(oils), dtype=int)):
        with pytest.raises(BadNumber, match="one of each breaks"):
            heard_ratio(blend)
        return
    found = heard_ratio(blend)
    assert set(found.blend.oil_drops) == set(oils)
    assert min(found.blend.oil_drops.values()) >= 1
    assert sum(found.blend.oil_drops.values()) <= blend.total_drops
    drops = np.array([found.blend.oil_drops[name] for name in bottle.ids])
    assert not bottle.over(drops)
    if sum(drops) < blend.total_drops:
        more = (bottle.with_more(drops, place) for place in range(len(drops)))
        assert all(bottle.over(each) for each in more)


@pytest.mark.parametrize(
    "oils", [("lavender", "patchouli", "lemon"), ("geranium", "lavender", "lemon")]
)
def test_no_ratio_at_all_is_much_better_for_the_least_heard(oils):
    blend = blend_of(oils, strength="6 %")
    bottle = CountedBottle(blend, check.rules_in(blend), {})
    total = int(bottle.drops.sum())
    best = 0.0
    for counts in itertools.product(range(1, total), repeat=len(oils)):
        drops = np.array(counts)
        if sum(counts) == total and not bottle.over(drops):
            best = max(best, _heard(bottle, drops, NOSE).min())
    assert min(heard_ratio(blend).heard.values()) >= 0.9 * best


def test_fewer_drops_than_oils_are_refused():
    blend = blend_of(["lavender", "lemon"]).with_(drops={"lavender": 1, "lemon": 0})
    with pytest.raises(BadNumber, match="one drop of each oil"):
        heard_ratio(blend)


# --- answers as they are written --------------------------------------------------------------


def test_an_answer_is_read():
    found = read_answer(
        {"first": "lavender", "first_at": "4 %", "second": "lemon", "second_at": "0.5 %",
         "stronger": "cannot tell"}
    )  # fmt: skip
    assert found == Answer("lavender", pytest.approx(0.04), "lemon", 0.005, CANNOT_TELL)


@pytest.mark.parametrize(
    "change",
    [{"stronger": "both"}, {"first_at": "4"}, {"first_at": "0 %"}, {"second_at": "120 %"},
     {"second": "lavender"}, {"stronger": ["first"]}, {"first_at": None}],
)  # fmt: skip
def test_an_answer_that_means_nothing_is_refused(change):
    document = {"first": "lavender", "first_at": "4 %", "second": "lemon", "second_at": "1 %",
                "stronger": "first"}  # fmt: skip
    with pytest.raises(BadNumber):
        read_answer({**document, **change})


def test_an_unknown_oil_is_named():
    with pytest.raises(UnknownMaterial):
        read_answer({"first": "lavander", "second": "lemon"})
