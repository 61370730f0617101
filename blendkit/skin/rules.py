"""The rules for a set of oils: each limit on record as a weighted sum under a ceiling.

An oil whose kind is unknown counts as the worse kind; a constituent that an own lot's analysis
does not name counts as in the shipped oil; and an oil that no law or standard judges, by itself
or by what it holds, gets a rule without a ceiling, which is never a pass.
"""

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from functools import cache, lru_cache
from types import MappingProxyType
from typing import Any

from blendkit.blend.market import Market
from blendkit.foundation.units import show
from blendkit.materials import catalogue
from blendkit.materials.catalogue import Oil
from blendkit.materials.constituents import match, names_without_isomer, plain_name
from blendkit.skin import limits, published_limits
from blendkit.skin.contents import content_in
from blendkit.skin.finding_words import is_described
from blendkit.skin.limits import EU_SETS, HANDBOOK, IFRA, KIND, SILENT, UNMATCHED, Doubt, Rule
from blendkit.skin.published_limits import Limit

NO_RULE = "none on record"
_ADVICE = "Advice of a handbook, not a law."
_BORROWED = {
    "UK": "An EU limit, counted because the UK rules on record are incomplete.",
    "Canada": "An EU limit, counted because Canada's own list of limits was not read.",
}
_HIGHEST = "the highest on record counts"
_SUM = "phototoxic sum"
_MEASURED = "Measured in every phototoxic oil; the sum decides here all the same."
_COMING = "over eight markers is announced, not in force; the four on record are counted here."
_NO_LIMIT = "No law or standard on record limits this oil, or what it is known to hold. "
_WEAK = {
    "memory": "The limit itself is recalled, not read.",
    "estimated": "The limit itself is estimated, not read.",
}
_BERGAPTEN = "484-20-8"
_SHORTEST_NAME = 6  # of a limit, to be looked for inside another name


@lru_cache(maxsize=256)
def rules_of(oils: tuple[Oil, ...], market: Market) -> tuple[Rule, ...]:
    """Every rule that applies to some oils, with whatever compositions they carry."""
    applied = [
        limit
        for limit in published_limits.in_force(market)
        if limit.applies_to == "all sources" and not limit.is_condition
    ]
    rules = [rule for limit in applied if (rule := _rule(limit, oils, market.region))]
    sensitive = {oil.id: known for oil in oils if (known := _phototoxic(oil))}
    rules += [_phototoxic_sum(oils, sensitive)] if sensitive else []
    judging = [rule.weights for rule in rules if rule.decides and rule.ceiling is not None]
    rules += _furocoumarin_rules(oils, sensitive)
    rules += _rules_for_unmatched(oils, applied)
    return (*rules, *_rules_without_limit(oils, {name for own in judging for name in own}))


def _rule(limit: Limit, oils: Sequence[Oil], region: str) -> Rule | None:
    remarks = [_ADVICE] if limit.rule_set == HANDBOOK else []
    remarks += [_BORROWED[region]] if region in _BORROWED and limit.rule_set in EU_SETS else []
    remarks += [_WEAK[limit.grade]] if limit.grade in _WEAK else []
    remarks += [limit.remark] if limit.remark else []
    held = {
        oil.id: found for oil in oils if not limit.of_materials
        if (found := content_in(oil, limit.members)) and found.fraction > 0
    }  # fmt: skip
    weights, typical = dict[str, float](), dict[str, float]()
    for oil in oils:
        if oil.id in held:
            weights[oil.id], typical[oil.id] = held[oil.id].fraction, held[oil.id].typical
            if silent := listed(d.constituent for d in held[oil.id].doubts if d.why == SILENT):
                remarks.append(f"{oil.name}: its analysis is silent on {silent}; {_HIGHEST}")
        # a lot's own figure takes the place of a limit derived from a usual content
        elif oil.based_on in limit.members and limit.stands_for not in oil.analysed:
            weights[oil.id] = typical[oil.id] = 1.0
    if not weights:
        return None
    unknown = [oil.name for oil in oils if oil.id not in weights and not is_described(oil)]
    if unknown and not limit.of_materials:
        remarks.append(f"Not counted, for want of figures: {listed(unknown)}")
    ceiling = None if math.isnan(limit.ceiling) else limit.ceiling
    return Rule(
        limit.rule_set, limit.name, limit.kind, MappingProxyType(weights), ceiling,
        limit.rule_set != HANDBOOK,
        limits.weakest([limit.grade, *(found.grade for found in held.values())]), limit.source,
        " ".join(sentence(remark) for remark in remarks),
        typical_weights=MappingProxyType(typical),
        doubts=MappingProxyType({name: f.doubts for name, f in held.items() if f.doubts}),
        confirmed=limit.confirmed,
    )  # fmt: skip


def sentence(text: str) -> str:
    """A remark with a capital in front and a full stop behind."""
    return f"{text[:1].upper()}{text[1:].rstrip('.')}."


