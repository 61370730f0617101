"""Contents of a label: every part with its rule, missing parts, and limits passed.

Pure content, in words; `blendkit.showing.label.layout` sets it on a sticker. A blend over a
limit still gets its label, with the finding on it. Gaps in the record are listed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, NamedTuple

from blendkit.batch.ingredients import SCENTS, Ingredient, Ingredients, ingredients
from blendkit.batch.label_words import contents_in_words, shelf_life, short_cautions
from blendkit.blend.blend import Blend, BlendLike, as_blend
from blendkit.blend.market import Market
from blendkit.foundation import data
from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.units import is_whole_number, show, to_si
from blendkit.skin import limits
from blendkit.skin.allergens import label_gaps
from blendkit.skin.cautions import Caution, cautions_for
from blendkit.skin.check import rules_in
from blendkit.skin.finding_words import accepted_in_words, without_analysis
from blendkit.skin.freshness import Storing
from blendkit.skin.limits import Finding, findings_of
from blendkit.skin.uses import contradictions

if TYPE_CHECKING:
    from pint import Quantity

NO_FIGURE = "no figure on record"
OVER, NOT_SETTLED = "OVER A LIMIT", "A LIMIT IS NOT SETTLED"
PARTS = (
    "identity", "contents", "ingredients", "allergens", "cautions", "durability", "lot",
    "maker",
)  # fmt: skip
_NOT_FOR_WEARERS = ("scope", "old stock", "patch test")
_CONTENTS_FROM_M3 = 5e-6  # Art. 19(1)(b): smaller contents need not be given
_OPTIONAL_BELOW = ("EU", "UK")
_MOST_OVER = 2


@dataclass(frozen=True)
class LabelDetails:
    """Details from the maker.

    Parameters
    ----------
    maker : str, optional
        Name and address, in one line.
    lot : str, optional
    contact : str, optional
        Telephone, mail or page; US law asks for one.
    identity : str, optional
        Name of the product's kind.
    mixed_on : date, optional
    opened_on : mapping of str to date, optional
        Opening days of the bottles it is mixed from, by id.
    stored : mapping of str to Storing, optional
        How those bottles were stored, by id.
    keeps_months : int, optional
        Shelf life, as the maker knows it; that of its weakest part where left out.
    after_opening_months : int, optional
        Shelf life after opening; for one longer than 30 months unopened.
    scent : str, optional
        One of `blendkit.batch.ingredients.SCENTS`.
    """

    maker: str = ""
    lot: str = ""
    contact: str = ""
    identity: str = "Roll-on perfume oil"
    mixed_on: date = field(default_factory=date.today)
    opened_on: Mapping[str, date] = field(default_factory=dict)
    stored: Mapping[str, Storing] = field(default_factory=dict)
    keeps_months: int | None = None
    after_opening_months: int | None = None
    scent: str = SCENTS[0]

    def __post_init__(self) -> None:
        months = {
            "keeps, months": self.keeps_months,
            "after opening, months": self.after_opening_months,
        }
        problems = [
            Problem(name, quoted(number), "a whole number of months from 1 to 120")
            for name, number in months.items()
            if number is not None and not is_whole_number(number, 1, 120)
        ]
        if problems:
            raise BadNumber(problems)


class Part(NamedTuple):
    """One part of a label.

    Attributes
    ----------
    key : str
        One of `PARTS`, or "name" or "over".
    text : str
        Text on the label; "" where it is missing.
    needed : str
        "yes" where a rule on record asks for it, else "guide".
    may_move : str
        "no", or its place off the sticker: "card" or "box".
    rule, source, grade, remark : str
    missing : str
        Sentence on the missing text; "" where it is there.
    """

    key: str
    text: str
    needed: str
    may_move: str
    rule: str
    source: str
    grade: str
    remark: str
    missing: str = ""


@dataclass(frozen=True)
class Label:
    """Label of one size of bottle.

    Attributes
    ----------
    region : str
    contents_m3 : float
        Liquid in one bottle. [m3]
    parts : tuple of Part
        Name first, in the order of the label; a mark for a limit that is passed before all.
    ingredients : Ingredients
        Source of the list of ingredients.
    over : tuple of str
        Every limit that is over or not settled: laws and standards first, then advice.
    unknown : tuple of str
        Gaps: no figure on record, and what the maker accepted.
    notes : tuple of str
        Notes to read before it is printed.
    cautions : tuple of Caution
        In full, for a card.
    after_opening_months : int or None
        For the open jar that replaces the date on the label.
    """

    region: str
    contents_m3: float
    parts: tuple[Part, ...]
    ingredients: Ingredients
    over: tuple[str, ...]
    unknown: tuple[str, ...]
    notes: tuple[str, ...]
    cautions: tuple[Caution, ...]
    after_opening_months: int | None

    def part(self, key: str) -> Part:
        """Look up a part by its key."""
        return next(part for part in self.parts if part.key == key)

    @property
    def missing(self) -> tuple[str, ...]:
        """Sentences on the details not typed yet."""
        return tuple(part.missing for part in self.parts if part.missing)


def label(
    blend: BlendLike,
    typed: LabelDetails | None = None,
    *,
    region: str | None = None,
    use: str | None = None,
    contents: str | Quantity[Any] | None = None,
) -> Label:
    """Write the label of a blend.

    Parameters
    ----------
    blend : Blend, document, or path
    typed : LabelDetails, optional
        Details from the maker.
    region, use : str, optional
        As in `Market`; the blend's own where left out.
    contents : str or pint Quantity, optional
        Liquid in the bottle the label is for, such as "10 mL"; that of the blend's own bottle
        where left out.

    Raises
    ------
    BadNumber
        A region or use that is not known, or contents that are no volume.
    """
    blend = as_blend(blend)
    market = blend.market.with_(region, use)
    contents_m3 = None if contents is None else to_si(contents, "m**3", name="contents")
    return label_of(blend, typed, market, contents_m3)


def label_of(
    blend: Blend,
    typed: LabelDetails | None = None,
    market: Market | None = None,
    contents_m3: float | None = None,
    mass_fractions: Mapping[str, float] | None = None,
    findings: Sequence[Finding] | None = None,
) -> Label:
    """Write a label for weighed mass fractions [-], with a skin check already made."""
    market, typed = market or blend.market, typed or LabelDetails()
    region, fractions = market.region, mass_fractions or blend.bottle.mass_fractions()
    listed = ingredients(blend, fractions, region, typed.scent)
    if findings is None:
        findings = findings_of(rules_in(blend, market), fractions)
    volume_m3 = blend.liquid_m3 if contents_m3 is None else contents_m3
    wearers = tuple(c for c in cautions_for(blend) if c.topic not in _NOT_FOR_WEARERS)
    months = (typed.keeps_months, typed.after_opening_months)
    life = shelf_life(blend, typed.mixed_on, typed.opened_on, *months, typed.stored)
    broken = (finding for finding in findings if finding.is_broken)
    over = sorted(broken, key=lambda f: (not f.rule.decides, not f.is_over))
    texts = {
        "identity": typed.identity.strip(),
        "contents": contents_in_words(volume_m3, region),
        "ingredients": _listed_in_words(listed),
        "allergens": _allergens_in_words(listed.separate),
        "cautions": " ".join(short_cautions(wearers)),
        "durability": life.text,
        "lot": f"Lot {typed.lot.strip()}" if typed.lot.strip() else "",
        "maker": " · ".join(t.strip() for t in (typed.maker, typed.contact) if t.strip()),
    }
    missing = _missing(typed, region, life.text, listed.nameless)
    parts = [_name_part(blend.name), *_parts(region, texts, missing)]
    if over:
        parts.insert(0, _over_part(over))
    return Label(
        region=region,
        contents_m3=volume_m3,
        parts=tuple(parts),
        ingredients=listed,
        over=tuple(_over_in_words(finding) for finding in over),
        unknown=tuple(_unknown(blend, listed, findings)),
        notes=(
            *_contents_notes(volume_m3, region),
            *life.notes,
            *_name_notes(listed),
            *contradictions(typed.identity, market),
        ),
        cautions=wearers,
        after_opening_months=life.after_opening_months,
    )


@cache
def _rules_of(region: str) -> Mapping[str, Mapping[str, str]]:
    rows = data.table("label_rules").to_dict("records")
    columns = ("needed", "may_move", "rule", "source", "grade", "remark")
    return MappingProxyType(
        {
            str(row["part"]): MappingProxyType({key: str(row[key]) for key in columns})
            for row in rows
            if row["region"] == region
        }
    )


def _parts(region: str, texts: Mapping[str, str], missing: Mapping[str, str]) -> Iterable[Part]:
    rules = _rules_of(region)
    for key in PARTS:
        if texts[key] or key in missing:
            yield Part(key, texts[key], **rules[key], missing=missing.get(key, ""))


def _name_part(name: str) -> Part:
    missing = "" if name.strip() else "The blend has no name yet."
    rule = "name of the blend; no rule on record asks for one"
    return Part(
        "name", name.strip(), "guide", "no", rule, "own choice", "estimated", "", missing
    )


def _over_part(over: Sequence[Finding]) -> Part:
    limits_passed = "; ".join(_over_in_words(finding) for finding in over[:_MOST_OVER])
    more = f"; and {len(over) - _MOST_OVER} more" if len(over) > _MOST_OVER else ""
    rule = "a limit that is not kept is named on every label"
    grade = limits.weakest(finding.rule.figure_basis for finding in over)
    source = "; ".join(dict.fromkeys(finding.rule.source for finding in over[:_MOST_OVER]))
    mark = OVER if any(finding.is_over for finding in over) else NOT_SETTLED
    return Part("over", f"{mark}: {limits_passed}{more}.", "yes", "no", rule, source, grade, "")


def _over_in_words(finding: Finding) -> str:
    rule = finding.rule
    kind = rule.rule_set if rule.decides else f"{rule.rule_set}, advice"
    perhaps = "" if finding.is_over else "perhaps "
    if not rule.ceiling:
        return f"{rule.subject} {perhaps}prohibited ({kind})"
    return f"{rule.subject} {perhaps}{show(finding.share)} times its limit ({kind})"


def _missing(
    typed: LabelDetails, region: str, durability: str, nameless: Sequence[str]
) -> dict[str, str]:
    missing, names = {}, ", ".join(nameless)
    if names:
        missing["ingredients"] = f"No INCI name of {names}: ask the supplier."
    if not durability:
        missing["durability"] = "Shelf life over 30 months: type the months after opening."
    if not typed.identity.strip():
        missing["identity"] = "No kind of product typed."
    if not typed.lot.strip():
        missing["lot"] = "No lot typed: without one a bottle cannot be traced back."
    if not typed.maker.strip():
        missing["maker"] = "No maker's name and address typed."
    elif region == "US" and not typed.contact.strip():
        missing["maker"] = "No telephone, mail or page typed; US law asks for a contact."
    return missing


def _listed_in_words(listed: Ingredients) -> str:
    names = ", ".join(entry.name for entry in listed.listed)
    gap = (
        f" [{NO_FIGURE} on allergens of {', '.join(listed.without_analysis)}]"
        if listed.without_analysis
        else ""
    )
    return f"Ingredients: {names}{gap}"


def _allergens_in_words(allergens: Sequence[Ingredient]) -> str:
    names = ", ".join(entry.name for entry in allergens)
    return f"Contains, of the EU list of allergens: {names}" if names else ""


def _unknown(blend: Blend, listed: Ingredients, findings: Iterable[Finding]) -> Iterable[str]:
    yield from label_gaps(blend)
    yield from accepted_in_words(findings)
    yield from without_analysis(blend.base_oils)


def _contents_notes(volume_m3: float, region: str) -> Iterable[str]:
    if region in _OPTIONAL_BELOW and volume_m3 < _CONTENTS_FROM_M3:
        yield "Below 5 mL the contents are optional (Article 19(1)(b)); they are on the label."


def _name_notes(listed: Ingredients) -> Iterable[str]:
    recalled = [e.name for e in listed.listed if e.kind != "allergen" and e.grade == "memory"]
    if recalled:
        yield f"INCI names recalled, not read; ask your supplier: {', '.join(recalled)}."
