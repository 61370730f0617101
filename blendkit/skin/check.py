"""The skin check: a blend against every published limit on record that applies to it.

This is a screen for a small batch, not an assessment. A blend is over where even typical
figures pass a limit, and within where even the high ends stay below. Between the two it is not
settled, which is no more of a pass: an oil whose kind is unknown counts as the worse kind, and
a constituent that an own lot's analysis does not name counts as in the shipped oil. Where no
figure is on record the verdict says so and is never a pass.

What decides: the IFRA standards everywhere; in the EU also EU law and a scientific opinion on
tea tree; in the UK its own rules and, because the table of those is incomplete, the EU's too.
A handbook's maxima are advice. Bans on *adding* a substance judge no oil that holds it by
nature; `questions` names them, with purity rules and all else no percent can judge.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import cache

import pandas as pd

from blendkit.blend.blend import Blend, BlendLike, as_blend
from blendkit.blend.fields import Fields
from blendkit.blend.filling import Filling
from blendkit.blend.market import Market
from blendkit.materials import catalogue
from blendkit.materials.amounts import check_percents, material
from blendkit.materials.catalogue import Oil
from blendkit.skin import limits
from blendkit.skin.contents import content_in
from blendkit.skin.finding_words import what_would_settle
from blendkit.skin.limits import Finding, Rule
from blendkit.skin.published_limits import in_force, phototoxic
from blendkit.skin.rules import listed, oils_in_words, rules_of, sentence

_LEAST_OF_USE = 0.0002  # mass fraction: about a drop in a quarter litre; judgement
_NOT_PHOTOTOXIC = "not phototoxic at normal use"
COLUMNS = [
    "rule_set", "subject", "kind", "amount_percent", "limit_percent", "share_of_limit",
    "verdict", "figure_basis", "source", "decides", "from_oils", "remark", "share_typical",
    "confirmed", "to_settle", "accepted",
]  # fmt: skip


def rules_for(oil_ids: Iterable[str], market: Market) -> tuple[Rule, ...]:
    """Every rule that applies to a set of oils.

    Parameters
    ----------
    oil_ids : iterable of str
        Oils; mixtures are unfolded.
    market : Market

    Returns
    -------
    tuple of Rule
        One for each limit on record; and one without a ceiling for each oil that no law or
        standard judges, or whose composition is not known.
    """
    held = (part for name in oil_ids for part, _ in catalogue.parts_of(catalogue.oil(name)))
    oils = {part.id: part for part in held if isinstance(part, Oil)}
    return rules_of(tuple(oils.values()), market)


def rules_in(
    fields: Fields, market: Market | None = None, among: Iterable[str] = ()
) -> tuple[Rule, ...]:
    """Every rule that applies to a blend's oils, with the maker's acceptances.

    Parameters
    ----------
    fields : Fields
        Of a blend.
    market : Market, optional
        The blend's own where left out.
    among : iterable of str, optional
        Oils that may come in as well.
    """
    oil_ids = [*(oil.id for oil in fields.base_oils), *among]
    rules, accepted = rules_for(oil_ids, market or fields.market), fields.accepted
    if not accepted:
        return rules
    return tuple(replace(rule, accepted=accepted.get(rule.name, "")) for rule in rules)


def skin_findings(
    blend: BlendLike, region: str | None = None, use: str | None = None
) -> pd.DataFrame:
    """A blend, as it is really filled, against every limit on record that applies to it.

    Parameters
    ----------
    blend : Blend, document, or path
        Its whole drops, with the drop sizes and densities in force, give the percents by mass
        of the finished product that are judged.
    region, use : str, optional
        As in `Market`; the blend's own where left out.

    Returns
    -------
    DataFrame
        Worst first, one row a limit, sums included. Columns as in `COLUMNS`: `share_of_limit`
        is at the high end, `share_typical` by typical figures; `to_settle` says what would
        settle a row that is not settled; `decides` is False for advice and information. A
        prohibition has limit 0, and so has a name in a lot's analysis that nothing matches and
        a limit may mean; a row without any figure says "no limit on record". For the
        phototoxic sum, 100 % is the whole.
    """
    blend = as_blend(blend)
    return _frame(findings_in(blend.bottle, blend.market.with_(region, use)))


def findings_in(filling: Filling, market: Market | None = None) -> tuple[Finding, ...]:
    """A filled bottle against every limit that applies, worst first; plain tuples, for panels.

    The market is the bottle's own where left out.
    """
    rules = rules_in(filling.fields, market)
    return limits.findings_of(rules, filling.mass_fractions())


def skin_findings_of(
    composition_percent_by_mass: Mapping[str, float],
    region: str | None = None,
    use: str | None = None,
) -> pd.DataFrame:
    """As `skin_findings`, for percents by mass of the finished product.

    Parameters
    ----------
    composition_percent_by_mass : mapping of str to float
        By id of oils and mixtures; carriers may be named and count for nothing. The rest is
        carrier.
    region, use : str, optional
        As in `Market`.

    Raises
    ------
    BadNumber
        A percent below 0 or not a number, or more than 100 in all.
    UnknownMaterial
        No such oil or carrier.
    """
    percents = composition_percent_by_mass
    check_percents(percents)
    fractions = catalogue.unfold({name: part / 100 for name, part in percents.items()})
    oil_ids = [name for name in fractions if isinstance(material(name), Oil)]
    rules = rules_for(oil_ids, Market().with_(region, use))
    return _frame(limits.findings_of(rules, fractions))


def _frame(findings: Iterable[Finding]) -> pd.DataFrame:
    rows = [
        {
            **vars(finding.rule),
            **finding._asdict(),
            "amount_percent": finding.amount * 100,
            "limit_percent": (
                math.nan if finding.rule.ceiling is None else finding.rule.ceiling * 100
            ),
            "share_of_limit": finding.share,
            "from_oils": oils_in_words(finding.from_oils),
            "to_settle": what_would_settle(finding),
        }
        for finding in findings
    ]
    return pd.DataFrame(rows, columns=COLUMNS)


@cache
def not_for_skin() -> frozenset[str]:
    """Ids of the shipped oils that no use on skin allows, not even a drop in a quarter litre.

    By typical figures, laws, standards and the handbook's prohibitions, in the region with the
    fewest rules.
    """
    market = Market("other")
    return frozenset(
        name
        for name in catalogue.shipped_oils().index
        for rule in rules_for([name], market)
        if rule.ceiling is not None and (rule.decides or rule.ceiling == 0)
        if rule.typical.get(name, 0.0) * _LEAST_OF_USE > rule.ceiling
    )


def marked_name(material_id: str) -> str:
    """Name of a material for a list, marked where no use on skin allows an oil in it."""
    item = material(material_id)
    held = {part.based_on for part, _ in catalogue.parts_of(item) if isinstance(part, Oil)}
    return item.name if held.isdisjoint(not_for_skin()) else f"{item.name} ⚠ not for skin"


def options(material_ids: Iterable[str]) -> list[tuple[str, str]]:
    """Marked names and ids of materials, for a list to choose from."""
    return [(marked_name(name), name) for name in material_ids]


def questions(blend: Blend) -> tuple[str, ...]:
    """Questions to the supplier, in sentences: bans on adding a substance, purity rules etc."""
    oils, asked = blend.base_oils, list[str]()
    for limit in in_force(blend.market):
        holding = [
            oil.name
            for oil in oils
            if oil.based_on in limit.members or content_in(oil, limit.members)
        ]
        what, where = f"{limit.rule_set}, {limit.name}", listed(holding)
        if holding and limit.is_condition and limit.applies_to == "all sources":
            asked.append(f"Ask the supplier ({what}): {limit.remark}. For {where}.")
        elif holding and not limit.is_condition and limit.applies_to == "added only":
            asked.append(f"May not be added ({what}); natural in {where}: not judged.")
    for oil in oils:
        known = phototoxic().get(oil.based_on)
        # without a limit, and sources disagree or it hangs on the supplier's word
        if known and math.isnan(known["limit_percent"]) and known["acts_by"] != _NOT_PHOTOTOXIC:
            acts_by, remark = known["acts_by"], sentence(known["remark"])
            asked.append(f"{oil.name} in sunlight: {acts_by}. {remark}")
    return tuple(asked)
