"""The skin check: a blend against every published limit on record that applies to it.

This is a screen for a small batch, not an assessment. It errs on the strict side: the high end
of every range counts unless asked otherwise; an oil whose kind is unknown counts as the worse
kind; a constituent that an own lot's analysis does not name counts as in the shipped oil; and
where no figure is on record the verdict says so and is never a pass.

What decides: the IFRA standards everywhere; in the EU also EU law and a scientific opinion on
tea tree; in the UK its own rules and, because the table of those is incomplete, the EU's too.
A handbook's maxima stand beside them as advice. Bans on *adding* a substance judge no oil that
holds it by nature; `unchecked` names them, with purity rules and all else no percent can judge.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from functools import lru_cache
from types import MappingProxyType

import pandas as pd

from blendkit.blend.blend import Blend
from blendkit.blend.drops import fill
from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.units import show
from blendkit.materials import catalogue
from blendkit.materials.catalogue import Oil
from blendkit.skin import limits
from blendkit.skin.limits import (
    EU_SETS,
    HANDBOOK,
    IFRA,
    Content,
    Finding,
    Rule,
)
from blendkit.skin.published_limits import (
    Limit,
    Phototoxic,
    announced,
    in_force,
    phototoxic,
    published,
)

NO_RULE = "none on record"
COLUMNS = [
    "rule_set", "subject", "kind", "amount_percent", "limit_percent", "share_of_limit",
    "verdict", "figure_basis", "source", "decides", "from_oils", "remark",
]  # fmt: skip
_REGION_NOTES = {
    "EU": "EU law and the IFRA standards decide here. Other duties of EU law are not checked.",
    "UK": "The UK rules on record are incomplete, so the EU limits are counted as well.",
    "US": "No cosmetics law of the US is on record here; the IFRA standards alone decide.",
    "other": "No law of this region is on record here; the IFRA standards alone decide.",
}
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


def rules_for(
    oil_ids: Iterable[str],
    region: str = "EU",
    use: str = "perfume oil",
    figures: str = "high",
) -> tuple[Rule, ...]:
    """Every rule that applies to a set of oils.

    Parameters
    ----------
    oil_ids : iterable of str
        Shipped oils and own lots.
    region : str, optional
        "EU", "UK", "US" or "other".
    use : str, optional
        "perfume oil", or "body oil" for what is sold to be rubbed in, which is stricter.
    figures : str, optional
        "high" ends of the ranges, or "typical" values.

    Returns
    -------
    tuple of Rule
        One for each limit on record; and one without a ceiling for each oil that no law or
        standard limits by itself, or whose composition is not known.

    Raises
    ------
    BadNumber
        Lists every choice that is not known, with the nearest that is.
    """
    return rules_of(_oils(oil_ids), *limits.checked_choices(region, use, figures))


def _oils(oil_ids: Iterable[str]) -> tuple[Oil, ...]:
    return tuple(catalogue.oil(oil_id) for oil_id in dict.fromkeys(oil_ids))


@lru_cache(maxsize=256)
def rules_of(oils: tuple[Oil, ...], region: str, use: str, figures: str) -> tuple[Rule, ...]:
    """As `rules_for`, for oils with whatever compositions they carry."""
    rules: list[Rule] = []
    limited: set[str] = set()
    for limit in in_force(region, use):
        if limit.applies_to == "all sources" and not limit.is_condition:
            rule = _rule(limit, oils, figures, region)
            rules += [rule] if rule else []
            if rule and rule.decides and limit.of_materials:
                limited.update(rule.weights)
    sensitive = {oil.id: known for oil in oils if (known := _phototoxic(oil))}
    rules += [_phototoxic_sum(oils, sensitive)] if sensitive else []
    rules += _furocoumarin_rules(oils, sensitive, figures)
    return (*rules, *_rules_without_limit(oils, limited | set(sensitive)))


def _content(oil: Oil, members: AbstractSet[str], figures: str) -> Content | None:
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
        elif (held := _content(oil, limit.members, figures)) and held.fraction > 0:
            weights[oil.id] = held.fraction
            grades.append(held.grade)
            if held.carried_over:
                remarks.append(f"{oil.name}: its analysis is silent; the usual figure counts")
    if not weights:
        return None
    silent = [oil.name for oil in oils if oil.id not in weights and not _is_described(oil)]
    if silent and not limit.of_materials:
        remarks.append(f"Not counted, for want of figures: {_listed(silent)}")
    return Rule(
        limit.rule_set, limit.name, limit.kind, MappingProxyType(weights), limit.ceiling,
        limit.rule_set != HANDBOOK, limits.weakest(grades), limit.source,
        " ".join(_sentence(remark) for remark in remarks),
    )  # fmt: skip


def _analysis_wins(oil: Oil, stands_for: str) -> bool:
    """Whether a lot's own figure takes the place of a limit derived from a usual content."""
    return oil.id != oil.based_on and any(s.constituent == stands_for for s in oil.composition)


