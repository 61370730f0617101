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
from collections.abc import Iterable, Mapping, Sequence

import pandas as pd

from blendkit.blend.blend import Blend, BlendLike, as_blend
from blendkit.blend.filling import Filling
from blendkit.blend.market import Market
from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.units import show
from blendkit.materials import catalogue
from blendkit.materials.catalogue import Oil
from blendkit.skin import limits
from blendkit.skin.limits import Finding, Rule
from blendkit.skin.published_limits import in_force, phototoxic
from blendkit.skin.rules import (
    content_in,
    is_described,
    listed,
    oils_in_words,
    rules_of,
    sentence,
)

COLUMNS = [
    "rule_set", "subject", "kind", "amount_percent", "limit_percent", "share_of_limit",
    "verdict", "figure_basis", "source", "decides", "from_oils", "remark",
]  # fmt: skip


def rules_for(
    oil_ids: Iterable[str], market: Market, figures: str = "high"
) -> tuple[Rule, ...]:
    """Every rule that applies to a set of oils.

    Parameters
    ----------
    oil_ids : iterable of str
        Shipped oils and own lots.
    market : Market
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
        `figures` is not known.
    """
    return rules_of(_oils(oil_ids), market, limits.checked_figures(figures))


def _oils(oil_ids: Iterable[str]) -> tuple[Oil, ...]:
    return tuple(catalogue.oil(oil_id) for oil_id in dict.fromkeys(oil_ids))


def skin_findings(
    blend: BlendLike, region: str | None = None, use: str | None = None, figures: str = "high"
) -> pd.DataFrame:
    """A blend, as it is really filled, against every limit on record that applies to it.

    Parameters
    ----------
    blend : Blend, document, or path
        Its whole drops, with the drop sizes and densities in force, give the percents by mass
        of the finished product that are judged.
    region, use : str, optional
        As in `Market`; the blend's own where left out.
    figures : str, optional
        "high" ends of the ranges, or "typical" values.

    Returns
    -------
    DataFrame
        Worst first, one row a limit, sums included. Columns as in `COLUMNS`; `decides` is
        False for advice and information. A prohibition has limit 0; a row without any figure
        says "no limit on record". For the phototoxic sum, 100 % is the whole.
    """
    blend = as_blend(blend)
    market = blend.market.with_(region, use)
    return _frame(findings_in(blend.bottle, market, figures))


def findings_in(
    filling: Filling, market: Market | None = None, figures: str = "high"
) -> tuple[Finding, ...]:
    """A filled bottle against every limit that applies, worst first; plain tuples, for panels.

    The market is the bottle's own where left out.
    """
    oil_ids = [portion.material for portion in filling.oils]
    rules = rules_for(oil_ids, market or filling.fields.market, figures)
    return limits.findings_of(rules, filling.mass_fractions())


def skin_findings_of(
    composition_percent_by_mass: Mapping[str, float],
    region: str | None = None,
    use: str | None = None,
    figures: str = "high",
) -> pd.DataFrame:
    """As `skin_findings`, for percents by mass of the finished product.

    Parameters
    ----------
    composition_percent_by_mass : mapping of str to float
        By oil id; carriers may be named and count for nothing. The rest is carrier.
    region, use : str, optional
        As in `Market`.
    figures : str, optional
        "high" ends of the ranges, or "typical" values.

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
    oil_ids = [name for name in percents if name not in carriers]
    rules = rules_for(oil_ids, Market().with_(region, use), figures)
    return _frame(
        limits.findings_of(rules, {name: part / 100 for name, part in percents.items()})
    )


def _frame(findings: Iterable[Finding]) -> pd.DataFrame:
    rows = []
    for finding in findings:
        rule = finding.rule
        limit = math.nan if rule.ceiling is None else rule.ceiling * 100
        rows.append(
            (
                rule.rule_set,
                rule.subject,
                rule.kind,
                finding.amount * 100,
                limit,
                finding.share,
                finding.verdict,
                rule.figure_basis,
                rule.source,
                rule.decides,
                oils_in_words(finding.from_oils),
                rule.remark,
            )
        )
    return pd.DataFrame(rows, columns=COLUMNS)


def unchecked(blend: Blend, figures: str = "high") -> tuple[str, ...]:
    """What the check could not look at, or knows only by recall or estimate, in sentences."""
    oils = _oils(part.oil.id for part in blend.oils)
    rules = rules_for([oil.id for oil in oils], blend.market, figures)
    told = [blend.market.note]
    if unknown := [oil.name for oil in oils if not is_described(oil)]:
        told.append(f"In no sum, or only in part, for want of an analysis: {listed(unknown)}.")
    parts = [(oil.unidentified_fraction, oil.name) for oil in oils if is_described(oil)]
    if rest := [f"{show(part * 100, 2)} % of {name}" for part, name in parts if part > 0]:
        told.append(f"Described by no figure, so not counted: {listed(rest)}.")
    for grade, word in (("memory", "recalled"), ("estimated", "estimated")):
        weak = [rule for rule in rules if rule.decides and rule.figure_basis == grade]
        if names := [f"{rule.subject} ({rule.rule_set})" for rule in weak]:
            told.append(f"Decided by a figure that is {word}, not read: {listed(names)}.")
    return (*told, *_questions(oils, blend.market))


def _questions(oils: Sequence[Oil], market: Market) -> list[str]:
    """Bans on adding a substance, purity rules and the like: for the supplier to answer."""
    told = []
    for limit in in_force(market):
        holding = [
            oil.name
            for oil in oils
            if oil.based_on in limit.members or content_in(oil, limit.members, "high")
        ]
        if not holding or limit.applies_to == "measured only":
            continue
        what = f"{limit.rule_set}, {limit.name}"
        if limit.is_condition and limit.applies_to == "all sources":
            told.append(f"Ask the supplier ({what}): {limit.remark}. For {listed(holding)}.")
        elif not limit.is_condition and limit.applies_to == "added only":
            where = listed(holding)
            told.append(f"May not be added ({what}); natural in {where}: not judged.")
    for oil in oils:
        known = phototoxic().get(oil.based_on)
        if known and known.is_unsure:
            told.append(f"{oil.name} in sunlight: {known.acts_by}. {sentence(known.remark)}")
    return told
