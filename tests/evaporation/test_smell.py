"""Curves of strength, published and estimated, and mixtures against rated pairs."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

import blendkit as bk
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.molecules import make_up
from blendkit.evaporation.smell import PERCEIVED, curve_of, odourless
from blendkit.evaporation.wear import film_of_masses
from blendkit.foundation import data
from blendkit.foundation.errors import BadNumber
from blendkit.materials import catalogue
from blendkit.materials.constituents import constituent

PAIRS = pd.read_csv(Path(__file__).parents[1] / "published" / "binary_mixtures.csv")
SOURCE = "Ratings of binary mixtures of odorants, 2021, doi 10.15454/51OVY6 (half of them)"
CURVES = data.table("dose_response")
EVERY = {
    m.id: m for oil in catalogue.oil_ids() for m, _ in make_up(catalogue.oil(oil)).volatile
}


def root_mean_square(of_pair):
    """Miss of a rule on all pairs. [points of ten]"""
    got = [of_pair([a, b]) for a, b in ALONE]
    return float(np.sqrt(np.mean((np.array(got) - PAIRS["intensity_mixture"]) ** 2)))


ALONE = PAIRS[["intensity_a_alone", "intensity_b_alone"]].to_numpy()


def test_the_strongest_component_predicts_rated_pairs(beside_published):
    # 30 or 60 ratings of each pair, from 0 to 10
    assert len(PAIRS) == 99
    beside_published(
        "strength of 99 rated pairs by the strongest component, root mean square",
        root_mean_square(bk.mixture_strength),
        0.0,
        0.0,
        0.6,
        unit="of ten",
        source=SOURCE,
    )
    others = {
        "sum": sum,
        "mean": np.mean,
        "root of squares": lambda pair: math.hypot(*pair),
        "weaker one": min,
    }
    ours = root_mean_square(bk.mixture_strength)
    assert all(root_mean_square(rule) > 1.15 * ours for rule in others.values())


def test_a_component_a_quarter_stronger_stays_the_stronger_one(beside_published):
    a, b = ALONE.T
    within = PAIRS[["intensity_a_in_mixture", "intensity_b_in_mixture"]].to_numpy().T
    apart = np.maximum(a, b) / np.minimum(a, b) > 1.2
    kept = ((a > b) == (within[0] > within[1]))[apart]
    beside_published(
        "pairs whose stronger component, a fifth or more apart, is the stronger in the mixture",
        100 * float(kept.mean()),
        100.0,
        90.0,
        100.0,
        unit="%",
        source=SOURCE,
    )


@given(st.lists(st.floats(0, 10), min_size=1, max_size=6))
def test_a_mixture_is_no_weaker_than_any_part_and_order_does_not_matter(strengths):
    mixed = bk.mixture_strength(strengths)
    assert mixed == bk.mixture_strength(strengths[::-1])
    assert all(mixed >= each for each in strengths)


@pytest.mark.parametrize("wrong", [[], [-1], [math.nan], [math.inf, 2], ["loud"], 3, None])
def test_what_is_no_strength_is_refused(wrong):
    with pytest.raises(BadNumber, match="strengths"):
        bk.mixture_strength(wrong)


@pytest.mark.parametrize(
    "row", list(CURVES.query("used == 'yes'").itertuples()), ids=lambda row: row[2]
)
def test_a_published_curve_is_its_printed_equation(row):
    if row.constituent not in EVERY or row.constituent in odourless():
        pytest.skip("in no oil on record")
    curve = curve_of(EVERY[row.constituent])
    assert curve.is_published
    assert curve.greatest == row.greatest_strength
    for log_ug_per_l in (-3.0, -1.0, 0.5, 2.0):
        printed = row.greatest_strength / (
            1 + math.exp(-(log_ug_per_l - row.half_log10_ug_per_l) / row.decades)
        )
        dose = 10**log_ug_per_l * 1e-6 / curve.half_kg_per_m3
        ours = curve.greatest / (1 + dose**-curve.power)
        assert ours == pytest.approx(printed, rel=1e-9, abs=1e-12)


def test_a_curve_printed_without_a_width_takes_an_estimated_one_and_counts_as_an_estimate():
    (row,) = CURVES.query("decades == 0").itertuples()
    curve = curve_of(EVERY[row.constituent])
    assert not curve.is_published
    assert curve.greatest == row.greatest_strength
    assert curve.half_kg_per_m3 == pytest.approx(10**row.half_log10_ug_per_l * 1e-6)
    # a class neighbour of the same vapour pressure has the same width
    assert curve.power == curve_of(EVERY[row.constituent]._replace(id="another")).power


def test_a_width_of_nothing_is_left_out_with_a_remark():
    dropped = CURVES.query("used == 'no'")
    assert "121-33-5" in set(dropped["constituent"])  # vanillin
    assert (dropped["remark"] != "").all()
    assert (CURVES.query("used == 'yes'")["decades"] > 0).all()


def test_every_molecule_without_a_smell_has_its_reason():
    table = data.table("odourless")
    assert table["reason"].str.len().min() > 10
    ids = set(data.table("constituents")["id"])
    assert set(table["constituent"]) <= ids
    assert set(CURVES["constituent"]) <= ids


@pytest.mark.parametrize("name", sorted(EVERY))
def test_every_molecule_has_a_sound_curve(name):
    curve = curve_of(EVERY[name])
    if name in odourless():
        assert curve.greatest == 0
        return
    assert curve.greatest > PERCEIVED
    assert 1e-14 < curve.half_kg_per_m3 < 1e-2
    assert curve.power > 0
    assert curve.log_spread > 1  # nowhere are they known to a factor of two


def test_a_class_shifts_an_estimate_by_what_its_published_curves_say_together():
    """Of k curves the mean miss counts k / (k + 4): a lone one says little of its class."""
    misses: dict[str, list[float]] = {}
    shifts = {}
    for row in CURVES.query("used == 'yes'").itertuples():
        molecule = constituent(row.constituent)
        in_class, alone = (
            math.log10(curve_of(replace(molecule, **change)).half_kg_per_m3 * 1e6)
            for change in ({"id": "another"}, {"id": "another", "chemical_class": "none"})
        )
        misses.setdefault(molecule.chemical_class, []).append(row.half_log10_ug_per_l - alone)
        shifts[molecule.chemical_class] = in_class - alone
    assert len(misses) > 5
    for name, of_class in misses.items():
        assert shifts[name] == pytest.approx(sum(of_class) / (len(of_class) + 4), abs=1e-9)


def test_an_estimate_is_less_sure_than_a_published_curve():
    spreads = {kind: set() for kind in (True, False)}
    for each in EVERY.values():
        if each.id not in odourless():
            spreads[curve_of(each).is_published].add(curve_of(each).log_spread)
    assert max(spreads[True]) < min(spreads[False])


def test_curves_cover_lavender_and_hardly_cedar():
    film = film_of_masses(
        {"lavender": 1, "cedarwood-virginia": 1}, {"jojoba": 8}, {}, Conditions()
    )
    lavender, cedar = film.covered()
    assert lavender > 0.6
    assert cedar < 0.3
