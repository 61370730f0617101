"""Mixtures and other own materials: kept, found again, refused in words, unfolded."""

from __future__ import annotations

import json
from dataclasses import FrozenInstanceError
from pathlib import Path

import pandas as pd
import pytest

import blendkit as bk
from blendkit.foundation import data
from blendkit.foundation.errors import BadNumber, UnknownMaterial
from blendkit.journal.records import OwnMaterialRow
from blendkit.journal.store import now
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.versions import keep_version
from blendkit.materials import catalogue
from blendkit.materials.amounts import material
from blendkit.materials.constituents import constituent
from blendkit.materials.own_materials import DEEPEST, read_all, version_id
from blendkit.materials.search import find
from blendkit.showing.shelf.fragments import oil_list
from blendkit.skin.cautions import cautions_for, excluded_for

pytestmark = pytest.mark.usefixtures("own_folder")
PUBLISHED = Path(__file__).parents[1] / "published" / "alligation.csv"
ALLIGATION = list(pd.read_csv(PUBLISHED).itertuples(index=False))
DILUTIONS = list(pd.read_csv(PUBLISHED.with_name("dilutions.csv")).itertuples(index=False))
DILUTION = {"rose-otto": 3, "jojoba": 97}


def blend_with(oil_id, **more):
    return bk.Blend(
        {"bottle": "10 mL", "strength": "20 %", "note_parts": {"middle": 1},
         "oils": [{"id": oil_id, "note": "middle"}], "carriers": [{"id": "jojoba"}], **more}
    )  # fmt: skip


@pytest.mark.parametrize("case", ALLIGATION, ids=lambda c: c.parts)
def test_strength_of_a_mixture_is_the_printed_alligation(case, beside_published):
    """Each stock is a dilution by volume of one oil in one carrier; then they are mixed."""
    parts, strengths = (list(map(float, str(t).split(";"))) for t in case[:2])
    stocks = [
        bk.keep_mixture(f"stock {s:g}", {"lavender": s, "jojoba": 100 - s}, "volume")
        for s in strengths
    ]
    made = bk.keep_mixture(
        "all", dict(zip((s.id for s in stocks), parts, strict=True)), "volume"
    )
    shares = {part.id: share / part.density_kg_per_m3 for part, share in made.parts}
    beside_published(
        f"strength of a mixture of {case.parts} parts at {case.strengths_percent} %",
        shares["lavender"] / sum(shares.values()) * 100,
        case.strength_percent,
        case.strength_percent * (1 - 1e-9),
        case.strength_percent * (1 + 1e-9),
        unit="%",
        source=case.source,
    )


@pytest.mark.parametrize("case", DILUTIONS, ids=lambda c: f"{c.before_concentration:g} %")
def test_strength_of_a_dilution_is_the_printed_one(case, beside_published):
    """A stock of that many percent by volume, kept and diluted with its own carrier."""
    strength = case.before_concentration
    stock = bk.keep_mixture("stock", {"lavender": strength, "jojoba": 100 - strength}, "volume")
    more = case.after_volume_ml - case.before_volume_ml
    made = bk.keep_mixture("d", {stock.id: case.before_volume_ml, "jojoba": more}, "volume")
    shares = {part.id: share / part.density_kg_per_m3 for part, share in made.parts}
    half = case.printed_step / 2 * (1 + 1e-9)  # a printed answer is rounded to its last digit
    beside_published(
        f"a kept stock of {strength:g} %, {case.before_volume_ml:g} to "
        f"{case.after_volume_ml:g} mL",
        shares["lavender"] / sum(shares.values()) * 100,
        case.after_concentration,
        case.after_concentration - half,
        case.after_concentration + half,
        unit="%",
        source=case.source,
    )


def test_density_of_a_mixture_adds_volumes():
    """Mass over the sum of volumes, by the definition of density."""
    made = bk.keep_mixture("half", {"rose-otto": 1, "castor": 1})
    oil, carrier = catalogue.oil("rose-otto"), catalogue.carrier("castor")
    volume = 0.5 / oil.density_kg_per_m3 + 0.5 / carrier.density_kg_per_m3
    assert made.density_kg_per_m3 == pytest.approx(1 / volume)


@pytest.mark.parametrize(
    ("parts", "note"),
    [
        ({"bergamot": 3, "patchouli": 1, "jojoba": 96}, "top"),
        # two tops together weigh more than the base alone
        ({"bergamot": 2, "lemon": 2, "patchouli": 3}, "top"),
        ({"bergamot": 1, "lemon": 1, "patchouli": 3}, "base"),
    ],
)
def test_a_mixture_plays_the_note_of_most_of_its_oils(parts, note):
    assert bk.keep_mixture("accord", parts).note == note


