"""A fade in words: the times a maker asks for, each as a range, never as one bold number.

Everything is read off a `Forecast` and a `Lasting` of `forecast`. A range holds two in three
of the draws. Beyond eight hours only words are left: the figures do not carry so far.
"""

import itertools
import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from blendkit.evaporation.forecast import LAST_HOUR, Forecast, Lasting
from blendkit.evaporation.perception import SMELL, WHOLE
from blendkit.evaporation.wear import Film, rows_of
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import FloatArray, counted, show

LEAD = 1.25  # of rated pairs, a component a quarter stronger is nearly always the stronger one
LIKELY = 2 / 3
POORLY_COVERED = 0.5  # of an oil's scented mass
LAST_HOUR_IN_FIGURES = 8.0
_EVENING_UNTIL = 14.0
_NEXT_DAY_UNTIL = 36.0
_UNKNOWN_HOLD = 8.0  # activity this many times off either way: no time can be given
_NOTHING_KNOWN = 0.999  # share of an oil that no analysis describes
ASKED_FOR = {0: "at first", 1: "after 1 hour", 4: "after 4 hours", 8: "after 8 hours"}


class Span(NamedTuple):
    """A time with its range. [h]

    Attributes
    ----------
    likely, low, high : float
        Of the plain film, and the ends that hold two in three of its draws; infinite where
        later than was looked, 0 where never perceived.
    """

    likely: float
    low: float
    high: float

    def __str__(self) -> str:
        if self.high == 0:
            return "from the start"
        low, high = hour_words(self.low), hour_words(self.high)
        if self.low > LAST_HOUR_IN_FIGURES:
            return f"not before {_late_words(self.low)}"
        if low == high:
            return f"after {low}"
        if self.high > LAST_HOUR_IN_FIGURES:
            return f"after {low} at the earliest, perhaps not until {_late_words(self.high)}"
        return f"after {low} to {high}"

    def by_clock(self, put_on_at: float) -> str:
        """As time of day, such as "gone 10:00–14:00"; `put_on_at` in hours after midnight."""
        if self.high == 0:
            return "too faint to perceive"
        if self.low > LAST_HOUR_IN_FIGURES:
            return f"until {_late_words(self.low)}"
        low, high = (
            clock_words(put_on_at + hours, 5 if hours < 1 else 15)
            for hours in (self.low, self.high)
        )
        if self.high > LAST_HOUR_IN_FIGURES:
            return f"gone from {low}"
        return f"gone {low}" if low == high else f"gone {low}–{high}"


