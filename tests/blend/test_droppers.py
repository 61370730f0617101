"""Drop sizes: the predicted drop against weighed ones, and calibration of a dropper."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendkit.blend.droppers import (
    drops_per_ml_counted,
    drops_per_ml_weighed,
    predicted_drop,
    strength_with_a_wrong_rule,
    surface_tension_of,
    weighing_error,
)
from blendkit.foundation import data
from blendkit.foundation.errors import BadNumber
from blendkit.materials import catalogue

PUBLISHED = Path(__file__).parents[1] / "published"
# How far a predicted drop may lie from a weighed one. The recorded factors come from a handbook
# table recalled from memory, and a real tip is never quite round, sharp and clean.
ALLOWED = 0.08

# Which liquids of the table of surface tensions stand for the words of the published ranges
ESSENTIAL_OILS = (
    "citrus oils",
    "lavender oil",
    "peppermint oil",
    "tea tree oil",
    "geranium oil",
    "clove bud oil",
    "patchouli oil",
    "sandalwood oil",
    "vetiver oil",
)
# Fitted so that essential oils come out near 30 drops to the millilitre; nobody measured it
EFFECTIVE_RETAIL_TIP = "5.5 mm"


def published(what: str, unit: str, liquid: str = "") -> list[dict[str, str]]:
    with (PUBLISHED / "drop_masses.csv").open(encoding="utf-8", newline="") as lines:
        return [
            row
            for row in csv.DictReader(lines)
            if row["what"] == what and row["unit"] == unit and liquid in ("", row["liquid"])
        ]


def drop_of(liquid: str, tip_diameter: str):
    table = data.table("surface_tensions").set_index("liquid")
    return predicted_drop(
        f"{table.loc[liquid, 'surface_tension_mn_per_m']} mN/m",
        f"{table.loc[liquid, 'density_g_per_ml']} g/mL",
        tip_diameter,
    )


def water_drop_g(temperature_c: float, tip_diameter_mm: float) -> float:
    # Water's figures from the IAPWS equations for surface tension and for density, which the
    # `chemicals` library has worked out apart from this one
    chemicals = pytest.importorskip("chemicals")
    temperature_k = temperature_c + 273.15
    tension = chemicals.sigma_IAPWS(temperature_k)
    density = chemicals.iapws95_rho(temperature_k, 101_325.0)
    drop = predicted_drop(f"{tension} N/m", f"{density} kg/m**3", f"{tip_diameter_mm} mm")
    return drop.mass_kg * 1000


# --- against weighed drops ----------------------------------------------------------------


def hold(beside_published, words, row, predicted, margin=ALLOWED):
    low, high = (float(row[end] or row["value"]) for end in ("low", "high"))
    if row["value"] and margin:  # a margin is taken from the figure, none means the range
        low = high = float(row["value"])
    beside_published(
        words,
        predicted,
        float(row["value"] or (low * high) ** 0.5),
        low * (1 - margin),
        high * (1 + margin),
        unit=row["unit"],
        source=f"{row['source']} ({row['grade']})",
    )


def test_standard_dropper_of_the_pharmacopoeia(beside_published):
    # Source: European Pharmacopoeia 2.1.1 (recalled, not opened): 20 drops of water at 20 °C
    # weigh 1.000 g, give or take 0.050 g. The prediction comes out about 5 % light, a hair
    # below the pharmacopoeia's own margin; it is held to the model's margin instead.
    (row,) = published("standard dropper", "g per 20 drops")
    predicted = 20 * water_drop_g(float(row["temperature_c"]), float(row["tip_diameter_mm"]))
    hold(beside_published, "water from the standard dropper", row, predicted)


@pytest.mark.parametrize(
    "row", published("measured", "g per drop"), ids=lambda row: row["tip_diameter_mm"]
)
def test_water_drops_weighed_in_1895(row, beside_published):
    # Source: Eschbaum 1895 (read in a reprint of its table). From the smallest tip to the
    # largest the prediction is off by about +1, -3, -6 and -6 %.
    predicted = water_drop_g(float(row["temperature_c"]), float(row["tip_diameter_mm"]))
    words = f"a drop of water from a {row['tip_diameter_mm']} mm tip"
    hold(beside_published, words, row, predicted)


def test_drops_grow_with_the_tip_as_weighed():
    # Source: Eschbaum 1895: mass grows more slowly than the diameter, which is what the
    # Harkins-Brown factor adds to Tate's law. Tate alone would make it 6.56 / 0.67 = 9.8 times.
    rows = published("measured", "g per drop")
    small, large = rows[0], rows[-1]
    weighed = float(large["value"]) / float(small["value"])
    predicted = water_drop_g(15, float(large["tip_diameter_mm"])) / water_drop_g(
        15, float(small["tip_diameter_mm"])
    )
    assert predicted == pytest.approx(weighed, rel=ALLOWED)


@pytest.mark.parametrize(
    ("group", "liquids"),
    [
        ("essential oils", ("citrus oils", "lavender oil", "peppermint oil")),
        ("fatty oils", ("olive oil", "sunflower oil", "sweet almond oil")),
    ],
)
def test_drop_tables_of_pharmacopoeias(group, liquids, beside_published):
    # Source: drop tables of continental pharmacopoeias (recalled, not opened), counted with the
    # standard dropper: essential oils 45 to 58 and fatty oils 40 to 48 drops to the gram
    (row,) = published("drop table", "drops per g", group)
    for liquid in liquids:
        per_gram = 1 / (drop_of(liquid, f"{row['tip_diameter_mm']} mm").mass_kg * 1000)
        hold(beside_published, f"drops of {liquid}, standard dropper", row, per_gram)


def test_one_tip_puts_every_essential_oil_in_the_retail_range(beside_published):
    # Source: summary of three drop-weighing studies (read): 20 to 40 drops to the millilitre.
    # The tip is a fit, so that the mean lands near 30 proves nothing; that all oils stay in the
    # range with one and the same tip is the check.
    (row,) = published("retail bottles", "drops per mL")
    for liquid in ESSENTIAL_OILS:
        count = drop_of(liquid, EFFECTIVE_RETAIL_TIP).drops_per_ml
        hold(beside_published, f"drops of {liquid}, retail bottle", row, count, margin=0)


def test_mean_mass_of_retail_drops(beside_published):
    # Source: summary of three drop-weighing studies (read): 20 drops weigh 0.66 g on average.
    # Wide margin: their oils and ours are not the same ones.
    (row,) = published("retail bottles", "g per 20 drops")
    masses = [
        drop_of(liquid, EFFECTIVE_RETAIL_TIP).mass_kg * 20_000 for liquid in ESSENTIAL_OILS
    ]
    hold(beside_published, "mean drop of an oil, retail bottle", row, np.mean(masses), 0.15)


def test_the_pharmacopoeia_tip_does_not_explain_retail_drops():
    # The reason for the fitted tip: from 3 mm every oil gives more drops than the retail range
    (row,) = published("retail bottles", "drops per mL")
    for liquid in ESSENTIAL_OILS:
        assert drop_of(liquid, "3 mm").drops_per_ml > float(row["high"]), liquid


# --- laws of the predicted drop -----------------------------------------------------------

tensions = st.floats(20, 75)
densities = st.floats(0.78, 1.2)
diameters = st.floats(0.5, 6)


@given(tensions, densities, diameters)
def test_drop_solves_tates_law_with_its_factor(tension, density, diameter):
    drop = predicted_drop(f"{tension} mN/m", f"{density} g/mL", f"{diameter} mm")
    radius_m, density_kg_per_m3 = diameter / 2000, density * 1000
    hanging_kg = 2 * math.pi * radius_m * tension / 1000 / 9.80665
    assert drop.mass_kg == pytest.approx(hanging_kg * drop.factor, rel=1e-9)
    assert drop.volume_m3 == pytest.approx(drop.mass_kg / density_kg_per_m3, rel=1e-9)
    assert drop.drops_per_ml == pytest.approx(1e-6 / drop.volume_m3, rel=1e-9)
    # The factor is the tabulated one at this drop's own radius / volume^(1/3), but for what
    # straight lines between the table's rows leave
    table = data.table("drop_factors").to_numpy()
    ratio = radius_m / drop.volume_m3 ** (1 / 3)
    tabulated = np.interp(ratio, table[:, 0].astype(float), table[:, 1].astype(float))
    assert drop.factor == pytest.approx(tabulated, rel=0.003)


@given(densities, st.floats(1, 5))
def test_more_tension_or_a_wider_tip_makes_a_larger_drop(density, diameter):
    text = f"{density} g/mL"
    here = predicted_drop("30 mN/m", text, f"{diameter} mm").volume_m3
    assert predicted_drop("33 mN/m", text, f"{diameter} mm").volume_m3 > here
    assert predicted_drop("30 mN/m", text, f"{diameter * 1.1} mm").volume_m3 > here


@given(tensions, densities, diameters, st.floats(0.8, 1.25))
def test_only_tension_over_density_sets_the_volume(tension, density, diameter, factor):
    tip = f"{diameter} mm"
    one = predicted_drop(f"{tension} mN/m", f"{density} g/mL", tip)
    other = predicted_drop(f"{tension * factor} mN/m", f"{density * factor} g/mL", tip)
    assert other.volume_m3 == pytest.approx(one.volume_m3, rel=1e-9)


# --- whose surface tension ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("oil_id", "liquid"),
    [("lavender", "lavender oil"), ("vetiver", "vetiver oil"), ("lemon", "citrus oils")],
)
def test_an_oil_has_its_own_surface_tension_or_that_of_its_kind(oil_id, liquid):
    row = data.table("surface_tensions").set_index("liquid").loc[liquid]
    tension, words = surface_tension_of(catalogue.oil(oil_id))
    assert tension == pytest.approx(row["surface_tension_mn_per_m"] / 1000, rel=1e-9)
    assert words == f"{liquid}, {row['grade']}"


def test_an_oil_that_is_not_on_record_has_the_mean_of_the_essential_oils():
    # of essential oils alone: neither of carriers nor of single molecules
    table = data.table("surface_tensions").set_index("liquid")
    mean = table.loc[list(ESSENTIAL_OILS), "surface_tension_mn_per_m"].mean() / 1000
    tension, words = surface_tension_of(catalogue.oil("ginger"))
    assert tension == pytest.approx(mean, rel=1e-9)
    assert words.endswith("estimated")


# --- calibrating a dropper ----------------------------------------------------------------


def test_counting_and_weighing_by_hand():
    # 60 drops into 2 mL; and 20 drops of 0.66 g at 0.88 g/mL fill 0.75 mL
    assert drops_per_ml_counted(60, "2 mL") == pytest.approx(60 / 2)
    assert drops_per_ml_weighed(20, "0.66 g", "0.88 g/mL") == pytest.approx(20 / 0.75)


@given(st.integers(1, 500), st.floats(0.1, 100), densities)
def test_counting_and_weighing_agree(drops, volume_ml, density):
    counted = drops_per_ml_counted(drops, f"{volume_ml} mL")
    weighed = drops_per_ml_weighed(drops, f"{volume_ml * density} g", f"{density} g/mL")
    assert weighed == pytest.approx(counted, rel=1e-9)


def test_units_may_be_any_of_the_kind():
    assert drops_per_ml_counted(60, "2000 µL") == pytest.approx(30)
    assert drops_per_ml_counted(60, "0.002 L") == pytest.approx(30)
    assert drops_per_ml_weighed(20, "660 mg", "880 kg/m**3") == pytest.approx(20 / 0.75)


def test_what_the_last_digit_of_a_scale_leaves():
    # By hand: a reading is at most half of 0.01 g off, and 0.005 of 0.66 is 0.758 %.
    assert weighing_error("0.66 g", "0.01 g") == pytest.approx(0.005 / 0.66)
    # and half a step of 0.1 g is 0.05 g, 5.6 % of 0.9 g
    assert weighing_error("0.9 g", "0.1 g") * 100 == pytest.approx(5.6, abs=0.05)


def test_more_drops_leave_less_uncertainty():
    one = weighing_error("0.033 g", "0.01 g")
    twenty = weighing_error("0.66 g", "0.01 g")
    assert one == pytest.approx(20 * twenty)


def test_a_wrong_rule_by_hand():
    # 40 drops believed to be 20 to the millilitre are 2 mL of 10; at 30 they are 1.33 mL
    believed, true = strength_with_a_wrong_rule(40, 20, 30, "10 mL")
    assert believed == pytest.approx(2 / 10)
    assert true == pytest.approx(40 / 30 / 10)


# --- bad input ----------------------------------------------------------------------------


@pytest.mark.parametrize("drops", [0, -1, 1.0, 2.5, True, None, "20", math.nan, [20]])
def test_a_count_that_is_no_whole_number_is_refused(drops):
    with pytest.raises(BadNumber, match=r"drops: got .* needs a whole number"):
        drops_per_ml_counted(drops, "2 mL")
    with pytest.raises(BadNumber, match=r"drops: got .* needs a whole number"):
        drops_per_ml_weighed(drops, "0.66 g", "0.88 g/mL")


@pytest.mark.parametrize(
    "bad", ["0 {}", "-1 {}", "nan {}", "1", 1, None, "1 second", "much", ""]
)
@pytest.mark.parametrize(
    ("call", "unit", "named"),
    [
        (lambda bad: drops_per_ml_counted(60, bad), "mL", "volume"),
        (lambda bad: drops_per_ml_weighed(20, bad, "0.88 g/mL"), "g", "mass"),
        (lambda bad: drops_per_ml_weighed(20, "0.66 g", bad), "g/mL", "density"),
        (lambda bad: weighing_error(bad, "0.01 g"), "g", "mass"),
        (lambda bad: weighing_error("0.66 g", bad), "g", "scale step"),
        (lambda bad: predicted_drop(bad, "0.88 g/mL", "3 mm"), "mN/m", "surface tension"),
        (lambda bad: predicted_drop("28 mN/m", bad, "3 mm"), "g/mL", "density"),
        (lambda bad: predicted_drop("28 mN/m", "0.88 g/mL", bad), "mm", "tip diameter"),
        (lambda bad: strength_with_a_wrong_rule(40, 20, 30, bad), "mL", "bottle"),
    ],
)
def test_a_bad_quantity_is_refused_by_name(call, unit, named, bad):
    value = bad.format(unit) if isinstance(bad, str) else bad
    with pytest.raises(BadNumber, match=named):
        call(value)


def tip_for(ratio, factor):
    """Tip whose drop has a radius / volume^(1/3), by Tate's law: 28 mN/m, 0.88 g/mL. [mm]"""
    # (r / ratio)^3 = 2 pi r tension factor / (density g), solved for r
    radius_m = math.sqrt(2 * math.pi * 0.028 * factor * ratio**3 / (880 * 9.80665))
    return 2000 * radius_m


