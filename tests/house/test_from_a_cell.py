"""blendkit from a cell: every public call takes a blend however it is at hand, units are text.

Each trial was once a place where a person at a notebook stumbled.
"""

import inspect
import json
import subprocess
import sys
from datetime import timedelta
from pathlib import Path

import pandas as pd
import pytest

import blendkit as bk
from blendkit import panels
from blendkit.foundation.units import registry

DOCUMENT = bk.example_document()
BLEND = bk.Blend(DOCUMENT)
ELSE = {  # what the public calls need besides a blend
    "scale": {"bottles": "2 × 10 mL"},
    "fade": {"hours": 1, "draws": 8},
    "replace_oil": {"missing": "lavender", "shelf": ["lavandin-grosso"]},
}


def takes_a_blend():
    """Every public function whose first parameter is a blend, with the others it takes."""
    for name in bk.__all__:
        call = getattr(bk, name)
        if inspect.isfunction(call) and name != "as_blend":
            first = [p for p in inspect.signature(call).parameters if p in ("blend", "before")]
            if first:
                yield name


PUBLIC = sorted(takes_a_blend())
CONTRACT = [
    "as_blend",
    "BadAnalysis",
    "BadBlend",
    "BlendkitError",
    "Blend",
    "Infeasible",
    "carriers",
    "constituents",
    "drop_table",
    "evaporate_to",
    "example_document",
    "fade",
    "film_amounts",
    "keep_lot",
    "label_allergens",
    "nearest_within_limits",
    "oils",
    "read_analysis",
    "replace_oil",
    "skin_findings",
    "skin_findings_of",
    "whole_drops",
]


def shown(result):
    """A result as text that can be compared."""
    if isinstance(result, pd.DataFrame):
        return result.to_csv()
    return repr(result)


def test_the_calls_with_a_blend_are_those_of_the_contract():
    assert {"drop_table", "fade", "label", "label_allergens", "nearest_within_limits", "scale",
            "skin_findings", "bench_sheet", "note_table", "compare"} <= set(PUBLIC)  # fmt: skip


@pytest.mark.parametrize("name", PUBLIC)
def test_every_call_takes_a_blend_a_document_or_a_path(name, tmp_path):
    file = tmp_path / "kept.json"
    file.write_text(json.dumps(DOCUMENT), encoding="utf-8")
    call, more = getattr(bk, name), ELSE.get(name, {})
    both = {"after": BLEND} if name == "compare" else {}
    results = {
        shown(call(given, **more, **both)) for given in (BLEND, DOCUMENT, file, str(file))
    }
    assert len(results) == 1


@pytest.mark.parametrize("name", PUBLIC)
@pytest.mark.parametrize("given", [None, 7, ["lavender"], "no such file.json", {}])
def test_every_call_refuses_anything_else_in_words(name, given):
    both = {"after": BLEND} if name == "compare" else {}
    with pytest.raises(bk.BadBlend):
        getattr(bk, name)(given, **ELSE.get(name, {}), **both)


@pytest.mark.parametrize("name", PUBLIC)
def test_every_call_documents_its_blend_and_its_errors(name):
    words = inspect.getdoc(getattr(bk, name))
    assert "lend, document, or path" in " ".join(words.split()), name


# --- the trials -------------------------------------------------------------------------------


def test_a_blend_is_made_of_its_document_alone():
    assert list(inspect.signature(bk.Blend).parameters) == ["document"]
    with pytest.raises(TypeError):
        bk.Blend("Quay", 1e-5)


def test_a_blend_shows_itself():
    assert len(repr(BLEND)) < 250
    assert "<table" in BLEND._repr_html_()


@pytest.mark.parametrize("name", ["first_bottle", "skin_check", "fade", "make_more"])
def test_panels_take_a_blend(name, monkeypatch, tmp_path):
    monkeypatch.setenv("BLENDKIT_HOME", str(tmp_path))
    blend = BLEND.with_(name="From a cell (invented)")
    assert getattr(panels, name)(blend).blend.name == blend.name
    assert getattr(panels, name)(blend.to_dict()).blend.name == blend.name
    with pytest.raises(bk.BadBlend):
        getattr(panels, name)(5)


