"""Hand-outs of a class: each one file that opens from a stick or on a phone, and prints on A4.

The interactive page is in `ratio_page`; here are the sheets of paper: the card of most
drops, station and recipe cards, worked ratios with their answers, and the card to take home.
Every word comes from `words`; what a person typed is escaped by the templates.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any

from blendkit.blend.blend import Blend
from blendkit.foundation.units import ML_PER_M3
from blendkit.showing.kit.rendering import render
from blendkit.showing.teach.ratio_page import ratio_page
from blendkit.showing.teach.words import Words, words_in
from blendkit.skin.cautions import WEARERS, cautions_for, patch_test_steps
from blendkit.skin.check import findings_in
from blendkit.teaching.class_document import ClassPlan
from blendkit.teaching.exercises import Question, exercises
from blendkit.teaching.free_choice import ChoiceCard, card_of
from blendkit.teaching.plan import SeatPlan, exclusions_of, seat_plans

_AT_HOME = (
    "sun", "pregnancy and breastfeeding", "small children", "epilepsy and seizures",
    "blood thinners and aspirin", "asthma and migraine", "fragrance allergy",
    "nut and seed allergy", "eyes and mucosa", "swallowing", "pets",
)  # fmt: skip


def _page(page: str, plan: ClassPlan, words: Words, **values: object) -> str:
    return render(
        page,
        language=words.language,
        plan=plan,
        words=words,
        say=words.say,
        name=plan.name or words.say("untitled"),
        bottle=words.number(plan.fields.liquid_m3 * ML_PER_M3),
        per_ml=words.number(plan.fields.drops_per_ml["default"]),
        **values,
    )


def limits_card(plan: ClassPlan, card: ChoiceCard | None = None, language: str = "en") -> str:
    """The one-page card of most drops, as one HTML document.

    Parameters
    ----------
    plan : ClassPlan
    card : ChoiceCard, optional
        Calculated where it is left out.
    language : str, optional
        "en" or "de".

    Raises
    ------
    BadClass
        Not one drop of any oil fits within the limits.
    """
    words, card = words_in(language), card or card_of(plan)
    fullest = float(card.proofs[0].worst_share) * 100 if card.proofs else 0.0
    each = (_seat_in_words(found, words, plan.total_drops) for found in seat_plans(plan))
    seats = [line for line in each if line]
    return _page("class_card", plan, words, card=card, seats=seats, share=words.number(fullest))


def _seat_in_words(found: SeatPlan, words: Words, most: int) -> str:
    """Restrictions of one seat for the room, without name and reasons; "" where none."""
    sentences = []
    if found.leaves_out:
        oils = [each.oil for each in found.leaves_out]
        sentences.append(words.say("card_without", names=words.listed(oils)))
    if found.most_drops < most:
        drops = words.counted(found.most_drops, "drop")
        sentences.append(words.say("card_cap", n=drops))
    if not found.may_use:
        sentences = [words.say("card_nothing")]
    if found.carrier is None:
        sentences.append(words.say("card_no_carrier"))
    elif found.needs_other_carrier:
        sentences.append(words.say("card_carrier", name=words.name(found.carrier)))
    number = words.say("seat", n=found.seat.number)
    return f"{number}: {'; '.join(sentences)}" if sentences else ""


def station_cards(plan: ClassPlan, card: ChoiceCard, language: str) -> str:
    """A card in big type for every bottle on the tables; see `limits_card`."""
    words = words_in(language)
    # under the age of three nothing at all goes on skin, whichever oil it is
    wearers = [(w, exclusions_of(w)) for w in WEARERS if w != "child under 3"]
    leave = {
        each.oil.id: ", ".join(words.text(w) for w, oils in wearers if each.oil.id in oils)
        for each in plan.oils
    }
    return _page("class_stations", plan, words, card=card, leave=leave)


def recipe_cards(plan: ClassPlan, card: ChoiceCard, language: str) -> str:
    """A card for every set blend; or for every seat, to write its own blend on."""
    words = words_in(language)
    recipes = _recipes(plan, card, words)
    return _page("class_recipes", plan, words, card=card, recipes=recipes)


def _recipes(plan: ClassPlan, card: ChoiceCard, words: Words) -> list[dict[str, Any]]:
    """A recipe for every set blend; or for every seat, without drops of its own."""
    if plan.blends:
        return [_set_recipe(plan, each.blend, words) for each in plan.blends]
    return [_blank_recipe(plan, card, found, words) for found in seat_plans(plan)]


def _set_recipe(plan: ClassPlan, blend: Blend, words: Words) -> dict[str, Any]:
    findings = findings_in(blend.bottle, plan.market)
    over = dict.fromkeys(name for f in findings if f.is_broken for name, _ in f.from_oils)
    return {
        "title": blend.name or words.say("untitled"),
        "seat": "",
        "rows": blend.bottle.oils,
        "total": blend.bottle.oil_drops,
        "oils": [part.oil.id for part in blend.oils],
        "carriers": [part.carrier.id for part in blend.carriers],
        "remarks": [words.say("recipe_over", names=words.listed(over))] if over else [],
    }


def _blank_recipe(
    plan: ClassPlan, card: ChoiceCard, found: SeatPlan, words: Words
) -> dict[str, Any]:
    oils = [o for o in plan.oils if o.oil.id in found.may_use and card.caps[o.oil.id]]
    line = _seat_in_words(found, words, plan.total_drops)
    return {
        "title": "",
        "most": found.most_drops,
        "seat": words.say("seat", n=found.seat.number),
        "rows": [{"material": each.oil.id, "note": each.note} for each in oils],
        "oils": [each.oil.id for each in oils],
        "carriers": [found.carrier] if found.carrier else [],
        "remarks": [line] if line else [],
    }


def exercise_sheets(plan: ClassPlan, seed: int = 1, language: str = "en") -> str:
    """Worked ratios, one sheet a seat with numbers of its own."""
    words = words_in(language)
    sheets = [
        {"seat": each.seat, "questions": [_question(q, words) for q in each.questions]}
        for each in exercises([words.seat(seat) for seat in plan.seats], seed)
    ]
    return _page("class_exercises", plan, words, sheets=sheets)


def answer_sheet(plan: ClassPlan, seed: int = 1, language: str = "en") -> str:
    """The answers to `exercise_sheets` with the same seed, for the teacher."""
    words = words_in(language)
    rows = [
        {"seat": each.seat, "answers": [_answer(q, words) for q in each.questions]}
        for each in exercises([words.seat(seat) for seat in plan.seats], seed)
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
    """The finished blend, the patch test and cautions: one page a set blend, or a seat."""
    words = words_in(language)
    recipes = _recipes(plan, card, words)
    for each in recipes:
        each["cautions"] = _cautions([*each["oils"], *each["carriers"]], words)
    patch_test = [words.text(step) for step in patch_test_steps()]
    return _page("class_take_home", plan, words, recipes=recipes, patch_test=patch_test)


def _cautions(materials: Sequence[str], words: Words) -> list[dict[str, str]]:
    """Cautions for home, one line a text, with the materials that call for it.

    Names come from the materials themselves, since a caution's own words for them are English.
    """
    causes: dict[tuple[int, str], list[str]] = {line: [] for line, _ in _home_cautions("")}
    for material in materials:
        for line, is_its_own in _home_cautions(material):
            if is_its_own:
                causes.setdefault(line, []).append(material)
    return [
        {"text": words.text(text), "names": words.listed(names)}
        for (_, text), names in sorted(causes.items(), key=lambda cause: cause[0][0])
    ]


@lru_cache(maxsize=512)
def _home_cautions(material: str) -> tuple[tuple[tuple[int, str], bool], ...]:
    """Place and text of each caution for home, and whether the material itself calls for it."""
    found = [c for c in cautions_for([material] if material else []) if c.topic in _AT_HOME]
    return tuple(((_AT_HOME.index(c.topic), c.text), bool(c.because_of)) for c in found)


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
