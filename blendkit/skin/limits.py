"""Skin limits as rules: what is counted, how it is weighed, and how much is allowed.

Every limit on record is linear: a weighted sum of the materials' mass fractions may not pass a
ceiling. A single oil's own limit, a constituent summed over all oils, a ceiling that several
materials share and the phototoxic sum differ only in their weights. `skin.rules` makes the
rules that apply to a blend; `blendkit.skin.reformulation` keeps within them.

Here too: what an oil holds of a group of constituents.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple, Protocol

from blendkit.foundation.errors import BadNumber, Problem, near_miss, quoted
from blendkit.foundation.schema import GRADES
from blendkit.materials.constituents import constituent

IFRA, HANDBOOK = "IFRA standards", "handbook dermal maximum"
EU_SETS = ("EU Cosmetics Regulation", "EU scientific opinion")
WITHIN, OVER, UNKNOWN = "within", "over", "no limit on record"
FIGURES = ("high", "typical")


@dataclass(frozen=True)
class Rule:
    """One limit as it applies to a set of oils.

    Attributes
    ----------
    rule_set : str
        Standard, law or handbook, such as "IFRA standards".
    subject : str
        What is limited, as people call it.
    kind : str
        "constituent", "material", "shared" or "phototoxic sum".
    weights : mapping of str to float
        By oil id: how much of each unit of its mass counts. [-]
    ceiling : float or None
        What the weighted sum of mass fractions may be at most; 0 for a prohibition; None where
        no figure is on record, which is never a pass. [-]
    decides : bool
        True for a law or a standard in force; False for advice, such as a handbook's.
    figure_basis : str
        The weakest grade among the limit and the figures that are weighed.
    source : str
    remark : str
    """

    rule_set: str
    subject: str
    kind: str
    weights: Mapping[str, float]
    ceiling: float | None
    decides: bool
    figure_basis: str
    source: str
    remark: str = ""

    def amount(self, mass_fractions: Mapping[str, float]) -> float:
        """The weighted sum over a product's mass fractions. [-]"""
        return sum(
            weight * mass_fractions.get(oil_id, 0.0) for oil_id, weight in self.weights.items()
        )

    def share(self, mass_fractions: Mapping[str, float]) -> float:
        """How much of the limit is used; infinite for any amount of something prohibited.

        NaN where no figure is on record.
        """
        if self.ceiling is None:
            return math.nan
        amount = self.amount(mass_fractions)
        if self.ceiling == 0:
            return math.inf if amount > 0 else 0.0
        return amount / self.ceiling

    def verdict(self, mass_fractions: Mapping[str, float]) -> str:
        """How a product stands to this rule: `WITHIN`, `OVER` or `UNKNOWN`."""
        share = self.share(mass_fractions)
        if math.isnan(share):
            return UNKNOWN
        # a billionth over is rounding in the arithmetic, not oil in the bottle
        return OVER if share > 1 + 1e-9 else WITHIN

    def is_broken_by(self, mass_fractions: Mapping[str, float]) -> bool:
        """Whether a product is over."""
        return self.verdict(mass_fractions) == OVER


class Finding(NamedTuple):
    """How one product stands to one rule.

    Attributes
    ----------
    rule : Rule
    amount, share : float
        What is in it, and how much of the limit that uses. [-]
    verdict : str
        `WITHIN`, `OVER` or `UNKNOWN`.
    from_oils : tuple of (str, float)
        Oil ids with what each adds to `amount`, largest first.
    """

    rule: Rule
    amount: float
    share: float
    verdict: str
    from_oils: tuple[tuple[str, float], ...]

    @property
    def is_over(self) -> bool:
        """Whether the limit is passed."""
        return self.verdict == OVER

    @property
    def is_unknown(self) -> bool:
        """Whether no figure is on record, which is never a pass."""
        return self.verdict == UNKNOWN


