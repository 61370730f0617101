"""Perceived strength: published curves of strength against concentration in air.

A curve is ``I = I_max / (1 + (X_half / X)**p)`` on the printed scale of one panel, which calls
1.4 just perceived. It is flat far above the threshold and steep near it, so no exponent holds
for a whole day. Where a molecule has no curve, one is estimated from its vapour pressure and
its chemical class. Strengths are compared with each other and with 1.4; none is ever printed.

Of a mixture one smells the strongest component: in pairs rated by some thirty assessors that
alone came within 0.5 of ten, and a sum was 5 too high (2021, doi 10.15454/51OVY6).
"""

import math
from collections.abc import Iterable, Sequence
from functools import cache
from typing import Generic, NamedTuple, TypeVar

import numpy as np

from blendkit.evaporation.molecules import Molecule
from blendkit.foundation import data
from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.units import FloatArray
from blendkit.materials.constituents import constituent

Number = TypeVar("Number", float, FloatArray)
PERCEIVED = 1.4  # on the printed scale: below, a smell is gone
# Error of half concentrations, as powers of ten, 2 in 3 inside (judgement): thresholds of 23
# molecules in older compilations are 1.1 away, and most of that is theirs
_OF_A_PANEL = 0.5
_AROUND_THE_ESTIMATE = 0.7  # residual of the curves on record about `_trends`
_KG_PER_M3_PER_UG_PER_L = 1e-6
# An average over k molecules of a class counts k / (k + 4): two molecules say little of a class
_DOUBT = 4.0


class Curve(NamedTuple, Generic[Number]):
    """A molecule's strength by its concentration in air; or those of n, in arrays (n,).

    Attributes
    ----------
    greatest : float
        Strength that no concentration exceeds; 0 for what has no smell. [-]
    half_kg_per_m3 : float
        Concentration in air at half of it. [kg/m3]
    power : float
        Strength goes with this power of the concentration where it is faint. [-]
    log_spread : float
        Natural logarithm of how many times higher or lower that concentration may be. [-]
    is_published : bool
    """

    greatest: Number
    half_kg_per_m3: Number
    power: Number
    log_spread: Number
    is_published: Number | bool


Curves = Curve[FloatArray]


def curves_of(molecules: Iterable[Molecule]) -> Curves:
    """The curves of some molecules, published or estimated."""
    return Curves(*map(np.array, zip(*map(curve_of, molecules), strict=True)))


@cache
def curve_of(molecule: Molecule) -> Curve[float]:
    """The curve of one molecule: published, estimated, or none where it has no smell."""
    if molecule.id in odourless():
        return Curve(0.0, 1.0, 1.0, 0.0, is_published=True)
    known = _published()
    if molecule.id in known:
        return _curve(*known[molecule.id], _OF_A_PANEL, is_published=True)
    trends, of_class = _trends()
    at = math.log10(molecule.vapour_pressure_pa)
    greatest, half, decades = (float(np.polyval(trend, at)) for trend in trends)
    half += of_class.get(molecule.chemical_class, 0.0)
    # misprinted: that of a like molecule
    no_width = _published("used == 'no' and decades == 0")
    greatest, half, _ = no_width.get(molecule.id, (greatest, half, decades))
    spread = math.hypot(_OF_A_PANEL, _AROUND_THE_ESTIMATE)
    return _curve(max(greatest, 10.0), half, max(decades, 0.2), spread, is_published=False)


def _curve(
    greatest: float, half: float, decades: float, spread_decades: float, *, is_published: bool
) -> Curve[float]:
    """A curve from the printed constants: I_max, C and D."""
    to_nature = math.log(10)
    concentration = 10**half * _KG_PER_M3_PER_UG_PER_L
    power = 1 / (decades * to_nature)
    return Curve(greatest, concentration, power, spread_decades * to_nature, is_published)


@cache
def odourless() -> frozenset[str]:
    """Ids of the molecules that have no smell to speak of."""
    return frozenset(data.table("odourless")["constituent"])


@cache
def _published(rows: str = "used == 'yes'") -> dict[str, tuple[float, float, float]]:
    """I_max, C and D by constituent id."""
    used = data.table("dose_response").query(rows)
    columns = ["greatest_strength", "half_log10_ug_per_l", "decades"]
    return dict(
        zip(used["constituent"], used[columns].itertuples(index=False, name=None), strict=True)
    )


@cache
def _trends() -> tuple[list[FloatArray], dict[str, float]]:
    """Each constant as a straight line over log10 of the vapour pressure; C by class on top.

    Volatile molecules need a higher concentration: over their pure liquids most molecules smell
    about alike.
    """
    known = _published()
    molecules = [constituent(name) for name in known]
    at = np.log10([each.vapour_pressure_pa for each in molecules])
    constants = np.array(list(known.values()))
    trends = [np.polyfit(at, column, 1) for column in constants.T]
    beyond = constants[:, 1] - np.polyval(trends[1], at)
    classes = np.array([each.chemical_class for each in molecules])
    of_class = {
        str(name): float(beyond[classes == name].sum() / ((classes == name).sum() + _DOUBT))
        for name in np.unique(classes)
    }
    return trends, of_class


def mixture_strength(strengths: Sequence[float]) -> float:
    """Perceived strength of a mixture from those of its components alone.

    Parameters
    ----------
    strengths : sequence of float
        Each 0 or more, all on one scale. [-]

    Returns
    -------
    float
        On that scale: the strength of the strongest component.

    Raises
    ------
    BadNumber
        No strength, or one that is below 0 or not finite.

    Notes
    -----
    Held against pairs of single odorants of like strength, rated from 0 to 10; not against
    components that cannot be told apart, nor against mixtures of many.

    Examples
    --------
    >>> mixture_strength([5.5, 6.4])
    6.4
    """
    try:
        numbers = [float(each) for each in strengths]
    except (TypeError, ValueError):
        numbers = []
    if not numbers or not all(0 <= each < math.inf for each in numbers):
        needed = "strengths, each 0 or more and finite"
        raise BadNumber([Problem("strengths", quoted(strengths), needed)])
    return max(numbers)
