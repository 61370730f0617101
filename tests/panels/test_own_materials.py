"""Own materials on the shelf's panel: kept, listed, made and used like any other material."""

from __future__ import annotations

import pytest

import blendkit as bk
from blendkit.foundation.errors import BadNumber
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.stock_entries import buy, current_stock
from blendkit.making.ladder import ladder
from blendkit.materials import catalogue
from blendkit.panels import first_bottle, make_and_keep, shelf
from blendkit.skin.verdict import verdict

pytestmark = pytest.mark.usefixtures("own_folder")


@pytest.fixture
def panel():
    return shelf()


def keep_mixture(panel, name="Rose otto 3 % in jojoba", **amounts):
    form = panel.materials
    form.kind.value, form.name.value = "mixture", name
    amounts = amounts or {"rose-otto": "3", "jojoba": "97"}
    form.parts.show([{"id": key, "parts": value} for key, value in amounts.items()])
    panel.message.guard(form.keep)()
    return panel.message.view.value


def test_a_mixture_is_kept_listed_and_pickable_in_a_blend(panel):
    bottle, bench = first_bottle(), make_and_keep()
    assert "Kept Rose otto 3 % in jojoba" in keep_mixture(panel)
    own = "my-rose-otto-3-in-jojoba"
    made = catalogue.oil(own)
    assert {part.id: share for part, share in made.parts} == {
        "rose-otto": pytest.approx(0.03), "jojoba": pytest.approx(0.97)
    }  # fmt: skip
    assert "Pure oil 3 %" in panel.materials.facts.value
    assert panel.stock.material.value == own
    for each in (bottle.hand.watch, bench.watch):
        each.look()
    assert own in dict(map(reversed, bottle.editor.notes["base"].oils.chooser.options))
    assert own in dict(map(reversed, bench.tray.chooser.options))
    bottle.editor.notes["base"].oils.chooser.value = own
    assert own in bottle.blend.oil_drops


def test_an_oil_without_an_analysis_is_no_pass_and_each_gap_is_said_once(panel):
    form = panel.materials
    form.kind.value, form.name.value = "oil", "Attic flower (invented)"
    panel.message.guard(form.keep)()
    facts = form.facts.value
    for said in ("No analysis", "No INCI name", "Density not measured"):
        assert facts.count(said) == 1
    blend = bk.Blend(
        {"bottle": "10 mL", "strength": "5 %", "note_parts": {"middle": 1},
         "oils": [{"id": "my-attic-flower-invented", "note": "middle"}],
         "carriers": [{"id": "jojoba"}]}
    )  # fmt: skip
    judged = verdict(blend)
    assert not judged.line.lower().startswith("within")
    assert "Attic flower" in " ".join([judged.line, *judged.advice])


def test_a_weighed_density_and_a_carrier_with_its_allergy_group(panel):
    form = panel.materials
    form.kind.value, form.name.value = "carrier", "Plum kernel (invented)"
    form.mass.value, form.volume.value = "9,1", "10"
    form.boxes["allergen_group"].value, form.boxes["keeps_months"].value = "nut", "9"
    panel.message.guard(form.keep)()
    carrier = catalogue.carrier("my-plum-kernel-invented")
    assert carrier.density_kg_per_m3 == pytest.approx(910)
    assert (carrier.allergen_group, carrier.shelf_life_months) == ("nut", 9)
    bottle = first_bottle()
    assert carrier.id in dict(map(reversed, bottle.editor.carriers.chooser.options))


def test_everything_wrong_is_said_and_nothing_is_kept(panel):
    assert "number" in keep_mixture(panel, "Bad", lavender="much")
    form = panel.materials
    form.parts.show([])
    form.parts._append({"id": "jojoba", "parts": 1})
    form.parts._append({"id": "jojoba", "parts": 2})
    panel.message.guard(form.keep)()
    assert "each material once" in panel.message.view.value
    assert catalogue.find_own("my-bad") is None


def test_a_kept_material_comes_back_for_a_new_version_with_its_analysis(panel):
    form = panel.materials
    form.kind.value, form.name.value = "oil", "Attic flower"
    form.analysis.text.value = "Linalool 60 %\nGeraniol 30 %"
    panel.message.guard(form.keep)()
    before = catalogue.oil("my-attic-flower")
    assert before.composition_known
    again = shelf().materials
    again.kept.value = "Attic flower"
    assert (again.kind.value, again.name.value) == ("oil", "Attic flower")
    again.boxes["inci"].value = "Flos Atticus Oil"
    again.message.guard(again.keep)()
    after = catalogue.oil("my-attic-flower")
    assert after.inci == "Flos Atticus Oil"
    assert after.composition == before.composition


def test_a_mixture_is_made_with_lot_label_and_stock(panel):
    keep_mixture(panel)
    own = "my-rose-otto-3-in-jojoba"
    for name, size in (("rose-otto", "5 mL"), ("jojoba", "100 mL")):
        buy(the_journal(), name, size)
    assert panel.makings.mixture.value == own
    panel.makings.made_on.value = "2026-11-30"
    panel.message.guard(panel.makings.make)()
    left = current_stock(the_journal())
    assert left[own].left_m3 == pytest.approx(10e-6)
    assert left["rose-otto"].left_m3 < 5e-6
    for words in (panel.makings.made.value, panel.makings.label_page()):
        assert "Rose otto 3 % in jojoba, made 2026-11-30, best before" in words
    assert "Lot 20261130-1" in panel.makings.made.value