class OddOil(NamedTuple):
    """An oil that fades unlike the note it was given.

    Attributes
    ----------
    oil, name, given, like : str
        Its id and name, its note in the blend, and the note it behaves like.
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
        return f"{self.name} is listed as {self.given} but {way} with the {self.like}."


def span_of(lasting: Lasting, group: str) -> Span:
    """Time at which a note, an oil or the whole is gone: no longer perceived, for good."""
    place = lasting.groups.index(group)
    low, high = lasting.ends()[:, place]
    return Span(float(lasting.hours[place]), float(low), float(high))


def in_front(found: Forecast) -> FloatArray:
    """Chance of each note to be the strongest at each hour, shape (notes, m). [-]

    In each draw, notes within a quarter of the strongest share the place. By vapour alone notes
    cannot be compared, and share it always.
    """
    logs = found.log_draws[found.rows("note")]
    return front_chances(logs if found.way == SMELL else np.zeros_like(logs))


def front_chances(logs: npt.NDArray[np.floating]) -> FloatArray:
    """As `in_front`, of what has these logarithms of strength, shape (what, m, draws)."""
    near = (logs >= logs.max(axis=0) - math.log(LEAD)).astype(logs.dtype)
    return np.asarray((near / near.sum(axis=0)).mean(axis=-1), dtype=np.float64)


def leads(found: Forecast) -> FloatArray:
    """Chance of each note to lead all others by a quarter, shape (notes, m). [-]"""
    logs = found.log_draws[found.rows("note")]
    if found.way != SMELL or len(logs) < 2:
        return np.zeros(logs.shape[:2])
    second = np.sort(logs, axis=0)[-2]
    return np.asarray((logs >= second + math.log(LEAD)).mean(axis=-1), dtype=np.float64)


def odd_oils(lasting: Lasting) -> list[OddOil]:
    """Oils that last unlike the note they were given, in at least two of three draws.

    An oil behaves like the note whose median oil goes at the time nearest to its own: an
    earlier note, where it goes before the other oils of its own, or a later one, where after.
    """
    film = lasting.film
    first = lasting.kinds.index("oil")
    times = np.clip(lasting.draws[first : first + len(film.oils)], 1e-3, 2 * LAST_HOUR)
    odd = []
    for row, given in enumerate(film.notes):
        likes = _likes(film, times, row)
        like = max(likes, key=lambda note: likes[note])
        if like != given and likes[like] >= LIKELY:
            odd.append(OddOil(film.oils[row], film.oil_names[row], given, like, likes[like]))
    return odd


def _likes(film: Film, times: FloatArray, row: int) -> dict[str, float]:
    """Share of the draws in which one oil behaves like each note."""
    mine, given = times[row], NOTES.index(film.notes[row])
    medians = np.full((len(NOTES), mine.size), np.nan)  # of the others of each note
    for place, note in enumerate(NOTES):
        others = [other for other in rows_of(film, note) if other != row]
        if others:
            medians[place] = np.median(times[others], axis=0)
    away = np.nan_to_num(abs(np.log(mine / medians)), nan=np.inf)
    away[given] -= 1e-9  # where nothing tells, it behaves like its own note
    than = np.where(np.isnan(medians[given]), medians, medians[given])
    places = np.arange(len(NOTES))[:, None]
    fits = np.where(places < given, mine < than, mine > than) | (places == given)
    chances = (fits & (away.argmin(axis=0) == places)).mean(axis=1)
    return dict(zip(NOTES, chances.tolist(), strict=True))


def sentences(found: Forecast, lasting: Lasting) -> list[str]:
    """Forecast in sentences, with its limits."""
    film = lasting.film
    held, blank = unknown_holds(film), not_described(film)
    unknown = tuple(dict.fromkeys((*held, *blank)))
    lines = [whole_line(lasting)]
    for note in found.groups[found.rows("note")]:
        mine = [film.oils[row] for row in rows_of(film, note)]
        line = _gone_line(lasting, f"The {note}", note, mine, unknown)
        last = _last_of(lasting, mine)
        more = f" Its last oil is {_named(film, last)}." if last and len(mine) > 1 else ""
        lines.append(line + more)
    lines += _front_lines(found)
    lines += [str(each) for each in odd_oils(lasting) if each.oil not in unknown]
    if held:
        lines.append(
            f"How long {_named(film, held)} lasts in this carrier is not known: estimates "
            "of how firmly it is held differ many times over."
        )
    return lines + _limits(found)


def whole_line(lasting: Lasting, what: str = "The whole") -> str:
    """How long the whole lasts, in a sentence."""
    unknown = (*unknown_holds(lasting.film), *not_described(lasting.film))
    return _gone_line(lasting, what, WHOLE, lasting.film.oils, unknown)


def _gone_line(
    lasting: Lasting, what: str, group: str, oils: Sequence[str], unknown: Sequence[str]
) -> str:
    """Time of a note or the whole, unless an oil of unknown hold may be its last."""
    if set(_last_of(lasting, oils, 1 - LIKELY)) & set(unknown):
        return f"How long {what.lower()} lasts is not known."
    gone = span_of(lasting, group)
    if gone.low > LAST_HOUR_IN_FIGURES:
        return f"{what} lasts until {_late_words(gone.low)}."
    if gone.high == 0:
        return f"{what} is too faint to perceive there."
    return f"{what} is gone {gone}."


def _last_of(lasting: Lasting, oils: Sequence[str], chance: float = LIKELY) -> list[str]:
    """Oils perceived last, each in at least such a share of the draws."""
    of_draws = lasting.draws[[lasting.groups.index(oil) for oil in oils]].argmax(axis=0)
    shares = np.bincount(of_draws, minlength=len(oils)) / of_draws.size
    return list(itertools.compress(oils, shares >= chance))


def _front_lines(found: Forecast) -> list[str]:
    """Leading note at the hours a maker asks for, where one leads."""
    chances, notes = leads(found), found.groups[found.rows("note")]
    if len(notes) < 2 or found.way != SMELL:
        return []
    said = []
    for hour, words in ASKED_FOR.items():
        at = chances[:, int(np.abs(found.hours - hour).argmin())]
        best = int(at.argmax())
        said.append(f"the {notes[best]} {words}" if at[best] >= LIKELY else f"none {words}")
    if all(each.startswith("none") for each in said):
        return ["No note leads clearly at any hour."]
    return [f"Leading by a quarter or more: {', '.join(said)}."]


def unknown_holds(film: Film) -> tuple[str, ...]:
    """Oils most of whose scent is held by the carrier nobody knows how firmly."""
    masses = film.scented_masses
    unsure = masses @ (film.activity_spread >= _UNKNOWN_HOLD) > masses.sum(axis=1) / 2
    return tuple(itertools.compress(film.oils, unsure))


def not_described(film: Film) -> tuple[str, ...]:
    """Oils of which nothing is on record; they wear like the mean of their note."""
    return tuple(oil for oil in film.oils if film.undescribed.get(oil, 0.0) > _NOTHING_KNOWN)


def _named(film: Film, oils: Iterable[str]) -> str:
    return ", ".join(film.oil_names[film.oils.index(oil)] for oil in oils)


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
        return counted(max(1, round(minutes)), "minute")
    if minutes < 57.5:
        return f"{5 * round(minutes / 5)} minutes"
    halves = round(hours * 2)
    if hours > 3 or halves % 2 == 0:
        return counted(round(hours), "hour")
    return f"{halves // 2}½ hours"


def _late_words(hours: float) -> str:
    if hours <= _EVENING_UNTIL:
        return "the evening"
    return "the next day" if hours <= _NEXT_DAY_UNTIL else "the day after or longer"


def clock_words(hour: float, step_minutes: int = 1) -> str:
    """An hour of the day as a clock shows it, rounded to so many minutes."""
    minutes = step_minutes * round(hour * 60 / step_minutes)
    return f"{minutes // 60 % 24}:{minutes % 60:02d}"


def _limits(found: Forecast) -> list[str]:
    film, blank = found.film, not_described(found.film)
    where = {"wrist": "with the nose on the wrist", "room": "across a room"}
    nose = where.get(film.conditions.nose, "at arm's length")
    lines = [
        f"Smelt {nose}. Strength is relative to each note's own start; how strong it is, or "
        "how far it carries, cannot be told. Ranges hold with two chances in three.",
    ]
    if found.way == SMELL:
        lines.append(
            "Strength follows published curves of single smells; that strong smells hide faint "
            "ones is left out. A nose gets used to what it wears: after two weeks of a smell, "
            "most people were less sensitive to it for up to two weeks more (Dalton and "
            "Wysocki, Perception & Psychophysics 58, 1996, abstract). Ask somebody else."
        )
        poor = [
            f"{_named(film, [oil])} ({show(share * 100, 2)} %)"
            for oil, share in zip(film.oils, film.covered(), strict=True)
            if share < POORLY_COVERED and oil not in blank
        ]
        if poor:
            lines.append(
                f"Curves cover little of {', '.join(poor)}, by mass: the rest is estimated "
                "from like molecules. The line by vapour does without curves."
            )
    else:
        lines.append(
            "By vapour: every molecule counts alike, and notes cannot be compared with each "
            "other. Gone is a fifth of an oil's own start."
        )
    for oil, share in film.undescribed.items():
        if share > 0.2 and oil in film.oils:
            mean = "and is taken to wear like a mean constituent"
            taken = "so no line is drawn for it" if oil in blank else mean
            lines.append(
                f"{show(share * 100, 2)} % of {_named(film, [oil])} is not described by any "
                f"analysis on record, {taken}."
            )
    return lines