def _is_described(oil: Oil) -> bool:
    return oil.composition_known and oil.unidentified_fraction < _MOSTLY


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:].rstrip('.')}."


def _phototoxic(oil: Oil) -> Phototoxic | None:
    """Its limit in the phototoxic sum, if it has one; a prohibition is a rule of its own."""
    known = phototoxic().get(oil.based_on)
    if known is None and oil.latin_name.startswith("Citrus") and "distilled" not in oil.process:
        known = phototoxic()["citrus-unknown"]  # kind unknown: the most phototoxic one
    return known if known is not None and known.ceiling > 0 else None


def _phototoxic_sum(oils: Sequence[Oil], sensitive: Mapping[str, Phototoxic]) -> Rule:
    beside = [o.name for o in oils if o.id in sensitive and sensitive[o.id].rule_set != IFRA]
    note = f" Counted in out of caution: {_listed(beside)}." if beside else ""
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
    held = {oil.id: _content(oil, {_BERGAPTEN}, figures) for oil in lots}
    measured = {n: f.fraction for n, f in held.items() if f and not f.carried_over}
    if any(measured.values()):
        missing = [o.name for o in oils if o.id in sensitive and o.id not in measured]
        limit = next(row for row in published() if row.applies_to == "measured only")
        remark = f"Too low: not measured in {_listed(missing)}." if missing else _MEASURED
        yield Rule(
            limit.rule_set, "bergapten, as measured in the lots", _SUM, measured,
            limit.ceiling, False, limit.grade, limit.source, f"Information. {remark}",
        )  # fmt: skip
    coming = announced()
    found = {oil.id: _content(oil, coming.members, figures) for oil in oils}
    marked = {name: marker for name, marker in found.items() if marker and marker.fraction}
    if marked:
        weights = {name: marker.fraction for name, marker in marked.items()}
        grade = limits.weakest([coming.grade, *(marker.grade for marker in marked.values())])
        yield Rule(
            coming.rule_set, "furocoumarins on record", _SUM, weights, None, False, grade,
            coming.source, f"Information. {coming.ceiling * 100:g} % (5 ppm) {_COMING}",
        )  # fmt: skip


def _rules_without_limit(oils: Sequence[Oil], limited: Collection[str]) -> Iterator[Rule]:
    for oil in oils:
        if oil.id in limited and _is_described(oil):
            continue
        remark = "Its own limit is another row. " if oil.id in limited else _NO_LIMIT
        if not _is_described(oil):
            remark += "What it is made of is not on record, or only in part. "
        remark += f"{show(oil.unidentified_fraction * 100, 2)} % of it is in no figure."
        grade = limits.weakest([oil.grade, *(share.grade for share in oil.composition)])
        source = "no figure in any rule set on record"
        yield Rule(
            NO_RULE, oil.name, "material", {oil.id: 1.0}, None, False, grade, source, remark
        )


def skin_findings(
    blend: Blend, region: str = "EU", use: str = "perfume oil", figures: str = "high"
) -> pd.DataFrame:
    """A blend, as it is really filled, against every limit on record that applies to it.

    Parameters
    ----------
    blend : Blend
        Its whole drops, with the drop sizes and densities in force, give the percents by mass
        of the finished product that are judged.
    region, use, figures : str, optional
        See `rules_for`.

    Returns
    -------
    DataFrame
        Worst first, one row a limit, sums included. Columns as in `COLUMNS`; `decides` is
        False for advice and information. A prohibition has limit 0; a row without any figure
        says "no limit on record". For the phototoxic sum, 100 % is the whole.
    """
    rules = rules_for([part.oil.id for part in blend.oils], region, use, figures)
    return _frame(limits.findings_of(rules, fill(blend).mass_fractions()))