def trace(**keys):
    """A blend whose trace of clove comes to less than a drop."""
    return {
        "name": "Trace (invented)", "bottle": "10 mL", "strength": "10 %",
        "note_parts": {"top": 19, "middle": 1},
        "oils": [
            {"id": "bergamot-fcf", "note": "top", "parts": 1},
            {"id": "lavender", "note": "middle", "parts": 9},
            {"id": "clove-bud", "note": "middle", "parts": 1},
        ],
        "carriers": [{"id": "jojoba", "parts": 1}], **keys,
    }  # fmt: skip


@pytest.mark.parametrize(
    "keys", [{}, {"by": "mass", "strength_basis": "mass", "step": "0.1 g"}]
)
def test_a_trace_is_carried_by_a_dilution_at_one_press(keys):
    bottle = first_bottle(trace(**keys))
    bottle.folds[0].selected_index = 0
    labels = [getattr(one, "description", "") for one in bottle.dilutions.view.children]
    (left,) = [each for each in bottle.dilutions._offered if each.material == "clove-bud"]
    assert any(label.endswith("% dilution of Clove bud") for label in labels)
    target_kg = left.target_drops / bottle.blend.drops_per_ml_of("clove-bud")
    target_kg *= catalogue.oil("clove-bud").density_kg_per_m3 * 1e-6
    bottle.message.guard(lambda: bottle.dilutions.use("clove-bud"))()
    held = {row.material.id: row.mass_kg for row in bottle.blend.bottle.held}
    assert held["clove-bud"] == pytest.approx(target_kg, rel=0.4)  # a third, and densities
    own = next(name for name in bottle.blend.oil_drops if name.startswith("my-clove-bud"))
    assert "@" in own  # this version, whatever it is changed to later
    assert "Kept Clove bud" in bottle.message.view.value


def test_behaviour_in_the_bottle_has_its_source_or_says_there_is_none():
    document = trace()
    document["oils"][1] = {"id": "vetiver", "note": "middle", "parts": 9}
    bottle = first_bottle(document)
    bottle.folds[0].selected_index = 0
    said = bottle.behaviour.view.value
    assert "brown to reddish brown and thick: it can stain" in said
    assert "ISO 4716:1987" in said
    assert "No figure on record. Viscosity: Jojoba" in said


def test_a_ladder_is_smelt_by_code_and_its_best_rung_is_an_accord(panel):
    form = panel.ladder
    form.first.value, form.second.value = "lavender", "patchouli"
    page = form.page()
    rungs = form._rungs()
    assert [(rung.first, rung.second) for rung in rungs] == [(n, 10 - n) for n in range(1, 10)]
    assert all(page.count(f">{rung.code}<") == 2 for rung in rungs)
    form.best.value, form.name.value = rungs[6].code, "Purple earth (invented)"
    panel.message.guard(form.keep)()
    accord = catalogue.oil("my-purple-earth-invented")
    volumes = {p.id: share / p.density_kg_per_m3 for p, share in accord.parts}
    assert volumes["lavender"] / volumes["patchouli"] == pytest.approx(7 / 3)
    form.first.value = accord.id  # pairs of pairs
    assert "Purple earth" in form.page()
    form.second.value = accord.id
    assert "two different materials" in form.page()
    form.best.value = "7"
    panel.message.guard(form.keep)()
    assert "one of" in panel.message.view.value or "different" in panel.message.view.value


@pytest.mark.parametrize(
    "typed", ["", "0:1", "1:9, 1:9", "a:b", "59:2", ",".join(["1:2"] * 20)]
)
def test_ratios_that_are_no_whole_drops_are_refused(typed):
    with pytest.raises(BadNumber, match="ratios"):
        ladder("lavender", "patchouli", typed)


def test_an_additive_is_typed_as_a_share_of_the_carriers(panel):
    form = panel.materials
    form.kind.value, form.name.value = "additive", "Vitamin E (invented)"
    panel.message.guard(form.keep)()
    bottle = first_bottle()
    bottle.editor.carriers.chooser.value = "my-vitamin-e-invented"
    row = bottle.editor.carriers.rows[-1]
    row.parts.value = "0.5 %"
    poured = {p.material: p.volume_m3 for p in bottle.blend.bottle.carriers}
    assert poured["my-vitamin-e-invented"] / sum(poured.values()) == pytest.approx(0.005)
    assert first_bottle().editor.carriers.rows[-1].parts.value == "0.5 %"
    row.parts.value = "2"
    assert bottle.blend.to_dict()["carriers"][-1] == {"id": "my-vitamin-e-invented", "parts": 2}


def test_an_oil_without_an_analysis_has_no_curve_through_the_day(panel):
    form = panel.materials
    form.kind.value, form.name.value = "oil", "Attic flower (invented)"
    panel.message.guard(form.keep)()
    bottle = first_bottle()
    kept = [row.material.value for row in bottle.editor.notes["base"].oils.rows]
    bottle.editor.notes["base"].oils.rows[0].material.value = "my-attic-flower-invented"
    assert len([row for row in bottle.day.rows if row["note"] == "base"]) == (
        1 if len(kept) == 1 else len([r for r in bottle.day.rows if r["note"] == "top"])
    )
    for row in list(bottle.editor.notes["base"].oils.rows[1:]):
        row.remove.click()
    (named,) = [row for row in bottle.day.rows if row["note"] == "base"]
    assert named["words"] == "base not known: no analysis"
    bottle.folds[3].selected_index = 0
    (bar,) = [row for row in bottle.bars.rows if "Attic" in row["label"]]
    assert (bar["likely"], bar["words"]) == (None, "not known: no analysis")
