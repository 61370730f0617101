"""The rows of the chart of the fade."""

import itertools
from collections.abc import Iterator
from typing import Any

import numpy as np

from blendkit.evaporation.fade_words import in_front, not_described, span_of, unknown_holds
from blendkit.evaporation.forecast import LAST_HOUR, Forecast, Lasting
from blendkit.evaporation.wear import Film, rows_of
from blendkit.foundation.schema import NOTES

_NO_ANALYSIS = "not known: no analysis"
_UNKNOWN_HOLD = "not known in this carrier"
SHORTEST_HOURS = 0.05  # where the axis of `lasting_chart` begins
NOW, HELD = "now", "held for comparison"
_NAME_HEIGHT = 0.1  # of a strength: a line of words in the smaller chart of a fade
_FEW = ("note", "series", "clock", "strength", "low", "high")
_WORDS_HEIGHT = 0.14  # the same in `day_chart`
STRIP = (1.68, 1.92)  # where the strip of the leading note lies, above the curves
_DAY_VALUES = (
    "hours", "strength", "lowest", "low", "high", "highest", "front_foot", "front_head",
)  # fmt: skip


def fade_rows(found: Forecast, put_on_at: float, series: str = NOW) -> Iterator[dict[str, Any]]:
    """Rows for `fade_chart`: the notes of one forecast, from the hour it was put on.

    A curve is 0 from where its note is no longer perceived. `named_at` is the height of a
    note's name behind the last of its rows. A note with oils of which nothing is on record
    alone has no curve: only its last row, for the name.
    """
    hidden = _without_curve(found.film)
    perceived = np.where(found.levels >= found.gone, found.strength, 0.0)
    strengths = np.round([perceived, *found.band()], 4)[:, found.rows("note")]
    drawn = np.concatenate([strengths, _strip(in_front(found))])
    hours: list[float] = np.asarray(found.hours, dtype=float).tolist()
    notes = found.groups[found.rows("note")]
    names_at = _apart(strengths[0, :, -1].tolist())
    for note, name_at, of_note in zip(
        notes, names_at, drawn.swapaxes(0, 1).tolist(), strict=True
    ):
        for place, values in enumerate(zip(hours, *of_note, strict=True)):
            if note in hidden and place < len(hours) - 1:
                continue
            yield {
                "note": note,
                "series": series,
                "clock": put_on_at + values[0],
                "last": place == len(hours) - 1,
                "named_at": name_at,
            } | dict(zip(_DAY_VALUES, values, strict=True))


def day_rows(
    found: Forecast, put_on_at: float, lasting: Lasting | None = None
) -> Iterator[dict[str, Any]]:
    """Rows for `day_chart`; those of a forecast that is held for comparison have no lasting."""
    series = HELD if lasting is None else NOW
    unknown = unknown_holds(found.film)
    rows = list(fade_rows(found, put_on_at, series))
    last = [row for row in rows if row["last"]]
    heights = _apart([row["strength"] for row in last], _WORDS_HEIGHT)
    named_at = dict(zip((row["note"] for row in last), heights, strict=True))
    for row in rows:
        shown = {key: row[key] for key in _FEW}
        if row["last"] and lasting is not None:
            note = row["note"]
            oils = {found.film.oils[place] for place in rows_of(found.film, note)}
            gone = span_of(lasting, note).by_clock(put_on_at)
            words = _UNKNOWN_HOLD if oils & set(unknown) else gone
            words = _NO_ANALYSIS if note in _without_curve(found.film) else words
            shown |= {"words": f"{note} {words}", "named_at": named_at[note]}
        yield shown


def lasting_rows(lasting: Lasting) -> list[dict[str, Any]]:
    """Rows for `lasting_chart`: the oils inside their notes, top note first."""
    low, high = lasting.ends()
    first = lasting.kinds.index("oil")
    film = lasting.film
    unknown = unknown_holds(film)
    of_oil = zip(itertools.count(first), film.oil_names, film.notes, strict=False)
    rows: list[dict[str, Any]] = []
    for place, name, note in sorted(of_oil, key=lambda each: NOTES.index(each[2])):
        ends: list[float | None] = [
            float(np.clip(each[place], SHORTEST_HOURS, LAST_HOUR))
            for each in (low, lasting.hours, high)
        ]
        words = str(span_of(lasting, lasting.groups[place]))
        if lasting.groups[place] in unknown:
            ends, words = [SHORTEST_HOURS, None, LAST_HOUR], _UNKNOWN_HOLD
        if lasting.groups[place] in not_described(film):
            ends, words = [SHORTEST_HOURS, None, LAST_HOUR], _NO_ANALYSIS
        own = {"rank": len(rows), "label": name, "note": note, "words": words}
        rows.append(own | dict(zip(("low", "likely", "high"), ends, strict=True)))
    return rows


def _without_curve(film: Film) -> set[str]:
    """Notes all of whose oils are described by nothing on record."""
    blank = not_described(film)
    notes = zip(film.oils, film.notes, strict=True)
    return set(film.notes) - {note for oil, note in notes if oil not in blank}


def _apart(heights: list[float], height: float = _NAME_HEIGHT) -> list[float]:
    """Heights for names: at their curves, or far enough above the name below."""
    placed = list(heights)
    upwards = sorted(range(len(heights)), key=heights.__getitem__)
    for lower, upper in itertools.pairwise(upwards):
        placed[upper] = max(placed[upper], placed[lower] + height)
    return placed


def _strip(shares: np.ndarray) -> np.ndarray:
    """Foot and head of each note's part of the strip, the base at the bottom."""
    foot, head = STRIP
    ends = foot + (head - foot) * np.cumsum(shares[::-1], axis=0)[::-1]
    below = np.concatenate([ends[1:], np.full_like(ends[:1], foot)])
    return np.round([below, ends], 4)
