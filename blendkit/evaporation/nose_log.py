"""Learning from a maker's nose: what was smelt and when sets the clock of later forecasts.

Air, load, warmth and clothing act almost as one factor on time. A few smells written down
("the top has gone, 25 minutes") settle that factor for one maker far better than any table. The
fit is Bayesian, on a grid: what was expected before, times how well each factor explains every
smell, averaged over draws of what the nose cannot settle (vapour pressures and activities).

With enough smells, light, medium and heavy molecules get a factor each on top.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from blendkit.blend.blend import Blend
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.forecast import WHOLE, Forecast, forecast
from blendkit.evaporation.uncertainty import (
    VOLATILITY_CLASSES,
    Clock,
    Uncertainty,
    volatility_class,
)
from blendkit.evaporation.wear import Film, film_of
from blendkit.foundation.errors import BadNumber, Problem, near_miss, quoted
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import show

FloatArray = npt.NDArray[np.float64]

SMELLS = ("gone", "weak", "strongest")
# Natural logarithm of the clock before any smell: air a factor of 1.6, load 1.8, warmth 2 K
PRIOR_SPREAD = math.exp(math.sqrt(math.log(1.6) ** 2 + math.log(1.8) ** 2 + 0.14**2))
CLASS_SPREAD = 1.5  # of one volatility class against the others, before any smell (judgement)
ENOUGH_FOR_CLASSES = 4  # smells of one class, among smells of at least two classes
LATEST_MINUTES = 48 * 60.0
_FIT_DRAWS = 128
# How a smell reads as strength beside its start, and how far noses differ (judgement)
_LEVELS: Mapping[str, tuple[float, float]] = {"gone": (0.15, 1.6), "weak": (0.35, 1.5)}
_RATING_ERROR = 1.5  # of ten
_CALL_ERROR = 2.0  # two notes are called right only when apart by about this factor
_DAY_SPREAD = 1.25  # no two wearings are alike (judgement)
_GRID = np.linspace(-math.log(30), math.log(30), 137)

_Known = Sequence[tuple[Forecast, Sequence["Smell"]]]


@dataclass(frozen=True)
class Smell:
    """One entry of a nose log.

    Attributes
    ----------
    group : str
        A note, an oil's id or "whole".
    minutes : float
        Since it was put on.
    what : str or float
        "gone", "weak", "strongest" (a note that leads), or a number from 0 to 10, where 10 is
        as strong as at the start.
    """

    group: str
    minutes: float
    what: str | float


@dataclass(frozen=True)
class NoseLog:
    """What one maker smelt of one blend, and how it was worn.

    Attributes
    ----------
    blend : Blend
    conditions : Conditions
    smells : tuple of Smell
    """

    blend: Blend
    conditions: Conditions
    smells: tuple[Smell, ...]


def read_log(document: Mapping[str, Any]) -> NoseLog:
    """A nose log from its document.

    Parameters
    ----------
    document : mapping
        ``blend`` (a blend document), ``smells`` (a list of mappings with ``group``,
        ``minutes``, ``what``) and, where wished, ``conditions`` (keywords of
        `blendkit.evaporation.conditions.Conditions.read`).

    Raises
    ------
    BadBlend
        The blend document is broken.
    BadNumber
        Lists every other problem.
    """
    needed = "a document with blend and smells"
    if not isinstance(document, Mapping) or not {"blend", "smells"} <= document.keys():
        raise BadNumber([Problem("nose log", quoted(document), needed)])
    blend = Blend.from_dict(document["blend"])
    given, entries = document.get("conditions", {}), document["smells"]
    if not isinstance(given, Mapping) or not isinstance(entries, list | tuple):
        needed = "conditions by their names, and a list of smells"
        raise BadNumber([Problem("nose log", quoted([given, entries]), needed)])
    known = ("skin_temperature", "film", "air_speed", "surface", "clock_factor")
    problems = [
        Problem(f"conditions, {key}", "a key that means nothing here", "a known key",
                near_miss(key, known))
        for key in given if key not in known
    ]  # fmt: skip
    groups = _groups_of(blend)
    smells = []
    for number, entry in enumerate(entries, start=1):
        smell, found = _smell_of(f"smell {number}", entry, groups)
        problems += found
        smells += [smell] if smell else []
    if problems:
        raise BadNumber(problems)
    return NoseLog(blend, Conditions.read(**given), tuple(smells))


def _groups_of(blend: Blend) -> tuple[str, ...]:
    filling = blend.bottle
    oils = [p for p in filling.oils if p.mass_kg > 0]
    return (*dict.fromkeys(p.note for p in oils), *(p.material for p in oils), WHOLE)


def _smell_of(
    where: str, entry: object, groups: Sequence[str]
) -> tuple[Smell | None, list[Problem]]:
    if not isinstance(entry, Mapping):
        example = '{"group": "top", "minutes": 25, "what": "gone"}'
        return None, [Problem(where, quoted(entry), f"an entry such as {example}")]
    problems = []
    group: Any = entry.get("group")
    minutes: Any = entry.get("minutes")
    what: Any = entry.get("what")
    if group not in groups:
        needed = "a note, an oil of this blend, or whole"
        hint = near_miss(group, groups)
        problems.append(Problem(f"{where}, group", quoted(group), needed, hint))
    if not _is_number(minutes) or not 0 < minutes <= LATEST_MINUTES:
        needed = f"minutes since it was put on, above 0 and at most {LATEST_MINUTES:g}"
        problems.append(Problem(f"{where}, minutes", quoted(minutes), needed))
    if not (what in SMELLS or (_is_number(what) and 0 <= what <= 10)):
        needed = f"one of {', '.join(SMELLS)}, or a number from 0 to 10"
        hint = near_miss(what, SMELLS)
        problems.append(Problem(f"{where}, what", quoted(what), needed, hint))
    elif what == "strongest" and group not in NOTES:
        needed = "a note, since notes are what is called the strongest here"
        problems.append(Problem(f"{where}, group", quoted(group), needed))
    if problems:
        return None, problems
    return Smell(str(group), float(minutes), what if what in SMELLS else float(what)), []


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def learn(logs: Iterable[NoseLog]) -> Clock | None:
    """The clock that a maker's logs teach.

    Parameters
    ----------
    logs : iterable of NoseLog

    Returns
    -------
    Clock or None
        To hand to `evaporation.fade.forecast`; None where there is no smell to learn from.

    Notes
    -----
    The factor starts from 1, a factor of 2.2 up or down. The spread that comes back holds what
    stays uncertain about the clock, and that no two wearings are alike; a vapour pressure that
    the nose cannot settle stays in the band.
    """
    known = [(_plain_forecast(log), log.smells) for log in logs if log.smells]
    count = sum(len(smells) for _, smells in known)
    if count == 0:
        return None
    belief = -0.5 * (_GRID / math.log(PRIOR_SPREAD)) ** 2
    for found, smells in known:
        belief = belief + _explains(found, smells)
    mean, spread = _summary(belief)
    of_class = _by_class(known, mean, spread)
    next_time = math.hypot(spread, math.log(_DAY_SPREAD))
    return Clock(math.exp(mean), math.exp(next_time), of_class, count)


def _plain_forecast(log: NoseLog) -> Forecast:
    """A forecast in which only vapour pressures and activities are uncertain."""
    film = film_of(log.blend.bottle, log.conditions)
    latest = max((smell.minutes for smell in log.smells), default=60.0) / 60
    hours = np.geomspace(0.01, latest * 40, 90)  # wide enough for clocks 30 times faster
    settled = Uncertainty(air=1.0, load=1.0, uptake=1.0, temperature_k=0.0)
    return forecast(film, hours, _FIT_DRAWS, uncertainty=settled)


def _explains(found: Forecast, smells: Sequence[Smell]) -> FloatArray:
    """Logarithm of how well each clock on the grid explains the smells of one wearing."""
    of_draws = np.zeros((len(_GRID), found.vapour_draws.shape[2]))
    for smell in smells:
        at = np.log(smell.minutes / 60) - _GRID
        if smell.what == "strongest":
            of_draws += _call_log(found, smell.group, at)
        else:
            relative = _log_vapour_at(found, found.place(smell.group), at, beside_start=True)
            of_draws += _level_log(found.exponent * relative, smell.what)
    top = of_draws.max(axis=1)
    return np.asarray(top + np.log(np.mean(np.exp(of_draws - top[:, None]), axis=1)))


def _log_vapour_at(
    found: Forecast, place: int, log_hours: FloatArray, *, beside_start: bool
) -> FloatArray:
    """Logarithm of a group's vapour, shape (grid, draws); held at the ends of the forecast."""
    logs = np.log(np.maximum(found.vapour_draws[place], 1e-300))
    if beside_start:
        logs = logs - logs[0]
    known = np.log(found.hours[1:])
    right = np.clip(np.searchsorted(known, log_hours), 1, len(known) - 1)
    part = (log_hours - known[right - 1]) / (known[right] - known[right - 1])
    part = np.clip(part, 0, 1)[:, None]
    # row 0 of the logs is hour 0, so place `right` of `known` is row right + 1
    return np.asarray(logs[right] * (1 - part) + logs[right + 1] * part)


