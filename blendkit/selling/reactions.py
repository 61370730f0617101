"""Duties of a seller when somebody reports a reaction: what is serious, and by when."""

from datetime import date, timedelta
from typing import NamedTuple

from blendkit.blend.market import Market
from blendkit.foundation import data

STEPS = ("serious reaction", "bad reactions")


class ReactionDuty(NamedTuple):
    """One duty; `due` is the last day of a serious one, None where no number is on record."""

    step: str
    text: str
    source: str
    grade: str
    due: date | None
    counted: str


def reaction_duties(region: str, heard_on: date) -> tuple[ReactionDuty, ...]:
    """Duties of a region about a reaction that a maker heard of on a day.

    Raises
    ------
    BadNumber
        No such region.
    """
    rows = data.table("seller_duties")
    rows = rows.loc[rows["region"] == Market(region).region]
    found = []
    for row in rows.to_dict("records"):
        if row["step"] in STEPS:
            has_days = row["days"] == row["days"]
            due = last_day(heard_on, int(row["days"]), row["day_kind"]) if has_days else None
            counted = f"{row['days']:.0f} {row['day_kind']} days" if has_days else ""
            found.append(ReactionDuty(row["step"], row["text"], row["source"], row["grade"],
                                      due, counted))  # fmt: skip
    return tuple(sorted(found, key=lambda duty: "serious" not in duty.step))


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
