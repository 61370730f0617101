"""Vapour pressure of pure liquids, estimated from a boiling point.

Few scent constituents have a vapour pressure measured near skin temperature; many have a
boiling point, or at least a retention index. Three published estimators bridge the gap, and
their geometric mean is taken. No forecast calls them: they are how estimated figures in
`data/constituent_figures.csv` came about, and how to estimate those of a new constituent.

Pure equations: nothing is looked up here, every number may be an array, and results have the
shape the arguments broadcast to. Each function raises `BadNumber` for numbers outside `LIMITS`,
and lists every one.

The pressure is the liquid's, also where the pure substance is a solid (camphor, vanillin):
in a blend it is dissolved. One shortcut is missing on purpose, a constant enthalpy of
vaporisation from the boiling point down to 25 °C: the enthalpy grows as a liquid cools, and
for measured scent constituents the result was six to eight times too high.
"""

from collections.abc import Callable, Mapping
from functools import wraps
from inspect import signature
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from blendkit.foundation.errors import BadNumber, Problem, near_miss, quoted, refuse_any
from blendkit.foundation.units import (
    GAS_CONSTANT_J_PER_MOL_K,
    STANDARD_ATMOSPHERE_PA,
    FloatArray,
)

Numbers = npt.ArrayLike

REFERENCE_TEMPERATURE_K = 298.15
LONGEST_STEP_K = 15.0

# How far a vapour pressure may be off, up or down, as a factor. Judgement, not a fitted spread:
# the only check behind it is that two in three measured pressures lie inside.
UNCERTAINTY_FACTORS: Mapping[str, float] = {
    "measured near 25 C": 1.3,
    "measured, extrapolated": 1.7,
    "from boiling point": 2.0,
    "from retention index": 2.5,
    "rough": 10.0,
}


class ClassConstants(NamedTuple):
    """Kf of `antoine_grain` and K of `class_relation` for a chemical class. [-]"""

    fishtine_factor: float
    reduced_slope: float


# The first class of which a molecule has a group decides. Kf: recalled from the table in Lyman
# (see `antoine_grain`), one value for a whole class, then moved by up to 0.08 towards measured
# pressures. K: mean of the slopes that the measured pressures of 75 constituents imply, many of
# them measured well above 25 °C; that of the acids rests on two.
CLASSES: Mapping[str, ClassConstants] = {
    "acid": ClassConstants(1.23, 5.30),
    "phenol": ClassConstants(1.13, 4.81),
    "alcohol": ClassConstants(1.19, 4.90),
    "nitrogen": ClassConstants(1.05, 4.56),
    "ester": ClassConstants(1.06, 4.60),
    "carbonyl": ClassConstants(1.04, 4.51),
    "ether": ClassConstants(1.05, 4.65),
    "hydrocarbon": ClassConstants(1.02, 4.35),
}

# Boiling point [K] on x = retention index / 1000: constant, x, x squared, and what an aromatic
# ring, a hydroxyl group and an ester group add. Least squares with a soft-L1 loss (scale 5 K),
# so that odd ones weigh less, on 132 constituents with a boiling point on record. Residual
# 6.5 K over the 126 within 18 K.
RETENTION_COEFFICIENTS_K = (194.6, 295.4, -42.3, 12.4, 4.9, -6.0)

_KELVIN = "Was it in degrees Celsius? Add 273.15."
# Lowest and highest number that can be used, and what to do about the others.
LIMITS: Mapping[str, tuple[float, float, str]] = {
    "boiling_point_k": (250, 1000, _KELVIN),
    **dict.fromkeys(("temperature_k", "reference_temperature_k"), (100, 1500, _KELVIN)),
    "fishtine_factor": (0.9, 1.5, ""),
    "reduced_slope": (3, 8, ""),
    "torsional_bonds": (0, 100, ""),
    "hydrogen_bond_number": (0, 0.1, "Was it divided by the molar mass in g/mol?"),
    "retention_index": (800, 2900, "Was it read on a polar column? DB-5 is needed."),
    **dict.fromkeys(("aromatic", "hydroxyl", "ester"), (0, 1, "Write True or False.")),
    "reference_pressure_pa": (1e-300, 1e7, ""),
    "enthalpy_j_per_mol": (15e3, 250e3, "Was it in kJ/mol? Multiply by 1000."),
}


def _arrays(arguments: Mapping[str, Any]) -> dict[str, FloatArray]:
    problems: list[Problem] = []
    numbers: dict[str, FloatArray] = {}
    for name, values in arguments.items():
        low, high, fix = LIMITS[name]
        needed = f"a number from {low:g} to {high:g}"
        try:
            numbers[name] = np.asarray(values, dtype=np.float64)
        except (TypeError, ValueError):
            problems.append(Problem(name, quoted(values), needed))
            continue
        # written so that NaN, which is neither too low nor too high, is refused as well
        wrong = ~((numbers[name] >= low) & (numbers[name] <= high))
        if np.any(wrong):
            got = quoted(float(numbers[name][wrong].flat[0]))
            problems.append(Problem(name, got, needed, fix))
    if not problems and "boiling_point_k" in numbers:
        reduced = numbers["temperature_k"] / numbers["boiling_point_k"]
        # The critical temperature is about 1.5 times the boiling point (Guldberg's rule); far
        # below 0.35 times, the equations meet their poles.
        if np.any((reduced < 0.35) | (reduced > 1.5)):
            got = f"{np.min(reduced):.3g} to {np.max(reduced):.3g} times the boiling point"
            needed = "0.35 to 1.5 times, where it is a liquid"
            problems.append(Problem("temperature_k", got, needed, _KELVIN))
    refuse_any(problems)
    return numbers


