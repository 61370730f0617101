"""Uncertain inputs of a fade, and even draws of them.

Errors that move all molecules alike (air, load, warmth, the skin's own uptake, and how far
the nose is) are kept apart from those of each molecule (vapour pressure, by the grade of its
figure; activity; the curve of its smell). Air, load and warmth move the clock, and a nose log
can take them away; the others move molecules against each other. Draws are quasi-random
(Sobol's points), so a few hundred do.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from blendkit.evaporation import rates
from blendkit.evaporation.wear import Film
from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.units import FloatArray, is_whole_number

MOST_DRAWS = 8192
_AT_ONCE = 128
# Molecules by vapour pressure at 25 degrees Celsius [Pa]; judgement, for clocks by class
VOLATILITY_CLASSES: Mapping[str, float] = {"light": 30.0, "medium": 1.5, "heavy": 0.0}


@dataclass(frozen=True)
class Uncertainty:
    """Spreads of the inputs: factors up or down, 2 in 3 inside. All are judgements.

    Attributes
    ----------
    air, load, uptake : float
        Of the gas-side coefficient, of what was put on, and of what the skin takes up. [-]
    temperature_k : float
        Of the skin. [K]
    shared : float
        Share of the error in vapour pressures and in curves of smell that molecules of one
        chemical class have in common, since an estimator errs alike on like molecules. [-]
    dilution : float
        Of the vapour on its way to the nose, and of how keen that nose is. [-]
    exponent : float
        Of the power that stands in for curves; published ones run from 0.2 to 0.8. [-]
    curves : bool
        Whether the curves of smell may be off as well.
    """

    air: float = 2.2
    load: float = 1.8
    uptake: float = 5.0
    temperature_k: float = 2.0
    shared: float = 0.5
    dilution: float = 3.0
    exponent: float = 1.39
    curves: bool = True


# Of the molecules alone: what moves all of them alike is left to a clock
MOLECULES_ALONE = Uncertainty(air=1.0, load=1.0, uptake=1.0, temperature_k=0.0, dilution=1.0)


@dataclass(frozen=True)
class Clock:
    """A clock learnt from smells and weighings, in place of uncertain air, load and warmth.

    Attributes
    ----------
    factor : float
        Times come out this many times longer than the plain model says. [-]
    spread : float
        The factor may be this many times higher or lower, 2 in 3 inside. [-]
    of_class : mapping of str to (float, float)
        The same two on top, for molecules of one volatility class. [-]
    events, weighings : int
        Smells and weighings it was learnt from.
    """

    factor: float
    spread: float
    of_class: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    events: int = 0
    weighings: int = 0


class Draws(NamedTuple):
    """Draws of what is uncertain; row 0 is the plain film.

    Attributes
    ----------
    loss_rates : ndarray, shape (1 + draws, n)
        K. [mol/m2/s]
    vapour : ndarray, shape (1 + draws, n)
        Over a film of nothing else: activity coefficient times vapour pressure. [Pa]
    dose : ndarray, shape (1 + draws, n)
        At the nose, over a film of nothing else: concentration over that which half of the
        greatest strength needs. [-]
    exponent : ndarray, shape (1 + draws,)
        Factor on an exponent of strength. [-]
    """

    loss_rates: FloatArray
    vapour: FloatArray
    dose: FloatArray
    exponent: FloatArray


# Draws that all molecules share: air, load, warmth, skin, 3 classes, dilution, power
_COMMON = 9


def drawn(
    film: Film, draws: int, seed: int, uncertainty: Uncertainty, clock: Clock | None
) -> Draws:
    """Draws of what is uncertain about a film.

    Raises
    ------
    BadNumber
        The number of draws cannot be used.
    """
    if not is_whole_number(draws, 2, MOST_DRAWS):
        needed = f"a whole number from 2 to {MOST_DRAWS}"
        raise BadNumber([Problem("draws", quoted(draws), needed)])
    classes = sorted({each.chemical_class for each in film.molecules})
    class_of = np.array([classes.index(each.chemical_class) for each in film.molecules])
    alike, each = len(classes), len(film.molecules)
    asked = _COMMON + 2 * (alike + each)
    # rounded up, so that a film with a few molecules more finds its draws made
    normal = even_normals(draws, math.ceil(asked / _AT_ONCE) * _AT_ONCE, seed)
    ends = np.cumsum([_COMMON, alike, each, alike, each])
    common, of_class, own, of_smells, own_smell, _ = np.split(normal, ends, axis=1)
    shared = math.sqrt(uncertainty.shared)
    alone = math.sqrt(1 - uncertainty.shared)
    volatility = np.exp(film.log_spread * (alone * own + shared * of_class[:, class_of]))
    skin = np.exp(math.log(uncertainty.uptake) * common[:, 3:4])
    if clock is not None:
        faster = np.exp(-math.log(clock.spread) * common[:, :1]) / clock.factor
        warmer = np.ones((1 + draws, 1))
    else:
        # air moves what evaporates and not what the skin takes up; load moves both
        logs = math.log(uncertainty.air) * common[:, :1]
        faster = np.exp(logs - math.log(uncertainty.load) * common[:, 1:2])
        skin = skin * np.exp(-logs)
        at_k = film.conditions.temperature_k
        warmer = rates.warmer(
            film.molecules, at_k, at_k + uncertainty.temperature_k * common[:, 2:3]
        )
    mean_log, spread_log = class_logs(film, clock)
    slower = np.exp(mean_log + spread_log * common[:, 4:7][:, _class_places(film)])
    over_pure = volatility * warmer
    leaving = film.evaporation * over_pure + film.uptake * skin
    scale = film.activity / film.conditions.clock_factor
    nose = math.log(uncertainty.dilution) * common[:, 7:8]
    if uncertainty.curves:
        off = alone * own_smell + shared * of_smells[:, class_of]
        nose = nose + film.curves.log_spread * off
    return Draws(
        leaving * scale * faster / slower,
        film.activity * film.vapour_pressures_pa * over_pure,
        film.dose * over_pure * np.exp(nose),
        np.exp(math.log(uncertainty.exponent) * common[:, 8]),
    )


def volatility_class(pressure_pa: float) -> str:
    """The class of a molecule by its vapour pressure at 25 degrees Celsius."""
    return next(name for name, least in VOLATILITY_CLASSES.items() if pressure_pa >= least)


def _class_places(film: Film) -> list[int]:
    names = list(VOLATILITY_CLASSES)
    pressures = [each.vapour_pressure_pa for each in film.molecules]
    return [names.index(volatility_class(pressure)) for pressure in pressures]


def class_logs(film: Film, clock: Clock | None) -> tuple[FloatArray, FloatArray]:
    """Logarithms of what a clock says of each molecule's class: factor and spread, (n,)."""
    of_class = clock.of_class if clock else {}
    known = [of_class.get(name, (1.0, 1.0)) for name in VOLATILITY_CLASSES]
    mean, spread = np.log(np.array(known)).T
    places = _class_places(film)
    return mean[places], spread[places]


@lru_cache(maxsize=16)
def even_normals(draws: int, dimensions: int, seed: int) -> FloatArray:
    """Standard normal draws that fill the space evenly, under a row of zeros."""
    from scipy.special import ndtri
    from scipy.stats import qmc

    power = math.ceil(math.log2(draws))
    points = qmc.Sobol(dimensions, seed=seed).random_base2(power)[:draws]
    normal = ndtri(np.clip(points, 1e-6, 1 - 1e-6))
    normal = np.concatenate([np.zeros((1, dimensions)), normal])
    normal.setflags(write=False)
    return np.asarray(normal)
