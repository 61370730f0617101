"""A fade in words: the times a maker asks for, each as a range, never as one bold number.

Everything is read off a `evaporation.fade.Forecast`. A range holds two in three of its draws; a
time later than the forecast reaches is infinite. Beyond eight hours only words are left: the
figures do not carry so far.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from blendkit.evaporation.forecast import WHOLE, Forecast
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import show

FloatArray = npt.NDArray[np.float64]

GONE = 0.2  # of its own start: hardly noticed any more (judgement)
REAPPLY = 0.2
TOO_CLOSE = 2.0  # thresholds scatter ten- to hundredfold, which is about this in strength
LIKELY = 2 / 3
LAST_HOUR_IN_FIGURES = 8.0
_EVENING_UNTIL = 14.0
_TWO_IN_THREE = (1 / 6, 5 / 6)


class Span(NamedTuple):
    """A time with its range. [h]

    Attributes
    ----------
    likely, low, high : float
        Of the plain forecast, and the ends that hold two in three of its draws; infinite where
        later than the forecast reaches. NaN where it never comes to that.
    """

    likely: float
    low: float
    high: float

    def __str__(self) -> str:
        if math.isnan(self.likely):
            return "not at all"
        low, high = hour_words(self.low), hour_words(self.high)
        if self.low > LAST_HOUR_IN_FIGURES:
            return f"not before {_late_words(self.low)}"
        if low == high:
            return f"after {low}"
        if self.high > LAST_HOUR_IN_FIGURES:
            return f"after {low} at the earliest, perhaps not until {_late_words(self.high)}"
        return f"after {low} to {high}"


class OddOil(NamedTuple):
    """An oil that fades unlike the note it was given.

    Attributes
    ----------
    oil, name, given, like : str
        Its id and name, its note in the blend, and the note it keeps company with.
    chance : float
        Share of the draws in which it does. [-]
    """

    oil: str
    name: str
    given: str
    like: str
    chance: float

    def __str__(self) -> str:
        way = "leaves" if NOTES.index(self.like) < NOTES.index(self.given) else "stays"
        return f"{self.name} is given as {self.given} and {way} with the {self.like}."


def when_below(found: Forecast, group: str, share: float = GONE) -> Span:
    """When a group has sunk below a share of its own start, for good.

    Parameters
    ----------
    found : Forecast
    group : str
        Note, oil id or "whole".
    share : float, optional
        Of its strength at the start. [-]
    """
    place = found.place(group)
    plain = _last_above(found.strength[place][:, None], found.hours, share)[0]
    vapour = found.vapour_draws[place]
    return _span(plain, _last_above(vapour / vapour[:1], found.hours, share, found.exponent))


def in_front(found: Forecast) -> FloatArray:
    """How likely each note is the strongest at each hour, shape (notes, m). [-]

    Every molecule counts alike, so nobody can tell notes within a factor of two apart: in each
    draw they share the place.
    """
    vapour = found.vapour_draws[found.rows("note")]
    near = vapour * TOO_CLOSE ** (1 / found.exponent) >= vapour.max(axis=0)
    return np.asarray((near / near.sum(axis=0)).mean(axis=-1))


def odd_oils(found: Forecast) -> list[OddOil]:
    """Oils that fade unlike the note they were given, in at least two of three draws.

    An oil leaves with an earlier note where it is gone before that note's other oils are; it
    stays with a later one where it outlasts them.
    """
    of_oils = found.vapour_draws[found.rows("oil")]
    film = found.film
    odd = []
    for row, given in enumerate(film.notes):
        mine = _gone_draws(found, of_oils[row])
        best: OddOil | None = None
        for like in NOTES:
            others = [k for k, note in enumerate(film.notes) if note == like and k != row]
            if like == given or not others:
                continue
            theirs = _gone_draws(found, of_oils[others].sum(axis=0))
            earlier = NOTES.index(like) < NOTES.index(given)
            chance = float(np.mean(mine <= theirs if earlier else mine >= theirs))
            never = ~np.isfinite(mine) & ~np.isfinite(theirs)
            chance -= float(np.mean(never))  # both outlast the forecast: no telling
            if chance >= LIKELY and (best is None or chance > best.chance):
                best = OddOil(film.oils[row], film.oil_names[row], given, like, chance)
        odd += [best] if best else []
    return odd


def sentences(found: Forecast) -> list[str]:
    """What a forecast says, for people, with its limits."""
    fresh = when_below(found, WHOLE, REAPPLY)
    if fresh.low > LAST_HOUR_IN_FIGURES:
        lines = ["There is no need to put more on before the evening."]
    else:
        share = show(REAPPLY * 100)
        lines = [f"Put more on {fresh}, to keep it above {share} % of its start."]
    for note in found.groups[found.rows("note")]:
        gone = when_below(found, note)
        if gone.low > LAST_HOUR_IN_FIGURES:
            lines.append(f"The {note} lasts until {_late_words(gone.low)}.")
        else:
            lines.append(f"The {note} has gone {gone}.")
    lines += [str(each) for each in odd_oils(found)]
    lines += _limits(found)
    return lines


def hour_words(hours: float) -> str:
    """A time as a person would say it, coarser the longer it is.

    Examples
    --------
    >>> [hour_words(hours) for hours in (0.05, 0.3, 1.6, 5.2, 10, 30)]
    ['3 minutes', '20 minutes', '1½ hours', '5 hours', 'into the evening', 'next day']
    """
    if hours > LAST_HOUR_IN_FIGURES:
        return "into the evening" if hours <= _EVENING_UNTIL else "next day"
    minutes = hours * 60
    if minutes < 10:
        return f"{max(1, round(minutes))} minute{'s' if round(minutes) > 1 else ''}"
    if minutes < 57.5:
        return f"{5 * round(minutes / 5)} minutes"
    halves = round(hours * 2)
    if hours > 3 or halves % 2 == 0:
        whole = round(hours)
        return "1 hour" if whole == 1 else f"{whole} hours"
    return f"{halves // 2}½ hours"


def _late_words(hours: float) -> str:
    return "the evening" if hours <= _EVENING_UNTIL else "the next day"


def _limits(found: Forecast) -> list[str]:
    lines = [
        "Strength is beside each note's own start; how strong it is, or how far it carries, "
        "cannot be told. Ranges hold with two chances in three.",
        "Which note is in front counts every molecule alike, since how faint a smell a nose "
        "still finds is on record for few; notes within a factor of two share the place.",
    ]
    for oil, share in found.film.undescribed.items():
        if share > 0.2 and oil in found.film.oils:
            name = found.film.oil_names[found.film.oils.index(oil)]
            percent = show(share * 100, 2)
            lines.append(
                f"{percent} % of {name} is not described by any analysis on record and is "
                "taken to wear like a mean constituent."
            )
    return lines


def _gone_draws(found: Forecast, vapour: FloatArray) -> FloatArray:
    return _last_above(vapour / vapour[:1], found.hours, GONE, found.exponent)


def _last_above(
    relative: FloatArray, hours: FloatArray, share: float, exponent: float = 1.0
) -> FloatArray:
    """Hour at which each column sinks below a share for good; infinite where it does not."""
    least = share ** (1 / exponent)
    above = relative >= least
    last = len(hours) - 1 - above[::-1].argmax(axis=0)
    ends = np.minimum(last + 1, len(hours) - 1)
    column = np.arange(relative.shape[1])
    tiny = 1e-300
    before = np.log(np.maximum(relative[last, column], tiny))
    after = np.log(np.maximum(relative[ends, column], tiny))
    fall = np.where(before > after, before - after, 1.0)
    part = np.clip((before - math.log(least)) / fall, 0, 1)
    when = hours[last] + part * (hours[ends] - hours[last])
    return np.where(last == len(hours) - 1, np.inf, when)


def _span(likely: float, draws: FloatArray) -> Span:
    """The plain time with the ends of two in three; infinite draws count as very late."""
    late = np.where(np.isfinite(draws), draws, 1e9)
    low, high = (
        float(end) if end < 1e8 else math.inf for end in np.quantile(late, _TWO_IN_THREE)
    )
    return Span(float(likely), min(low, float(likely)), max(high, float(likely)))
