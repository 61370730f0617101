"""What is uncertain about a fade, and even draws of it.

Errors that move all molecules alike (air, load, warmth, and the skin's own uptake) are kept
apart from those of each molecule (vapour pressure, by the grade of its figure; activity). The
first kind moves the clock, and a nose log can take it away; the second moves molecules against
each other. Draws are quasi-random (Sobol's points), so a few hundred do.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from blendkit.evaporation.wear import Film
from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.units import GAS_CONSTANT_J_PER_MOL_K, is_whole_number

FloatArray = npt.NDArray[np.float64]

MOST_DRAWS = 8192
# Molecules by vapour pressure at 25 degrees Celsius [Pa]; judgement, for clocks by class
VOLATILITY_CLASSES: Mapping[str, float] = {"light": 30.0, "medium": 1.5, "heavy": 0.0}


@dataclass(frozen=True)
class Uncertainty:
    """How far the inputs may be off: factors up or down, 2 in 3 inside. All are judgements.

    Attributes
    ----------
    air, load, uptake : float
        Of the gas-side coefficient, of what was put on, and of what the skin takes up. [-]
    temperature_k : float
        Of the skin. [K]
    shared : float
        Share of the error in vapour pressures that molecules of one chemical class have in
        common, since the same estimator errs alike on like molecules. [-]
    """

    air: float = 1.6
    load: float = 1.8
    uptake: float = 5.0
    temperature_k: float = 2.0
    shared: float = 0.5


@dataclass(frozen=True)
class Clock:
    """A clock learnt from a nose log, in place of the uncertain air, load and warmth.

    Attributes
    ----------
    factor : float
        Times come out this many times longer than the plain model says. [-]
    spread : float
        The factor may be this many times higher or lower, 2 in 3 inside. [-]
    of_class : mapping of str to (float, float)
        The same two on top, for molecules of one volatility class. [-]
    events : int
        Smells it was learnt from.
    """

    factor: float
    spread: float
    of_class: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    events: int = 0


def drawn(
    film: Film, draws: int, seed: int, uncertainty: Uncertainty, clock: Clock | None
) -> tuple[FloatArray, FloatArray]:
    """Draws of what is uncertain; row 0 is the plain film.

    Returns
    -------
    loss_rates : ndarray, shape (1 + draws, n)
        K. [mol/m2/s]
    vapour : ndarray, shape (1 + draws, n)
        Over a film of nothing else: activity coefficient times vapour pressure. [Pa]

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
    normal = even_normals(draws, 7 + len(classes) + len(film.molecules), seed)
    common, of_class, own = np.split(normal, [7, 7 + len(classes)], axis=1)
    spread = np.hypot(
        np.log([each.uncertainty_factor for each in film.molecules]),
        np.log(film.activity_spread),
    )
    shared = uncertainty.shared
    volatility = np.exp(
        spread * (math.sqrt(1 - shared) * own + math.sqrt(shared) * of_class[:, class_of])
    )
    if clock is not None:
        faster = np.exp(-math.log(clock.spread) * common[:, :1]) / clock.factor
        warmer = np.ones((1 + draws, 1))
    else:
        logs = math.log(uncertainty.air) * common[:, :1]
        faster = np.exp(logs - math.log(uncertainty.load) * common[:, 1:2])
        warmer = _warmer(film, uncertainty.temperature_k * common[:, 2:3])
    skin = np.exp(math.log(uncertainty.uptake) * common[:, 3:4])
    if clock is None:
        # air moves what evaporates and not what the skin takes up; load moves both
        skin = skin * np.exp(-math.log(uncertainty.air) * common[:, :1])
    mean_log, spread_log = class_logs(film, clock)
    slower = np.exp(mean_log + spread_log * _by_volatility(film, common[:, 4:7]))
    leaving = film.evaporation * volatility * warmer + film.uptake * skin
    scale = film.activity / film.conditions.clock_factor
    rates = leaving * scale * faster / slower
    return rates, film.activity * film.vapour_pressures_pa * volatility * warmer


def _warmer(film: Film, away_k: FloatArray) -> FloatArray:
    """What a warmer skin does to each vapour pressure."""
    at = film.conditions.temperature_k
    enthalpies = np.array([each.enthalpy_j_per_mol for each in film.molecules])
    return np.exp(enthalpies / GAS_CONSTANT_J_PER_MOL_K * (1 / at - 1 / (at + away_k)))


def volatility_class(pressure_pa: float) -> str:
    """The class of a molecule by its vapour pressure at 25 degrees Celsius."""
    return next(name for name, least in VOLATILITY_CLASSES.items() if pressure_pa >= least)


def _class_places(film: Film) -> npt.NDArray[np.int64]:
    names = list(VOLATILITY_CLASSES)
    return np.array(
        [names.index(volatility_class(each.vapour_pressure_pa)) for each in film.molecules]
    )


def _by_volatility(film: Film, of_class: FloatArray) -> FloatArray:
    return of_class[:, _class_places(film)]


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
