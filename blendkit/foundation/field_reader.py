"""A reader of documents that collects every problem instead of stopping at the first."""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sized
from dataclasses import replace
from itertools import islice
from typing import Any

from blendkit.foundation.errors import (
    MOST_SHOWN,
    Problem,
    Read,
    attempt,
    near_miss,
    quoted,
    text_of,
)
from blendkit.foundation.keep import has_half_characters
from blendkit.foundation.units import is_positive_number, is_whole_number

MOST_ENTRIES = 1000


class FieldReader:
    """Reads the fields of one document.

    Every method returns a value of the right type, which counts only if no problem was added.

    Attributes
    ----------
    document : mapping
    problems : list of Problem
    """

    def __init__(self, document: Mapping[str, Any]) -> None:
        self.document = document
        self.problems: list[Problem] = []

    def add(self, where: str, got: str, needed: str, fix: str = "") -> None:
        """Add a problem."""
        self.problems.append(Problem(where, got, needed, fix))

    def attempt(
        self, where: str, read: Callable[..., Read], *given: object, **named: object
    ) -> Read | None:
        """Result of a function, or None with its problems added under this place."""
        problems: list[Problem] = []
        result = attempt(problems, read, *given, **named)
        self.problems += [replace(p, where=f"{where}, {p.where}") for p in problems]
        return result

    def hint(self, word: object, known: Iterable[str]) -> str:
        """The nearest known word, for the problems that are shown; looking it up is slow."""
        return near_miss(word, known) if len(self.problems) < MOST_SHOWN else ""

    def is_short(self, where: str, given: Sized, most: int = MOST_ENTRIES) -> bool:
        """True where a field has no more entries than allowed."""
        if len(given) > most:
            self.add(where, f"{len(given)} entries", f"at most {most}")
        return len(given) <= most

    def check_keys(
        self, where: str, given: Mapping[str, Any], known: Mapping[str, bool]
    ) -> None:
        """Check the keys of a mapping against the known ones; True marks a required key."""
        self.is_short(where.rstrip(", ") or "document", given)
        for key in islice(given, MOST_ENTRIES):
            if key not in known:
                hint = self.hint(key, known) or "Known: " + ", ".join(known) + "."
                self.add(f"{where}{key}", "an unknown key", "a known key", hint)
        for key, required in known.items():
            if required and key not in given:
                self.add(f"{where}{key}", "nothing", "a value", f'Add "{key}".')

    def name(self, where: str, value: object, longest: int) -> str:
        """A name that a person gave; any text that can be written to a file."""
        if not isinstance(value, str) or len(value) > longest:
            self.add(where, quoted(value), f"text of at most {longest} characters")
        elif has_half_characters(value):
            self.add(where, "an invalid character", "valid text", "Retype the name.")
        return text_of(value)

    def choice(
        self, where: str, value: object, choices: Collection[str], needed: str = ""
    ) -> str:
        """One of some words."""
        if value not in choices:
            needed = needed or "one of " + ", ".join(choices)
            self.add(where, quoted(value), needed, self.hint(value, choices))
        return text_of(value)

    def positive(self, where: str, value: object, fix: str = "") -> float:
        """A number above 0."""
        if not is_positive_number(value):
            self.add(where, quoted(value), "a number above 0", fix)
            return 1.0
        return float(value)

    def whole(self, where: str, value: object, low: int, high: int) -> int:
        """A whole number within bounds."""
        if not is_whole_number(value, low, high):
            self.add(where, quoted(value), f"a whole number from {low} to {high}")
            return low
        return value

    def entries(
        self,
        key: str,
        known: Mapping[str, bool],
        most: int = MOST_ENTRIES,
        example: str = '{"id": "lavender"}',
    ) -> Iterator[tuple[str, Mapping[str, Any]]]:
        """The entries of a list, each a mapping with known keys, and where each is."""
        given = self.document.get(key, [])
        if not isinstance(given, list | tuple):
            self.add(key, quoted(given), f"a list of entries such as {example}")
        elif self.is_short(key, given, most):
            for number, entry in enumerate(given, start=1):
                where = f"{key} {number}"
                if isinstance(entry, Mapping):
                    self.check_keys(f"{where}, ", entry, known)
                    yield where, entry
                else:
                    self.add(where, quoted(entry), f"an entry such as {example}")

    def once(self, where: str, name: str, seen: set[str], needed: str, fix: str = "") -> None:
        """Refuse a name that was seen before."""
        if name in seen:
            self.add(where, f"{quoted(name)} a second time", needed, fix)
        seen.add(name)
