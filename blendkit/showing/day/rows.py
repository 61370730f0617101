"""The rows of the chart of the fade."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Any

import numpy as np

from blendkit.evaporation.fade_words import in_front, span_of, unknown_holds
from blendkit.evaporation.forecast import Forecast
from blendkit.evaporation.lasting import LAST_HOUR, Lasting
from blendkit.foundation.schema import NOTES

SHORTEST_HOURS = 0.05  # where the axis of `lasting_chart` begins
NOW, HELD = "now", "held for comparison"
_NAME_HEIGHT = 0.1  # of a strength: a line of words in the smaller chart of a fade
STRIP = (1.68, 1.92)  # where the strip of the leading note lies, above the curves
_DAY_VALUES = (
    "hours", "strength", "lowest", "low", "high", "highest", "front_foot", "front_head",
)  # fmt: skip


def fade_rows(found: Forecast, put_on_at: float, series: str = NOW) -> Iterator[dict[str, Any]]:
    """Rows for `fade_chart`: the notes of one forecast, from the hour it was put on.

    A curve is 0 from where its note is no longer perceived. `named_at` is the height of a
    note's name behind the last of its rows.
    """
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
            yield {
                "note": note,
                "series": series,
                "clock": put_on_at + values[0],
                "last": place == len(hours) - 1,
                "named_at": name_at,
            } | dict(zip(_DAY_VALUES, values, strict=True))


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
            ends, words = [SHORTEST_HOURS, None, LAST_HOUR], "not known in this carrier"
        own = {"rank": len(rows), "label": name, "note": note, "words": words}
        rows.append(own | dict(zip(("low", "likely", "high"), ends, strict=True)))
    return rows


def _apart(heights: list[float]) -> list[float]:
    """Heights for names: at their curves, or far enough above the name below."""
    placed = list(heights)
    upwards = sorted(range(len(heights)), key=heights.__getitem__)
    for lower, upper in itertools.pairwise(upwards):
        placed[upper] = max(placed[upper], placed[lower] + _NAME_HEIGHT)
    return placed


def _strip(shares: np.ndarray) -> np.ndarray:
    """Foot and head of each note's part of the strip, the base at the bottom."""
    foot, head = STRIP
    ends = foot + (head - foot) * np.cumsum(shares[::-1], axis=0)[::-1]
    below = np.concatenate([ends[1:], np.full_like(ends[:1], foot)])
    return np.round([below, ends], 4)
