"""Learning from a maker's nose: what was smelt and when sets the clock of later forecasts.

Air, load, warmth and clothing act almost as one factor on time. A few smells written down
("the top has gone, 25 minutes") settle that factor for one maker far better than any table. The
fit is Bayesian, on a grid: what was expected before, times how well each factor explains every
smell, averaged over draws of what the nose cannot settle (vapour pressures, activities, curves
of smell). It is read relative to what the plain forecast's own times would teach: a maker who
agrees with the forecast leaves the clock as it is.

With enough smells, light, medium and heavy molecules get a factor each on top.
"""

import math
from collections.abc import Iterable, Sequence

import numpy as np

from blendkit.evaporation import uncertainty
from blendkit.evaporation.forecast import Forecast, forecast
from blendkit.evaporation.home_weighings import GRID, Weighing, clock_before_smells, fitted
from blendkit.evaporation.nose_entries import NoseLog, Smell
from blendkit.evaporation.perception import WHOLE
from blendkit.evaporation.uncertainty import Clock
from blendkit.evaporation.wear import film_of, rows_of
from blendkit.foundation.units import FloatArray, counted, show
from blendkit.materials.amounts import add_up

PRIOR_SPREAD = math.exp(clock_before_smells([]).spread)  # of air, load and warmth
CLASS_SPREAD = 1.5  # of one volatility class against the others, before any smell (judgement)
ENOUGH_FOR_CLASSES = 4  # smells of one class, among smells of at least two classes
_FIT_DRAWS = 128
_WEAK = 0.35  # of its own start (judgement); gone is what the forecast calls gone
_LEVEL_ERROR = 1.6  # noses differ by this factor about such a level (judgement)
_RATING_ERROR = 1.5  # of ten
_CALL_ERROR = 1.25  # two notes are called right only when apart by about this factor
_DAY_SPREAD = 1.25  # no two wearings are alike (judgement)

_Known = Sequence[tuple[Forecast, Sequence[Smell]]]


def learn(logs: Iterable[NoseLog], weighings: Sequence[Weighing] = ()) -> Clock | None:
    """The clock that a maker's logs and weighings teach.

    Parameters
    ----------
    logs : iterable of NoseLog
    weighings : sequence of Weighing, optional
        From `home_weighings.read_weighing`; of skin alone.

    Returns
    -------
    Clock or None
        To hand to `evaporation.forecast.forecast`; None where there is nothing to learn from.

    Notes
    -----
    The factor starts from 1, a factor of 2.2 up or down. The spread that comes back holds what
    stays uncertain about the clock, and that no two wearings are alike; a vapour pressure that
    the nose cannot settle stays in the band.
    """
    known = [(_plain_forecast(log), log.smells) for log in logs if log.smells]
    count = sum(len(smells) for _, smells in known)
    before = clock_before_smells(weighings)
    weighed = len(weighings)
    if count == 0:
        usual = Clock(math.exp(before.mean), math.exp(before.spread), weighings=weighed)
        return usual if weighed else None
    agreeing = [(found, _own_smells(found, smells)) for found, smells in known]
    mean, spread = _fitted(known, *before)
    own_mean, own_spread = _fitted(agreeing, 0.0, before.spread)
    of_class = _by_class(known, agreeing, (mean, spread), (own_mean, own_spread))
    next_time = math.hypot(spread, math.log(_DAY_SPREAD))
    return Clock(math.exp(mean - own_mean), math.exp(next_time), of_class, count, weighed)


def _plain_forecast(log: NoseLog) -> Forecast:
    """A forecast in which only what belongs to molecules is uncertain."""
    film = film_of(log.blend.bottle, log.conditions)
    latest = max((smell.minutes for smell in log.smells), default=60.0) / 60
    hours = np.geomspace(0.01, latest * 40, 90)  # wide enough for clocks 30 times faster
    return forecast(film, hours, _FIT_DRAWS, uncertainty=uncertainty.MOLECULES_ALONE)


def _own_smells(found: Forecast, smells: Sequence[Smell]) -> list[Smell]:
    """The same smells when the plain forecast has them; without those it never has."""
    own = []
    for smell in smells:
        if smell.what == "strongest":
            continue
        levels = found.levels[found.place(smell.group)]
        above = levels >= _level_of(found, smell)
        if above.any() and not above[-1]:
            last = len(above) - 1 - int(above[::-1].argmax())
            part = np.log(levels[last] / _level_of(found, smell))
            part /= max(np.log(levels[last] / max(levels[last + 1], 1e-30)), 1e-12)
            start, end = found.hours[last : last + 2]
            own.append(Smell(smell.group, 60 * float(start + part * (end - start)), smell.what))
    return [smell for smell in own if smell.minutes > 0]


def _level_of(found: Forecast, smell: Smell) -> float:
    """Strength that a smell speaks of, on the scale of a forecast."""
    if smell.what == "gone":
        return found.gone
    start = float(found.levels[found.place(smell.group), 0])
    return start * (_WEAK if smell.what == "weak" else max(float(smell.what) / 10, 0.01))


def _fitted(known: _Known, centre: float, width: float) -> tuple[float, float]:
    """Mean and spread of the logarithm of the clock that explains some smells."""
    belief = -0.5 * ((GRID - centre) / width) ** 2
    for found, smells in known:
        belief = belief + _explains(found, smells)
    return fitted(np.exp(belief - belief.max()))


