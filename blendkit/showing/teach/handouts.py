"""Hand-outs of a class: each one file that opens from a stick or on a phone, and prints on A4.

The interactive page is in `handout_ratio`; here are the sheets of paper: the card of most
drops, station and recipe cards, worked ratios with their answers, and the card to take home.
Every word comes from `handout_words`; what a person typed is escaped by the templates.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any

from blendkit.foundation.units import ML_PER_M3
from blendkit.showing.kit.rendering import render
from blendkit.showing.teach.ratio_page import ratio_page
from blendkit.showing.teach.words import Words, words_in
from blendkit.skin.cautions import WEARERS, cautions_for, patch_test_steps
from blendkit.skin.check import findings_in
from blendkit.teaching.class_document import ClassPlan
from blendkit.teaching.class_parts import PaletteOil
from blendkit.teaching.exercises import Question, exercises
from blendkit.teaching.free_choice import ChoiceCard, card_of
from blendkit.teaching.plan import SeatPlan, excluded_by, seat_plans

_AT_HOME = (
    "sun", "pregnancy and breastfeeding", "small children", "epilepsy and seizures",
    "blood thinners and aspirin", "asthma and migraine", "fragrance allergy",
    "nut and seed allergy", "eyes and mucosa", "swallowing", "pets",
)  # fmt: skip


def _page(page: str, plan: ClassPlan, words: Words, **values: object) -> str:
    return render(
        page,
        language=words.language,
        say=words.say,
        name=plan.name or words.say("untitled"),
        bottle=words.number(plan.fields.liquid_m3 * ML_PER_M3),
        per_ml=words.number(plan.fields.drops_per_ml["default"]),
        **values,
    )


def _oil_row(each: PaletteOil, card: ChoiceCard, words: Words) -> dict[str, Any]:
    return {
        "name": words.name(each.oil.id),
        "note": each.note,
        "note_name": words.note(each.note),
        "cap": card.caps[each.oil.id],
        "suns": card.suns.get(each.oil.id, 0),
    }


def limits_card(plan: ClassPlan, card: ChoiceCard | None = None, language: str = "en") -> str:
    """The one-page card of most drops, as one HTML document.

    Parameters
    ----------
    plan : ClassPlan
    card : ChoiceCard, optional
        Made anew where it is left out.
    language : str, optional
        "en" or "de".

    Raises
    ------
    BadClass
        Not one drop of any oil fits within the limits.
    """
    words, card = words_in(language), card or card_of(plan)
    fullest = float(card.proofs[0].worst_share) * 100 if card.proofs else 0.0
    return _page(
        "class_card", plan, words,
        oils=[_oil_row(each, card, words) for each in plan.oils],
        total=words.counted(card.total_drops, "drop"),
        most_suns=words.counted(card.most_suns, "sun") if card.suns else "",
        seats=[line for found in seat_plans(plan) if (line := _seat_in_words(found, words))],
        limits=len(card.proofs),
        region=card.market.region,
        share=words.number(fullest),
        carriers=words.listed(each.id for each in plan.carriers),
        left_out=words.listed(card.left_out),
        silent=words.listed(card.without_figure),
    )  # fmt: skip


def _seat_in_words(found: SeatPlan, words: Words) -> str:
    """What one seat minds; "" where there is nothing to mind."""
    told = []
    reasons: dict[str, list[str]] = {}
    for each in found.leaves_out:
        reasons.setdefault(each.because, []).append(words.name(each.oil))
    for because, names in reasons.items():
        left = words.say("card_without", names=", ".join(names))
        told.append(f"{left} ({words.because(because)})")
    if not found.may_use:
        told = [words.say("card_nothing")]
    if found.carrier is None:
        told.append(words.say("card_no_carrier"))
    elif found.needs_other_carrier:
        told.append(words.say("card_carrier", name=words.name(found.carrier)))
    return f"{words.seat(found.seat)}: {'; '.join(told)}" if told else ""


def station_cards(plan: ClassPlan, card: ChoiceCard, language: str) -> str:
    """A card in big type for every bottle on the tables; see `limits_card`."""
    words = words_in(language)
    cards = []
    for each in plan.oils:
        oil_id = each.oil.id
        row = _oil_row(each, card, words)
        # under the age of three nothing at all goes on skin: that is no matter of one oil
        leave = [
            who for who in WEARERS if oil_id in excluded_by(who) and who != "child under 3"
        ]
        cards += [
            row
            | {
                "latin": each.oil.latin_name,
                "most": words.counted(row["cap"], "drop") if row["cap"] else "",
                "suns": words.counted(row["suns"], "sun") if row["suns"] else "",
                "leave": ", ".join(words.text(who) for who in leave),
                "silent": oil_id in card.without_figure,
                "n": number,
                "of": each.bottles,
            }
            for number in range(1, each.bottles + 1)
        ]
    return _page("class_stations", plan, words, cards=cards)


def recipe_cards(plan: ClassPlan, card: ChoiceCard, language: str) -> str:
    """A card for every set blend; or for every seat, to write its own blend on."""
    words = words_in(language)
    if plan.blends:
        cards = [_set_recipe(plan, place, words) for place in range(len(plan.blends))]
        return _page("class_recipes", plan, words, cards=cards)
    cards = [_blank_recipe(plan, card, found, words) for found in seat_plans(plan)]
    return _page(
        "class_recipes", plan, words, cards=cards,
        total=words.counted(card.total_drops, "drop"),
        most_suns=words.counted(card.most_suns, "sun") if card.suns else "",
    )  # fmt: skip


def _set_recipe(plan: ClassPlan, place: int, words: Words) -> dict[str, Any]:
    blend = plan.blends[place].blend
    filling = blend.bottle
    findings = findings_in(filling, plan.market)
    over = [name for each in findings if each.is_broken for name, _ in each.from_oils]
    names = words.listed(dict.fromkeys(over))
    return {
        "title": blend.name or words.say("untitled"),
        "seat": "",
        "blank": False,
        "rows": [
            {
                "name": words.name(portion.material),
                "note": portion.note,
                "note_name": words.note(portion.note),
                "drops": portion.drops,
            }
            for portion in filling.oils
        ],
        "total": filling.oil_drops,
        "carrier": words.listed(portion.material for portion in filling.carriers),
        "minds": [words.say("recipe_over", names=names)] if over else [],
    }


def _blank_recipe(
    plan: ClassPlan, card: ChoiceCard, found: SeatPlan, words: Words
) -> dict[str, Any]:
    rows = [
        row | {"drops": row["cap"]}
        for each in plan.oils
        if each.oil.id in found.may_use and (row := _oil_row(each, card, words))["cap"]
    ]
    line = _seat_in_words(found, words)
    return {
        "title": words.say("recipe_blank"),
        "seat": words.seat(found.seat),
        "blank": True,
        "rows": rows,
        "carrier": words.name(found.carrier) if found.carrier else "",
        "minds": [line] if line else [],
    }


def exercise_sheets(plan: ClassPlan, seed: int = 1, language: str = "en") -> str:
    """Worked ratios, one sheet a seat with numbers of its own."""
    words = words_in(language)
    labels = [words.seat(seat) for seat in plan.seats]
    sheets = [
        {"seat": each.seat, "questions": [_question(q, words) for q in each.questions]}
        for each in exercises(labels, seed)
    ]
    return _page("class_exercises", plan, words, sheets=sheets)


def answer_sheet(plan: ClassPlan, seed: int = 1, language: str = "en") -> str:
    """The answers to `exercise_sheets` with the same seed, for the teacher."""
    words = words_in(language)
    labels = [words.seat(seat) for seat in plan.seats]
    rows = [
        {"seat": each.seat, "answers": [_answer(q, words) for q in each.questions]}
        for each in exercises(labels, seed)
    ]
    return _page("class_answers", plan, words, rows=rows, seed=seed)


_KINDS = {
    "how many drops": "exercise_drops",
    "share out": "exercise_share",
    "how strong": "exercise_strong",
    "dilute": "exercise_dilute",
    "wrong dropper": "exercise_dropper",
}


def _question(question: Question, words: Words) -> str:
    return words.say(_KINDS[question.kind], **question.numbers)


def _answer(question: Question, words: Words) -> str:
    answer = question.answer
    if question.kind == "share out":
        return words.say("answer_share", **answer)
    if question.kind == "how many drops":
        return words.counted(int(answer["drops"]), "drop")
    (unit, number), *_ = answer.items()
    sign = {"percent": "%", "ml": "mL"}[unit]
    return f"{words.number(float(number), 6)} {sign}"


def take_home_cards(plan: ClassPlan, card: ChoiceCard, language: str) -> str:
    """What was made, the patch test and what to mind: one page a set blend, or a seat."""
    words = words_in(language)
    if plan.blends:
        cards = [_home_of_blend(plan, place, words) for place in range(len(plan.blends))]
    else:
        cards = [_home_of_seat(plan, card, found, words) for found in seat_plans(plan)]
    return _page(
        "class_take_home", plan, words, cards=cards,
        patch_test=[words.text(step) for step in patch_test_steps()],
    )  # fmt: skip


def _home_of_blend(plan: ClassPlan, place: int, words: Words) -> dict[str, Any]:
    recipe = _set_recipe(plan, place, words)
    blend = plan.blends[place].blend
    held = [part.oil.id for part in blend.oils] + [part.carrier.id for part in blend.carriers]
    return {
        "title": recipe["title"],
        "seat": "",
        "rows": recipe["rows"],
        "carrier": recipe["carrier"],
        "cautions": _cautions(held, words),
    }


def _home_of_seat(
    plan: ClassPlan, card: ChoiceCard, found: SeatPlan, words: Words
) -> dict[str, Any]:
    oils = [each for each in plan.oils if each.oil.id in found.may_use]
    held = [each.oil.id for each in oils if card.caps[each.oil.id]]
    carrier = [found.carrier] if found.carrier else []
    return {
        "title": words.say("home_title"),
        "seat": words.seat(found.seat),
        "rows": [{"name": words.name(name), "drops": ""} for name in held],
        "carrier": words.listed(carrier),
        "cautions": _cautions([*held, *carrier], words),
    }


def _cautions(held: Sequence[str], words: Words) -> list[dict[str, str]]:
    """What to mind at home, one line a text, with the materials that call for it.

    Names come from the materials themselves, since a caution's own words for them are English.
    """
    lines: dict[tuple[int, str], list[str]] = {}
    for topic, text, _ in _minded(""):
        lines[_AT_HOME.index(topic), text] = []
    for material in held:
        for topic, text, is_its_own in _minded(material):
            if is_its_own:
                lines.setdefault((_AT_HOME.index(topic), text), []).append(material)
    return [
        {"text": words.text(text), "names": words.listed(causes)}
        for (_, text), causes in sorted(lines.items(), key=lambda line: line[0][0])
    ]


@lru_cache(maxsize=512)
def _minded(material: str) -> tuple[tuple[str, str, bool], ...]:
    """Topic and text of each caution at home, and whether the material itself calls for it."""
    found = cautions_for([material] if material else [])
    return tuple((c.topic, c.text, bool(c.because_of)) for c in found if c.topic in _AT_HOME)


def all_handouts(
    plan: ClassPlan, card: ChoiceCard | None = None, seed: int = 1, language: str = "en"
) -> dict[str, str]:
    """Every hand-out by file name; see `limits_card` for parameters and errors."""
    card = card or card_of(plan)
    made = {
        "ratio-and-fade": ratio_page(plan, card, language),
        "card": limits_card(plan, card, language),
        "stations": station_cards(plan, card, language),
        "recipes": recipe_cards(plan, card, language),
        "exercises": exercise_sheets(plan, seed, language),
        "answers": answer_sheet(plan, seed, language),
        "take-home": take_home_cards(plan, card, language),
    }
    return {f"{name}-{language}.html": page for name, page in made.items()}
