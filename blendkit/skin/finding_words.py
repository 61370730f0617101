"""Findings in sentences: what is over, what is not settled and what would settle it.

A verdict speaks of laws and standards alone; advice comes after it, in sentences of its own.
"""

import math
from collections.abc import Iterable

from blendkit.foundation.units import counted, show
from blendkit.materials import catalogue
from blendkit.materials.catalogue import Oil
from blendkit.materials.search import names_of
from blendkit.skin import limits
from blendkit.skin.limits import Doubt, Finding, Rule

CAUTION_FROM = 0.85  # of a limit; judgement
_MOST_DOUBTS = 3
_MOSTLY = 0.5  # an oil with more than this undescribed counts as one of unknown composition
_WHY = {
    limits.SILENT: "its analysis does not name it",
    limits.NOT_FOUND: "its analysis names a reporting limit only",
    limits.OLD_BOUND: "only an old bound is on record",
    limits.RANGE: "its content varies",
}
_KNOWN_BY = {
    "law": "law",
    "read": "read at its source",
    "upper bound": "an upper bound, the true limit may be lower",
    "not confirmed": "not confirmed at its source",
}
NOTHING_JUDGED = "No limit on record applies to what is in the bottle: nothing was judged."


def is_described(oil: Oil) -> bool:
    """True where most of an oil is described by an analysis."""
    return oil.composition_known and oil.unidentified_fraction < _MOSTLY


def skin_in_words(findings: Iterable[Finding]) -> list[str]:
    """A skin check in sentences: the verdict first, then what was not checked, then advice."""
    found = list(findings)
    deciding = [finding for finding in found if finding.rule.decides]
    broken = [finding for finding in deciding if finding.is_broken]
    sentences = [broken_in_words(f) for f in sorted(broken, key=lambda f: not f.is_over)]
    sentences += [] if broken else [within_in_words(deciding)]
    sentences += accepted_in_words(deciding)
    oils = {name for f in found if f.is_unknown and f.amount > 0 for name, _ in f.from_oils}
    sentences += without_analysis(catalogue.oil(name) for name in sorted(oils))
    return [*sentences, *advice_in_words(found)]


def broken_in_words(finding: Finding) -> str:
    """A limit that is over or not settled, with what would settle it."""
    rule = finding.rule
    oils = names_of(name for name, _ in finding.from_oils)
    source = f"{rule.subject} ({rule.rule_set})"
    if finding.is_over and not rule.ceiling:
        return f"Over: {source} is prohibited, and in the bottle from {oils}."
    if finding.is_over:
        low, high = show(finding.share_typical), show(finding.share)
        times = high if low == high else f"{low} to {high}"
        return f"Over: {source}, {times} times its limit, from {oils}."
    if rule.kind == limits.UNMATCHED:
        return f"Not settled: {source}. {rule.remark}"
    if not rule.ceiling:
        reach = f"is prohibited, and may be in the bottle from {oils}"
    else:
        typical = show(finding.share_typical * 100, 2)
        reach = f"may be {show(finding.share)} times its limit (typically {typical} % of it)"
    return f"Not settled: {source} {reach}. {what_would_settle(finding)}"


def what_would_settle(finding: Finding) -> str:
    """Question to the supplier where a finding is not settled; "" for any other."""
    if finding.verdict != limits.NOT_SETTLED:
        return ""
    if finding.rule.kind == limits.UNMATCHED:
        return finding.rule.remark
    asked = list(dict.fromkeys(_asked(name, doubt) for name, doubt in finding.in_doubt))
    more = len(asked) - _MOST_DOUBTS
    rest = f"; and {more} more" if more > 0 else ""
    return f"Ask for {'; '.join(asked[:_MOST_DOUBTS])}{rest}."


def _asked(oil_id: str, doubt: Doubt) -> str:
    name = catalogue.oil(oil_id).name
    if doubt.why == limits.KIND:
        certificate = f", or a certificate for {doubt.constituent}" if doubt.constituent else ""
        return f"the kind of {name}{certificate}"
    return f"a certificate for {doubt.constituent} in {name} ({_WHY[doubt.why]})"


def within_in_words(deciding: Iterable[Finding]) -> str:
    """A pass in words, with the closest limit and how much of it is used."""
    judged = [f for f in deciding if f.verdict == limits.WITHIN and f.amount > 0]
    if not judged:
        return NOTHING_JUDGED
    closest = max(judged, key=lambda finding: finding.share)
    percent = min(closest.share * 100, 99.9) if closest.share < 1 else 100  # never rounded up
    care = " Take care: little room is left." if closest.share >= CAUTION_FROM else ""
    return (
        f"Within the {counted(len(judged), 'limit')} on record that apply. Closest: "
        f"{closest.rule.subject} ({closest.rule.rule_set}; {known_by(closest.rule)}), "
        f"{show(percent, 3)} % of its limit.{care}"
    )


def known_by(rule: Rule) -> str:
    """Standing of a limit's figure in a few words; "" where there is none."""
    return _KNOWN_BY.get(rule.confirmed, "")


def accepted_in_words(deciding: Iterable[Finding]) -> list[str]:
    """The limits that are not settled and that the maker accepted, with the reason."""
    return [
        f"Not settled, and accepted by the maker: {finding.rule.subject} "
        f"({finding.rule.rule_set}), {_times(finding, 'up to ')}. "
        f"Reason: {finding.rule.accepted}"
        for finding in deciding
        if finding.verdict == limits.NOT_SETTLED and finding.rule.accepted
    ]


def share_in_words(finding: Finding) -> str:
    """Share of a limit in words, such as "13 %" or "12 times, over"."""
    if not finding.rule.ceiling:
        return f"{_times(finding)}, {finding.verdict}"
    if finding.verdict != limits.WITHIN:
        return f"{show(finding.share)} times, {finding.verdict}"
    return f"{show(finding.share * 100, 2)} %"


def advice_in_words(findings: Iterable[Finding]) -> list[str]:
    """Advice that a product does not follow; it is no part of a verdict."""
    return [
        f"Advice, not law: {finding.rule.subject} is {_times(finding)} "
        f"({finding.rule.rule_set}), from {names_of(n for n, _ in finding.from_oils)}."
        for finding in findings
        if finding.is_broken and not finding.rule.decides
    ]


def _times(finding: Finding, reach: str = "") -> str:
    if finding.rule.ceiling and math.isfinite(finding.share):
        return f"{reach}{show(finding.share)} times its limit"
    return "not counted" if finding.rule.kind == limits.UNMATCHED else "prohibited"


def without_analysis(oils: Iterable[Oil]) -> list[str]:
    """The oils of which nothing, or less than half, is on record, in one sentence."""
    names = [f"{oil.name} ({_how_little(oil)})" for oil in oils if not is_described(oil)]
    return [f"Not checked: {', '.join(dict.fromkeys(names))}."] if names else []


def _how_little(oil: Oil) -> str:
    if not oil.composition:
        return "no analysis on record"
    return f"{show(oil.unidentified_fraction * 100, 2)} % of it in no analysis"