def brought_by(
    weights: Mapping[str, float], mass_fractions: Mapping[str, float]
) -> tuple[tuple[str, float], ...]:
    """Ids of the oils that add to a weighted sum, with what each adds, largest first. [-]"""
    parts = ((name, w * mass_fractions.get(name, 0.0)) for name, w in weights.items())
    return tuple(sorted((part for part in parts if part[1] > 0), key=lambda part: -part[1]))


def findings_of(
    rules: Iterable[Rule], mass_fractions: Mapping[str, float]
) -> tuple[Finding, ...]:
    """How a product stands to each rule, worst first; plain tuples, for panels.

    Parameters
    ----------
    rules : iterable of Rule
    mass_fractions : mapping of str to float
        By oil id; carriers may be among them. [-]
    """
    found = (
        Finding(
            rule,
            rule.amount(mass_fractions),
            rule.share(mass_fractions),
            rule.verdict(mass_fractions),
            brought_by(rule.weights, mass_fractions),
        )
        for rule in rules
    )
    return tuple(sorted(found, key=_worst_first))


def _worst_first(finding: Finding) -> tuple[bool, float, bool]:
    size = finding.amount if finding.is_unknown else finding.share
    return finding.is_unknown, -size, not finding.rule.decides


def weakest(grades: Iterable[str]) -> str:
    """The least trustworthy of several grades; "read" where there is none.

    Examples
    --------
    >>> weakest(["read", "memory", "part-read"])
    'memory'
    """
    return max(grades, key=GRADES.index, default=GRADES[0])


class Described(Protocol):
    """One constituent's share of an oil, such as a `blendkit.materials.catalogue.Share`."""

    @property
    def constituent(self) -> str:
        """Its id."""

    @property
    def typical(self) -> float:
        """Mass fraction. [-]"""

    @property
    def grade(self) -> str:
        """How honestly it is known."""


class Content(NamedTuple):
    """What an oil holds of a group of constituents.

    Attributes
    ----------
    fraction : float
        By mass. [-]
    grade : str
        The weakest of the figures added up.
    carried_over : bool
        True where a lot's own analysis is silent and a shipped figure counts instead.
    """

    fraction: float
    grade: str
    carried_over: bool


def content(
    analysed: Sequence[Described],
    members: Collection[str],
    figures: str,
    shipped: Sequence[Described],
) -> Content | None:
    """How much of some constituents an oil holds, added up.

    Parameters
    ----------
    analysed : sequence of shares
        The oil's own composition.
    members : collection of str
        Ids of the constituents to add up.
    figures : str
        "high" ends of the ranges or "typical" values.
    shipped : sequence of shares
        For a maker's own lot, the composition of the oil it is based on. It counts for the
        members that the lot's analysis does not name, since they were perhaps not looked for.
        Volatile ones can be no more than the analysis leaves undescribed; others (bergapten,
        say) escape the usual analysis and count in full.

    Returns
    -------
    Content or None
        None where no figure is on record, which does not mean that there is none of it.
    """
    named = {share.constituent for share in analysed}
    found = [share for share in analysed if share.constituent in members]
    silent = [s for s in shipped if s.constituent in members and s.constituent not in named]
    if not found and not silent:
        return None
    rest = max(0.0, 1.0 - sum(share.typical for share in analysed))
    amount = volatile = 0.0
    for share in [*found, *silent]:
        fraction = getattr(share, figures)
        if share in silent and constituent(share.constituent).is_volatile:
            volatile += fraction
        else:
            amount += fraction
    grade = weakest(share.grade for share in [*found, *silent])
    return Content(amount + min(rest, volatile), grade, carried_over=bool(silent))


def checked_figures(figures: str) -> str:
    """Which end of the ranges counts, unchanged.

    Raises
    ------
    BadNumber
        Neither "high" nor "typical".
    """
    if figures not in FIGURES:
        needed = "one of " + ", ".join(FIGURES)
        hint = near_miss(figures, FIGURES)
        raise BadNumber([Problem("figures", quoted(figures), needed, hint)])
    return figures
