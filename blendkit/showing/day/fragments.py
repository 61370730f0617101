"""The leading note through the day, and how long notes last, as HTML."""

from collections.abc import Mapping

import numpy as np

from blendkit.evaporation.fade_words import ASKED_FOR, clock_words, in_front, span_of
from blendkit.evaporation.forecast import Forecast, Lasting
from blendkit.showing.kit.rendering import table


def front_list(found: Forecast, put_on_at: float, by: str = "") -> str:
    """The leading note at some hours, in chances out of ten; `by` says by whose loudness."""
    notes = found.groups[found.rows("note")]
    chances = np.rint(in_front(found) * 10).astype(int).T
    rows = []
    for hour, words in ASKED_FOR.items():
        place = int(np.abs(found.hours - hour).argmin())
        clock = clock_words(put_on_at + hour)
        rows.append((clock, words, *(c or "–" for c in chances[place])))
    caption = f"Leading note{by and f', {by}'}: chances in ten"
    return table(caption, ("clock", "when", *notes), rows)


def comparison_table(what: str, by_name: Mapping[str, Lasting], basis: str = "") -> str:
    """Table of the time at which each note is gone, side by side; and what it rests on."""
    first = next(iter(by_name.values()))
    notes = [
        name for name, kind in zip(first.groups, first.kinds, strict=True) if kind == "note"
    ]
    rows = [
        (text, *(str(span_of(lasting, note)) for note in notes))
        for text, lasting in by_name.items()
    ]
    caption = f"Gone, by {what}" + (f" ({basis})" if basis else "")
    return table(caption, (what, *notes), rows)
