"""A blend written in grams or in parts by mass: editor, words, bench sheet."""

from __future__ import annotations

import pytest

import blendkit as bk
from blendkit.blend.ways import rewrite
from blendkit.panels import first_bottle, make_and_keep, skin_check
from blendkit.panels.bottle.blend_editor import DROPS, GRAMS, PERCENT
from blendkit.showing.bottle import sheets

pytestmark = pytest.mark.usefixtures("own_folder")


@pytest.fixture
def panel():
    return first_bottle()


def grams(blend):
    return {p.material: p.mass_kg * 1e3 for p in blend.bottle.oils}


def test_grams_keep_the_bottle_to_half_a_step(panel):
    before, volume = grams(panel.blend), panel.blend.liquid_m3
    panel.editor.way.value = GRAMS
    assert panel.blend.step_kg == pytest.approx(1e-5)
    assert grams(panel.blend) == {
        name: pytest.approx(mass, abs=0.00501) for name, mass in before.items()
    }
    assert panel.blend.liquid_m3 == pytest.approx(volume)
    row = panel.editor.notes["base"].oils.rows[0]
    row.parts.value = "0,35"
    assert grams(panel.blend)[row.material.value] == pytest.approx(0.35)
    assert row.parts.value == "0,35"
    panel.editor.way.value = DROPS
    assert panel.blend.step_kg is None
    drops = panel.blend.oil_drops[row.material.value]
    density = bk.Blend(panel.blend.to_dict()).bottle
    mass = {p.material: p.mass_kg / p.drops for p in density.oils}[row.material.value]
    assert abs(drops * mass - 0.35e-3) <= mass / 2 + 1e-12


def test_parts_by_mass_keep_the_ratio_and_a_mass_to_make(panel):
    panel.editor.way.value = PERCENT
    panel.editor.make.value, panel.editor.strength.value = "5", "20"
    blend = panel.blend
    assert blend.bottle.mass_kg == pytest.approx(5e-3, abs=1e-5)
    assert blend.bottle.strength_by_mass == pytest.approx(0.2, abs=0.002)
    assert sum(grams(blend).values()) == pytest.approx(1.0, abs=0.005)
    assert panel.editor.document["make"] == "5 g"


def test_no_words_of_a_weighed_blend_say_drops(panel):
    panel.editor.way.value = PERCENT
    panel.folds[0].selected_index = 0
    shown = [
        panel.saved.state.value, panel.picture.value, *(r["count"] for r in panel.chart.rows),
        panel.rounding.view.value, panel.judged.line,
    ]  # fmt: skip
    assert not [words for words in shown if " drop" in words]
    assert "About drops" in panel.drops.value
    cloves = {**bk.example_document(), "oils": [{"id": "clove-bud", "note": "middle"}]}
    cloves |= {"note_parts": {"middle": 1}, "by": "mass", "strength_basis": "mass"}
    check = skin_check(cloves)
    check.nearest.find()
    assert " g →" in check.nearest.words.value
    assert "rop" not in check.nearest.words.value


def test_the_bench_sheet_runs_with_the_scale(panel):
    panel.editor.way.value = GRAMS
    filling = panel.blend.bottle
    page = sheets.bench_page(panel.blend)
    assert "set it to zero" in page
    assert "until the scale shows" in page
    assert "± 0.01 g" in page
    steps = bk.bench_sheet(panel.blend).dropna(subset="scale_g")
    assert steps["scale_g"].iloc[-1] == pytest.approx(filling.mass_kg * 1e3)
    assert list(steps["scale_g"].diff())[1:] == pytest.approx(list(steps["mass_g"])[1:])
    for shown in steps["scale_g"]:
        assert f">{shown:.2f}<" in page


def test_what_cannot_be_read_is_refused_and_stays(panel):
    panel.editor.way.value = GRAMS
    row = panel.editor.notes["base"].oils.rows[0]
    for typed, said in (("lots", "mass"), ("0.005", "steps"), ("-1", "mass")):
        row.parts.value = typed
        assert said in panel.message.view.value
        assert row.parts.value == typed
    panel.editor.way.value = DROPS  # from a document that is refused: the ratio stays
    assert panel.blend.note_parts == bk.Blend(bk.example_document()).note_parts


def test_the_same_blend_comes_back_from_another_panel(panel):
    panel.editor.way.value = GRAMS
    other = first_bottle()
    assert other.editor.way.value == GRAMS
    assert other.blend == panel.blend
    panel.editor.share_out_again()
    assert panel.editor.way.value == PERCENT
    assert not any("mass" in entry for entry in panel.editor.document["oils"])


def test_rewriting_keeps_what_was_fixed():
    document = bk.example_document()
    document["oils"][0]["drops"] = 7
    made = bk.Blend(rewrite(document, "grams", "0.001 g"))
    back = bk.Blend(rewrite(made.to_dict(), "drops", "0.001 g"))
    assert back.oil_drops[document["oils"][0]["id"]] == 7


def test_the_bench_counts_grams_of_a_blend_by_mass(panel):
    panel.editor.way.value = GRAMS
    row = panel.editor.notes["base"].oils.rows[0]
    row.parts.value = "0.35"
    shown = {name: each.words.value for name, each in make_and_keep().tray.rows.items()}
    assert "0 of 0.35 g" in shown[row.material.value]
    assert not [words for words in shown.values() if "drop" in words]


def test_the_range_of_a_batch_takes_a_dilution_as_typed():
    own = bk.keep_mixture("Rose 3 % (invented)", {"rose-otto": 3, "jojoba": 97}).id
    batch = bk.scale(bk.Blend(bk.example_document() | {"oils": [{"id": own, "note": "middle"}],
                     "note_parts": {"middle": 1}}), "2 × 10 mL")  # fmt: skip
    low, high = batch.strength_by_mass_range
    assert low == pytest.approx(batch.strength_by_mass, abs=0.01)
    assert high == pytest.approx(batch.strength_by_mass, abs=0.01)
