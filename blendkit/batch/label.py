"""Contents of a label: every part with its rule, missing parts, and limits passed.

Pure content, in words; `blendkit.showing.label.layout` sets it on a sticker. A blend over a
limit still gets its label, with the finding on it. Gaps in the record are listed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from functools import cache
from typing import TYPE_CHECKING, Any, NamedTuple

from blendkit.batch.ingredients import Ingredients, ingredients
from blendkit.batch.label_details import LabelDetails as LabelDetails  # noqa: PLC0414
from blendkit.batch.label_words import (
    BY_LAW,
    contents_in_words,
    say,
    say_in_each,
    shelf_life,
    short_cautions,
)
from blendkit.blend.blend import Blend, BlendLike, as_blend
from blendkit.blend.market import Market
from blendkit.foundation import data
from blendkit.foundation.locales import in_each
from blendkit.foundation.units import show, to_si
from blendkit.skin import limits
from blendkit.skin.allergens import label_gaps, list_notes
from blendkit.skin.cautions import Caution, cautions_for
from blendkit.skin.check import rules_in
from blendkit.skin.finding_words import accepted_in_words, without_analysis
from blendkit.skin.limits import Finding, findings_of
from blendkit.skin.uses import contradictions

if TYPE_CHECKING:
    from pint import Quantity

NO_FIGURE = "no figure on record"
OVER, NOT_SETTLED = "OVER A LIMIT", "A LIMIT IS NOT SETTLED"
PARTS = ("identity", "contents", "ingredients", "allergens", "cautions", "durability", "lot",
         "maker")  # fmt: skip
_NAME_RULE = {
    "needed": "guide",
    "may_move": "no",
    "rule": "name of the blend; no rule on record asks for one",
    "source": "own choice",
    "grade": "estimated",
    "remark": "",
}
_MISSING = {
    "name": "The blend has no name yet.",
    "identity": "No kind of product typed.",
    "durability": "Shelf life over 30 months: type the months after opening.",
    "lot": "No lot typed: without one a bottle cannot be traced back.",
}
_NOT_FOR_WEARERS = ("scope", "old stock", "patch test")
_CONTENTS_FROM_M3 = 5e-6  # Art. 19(1)(b): smaller contents need not be given
_OPTIONAL_BELOW = ("EU", "UK")
_MOST_OVER = 2
_CONTACT = {"US": "US", "Canada": "Canadian"}


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
        "no", or its place off the sticker: "card", "page" (a card or a web page) or "box".
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


class Label(NamedTuple):
    """Label of one size of bottle.

    Attributes
    ----------
    region : str
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
    placed_on : date
    languages : tuple of str
    page : str
        Address of the maker's page, for a QR code; "" for none.
    """

    region: str
    parts: tuple[Part, ...]
    ingredients: Ingredients
    over: tuple[str, ...]
    unknown: tuple[str, ...]
    notes: tuple[str, ...]
    cautions: tuple[Caution, ...]
    after_opening_months: int | None
    placed_on: date
    languages: tuple[str, ...]
    page: str

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
    languages = BY_LAW.get(region, tuple(typed.languages))
    listed = ingredients(blend, fractions, region, typed.scent, typed.day)
    if findings is None:
        findings = findings_of(rules_in(blend, market), fractions)
    broken = (finding for finding in findings if finding.is_broken)
    over = sorted(broken, key=lambda f: (not f.rule.decides, not f.is_over))
    volume_m3 = blend.liquid_m3 if contents_m3 is None else contents_m3
    wearers = tuple(c for c in cautions_for(blend) if c.topic not in _NOT_FOR_WEARERS)
    life, after_opening, on_life = shelf_life(blend, typed, region, languages)
    texts = {
        "name": blend.name.strip(),
        "contents": contents_in_words(volume_m3, region, languages),
        "cautions": in_each(languages, lambda one: " ".join(short_cautions(wearers, one))),
        "durability": life,
        **_typed_texts(typed, languages),
        **_listed_texts(listed, languages),
    }
    gaps = (*label_gaps(blend), *accepted_in_words(findings))
    return Label(
        region=region,
        parts=tuple(_parts(region, texts, _missing(texts, typed, region, listed), over)),
        ingredients=listed,
        over=tuple(_over_in_words(finding) for finding in over),
        unknown=(*gaps, *without_analysis(blend.base_oils)),
        notes=tuple(_notes(typed, market, volume_m3, listed, languages, on_life)),
        cautions=wearers,
        after_opening_months=after_opening,
        placed_on=typed.day,
        languages=languages,
        page=typed.page.strip(),
    )


@cache
def rules_of(region: str) -> Mapping[str, Mapping[str, str]]:
    """Rules of a region on each part of the label, and on its "language"."""
    own = (row for row in data.rows("label_rules") if row["region"] == region)
    return {row["part"]: {key: row[key] for key in _NAME_RULE} for row in own}


def _parts(
    region: str, texts: Mapping[str, str], missing: Mapping[str, str], over: Sequence[Finding]
) -> Iterator[Part]:
    if over:
        yield _over_part(over)
    rules = {"name": _NAME_RULE, **rules_of(region)}
    for key in ("name", *PARTS):
        if texts[key] or key in missing:
            yield Part(key, texts[key], **rules[key], missing=missing.get(key, ""))


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
    texts: Mapping[str, str], typed: LabelDetails, region: str, listed: Ingredients
) -> dict[str, str]:
    missing = {key: words for key, words in _MISSING.items() if not texts[key]}
    if listed.nameless:
        names = ", ".join(listed.nameless)
        missing["ingredients"] = f"No INCI name of {names}: ask the supplier."
    if not typed.maker.strip():
        missing["maker"] = "No maker's name and address typed."
    elif region in _CONTACT and not typed.contact.strip():
        law = f"{_CONTACT[region]} law asks for a contact"
        missing["maker"] = f"No telephone, mail or page typed; {law}."
    return missing


def _typed_texts(typed: LabelDetails, languages: Sequence[str]) -> dict[str, str]:
    """Texts of what the maker typed; the usual kind of product in every language."""
    identity, lot = typed.identity.strip(), typed.lot.strip()
    is_usual = identity == say("identity", "en")
    return {
        "identity": say_in_each("identity", languages) if is_usual else identity,
        "lot": say_in_each("lot", languages, lot=lot) if lot else "",
        "maker": " · ".join(filter(None, (typed.maker.strip(), typed.contact.strip()))),
    }


def _listed_texts(listed: Ingredients, languages: Sequence[str]) -> dict[str, str]:
    names, separate = (
        ", ".join(entry.name for entry in entries)
        for entries in (listed.listed, listed.separate)
    )
    unknown = ", ".join(listed.without_analysis)
    gap = f" [{NO_FIGURE} on allergens of {unknown}]" if unknown else ""
    return {
        "ingredients": f"Ingredients: {names}{gap}",
        "allergens": say_in_each("contains", languages, names=separate) if separate else "",
    }


def _notes(
    typed: LabelDetails,
    market: Market,
    volume_m3: float,
    listed: Ingredients,
    languages: tuple[str, ...],
    on_life: list[str],
) -> Iterator[str]:
    if market.region in _OPTIONAL_BELOW and volume_m3 < _CONTENTS_FROM_M3:
        yield "Below 5 mL the contents are optional (Article 19(1)(b)); they are on the label."
    yield from on_life
    recalled = [e.name for e in listed.listed if e.kind != "allergen" and e.grade == "memory"]
    if recalled:
        yield f"INCI names recalled, not read; ask your supplier: {', '.join(recalled)}."
    yield from contradictions(typed.identity, market)
    yield from list_notes(market.region, typed.day)[1:]
    if set(languages) - {"en"}:
        yield (
            "German and French cautions are short ones, and not reviewed: have someone who "
            "speaks the language read them."
        )
    is_own = typed.identity.strip() not in ("", say("identity", "en"))
    if len(languages) > 1 and is_own and "/" not in typed.identity:
        yield "The kind of product is needed in every language: type both with / between them."