def test_bounds_are_what_still_goes():
    """Half a century, sixty parts and a name of 200 characters; judgement."""
    many = catalogue.oil_ids()[:61]
    made = bk.keep_mixture("x" * 200, dict.fromkeys(many[:60], 1), keeps_months=600)
    assert len(made.parts) == 60
    assert bk.keep_material("y", "carrier", keeps_months=600).shelf_life_months == 600
    with pytest.raises(BadNumber, match="name"):
        bk.keep_mixture("x" * 201, {"jojoba": 1})
    with pytest.raises(BadNumber, match="parts"):
        bk.keep_mixture("z", dict.fromkeys(many, 1))
    with pytest.raises(BadNumber, match="keeps_months: got 601"):
        bk.keep_material("z", "carrier", keeps_months=601)


def test_masses_of_mixtures_unfold_into_those_of_their_parts():
    made = bk.keep_mixture("Rose", DILUTION)
    found = catalogue.unfold({made.id: 2, "lavender": 1, "rose-otto": 0.5})
    assert found == pytest.approx({"rose-otto": 2 * 0.03 + 0.5, "jojoba": 1.94, "lavender": 1})
    assert catalogue.fold({"rose-otto": 5, "jojoba": 1}, made.id) == pytest.approx(1.12)
    assert catalogue.fold({made.id: 7, "jojoba": 1}, made.id) == 7


def test_what_no_analysis_describes_of_a_mixture_is_that_of_its_oils():
    made = bk.keep_mixture("two", {"melissa": 1, "carrot-seed": 2, "jojoba": 5})
    rests = [catalogue.oil(name).unidentified_fraction for name in ("melissa", "carrot-seed")]
    assert made.unidentified_fraction == pytest.approx(rests[0] / 8 + rests[1] / 4)


@pytest.mark.parametrize("name", ["lavender", "jojoba", "mixture"])
def test_nobody_who_holds_a_material_can_change_it(name):
    held = bk.keep_mixture("m", DILUTION).id if name == "mixture" else name
    with pytest.raises(FrozenInstanceError):
        material(held).name = "another"


def test_oils_are_counted_and_carriers_poured_and_a_mixture_is_what_it_plays():
    assert not any(map(catalogue.is_carrier, map(catalogue.oil, bk.oils().index)))
    assert all(map(catalogue.is_carrier, map(catalogue.carrier, bk.carriers().index)))
    for note in ("top", "middle", "base", "carrier"):
        made = bk.keep_mixture(f"as {note}", DILUTION, note=note)
        assert catalogue.is_carrier(made) == (note == "carrier")


@pytest.mark.parametrize("name", ["lavender", "rose-otto", "lemon"])
def test_a_composition_is_the_tables_largest_first(name):
    table = data.table("compositions").query("oil == @name")
    rows = {row.constituent: row for row in table.itertuples()}
    shares = catalogue.oil(name).composition
    assert {share.constituent for share in shares} == rows.keys()
    for share in shares:
        row = rows[share.constituent]
        printed = (row.low_percent, row.typical_percent, row.high_percent)
        held = (share.low * 100, share.typical * 100, share.high * 100)
        assert held == pytest.approx(printed)
    typical = [share.typical for share in shares]
    assert typical == sorted(typical, reverse=True)
    assert typical[0] > typical[-1]


def test_of_nothing_volatile_no_vapour_pressure_is_made_up():
    own = bk.keep_material("Katrafay (invented)")
    assert catalogue.mean_vapour_pressure_pa(own) == 0
    # a geometric mean lies between the least and the greatest
    lavender = catalogue.oil("lavender")
    pressures = [constituent(s.constituent).vapour_pressure_pa for s in lavender.composition
                 if constituent(s.constituent).is_volatile]  # fmt: skip
    assert min(pressures) < catalogue.mean_vapour_pressure_pa(lavender) < max(pressures)


@pytest.mark.parametrize("no_id", [3, None, ["lavender"], b"lavender"])
def test_what_is_no_id_names_no_material(no_id):
    with pytest.raises(UnknownMaterial):
        catalogue.oil(no_id)
    assert catalogue.find_own(no_id) is None


def test_molar_mass_of_a_mixture_adds_moles():
    made = bk.keep_mixture("two", {"jojoba": 1, "mct-fractionated-coconut": 1, "lavender": 2})
    moles = [0.25 / catalogue.carrier(name).molar_mass_kg_per_mol
             for name in ("jojoba", "mct-fractionated-coconut")]  # fmt: skip
    assert made.molar_mass_kg_per_mol == pytest.approx(0.5 / sum(moles))


