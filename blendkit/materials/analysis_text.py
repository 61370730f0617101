"""One line of an analysis as text: its CAS number, separators, name and amounts.

Amounts are read as analyses print them: "35,2", "1.2 - 3.4 %", "82.1 ± 0.4", "< 0.05", "nd".
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from blendkit.foundation.errors import quoted
from blendkit.foundation.shipping import shipped_words
from blendkit.materials.constituents import match_shares, plain_name

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
_LIKE_A_NUMBER = re.compile(
    r"""[<>~=(\[]*[0-9]+(?:[.,][0-9]+)?(?:e[+-]?[0-9]+|[a-z]{1,2}\)?|%.*)   # 1.2E-3, 34.2a
    |[<>~=(\[]*[0-9]+[.,][0-9]+%?[^\W\d]{3,}                             # 82.1Eugenol
    |[^\W\d]{3,}[(=:<>]*[0-9]+[.,][0-9]+%?\)?                            # Eugenol82.1
    |[0-9]+(?:\.[0-9]+)?,[^0-9].*                                         # 1,Eugenol
    |.*[%±<≤].*""",
    re.IGNORECASE | re.VERBOSE,
)

LONGEST_LINE = 1000  # letters

_ODD_BLANKS = re.compile(r"[\s\u200b\u200c\u200d\ufeff\x00]+")
_DASHES = str.maketrans(dict.fromkeys("‐‑‒–—−", "-"))
_CAS = re.compile(
    r"""(?P<before>,?)\s?[(\[]?(?:\bCAS(?:[\s-]?(?:No|Nr|RN|number|Nummer))?[.:]{0,2}\s?)?
    (?<![0-9-])(?<![0-9][.])([0-9]{2,7})\s?-\s?([0-9]{2})\s?-\s?([0-9])(?![0-9-]|\.[0-9])
    [)\]]?\s?(?P<after>,?)""",
    re.IGNORECASE | re.VERBOSE,
)
_EC = re.compile(r"(?<![0-9-])[0-9]{3}-[0-9]{3}-[0-9](?![0-9-])")
_FORMULA = re.compile(r"(?<!\S)C[0-9]{1,3}H[0-9]{1,3}(?:[NOS][0-9]{0,2}){0,3}(?!\S)")
_DATE = re.compile(
    r"(?<!\S)(?:[0-9]{4}[-./][0-9]{1,2}[-./][0-9]{1,2}|[0-9]{1,2}[-./][0-9]{1,2}[-./][0-9]{4})(?!\S)"
)
_COMMA_AS_BREAK = re.compile(
    r"""(?<=[^\W\d_]|[)"%\]]),(?=\s?(?:[<≤]?\s?[0-9]+(?:[.,][0-9]+)?%?|n\.?d\.?|tr\.?)(?:[\s,;]|$))""",
    re.IGNORECASE,
)
_BRACKETS = re.compile(r"(?<=\s)[(\[]([0-9<≤][0-9.,%<≤±\s-]{0,30})[)\]](?=\s|$)")
LEADERS = re.compile(r"(?<![0-9\s._…·])\s?[._…·]{2,}|[._·]{4,}")
PEAK = re.compile(r"^(?:#|peak |no\.? ?)?([0-9]{1,3})(?:[.):]| -)\s(?=\S)", re.IGNORECASE)
BARE_PEAK = re.compile(r"^([0-9]{1,3})\s(?=\S)")
LOST_LETTER = re.compile(r"^-[^\W\d_]{3}|[?\ufffd\ue000-\uf8ff]")
NOTES = " .:;,=|\t*†‡§"
_CELL = re.compile(r"[\t;|]|(?<!\s)\s{2,}")
_WORDS: dict[str, str] = shipped_words("analysis_words")["lines"]
_TOTALS, _ABOUT, _BEFORE_NO_AMOUNT = (
    _WORDS[key].split() for key in ("totals", "about", "before_no_amount")
)


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


# --- words ---------------------------------------------------------------------------------


def tidy(line: str) -> str:
    """A line with single blanks and plain hyphens."""
    return _ODD_BLANKS.sub(" ", line.translate(_DASHES)).strip()


def plain_text(line: str) -> tuple[str, str, bool]:
    """A line for reading words: without its CAS number; whether commas part its cells."""
    text, cas, by_commas = take_cas(separated(line))
    breaks = list(_COMMA_AS_BREAK.finditer(text))
    by_commas |= any(text[found.end() : found.end() + 1] != " " for found in breaks)
    text = _BRACKETS.sub(r" \1 ", _COMMA_AS_BREAK.sub(" ", text).replace('"', " "))
    text = _FORMULA.sub(" ", _DATE.sub(" ", LEADERS.sub(" ", text)))
    return " ".join(_EC.sub(" ", text).split()).strip(NOTES), cas, by_commas


def separated(line: str) -> str:
    """A line without separators, bullets and dashes for "not detected"."""
    first, *others = _CELL.split(line)
    cells = [first, *("nd" if tidy(cell) == "-" else cell for cell in others)]
    text = tidy(" ".join(cells)).strip(NOTES)
    return re.sub(r"^[-•*·]\s", "", text)


def take_cas(text: str) -> tuple[str, str, bool]:
    """A text without its CAS number, the number, and whether commas were around it."""
    found = [one for one in _CAS.finditer(text) if _check_digit_fits(one)]
    wrong = [
        one for one in _CAS.finditer(text) if one not in found and " " not in one[0].strip()
    ]
    numbers = {"-".join(one.group(2, 3, 4)) for one in found}
    if wrong and not found:
        got = f"{quoted(wrong[0][0].strip())} in {quoted(text)}"
        raise Unclear(got, "a CAS number whose last digit checks the others")
    if len(numbers) > 1:
        raise Unclear(f"{quoted(text)}, with {len(numbers)} CAS numbers", "one a line")
    by_commas = any(one["before"] or one["after"] for one in found)
    for one in reversed(found):
        text = f"{text[: one.start()]} {text[one.end() :]}"
    return text.strip(), next(iter(numbers), ""), by_commas


def _check_digit_fits(found: re.Match[str]) -> bool:
    """True where the last digit is the sum of the others by place, modulo 10 (the CAS rule)."""
    digits = reversed(found[2] + found[3])
    total = sum(place * int(digit) for place, digit in enumerate(digits, 1))
    return total % 10 == int(found[4])


def is_known(name: str, cas: str = "") -> bool:
    """True where a name or a CAS number means a constituent on record."""
    return bool(match_shares(clean_name(name), cas))


def clean_name(text: str) -> str:
    """A name without bullets, dots, footnote marks and the number of its peak."""
    name = _EC.sub(" ", _FORMULA.sub(" ", text.strip(NOTES)))
    name = PEAK.sub("", " ".join(name.split())).strip(NOTES).removesuffix(" -")
    return re.sub(r"^\(([^()]*)\)$", r"\1", name).strip(NOTES)


def is_about(text: str, cas: str) -> bool:
    """True where a line is about the sample or the method, or is a total."""
    if starts_total(text):
        return True
    first = [plain_name(word) for word in text.split()[:2]]
    if cas or "%" in text or not {*first[:1], "".join(first)} & {*_ABOUT}:
        return False
    return not is_known(re.sub(r"[\s:=]+\S*[0-9][^a-z]*$", "", text))


def is_total_word(text: str) -> bool:
    """True where a text begins with a word such as "total"."""
    first = re.split(r"[\s:=(]", text.strip(NOTES), maxsplit=1)[0]
    return plain_name(first) in _TOTALS


def ends_in_no_amount(name: str) -> bool:
    """True where the number after a name is no amount: a time, a least, or one of a range."""
    last = re.split(r"[\s:=(]+", name.lower())[-1].strip(".)")
    return last in _BEFORE_NO_AMOUNT or name.endswith(("<", ">", "≥", "~", "±", "+"))


def starts_total(text: str) -> bool:
    """True for a total of a table, not of constituents on record ("total citral")."""
    rest = re.sub(r"^\S+(?:\s(?:of|de|des|der)\s)?|[0-9.,%]+", " ", text.strip(NOTES))
    return is_total_word(text) and not is_known(rest)
