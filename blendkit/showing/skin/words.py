"""The findings of a skin check in sentences."""

from __future__ import annotations

from collections.abc import Iterable

from blendkit.foundation.units import counted, show
from blendkit.materials.search import names_of
from blendkit.skin.limits import WITHIN, Finding


def skin_in_words(findings: Iterable[Finding]) -> list[str]:
    """Sentences about findings: limits passed, and materials without a figure on record."""
    found = list(findings)
    over = [finding for finding in found if finding.is_over]
    sentences = [_over_in_words(finding) for finding in over]
    checked = sum(finding.verdict == WITHIN for finding in found)
    if checked and not over:
        sentences.append(f"Over none of the {counted(checked, 'limit')} on record that apply.")
    elif not over:  # no figure is never a pass
        sentences.append(
            "No limit on record applies to what is in the bottle: nothing was judged."
        )
    silent = [finding.rule.subject for finding in found if finding.is_unknown]
    if silent:
        names = ", ".join(dict.fromkeys(silent))
        sentences.append(f"No limit on record, so not judged: {names}.")
    return sentences


def _over_in_words(finding: Finding) -> str:
    rule = finding.rule
    oils = names_of(name for name, _ in finding.from_oils)
    source = f"{rule.subject} ({rule.rule_set}{'' if rule.decides else ', advice'})"
    if not rule.ceiling:
        return f"{source}: prohibited, and in the bottle from {oils}."
    return f"{source}: {show(finding.share)} times its limit, from {oils}."


def share_in_words(finding: Finding) -> str:
    """Share of a limit used, such as "13 %" or "12 times, over"."""
    if not finding.rule.ceiling:
        return "prohibited, over"
    if finding.is_over:
        return f"{show(finding.share)} times, over"
    return f"{show(finding.share * 100, 2)} %"