def test_a_mixture_holds_of_each_constituent_what_its_oils_bring():
    made = bk.keep_mixture("two", {"lavender": 1, "bergamot": 3, "jojoba": 6})
    (linalool,) = (share for share in made.composition if share.constituent == "78-70-6")
    for end in ("low", "typical", "high"):
        brought = sum(
            part * getattr(share, end)
            for name, part in (("lavender", 0.1), ("bergamot", 0.3))
            for share in catalogue.oil(name).composition
            if share.constituent == "78-70-6"
        )
        assert getattr(linalool, end) == pytest.approx(brought)


def test_drops_count_by_the_size_of_each_dropper():
    sizes = {"rose-otto": 30}
    made = bk.keep_mixture("d", {"rose-otto": 3, "jojoba": 2}, "drops", drop_sizes=sizes)
    shares = {part.id: share / part.density_kg_per_m3 for part, share in made.parts}
    assert shares["rose-otto"] == pytest.approx(shares["jojoba"])  # 3 / 30 = 2 / 20 of a mL


def test_a_dilution_counts_as_typed_and_its_solvent_as_carrier():
    made = bk.keep_mixture("Rose 3 % in jojoba", DILUTION)
    bottle = blend_with(made.id).bottle
    assert bottle.oil_drops == 40  # a drop of a dilution is a drop
    assert bottle.strength_by_drops == pytest.approx(0.2)
    assert bottle.pure_oil_by_mass == pytest.approx(bottle.strength_by_mass * 0.03)
    assert set(bottle.mass_fractions()) == {"rose-otto", "jojoba"}
    assert sum(bottle.mass_fractions().values()) == pytest.approx(1)


def test_its_own_drop_size_counts_and_a_typed_one_wins():
    made = bk.keep_mixture("thick", {"benzoin-siam": 1, "castor": 1}, drops_per_ml=12)
    assert blend_with(made.id).drops_per_ml_of(made.id) == 12
    typed = blend_with(made.id, drops_per_ml={"default": 20, made.id: 15})
    assert typed.drops_per_ml_of(made.id) == 15


def test_a_kept_blend_keeps_the_version_it_was_made_with():
    first = bk.keep_mixture("Rose", DILUTION)
    kept, _ = keep_version(the_journal(), blend_with(first.id, name="Quay (invented)"))
    before = kept.blend().bottle.mass_fractions()
    bk.keep_mixture("Rose", {"rose-otto": 10, "jojoba": 90})
    assert kept.blend().bottle.mass_fractions() == before
    assert blend_with(first.id).bottle.mass_fractions()["rose-otto"] > 3 * before["rose-otto"]
    again, is_new = keep_version(the_journal(), kept.blend())
    assert (again.version.id, is_new) == (kept.version.id, False)


def test_a_mixture_keeps_the_version_of_its_parts():
    inner = bk.keep_mixture("inner", DILUTION)
    outer = bk.keep_mixture("outer", {inner.id: 1, "lavender": 1})
    bk.keep_mixture("inner", {"rose-otto": 50, "jojoba": 50})
    share = {part.id: share for part, share in catalogue.oil(outer.id).parts}["rose-otto"]
    assert share == pytest.approx(0.015)


def test_the_same_mixture_kept_again_is_no_new_version():
    for _ in range(2):
        bk.keep_mixture("Rose", DILUTION)
    assert len(the_journal().all(OwnMaterialRow)) == 1


def test_a_circle_is_refused_by_name():
    inner = bk.keep_mixture("Inner", DILUTION)
    outer = bk.keep_mixture("Outer", {inner.id: 1})
    with pytest.raises(BadNumber, match="Inner: got Inner in itself"):
        bk.keep_mixture("Inner", {outer.id: 1, "jojoba": 1})


def test_a_chain_is_refused_beyond_its_depth():
    last = "lavender"
    for depth in range(DEEPEST):
        last = bk.keep_mixture(f"level {depth}", {last: 1, "jojoba": 1}).id
    assert catalogue.oil(last).parts[0][1] == pytest.approx(0.5**DEEPEST)
    with pytest.raises(BadNumber, match="at most 8 deep"):
        bk.keep_mixture("one more", {last: 1})