def _checked(calculate: Callable[..., FloatArray]) -> Callable[..., FloatArray]:
    """Hand a function its numbers as arrays, each within its `LIMITS`."""
    parameters = signature(calculate)

    @wraps(calculate)
    def checked(*given: Numbers, **named: Numbers) -> FloatArray:
        bound = parameters.bind(*given, **named)
        bound.apply_defaults()
        return calculate(**_arrays(bound.arguments))

    return checked


@_checked
def antoine_grain(
    boiling_point_k: FloatArray, fishtine_factor: FloatArray, temperature_k: FloatArray
) -> FloatArray:
    """Vapour pressure by Antoine's equation with Grain's constant. [Pa]

    Parameters
    ----------
    boiling_point_k : float or array
        At one atmosphere. [K]
    fishtine_factor : float or array
        Kf: how far the class strays from a hydrocarbon's entropy of boiling. [-]
    temperature_k : float or array
        From 0.35 to 1.5 times the boiling point. [K]

    Notes
    -----
    ``ln(P/atm) = Kf (8.75 + R ln Tb) (Tb - C)^2 / (0.97 R Tb) (1/(Tb - C) - 1/(T - C))`` with
    ``C = 0.19 Tb - 18 K`` and R = 1.987 cal/(mol K).

    References
    ----------
    C. F. Grain in W. J. Lyman, W. F. Reehl and D. H. Rosenblatt, Handbook of Chemical Property
    Estimation Methods, 1982, chapter 14 (recalled, not opened).
    """
    gas_constant_cal = 1.987  # as in the source, whose 8.75 is in calories too
    shift = 0.19 * boiling_point_k - 18.0
    above = boiling_point_k - shift
    entropy_cal = fishtine_factor * (8.75 + gas_constant_cal * np.log(boiling_point_k))
    slope = entropy_cal * above**2 / (0.97 * gas_constant_cal * boiling_point_k)
    exponent = slope * (1 / above - 1 / (temperature_k - shift))
    return STANDARD_ATMOSPHERE_PA * np.exp(exponent)


@_checked
def myrdal_yalkowsky(
    boiling_point_k: FloatArray,
    torsional_bonds: FloatArray,
    hydrogen_bond_number: FloatArray,
    temperature_k: FloatArray,
) -> FloatArray:
    """Vapour pressure from the entropy of boiling that the structure sets. [Pa]

    Parameters
    ----------
    boiling_point_k, temperature_k : float or array
        As for `antoine_grain`. [K]
    torsional_bonds : float or array
        tau: sp3 atoms that are neither terminal nor in a ring, half of such sp2 atoms, half the
        ring systems, less 1; not below 0. [-]
    hydrogen_bond_number : float or array
        (sqrt(hydroxyls) + sqrt(acids) + 0.33 sqrt(primary amines)) / molar mass. [mol/g]

    Notes
    -----
    ``log10(P/atm) = -(86 + 0.4 tau + 1421 HBN)/19.1 (Tb - T)/T
    - (90 + 2.1 tau)/19.1 ((Tb - T)/T - ln(Tb/T))``

    References
    ----------
    P. B. Myrdal and S. H. Yalkowsky, Ind. Eng. Chem. Res. 36 (1997) 2494; coefficients read in
    the open source of UManSysProp, vapour_pressures.py.
    """
    distance = (boiling_point_k - temperature_k) / temperature_k
    entropy_part = (86.0 + 0.4 * torsional_bonds + 1421.0 * hydrogen_bond_number) * distance
    fall = distance - np.log(boiling_point_k / temperature_k)
    heat_capacity_part = (90.0 + 2.1 * torsional_bonds) * fall
    return STANDARD_ATMOSPHERE_PA * 10 ** (-(entropy_part + heat_capacity_part) / 19.1)


@_checked
def class_relation(
    boiling_point_k: FloatArray, reduced_slope: FloatArray, temperature_k: FloatArray
) -> FloatArray:
    """Vapour pressure from one slope for a whole chemical class. [Pa]

    `reduced_slope` is the K of the class [-]; the others are as for `antoine_grain`.

    ``log10(P/atm) = K (Tr - 1)/(Tr - 1/8)`` with ``Tr = T/Tb``: the form of Y. Nannoolal,
    J. Rarey and D. Ramjugernath, Fluid Phase Equilib. 269 (2008) 117, with one K a class in
    place of their group contributions.
    """
    reduced = temperature_k / boiling_point_k
    return STANDARD_ATMOSPHERE_PA * 10 ** (reduced_slope * (reduced - 1) / (reduced - 0.125))


