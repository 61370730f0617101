"""Cautions: the ones a careful person would expect are there, and none goes missing."""

import dataclasses
import itertools
from calendar import monthrange
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blendkit.foundation import data
from blendkit.foundation.errors import BadNumber, UnknownMaterial
from blendkit.keeping.own_materials import keep_lot
from blendkit.materials import catalogue
from blendkit.materials.analyses import read_analysis
from blendkit.skin import cautions
from blendkit.skin.cautions import WEARERS, cautions_for, excluded_for, patch_test_steps
from blendkit.skin.keeping_times import best_before, months_later, old_stock
from tests.tools.skin import blend_of

TABLE = data.table("cautions")
TODAY = date(2026, 11, 25)


def topics(found):
    return {caution.topic for caution in found}


# --- the table --------------------------------------------------------------------------------


def test_every_trigger_is_on_record():
    known = {
        "any": {"*"},
        "oil": {"*", *data.table("oils")["id"]},
        "carrier": set(data.table("carriers")["id"]),
        "constituent": set(data.table("constituents")["id"]),
    }
    for kind, rows in TABLE.groupby("trigger_kind"):
        assert set(rows["trigger"]) <= known[kind]


def test_everybody_a_caution_speaks_of_can_be_named():
    reached = {who for listed in WEARERS.values() for who in listed} | {cautions.EVERYONE}
    assert set(TABLE["who"]) == reached


def test_time_limits_have_a_time_and_nothing_else_has():
    is_limit = TABLE["action"] == "time limit"
    assert TABLE.loc[is_limit, "months"].notna().all()
    assert TABLE.loc[~is_limit, "months"].isna().all()


def test_every_oil_with_a_phototoxic_limit_has_a_sun_caution():
    limited = data.table("phototoxic").query("limit_percent > 0")["material"]
    for oil_id in set(limited) & set(catalogue.oil_ids()):
        assert "sun" in topics(cautions_for([oil_id], ["nut allergy"])), oil_id


# --- who and what -----------------------------------------------------------------------------


def test_general_cautions_always_come_along():
    for subject in (blend_of(["lavender"]), ["oud"], ["jojoba"], []):
        assert topics(cautions_for(subject)) >= {
            "pregnancy and breastfeeding", "small children", "asthma and migraine",
            "eyes and mucosa", "swallowing", "pets", "old stock", "scope",
        }  # fmt: skip


def test_nobody_named_means_everybody():
    oils = ["peppermint", "rosemary-cineole", "bergamot"]
    everybody = set(cautions_for(oils))
    for wearer in WEARERS:
        assert set(cautions_for(oils, [wearer])) <= everybody


def test_exclusions_come_first():
    actions = [c.action for c in cautions_for(["wintergreen", "bergamot"])]
    order = {"exclude": 0, "time limit": 1, "warn": 2}
    assert actions == sorted(actions, key=order.get)


def test_a_caution_says_what_calls_for_it():
    [sun] = [c for c in cautions_for(["bergamot", "lemon", "lavender"]) if "burn or" in c.text]
    assert sun.because_of == "Bergamot, Lemon"
    assert "18 hours" in sun.text


@pytest.mark.usefixtures("own_folder")
def test_constituents_call_for_cautions_too():
    lot = keep_lot("ambrette-seed", "A1", read_analysis("camphor 5 %"))
    assert not [c for c in cautions_for(["ambrette-seed"]) if "camphor" in c.because_of]
    assert [c for c in cautions_for([lot.id]) if "camphor" in c.because_of]
    [found] = [
        c
        for c in cautions_for(["ho-leaf-camphor"], ["epilepsy or seizures"])
        if c.topic.startswith("epilepsy") and c.action == "warn"
    ]
    assert "camphor in Ho leaf" in found.because_of


def test_an_own_lot_is_cautioned_like_its_oil(tmp_path, monkeypatch):
    monkeypatch.setenv("BLENDKIT_HOME", str(tmp_path))
    lot = keep_lot("bergamot", "B7", read_analysis("limonene 40 %"))
    assert [c for c in cautions_for([lot.id]) if "burn or" in c.text]
    lot = keep_lot("rue", "R1", read_analysis("limonene 1 %"))
    assert lot.id in excluded_for(["pregnant or breastfeeding"])


@pytest.mark.parametrize(
    ("wearer", "ids"),
    [
        # Tisserand & Young, Essential Oil Safety, 2nd ed. 2014: avoid in pregnancy
        ("pregnant or breastfeeding", ["anise-seed", "hyssop", "pennyroyal", "sage-dalmatian"]),
        ("pregnant or breastfeeding", ["tarragon", "thuja", "wintergreen", "wormwood"]),
        # the same, list of oils that may help set off a seizure
        ("epilepsy or seizures", ["ho-leaf-camphor", "hyssop", "lavender-spike", "thuja"]),
        # Regulation (EC) No 1223/2009, Annex III entry 324: methyl salicylate, under six
        ("child under 6", ["wintergreen", "birch-sweet", "peppermint", "eucalyptus-globulus"]),
        ("child under 12", ["wintergreen", "birch-sweet", "tea-tree"]),
        ("nut allergy", ["sweet-almond", "apricot-kernel", "hazelnut", "macadamia", "marula"]),
        ("seed allergy", ["sesame"]),
        ("blood thinners or aspirin allergy", ["wintergreen", "birch-sweet"]),
    ],
)
def test_exclusions(wearer, ids):
    assert set(ids) <= set(excluded_for([wearer]))


