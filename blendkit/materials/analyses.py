"""Reading a supplier's analysis: constituents and percents as copied from anywhere.

Certificates come as text out of a PDF, as rows out of a spreadsheet, with decimal commas,
ranges, "tr" and "<0.1". What cannot be matched is reported with its mass, never dropped in
silence and never guessed.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from blendkit.foundation.errors import Problem, Refused, quoted
from blendkit.materials.constituents import match_shares, plain_name

TRACE_PERCENT = 0.1  # common practice: a trace is under a tenth of a percent
MOST_PERCENT = (
    105.0  # rounding and overlapping peaks can pass 100, a misread column passes more
)
LONGEST_TEXT = 100_000  # below the longest field that Python's csv reads

_CAS = re.compile(r"(?<![\d-])(\d{2,7}-\d{2}-\d)(?![\d-])")
_NUMBER = r"\d+(?:[.,]\d+)?"
_AMOUNT = re.compile(
    rf"""(?P<trace>\b(?:tr|trace|traces|n\.?d\.?|nd)\b\.?)
    | (?P<below>(?:<|≤|max\.?|up\s+to|under)\s*(?P<limit>{_NUMBER}))
    | (?P<low>{_NUMBER})\s*%?\s*(?:-|–|—|to|\.\.\.|…)\s*(?P<high>{_NUMBER})
    | (?P<single>{_NUMBER})""",
    re.IGNORECASE | re.VERBOSE,
)
# an amount that ends a line of running text
_LAST_AMOUNT = re.compile(
    rf"(?:^|[\s:;=.,(])(?P<amount>{_AMOUNT.pattern})\s*%?\s*\)?\s*$", re.I | re.X
)
_HEADINGS = {
    "name": ("name", "constituent", "constituents", "component", "compound", "substance",
             "identification", "ingredient", "bestandteil", "constituant"),
    "cas": ("cas", "casno", "casnumber", "casnr", "casrn"),
    "percent": ("percent", "area", "areapercent", "content", "result", "value", "amount",
                "concentration", "typical", "w", "ww", "gehalt", "teneur", "found", "relarea",
                "relativearea", "composition", "percentage"),
    "low": ("min", "minimum", "low", "from", "lower"),
    "high": ("max", "maximum", "high", "to", "upper"),
}  # fmt: skip
_TOTALS = ("total", "sum", "summe", "totalidentified", "identified", "totaux", "sumtotal")


class BadAnalysis(Refused):
    """An analysis that cannot be read."""

    heading = "This analysis cannot be read"


@dataclass(frozen=True)
class Amount:
    """How much of one constituent, in percent."""

    low: float
    typical: float
    high: float

    def __add__(self, other: Amount) -> Amount:
        return Amount(
            self.low + other.low, self.typical + other.typical, self.high + other.high
        )

    def __mul__(self, share: float) -> Amount:
        return Amount(self.low * share, self.typical * share, self.high * share)


@dataclass(frozen=True)
class Analysis:
    """What was understood of an analysis.

    Attributes
    ----------
    amounts : dict of str to Amount
        By constituent id; a constituent named on several lines is summed. [%]
    unmatched : dict of str to Amount
        Names that nothing on record matches. Their mass is carried as unidentified. [%]
    ignored : tuple of str
        Lines that hold no amount.
    reporting_limit : float or None
        Below it, by mass, the analysis names nothing; None where it does not say. [-]
    """

    amounts: dict[str, Amount]
    unmatched: dict[str, Amount]
    ignored: tuple[str, ...] = field(default=())
    reporting_limit: float | None = None

    @property
    def matched_percent(self) -> float:
        """Mass matched, by the typical figures. [%]"""
        return sum(amount.typical for amount in self.amounts.values())

    @property
    def unmatched_percent(self) -> float:
        """Mass under names that nothing matches. [%]"""
        return sum(amount.typical for amount in self.unmatched.values())

    def __str__(self) -> str:
        lines = [
            f"{len(self.amounts)} constituents matched, {self.matched_percent:.1f} % by mass.",
            f"{max(0.0, 100 - self.matched_percent):.1f} % is carried as unidentified.",
        ]
        if self.unmatched:
            names = "; ".join(f"{n} {a.typical:g} %" for n, a in self.unmatched.items())
            lines.append(f"Not matched ({self.unmatched_percent:.1f} %): {names}.")
        if self.ignored:
            lines.append(f"{len(self.ignored)} lines without an amount were passed over.")
        return " ".join(lines)


def read_analysis(source: str | Path) -> Analysis:
    r"""Read an analysis from text, or from a text or CSV file.

    Parameters
    ----------
    source : str or Path
        The text itself, as copied; or the path of a file (a `Path`, not a str).

    Returns
    -------
    Analysis

    Raises
    ------
    BadAnalysis
        No line with an amount, nothing that matches, or amounts that sum to far above 100 %.

    Examples
    --------
    >>> found = read_analysis("Linalool 35,2 %\nLinalyl acetate  30 - 34\nCamphor tr")
    >>> [f"{amount.typical:g}" for amount in found.amounts.values()]
    ['35.2', '32', '0.05']
    """
    text = _text_of(source)
    amounts: dict[str, Amount] = {}
    unmatched: dict[str, Amount] = {}
    ignored = []
    for name, cas, amount, line in _lines(text):
        if amount is None:
            ignored.append(line)
        elif plain_name(name) not in _TOTALS:
            shares = match_shares(name, cas)
            for constituent_id, share in shares.items():
                _add(amounts, constituent_id, amount * share)
            if not shares:
                _add(unmatched, name or cas, amount)
    analysis = Analysis(amounts, unmatched, tuple(ignored))
    _check(analysis)
    return analysis


def _text_of(source: str | Path) -> str:
    if isinstance(source, Path):
        try:
            raw = source.read_bytes()
        except OSError as error:
            needed = "a text or CSV file that can be read"
            raise BadAnalysis([Problem(str(source), error.strerror or "", needed)]) from error
        try:
            source = raw.decode("utf-8-sig")
        except UnicodeDecodeError:
            source = raw.decode("cp1252", errors="replace")  # what spreadsheets often save
    if len(source) > LONGEST_TEXT:
        got = f"{len(source)} characters"
        raise BadAnalysis([Problem("analysis", got, f"at most {LONGEST_TEXT}")])
    return source


def _check(analysis: Analysis) -> None:
    total = analysis.matched_percent + analysis.unmatched_percent
    if not analysis.amounts and not analysis.unmatched:
        needed = 'lines such as "Linalool 35.2 %", or a table with headings'
        raise BadAnalysis([Problem("analysis", "no line with an amount", needed)])
    if total > MOST_PERCENT:
        fix = "Is another column (a retention time?) read as the percent? Leave it out."
        needed = f"at most {MOST_PERCENT:g} %"
        raise BadAnalysis([Problem("sum of the amounts", f"{total:.1f} %", needed, fix)])
    for name, amount in analysis.amounts.items():
        if amount.high > MOST_PERCENT:
            needed = f"at most {MOST_PERCENT:g} %"
            raise BadAnalysis([Problem(name, f"up to {amount.high:g} %", needed)])
    if not analysis.amounts:
        names = ", ".join(quoted(name) for name in list(analysis.unmatched)[:5])
        needed = "names or CAS numbers of constituents on record"
        raise BadAnalysis([Problem("names", names, needed)])


def _add(to: dict[str, Amount], name: str, amount: Amount) -> None:
    to[name] = to[name] + amount if name in to else amount


def _lines(text: str) -> Iterator[tuple[str, str, Amount | None, str]]:
    """Name, CAS, amount and the line itself, for every line that is not blank."""
    columns: dict[str, int] = {}
    split = _SPLITTERS[0]
    for raw in text.splitlines():
        line = raw.strip()
        if not line:
            continue
        headings = [(_heading(way(raw)), way) for way in _SPLITTERS]
        named, way = max(headings, key=lambda found: len(found[0]))
        if named:
            columns, split = named, way
        elif columns and len(split(raw)) > max(columns.values()):
            yield *_from_columns(split(raw), columns), line
        else:
            yield *_from_words(line), line


def _by_commas(line: str) -> list[str]:
    return [cell.strip() for cell in next(csv.reader([line.strip()]))]


def _by(separator: str) -> Callable[[str], list[str]]:
    pattern = re.compile(separator)
    return lambda line: [cell.strip(' "') for cell in pattern.split(line.strip("|"))]


_SPLITTERS = (_by(r"\t"), _by(";"), _by(r"\|"), _by_commas, _by(r"\s{2,}"))


def _heading(cells: list[str]) -> dict[str, int]:
    """Which column is which, where a row is a heading."""
    found: dict[str, int] = {}
    for place, cell in enumerate(cells):
        word = plain_name(cell)
        for kind, words in _HEADINGS.items():
            if kind not in found and (
                word in words or (kind == "percent" and cell.strip() == "%")
            ):
                found[kind] = place
                break
    amounts = {"percent", "low", "high"} & found.keys()
    return found if {"name", "cas"} & found.keys() and amounts else {}


def _from_columns(cells: list[str], columns: dict[str, int]) -> tuple[str, str, Amount | None]:
    def cell(kind: str) -> str:
        return cells[columns[kind]] if kind in columns else ""

    amount = _amount_of(cell("percent"))
    low, high = _amount_of(cell("low")), _amount_of(cell("high"))
    if low or high:
        least = low.low if low else 0.0
        most = high.high if high else (amount.high if amount else least)
        middle = amount.typical if amount else (least + most) / 2
        # what was found counts, also outside the bounds; and bounds may stand in wrong columns
        amount = Amount(min(least, middle, most), middle, max(least, middle, most))
    cas = _CAS.search(cell("cas"))
    return cell("name"), cas[1] if cas else "", amount


def _from_words(line: str) -> tuple[str, str, Amount | None]:
    cas = _CAS.search(line)
    rest = line.replace(cas[1], " ") if cas else line
    rest = " ".join(rest.split())  # long runs of blanks take the patterns very long
    found = _LAST_AMOUNT.search(rest)
    amount = _amount_of(found["amount"]) if found else None
    name = rest[: found.start()] if found else rest
    # a peak number or a retention time in front is no part of the name; "1,8-" is
    name = re.sub(r"^\s*(?:\d+[.)]?\s+)*(?:\d+[.,]\d+\s+)*", "", name)
    return name.strip(" .:;,=\t()[]·…_-"), cas[1] if cas else "", amount


def _amount_of(text: str) -> Amount | None:
    found = _AMOUNT.fullmatch(" ".join(text.split()).removesuffix("%").strip())
    if found is None:
        return None
    if found["trace"]:
        missing = found["trace"].lower().replace(".", "") == "nd"
        return Amount(0, 0, 0) if missing else Amount(0, TRACE_PERCENT / 2, TRACE_PERCENT)
    if found["below"]:
        limit = _number(found["limit"])
        return Amount(0, limit / 2, limit)
    if found["low"]:
        low, high = sorted((_number(found["low"]), _number(found["high"])))
        return Amount(low, (low + high) / 2, high)
    percent = _number(found["single"])
    return Amount(percent, percent, percent)


def _number(text: str) -> float:
    return float(text.replace(",", "."))