def _level_log(log_strength: FloatArray, what: str | float) -> FloatArray:
    if isinstance(what, str):
        level, error = _LEVELS[what]
        away = (log_strength - math.log(level)) / math.log(error)
    else:
        away = (10 * np.exp(np.minimum(log_strength, 0.3)) - what) / _RATING_ERROR
    # tails as heavy as a Student's t with 4 degrees: one odd smell must not rule
    return np.asarray(-2.5 * np.log1p(away**2 / 4))


def _call_log(found: Forecast, note: str, at: FloatArray) -> FloatArray:
    from scipy.special import log_ndtr

    rows = range(*found.rows("note").indices(len(found.groups)))
    logs = {row: _log_vapour_at(found, row, at, beside_start=False) for row in rows}
    mine = logs.pop(found.place(note))
    if not logs:
        return np.zeros_like(mine)
    others = np.max(list(logs.values()), axis=0)
    return np.asarray(log_ndtr(found.exponent * (mine - others) / math.log(_CALL_ERROR)))


def _summary(belief: FloatArray) -> tuple[float, float]:
    weights = np.exp(belief - belief.max())
    weights /= weights.sum()
    mean = float(weights @ _GRID)
    return mean, math.sqrt(max(float(weights @ (_GRID - mean) ** 2), 1e-4))


