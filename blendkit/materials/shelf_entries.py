"""Entries of the shelf as files: written one by one, and read back with trust in nothing.

A hand-edited file may hold anything; what of it cannot be used is passed by.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import UTC, date, datetime
from typing import Any

from blendkit.foundation import keep
from blendkit.foundation.errors import Problem, quoted, text_of
from blendkit.foundation.money import currency_problem
from blendkit.foundation.units import YEARS, is_positive_number, is_whole_number
from blendkit.materials import catalogue

KIND = "shelf"
NUMBERS = ("drops_per_ml", "bottle_ml", "price")
DATES = ("opened_on", "bought_on")
_LONG_AGO = datetime(1970, 1, 2, tzinfo=UTC)  # what every system can show


def write_entry(material_id: str, matters: Mapping[str, Any]) -> str:
    """One new small file; its name comes back."""
    written = datetime.now(UTC).isoformat(timespec="microseconds")
    return str(
        keep.save(KIND, material_id, {"oil": material_id, "written": written, **matters})
    )


def standing_entries() -> list[dict[str, Any]]:
    """Entries that stand, oldest first; "oil" is the key of carriers too."""
    known = {*catalogue.oil_ids(), *catalogue.carrier_ids()}
    entries = [
        {**entry, "written": str(entry.get("written", ""))}
        for entry in keep.readable(KIND)
        if isinstance(entry.get("oil"), str) and entry["oil"] in known
    ]
    struck = {entry["takes_back"] for entry in entries if _is_text(entry.get("takes_back"))}
    standing = [
        entry
        for entry in entries
        if entry["written"] not in struck and "takes_back" not in entry
    ]
    return sorted(standing, key=lambda entry: entry["written"])


def usable(entry: Mapping[str, Any]) -> dict[str, Any]:
    """What of an entry can be used; a hand-edited file may hold anything."""
    return dict(_sound_matters(entry))


def _sound_matters(entry: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    for key in NUMBERS:
        if is_positive_number(entry.get(key)):
            yield key, float(entry[key])
    for key in ("how_measured", "currency"):
        if _is_text(entry.get(key)):
            yield key, entry[key]
    if opened := day_of(entry.get("opened_on")):
        yield "opened_on", opened


def written_at(entry: Mapping[str, Any]) -> datetime:
    """When an entry was written; long ago where a hand-edited file does not say."""
    try:
        written = datetime.fromisoformat(entry["written"])
    except ValueError:
        return _LONG_AGO
    return written.astimezone(UTC) if written.year in YEARS else _LONG_AGO


def day_of(value: object) -> date | None:
    """A date, typed or not, of a year that can be meant; None where it is none."""
    try:
        day = value if isinstance(value, date) else date.fromisoformat(text_of(value))
    except ValueError:
        return None
    day = day.date() if isinstance(day, datetime) else day
    return day if day.year in YEARS else None


def _is_text(value: object) -> bool:
    return isinstance(value, str)


def is_count_of_bottles(value: object) -> bool:
    """Whether so many bottles can stand on a shelf."""
    return is_whole_number(value, 1, 1_000_000)


def matter_problems(matters: Mapping[str, Any]) -> list[Problem]:
    """Every matter that is no positive number, no date, no count or no currency."""
    problems = [
        Problem(key, quoted(matters[key]), "a number above 0")
        for key in NUMBERS
        if key in matters and not is_positive_number(matters[key])
    ]
    if "bottles" in matters and not is_count_of_bottles(matters["bottles"]):
        needed = "a whole number of bottles, 1 or more"
        problems.append(Problem("bottles", quoted(matters["bottles"]), needed))
    problems += [
        date_problem(key, matters[key])
        for key in DATES
        if key in matters and day_of(matters[key]) is None
    ]
    if "currency" in matters and (problem := currency_problem(matters["currency"])):
        problems.append(problem)
    return problems


def date_problem(key: str, value: object) -> Problem:
    """A date that cannot be read, as a problem."""
    return Problem(key, quoted(value), f"a date from {YEARS.start} on, YYYY-MM-DD")
