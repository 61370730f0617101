"""Headings of tables in analyses: which column is which, in English, German and French."""

import csv
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from blendkit.foundation.errors import quoted
from blendkit.foundation.shipping import shipped_words
from blendkit.materials.analysis_text import FACTORS, Unclear
from blendkit.materials.constituents import plain_name

AMOUNTS = ("percent", "low", "high")
TIMES = ("retention", "index")  # columns that hold numbers which are no amounts
_NUMERIC = (*AMOUNTS, *TIMES, "number", "figure")

_WORDS = shipped_words("analysis_words")["headings"]
_KINDS = {word: kind for kind, words in _WORDS.items() for word in words.split()}
_LONGEST_PHRASE = 4  # words in one cell of a heading, such as "CAS No." or "rel. area %"
_UNIT = re.compile(r"%|‰|ppm\b|(?<![a-z])(?:mg/kg|g/kg|mg/g|g/100\s?g)\b")
_ASIDE = re.compile(rf"\([^()]*\)|\[[^\[\]]*\]|{_UNIT.pattern}|\b(?:w/w|m/m)\b")


@dataclass(frozen=True)
class Column:
    """One column by its heading.

    Attributes
    ----------
    kind : str
        A key of `headings` in `data/analysis_words.toml`; "" for a heading of no known word.
    factor : float
        Percent in the unit of its numbers. [%]
    has_unit : bool
        Whether the heading leaves no doubt about percents or fractions ("fraction", "ppm").
    """

    kind: str
    factor: float = 1.0
    has_unit: bool = False


@dataclass(frozen=True)
class Heading:
    """A heading row, and the way to split rows like it.

    Attributes
    ----------
    columns : tuple of Column
    split : callable
        From a line to its cells.
    is_strict : bool
        Whether an empty cell keeps its place (tabs, semicolons), as it does not between blanks.
    """

    columns: tuple[Column, ...]
    split: Callable[[str], list[str]]
    is_strict: bool

    @property
    def kinds(self) -> list[str]:
        """Kinds of the columns, from left to right."""
        return [column.kind for column in self.columns]

    def numeric_around_name(self) -> tuple[list[Column], list[Column]] | None:
        """Columns of numbers before and after the name; None where others are between."""
        kinds = self.kinds
        middle = kinds.index("name" if "name" in kinds else "cas")
        rest = [kind for kind in kinds if kind not in ("name", "cas", "formula")]
        if any(kind not in _NUMERIC for kind in rest):
            return None
        before, after = (
            [column for column in side if column.kind in _NUMERIC]
            for side in (self.columns[:middle], self.columns[middle:])
        )
        return before, after


def heading_of(line: str) -> Heading | None:
    """The heading that a line is, or None.

    Raises
    ------
    Unclear
        A heading with several columns of amounts, or with other numbers only.
    """
    if not _may_be_heading(line):
        return None
    phrases = Heading(_phrases(line.split()), lambda row: [row], is_strict=False)
    by_cells = (Heading(tuple(map(_column, way[0](line))), *way) for way in _WAYS)
    fit = [*(one for one in by_cells if _count(one) > 1), phrases]
    fit = [one for one in fit if {"name", "cas"} & {*one.kinds}]
    return _with_one_amount(max(fit, key=_count), line) if fit else None


def _may_be_heading(line: str) -> bool:
    """A quick look, since most lines are rows."""
    words = re.findall(r"[^\W\d_]+", line.lower())
    return any(_KINDS.get(plain_name(word)) in ("name", "cas") for word in words)


def _count(heading: Heading) -> int:
    return len({*heading.kinds} - {""})


def _column(cell: str) -> Column:
    lower = cell.lower()
    word = plain_name(_ASIDE.sub(" ", lower))
    units = _UNIT.findall(lower)
    kind = _KINDS.get(word, "")
    if kind in ("weak", "measure"):  # an area is a count where no unit is near
        kind = "percent" if units else {"weak": "weak", "measure": "figure"}[kind]
    elif not kind and len(units) == 1 and not re.search("[0-9]", word):
        kind = "percent"  # "%", and "% of lot A"
    if kind == "percent" and "fraction" in word:
        return Column(kind, factor=100.0, has_unit=True)
    factor = FACTORS[units[0].replace(" ", "")] if units else 1.0
    return Column(kind, factor, has_unit=bool(units) and units[0] != "%")


def _phrases(words: Sequence[str]) -> tuple[Column, ...]:
    """Columns of a heading with single blanks; none unless every word belongs to one."""
    columns: list[Column] = []
    place = 0
    while place < len(words):
        for length in range(min(_LONGEST_PHRASE, len(words) - place), 0, -1):
            phrase = " ".join(words[place : place + length])
            column = _column(phrase)
            if column.kind and _is_phrase(phrase, column.kind):
                columns.append(column)
                place += length
                break
        else:
            return ()
    return tuple(columns)


def _is_phrase(phrase: str, kind: str) -> bool:
    """True where a unit belongs to its words: in "Compound %" it is a column of its own."""
    word = plain_name(_ASIDE.sub(" ", phrase.lower()))
    return not _UNIT.search(phrase.lower()) or (
        kind in AMOUNTS and (not word or word in _KINDS)
    )


def _with_one_amount(heading: Heading, line: str) -> Heading | None:
    """The heading with one column of percents, one of least and one of most, as it has them."""
    kinds = heading.kinds
    if "percent" not in kinds and kinds.count("weak") == 1 and not {"low", "high"} & {*kinds}:
        kinds[kinds.index("weak")] = "percent"
    kinds = ["figure" if kind == "weak" else kind for kind in kinds]
    if "name" in kinds:  # a second column of names describes the first
        first = kinds.index("name") + 1
        kinds[first:] = ["text" if kind == "name" else kind for kind in kinds[first:]]
    fix = "Keep one column of amounts and paste one lot at a time."
    for kind in AMOUNTS:
        if kinds.count(kind) > 1:
            raise Unclear(f"{quoted(line)}, with several columns of amounts", "one lot", fix)
    if not {*AMOUNTS} & {*kinds}:
        if not {*kinds} & {*TIMES, "figure"}:
            return None  # a title, or one column with the lot's own name
        raise Unclear(quoted(line), 'a column of amounts, such as "Area %" or "Content"')
    if "low" in kinds and "high" not in kinds and "percent" not in kinds:
        raise Unclear(f"{quoted(line)}, with the least only", 'a column "Max" or "Content" too')
    pairs = zip(heading.columns, kinds, strict=True)
    return replace(heading, columns=tuple(replace(one, kind=kind) for one, kind in pairs))


def _by(separator: str) -> Callable[[str], list[str]]:
    pattern = re.compile(separator)
    return lambda line: [cell.strip(' "') for cell in pattern.split(line.strip("|"))]


_WAYS = (
    (_by(r"\t"), True),
    (_by(";"), True),
    (_by(r"\|"), True),
    (lambda line: [*map(str.strip, next(csv.reader([line.strip()]), []))], True),
    (lambda line: _by(r"(?<!\s)\s{2,}")(line.strip()), False),  # linear in long runs of blanks
)
