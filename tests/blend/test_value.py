"""A blend is a value: read-only, equal by its document, and changed only into another blend."""

import copy
import dataclasses
import json
import pickle
import time
from datetime import timedelta
from pathlib import Path
from types import MappingProxyType

import pytest
from hypothesis import given
from hypothesis import strategies as st

import blendkit as bk
from blendkit.foundation.units import registry

DOCUMENT = bk.example_document()
BLEND = bk.Blend(DOCUMENT)


def set_item(mapping, key, value):
    mapping[key] = value


def delete_item(mapping, key):
    del mapping[key]


CHANGES = {
    "a count": lambda: set_item(BLEND.oil_drops, "lavender", 0),
    "a count taken out": lambda: delete_item(BLEND.oil_drops, "lavender"),
    "a drop size": lambda: set_item(BLEND.drops_per_ml, "default", 40),
    "a note's parts": lambda: set_item(BLEND.note_parts, "top", 0),
    "an attribute": lambda: setattr(BLEND, "bottle_m3", 3e-5),
    "a new attribute": lambda: setattr(BLEND, "colour", "blue"),
    "an attribute taken out": lambda: delattr(BLEND, "oil_drops"),
    "an item": lambda: set_item(BLEND, "bottle", "30 mL"),
    "a replaced field": lambda: dataclasses.replace(BLEND, bottle_m3=3e-5),
    "an oil": lambda: setattr(BLEND.oils[0].oil, "density_kg_per_m3", 1.0),
    "an oil's composition": lambda: set_item(BLEND.oils[0].oil.composition, 0, None),
    "a carrier": lambda: setattr(BLEND.carriers[0].carrier, "inci", "water"),
    "a portion": lambda: setattr(BLEND.bottle.portions[0], "drops", 0),
    "the bottle's fields": lambda: set_item(BLEND.bottle.fields.drops_per_ml, "default", 40),
    "the market": lambda: setattr(BLEND.market, "region", "US"),
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_nothing_in_a_blend_can_be_changed(change):
    before = (pickle.dumps(BLEND.to_dict()), dict(BLEND.oil_drops))
    with pytest.raises((AttributeError, TypeError)):
        change()
    assert (pickle.dumps(BLEND.to_dict()), dict(BLEND.oil_drops)) == before


def reachable(value, seen):
    """Everything that can be reached from a value by attributes and items."""
    if id(value) in seen or isinstance(value, str | int | float | bool | None):
        return
    seen[id(value)] = value
    if isinstance(value, MappingProxyType | dict):
        inner = list(value.values())
    elif isinstance(value, tuple | list):
        inner = list(value)
    else:
        inner = list(vars(value).values()) if hasattr(value, "__dict__") else []
    for one in inner:
        reachable(one, seen)


def test_no_dict_list_or_set_can_be_reached_from_a_blend():
    seen = {}
    reachable(BLEND, seen)
    assert len(seen) > 50
    assert not [one for one in seen.values() if isinstance(one, dict | list | set)]


def test_blends_of_one_document_are_one_key():
    again = bk.Blend(dict(reversed(list(DOCUMENT.items()))))
    assert again == BLEND
    assert len({BLEND, again, bk.Blend.from_dict(DOCUMENT)}) == 1
    assert BLEND.with_(name="Another") != BLEND
    assert DOCUMENT != BLEND


@pytest.mark.parametrize(
    "copied", [copy.copy, copy.deepcopy, lambda x: pickle.loads(pickle.dumps(x))]
)
def test_copies_and_pickles_are_the_same_blend(copied):
    assert copied(BLEND) == BLEND
    assert copied(BLEND).bottle == BLEND.bottle


def test_the_bottle_is_filled_once():
    assert BLEND.bottle is BLEND.bottle


def test_the_repr_is_one_short_line():
    assert "\n" not in repr(BLEND)
    assert len(repr(BLEND)) < 250
    for word in (BLEND.name, "10 mL", "20 % by drops", "5 lavender"):
        assert word in repr(BLEND)
    every_oil = [{"id": name, "note": "top"} for name in bk.oils().index[:30]]
    many = BLEND.with_(oils=every_oil, note_parts={"top": 1}, bottle="30 mL", name="n" * 200)
    assert len(repr(many)) < 300


def test_a_notebook_shows_the_drop_table_escaped():
    shown = BLEND.with_(name="<b>bold</b>")._repr_html_()
    assert "<b>" not in shown
    table = bk.drop_table(BLEND)
    assert shown.count("<tr") == len(table) + 1
    for name, grams in zip(table["name"], table["mass_g"], strict=True):
        assert f"<td>{name}</td>" in shown
        assert any(f"<td>{grams:.{places}f}"[:7] in shown for places in (2, 3, 4))


# --- with_ ------------------------------------------------------------------------------------


def test_with_changes_keys_and_counts():
    other = BLEND.with_(strength="10 %", drops={"patchouli": 3}, name="Lighter")
    assert other.total_drops == 20
    assert other.oil_drops["patchouli"] == 3
    assert sum(other.oil_drops.values()) == 20
    assert other.name == "Lighter"
    assert bk.Blend(DOCUMENT) == BLEND


def test_with_every_count_fixed():
    counts = dict.fromkeys(BLEND.oil_drops, 4)
    assert BLEND.with_(drops=counts).oil_drops == counts


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"strenght": "5 %"}, 'strenght: got an unknown key.*Did you mean "strength"'),
        ({"drops": {"lavendar": 3}}, 'drops: got "lavendar".*Did you mean "lavender"'),
        ({"drops": {"lavender": -1}}, "a whole number of drops"),
        ({"drops": [3]}, "counts by oil"),
        ({"drops": {"lavender": 3}, "oils": 7}, "a list of entries"),
        ({"bottle": 30}, "which has no unit"),
        ({"drops": {"lavender": 4000}}, "fixed drops|bottle"),
        ({"market": {"region": "Mars"}}, "market, region"),
    ],
)
def test_with_refuses_in_words(changes, words):
    with pytest.raises(bk.BadBlend, match=f"(?s){words}"):
        BLEND.with_(**changes)


