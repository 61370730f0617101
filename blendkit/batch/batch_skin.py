"""A batch on skin: as wanted, as weighed, and with the scale at its worst."""

from __future__ import annotations

from typing import NamedTuple

from blendkit.batch.scaling import Batch
from blendkit.batch.weighing import worst_findings
from blendkit.blend.market import Market
from blendkit.skin.check import rules_in
from blendkit.skin.limits import Finding, findings_of


class BatchSkin(NamedTuple):
    """A batch against the skin limits, three times, each worst first.

    Attributes
    ----------
    planned, measured : tuple of Finding
        As wanted; and as counted and weighed.
    worst : tuple of Finding
        Each rule in its own worst case: every reading astray as far as the scale allows.
    """

    planned: tuple[Finding, ...]
    measured: tuple[Finding, ...]
    worst: tuple[Finding, ...]

    @property
    def over(self) -> bool:
        """Whether a limit is not kept, or may not be with the scale at its worst."""
        found = (*self.planned, *self.measured, *self.worst)
        return any(finding.is_broken for finding in found)


def skin_of(batch: Batch, market: Market | None = None) -> BatchSkin:
    """The batch against every limit on record, for the blend's own market where left out."""
    rules = rules_in(batch.blend, market)
    return BatchSkin(
        findings_of(rules, batch.exact_mass_fractions()),
        findings_of(rules, batch.mass_fractions()),
        worst_findings(rules, batch.weighings),
    )