def _explains(found: Forecast, smells: Sequence[Smell]) -> FloatArray:
    """Logarithm of how well each clock on the grid explains the smells of one wearing."""
    of_draws = np.zeros((len(GRID), found.log_draws.shape[2]))
    for smell in smells:
        at = np.log(smell.minutes / 60) - GRID
        if smell.what == "strongest":
            of_draws += _call_log(found, smell.group, at)
        else:
            logs = _log_strength_at(found, found.place(smell.group), at)
            of_draws += _level_log(found, smell, logs)
    top = of_draws.max(axis=1)
    return np.asarray(top + np.log(np.mean(np.exp(of_draws - top[:, None]), axis=1)))


def _log_strength_at(found: Forecast, place: int, log_hours: FloatArray) -> FloatArray:
    """Logarithm of a group's strength, (grid, draws); held at the ends of the forecast."""
    logs = found.log_draws[place]
    known = np.log(found.hours[1:])
    right = np.clip(np.searchsorted(known, log_hours), 1, len(known) - 1)
    part = (log_hours - known[right - 1]) / (known[right] - known[right - 1])
    part = np.clip(part, 0, 1)[:, None]
    # row 0 of the logs is hour 0, so place `right` of `known` is row right + 1
    return np.asarray(logs[right] * (1 - part) + logs[right + 1] * part)


def _level_log(found: Forecast, smell: Smell, logs: FloatArray) -> FloatArray:
    start = found.log_draws[found.place(smell.group), 0]
    if smell.what == "gone":
        away = (logs - math.log(found.gone)) / math.log(_LEVEL_ERROR)
    elif smell.what == "weak":
        away = (logs - start - math.log(_WEAK)) / math.log(_LEVEL_ERROR)
    else:
        strength = 10 * np.exp(np.minimum(logs - start, 0.3))
        away = (strength - float(smell.what)) / _RATING_ERROR
    # tails as heavy as a Student's t with 4 degrees: one odd smell must not rule
    return np.asarray(-2.5 * np.log1p(away**2 / 4))


def _call_log(found: Forecast, note: str, at: FloatArray) -> FloatArray:
    from scipy.special import log_ndtr

    rows = range(*found.rows("note").indices(len(found.groups)))
    logs = {row: _log_strength_at(found, row, at) for row in rows}
    mine = logs.pop(found.place(note))
    if not logs:
        return np.zeros_like(mine)
    others = np.max(list(logs.values()), axis=0)
    return np.asarray(log_ndtr((mine - others) / math.log(_CALL_ERROR)))


def _by_class(
    known: _Known, agreeing: _Known, common: tuple[float, float], own: tuple[float, float]
) -> dict[str, tuple[float, float]]:
    """A factor for each volatility class with enough smells, on top of the common clock.

    `common` is mean and spread of what all smells teach, `own` the same where they agree.
    """
    by_class = {name: _smells_of(name, known) for name in uncertainty.VOLATILITY_CLASSES}
    if sum(bool(logs) for logs in by_class.values()) < 2:
        return {}
    made = {}
    for name, logs in by_class.items():
        if sum(len(smells) for _, smells in logs) >= ENOUGH_FOR_CLASSES:
            mean, left = _fitted(logs, common[0], math.hypot(math.log(CLASS_SPREAD), common[1]))
            alike = _smells_of(name, agreeing)
            at, _ = _fitted(alike, own[0], math.hypot(math.log(CLASS_SPREAD), own[1]))
            beyond = math.sqrt(max(left**2 - common[1] ** 2, 0.0))
            made[name] = math.exp(mean - common[0] - (at - own[0])), math.exp(beyond)
    return made


def _smells_of(name: str, known: _Known) -> _Known:
    """The smells of one volatility class; those of the whole or of a lead belong to none."""
    picked = []
    for found, smells in known:
        of_some = [s for s in smells if s.group != WHOLE and s.what != "strongest"]
        few = [smell for smell in of_some if _class_of(found, smell.group) == name]
        picked += [(found, few)] if few else []
    return picked


def _class_of(found: Forecast, group: str) -> str:
    """The volatility class that most of a group's vapour belongs to at the start."""
    film = found.film
    vapour = film.share_of_oil[rows_of(film, group)].sum(axis=0) * film.moles
    vapour = vapour * film.activity * film.vapour_pressures_pa
    names = [uncertainty.volatility_class(each.vapour_pressure_pa) for each in film.molecules]
    totals = add_up(zip(names, vapour.tolist(), strict=True))
    return max(totals, key=totals.__getitem__)


def sentences(clock: Clock | None) -> list[str]:
    """Lesson of a log, in sentences."""
    if clock is None:
        return ["Nothing was logged or weighed yet, so the clock is the plain one."]
    low, high = clock.factor / clock.spread, clock.factor * clock.spread
    size, way = _times(clock.factor, "longer", "shorter")
    counts = ((clock.events, "smell"), (clock.weighings, "weighing"))
    sources = " and ".join(counted(count, each) for count, each in counts if count)
    lines = [
        f"On you, blends last about {size} times {way} than the plain forecast says; "
        f"with two chances in three between {show(low, 2)} and {show(high, 2)} times as long, "
        f"from {sources}."
    ]
    for name, (factor, _) in clock.of_class.items():
        size, way = _times(factor, "slower", "faster")
        lines.append(f"{name.capitalize()} molecules go {size} times {way} on top.")
    return lines


def _times(factor: float, more: str, less: str) -> tuple[str, str]:
    return (show(factor, 2), more) if factor >= 1 else (show(1 / factor, 2), less)