@pytest.mark.parametrize(
    ("parts", "more", "words"),
    [
        ({}, {}, "parts: got"),
        ({"jojoba": -1}, {}, "parts, jojoba: got -1"),
        ({"jojoba": 1}, {"by": "spoons"}, "by: got \"spoons\""),
        ({"jojoba": 1}, {"note": "heart"}, "note: got \"heart\""),
        ({"jojoba": 1e308, "castor": 1e308}, {}, "amounts that can be added up"),
        ({"jojoba": 1}, {"drops_per_ml": 0}, "drops_per_ml: got 0"),
        ({"jojoba": 1}, {"keeps_months": 0.05}, "keeps_months: got 0.05"),
        ({"jojoba": 1}, {"keeps_months": 601}, "keeps_months: got 601"),
    ],
)  # fmt: skip
def test_what_cannot_be_mixed_is_refused_in_words(parts, more, words):
    with pytest.raises(BadNumber, match=words):
        bk.keep_mixture("x", parts, **more)
    with pytest.raises(UnknownMaterial):
        bk.keep_mixture("x", {"unobtainium": 1})
    with pytest.raises(BadNumber, match="letters or digits"):
        bk.keep_mixture(" !! ", {"jojoba": 1})


def test_a_mixture_stands_among_the_carriers_too_and_its_oils_are_judged():
    made = bk.keep_mixture("Rose infusion", {"rose-otto": 5, "jojoba": 95})
    blend = bk.Blend(
        {"bottle": "10 mL", "strength": "5 %", "note_parts": {"top": 1},
         "oils": [{"id": "sweet-orange"}], "carriers": [{"id": made.id}]}
    )  # fmt: skip
    assert blend.bottle.mass_fractions()["rose-otto"] == pytest.approx(0.0475, rel=0.02)
    found = bk.skin_findings(blend)
    assert found[found["subject"] == "methyl eugenol"]["verdict"].iloc[0] == "over"
    assert "methyl eugenol" in bk.verdict(blend).over
    with pytest.raises(bk.Infeasible):
        bk.nearest_within_limits(blend)  # no drop can be moved that helps
    with pytest.raises(bk.BadBlend, match="each material once"):
        blend.with_(oils=[{"id": made.id, "note": "top"}])


class TestOfWhatIsNotKnown:
    def test_each_gap_is_said_once_and_nothing_passes(self):
        own = bk.keep_material("Katrafay (invented)", note="middle")
        blend = blend_with(own.id)
        found = bk.verdict(blend)
        assert found.state == "not checked"
        assert str(found).count("Katrafay") == 1
        (row,) = bk.skin_findings(blend).to_dict("records")
        assert row["verdict"] == "no limit on record"
        label = bk.label(blend)
        gaps = [gap for gap in (*label.missing, *label.unknown) if "INCI name" in gap]
        assert gaps == ["No INCI name of Katrafay (invented): ask the supplier."]

    def test_a_density_is_typed_weighed_like_another_or_the_middle(self):
        typed = bk.keep_material("a", density="0.95 g/mL")
        weighed = bk.keep_material("b", density=("9.2 g", "10 mL"))
        like = bk.keep_material("c", like="lavender")
        unknown = bk.keep_material("d")
        assert [x.density_kg_per_m3 for x in (typed, weighed)] == pytest.approx([950, 920])
        row = bk.oils().loc[typed.id]
        assert row["density_low_g_per_ml"] == row["density_high_g_per_ml"] == 0.95
        assert like.density_kg_per_m3 == catalogue.oil("lavender").density_kg_per_m3
        assert [x.grade for x in (typed, weighed, like, unknown)] == (
            ["read", "read", "estimated", "estimated"]
        )  # fmt: skip
        assert "not on record" in unknown.source
        for kind, table in (("oil", catalogue.shipped_oils()), ("carrier", bk.carriers())):
            of_all = table[["density_low_g_per_ml", "density_high_g_per_ml"]].mean(axis=1)
            own = bk.keep_material(f"no density, {kind}", kind)
            assert own.density_kg_per_m3 == pytest.approx(1000 * of_all.median())
        with pytest.raises(BadNumber, match="density_g_per_ml"):
            bk.keep_material("e", density="92 g/mL")

    def test_an_analysis_is_judged_like_any_other(self):
        analysis = bk.read_analysis("Linalool 36.1\nMethyl eugenol 5.0\nLimonene 40")
        own = bk.keep_material("Own oil", analysis=analysis, note="middle")
        found = bk.skin_findings(blend_with(own.id))
        assert found[found["subject"] == "methyl eugenol"]["verdict"].iloc[0] == "over"

    def test_a_carrier_has_its_group_keeping_time_and_kind(self):
        own = bk.keep_material(
            "Plum kernel", "carrier", like="sweet-almond", allergen_group="nut", keeps_months=9
        )
        assert (own.shelf_life_months, own.like) == (9, "sweet-almond")
        brief = bk.keep_material("Fresh kernel", "carrier", keeps_months=0.5)
        assert brief.shelf_life_months == 0.5
        assert own.id in excluded_for(["nut allergy"])
        assert own.id in bk.carriers().index
        bare = bk.keep_material("Bare", "carrier")
        (said,) = (c for c in cautions_for([bare.id]) if c.because_of == "Bare")
        assert "allergy group is not on record" in said.text
        with pytest.raises(BadNumber, match="allergen_group"):
            bk.keep_material("x", "carrier", allergen_group="dust")

    def test_an_additive_is_in_the_mass_and_on_the_label_and_smells_of_nothing(self):
        known = {"density": "0.95 g/mL", "inci": "TOCOPHEROL", "allergen_group": "none"}
        vitamin = bk.keep_material("Vitamin E", "additive", **known)
        mixed = bk.keep_mixture("Jojoba with vitamin E", {"jojoba": 99.5, vitamin.id: 0.5})
        blend = blend_with("lavender", carriers=[{"id": mixed.id}])
        shares = blend.bottle.mass_fractions()
        pinned = catalogue.pinned(vitamin.id)
        assert shares[pinned] == pytest.approx(shares["jojoba"] * 0.5 / 99.5)
        names = [entry.name for entry in bk.label(blend).ingredients.listed]
        assert "Tocopherol" in names
        assert set(bk.lasting(blend)["group"]) == {"middle", "lavender", "whole"}