def _by_class(known: _Known, mean: float, spread: float) -> dict[str, tuple[float, float]]:
    """A factor for each volatility class with enough smells, on top of the common clock."""
    by_class = {name: _smells_of(name, known) for name in VOLATILITY_CLASSES}
    if sum(bool(logs) for logs in by_class.values()) < 2:
        return {}
    made = {}
    for name, logs in by_class.items():
        if sum(len(smells) for _, smells in logs) >= ENOUGH_FOR_CLASSES:
            prior = math.hypot(math.log(CLASS_SPREAD), spread)
            belief = -0.5 * ((_GRID - mean) / prior) ** 2
            own, left = _summary(belief + sum(_explains(*log) for log in logs))
            beyond = math.sqrt(max(left**2 - spread**2, 0.0))
            made[name] = math.exp(own - mean), math.exp(beyond)
    return made


def _smells_of(name: str, known: _Known) -> _Known:
    """The smells of one volatility class; those of the whole or of a lead belong to none."""
    picked = []
    for found, smells in known:
        few = [
            smell
            for smell in smells
            if smell.group != WHOLE
            and smell.what != "strongest"
            and _class_of(found, smell.group) == name
        ]
        picked += [(found, few)] if few else []
    return picked


def _class_of(found: Forecast, group: str) -> str:
    """The volatility class that most of a group's vapour belongs to at the start."""
    film: Film = found.film
    rows = [
        row
        for row, (oil, note) in enumerate(zip(film.oils, film.notes, strict=True))
        if group in (oil, note)
    ]
    vapour = film.share_of_oil[rows].sum(axis=0) * film.moles
    vapour = vapour * film.activity * film.vapour_pressures_pa
    totals: dict[str, float] = {}
    for molecule, amount in zip(film.molecules, vapour, strict=True):
        name = volatility_class(molecule.vapour_pressure_pa)
        totals[name] = totals.get(name, 0.0) + float(amount)
    return max(totals, key=lambda name: totals[name])


def sentences(clock: Clock | None) -> list[str]:
    """What a log taught, for people."""
    if clock is None:
        return ["Nothing was logged yet, so the clock is the plain one."]
    low, high = clock.factor / clock.spread, clock.factor * clock.spread
    way = "longer" if clock.factor >= 1 else "shorter"
    size = clock.factor if clock.factor >= 1 else 1 / clock.factor
    lines = [
        f"On you, blends last about {show(size, 2)} times {way} than the plain forecast says; "
        f"with two chances in three between {show(low, 2)} and {show(high, 2)} times as long, "
        f"from {clock.events} smell{'s' if clock.events > 1 else ''}."
    ]
    for name, (factor, _) in clock.of_class.items():
        word = "slower" if factor >= 1 else "faster"
        size = factor if factor >= 1 else 1 / factor
        lines.append(f"{name.capitalize()} molecules go {show(size, 2)} times {word} on top.")
    return lines
