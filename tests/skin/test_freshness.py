"""A bottle's keeping time: only ever shorter, and shorter the warmer, lighter and emptier."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendkit.blend.blend import Blend
from blendkit.foundation.data import example_document
from blendkit.materials import catalogue
from blendkit.skin.freshness import Storing, ageing, headspace, judge_peroxides, places
from blendkit.skin.keeping_times import best_before, months_later, old_stock
from blendkit.skin.published_limits import published

BLEND = Blend(example_document())
TODAY = date(2026, 11, 25)
OPENED = date(2026, 2, 1)
COLD, DARK, WARM = places()
MATERIALS = st.sampled_from([*catalogue.oil_ids(), *catalogue.carrier_ids()])
SHARES = st.floats(0, 1)
STORINGS = st.builds(
    Storing,
    st.sampled_from(["", *places()]),
    st.booleans(),
    st.booleans(),
    st.none() | SHARES,
)
PUBLISHED = Path(__file__).resolve().parents[1] / "published" / "keeping.csv"
SEEN = pd.read_csv(PUBLISHED).to_dict("records")


def use_by(name, storing=None, opened=OPENED):
    stored = {} if storing is None else {name: storing}
    (bottle,) = old_stock({name: opened}, TODAY, stored)
    return bottle


@given(MATERIALS, STORINGS)
def test_no_way_of_storing_makes_it_keep_longer_than_the_handbook_says(name, storing):
    handbook, stored = use_by(name), use_by(name, storing)
    assert OPENED <= stored.earliest <= stored.use_by <= stored.latest <= handbook.use_by
    assert stored.handbook == handbook.use_by


@given(MATERIALS, st.booleans(), SHARES, SHARES, st.booleans())
def test_more_air_daylight_or_warmth_never_gives_a_later_day(name, light, air, more, mixed_in):
    less, more = sorted((air, more))
    before = use_by(name, Storing(DARK, light, mixed_in, less))
    for worse in (
        Storing(DARK, light, mixed_in, more),
        Storing(DARK, True, mixed_in, less),
        Storing(WARM, light, mixed_in, less),
        Storing(DARK, light, False, less),
    ):
        after = use_by(name, worse)
        assert after.use_by <= before.use_by
        assert after.earliest <= before.earliest
        assert after.latest <= before.latest
    cold = use_by(name, Storing(COLD, light, mixed_in, less))
    assert cold.use_by >= before.use_by


def test_closed_cold_and_dark_is_the_handbooks_day_and_open_half_empty_warm_and_light_is_not():
    assert use_by("lemon", Storing(COLD, False, False, 0.0))[:9] == use_by("lemon")[:9]
    bad = use_by("lemon", Storing(WARM, True, False, 0.5))
    # by hand: 1 + (3.2 - 1) / 2 = 2.1 by air, 2 by warmth, 2 by light: 365 days / 8.4
    assert bad.use_by == OPENED + timedelta(days=43)
    assert bad.is_past
    assert "50 % air, warm, daylight" in bad.advice
    assert bad.grade == "estimated"


def test_what_is_not_on_record_widens_the_band_and_says_so():
    bottle = use_by("lavender", Storing(headspace=0.0))
    assert bottle.use_by == bottle.latest == bottle.handbook
    assert bottle.earliest < bottle.use_by
    assert "place not on record" in bottle.advice


@given(st.floats(0, 1e-3), st.floats(1e-6, 1e-3))
def test_headspace_is_a_share_and_fills_the_bottle_with_what_is_left(left, bottle):
    share = headspace(left, bottle)
    assert 0 <= share <= 1
    missing = (left / bottle + share) % 1
    assert left == 0 or min(missing, 1 - missing) < 1e-6 or left / bottle < 1e-8


@given(STORINGS, st.integers(0, 700))
def test_a_blend_ages_from_where_its_bottles_are_and_never_keeps_longer_for_it(storing, days):
    opened = dict.fromkeys(BLEND.oil_drops, OPENED)
    mixed_on = OPENED + timedelta(days=days)
    stored = dict.fromkeys(opened, storing)
    plain, aged = (best_before(BLEND, mixed_on, opened, x)[0].use_by for x in ({}, stored))
    assert aged <= plain
    if days == 0:  # nothing has gone by in the bottles yet
        assert aged == plain


def test_thirty_days_in_the_warm_count_as_sixty_when_a_blend_is_mixed():
    opened = {"lemon": TODAY - timedelta(days=30)}
    blend = BLEND.with_(oils=[{"id": "lemon", "note": "top"}], note_parts={"top": 1})
    stored = {"lemon": Storing(WARM, False, False, 0.0)}  # twice as fast
    end, _ = best_before(blend, TODAY, opened, stored)
    assert (end.name, end.use_by) == ("Lemon", months_later(TODAY - timedelta(days=60), 12))


# --- against the world ------------------------------------------------------------------------


@pytest.mark.parametrize("row", SEEN)
def test_an_oil_seen_to_oxidise_in_air_was_to_be_discarded_before(row, beside_published):
    storing = Storing(row["place"], row["daylight"] == "yes", False, row["headspace"])
    bottle = use_by(row["oil"], storing)
    days = (bottle.use_by - OPENED).days
    weeks = row["weeks"]
    beside_published(
        f"weeks until {row['oil']} is to be discarded: {row['observed']}",
        days / 7, weeks, 0, weeks, unit="weeks", source=f"{row['source']} ({row['grade']})",
    )  # fmt: skip


# --- peroxides ------------------------------------------------------------------------------


def test_every_peroxide_condition_on_record_is_read_as_a_figure():
    conditions = [x for x in published() if x.is_condition and "peroxide" in x.remark]
    oils = {name for limit in conditions if limit.of_materials for name in limit.members}
    assert len(conditions) >= 13
    for name in oils:
        assert judge_peroxides(name, 10.0).over


@pytest.mark.parametrize(
    ("material", "value", "over", "words"),
    [
        ("lemon", 19.9, False, "under the limit of 20 for limonene (EU"),
        ("lemon", 20, True, "at the limit of 20"),  # "less than 20 mmol/L"
        ("lavender", 24, True, "over the limit of 20 for linalool (IFRA standards; memory)"),
        ("pine-scots", 12, True, "over the limit of 10"),
        ("vetiver", 0, None, "no peroxide limit on record"),
        ("jojoba", 0, None, "no peroxide limit on record"),
    ],
)
def test_a_peroxide_value_against_the_strictest_limit_on_record(material, value, over, words):
    found = judge_peroxides(material, value)
    assert found.over is over
    assert words in found.words


@given(MATERIALS, st.floats(0, 100), st.floats(0, 100))
def test_more_peroxides_are_never_better(name, one, other):
    less, more = sorted((one, other))
    if judge_peroxides(name, less).over:
        assert judge_peroxides(name, more).over


def test_no_speed_on_record_is_below_one():
    for place in places():
        speeds = ageing(Storing(place, True, False, 1.0))
        assert 1 <= speeds.low <= speeds.typical <= speeds.high
