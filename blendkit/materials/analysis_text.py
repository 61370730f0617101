"""One line of an analysis as text: its CAS number, its separators, its name."""

from __future__ import annotations

import re

from blendkit.foundation.errors import quoted
from blendkit.foundation.shipping import shipped_words
from blendkit.materials.analysis_amounts import Unclear
from blendkit.materials.constituents import match_shares, plain_name

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
    return sum(place * int(digit) for place, digit in enumerate(digits, 1)) % 10 == int(
        found[4]
    )


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
