r"""A record as a row of the file, and back: checked on the way in, exact both ways.

SQLite keeps text as UTF-8 and its tools stop at a NUL character; a text typed or pasted can
hold one, or half of a pair that only together is a character. Such a text is stored in Python's
own ``unicode_escape`` spelling behind U+FDD0, a code point that Unicode sets aside for a
program's internal use (The Unicode Standard, section 23.7, "Noncharacters"). All other text is
stored as it is, so that any SQLite reader shows it.
"""

from __future__ import annotations

import dataclasses
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import partial
from typing import Any, TypeVar

from blendkit.foundation.errors import Problem, Refused, attempt, near_miss, quoted, refuse_any
from blendkit.foundation.keep import as_json, parse_document
from blendkit.foundation.units import YEARS
from blendkit.journal.records import KINDS, AnyRecord, Record

ID = re.compile("[0-9a-f]{32}")
EVERY_ROW = ("id", "turn", "recorded_at", "corrects", "withdrawn")
Stored = str | int | float | None
Day = TypeVar("Day", bound=date)
LONGEST_TEXT = 1_000_000  # characters, also of a document
# What `read` raises at a row that is no record
UNREADABLE = (ValueError, TypeError, AttributeError, OverflowError, RecursionError)
_ESCAPED = "\ufdd0"
_UNSTORABLE = re.compile("[\0\ud800-\udfff]")


def storable(text: str) -> str:
    r"""A text as it can stand in the file.

    Examples
    --------
    >>> storable("Dusk 💧"), as_typed(storable("half \ud83d, and \0"))
    ('Dusk 💧', 'half \ud83d, and \x00')
    """
    if text.startswith(_ESCAPED) or _UNSTORABLE.search(text):
        return _ESCAPED + text.encode("unicode_escape").decode("ascii")
    return text


def as_typed(stored: str) -> str:
    """The text that `storable` was given.

    Raises
    ------
    UnicodeError
        Nothing that `storable` writes.
    """
    if stored.startswith(_ESCAPED):
        return stored.removeprefix(_ESCAPED).encode("ascii").decode("unicode_escape")
    return stored


class BadRecord(Refused):
    """A row that cannot go into the journal."""

    heading = "This cannot go into the journal"


def contents(kind: type[Record]) -> tuple[dataclasses.Field[Any], ...]:
    """The fields a kind of record has beyond those of every row."""
    common = {each.name for each in dataclasses.fields(Record)}
    return tuple(each for each in dataclasses.fields(kind) if each.name not in common)


def columns_of(kind: type[Record]) -> tuple[str, ...]:
    """The columns of a kind's table: those of every row, then its own."""
    return (*EVERY_ROW, *(each.name for each in contents(kind)))


@dataclass(frozen=True)
class _Form:
    """How one type of field is checked, written and read."""

    fits: Callable[[Any], bool]
    needed: str
    written: Callable[[Any], Stored]
    read: Callable[[Any], Any]


def _is_number(value: Any) -> bool:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    return abs(value) < 2**63 if isinstance(value, int) else math.isfinite(value)


def _instant(text: str) -> datetime:
    instant = datetime.fromisoformat(text)
    if instant.tzinfo is None:
        raise ValueError(f"a time without its offset from UTC: {text}")
    return _in_our_time(instant)


def _in_our_time(day: Day) -> Day:
    if day.year not in YEARS:
        raise ValueError(f"a day of the year {day.year}")
    return day


def _or_nothing(form: _Form) -> _Form:
    return _Form(
        lambda value: value is None or form.fits(value),
        f"{form.needed}, or nothing",
        lambda value: None if value is None else form.written(value),
        lambda stored: None if stored is None else form.read(stored),
    )