@pytest.mark.parametrize("rows", [(0, 1), (-2, -1)])
def test_a_tip_between_the_outermost_recorded_factors_is_taken(rows):
    table = data.table("drop_factors").to_numpy()[list(rows), :2].astype(float)
    ratio, factor = table.mean(axis=0)
    drop = predicted_drop("28 mN/m", "0.88 g/mL", f"{tip_for(ratio, factor)} mm")
    assert table[1, 1] < drop.factor < table[0, 1]


@pytest.mark.parametrize(("row", "beyond"), [(0, 0.99), (-1, 1.01)])
def test_a_tip_a_hundredth_outside_the_recorded_factors_is_refused(row, beyond):
    ratio, factor = data.table("drop_factors").to_numpy()[row, :2].astype(float)
    with pytest.raises(BadNumber, match="Harkins-Brown"):
        predicted_drop("28 mN/m", "0.88 g/mL", f"{tip_for(ratio, factor) * beyond} mm")


@pytest.mark.parametrize("tip", ["0.001 mm", "40 mm", "2 m"])
def test_a_tip_outside_the_recorded_factors_is_refused(tip):
    with pytest.raises(BadNumber, match=r"tip diameter: got .* Harkins-Brown"):
        predicted_drop("28 mN/m", "0.88 g/mL", tip)


@pytest.mark.parametrize("bad", [-20, math.nan, math.inf, True, None, "20"])
@pytest.mark.parametrize("place", ["drops", "believed_drops_per_ml", "true_drops_per_ml"])
def test_a_wrong_rule_needs_numbers(place, bad):
    arguments = {"drops": 40, "believed_drops_per_ml": 20, "true_drops_per_ml": 30}
    with pytest.raises(BadNumber):
        strength_with_a_wrong_rule(**{**arguments, place: bad}, bottle="10 mL")


@pytest.mark.parametrize("place", ["believed_drops_per_ml", "true_drops_per_ml"])
def test_a_wrong_rule_of_no_drops_at_all_is_refused(place):
    arguments = {"drops": 40, "believed_drops_per_ml": 20, "true_drops_per_ml": 30}
    with pytest.raises(BadNumber):
        strength_with_a_wrong_rule(**{**arguments, place: 0}, bottle="10 mL")