def class_constants(chemical_class: str) -> ClassConstants:
    """The constants of a chemical class, a key of `CLASSES`; any other word is refused."""
    if chemical_class not in CLASSES:
        needed = f"one of {', '.join(CLASSES)}"
        hint = near_miss(chemical_class, CLASSES)
        raise BadNumber([Problem("chemical class", quoted(chemical_class), needed, hint)])
    return CLASSES[chemical_class]


def mean_of_three(
    boiling_point_k: Numbers,
    chemical_class: str,
    torsional_bonds: Numbers,
    hydrogen_bond_number: Numbers,
    temperature_k: Numbers,
) -> FloatArray:
    """Vapour pressure as the geometric mean of the three estimators above. [Pa]

    `chemical_class` is a key of `CLASSES`; the others are as for `myrdal_yalkowsky`.

    Against pressures measured near 25 °C the root-mean-square error is 0.2 to 0.35 in log10, a
    factor of 1.6 to 2.2; alcohols are the worst and mostly too high. Thirty measured
    constituents do not tell which of the three is best.

    Examples
    --------
    >>> f"{mean_of_three(450.8, 'hydrocarbon', 0, 0, 298.15):.0f} Pa"  # limonene; measured: 200
    '185 Pa'
    """
    of_class = class_constants(chemical_class)
    first = antoine_grain(boiling_point_k, of_class.fishtine_factor, temperature_k)
    second = myrdal_yalkowsky(
        boiling_point_k, torsional_bonds, hydrogen_bond_number, temperature_k
    )
    third = class_relation(boiling_point_k, of_class.reduced_slope, temperature_k)
    return np.cbrt(first * second * third)


@_checked
def boiling_point_from_retention_index(
    retention_index: FloatArray,
    *,
    aromatic: Numbers = False,
    hydroxyl: Numbers = False,
    ester: Numbers = False,
) -> FloatArray:
    """Boiling point from a linear retention index on a non-polar column (DB-5). [K]

    `aromatic`, `hydroxyl` and `ester` say whether the molecule has an aromatic ring, an OH
    group (a phenol's or an acid's too) and an ester group.

    A regression (`RETENTION_COEFFICIENTS_K`), good to about 7 K. Acids and coumarin boil some
    30 K higher than it says.
    """
    index = retention_index / 1000
    terms = np.broadcast_arrays(1.0, index, index**2, aromatic, hydroxyl, ester)
    return np.tensordot(RETENTION_COEFFICIENTS_K, np.stack(terms), axes=1)[()]


@_checked
def vapour_pressure_at(
    reference_pressure_pa: FloatArray,
    enthalpy_j_per_mol: FloatArray,
    temperature_k: FloatArray,
    *,
    reference_temperature_k: Numbers = REFERENCE_TEMPERATURE_K,
) -> FloatArray:
    """A known vapour pressure carried to a temperature at most 15 K away. [Pa]

    Clausius-Clapeyron with constant enthalpy of vaporisation and ideal vapour. An enthalpy
    wrong by 5 kJ/mol costs 5 % from 25 to 32 °C.

    Examples
    --------
    >>> f"{vapour_pressure_at(200.0, 49_600.0, 305.15):.0f} Pa"  # limonene, 25 to 32 °C
    '316 Pa'
    """
    reference = np.asarray(reference_temperature_k)
    away_k = np.max(np.abs(temperature_k - reference), initial=0)
    if away_k > LONGEST_STEP_K + 1e-9:  # a hair more, for what subtraction rounds off
        got = f"{away_k:.4g} K away from where the pressure is known"
        needed = f"at most {LONGEST_STEP_K:g} K, because the enthalpy is held constant"
        fix = "Use an estimator, such as mean_of_three: its slope changes with temperature."
        raise BadNumber([Problem("temperature_k", got, needed, fix)])
    slope = enthalpy_j_per_mol / GAS_CONSTANT_J_PER_MOL_K
    return reference_pressure_pa * np.exp(slope * (1 / reference - 1 / temperature_k))


def enthalpy_from_estimator(
    estimator: Callable[[FloatArray], FloatArray], temperature_k: Numbers
) -> FloatArray:
    """Enthalpy of vaporisation from the slope of a curve, temperature to pressure. [J/mol]

    ``H = -R d ln P / d(1/T)``, for ideal vapour, by a central difference over 0.2 K.

    Examples
    --------
    >>> curve = lambda temperature_k: class_relation(450.8, 4.35, temperature_k)
    >>> f"{enthalpy_from_estimator(curve, 298.15) / 1000:.0f} kJ/mol"  # limonene; measured: 49
    '50 kJ/mol'
    """
    temperature = _arrays({"temperature_k": temperature_k})["temperature_k"]
    below, above = temperature - 0.1, temperature + 0.1
    rise = np.log(estimator(above) / estimator(below))
    return GAS_CONSTANT_J_PER_MOL_K * rise / (1 / below - 1 / above)
