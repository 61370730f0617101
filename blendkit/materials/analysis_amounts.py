"""Amounts as analyses print them: "35,2", "1.2 - 3.4 %", "82.1 ± 0.4", "< 0.05", "nd"."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

MOST_PERCENT = 105.0  # rounding and overlapping peaks can pass 100, a misread column more

# percent in one unit
FACTORS = {
    "%": 1.0, "g/100g": 1.0, "‰": 0.1, "g/kg": 0.1, "mg/g": 0.1, "ppm": 1e-4, "mg/kg": 1e-4,
}  # fmt: skip

_NUMBER = r"(?:[0-9]{1,15}(?:[.,][0-9]{1,20})?|\.[0-9]{1,20})"
_SILENT = r"""n\.?\s?d\.?|n\.\s?n\.?|n/d|not\ detected|none\ detected|absent|nicht\ nachweisbar|
    nicht\ nachgewiesen|non\ d[ée]tect[ée]e?|(?:in\ )?(?:tr\.?|traces?|spuren)"""
_BELOW = r"<|≤|<=|less\ than|below|under|unter|kleiner|moins\ de|inf(?:[ée]rieur\ à|\.\ à)"
_UP_TO = r"""max\.?|up\ to|at\ most|bis\ zu|höchstens|jusqu'à|
    (?:tr\.?|traces?|nd|n\.d\.)\ ?(?:-|to)"""
_JOIN = r"\s?(?:±|\+/-|\+-|…|\.{2,3})\s?|\s(?:-|to|bis|à)\s|-"
_UNIT = r"""(?:%|‰|ppm|mg/kg|g/kg|mg/g|g/100\ ?g)
    (?:\s?\(?(?:w/w|m/m|area|rel\.?|gc(?:-fid|-ms)?|by\ weight)\)?)?"""
_PRINTED = re.compile(
    rf"""(?<![^\s:;=|"])
    (?:(?P<upto>{_UP_TO})\s?(?P<most>{_NUMBER})
      |(?P<silent>{_SILENT})
      |(?P<below>{_BELOW})\s?(?P<limit>{_NUMBER})
      |(?:(?:ca\.?|circa|approx\.?|about|etwa|env\.?|~|≈)\s?)?
       (?P<first>{_NUMBER})(?:(?:\s?(?P<inner>%))?(?P<join>{_JOIN})(?P<second>{_NUMBER}))?
    )(?:\s?(?P<unit>{_UNIT}))?
    (?=[\s:;=|"]|$|[,.](?:\s|$))""",
    re.IGNORECASE | re.VERBOSE,
)
_THREE_DECIMALS = re.compile(r"[1-9][0-9]{0,2}[.,][0-9]{3}")


@dataclass(frozen=True)
class Amount:
    """Range of one constituent and its typical value. [%]"""

    low: float
    typical: float
    high: float

    def __add__(self, other: Amount) -> Amount:
        return Amount(
            self.low + other.low, self.typical + other.typical, self.high + other.high
        )

    def __mul__(self, share: float) -> Amount:
        return Amount(self.low * share, self.typical * share, self.high * share)


NOTHING = Amount(0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Printed:
    """One amount as a line prints it.

    Attributes
    ----------
    amount : Amount or None
        None where the line names a constituent without a figure ("nd", "tr", "-"). [%]
    has_unit : bool
        Whether a sign of percent or another unit goes with it.
    numbers : tuple of str
        The numbers, as printed.
    start, end : int
        Its place in the line.
    """

    amount: Amount | None
    has_unit: bool = False
    numbers: tuple[str, ...] = ()
    start: int = 0
    end: int = 0


class Unclear(Exception):
    """A line that can be read in more than one way, or in none."""

    def __init__(self, got: str, needed: str, fix: str = "") -> None:
        super().__init__(got)
        self.got, self.needed, self.fix = got, needed, fix


def printed_amounts(text: str, factor: float = 1.0, *, has_unit: bool = False) -> list[Printed]:
    """Every amount between blanks or separators in a line, in order.

    Parameters
    ----------
    text : str
        One line with single blanks and plain hyphens.
    factor : float
        Percent in a unit of a number without its own unit. [%]
    has_unit : bool
        Whether that unit is beyond doubt.

    Raises
    ------
    Unclear
        A range from more to less, which two separate numbers with a dash between also give.

    Examples
    --------
    >>> [amount.amount.typical for amount in printed_amounts("1,8-cineole 5.2 %")]
    [5.2]
    """
    return [_printed(found, factor, has_unit) for found in _PRINTED.finditer(text)]


def _printed(found: re.Match[str], factor: float, has_unit: bool) -> Printed:
    unit = (found["unit"] or found["inner"] or "").lower()
    for known, percent in FACTORS.items():
        if unit.replace(" ", "").startswith(known):
            factor = percent
    numbers = tuple(filter(None, found.group("limit", "most", "first", "second")))
    amount = None if found["silent"] else _amount(found, factor)
    return Printed(amount, has_unit or bool(unit), numbers, *found.span())


def _amount(found: re.Match[str], factor: float) -> Amount:
    def percent(text: str) -> float:
        number = float(text.replace(",", "."))
        # binary fractions would show: 0.07 * 100 is 7.000000000000001
        return number if factor == 1 else round(number * factor, 12)

    if found["below"]:
        return Amount(0.0, 0.0, percent(found["limit"]))
    if found["upto"]:
        most = percent(found["most"])
        return Amount(0.0, most / 2, most)
    first = percent(found["first"])
    if not found["join"]:
        return Amount(first, first, first)
    second = percent(found["second"])
    if found["join"].strip() in ("±", "+/-", "+-"):
        low, high = max(0.0, round(first - second, 12)), round(first + second, 12)
        return Amount(low, first, high)
    if second < first:
        fix = "Write it so, or leave one number."
        raise Unclear(found[0], "a range from less to more", fix)
    return Amount(first, (first + second) / 2, second)


def decimal_marks(amounts: Iterable[Printed]) -> set[str]:
    """Decimal signs among "." and "," that are beyond doubt in these amounts."""
    numbers = [number for printed in amounts for number in printed.numbers]
    sure = [number for number in numbers if not _THREE_DECIMALS.fullmatch(number)]
    return {mark for number in sure for mark in ".," if mark in number}


def may_be_thousands(printed: Printed, marks: set[str]) -> bool:
    """True where "12,345" may mean twelve thousand here: a count of areas, not a percent."""
    if printed.has_unit:
        return False
    return any(
        _THREE_DECIMALS.fullmatch(number)
        and ("," in number or "," in marks)
        and not {mark for mark in ".," if mark in number} <= marks
        for number in printed.numbers
    )


def with_limit(printed: Printed, limit: float | None) -> Amount | None:
    """The amount, where a zero, a trace or "nd" goes up to the reporting limit.

    Parameters
    ----------
    printed : Printed
    limit : float or None
        The reporting limit. [%]

    Returns
    -------
    Amount or None
        None where there is neither a figure nor a limit. A printed zero is rounded: it goes up
        to half of its last digit at least.
    """
    if printed.amount is None:
        return None if limit is None else Amount(0.0, 0.0, limit)
    if printed.amount != NOTHING or not printed.numbers:
        return printed.amount
    decimals = len(printed.numbers[-1].replace(",", ".").partition(".")[2])
    return Amount(0.0, 0.0, max(0.5 * 10.0**-decimals, limit or 0.0))


def unread_numbers(text: str) -> Iterator[str]:
    """Words that look like numbers but are no amount: "1.2E-3", "-0.4", "1,234.5", "34.2a"."""
    for word in text.split():
        has_digit = any(letter.isdigit() for letter in word)
        if has_digit and (_LIKE_A_NUMBER.fullmatch(word) or not any(map(str.isalpha, word))):
            yield word


_LIKE_A_NUMBER = re.compile(
    r"""[<>~=(\[]*[0-9]+(?:[.,][0-9]+)?(?:e[+-]?[0-9]+|[a-z]{1,2}\)?|%.*)   # 1.2E-3, 34.2a
    |[<>~=(\[]*[0-9]+[.,][0-9]+%?[^\W\d]{3,}                             # 82.1Eugenol
    |[^\W\d]{3,}[(=:<>]*[0-9]+[.,][0-9]+%?\)?                            # Eugenol82.1
    |[0-9]+(?:\.[0-9]+)?,[^0-9].*                                         # 1,Eugenol
    |.*[%±<≤].*""",
    re.IGNORECASE | re.VERBOSE,
)
