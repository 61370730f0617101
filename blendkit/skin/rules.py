"""The rules for a set of oils: each limit on record as a weighted sum under a ceiling.

An oil whose kind is unknown counts as the worse kind; a constituent that an own lot's analysis
does not name counts as in the shipped oil; and an oil that nothing on record limits gets a rule
without a ceiling, which says so and is never a pass.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from functools import lru_cache
from types import MappingProxyType

from blendkit.blend.market import Market
from blendkit.foundation.units import show
from blendkit.materials import catalogue
from blendkit.materials.catalogue import Oil
from blendkit.skin import limits
from blendkit.skin.limits import EU_SETS, HANDBOOK, IFRA, Content, Rule
from blendkit.skin.published_limits import (
    Limit,
    Phototoxic,
    announced,
    in_force,
    phototoxic,
    published,
)

NO_RULE = "none on record"
_ADVICE = "Advice of a handbook, not a law."
_UK_NOTE = "An EU limit, counted because the UK rules on record are incomplete."
_SUM = "phototoxic sum"
_MEASURED = "Measured in every phototoxic oil; the sum decides here all the same."
_COMING = "over eight markers is announced, not in force; the four on record are counted here."
_NO_LIMIT = "No law or standard on record limits this oil by itself. "
_WEAK = {
    "memory": "The limit itself is recalled, not read.",
    "estimated": "The limit itself is estimated, not read.",
}
_BERGAPTEN = "484-20-8"
_MOSTLY = 0.5  # an oil with more than this undescribed counts as one of unknown composition


@lru_cache(maxsize=256)
def rules_of(oils: tuple[Oil, ...], market: Market, figures: str) -> tuple[Rule, ...]:
    """Every rule that applies to some oils, with whatever compositions they carry.

    Choices are those of `blendkit.skin.check.rules_for`, checked.
    """
    rules: list[Rule] = []
    limited: set[str] = set()
    for limit in in_force(market):
        if limit.applies_to == "all sources" and not limit.is_condition:
            rule = _rule(limit, oils, figures, market.region)
            rules += [rule] if rule else []
            if rule and rule.decides and rule.ceiling is not None and limit.of_materials:
                limited.update(rule.weights)
    sensitive = {oil.id: known for oil in oils if (known := _phototoxic(oil))}
    rules += [_phototoxic_sum(oils, sensitive)] if sensitive else []
    rules += _furocoumarin_rules(oils, sensitive, figures)
    return (*rules, *_rules_without_limit(oils, limited | set(sensitive)))


def content_in(oil: Oil, members: AbstractSet[str], figures: str) -> Content | None:
    """How much of some constituents an oil holds; None where it is not known to hold any.

    Where an own lot's analysis is silent, the oil it is based on speaks: see `limits.content`.
    """
    is_lot = oil.id != oil.based_on
    shipped = catalogue.oil(oil.based_on).composition if is_lot else ()
    if members.isdisjoint(share.constituent for share in (*oil.composition, *shipped)):
        return None
    return limits.content(oil.composition, members, figures, shipped)


def _rule(limit: Limit, oils: Sequence[Oil], figures: str, region: str) -> Rule | None:
    remarks = [_ADVICE] if limit.rule_set == HANDBOOK else []
    remarks += [_UK_NOTE] if region == "UK" and limit.rule_set in EU_SETS else []
    remarks += [_WEAK[limit.grade]] if limit.grade in _WEAK else []
    remarks += [limit.remark] if limit.remark else []
    grades, weights = [limit.grade], {}
    for oil in oils:
        if limit.of_materials:
            if oil.based_on in limit.members and not _analysis_wins(oil, limit.stands_for):
                weights[oil.id] = 1.0
        elif (held := content_in(oil, limit.members, figures)) and held.fraction > 0:
            weights[oil.id] = held.fraction
            grades.append(held.grade)
            if held.carried_over:
                remarks.append(f"{oil.name}: its analysis is silent; the usual figure counts")
    if not weights:
        return None
    silent = [oil.name for oil in oils if oil.id not in weights and not is_described(oil)]
    if silent and not limit.of_materials:
        remarks.append(f"Not counted, for want of figures: {listed(silent)}")
    ceiling = None if math.isnan(limit.ceiling) else limit.ceiling
    return Rule(
        limit.rule_set, limit.name, limit.kind, MappingProxyType(weights), ceiling,
        limit.rule_set != HANDBOOK, limits.weakest(grades), limit.source,
        " ".join(sentence(remark) for remark in remarks),
    )  # fmt: skip


def _analysis_wins(oil: Oil, stands_for: str) -> bool:
    """Whether a lot's own figure takes the place of a limit derived from a usual content."""
    return oil.id != oil.based_on and any(s.constituent == stands_for for s in oil.composition)


