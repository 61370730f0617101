"""The page of ratio and fade: one file that computes by itself, from a stick or on a phone.

It carries the figures of the class's oils, the card for each bottle size, and its words; the
arithmetic is in `pages/class_film.js`, the display in `pages/class_ratio.js`. Nothing is
fetched and nothing is sent: the page forbids itself both.
"""

import itertools
import json
import math
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from markupsafe import Markup

from blendkit.blend.apportionment import shares_of, whole_drops
from blendkit.foundation.errors import attempt
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import G_PER_KG, KELVIN_AT_0_CELSIUS, ML_PER_M3, show
from blendkit.showing.kit import look
from blendkit.showing.kit.rendering import render
from blendkit.showing.teach.words import words_in
from blendkit.teaching.class_document import ClassPlan
from blendkit.teaching.class_reader import read_class
from blendkit.teaching.free_choice import ChoiceCard, card_of
from blendkit.teaching.page_figures import page_figures, undescribed

OTHER_BOTTLES_ML = (10, 30)
MOST_PARTS = 10  # of the sliders, unless the class's own ratio needs more
_WORDS_OF_THE_PAGE = (
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
    figures = page_figures(plan)
    start, first_total = starting_parts(plan, card)
    oils = [
        {
            "name": words.name(each.oil.id),
            "note": each.note,
            "note_name": words.note(each.note),
            "start": start.get(each.oil.id, 0),
            "density": each.oil.density_kg_per_m3,
            "dropsPerM3": plan.fields.drops_per_ml_of(each.oil.id) * ML_PER_M3,
        }
        for each in plan.oils
    ]
    bottles = _bottles(plan, card)
    page_data = {
        "figures": figures, "oils": oils, "notes": list(plan.fields.note_parts),
        "carriers": figures.pop("carriers"), "bottles": bottles, "language": language,
        "words": {key: words.texts[key] for key in _WORDS_OF_THE_PAGE},
        "noteNames": {note: words.note(note) for note in NOTES},
        "look": {
            "ink": look.INK, "faint": look.FAINT_INK, "rule": look.RULE,
            "notes": dict(look.NOTE_COLOURS),
        },
    }  # fmt: skip
    unknown = [
        f"{words.name(oil_id)} {words.number(share * 100, 2)} %"
        for oil_id, share in undescribed(plan).items()
    ]
    return render(
        "class_ratio", file="ratio", language=language, say=words.say, oils=oils,
        name=plan.name or words.say("untitled"), most_parts=max(MOST_PARTS, *start.values()),
        carriers=[words.name(each.id) for each in plan.carriers],
        bottles=[words.number(each["size"]) for each in bottles],
        own_bottle=[each["size"] for each in bottles].index(_size_ml(plan)),
        total=plan.total_drops, first_total=first_total,
        film=words.number(figures["film"] * G_PER_KG),
        celsius=words.number(figures["temperature"] - KELVIN_AT_0_CELSIUS),
        undescribed=", ".join(unknown), silent=words.listed(card.without_figure),
        per_ml=words.number(plan.fields.drops_per_ml["default"]),
        page_data=json_for_a_page(page_data),
    )  # fmt: skip


def json_for_a_page(content: object) -> Markup:
    r"""JSON for a script element: nothing in it can end the element.

    Examples
    --------
    >>> json_for_a_page({"name": "</script><!--"})
    Markup('{"name":"\\u003c/script\\u003e\\u003c!--"}')
    """
    text = json.dumps(content, ensure_ascii=True, separators=(",", ":"), allow_nan=False)
    for sign in "<>&":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return Markup(text)


def starting_parts(plan: ClassPlan, card: ChoiceCard) -> tuple[dict[str, int], int]:
    """Whole parts of the class's note ratio, and the drops in all, that keep to the card.

    Each note has its oil with the most drops allowed; further ones only where the card's caps
    need them, and fewer drops in all only where no such mix keeps to the card.

    Returns
    -------
    parts : dict of str to int
    total : int

    Examples
    --------
    A ratio of 1.5 : 1 : 1 starts as 3 : 2 : 2 parts.
    """
    caps = {each.note: dict[str, int]() for each in plan.oils}
    for each in sorted(plan.oils, key=lambda each: -card.caps[each.oil.id]):
        if card.caps[each.oil.id]:
            caps[each.note][each.oil.id] = card.caps[each.oil.id]
    shares = {note: n for note, n in shares_of(plan.fields.note_parts).items() if caps[note]}
    whole = math.lcm(*(share.denominator for share in shares.values()))
    ratio = {note: int(share * whole) for note, share in shares.items()}
    for total, times in itertools.product(range(plan.total_drops, 0, -1), (1, 2)):
        wanted = whole_drops(ratio, total)
        parts, drops = dict[str, int](), dict[str, int]()
        for note, count in ratio.items():
            of_note = whole_drops(_fewest(caps[note], wanted[note]), count * times)
            parts |= of_note
            drops |= whole_drops({k: n for k, n in of_note.items() if n}, wanted[note])
        if not card.check_mix(drops):
            break
    return parts, total


def _fewest(caps: Mapping[str, int], wanted: int) -> dict[str, int]:
    """The first of some caps that together allow so many drops."""
    before = itertools.accumulate(caps.values(), initial=0)
    return {k: caps[k] for k, n in zip(caps, before, strict=False) if not n or n < wanted}


def _size_ml(plan: ClassPlan) -> float:
    return float(show(plan.fields.bottle_m3 * ML_PER_M3, 6))


def _bottles(plan: ClassPlan, card: ChoiceCard) -> list[dict[str, Any]]:
    """The class's bottle and the usual ones by size, each with a card of its own."""
    found = [_bottle(plan, card)]
    for size in OTHER_BOTTLES_ML:
        if size != _size_ml(plan):
            # name and seats do not matter to a card, and a class is printed more than once
            document = {**plan.to_dict(), "bottle": f"{size} mL", "name": "", "seats": 1}
            found += _other_bottle(json.dumps(document))
    return sorted(found, key=lambda each: float(each["size"]))


@lru_cache(maxsize=32)
def _other_bottle(document: str) -> list[dict[str, Any]]:
    plan = attempt([], read_class, json.loads(document))
    # none such as for set counts that do not fit a smaller bottle
    return [_bottle(plan, attempt([], card_of, plan))] if plan else []


def _bottle(plan: ClassPlan, card: ChoiceCard | None) -> dict[str, Any]:
    ids = [each.oil.id for each in plan.oils]
    rule = card and {
        "caps": [card.caps[name] for name in ids],
        "suns": [card.suns.get(name, 0) for name in ids],
        "mostSuns": card.most_suns if card.suns else 0,
        "total": card.total_drops,
    }
    return {
        "size": _size_ml(plan),
        "ml": float(show(plan.fields.liquid_m3 * ML_PER_M3, 6)),
        "liquid": plan.fields.liquid_m3,
        "dropsPerM3": plan.fields.drops_per_ml["default"] * ML_PER_M3,
        "totalDrops": plan.total_drops,
        "card": rule,
    }
