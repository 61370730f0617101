"""Rows of an analysis: name, CAS number and amount of one line, or a question about it."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from blendkit.foundation.errors import quoted
from blendkit.materials import analysis_text as words
from blendkit.materials.analysis_headings import TIMES, Column, Heading
from blendkit.materials.analysis_text import MOST_PERCENT, Amount, Printed, Unclear
from blendkit.materials.constituents import contradict, plain_name

_YEAR = re.compile("(?:19|20)[0-9]{2}")
ASK = 'Leave one number, or put a first line above such as "RT; Name; CAS; Area %".'


@dataclass(frozen=True)
class Row:
    """One constituent as a line names it."""

    name: str
    cas: str
    printed: Printed


def are_numbered(lines: Iterable[str]) -> bool:
    """True where the lines begin with 1, 2, 3 and so on, three or more, that are no amounts."""
    found = (words.BARE_PEAK.match(words.separated(line)) for line in lines)
    numbers = [int(number[1]) for number in found if number]
    return len(numbers) > 2 and numbers == list(range(1, len(numbers) + 1))


def read_words(line: str, is_numbered: bool = False) -> Row | None:
    """The constituent of a line without a heading; None where the line names none.

    Parameters
    ----------
    line : str
    is_numbered : bool
        Whether a whole number at the start of the lines counts the peaks.

    Raises
    ------
    Unclear
        Two numbers that may both be the amount, a number without a name, or none of these.
    """
    text, cas, by_commas = words.plain_text(line)
    if words.is_about(text, cas):
        return None
    text = words.PEAK.sub("", text)
    text = words.BARE_PEAK.sub("", text) if is_numbered else text
    found = words.printed_amounts(text)
    if all(printed.amount is None for printed in found):
        return _without_amount(_without(text, found), cas, line)
    name, printed = _one_amount(text, found, line)
    if not words.is_known(name, cas) and _YEAR.fullmatch("".join(printed.numbers[:1])):
        return None
    is_odd = any(words.unread_numbers(name)) or re.search("[±<>≤≥%]", name)
    if is_odd and not words.is_known(name):
        raise _two_numbers(line)
    if by_commas and any("," in number for number in printed.numbers):
        fix = "Put semicolons between the columns, or write the amount with a point."
        raise _unclear(line, "with commas", "commas of one kind", fix)
    return _row(name, cas, printed, line)


def read_columns(line: str, heading: Heading) -> Row | None:
    """The constituent of a line under a heading; None where the line names none.

    Raises
    ------
    Unclear
        Other cells than the heading has, or an amount that cannot be read.
    """
    cells, count = heading.split(line), len(heading.columns)
    while len(cells) > count and not words.tidy(cells[-1]):
        cells.pop()
    if heading.is_strict and 1 < len(cells) < count:
        cells += [""] * (count - len(cells))
    if len(cells) == count > 1:
        return _from_cells([words.tidy(cell) for cell in cells], heading, line)
    if heading.is_strict and len(cells) > count:
        needed, fix = f"{count} cells, as the heading has", "Put decimal commas in quotes."
        raise _unclear(line, f"with {len(cells)} cells", needed, fix)
    return _around_name(line, heading)


def _from_cells(cells: Sequence[str], heading: Heading, line: str) -> Row | None:
    by_kind = {column.kind: cell for column, cell in zip(heading.columns, cells, strict=True)}
    name, cas, _ = words.take_cas(by_kind.get("name", ""))
    rest, cas_of_cell, _ = words.take_cas(by_kind.get("cas", ""))
    if plain_name(rest) not in ("", "na", "none"):
        raise Unclear(f"{quoted(rest)} in {quoted(line)}", "a CAS number in this cell")
    for kind in TIMES:
        if re.search(r"[^\W\d_]{2}(?<!mi)n?", by_kind.get(kind, "")):
            raise Unclear(f"{quoted(by_kind[kind])} in {quoted(line)}", "a number in this cell")
    if words.starts_total(name or next(filter(None, cells), "")):
        return None
    amounts = {
        column.kind: _in_cell(by_kind[column.kind], column, line)
        for column in heading.columns
        if column.kind in ("percent", "low", "high")
    }
    printed = _between(amounts, line)
    name, cas = words.clean_name(name), cas_of_cell or cas
    return _row(name, cas, printed, line) if printed else _without_amount(name, cas, line)


def _in_cell(cell: str, column: Column, line: str) -> Printed | None:
    text = words.LEADERS.sub(" ", cell).rstrip(words.NOTES + "()")
    text = text.lstrip(words.NOTES.replace(".", "") + "()")  # ".5" is a half
    if not text.strip("- "):
        return Printed(None) if text else None
    found = words.printed_amounts(text, column.factor, has_unit=column.has_unit)
    if len(found) != 1 or (found[0].start, found[0].end) != (0, len(text)):
        raise Unclear(f"{quoted(cell)} in {quoted(line)}", "one amount in this cell")
    return found[0]


def _between(amounts: Mapping[str, Printed | None], line: str) -> Printed | None:
    """One amount of a content, a least and a most, as far as there are."""
    content, low, high = (amounts.get(kind) for kind in ("percent", "low", "high"))
    if (low is None and high is None) or (content and content.amount is None):
        return content
    given = [printed for printed in (content, low, high) if printed and printed.amount]
    if not given:
        return Printed(None)
    if given == [low]:
        raise _unclear(line, "with the least only", "the most as well")
    least = low.amount.low if low and low.amount else 0.0
    middle = content.amount.typical if content and content.amount else None
    most = high.amount.high if high and high.amount else middle if middle is not None else least
    middle = (least + most) / 2 if middle is None else middle
    # a content outside the bounds counts, and the bounds may be in each other's columns
    amount = Amount(min(least, middle, most), middle, max(least, middle, most))
    numbers = tuple(number for printed in given for number in printed.numbers)
    return Printed(amount, any(printed.has_unit for printed in given), numbers)


def _around_name(line: str, heading: Heading) -> Row | None:
    """The row of a table whose columns are single blanks apart, or with empty cells."""
    text, cas, _ = words.plain_text(line)
    if words.is_about(text, cas):
        return None
    around = heading.numeric_around_name()
    has_number = around is not None and "number" in heading.kinds
    text = words.PEAK.sub(r"\1 " if has_number else "", text)
    found = words.printed_amounts(text)
    if not found:
        return _without_amount(text, cas, line)
    if around is None or len(found) < sum(map(len, around)):
        raise _unclear(line, "with an empty cell", "the columns of the heading", ASK)
    front, back = found[: len(around[0])], found[len(found) - len(around[1]) :]
    start, end = front[-1].end if front else 0, back[0].start if back else len(text)
    name = text[start:end]
    around_it, rest = [*front, *back], _without(text, [*front, *back]).strip(words.NOTES)
    if (found != around_it and not words.is_known(name)) or rest != name.strip(words.NOTES):
        raise _two_numbers(line)
    if back and words.is_known(text[start : back[0].end]):
        raise Unclear(quoted(line), "a number that is no part of the name", ASK)
    amounts = {
        column.kind: _in_cell(text[one.start : one.end], column, line)
        for column, one in zip([*around[0], *around[1]], around_it, strict=True)
    }
    printed = _between(amounts, line)
    return _row(words.clean_name(name), cas, printed, line) if printed else None


def _one_amount(text: str, found: Sequence[Printed], line: str) -> tuple[str, Printed]:
    """The name and the one number that can only be the amount."""
    last = found[-1]
    before, after = text[: last.start], text[last.end :].strip(words.NOTES)
    if not after and (len(found) == 1 or words.is_known(before)):
        if len(found) == 1 and not last.has_unit and words.is_known(text):
            raise _unclear(line, "where the number may be part of the name", "an amount")
        return before, last
    if len(found) == 1 and last.start == 0 and last.has_unit and words.is_known(after):
        return after, last
    marked = [printed for printed in found if printed.has_unit]
    others = (one for one in found if not one.has_unit)
    if not after and marked == [last] and all(_is_no_amount(text, one) for one in others):
        return _without(text, found), last
    if len(found) == 1:
        raise _unclear(line, "with words behind the number", "a name, then its amount", ASK)
    raise _two_numbers(line)


def _is_no_amount(text: str, one: Printed) -> bool:
    """True where a number is in front of the name, or larger than any percent."""
    if one.amount is None or len(one.numbers) != 1 or one.amount.low == 0:
        return False  # it is no plain number
    in_front = not re.search(r"[^\W\d_]", text[: one.end])
    return in_front or one.amount.typical > MOST_PERCENT


def _without(text: str, found: Iterable[Printed]) -> str:
    for one in reversed(list(found)):
        text = f"{text[: one.start]} {text[one.end :]}"
    return " ".join(text.split())


def _unclear(line: str, doubt: str, needed: str, fix: str = "") -> Unclear:
    return Unclear(f"{quoted(line)}, {doubt}", needed, fix)


def _two_numbers(line: str) -> Unclear:
    return _unclear(line, "with several numbers", "to know which is the amount", ASK)


def _without_amount(text: str, cas: str, line: str) -> Row | None:
    """A constituent without a figure; None for prose."""
    name = words.clean_name(text.removesuffix(" -"))
    glued = _unglued(name)
    has_number = any(words.unread_numbers(text)) or (glued != name and words.is_known(glued))
    if words.is_known(name) or (words.is_known("", cas) and not has_number):
        return _row(name, cas, Printed(None), line)
    if has_number:
        raise Unclear(quoted(line), 'a name and an amount, such as "Linalool 35.2 %"')
    return None


def _unglued(name: str) -> str:
    """A name without a number at its end."""
    return re.sub(r"[0-9][0-9.,%]*$", "", name)


def _row(name: str, cas: str, printed: Printed, line: str) -> Row:
    name = words.clean_name(name)
    if not cas and not re.search(r"[^\W\d_]", name):
        raise _unclear(line, "an amount without a name", "a name or a CAS number")
    if contradict(name, cas):
        got = f"{quoted(name)} with CAS number {cas}, which is another constituent"
        raise Unclear(got, "a name and a number of one constituent", "Leave the right one.")
    if printed.amount and printed.amount.high > MOST_PERCENT:
        most = f"up to {printed.amount.high:g} %"
        raise _unclear(line, most, f"at most {MOST_PERCENT:g} %", ASK)
    if not cas and words.LOST_LETTER.search(name):
        raise _unclear(line, "with an unreadable letter", 'a name such as "alpha-pinene"')
    if not words.is_known(name, cas):
        _check_unknown(name, line)
    return Row(name, cas, printed)


def _check_unknown(name: str, line: str) -> None:
    """Refuse a name on no record that looks like a name on record and something else."""
    if words.is_total_word(name):
        fix = "Leave out the total, or its members."
        raise _unclear(line, "a total of constituents", "each constituent once", fix)
    if words.ends_in_no_amount(name):
        raise _unclear(line, "whose number may be no amount", "a name and an amount", ASK)
    bare = " ".join(word for word in name.split() if re.search(r"[^\W\d_]", word))
    if any(short != name and words.is_known(short) for short in (bare, _unglued(name))):
        raise _two_numbers(line)