def skin_findings_of(
    composition_percent_by_mass: Mapping[str, float],
    region: str = "EU",
    use: str = "perfume oil",
    figures: str = "high",
) -> pd.DataFrame:
    """As `skin_findings`, for percents by mass of the finished product.

    Parameters
    ----------
    composition_percent_by_mass : mapping of str to float
        By oil id; carriers may be named and count for nothing. The rest is carrier.
    region, use, figures : str, optional
        See `rules_for`.

    Raises
    ------
    BadNumber
        A percent below 0 or not a number, or more than 100 in all.
    UnknownMaterial
        No such oil or carrier.
    """
    percents = composition_percent_by_mass
    problems = [
        Problem(name, quoted(percent), "a percent by mass from 0 to 100")
        for name, percent in percents.items()
        if isinstance(percent, bool | str) or not 0 <= percent <= 100
    ]
    if not problems and sum(percents.values()) > 100 * (1 + 1e-9):
        got = f"{show(sum(percents.values()))} % in all"
        problems.append(Problem("composition", got, "at most 100 %, carrier included"))
    if problems:
        raise BadNumber(problems)
    carriers = set(catalogue.carrier_ids())
    rules = rules_for([n for n in percents if n not in carriers], region, use, figures)
    return _frame(
        limits.findings_of(rules, {name: part / 100 for name, part in percents.items()})
    )


def _frame(findings: Iterable[Finding]) -> pd.DataFrame:
    rows = []
    for finding in findings:
        rule = finding.rule
        limit = math.nan if rule.ceiling is None else rule.ceiling * 100
        numbers = (finding.amount * 100, limit, finding.share)
        basis = (finding.verdict, rule.figure_basis, rule.source, rule.decides)
        words = (from_oils_in_words(finding), rule.remark)
        rows.append((rule.rule_set, rule.subject, rule.kind, *numbers, *basis, *words))
    return pd.DataFrame(rows, columns=COLUMNS)


def from_oils_in_words(finding: Finding) -> str:
    """Which oils bring the amount, largest first, such as "Lemon 0.02 %, Litsea 0.01 %"."""
    return ", ".join(
        f"{catalogue.oil(name).name} {show(part * 100)} %" for name, part in finding.from_oils
    )


def unchecked(
    blend: Blend, region: str = "EU", use: str = "perfume oil", figures: str = "high"
) -> tuple[str, ...]:
    """What the check could not look at, or knows only by recall or estimate, in sentences."""
    oils = _oils(part.oil.id for part in blend.oils)
    rules = rules_for([oil.id for oil in oils], region, use, figures)
    told = [_REGION_NOTES[region]]
    if unknown := [oil.name for oil in oils if not _is_described(oil)]:
        told.append(f"In no sum, or only in part, for want of an analysis: {_listed(unknown)}.")
    parts = [(oil.unidentified_fraction, oil.name) for oil in oils if _is_described(oil)]
    if rest := [f"{show(part * 100, 2)} % of {name}" for part, name in parts if part > 0]:
        told.append(f"Described by no figure, so not counted: {_listed(rest)}.")
    for grade, word in (("memory", "recalled"), ("estimated", "estimated")):
        weak = [rule for rule in rules if rule.decides and rule.figure_basis == grade]
        if names := [f"{rule.subject} ({rule.rule_set})" for rule in weak]:
            told.append(f"Decided by a figure that is {word}, not read: {_listed(names)}.")
    return (*told, *_questions(oils, region, use))


def _questions(oils: Sequence[Oil], region: str, use: str) -> list[str]:
    """Bans on adding a substance, purity rules and the like: for the supplier to answer."""
    told = []
    for limit in in_force(region, use):
        holding = [
            oil.name
            for oil in oils
            if oil.based_on in limit.members or _content(oil, limit.members, "high")
        ]
        if not holding or limit.applies_to == "measured only":
            continue
        what = f"{limit.rule_set}, {limit.name}"
        if limit.is_condition and limit.applies_to == "all sources":
            told.append(f"Ask the supplier ({what}): {limit.remark}. For {_listed(holding)}.")
        elif not limit.is_condition and limit.applies_to == "added only":
            where = _listed(holding)
            told.append(f"May not be added ({what}); natural in {where}: not judged.")
    for oil in oils:
        known = phototoxic().get(oil.based_on)
        if known and known.is_unsure:
            told.append(f"{oil.name} in sunlight: {known.acts_by}. {_sentence(known.remark)}")
    return told


def _listed(names: Iterable[str]) -> str:
    return ", ".join(dict.fromkeys(names))
