"""Skin limits as rules: what is counted, how it is weighed, and how much is allowed.

Every limit on record is linear: a weighted sum of the materials' mass fractions may not pass a
ceiling. A single oil's own limit, a constituent summed over all oils, a ceiling that several
materials share and the phototoxic sum differ only in their weights. `skin.rules` makes the
rules that apply to a blend; `blendkit.skin.reformulation` keeps within them.

Each rule weighs twice: by the high end of what an oil may hold, and by the typical figure. Over
by both is over; over by the high end alone is not settled, and no more of a pass.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from blendkit.foundation.schema import GRADES

IFRA, HANDBOOK = "IFRA standards", "handbook dermal maximum"
EU_SETS = ("EU Cosmetics Regulation", "EU scientific opinion")
WITHIN, OVER, NOT_SETTLED = "within", "over", "not settled"
UNKNOWN = "no limit on record"
SILENT, NOT_FOUND, OLD_BOUND, KIND, RANGE = "silent", "not found", "old bound", "kind", "range"
UNMATCHED = "unmatched name"
_ROUNDING = 1e-9  # a billionth over is rounding in the arithmetic, not oil in the bottle


class Doubt(NamedTuple):
    """Reasons why the high end of a weight is above the typical figure.

    Attributes
    ----------
    constituent : str
        Its name; "" where a whole oil is in doubt.
    why : str
        `SILENT`: an own lot's analysis does not name it. `NOT_FOUND`: the analysis found none
        above its reporting limit. `OLD_BOUND`: an old or coarse table gives the high end.
        `KIND`: the oil's kind is unknown. `RANGE`: its contents vary.
    extra : float
        High end less typical, per unit of the oil's mass. [-]
    """

    constituent: str
    why: str
    extra: float


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
        "constituent", "material", "shared" or "phototoxic sum"; or `UNMATCHED`, for a name in a
        lot's analysis that matches no constituent but a limit: none of the lot is within.
    weights : mapping of str to float
        By oil id: how much of each unit of its mass counts, at the high end. [-]
    ceiling : float or None
        What the weighted sum of mass fractions may be at most; 0 for a prohibition; None where
        no figure is on record, which is never a pass. [-]
    decides : bool
        True for a law or a standard in force; False for advice, such as a handbook's.
    figure_basis : str
        The weakest grade among the limit and the figures that are weighed.
    source : str
    remark : str
    typical_weights : mapping of str to float, optional
        As `weights`, by typical figures; the same where left out. [-]
    doubts : mapping of str to tuple of Doubt
        By oil id: why its two weights differ.
    confirmed : str
        How the limit itself is known: "read", "law", "upper bound" or "not confirmed"; "" where
        there is none.
    accepted : str
        The maker's reason to accept this limit where it is not settled; "" where nobody did.
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
    typical_weights: Mapping[str, float] | None = None
    doubts: Mapping[str, tuple[Doubt, ...]] = field(default_factory=dict)
    confirmed: str = ""
    accepted: str = ""

    @property
    def typical(self) -> Mapping[str, float]:
        """By oil id: how much of each unit of its mass counts, by typical figures. [-]"""
        return self.weights if self.typical_weights is None else self.typical_weights

    @property
    def binding(self) -> Mapping[str, float]:
        """The weights that decide: typical ones where the maker accepted the rest."""
        return self.typical if self.accepted else self.weights

    @property
    def name(self) -> str:
        """Rule set and subject, by which a maker accepts it."""
        return f"{self.rule_set}: {self.subject}"

    def amount(self, mass_fractions: Mapping[str, float]) -> float:
        """The weighted sum over a product's mass fractions, at the high end. [-]"""
        return _weighed(self.weights, mass_fractions)

    def share(
        self, mass_fractions: Mapping[str, float], weights: Mapping[str, float] | None = None
    ) -> float:
        """Share of the limit that is used at the high end, or by `typical` or `binding`.

        Infinite for any amount of something prohibited; NaN where no figure is on record.
        """
        if self.ceiling is None:
            return math.nan
        amount = _weighed(self.weights if weights is None else weights, mass_fractions)
        if self.ceiling == 0:
            return math.inf if amount > 0 else 0.0
        return amount / self.ceiling

    def verdict(self, mass_fractions: Mapping[str, float]) -> str:
        """The verdict on a product: `WITHIN`, `NOT_SETTLED`, `OVER` or `UNKNOWN`."""
        if self.ceiling is None:
            return UNKNOWN
        if self.share(mass_fractions) <= 1 + _ROUNDING:
            return WITHIN
        is_over = self.share(mass_fractions, self.typical) > 1 + _ROUNDING
        return OVER if is_over else NOT_SETTLED

    def is_broken_by(self, mass_fractions: Mapping[str, float]) -> bool:
        """True where a product is over, or not settled and not accepted."""
        verdict = self.verdict(mass_fractions)
        return verdict == OVER or (verdict == NOT_SETTLED and not self.accepted)


def _weighed(weights: Mapping[str, float], mass_fractions: Mapping[str, float]) -> float:
    return sum(weight * mass_fractions.get(name, 0.0) for name, weight in weights.items())


class Finding(NamedTuple):
    """One product judged by one rule.

    Attributes
    ----------
    rule : Rule
    amount, share : float
        What is in it, and how much of the limit that uses, at the high end. [-]
    share_typical : float
        The same share by typical figures. [-]
    verdict : str
        `WITHIN`, `NOT_SETTLED`, `OVER` or `UNKNOWN`.
    from_oils : tuple of (str, float)
        Oil ids with what each adds to `amount`, largest first.
    in_doubt : tuple of (str, Doubt)
        Oil ids with what may lift the amount above the typical one, largest first.
    """

    rule: Rule
    amount: float
    share: float
    share_typical: float
    verdict: str
    from_oils: tuple[tuple[str, float], ...]
    in_doubt: tuple[tuple[str, Doubt], ...]

    @property
    def is_broken(self) -> bool:
        """True where it is over, or not settled and not accepted by the maker."""
        return self.is_over or (self.verdict == NOT_SETTLED and not self.rule.accepted)

    @property
    def is_over(self) -> bool:
        """True where even typical figures pass the limit."""
        return self.verdict == OVER

    @property
    def is_unknown(self) -> bool:
        """True where no figure is on record, which is never a pass."""
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
    """A product judged by each rule, worst first; plain tuples, for panels.

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
            rule.share(mass_fractions, rule.typical),
            rule.verdict(mass_fractions),
            brought_by(rule.weights, mass_fractions),
            _in_doubt(rule, mass_fractions),
        )
        for rule in rules
    )
    return tuple(sorted(found, key=_worst_first))


def _in_doubt(rule: Rule, fractions: Mapping[str, float]) -> tuple[tuple[str, Doubt], ...]:
    found = [
        (name, doubt, doubt.extra * fractions[name])
        for name, doubts in rule.doubts.items()
        if fractions.get(name, 0.0) > 0
        for doubt in doubts
    ]
    return tuple((name, doubt) for name, doubt, _ in sorted(found, key=lambda f: -f[2]))


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
