"""The rows of the chart of skin limits."""

from collections.abc import Iterable
from itertools import islice
from typing import Any

from blendkit.foundation.units import show
from blendkit.materials.search import names_of
from blendkit.skin.finding_words import share_in_words
from blendkit.skin.limits import Finding

LAW, ADVICE = "law or standard", "advice"
MOST_SHOWN = 3.0  # longer bars are drawn to here; their words say how long they are
_MOST_LIMITS = 24
_SHORT = {
    "IFRA standards": "IFRA",
    "EU Cosmetics Regulation": "EU law",
    "UK Cosmetics Regulation": "UK law",
    "handbook dermal maximum": "handbook",
    "caution of these tables": "caution",
}


def limits_rows(findings: Iterable[Finding]) -> list[dict[str, Any]]:
    """Rows for `limits_chart`: limits that have a figure, in the order given."""
    judged = ((f.rule, f) for f in findings if f.rule.ceiling is not None and f.amount != 0)
    return [
        {
            "rank": rank,
            "limit": f"{rule.subject} · {_SHORT.get(rule.rule_set, rule.rule_set)}",
            "share": min(finding.share, 1e6),
            "drawn": min(finding.share, MOST_SHOWN),
            "typical": min(finding.share_typical, MOST_SHOWN),
            "amount": f"{show(finding.amount * 100)} %",
            "ceiling": f"{show((rule.ceiling or 0.0) * 100)} %",
            "basis": rule.figure_basis,
            "oils": names_of(name for name, _ in finding.from_oils),
            "source": rule.source,
            "verdict": finding.verdict,
            "decides": LAW if rule.decides else ADVICE,
            "words": share_in_words(finding),
        }
        for rank, (rule, finding) in enumerate(islice(judged, _MOST_LIMITS))
    ]