def test_carriers_of_a_nut_kind_are_excluded_with_a_nut_allergy():
    # fractionated coconut is offered in place of nut oils (allergy society answers on almond)
    nuts = [
        name
        for name in catalogue.carrier_ids()
        if "tree" in (group := catalogue.carrier(name).allergen_group)
        and not group.startswith("coconut")
    ]
    assert len(nuts) >= 5
    assert set(nuts) <= set(excluded_for(["nut allergy"]))


def test_carriers_with_any_allergen_on_record_have_a_caution():
    for name in catalogue.carrier_ids():
        if not catalogue.carrier(name).allergen_group.startswith("none usual"):
            found = [c for c in cautions_for([name]) if c.topic == "nut and seed allergy"]
            assert found, name


def test_a_child_under_three_gets_nothing_at_all():
    everything = {*catalogue.oil_ids(), *catalogue.carrier_ids()}
    assert set(excluded_for(["child under 3"])) == everything


def test_a_younger_child_is_never_allowed_more():
    ages = ["child under 3", "child under 6", "child under 10", "child under 12"]
    excluded = [set(excluded_for([age])) for age in ages]
    for younger, older in itertools.pairwise(excluded):
        assert older <= younger


@settings(deadline=None, max_examples=30)
@given(st.lists(st.sampled_from(sorted(WEARERS)), max_size=4))
def test_a_class_excludes_what_anybody_in_it_must_avoid(wearers):
    together = set(excluded_for(wearers))
    assert together == {name for wearer in wearers for name in excluded_for([wearer])}


def test_an_unknown_wearer_is_refused_with_the_nearest():
    with pytest.raises(BadNumber, match='Did you mean "nut allergy"'):
        excluded_for(["nut allergies"])
    with pytest.raises(BadNumber, match="wearer"):
        cautions_for(["lavender"], ["giants"])


def test_unknown_materials_are_refused():
    with pytest.raises(UnknownMaterial):
        cautions_for(["lavendel"])


# --- patch test and old stock -----------------------------------------------------------------


def test_patch_test_steps():
    steps = patch_test_steps()
    # they are a card of their own, not a caution
    assert "patch test" not in topics(cautions_for(["bergamot"]))
    assert len(steps) == 6
    assert "never an undiluted oil" in steps[0]
    assert any("twice a day for 7 to 10 days" in step for step in steps)
    assert any("24 to 48 hour" in step and "slow reactions" in step for step in steps)


def test_old_stock():
    found = old_stock(
        {"jojoba": date(2026, 1, 1), "lemon": date(2025, 1, 31), "vetiver": date(2024, 12, 1)},
        TODAY,
    )
    # lemon 12 months, vetiver 24 (no figure of its own), jojoba 24 (its shelf life)
    assert [(b.material, b.use_by, b.is_past) for b in found] == [
        ("lemon", date(2026, 1, 31), True),
        ("vetiver", date(2026, 12, 1), False),
        ("jojoba", date(2028, 1, 1), False),
    ]
    assert "do not use it" in found[0].advice


def test_a_bottle_is_past_its_time_only_after_the_last_day():
    for today, is_past in ((date(2026, 11, 25), False), (date(2026, 11, 26), True)):
        [bottle] = old_stock({"lemon": date(2025, 11, 25)}, today)
        assert bottle.is_past is is_past


def test_a_bottle_opened_tomorrow_is_refused():
    with pytest.raises(BadNumber, match="lemon"):
        old_stock({"lemon": date(2027, 1, 1)}, TODAY)


def test_every_oil_has_a_keeping_time():
    for name in catalogue.oil_ids():
        [bottle] = old_stock({name: TODAY}, TODAY)
        assert TODAY < bottle.use_by <= months_later(TODAY, 24)


def test_a_blend_keeps_as_long_as_its_weakest_part():
    # grapeseed 3 months, lavender 24 months, lemon 12 months of which 11 are gone
    blend = blend_of(["lavender", "lemon"], ["grapeseed"])
    fresh, assumed = best_before(blend, TODAY)
    assert (fresh.name, fresh.use_by) == ("Grapeseed", date(2027, 2, 25))
    assert fresh.grade == "common practice"
    assert set(assumed) == {"Lavender", "Lemon", "Grapeseed"}
    with_dates, assumed = best_before(blend, TODAY, {"lemon": date(2025, 12, 25)})
    assert (with_dates.name, with_dates.use_by) == ("Lemon", date(2026, 12, 25))
    assert "Lemon" not in assumed


@given(st.dates(date(2000, 1, 1), date(2060, 1, 1)), st.integers(0, 60))
def test_months_later(day, months):
    later = months_later(day, months)
    assert (later.year * 12 + later.month) - (day.year * 12 + day.month) == months
    assert later.day == min(day.day, monthrange(later.year, later.month)[1])


def test_an_oil_the_table_does_not_know_keeps_the_default_time():
    oil = dataclasses.replace(catalogue.oil("lavender"), based_on="something else")
    assert cautions.keeping_trigger(oil) == "*"