def _phototoxic(oil: Oil) -> dict[str, Any] | None:
    """Its limit in the phototoxic sum, if it has one; a prohibition is a rule of its own."""
    # kind unknown: the most phototoxic one
    name = "citrus-unknown" if _may_be_expressed(oil) else oil.based_on
    known = published_limits.phototoxic().get(name)
    return known if known and known["limit_percent"] > 0 else None


def _may_be_expressed(oil: Oil) -> bool:
    """True for a citrus oil of an unknown process."""
    return (
        oil.based_on not in published_limits.phototoxic()
        and oil.latin_name.startswith("Citrus")
        and "distilled" not in oil.process
    )


def _phototoxic_sum(oils: Sequence[Oil], sensitive: Mapping[str, dict[str, Any]]) -> Rule:
    cautious = [
        o.name for o in oils if o.id in sensitive and sensitive[o.id]["rule_set"] != IFRA
    ]
    note = f" Counted in out of caution: {listed(cautious)}." if cautious else ""
    weights = {name: 1 / (known["limit_percent"] / 100) for name, known in sensitive.items()}
    in_doubt = {oil.id for oil in oils if _may_be_expressed(oil)}
    return Rule(
        IFRA, "phototoxic oils, each as a share of its own limit", _SUM,
        MappingProxyType(weights), 1.0, True,
        limits.weakest(known["grade"] for known in sensitive.values()),
        "IFRA Standards on phototoxic oils, which add up shares (recalled); not confirmed at "
        "its source; single limits: "
        + "; ".join(dict.fromkeys(known["source"] for known in sensitive.values())),
        "Use over own limit, added up, may not pass the whole (100 %)." + note,
        typical_weights={name: 0.0 if name in in_doubt else w for name, w in weights.items()},
        doubts={name: (Doubt("", KIND, weights[name]),) for name in in_doubt},
        confirmed="not confirmed",
    )  # fmt: skip


def _furocoumarin_rules(oils: Sequence[Oil], sensitive: Collection[str]) -> Iterator[Rule]:
    """The 15 ppm route, for measured lots only, and the announced 5 ppm: as information."""
    held = {o.id: content_in(o, {_BERGAPTEN}) for o in oils if _BERGAPTEN in o.analysed}
    measured = {name: found.fraction for name, found in held.items() if found}
    if any(measured.values()):
        missing = [o.name for o in oils if o.id in sensitive and o.id not in measured]
        limit = next(
            row for row in published_limits.published() if row.applies_to == "measured only"
        )
        remark = f"Too low: not measured in {listed(missing)}." if missing else _MEASURED
        yield Rule(
            limit.rule_set, "bergapten, as measured in the lots", _SUM, measured,
            limit.ceiling, False, limit.grade, limit.source, f"Information. {remark}",
            confirmed=limit.confirmed,
        )  # fmt: skip
    coming = published_limits.announced()
    found = ((oil.id, content_in(oil, coming.members)) for oil in oils)
    marked = {name: marker for name, marker in found if marker and marker.fraction}
    if marked:
        weights = {name: marker.fraction for name, marker in marked.items()}
        grade = limits.weakest([coming.grade, *(marker.grade for marker in marked.values())])
        yield Rule(
            coming.rule_set, "sum of furocoumarins", _SUM, weights, None, False, grade,
            coming.source, f"Information. {coming.ceiling * 100:g} % (5 ppm) {_COMING}",
            confirmed=coming.confirmed,
        )  # fmt: skip


def _rules_for_unmatched(oils: Sequence[Oil], applied: Iterable[Limit]) -> Iterator[Rule]:
    """A rule for each name of a lot's analysis that nothing matches and a limit may mean."""
    laws_first = sorted(applied, key=lambda limit: limit.rule_set == HANDBOOK)
    for oil in oils:
        for text in oil.unmatched:
            plain = plain_name(text)
            meant = (a for a in laws_first if any(name in plain for name in _names_of(a)))
            if (limit := next(meant, None)) is None:
                continue
            yield Rule(
                limit.rule_set, f"{text} in {oil.name}", UNMATCHED, {oil.id: 1.0}, 0.0,
                limit.rule_set != HANDBOOK, limit.grade, limit.source,
                f"It has a limit ({limit.name}) and was not counted. Write its usual name or "
                "its CAS number in the analysis.",
                typical_weights={oil.id: 0.0}, confirmed=limit.confirmed,
            )  # fmt: skip


@cache
def _names_of(limit: Limit) -> frozenset[str]:
    """Plain CAS numbers and names of what a limit counts."""
    if limit.of_materials:
        return frozenset()
    known = filter(None, (match("", number) for number in limit.members))
    names = [names_without_isomer(one.id) for one in known]
    long = {name for own in names for name in own if len(name) >= _SHORTEST_NAME}
    return frozenset({*map(plain_name, limit.members), *long})


def _rules_without_limit(oils: Sequence[Oil], judged: Collection[str]) -> Iterator[Rule]:
    for oil in oils:
        if oil.id in judged and is_described(oil):
            continue
        remark = "What limits it is another row. " if oil.id in judged else _NO_LIMIT
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
