"""Reading a supplier's analysis: constituents and percents as copied from anywhere.

Certificates come as text out of a PDF, as rows out of a spreadsheet, with decimal commas,
ranges, "tr" and "<0.1". A line that can be read in two ways is refused and asked about, never
guessed; what cannot be matched is reported with its mass, never dropped in silence.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from blendkit.foundation.errors import BadNumber, Problem, Refused, quoted
from blendkit.foundation.units import counted, to_si
from blendkit.materials import analysis_text
from blendkit.materials.analysis_headings import Heading, heading_of
from blendkit.materials.analysis_lines import Row, are_numbered, read_columns, read_words
from blendkit.materials.analysis_text import MOST_PERCENT, NOTHING, Amount, Unclear
from blendkit.materials.constituents import constituent, match_shares

if TYPE_CHECKING:
    from pint import Quantity

__all__ = ["MOST_PERCENT", "Amount", "Analysis", "BadAnalysis", "read_analysis"]

LONGEST_TEXT = 100_000  # letters
MOST_LINES = 5_000  # some ten times a long analysis
SCANTY = 50.0  # less than half: it may be a certificate of some constituents; judgement [%]
LIKE_FRACTIONS = (0.5, 1.5)  # a sum between these is 50 to 150 % if fractions were meant [%]

# "tr: < 0.05 %", "LOD 0.01 %": what a mark means, or below what nothing is named
_LEGEND = re.compile(
    r"""^\W*(?:(?:nd|n\.d\.|n\.n\.|tr\.?|t|traces?|spuren)\s?[:=(<]
    |(?:reporting|detection|quantification)\ limit
    |limit\ of\ (?:detection|quantification|reporting)
    |lo[dq]\b|(?:nachweis|bestimmungs)grenze|limite\ de\ (?:d[ée]tection|quantification))""",
    re.IGNORECASE | re.VERBOSE,
)
_LEGEND_PERCENT = re.compile(r"([0-9]{1,3}(?:[.,][0-9]{1,9})?)\s?%")


class BadAnalysis(Refused):
    """An analysis that cannot be read."""

    heading = "This analysis cannot be read"


@dataclass(frozen=True)
class Analysis:
    """Constituents and percents read from an analysis.

    Attributes
    ----------
    amounts : dict of str to Amount
        By constituent id; a constituent named on several lines is summed. [%]
    unmatched : dict of str to Amount
        Names that nothing on record matches. Their mass is carried as unidentified. [%]
    ignored : tuple of str
        Lines without an amount: prose, totals, names on no record with "nd".
    not_quantified : tuple of str
        Ids of constituents that the analysis names without a figure ("nd", "tr", "-") while no
        reporting limit is known. They count as if it did not name them.
    reporting_limit : float or None
        Below it the analysis gives no figure; None where it is not known. [%]
    unmatched_cas : dict of str to str
        CAS numbers of unmatched names, where the analysis gives them.
    is_whole : bool
        False for a certificate of some constituents only.
    """

    amounts: dict[str, Amount]
    unmatched: dict[str, Amount]
    ignored: tuple[str, ...] = field(default=())
    not_quantified: tuple[str, ...] = field(default=())
    reporting_limit: float | None = None
    unmatched_cas: dict[str, str] = field(default_factory=dict)
    is_whole: bool = True

    @property
    def matched_percent(self) -> float:
        """Mass matched, by the typical figures. [%]"""
        return sum(amount.typical for amount in self.amounts.values())

    @property
    def unmatched_percent(self) -> float:
        """Mass under names that nothing matches. [%]"""
        return sum(amount.typical for amount in self.unmatched.values())

    def __str__(self) -> str:
        rest = f"{max(0.0, 100 - self.matched_percent):.1f} % is carried as unidentified."
        if not self.is_whole:
            rest = "They replace the figures on record; the rest of the oil stays as recorded."
        elif self.matched_percent + self.unmatched_percent < SCANTY:
            rest += " If the certificate names only some constituents, say so."
        matched = counted(len(self.amounts), "constituent")
        lines = [f"{matched} matched, {self.matched_percent:.1f} % by mass.", rest]
        if self.unmatched:
            names = "; ".join(f"{n} {a.typical:g} %" for n, a in self.unmatched.items())
            lines.append(f"Not matched ({self.unmatched_percent:.1f} %): {names}.")
        if self.not_quantified:
            names = "; ".join(constituent(one).name for one in self.not_quantified)
            lines.append(f"Named without a figure: {names}.")
        if self.ignored:
            lines.append(f"{len(self.ignored)} lines without an amount were passed over.")
        return " ".join(lines)


def read_analysis(
    source: str | Path,
    reporting_limit: str | Quantity[Any] | None = None,
    *,
    whole: bool = True,
) -> Analysis:
    r"""Read an analysis from text, or from a text or CSV file.

    Parameters
    ----------
    source : str or Path
        The text itself, as copied; or the path of a file (a `Path`, not a str).
    reporting_limit : str or pint Quantity, optional
        Below it the analysis gives no figure, such as ``"0.05 %"``. A limit in the text ("LOD
        0.01 %", "tr: < 0.05 %") counts as well; the largest one is taken.
    whole : bool, optional
        False for a certificate that names some constituents only, such as those with a limit:
        in a lot of it, the others stay as recorded for the oil.

    Returns
    -------
    Analysis
        "nd", "tr" and "-" have typically 0 and at most the reporting limit; without one they
        are `not_quantified`. "< 0.05" has typically 0 and at most 0.05; a range and "max. 0.5"
        typically their middle; "82.1 ± 0.4" typically 82.1.

    Raises
    ------
    BadAnalysis
        A line with two numbers and no heading that says which is the amount, or unclear
        otherwise; no line with an amount; nothing that matches; a sum far above 100 %, or near
        1 without signs of percent, as fractions have.
    BadNumber
        A reporting limit without its unit, or outside 0 to 100 %.

    Examples
    --------
    >>> found = read_analysis("Linalool 35,2 %\nLinalyl acetate  30 - 34\nCamphor tr", "0.1 %")
    >>> [f"{amount.typical:g}" for amount in found.amounts.values()]
    ['35.2', '32', '0']
    """
    text = _text_of(source)
    limits = [] if reporting_limit is None else [_limit_percent(reporting_limit)]
    rows: list[tuple[str, Row]] = []
    ignored: list[str] = []
    problems: list[Problem] = []
    for where, line, found in _rows(text):
        if isinstance(found, Unclear):
            problems.append(Problem(where, found.got, found.needed, found.fix))
        elif isinstance(found, Row):
            rows.append((where, found))
        else:
            ignored.append(line)
            limits += [] if found is None else [found]
    problems += _thousands(rows)
    if problems:
        raise BadAnalysis(problems)
    read = [row for _, row in rows]
    analysis = _collected(read, ignored, max(limits, default=None))
    _check(analysis, any(row.printed.has_unit for row in read))
    return analysis if whole else replace(analysis, is_whole=False)


def _limit_percent(limit: str | Quantity[Any]) -> float:
    percent = 100 * to_si(limit, "dimensionless", name="reporting limit")
    if not 0 < percent <= 100:
        needed = 'more than 0 and at most 100 %, such as "0.05 %"'
        raise BadNumber([Problem("reporting limit", quoted(str(limit)), needed)])
    return float(f"{percent:.12g}")


def _text_of(source: str | Path) -> str:
    if isinstance(source, Path):
        try:
            if not source.is_file():  # a device or a pipe may have no end
                raise FileNotFoundError
            with source.open("rb") as file:
                source = _decoded(file.read(4 * LONGEST_TEXT + 4))  # of the longest letters
        except OSError as error:
            got = "no file that can be read"
            raise BadAnalysis([Problem(str(source), got, "a text or CSV file")]) from error
    if len(source) > LONGEST_TEXT:
        got = f"more than {LONGEST_TEXT} characters"
        raise BadAnalysis([Problem("analysis", got, f"at most {LONGEST_TEXT}")])
    if (count := len(source.splitlines())) > MOST_LINES:
        raise BadAnalysis([Problem("analysis", f"{count} lines", f"at most {MOST_LINES}")])
    return source


def _decoded(raw: bytes) -> str:
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):  # "Unicode text"
        return raw.decode("utf-16", errors="replace")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("cp1252", errors="replace")  # what spreadsheets often save


def _rows(text: str) -> Iterator[tuple[str, str, Row | Unclear | float | None]]:
    """Place, line and what it says: a row, a problem, a stated limit in percent, or nothing."""
    lines = text.splitlines()
    heading: Heading | None = None
    is_numbered = are_numbered(lines)
    for number, line in enumerate(lines, 1):
        plain = analysis_text.tidy(line)
        where = f"line {number}"
        if not re.search(r"\w", plain):
            continue
        if len(plain) > analysis_text.LONGEST_LINE:
            if re.search("[0-9]", plain):
                needed = f"at most {analysis_text.LONGEST_LINE} in one line"
                yield where, plain, Unclear(f"{len(plain)} characters", needed)
            continue
        try:
            new = heading_of(line)
        except Unclear as problem:
            yield where, plain, problem
            return  # no row below can be read
        heading = new or heading
        if new is None:
            try:
                yield where, plain, _meaning(line, plain, heading, is_numbered)
            except Unclear as problem:
                yield where, plain, problem


def _meaning(
    line: str, plain: str, heading: Heading | None, is_numbered: bool
) -> Row | float | None:
    if _LEGEND.match(plain):
        limits = {float(limit.replace(",", ".")) for limit in _LEGEND_PERCENT.findall(plain)}
        if len(limits) > 1 or (not limits and re.search("[0-9]", plain)):
            raise Unclear(quoted(line), 'one limit in percent, such as "LOD 0.01 %"')
        return next(iter(limits), None)
    return read_columns(line, heading) if heading else read_words(line, is_numbered)


def _thousands(rows: Sequence[tuple[str, Row]]) -> Iterator[Problem]:
    marks = analysis_text.decimal_marks(row.printed for _, row in rows)
    for where, row in rows:
        if analysis_text.may_be_thousands(row.printed, marks):
            needed = "an amount in percent"
            fix = "Is the comma a decimal sign? Write the amount with its % sign."
            yield Problem(where, quoted(" to ".join(row.printed.numbers)), needed, fix)


def _collected(rows: Sequence[Row], ignored: Sequence[str], limit: float | None) -> Analysis:
    amounts: dict[str, Amount] = {}
    unmatched: dict[str, Amount] = {}
    numbers: dict[str, str] = {}
    without: dict[str, None] = {}
    passed_by = list(ignored)
    for row in rows:
        amount = analysis_text.with_limit(row.printed, limit)
        shares, name = match_shares(row.name, row.cas), row.name or row.cas
        if amount is None:
            without |= dict.fromkeys(shares)
            passed_by += [] if shares else [name]
            continue
        for constituent_id, share in shares.items():
            amounts[constituent_id] = amounts.get(constituent_id, NOTHING) + amount * share
        if not shares:
            unmatched[name] = unmatched.get(name, NOTHING) + amount
            numbers |= {name: row.cas} if row.cas else {}
    not_quantified = tuple(one for one in without if one not in amounts)
    return Analysis(amounts, unmatched, tuple(passed_by), not_quantified, limit, numbers)


def _check(analysis: Analysis, has_units: bool) -> None:
    total = analysis.matched_percent + analysis.unmatched_percent
    if not analysis.amounts and not analysis.unmatched:
        needed = 'lines such as "Linalool 35.2 %", or a table with headings'
        raise BadAnalysis([Problem("analysis", "no line with an amount", needed)])
    if total > MOST_PERCENT:
        fix = "Is another column (a retention time?) read as the percent? Leave it out."
        needed = f"at most {MOST_PERCENT:g} %"
        raise BadAnalysis([Problem("sum of the amounts", f"{total:.1f} %", needed, fix)])
    if LIKE_FRACTIONS[0] <= total <= LIKE_FRACTIONS[1] and not has_units:
        fix = (
            "If these are fractions, write them as percents (43 for 0.43) or name their column "
            '"Fraction"; if they are percents, write the % sign behind each.'
        )
        needed = "to know whether percents or fractions are meant"
        raise BadAnalysis([Problem("sum of the amounts", f"{total:.3g}", needed, fix)])
    if not analysis.amounts:
        names = ", ".join(quoted(name) for name in list(analysis.unmatched)[:5])
        needed = "names or CAS numbers of constituents on record"
        raise BadAnalysis([Problem("names", names, needed)])
