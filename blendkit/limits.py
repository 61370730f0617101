"""Skin limits as rules: what is counted, how it is weighed, and how much is allowed.

Every limit on record is linear: a weighted sum of the materials' mass fractions may not pass a
ceiling. A single oil's own limit, a constituent summed over all oils, a ceiling that several
materials share and the phototoxic sum differ only in their weights. `blendkit.skin` makes the
rules that apply to a blend; `blendkit.reformulation` keeps within them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


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
            return float("nan")
        amount = self.amount(mass_fractions)
        if self.ceiling == 0:
            return float("inf") if amount > 0 else 0.0
        return amount / self.ceiling

    def verdict(self, mass_fractions: Mapping[str, float]) -> str:
        """How a product stands to this rule: "within", "over" or "no limit on record"."""
        share = self.share(mass_fractions)
        if share != share:
            return VERDICTS["unknown"]
        # a billionth over is rounding in the arithmetic, not oil in the bottle
        return VERDICTS["over"] if share > 1 + 1e-9 else VERDICTS["within"]


VERDICTS: Mapping[str, str] = MappingProxyType(
    {"within": "within", "over": "over", "unknown": "no limit on record"}
)
