"""Errors, as sentences that say what to do.

Every message follows one pattern, so that a person at a kitchen table knows what to do
next: *what — got — needed — how to fix*. A check that finds several problems reports them
all at once (`Refused.problems`), because mending one at a time is tiring.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from typing import TypeVar

Read = TypeVar("Read")
MOST_SHOWN = 20  # problems in one message
_LONGEST, _LONGEST_QUOTED = 300, 60  # characters of a part of a problem, and of a value


@dataclass(frozen=True)
class Problem:
    """One problem, and how to fix it.

    Parameters
    ----------
    where : str
        The field, or the file, row and column.
    got : str
        The value, as the person wrote it.
    needed : str
        What is needed instead.
    fix : str, optional
        What to do. Left out where `needed` already says it.
    """

    where: str
    got: str
    needed: str
    fix: str = ""

    def __str__(self) -> str:
        sentence = f"{_cut(self.where)}: got {_cut(self.got)}; needs {_cut(self.needed)}."
        return f"{sentence} {_cut(self.fix)}" if self.fix else sentence


class BlendkitError(Exception):
    """Anything blendkit raises on purpose."""


class Refused(BlendkitError, ValueError):
    """Input that cannot be used; lists every problem found.

    Attributes
    ----------
    problems : tuple of Problem
        At least one.
    more : int, optional
        How many more there are that nobody wrote down.
    """

    heading = "This cannot be used"

    def __init__(self, problems: Iterable[Problem], more: int = 0) -> None:
        self.problems, self._more = tuple(problems), more
        count = len(self.problems) + more
        lines = "\n".join(f"  - {sentence}" for sentence in self.sentences)
        noun = "problem" if count == 1 else "problems"
        super().__init__(f"{self.heading} ({count} {noun}):\n{lines}")

    @property
    def sentences(self) -> tuple[str, ...]:
        """The first problems as sentences, and how many more there are."""
        shown = tuple(map(str, self.problems[:MOST_SHOWN]))
        more = len(self.problems) + self._more - len(shown)
        return (*shown, f"And {more} more of the kind.") if more > 0 else shown

    def __reduce__(self) -> tuple[type[Refused], tuple[tuple[Problem, ...], int]]:
        return type(self), (self.problems, self._more)


class BadBlend(Refused):
    """A blend document that cannot be mixed as written."""

    heading = "This blend cannot be mixed as written"


class BadTable(Refused):
    """A data table with a broken row."""

    heading = "This table cannot be read"


class BadNumber(Refused):
    """A number, or a list of numbers, outside what a calculation can take."""

    heading = "These numbers cannot be used"


class UnknownMaterial(BlendkitError, LookupError):
    """No oil, carrier or constituent goes by this name."""


def attempt(
    problems: list[Problem], read: Callable[..., Read], *given: object, **named: object
) -> Read | None:
    """Result of `read`, or None with its problems added to the list."""
    try:
        return read(*given, **named)
    except Refused as error:
        problems += error.problems
        return None


def refuse_any(problems: Iterable[Problem], kind: type[Refused] = BadNumber) -> None:
    """Refuse input by all its problems at once; nothing happens where there are none.

    Raises
    ------
    BadNumber
        There is a problem; or another kind of refusal.
    """
    if found := tuple(problems):
        raise kind(found)


def check_known(name: str, value: object, known: Collection[str]) -> None:
    """Refuse a value that is none of those known.

    Raises
    ------
    BadNumber
        With the nearest of them.
    """
    if value not in known:
        needed = "one of " + ", ".join(known)
        raise BadNumber([Problem(name, quoted(value), needed, near_miss(value, known))])


def near_miss(word: object, known: Iterable[str]) -> str:
    """A question that offers the nearest known word, or nothing.

    Examples
    --------
    >>> near_miss("lavendar", ["lavender", "lemon"])
    'Did you mean "lavender"?'
    >>> near_miss("xyzzy", ["lavender", "lemon"])
    ''
    """
    by_lower_case = {name.lower(): name for name in known}
    # no known word is long, and comparing long ones is slow
    found = get_close_matches(text_of(word)[:60].lower(), list(by_lower_case), n=1, cutoff=0.6)
    return f'Did you mean "{by_lower_case[found[0]]}"?' if found else ""


def _cut(text: str) -> str:
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]}…"


def text_of(value: object) -> str:
    """A value as text, also where Python refuses to spell it out.

    Examples
    --------
    >>> text_of("10 g"), text_of(10**5000)
    ('10 g', 'int too long to write out')
    """
    try:
        return str(value)
    except (ValueError, RecursionError):  # too many digits, or nested too deeply
        return f"{type(value).__name__} too long to write out"


def quoted(value: object) -> str:
    """A value as a person would recognise it in a message, cut when very long.

    Examples
    --------
    >>> quoted("10 g"), quoted(0), len(quoted("x" * 70))
    ('"10 g"', '0', 63)
    """
    text = text_of(value)
    if len(text) > _LONGEST_QUOTED:
        text = text[:_LONGEST_QUOTED] + "…"
    return f'"{text}"' if isinstance(value, str) else text