def test_a_batch_its_cost_and_its_label(monkeypatch, tmp_path):
    monkeypatch.setenv("BLENDKIT_HOME", str(tmp_path))
    batch = bk.scale(DOCUMENT, "12 × 10 mL", loss="2 %")
    assert batch.bottles[0].count == 12
    assert bk.cost(batch, currency="EUR").sentences
    assert bk.label(DOCUMENT, contents="10 mL").region == "EU"
    assert bk.label(DOCUMENT, contents=registry().Quantity(10, "mL")) == bk.label(
        DOCUMENT, contents="10 mL"
    )


def test_how_much_is_asked_for_in_one_way_only():
    for ways in ({}, {"bottles": "2 × 10 mL", "total": "1 L"}):
        with pytest.raises(bk.BadNumber, match="how much"):
            bk.scale(DOCUMENT, **ways)


def test_two_versions_are_compared():
    said = bk.compare(DOCUMENT, BLEND.with_(drops={"lavender": 9}))
    assert any(line.startswith("Lavender: 5 → 9 drops") for line in said)


def test_fades_are_compared():
    table = bk.compare_fades({"one": DOCUMENT, "two": BLEND}, hours="2 h", draws=4)
    assert set(table["blend"]) == {"one", "two"}


@pytest.mark.parametrize("hours", ["8 h", "480 min", timedelta(hours=8), 8])
def test_a_time_carries_its_unit(hours):
    assert bk.fade(DOCUMENT, hours=hours, draws=4)["hours"].max() == 8


@pytest.mark.parametrize("hours", ["8", "8 mL", "eight", [], timedelta(days=9), None])
def test_a_time_that_is_none_is_refused_in_words(hours):
    with pytest.raises(bk.BadNumber, match="hours"):
        bk.fade(DOCUMENT, hours=hours)


def test_a_pint_bottle_can_be_kept():
    blend = BLEND.with_(bottle=registry().Quantity(10, "mL"))
    assert bk.Blend(json.loads(json.dumps(blend.to_dict()))) == blend


def test_conditions_take_pint_quantities():
    warm = registry().Quantity(34, "degC")
    one, other = (bk.fade(DOCUMENT, 1, t, draws=4) for t in ("34 degC", warm))
    pd.testing.assert_frame_equal(one, other)


def test_no_notebook_makes_anybody_type_cubic_metres():
    for file in (Path(__file__).parents[2] / "notebooks").glob("*.ipynb"):
        for cell in json.loads(file.read_text(encoding="utf-8"))["cells"]:
            if cell["cell_type"] == "code":
                assert "e-6" not in "".join(cell["source"]), file.name
                assert "_m3" not in "".join(cell["source"]), file.name


def test_own_lots_are_among_the_oils(monkeypatch, tmp_path):
    monkeypatch.setenv("BLENDKIT_HOME", str(tmp_path))
    before = bk.oils()
    own = bk.keep_lot("lavender", "A12", bk.read_analysis("linalool 35 %"))
    after = bk.oils()
    assert list(after.index) == [*before.index, own.id]
    assert after.loc[own.id, "name"] == own.name
    assert list(after.columns) == list(before.columns)


def test_dir_shows_the_public_names_alone():
    assert dir(bk) == sorted({*bk.__all__, "__version__"})
    assert not [name for name in dir(bk) if inspect.ismodule(getattr(bk, name))]


def test_the_version_and_the_types_are_there():
    assert bk.__version__.count(".") == 2
    assert (Path(bk.__file__).parent / "py.typed").is_file()


def test_the_names_of_the_contract_are_importable():
    for name in CONTRACT:
        assert hasattr(bk, name), name


def test_nothing_heavy_is_imported():
    heavy = "{'altair', 'ipywidgets', 'IPython'} & set(sys.modules)"
    code = f"import sys, blendkit; sys.exit(bool({heavy}))"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
