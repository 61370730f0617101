"""What may not dissolve, set, settle or stain, and how thick the carriers are together."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

import blendkit as bk
from blendkit.blend.behaviour import bottle_behaviour, log_rule, refutas, solubility
from blendkit.foundation import data
from blendkit.materials import catalogue

THREE = [(0.5, 46.0), (0.3, 100.0), (0.2, 10.0)]
LIQUIDS = st.lists(st.tuples(st.floats(0.01, 1), st.floats(2, 1000)), min_size=1, max_size=5)


def remarks(oils, carriers, **more):
    document = {
        "bottle": "10 mL", "strength": "20 %", "note_parts": {"base": 1},
        "oils": [{"id": name, "note": "base"} for name in oils],
        "carriers": [{"id": name} for name in carriers], **more,
    }  # fmt: skip
    return bottle_behaviour(bk.Blend(document).bottle)


@pytest.mark.parametrize(
    ("rule", "shown"), [(log_rule, 42.79), (refutas, 39.23)], ids=["logarithmic", "Refutas"]
)
def test_viscosity_of_three_oils_is_that_of_a_worked_example(rule, shown):
    """A page of engineers works it out; it has no edition, so this is no published check."""
    assert rule(THREE) == pytest.approx(shown, abs=0.005)


@given(LIQUIDS)
def test_both_rules_lie_between_the_liquids(liquids):
    whole = sum(share for share, _ in liquids)
    parts = [(share / whole, viscosity) for share, viscosity in liquids]
    low, high = min(v for _, v in parts), max(v for _, v in parts)
    for rule in (log_rule, refutas):
        assert low * (1 - 1e-9) <= rule(parts) <= high * (1 + 1e-9)
        assert rule([(1.0, low)]) == pytest.approx(low)


def test_a_crystal_dissolves_less_the_higher_it_melts():
    """ln x = -6.8 (Tm / T - 1), with Walden's entropy over R: 56.5 / 8.314 = 6.8."""
    assert solubility(280.0) == 1
    assert solubility(341.0) == pytest.approx(
        2.718281828 ** (-6.796 * (341 / 288.15 - 1)), rel=1e-3
    )
    assert solubility(450.0) < solubility(341.0)


def test_every_row_names_a_material_on_record():
    ids = {*catalogue.shipped_oils().index, *bk.carriers().index}
    named = {name for name in data.table("bottle_behaviour")["material"] if name[0] != "*"}
    assert named <= ids
    assert set(data.table("carrier_viscosities")["carrier"]) <= set(bk.carriers().index)


@pytest.mark.parametrize(
    ("oils", "carriers", "behaviour", "words"),
    [
        (["rose-otto"], ["olive"], "sets", "Rose otto sets to crystals"),
        (["vetiver"], ["olive"], "colour", "it can stain"),
        (["tonka-absolute"], ["olive"], "settles", "coumarin may settle"),
        (["lavender"], ["olive", "mct-fractionated-coconut"], "viscosity", "mPa·s at 20 °C"),
        (["lavender"], ["castor"], "not on record", "Viscosity: Castor"),
        (["lavender"], ["castor"], "thick", "is thick"),
    ],
)
def test_what_is_known_is_said_with_its_source(oils, carriers, behaviour, words):
    more = {"strength": "60 %"} if "tonka-absolute" in oils else {}
    (found,) = [
        r
        for r in remarks(oils, carriers, **more)
        if r.behaviour == behaviour and words in r.text
    ]
    assert (found.source and found.grade) or behaviour == "not on record"


def test_a_trace_of_a_crystal_is_not_feared():
    assert not [r for r in remarks(["lavender"], ["olive"]) if r.behaviour == "settles"]


@pytest.mark.usefixtures("own_folder")
def test_own_materials_and_botanicals():
    own = bk.keep_material("Vanilla oleoresin (invented)", note="base")
    steeped = bk.keep_mixture("Calendula in olive", {"olive": 1}, botanicals="calendula")
    diluted = bk.keep_mixture("Vanilla 10 %", {own.id: 1, "olive": 9}, note="base")
    said = {r.behaviour: r.text for r in remarks([diluted.id], [steeped.id])}
    assert "does not dissolve fully in oil" in said["insoluble"]
    assert said["hygiene"].startswith("calendula")
    assert "mould" in said["hygiene"]
    assert "Vanilla oleoresin" in said["not on record"]
    rose = bk.keep_mixture("Rose 3 %", {"rose-otto": 3, "jojoba": 97})
    assert not [r for r in remarks([rose.id], ["olive"]) if r.behaviour == "sets"]
    dried = remarks(["lavender"], ["olive"], botanicals="1 mL")
    assert any(r.behaviour == "hygiene" for r in dried)