_FORMS = {
    "str": _Form(lambda value: isinstance(value, str), "text", storable, as_typed),
    "int": _Form(
        lambda value: isinstance(value, int) and _is_number(value), "a whole number", int, int
    ),
    "bool": _Form(lambda value: isinstance(value, bool), "yes or no", int, bool),
    "float": _Form(_is_number, "a finite number", float, float),
    "datetime": _Form(
        lambda value: isinstance(value, datetime) and value.utcoffset() is not None,
        "a time with its offset from UTC",
        datetime.isoformat,
        _instant,
    ),
    "date": _Form(
        lambda value: isinstance(value, date) and not isinstance(value, datetime),
        "a date",
        date.isoformat,
        lambda text: _in_our_time(date.fromisoformat(text)),
    ),
    "dict[str, Any]": _Form(
        lambda value: isinstance(value, Mapping),
        "a JSON object",
        partial(as_json, allow_nan=False),
        parse_document,
    ),
}
_FORMS |= {f"{name} | None": _or_nothing(form) for name, form in _FORMS.items()}
_FIELDS = {
    kind: {each.name: (_FORMS[str(each.type)], each.metadata) for each in contents(kind)}
    for kind in KINDS
}  # looked up once, since thousands of rows are read


def written(record: Record) -> dict[str, Stored]:
    """A record's own fields as they stand in the file.

    Raises
    ------
    BadRecord
        Lists every field that cannot be kept.
    """
    problems: list[Problem] = []
    values = {
        name: attempt(
            problems, _cell, f"{record.TABLE}, {name}", getattr(record, name), form, rule
        )
        for name, (form, rule) in _FIELDS[type(record)].items()
    }
    if record.ONE_OF and all(getattr(record, name) is None for name in record.ONE_OF):
        needed = "at least one of " + ", ".join(record.ONE_OF)
        problems.append(Problem(record.TABLE, "none of them", needed))
    refuse_any(problems, BadRecord)
    return values


def _problem_of(where: str, value: Any, form: _Form, rule: Mapping[str, Any]) -> Problem | None:
    if not form.fits(value):
        return Problem(where, quoted(value), form.needed)
    if rule.get("filled") and not value.strip():
        return Problem(where, "nothing", "something to call it by")
    if "among" in rule and value not in rule["among"]:
        known = [word for word in rule["among"] if word]
        return Problem(
            where, quoted(value), "one of " + ", ".join(known), near_miss(value, known)
        )
    if "low" in rule and value is not None and not rule["low"] <= value <= rule["high"]:
        low, high = rule["low"], rule["high"]
        needed = "a number above 0" if 0 < low < 1 else f"a number, {low:g} or more"
        needed = f"a number from {low:g} to {high:g}" if math.isfinite(high) else needed
        return Problem(where, quoted(value), needed)
    return None


def _cell(where: str, value: Any, form: _Form, rule: Mapping[str, Any]) -> Stored:
    if problem := _problem_of(where, value, form, rule):
        raise BadRecord([problem])
    try:
        cell = form.written(value)
        form.read(cell)  # what cannot be read back is not kept
    except (TypeError, ValueError, RecursionError) as error:
        needed = "something that the journal can hold"
        raise BadRecord([Problem(where, str(error), needed)]) from error
    if isinstance(cell, str) and len(cell) > LONGEST_TEXT:
        got = f"{len(cell)} characters"
        raise BadRecord([Problem(where, got, f"at most {LONGEST_TEXT}")])
    return cell


def read(kind: type[AnyRecord], row: Mapping[str, Stored]) -> AnyRecord:
    """A record from its row in the file.

    Raises
    ------
    ValueError, TypeError, AttributeError, OverflowError, RecursionError
        A cell holds what `written` never writes; all of `UNREADABLE`.
    """
    values = {name: form.read(row[name]) for name, (form, _) in _FIELDS[kind].items()}
    return kind(
        id=str(row["corrects"] or row["id"]),
        row=str(row["id"]),
        turn=int(row["turn"] or 0),
        recorded_at=_instant(str(row["recorded_at"])),
        withdrawn=bool(row["withdrawn"]),
        **values,
    )


def stored(kind: type[Record], name: str, value: Any) -> Stored:
    """One value of a field as it stands in the file, to look for it.

    Raises
    ------
    TypeError
        The kind has no such field: an error of the caller.
    """
    if name not in _FIELDS[kind]:
        raise TypeError(f"{kind.__name__} has no field {name} to look for")
    return _FIELDS[kind][name][0].written(value)
