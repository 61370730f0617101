"""Duties of a seller when somebody reports a reaction: what is serious, and by when."""

import math
from datetime import date, timedelta
from typing import Any

from blendkit.batch.label_words import duties

STEPS = ("serious reaction", "bad reactions")


def reaction_duties(region: str, heard_on: date) -> list[dict[str, Any]]:
    """Duties of a region about a reaction that a maker heard of on a day.

    As `duties`; "due" is the last day of a serious one, None where no number is on record, and
    "counted" the days in words.

    Raises
    ------
    BadNumber
        No such region.
    """
    found = []
    for row in duties(region):
        if row["step"] in STEPS:
            has_days = not math.isnan(row["days"])
            due = last_day(heard_on, int(row["days"]), row["day_kind"]) if has_days else None
            counted = f"{row['days']:.0f} {row['day_kind']} days" if has_days else ""
            found.append({**row, "due": due, "counted": counted})
    return sorted(found, key=lambda duty: "serious" not in duty["step"])


def last_day(heard_on: date, days: int, kind: str) -> date:
    """The last of so many days after one; business days leave out Saturdays and Sundays.

    Public holidays are counted, so that the day is never too late.

    Examples
    --------
    >>> last_day(date(2026, 12, 1), 20, "calendar").isoformat()
    '2026-12-21'
    >>> last_day(date(2026, 12, 1), 15, "business").isoformat()
    '2026-12-22'
    """
    day = heard_on
    while days:
        day += timedelta(days=1)
        days -= kind != "business" or day.weekday() < 5
    return day