def test_every_list_of_materials_has_them():
    made = bk.keep_mixture("Rose 3 % in jojoba", DILUTION)
    own = bk.keep_material("Katrafay (invented)", note="middle", odour_words="hay")
    carrier = bk.keep_material("Plum kernel", "carrier", like="sweet-almond")
    table = bk.oils()
    assert list(table.index[-2:]) == [made.id, own.id]
    assert list(table["composition_known"][-2:]) == ["yes", "no"]
    assert table.dtypes.equals(catalogue.shipped_oils().dtypes)
    assert bk.carriers().index[-1] == carrier.id
    for item in (made, own, carrier):
        assert "density" in set(bk.provenance(item.id)["figure"])
    assert {"Rose otto", "Jojoba (liquid wax)"} <= set(bk.provenance(made.id)["figure"])
    assert {each.id for each in find(family="own materials")} == {made.id, own.id}
    assert "no usable analysis" in oil_list([own])


def test_an_infusion_says_what_was_not_checked():
    made = bk.keep_mixture("Calendula in olive", {"olive": 1}, botanicals="calendula")
    assert made.note == "carrier"
    blend = blend_with("lavender", carriers=[{"id": made.id}])
    assert any("what calendula gives off" in gap for gap in bk.verdict(blend).not_checked)


def test_damaged_and_hostile_rows_leave_the_rest_on_the_shelf():
    good = bk.keep_mixture("Good", DILUTION)
    bad = [
        {"kind": "mixture"}, {"kind": "mixture", "parts": []}, {"kind": 7},
        {"kind": "mixture", "parts": {"my-good": 1}}, {"kind": "mixture", "parts": {"x": None}},
        {"kind": "oil", "density_g_per_ml": "thick"}, {"kind": "carrier", "like": ["a"]},
        {"kind": "oil", "analysis": {"percents": {"78-70-6": [9, 1, 5]}}},
        {"kind": "oil", "allergen_group": {"a": 1}}, {"kind": "oil", "name": "x" * 9},
        {"kind": "mixture", "parts": {"jojoba": 1}, "drop_sizes": {"jojoba": "x"}},
    ]  # fmt: skip
    for number, document in enumerate(bad):
        row = OwnMaterialRow(name=f"bad {number}", document=document, kept_at=now())
        the_journal().add(row)
    ids = {name for name in catalogue.oil_ids() if name.startswith("my-")}
    assert ids == {good.id}
    assert len(blend_with(good.id).base_oils) == 1


def test_many_levels_of_wide_hostile_mixtures_are_read_in_time():
    """Ten levels of twenty mixtures, each of all twenty of the level below."""
    rows, below = [], ["jojoba"]
    for level in range(10):
        named = [
            (f"m {level} {n}", {"kind": "mixture", "parts": dict.fromkeys(below, 1)})
            for n in range(20)
        ]
        rows += named
        below = [version_id(name, document) for name, document in named]
    own = read_all([], rows)
    assert len(own.newest) == 20 * DEEPEST


def test_a_version_has_one_name_wherever_it_is_kept():
    document = {"kind": "mixture", "parts": {"jojoba": 1}}
    again = json.loads(json.dumps(document))
    assert version_id("Rose", document) == version_id("Rose", again)
    assert version_id("Rose", document) != version_id("Rose ", document)
