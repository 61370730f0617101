"""Drop sizes: calibrating a dropper, and predicting a drop from physics.

The trade counts 20 drops to the millilitre. That holds for water-like droppers; the drops
of essential oils are often smaller, so that a bottle believed to hold 20 % may hold 13 %.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from blendkit.foundation import data
from blendkit.foundation.errors import BadNumber, Problem, quoted, refuse_any
from blendkit.foundation.units import ML_PER_M3, is_positive_number, is_whole_number, to_si
from blendkit.materials.catalogue import Oil

if TYPE_CHECKING:
    from pint import Quantity

MN_PER_N = 1e3
STANDARD_GRAVITY_M_PER_S2 = 9.80665  # exact by definition (CGPM 1901)


def drops_per_ml_counted(drops: int, volume: str | Quantity[Any]) -> float:
    """Drop size from counting drops into a measured volume.

    Parameters
    ----------
    drops : int
        Drops counted, at least 1.
    volume : str or pint Quantity
        What they filled, such as "2 mL".

    Returns
    -------
    float
        Drops in one millilitre. [1/mL]

    Raises
    ------
    BadNumber
        A count that is no whole number above 0, or no volume above 0.

    Examples
    --------
    >>> drops_per_ml_counted(60, "2 mL")
    30.0
    """
    _check_count(drops)
    return drops / (_positive(volume, "m**3", "volume") * ML_PER_M3)


def drops_per_ml_weighed(
    drops: int, mass: str | Quantity[Any], density: str | Quantity[Any] | Oil
) -> float:
    """Drop size from weighing counted drops on a kitchen scale.

    Parameters
    ----------
    drops : int
        Drops weighed together, at least 1; 20 or more even out a small scale's steps.
    mass : str or pint Quantity
        Such as "0.66 g".
    density : str, pint Quantity or Oil
        Of the oil, such as "0.88 g/mL"; or the oil itself.

    Returns
    -------
    float
        Drops in one millilitre. [1/mL]

    Raises
    ------
    BadNumber
        As for `drops_per_ml_counted`.

    Examples
    --------
    >>> round(drops_per_ml_weighed(20, "0.66 g", "0.88 g/mL"), 1)
    26.7
    """
    _check_count(drops)
    mass_kg = _positive(mass, "kg", "mass")
    if isinstance(density, Oil):
        density_kg_per_m3 = density.density_kg_per_m3
    else:
        density_kg_per_m3 = _positive(density, "kg/m**3", "density")
    return drops * density_kg_per_m3 / (mass_kg * ML_PER_M3)


def weighing_error(mass: str | Quantity[Any], scale_step: str | Quantity[Any]) -> float:
    """Largest error of a weighed drop size from the scale's last digit: half a step.

    Parameters
    ----------
    mass : str or pint Quantity
        What the scale shows.
    scale_step : str or pint Quantity
        Its smallest step, such as "0.01 g".

    Returns
    -------
    float
        Half a step over the mass, as `blendkit.batch.weighing` counts it too. [-]

    Raises
    ------
    BadNumber
        No mass, or none above 0.
    """
    step_kg = _positive(scale_step, "kg", "scale step")
    return step_kg / 2 / _positive(mass, "kg", "mass")


@dataclass(frozen=True)
class Drop:
    """A pendant drop that has let go.

    Attributes
    ----------
    mass_kg : float
    volume_m3 : float
    factor : float
        Harkins-Brown factor: the share of the hanging liquid that falls. [-]
    """

    mass_kg: float
    volume_m3: float
    factor: float

    @property
    def drops_per_ml(self) -> float:
        """Drops in one millilitre. [1/mL]"""
        return 1 / (self.volume_m3 * ML_PER_M3)


def predicted_drop(
    surface_tension: str | Quantity[Any],
    density: str | Quantity[Any],
    tip_diameter: str | Quantity[Any],
) -> Drop:
    """A drop falling slowly from a vertical round tip.

    Parameters
    ----------
    surface_tension : str or pint Quantity
        Such as "28 mN/m".
    density : str or pint Quantity
        Such as "0.88 g/mL".
    tip_diameter : str or pint Quantity
        Outer diameter where the liquid wets the tip, such as "3 mm".

    Returns
    -------
    Drop

    Raises
    ------
    BadNumber
        Not positive, or a tip whose drop lies outside the recorded factors
        (radius / volume^(1/3) from 0.05 to 1.60).

    Notes
    -----
    Tate's law with the Harkins-Brown factor f:
    ``mass = 2 pi radius surface_tension f(radius / volume^(1/3)) / g``, solved for the
    volume. One drop a second or slower; tilted bottles and thick liquids deviate.

    References
    ----------
    W. D. Harkins and F. E. Brown, J. Am. Chem. Soc. 41 (1919) 499; factors in
    data/drop_factors.csv: from 0.30 up recalled from a handbook table (grade: memory), below
    that from a polynomial fit (grade: estimated).

    Examples
    --------
    >>> water = predicted_drop("72.75 mN/m", "0.9982 g/mL", "3 mm")
    >>> round(water.mass_kg * 1e6)  # milligrams
    47
    """
    return drop_from_tip(
        _positive(surface_tension, "N/m", "surface tension"),
        _positive(density, "kg/m**3", "density"),
        tip_diameter,
    )


def drop_from_tip(
    tension_n_per_m: float, density_kg_per_m3: float, tip_diameter: str | Quantity[Any]
) -> Drop:
    """A drop of a liquid on record; see `predicted_drop`."""
    radius_m = _positive(tip_diameter, "m", "tip diameter") / 2
    table = data.table("drop_factors")
    ratios = table["radius_over_cube_root_of_volume"].to_numpy(dtype=float)
    factors = table["factor"].to_numpy(dtype=float)
    # The volume at each tabulated ratio, and the volume Tate's law gives there: they agree at
    # the drop we want, and their quotient is monotone along the table's stable branch.
    at_ratio_m3 = (radius_m / ratios) ** 3
    weight_n_per_m3 = density_kg_per_m3 * STANDARD_GRAVITY_M_PER_S2
    hanging_m3 = 2 * math.pi * radius_m * tension_n_per_m / weight_n_per_m3
    excess = np.log(at_ratio_m3 / (hanging_m3 * factors))
    if not excess[-1] <= 0 <= excess[0]:
        needed = "a tip whose drop lies in the recorded range of the Harkins-Brown factor"
        raise BadNumber([Problem("tip diameter", quoted(str(tip_diameter)), needed)])
    ratio = float(np.interp(0.0, -excess, ratios))
    factor = float(np.interp(ratio, ratios, factors))
    volume_m3 = hanging_m3 * factor
    return Drop(volume_m3 * density_kg_per_m3, volume_m3, factor)


def surface_tension_of(oil: Oil) -> tuple[float, str]:
    """An oil's surface tension at 20 degrees Celsius, and whose figure that is.

    Returns
    -------
    surface_tension_n_per_m : float
        Of the oil itself where it is on record; else of citrus oils for a citrus; else the
        mean of the essential oils on record. [N/m]
    words : str
        Whose figure it is and its grade.
    """
    carriers = tuple(data.table("carriers")["name"].str.lower())
    known = {
        row["liquid"]: row
        for row in data.rows("surface_tensions")
        if row["liquid"].endswith((" oil", " oils")) and not _is_named(row["liquid"], carriers)
    }
    own = [liquid for liquid in known if _is_named(liquid, (oil.name.lower(),))]
    if not own and oil.family == "citrus":
        own = ["citrus oils"]
    if not own:
        tensions = [row["surface_tension_mn_per_m"] for row in known.values()]
        return float(np.mean(tensions)) / MN_PER_N, "the mean of the oils on record, estimated"
    found = known[own[0]]
    return found["surface_tension_mn_per_m"] / MN_PER_N, f"{own[0]}, {found['grade']}"


def _is_named(liquid: str, names: Sequence[str]) -> bool:
    """True where a liquid such as "clove bud oil" is that of a name such as "clove bud"."""
    plain = liquid.removesuffix("s").removesuffix(" oil")
    return any(name.startswith(plain) for name in names)


def strength_with_a_wrong_rule(
    drops: int,
    believed_drops_per_ml: float,
    true_drops_per_ml: float,
    bottle: str | Quantity[Any],
) -> tuple[float, float]:
    """Strength that a drop count was believed to make, and its true strength, by volume.

    Parameters
    ----------
    drops : int
        Drops of oil in the bottle.
    believed_drops_per_ml, true_drops_per_ml : float
        The rule used, and the dropper's real size. [1/mL]
    bottle : str or pint Quantity
        Liquid in the bottle, topped up with carrier, such as "10 mL".

    Returns
    -------
    believed, true : float
        Shares of oil by volume. [-]

    Raises
    ------
    BadNumber
        A count that is no whole number above 0, a size or a bottle not above 0.

    Examples
    --------
    >>> strength_with_a_wrong_rule(40, 20, 30, "10 mL")
    (0.2, 0.13333333333333333)
    """
    _check_count(drops)
    sizes = {"believed": believed_drops_per_ml, "true": true_drops_per_ml}
    refuse_any(
        Problem(f"{name} drops in 1 mL", quoted(size), "a number above 0")
        for name, size in sizes.items()
        if not is_positive_number(size)
    )
    bottle_ml = _positive(bottle, "m**3", "bottle") * ML_PER_M3
    return drops / believed_drops_per_ml / bottle_ml, drops / true_drops_per_ml / bottle_ml


def _check_count(drops: object) -> None:
    if not is_whole_number(drops, 1):
        raise BadNumber([Problem("drops", quoted(drops), "a whole number of drops, 1 or more")])


def _positive(value: str | Quantity[Any], unit: str, name: str) -> float:
    number = to_si(value, unit, name=name)
    if not is_positive_number(number):
        raise BadNumber([Problem(name, quoted(str(value)), "more than nothing")])
    return number
