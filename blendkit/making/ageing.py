"""A bottle that ages: on which days to sniff it, and which of them are due.

The days, and letting a blend stand in the dark for some weeks before it is judged, are common
practice without a published source.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from blendkit.foundation.units import counted

SNIFF_DAYS = (1, 3, 7, 14, 28)  # common practice, no published source
STANDING = (
    "Let it stand closed, cool and dark; turn it gently now and then. What to note: has it "
    "become rounder or flatter, cloudy or clear, did anything settle. Common practice, no "
    "published source."
)


@dataclass(frozen=True)
class Reminder:
    """One day on which to sniff a bottle.

    Attributes
    ----------
    day : int
        Days after it was made.
    due_on : date
    state : str
        "done", "missed" (the next one came without a sniff), "due" or "to come".
    """

    day: int
    due_on: date
    state: str


def reminders(made_on: date, sniffed_on: Iterable[date], today: date) -> list[Reminder]:
    """The sniff days of one bottle.

    Parameters
    ----------
    made_on : date
    sniffed_on : iterable of date
        Days on which an impression was written down.
    today : date

    Returns
    -------
    list of Reminder
        One for each of `SNIFF_DAYS`. A sniff counts for the reminder whose span it falls in:
        from its day up to the day before the next; the last has no end.

    Examples
    --------
    >>> made = date(2026, 3, 1)
    >>> [r.state for r in reminders(made, [date(2026, 3, 2)], date(2026, 3, 9))]
    ['done', 'missed', 'due', 'to come', 'to come']
    """
    smelt = list(sniffed_on)
    found = []
    for day, following in zip(SNIFF_DAYS, [*SNIFF_DAYS[1:], None], strict=True):
        first = made_on + timedelta(days=day)
        end = made_on + timedelta(days=following) if following else date.max
        if any(first <= when < end for when in smelt):
            state = "done"
        elif today < first:
            state = "to come"
        else:
            state = "due" if today < end else "missed"
        found.append(Reminder(day, first, state))
    return found


def due(name: str, made_on: date, sniffed_on: Iterable[date], today: date) -> str:
    """What one bottle asks for today, in a sentence; empty where it asks for nothing."""
    for one in reminders(made_on, sniffed_on, today):
        if one.state == "due":
            late = (today - one.due_on).days
            since = f", {counted(late, 'day')} ago" if late else ""
            return f"{name}: sniff of day {one.day} is due{since}."
    return ""


def days_in_words(made_on: date, sniffed_on: Iterable[date], today: date) -> str:
    """All sniff days of one bottle, in a line."""
    return " · ".join(
        f"day {one.day} ({one.due_on:%d %b}) {one.state}"
        for one in reminders(made_on, sniffed_on, today)
    )
