"""The page of ratio and fade: one file that computes by itself, from a stick or on a phone.

It carries the figures of the class's oils, the card for each bottle size, and its words; the
arithmetic is in `pages/class_film.js`, what is shown in `pages/class_ratio.js`. Nothing is
fetched and nothing is sent: the page forbids itself both.
"""

from __future__ import annotations

import json
from functools import lru_cache
from typing import Any

from markupsafe import Markup

from blendkit.blend.apportionment import whole_drops
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import G_PER_KG, KELVIN_AT_0_CELSIUS, ML_PER_M3, show
from blendkit.showing.kit import look
from blendkit.showing.kit.rendering import render
from blendkit.showing.teach.words import Words, words_in
from blendkit.teaching.class_document import ClassPlan
from blendkit.teaching.class_parts import BadClass
from blendkit.teaching.free_choice import ChoiceCard, card_of
from blendkit.teaching.page_figures import page_figures, undescribed

OTHER_BOTTLES_ML = (10, 30)
MOST_PARTS = 10  # of the slider
_SAID_BY_THE_PAGE = (
    "drop_one", "drop_many", "sun_one", "sun_many", "ratio_strengths", "ratio_within",
    "ratio_over", "ratio_over_oil", "ratio_over_all", "ratio_over_suns", "ratio_no_card",
    "ratio_suns_used", "fade_half", "fade_above", "fade_longer",
)  # fmt: skip


def ratio_page(plan: ClassPlan, card: ChoiceCard, language: str) -> str:
    """The interactive page for a class's palette, as one HTML document.

    Parameters
    ----------
    plan : ClassPlan
    card : ChoiceCard
        For the class's own bottle; the other sizes get one of their own.
    language : str
        "en" or "de".
    """
    words = words_in(language)
    bottles = _bottles(plan, card, words)
    figures = page_figures(plan)
    start = _starting_parts(plan, card)
    oils = [
        {
            "name": words.name(each.oil.id),
            "note": each.note,
            "note_name": words.note(each.note),
            "start": start.get(each.oil.id, 0),
            "density": each.oil.density_kg_per_m3,
            "perCubicMetre": plan.fields.drops_per_ml_of(each.oil.id) * ML_PER_M3,
        }
        for each in plan.oils
    ]
    carriers = [words.name(each.id) for each in plan.carriers]
    computed = {"figures": figures, "oils": oils, "carriers": carriers, "bottles": bottles}
    return render(
        "class_ratio",
        language=language,
        say=words.say,
        name=plan.name or words.say("untitled"),
        oils=oils,
        carriers=carriers,
        bottles=bottles,
        total=plan.total_drops,
        film=words.number(figures["film"] * G_PER_KG),
        celsius=words.number(figures["temperature"] - KELVIN_AT_0_CELSIUS),
        undescribed=_undescribed_in_words(plan, words),
        silent=words.listed(card.without_figure),
        per_ml=words.number(plan.fields.drops_per_ml["default"]),
        page_data=json_for_a_page(computed | _said(words)),
    )


def _said(words: Words) -> dict[str, Any]:
    """Words and colours that the page's own program uses."""
    return {
        "words": {key: words.texts[key] for key in _SAID_BY_THE_PAGE},
        "language": words.language,
        "noteNames": {note: words.note(note) for note in NOTES},
        "look": {
            "ink": look.INK,
            "faint": look.FAINT_INK,
            "rule": look.RULE,
            "notes": dict(look.NOTE_COLOURS),
        },
    }


def json_for_a_page(content: object) -> Markup:
    r"""JSON that may stand inside a script element: nothing in it can end the element.

    Examples
    --------
    >>> json_for_a_page({"name": "</script><!--"})
    Markup('{"name":"\\u003c/script\\u003e\\u003c!--"}')
    """
    text = json.dumps(content, ensure_ascii=True, separators=(",", ":"), allow_nan=False)
    for sign in "<>&":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return Markup(text)


def _card_or_none(plan: ClassPlan) -> ChoiceCard | None:
    # name and seats do not matter to a card, and a class is printed more than once
    return _card_of_text(json.dumps({**plan.to_dict(), "name": "", "seats": 1}))


@lru_cache(maxsize=32)
def _card_of_text(document: str) -> ChoiceCard | None:
    try:
        return card_of(ClassPlan.from_dict(json.loads(document)))
    except BadClass:
        return None


def _bottles(plan: ClassPlan, card: ChoiceCard, words: Words) -> list[dict[str, Any]]:
    """The class's bottle and the usual ones, each with a card of its own."""
    own_ml = plan.fields.bottle_m3 * ML_PER_M3
    found = [_bottle(plan, card, own_ml, words) | {"chosen": True}]
    for size in OTHER_BOTTLES_ML:
        if abs(size - own_ml) > 1e-6:
            try:
                other = ClassPlan.from_dict({**plan.to_dict(), "bottle": f"{size} mL"})
            except BadClass:
                continue  # such as set counts that do not fit a smaller bottle
            found.append(_bottle(other, _card_or_none(other), size, words))
    return sorted(found, key=lambda each: float(each["ml"]))


def _bottle(
    plan: ClassPlan, card: ChoiceCard | None, size_ml: float, words: Words
) -> dict[str, Any]:
    ids = [each.oil.id for each in plan.oils]
    return {
        "ml": float(show(plan.fields.liquid_m3 * ML_PER_M3, 6)),
        "words": f"{words.number(size_ml)} mL",
        "liquid": plan.fields.liquid_m3,
        "perMl": plan.fields.drops_per_ml["default"],
        "totalDrops": plan.total_drops,
        "chosen": False,
        "card": card
        and {
            "caps": [card.caps[name] for name in ids],
            "suns": [card.suns.get(name, 0) for name in ids],
            "mostSuns": card.most_suns if card.suns else 0,
            "total": card.total_drops,
        },
    }


def _starting_parts(plan: ClassPlan, card: ChoiceCard) -> dict[str, int]:
    """The note ratio, each note by the oil of which the card allows most."""
    parts = whole_drops(plan.fields.note_parts, MOST_PARTS)
    found = {}
    for note, part in parts.items():
        oils = plan.of_note(note)
        best = max(oils, key=lambda each: card.caps[each.oil.id])
        found[best.oil.id] = part
    return found


def _undescribed_in_words(plan: ClassPlan, words: Words) -> str:
    return ", ".join(
        f"{words.name(oil_id)} {words.number(share * 100, 2)} %"
        for oil_id, share in undescribed(plan).items()
    )