def is_described(oil: Oil) -> bool:
    """Whether most of what an oil is made of is on record."""
    return oil.composition_known and oil.unidentified_fraction < _MOSTLY


def sentence(text: str) -> str:
    """A remark with a capital in front and a full stop behind."""
    return f"{text[:1].upper()}{text[1:].rstrip('.')}."


def _phototoxic(oil: Oil) -> Phototoxic | None:
    """Its limit in the phototoxic sum, if it has one; a prohibition is a rule of its own."""
    known = phototoxic().get(oil.based_on)
    if known is None and oil.latin_name.startswith("Citrus") and "distilled" not in oil.process:
        known = phototoxic()["citrus-unknown"]  # kind unknown: the most phototoxic one
    return known if known is not None and known.ceiling > 0 else None


def _phototoxic_sum(oils: Sequence[Oil], sensitive: Mapping[str, Phototoxic]) -> Rule:
    beside = [o.name for o in oils if o.id in sensitive and sensitive[o.id].rule_set != IFRA]
    note = f" Counted in out of caution: {listed(beside)}." if beside else ""
    weights = {name: 1 / known.ceiling for name, known in sensitive.items()}
    return Rule(
        IFRA, "phototoxic oils, each as a share of its own limit", _SUM,
        MappingProxyType(weights), 1.0, True,
        limits.weakest(known.grade for known in sensitive.values()),
        "IFRA text quoted word for word on a public data page; single limits: "
        + "; ".join(dict.fromkeys(known.source for known in sensitive.values())),
        "Use over own limit, added up, may not pass the whole (100 %)." + note,
    )  # fmt: skip


def _furocoumarin_rules(
    oils: Sequence[Oil], sensitive: Collection[str], figures: str
) -> Iterator[Rule]:
    """The 15 ppm route, for measured lots only, and the announced 5 ppm: as information."""
    lots = [oil for oil in oils if oil.id != oil.based_on]
    held = {oil.id: content_in(oil, {_BERGAPTEN}, figures) for oil in lots}
    measured = {n: f.fraction for n, f in held.items() if f and not f.carried_over}
    if any(measured.values()):
        missing = [o.name for o in oils if o.id in sensitive and o.id not in measured]
        limit = next(row for row in published() if row.applies_to == "measured only")
        remark = f"Too low: not measured in {listed(missing)}." if missing else _MEASURED
        yield Rule(
            limit.rule_set, "bergapten, as measured in the lots", _SUM, measured,
            limit.ceiling, False, limit.grade, limit.source, f"Information. {remark}",
        )  # fmt: skip
    coming = announced()
    found = {oil.id: content_in(oil, coming.members, figures) for oil in oils}
    marked = {name: marker for name, marker in found.items() if marker and marker.fraction}
    if marked:
        weights = {name: marker.fraction for name, marker in marked.items()}
        grade = limits.weakest([coming.grade, *(marker.grade for marker in marked.values())])
        yield Rule(
            coming.rule_set, "sum of furocoumarins", _SUM, weights, None, False, grade,
            coming.source, f"Information. {coming.ceiling * 100:g} % (5 ppm) {_COMING}",
        )  # fmt: skip


def _rules_without_limit(oils: Sequence[Oil], limited: Collection[str]) -> Iterator[Rule]:
    for oil in oils:
        if oil.id in limited and is_described(oil):
            continue
        remark = "Its own limit is another row. " if oil.id in limited else _NO_LIMIT
        if not is_described(oil):
            remark += "What it is made of is not on record, or only in part. "
        remark += f"{show(oil.unidentified_fraction * 100, 2)} % of it is in no figure."
        grade = limits.weakest([oil.grade, *(share.grade for share in oil.composition)])
        source = "no figure in any rule set on record"
        yield Rule(
            NO_RULE, oil.name, "material", {oil.id: 1.0}, None, False, grade, source, remark
        )


def oils_in_words(parts: Iterable[tuple[str, float]]) -> str:
    """Oils with their mass fractions, such as "Lemon 0.02 %, Litsea 0.01 %"."""
    return ", ".join(f"{catalogue.oil(name).name} {show(part * 100)} %" for name, part in parts)


def listed(names: Iterable[str]) -> str:
    """Names once each, with commas between."""
    return ", ".join(dict.fromkeys(names))