def test_with_lists_unknown_keys_and_ids_together():
    with pytest.raises(bk.BadBlend) as refusal:
        BLEND.with_(strenght="5 %", drops={"lavendar": 3})
    assert len(refusal.value.problems) == 2


# --- the one door -----------------------------------------------------------------------------


def test_a_blend_comes_from_itself_its_document_or_its_file(tmp_path):
    file = tmp_path / "kept.json"
    file.write_text(json.dumps(DOCUMENT), encoding="utf-8")
    assert bk.as_blend(BLEND) is BLEND
    assert bk.as_blend(DOCUMENT) == bk.as_blend(file) == bk.as_blend(str(file)) == BLEND


@pytest.mark.parametrize(
    "given",
    [None, 5, [], b"x", "no such file", Path("/nowhere/x.json"), "\0", "x" * 5000, "/dev/zero"],
)
def test_anything_else_is_refused_in_words(given):
    with pytest.raises(bk.BadBlend):
        bk.as_blend(given)


@pytest.mark.parametrize("text", ["", "[]", "{", "[" * 100_000, "\x88"])
def test_a_file_that_is_no_blend_is_refused_in_words(tmp_path, text):
    file = tmp_path / "bad.json"
    file.write_bytes(text.encode("latin-1"))
    with pytest.raises(bk.BadBlend):
        bk.as_blend(file)


@pytest.mark.parametrize("unit", ["mL", "cm**3", "liter", "floz", "m**3"])
def test_a_pint_quantity_becomes_text_that_can_be_kept(unit):
    bottle = registry().Quantity(10, "mL").to(unit)
    blend = bk.Blend(
        DOCUMENT | {"bottle": bottle, "strength": registry().Quantity(20, "percent")}
    )
    kept = json.loads(json.dumps(blend.to_dict()))
    assert isinstance(kept["bottle"], str)
    assert bk.Blend(kept).bottle_m3 == pytest.approx(blend.bottle_m3, rel=1e-11)
    assert bk.Blend(kept).oil_drops == blend.oil_drops


def test_a_document_comes_back_with_exactly_its_keys():
    assert "market" not in BLEND.to_dict()
    written = DOCUMENT | {"market": {"region": "UK"}}
    assert bk.Blend(written).to_dict() == written
    assert bk.Blend(written).market == bk.Market("UK")
    assert BLEND.with_(market=bk.Market("US")).to_dict()["market"] == {
        "region": "US",
        "use": "perfume oil",
    }


# --- long input gets a short answer -----------------------------------------------------------

MANY = 100_000
LONG = {
    "oils": [{"id": f"lavendar{n}"} for n in range(MANY)],
    "carriers": [{"id": f"jojobba{n}"} for n in range(MANY)],
    "drops_per_ml": {f"lavendar{n}": 0 for n in range(MANY)},
    "note_parts": {f"tpo{n}": 1 for n in range(MANY)},
    "market": {f"regoin{n}": 1 for n in range(MANY)},
    "name": "x" * 10_000_000,
    "bottle": "d " * 100_000 + "5",
    "strength_basis": "dorps" * 100_000,
}


@pytest.mark.parametrize("key", LONG)
def test_a_long_document_is_refused_briefly_and_at_once(key):
    start = time.perf_counter()
    with pytest.raises(bk.BadBlend) as refusal:
        bk.Blend(DOCUMENT | {key: LONG[key]})
    assert time.perf_counter() - start < 2
    assert len(str(refusal.value)) < 20_000


def test_a_document_of_many_unknown_keys_is_refused_briefly():
    start = time.perf_counter()
    with pytest.raises(bk.BadBlend, match=r"And \d+ more") as refusal:
        bk.Blend(DOCUMENT | {f"strenght{n}" * 50: n for n in range(MANY)})
    assert time.perf_counter() - start < 2
    assert len(str(refusal.value)) < 20_000
    assert len(refusal.value.sentences) == 21


# --- times ------------------------------------------------------------------------------------


@given(st.integers(1, 72 * 60))
def test_a_time_is_a_time_however_it_is_written(minutes):
    pytest.importorskip("pint")
    from blendkit.evaporation.fading import read_hours

    for written in (
        f"{minutes} min",
        timedelta(minutes=minutes),
        registry().Quantity(minutes, "min"),
    ):
        assert read_hours(written)[-1] == pytest.approx(minutes / 60)
        assert read_hours([written])[-1] == pytest.approx(minutes / 60)
