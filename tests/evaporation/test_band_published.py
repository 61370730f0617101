"""The 9-in-10 band of the forecast against published observations, misses included.

Every row of `published/evaporation.csv` whose figure rests on what the band holds (air, load,
uptake, vapour pressures) is held against 2,000 draws. Nothing was fitted to any of them.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from blendkit.evaporation import film
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.uncertainty import Uncertainty, drawn
from blendkit.evaporation.wear import film_of_masses
from tests.evaporation.test_fade_published import (
    BENZENE,
    HOUR,
    PREDICTIONS,
    SKIN_K,
    TABLE,
    air_loss,
    handbook_pressure,
    molar_mass,
)

USUAL = Uncertainty()
OUTSIDE = {
    "E24": "the skin is a store as well as a sink; the model knows no store",
    "E25": "as for linalool",
    "E28": "what was left had gone into the skin; the film itself has dried up",
    "E72": "above the upper end of 96 %; warmth and air are not given",
}


def normals(count, seed=3):
    return np.random.default_rng(seed).normal(size=(count, 2000))


def absorbed(name, pressure_factor):
    """Percent into the skin: air, uptake and vapour pressure may all be off."""
    percent = PREDICTIONS[name]()
    air, uptake, pressure = normals(3)
    odds = (
        percent
        / (100 - percent)
        * np.exp(
            math.log(USUAL.uptake) * uptake
            - math.log(USUAL.air) * air
            - math.log(pressure_factor) * pressure
        )
    )
    return 100 * odds / (1 + odds)


def into_skin(name):
    return PREDICTIONS[name]() * np.exp(math.log(USUAL.uptake) * normals(1)[0])


def benzene_left():
    mass = molar_mass(BENZENE)
    moles = 20e-9 * 1e4 * 876e3 / mass  # 20 ul/cm2, 0.876 g/mL
    rate = air_loss(mass, handbook_pressure(BENZENE, SKIN_K), SKIN_K)
    rates = rate * np.exp(math.log(USUAL.air) * normals(1)[0])
    return np.maximum(100 * (1 - rates * HOUR / 2 / moles), 0)  # a pure liquid goes steadily


def strip_times():
    loads = math.log(USUAL.load) * normals(2)
    return PREDICTIONS["E53"]() * np.exp(loads[0] - loads[1])


def tea_tree():
    """Warmth is not given: 3 K either way."""
    worn = Conditions.read("22 degC", "74 g/m**2", surface="blotter")
    made = film_of_masses({"tea-tree": 1}, {}, {}, worn)
    sure = drawn(made, 256, 1, Uncertainty(load=1.0, temperature_k=3.0), None)
    found = []
    for rates in sure.loss_rates[1:]:
        left = film.film_amounts(made.moles, made.carrier_moles, rates, [0, 4 * HOUR])
        masses = left @ made.molar_masses
        found.append(100 * (1 - masses[1] / masses[0]))
    return np.array(found)


BANDS = {
    "E10": lambda: absorbed("E10", 1.3),
    "E11": lambda: absorbed("E11", 1.3),
    "E29": lambda: absorbed("E29", 1.3),
    "E30": lambda: absorbed("E30", 1.3),
    "E19": lambda: into_skin("E19"),
    "E20": lambda: into_skin("E20"),
    "E24": lambda: into_skin("E24"),
    "E25": lambda: into_skin("E25"),
    "E28": benzene_left,
    "E53": strip_times,
    "E72": tea_tree,
}


@pytest.mark.parametrize("name", BANDS)
def test_where_an_observation_lies_is_what_is_written(name, record_property):
    row = TABLE.loc[name]
    low, high = np.quantile(BANDS[name](), [0.05, 0.95])
    published = (row["published_low"] * row["published_high"]) ** 0.5
    record_property(
        f"9 in 10 beside {published:g} published, {name}", f"{low:.3g} to {high:.3g}"
    )
    assert bool(low <= published <= high) == (name not in OUTSIDE)
