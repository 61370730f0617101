"""Sniff days of an ageing bottle, and reminders.

The days, and keeping a blend in the dark for some weeks before it is judged, are common
practice without a published source.
"""

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from typing import NamedTuple

from blendkit.foundation.units import counted

SNIFF_DAYS = (1, 3, 7, 14, 28)  # common practice, no published source
AGEING_ADVICE = (
    "Keep it closed, cool and dark; turn it gently now and then. Note: rounder or flatter, "
    "cloudy or clear, any sediment. Common practice, no published source."
)


class Reminder(NamedTuple):
    """One sniff day of a bottle.

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


def list_reminders(
    made_on: date, sniffed_on: Iterable[date], today: date, days: Sequence[int] = SNIFF_DAYS
) -> list[Reminder]:
    """List the sniff days of one bottle.

    Parameters
    ----------
    made_on : date
    sniffed_on : iterable of date
        Days with an impression on record.
    today : date
    days : sequence of int, optional
        Days after it was made, rising.

    Returns
    -------
    list of Reminder
        One for each of `days`. A sniff counts for the reminder of its span:
        from its day up to the day before the next; the last has no end.

    Examples
    --------
    >>> made = date(2026, 3, 1)
    >>> [r.state for r in list_reminders(made, [date(2026, 3, 2)], date(2026, 3, 9))]
    ['done', 'missed', 'due', 'to come', 'to come']
    """
    sniffs, reminders = list(sniffed_on), []
    for day, following in zip(days, [*days[1:], None], strict=True):
        first = made_on + timedelta(days=day)
        end = made_on + timedelta(days=following) if following else date.max
        if any(first <= when < end for when in sniffs):
            state = "done"
        elif today < first:
            state = "to come"
        else:
            state = "due" if today < end else "missed"
        reminders.append(Reminder(day, first, state))
    return reminders


def remind(name: str, made_on: date, sniffed_on: Iterable[date], today: date) -> str:
    """Write the reminder that is due today for one bottle; empty where none is."""
    for one in list_reminders(made_on, sniffed_on, today):
        if one.state == "due":
            late = (today - one.due_on).days
            since = f", {counted(late, 'day')} ago" if late else ""
            return f"{name}: sniff of day {one.day} is due{since}."
    return ""


def days_in_words(made_on: date, sniffed_on: Iterable[date], today: date) -> str:
    """Write all sniff days of one bottle in a line."""
    return " · ".join(
        f"day {one.day} ({one.due_on:%d %b}) {one.state}"
        for one in list_reminders(made_on, sniffed_on, today)
    )
