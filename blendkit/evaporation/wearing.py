"""The day as it is lived: put on again, washed off, and two roll-ons on one patch.

What happens at an hour changes the amounts on the patch; the film goes on from there, with the
activities it began with. A wash takes carrier and oils alike. Both are judgements: nobody has
published what a wash leaves of an oily film.
"""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from blendkit.evaporation.film import film_amounts
from blendkit.evaporation.forecast import SEED
from blendkit.evaporation.perception import SMELL, curve_strengths, gone_at, grouped, groups_of
from blendkit.evaporation.uncertainty import Clock, Uncertainty, drawn
from blendkit.evaporation.wear import Film
from blendkit.foundation.errors import BadNumber, Problem, quoted, refuse_any
from blendkit.foundation.units import SECONDS_PER_HOUR, FloatArray

_DRAWS = 64
LAST_HOUR = 24.0
_GRID = np.arange(0, LAST_HOUR + 0.125, 0.25)
MOST_AGAIN = 3


class Again(NamedTuple):
    """Put on again at an hour after the first time; so many times the first amount."""

    hour: float
    times: float = 1.0


class Wash(NamedTuple):
    """Washed at an hour; leaves a share of all that is on the patch."""

    hour: float
    left: float = 0.0


Event = Again | Wash


@dataclass(frozen=True, eq=False)
class Day:
    """Strengths of g groups at m hours, as of a forecast; draw 0 is the plain film."""

    groups: tuple[str, ...]
    hours: FloatArray
    levels: FloatArray  # (g, m, 1 + draws)

    def until(self, group: str) -> tuple[float, float, float]:
        """Last hour a group is perceived: plain, and the ends that hold two draws in three."""
        above = self.levels[self.groups.index(group)] >= gone_at(SMELL)
        last = np.where(above, self.hours[:, None], 0.0).max(axis=0)
        low, high = np.quantile(last[1:], (1 / 6, 5 / 6)).tolist()
        likely = float(last[0])
        return likely, min(low, likely), max(high, likely)


def day_of(
    film: Film,
    events: Sequence[Event],
    hours: npt.ArrayLike = _GRID,
    draws: int = _DRAWS,
    *,
    clock: Clock | None = None,
) -> Day:
    """Strengths through a day on which something happens.

    Raises
    ------
    BadNumber
        An hour not above 0 or beyond `LAST_HOUR`; a share of a wash not from 0 to 1.
    """
    problems = []
    for each in events:
        if not 0 < each.hour <= LAST_HOUR:
            needed = f"after the first time, within {LAST_HOUR:g} hours"
            problems.append(Problem("hour", quoted(each.hour), needed))
        share, most = (each.left, 1.0) if isinstance(each, Wash) else (each.times, 10.0)
        if not 0 <= share <= most:
            problems.append(Problem("share", quoted(share), f"from 0 to {most:g}"))
    refuse_any(problems)
    when = np.asarray(hours, dtype=np.float64)
    made = drawn(film, draws, SEED, Uncertainty(), clock)
    levels = [
        curve_strengths(film, _fractions(film, rates, events, when), dose)
        for rates, dose in zip(made.loss_rates, made.dose, strict=True)
    ]
    return Day(groups_of(film)[0], when, grouped(film, np.stack(levels, axis=-1)))


def _fractions(
    film: Film, rates: FloatArray, events: Sequence[Event], hours: FloatArray
) -> FloatArray:
    """Mole fractions at rising hours, shape (m, n); an event counts at its own hour."""
    moles, carrier, begun = film.moles, film.carrier_moles, 0.0
    ordered = sorted(events, key=lambda each: each.hour)
    found = []
    for event, end in itertools.zip_longest((None, *ordered), [e.hour for e in ordered]):
        if isinstance(event, Again):
            moles = moles + event.times * film.moles
            carrier = carrier + event.times * film.carrier_moles
        elif event is not None:
            moles, carrier = moles * event.left, carrier * event.left
        last = math.inf if end is None else end
        here = hours[(hours >= begun) & (hours < last)]
        asked = np.append(here, [] if end is None else [end]) - begun
        left = film_amounts(moles, carrier, rates, asked * SECONDS_PER_HOUR)
        whole = left.sum(axis=1) + carrier
        least = 1e-6 * (film.moles.sum() + film.carrier_moles)
        found.append((left / np.maximum(whole, least)[:, None])[: here.size])
        if end is not None:
            moles, begun = left[-1], end
    return np.concatenate(found)


def schedule(film: Film, group: str, until: float) -> tuple[int, ...] | None:
    """Hours at which to put on again so that a group is perceived up to an hour.

    Tries no further time, then one, and so on up to `MOST_AGAIN`, each at every full hour, so
    that no schedule on full hours does with fewer. Of those that do, the strongest at its
    faintest. Goes by the plain film.

    Returns
    -------
    tuple of int, or None
        None where `MOST_AGAIN` times are not enough.
    """
    if not 0 < until <= LAST_HOUR:
        needed = f"above 0, at most {LAST_HOUR:g} hours"
        raise BadNumber([Problem("until", quoted(until), needed)])
    hours = np.append(np.arange(0, until, 0.25), until)
    row = groups_of(film)[0].index(group)
    for count in range(MOST_AGAIN + 1):
        tried = {}
        for times in itertools.combinations(range(1, math.ceil(until)), count):
            over = _fractions(film, film.loss_rates, [Again(hour) for hour in times], hours)
            tried[times] = grouped(film, curve_strengths(film, over, film.dose))[row].min()
        best = max(tried, key=lambda times: tried[times], default=None)
        if best is not None and tried[best] >= gone_at(SMELL):
            return best
    return None
