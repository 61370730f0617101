"""Hand-outs of a class: each one file that opens from a stick or on a phone, and prints.

The interactive page is in `ratio_page`. The sheets of paper are templates in `pages`, and
`SHEETS` says which of them a file holds, in the order of printing; here is what they show.
What the room sees has a seat's number and no reason; reasons are on the teacher's sheet.
Every word comes from `words`; what a person typed is escaped by the templates.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from types import MappingProxyType
from typing import Any

from blendkit.blend.blend import Blend
from blendkit.foundation.errors import attempt
from blendkit.foundation.units import ML_PER_M3
from blendkit.showing.kit.rendering import render
from blendkit.showing.label.sheets import PAPERS_MM
from blendkit.showing.teach.fragments import run_lines
from blendkit.showing.teach.ratio_page import ratio_page
from blendkit.showing.teach.words import Words, words_in
from blendkit.skin.cautions import WEARERS, cautions_for, patch_test_steps
from blendkit.skin.check import findings_in
from blendkit.skin.keeping_times import best_before
from blendkit.teaching.class_document import TOO_YOUNG, ClassPlan
from blendkit.teaching.demand import demand_of
from blendkit.teaching.exercises import Question, exercises
from blendkit.teaching.free_choice import ChoiceCard, card_of
from blendkit.teaching.intake import CONDITIONS
from blendkit.teaching.plan import SeatPlan, exclusions_of, seat_plans
from blendkit.teaching.results import SeatBottle
from blendkit.teaching.shopping import ClassShopping, shopping_list

SHEETS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "before": ("shopping", "forms"),
        "print-all": (
            "run", "teacher", "sign_in", "card", "stations", "recipes", "exercises", "answers",
            "take_home",
        ),
        "large-print": ("card", "recipes"),
        "slides": ("slides",), "card": ("card",), "stations": ("stations",),
        "recipes": ("recipes",), "exercises": ("exercises",), "answers": ("answers",),
        "take-home": ("take_home",), "follow-up": ("follow_up",),
    }
)  # fmt: skip
MARGIN_MM = 10
_AT_HOME = (
    "sun", "pregnancy and breastfeeding", "small children", "epilepsy and seizures",
    "blood thinners and aspirin", "asthma and migraine", "fragrance allergy",
    "nut and seed allergy", "eyes and mucosa", "swallowing", "pets",
)  # fmt: skip


@dataclass(frozen=True)
class Printing:
    """Choices of a printing.

    Attributes
    ----------
    language : str
        "en" or "de".
    paper : str
        "A4" or "Letter".
    seed : int
        Of the exercises.
    shopping : ClassShopping, optional
        Calculated without prices where left out.
    bottles : sequence of SeatBottle
        What was mixed, once the class is over: it fills the take-home pages.
    made_on : date
    """

    language: str = "en"
    paper: str = "A4"
    seed: int = 1
    shopping: ClassShopping | None = None
    bottles: Sequence[SeatBottle] = ()
    made_on: date | None = None


def all_handouts(
    plan: ClassPlan, card: ChoiceCard | None = None, printing: Printing | None = None
) -> dict[str, str]:
    """Every hand-out by file name.

    Parameters
    ----------
    plan : ClassPlan
    card : ChoiceCard, optional
        Calculated where it is left out.
    printing : Printing, optional

    Raises
    ------
    BadClass
        Not one drop of any oil fits within the limits.
    BadNumber
        An unknown language.
    """
    printing, card = printing or Printing(), card or card_of(plan)
    language = printing.language
    shown = _shown(plan, card, printing, words_in(language))
    pages = {"ratio-and-fade": ratio_page(plan, card, language)}
    for name, sheets in SHEETS.items():
        if name != "follow-up" or printing.bottles:
            pages[name] = render("class_page", file=name, sheets=sheets, **shown)
    return {f"{name}-{language}.html": page for name, page in pages.items()}


def _shown(
    plan: ClassPlan, card: ChoiceCard, printing: Printing, words: Words
) -> dict[str, Any]:
    """All that the sheets show."""
    seats = seat_plans(plan)
    # under the age of three nothing at all goes on skin, whichever oil it is
    wearers = [(w, exclusions_of(w)) for w in WEARERS if w != TOO_YOUNG]
    recipes = _recipes(plan, card, seats, words)
    finished = [_finished(plan, each, printing, words) for each in printing.bottles]
    for each in (*recipes, *finished):
        each["cautions"] = _cautions([*each["oils"], *each["carriers"]], words)
    asked = exercises([words.room_seat(seat) for seat in plan.seats], printing.seed)
    wide, tall = PAPERS_MM[printing.paper]
    needed = attempt([], demand_of, plan, card)
    shopping = printing.shopping or (needed and attempt([], shopping_list, plan, needed))
    return {
        "language": printing.language, "paper": printing.paper, "margin": MARGIN_MM,
        "wide": wide - 2 * MARGIN_MM, "tall": tall - 2 * MARGIN_MM,
        "plan": plan, "card": card, "words": words, "say": words.say, "seats": seats,
        "name": plan.name or words.say("untitled"),
        "bottle": words.number(plan.fields.liquid_m3 * ML_PER_M3),
        "per_ml": words.number(plan.fields.drops_per_ml["default"]),
        "share": words.number(float(card.proofs[0].worst_share) * 100 if card.proofs else 0.0),
        "deviations": [words.number(each.worst_share * 100) for each in card.deviations],
        "bigger": words.number(float(card.deviations[0].drop - 1) * 100, 2),
        "short": words.number(float(card.deviations[1].fill) * card.bottle_ml),
        "room": [line for found in seats if (line := _room_line(plan, found, words))],
        "leave": {
            each.oil.id: ", ".join(words.text(w) for w, out in wearers if each.oil.id in out)
            for each in plan.oils
        },
        "recipes": recipes, "take_home": finished or recipes, "finished": finished,
        "exercises": [(s, [_question(q, words) for q in qs]) for s, qs in asked.items()],
        "answers": [(s, [_answer(q, words) for q in qs]) for s, qs in asked.items()],
        "patch_test": [words.text(step) for step in patch_test_steps()],
        "run": attempt([], run_lines, plan, card, words) or (), "conditions": CONDITIONS,
        "too_young": TOO_YOUNG, "seed": printing.seed, "shopping": shopping,
    }  # fmt: skip


def _room_line(plan: ClassPlan, found: SeatPlan, words: Words) -> str:
    """Restrictions of one seat for the room, without name and reasons; "" where none."""
    sentences = []
    if found.leaves_out:
        sentences.append(words.say("card_without", names=words.listed(found.leaves_out)))
    if found.most_drops < plan.total_drops:
        sentences.append(words.say("card_cap", n=words.counted(found.most_drops, "drop")))
    if not found.may_use:
        sentences = [words.say("card_nothing")]
    if found.carrier is None:
        sentences.append(words.say("card_no_carrier"))
    elif found.needs_other_carrier:
        sentences.append(words.say("card_carrier", name=words.name(found.carrier)))
    return f"{words.room_seat(found.seat)}: {'; '.join(sentences)}" if sentences else ""


def _recipes(
    plan: ClassPlan, card: ChoiceCard, seats: Sequence[SeatPlan], words: Words
) -> list[dict[str, Any]]:
    """A recipe for every set blend; or for every seat, without drops of its own."""
    if plan.blends:
        return [_mixed(plan, each.blend, words) for each in plan.blends]
    recipes = []
    for found in seats:
        oils = [o for o in plan.oils if o.oil.id in found.may_use and card.caps[o.oil.id]]
        recipes.append(
            {
                "title": "", "seat": words.room_seat(found.seat), "most": found.most_drops,
                "rows": [{"material": each.oil.id, "note": each.note} for each in oils],
                "oils": [each.oil.id for each in oils],
                "carriers": [found.carrier] if found.carrier else [],
                "remarks": [line] if (line := _room_line(plan, found, words)) else [],
            }
        )  # fmt: skip
    return recipes


def _mixed(plan: ClassPlan, blend: Blend, words: Words) -> dict[str, Any]:
    """A recipe with its drops."""
    findings = findings_in(blend.bottle, plan.market)
    over = dict.fromkeys(name for f in findings if f.is_broken for name, _ in f.from_oils)
    return {
        "title": blend.name or words.say("untitled"), "seat": "",
        "rows": blend.bottle.oils, "total": blend.bottle.oil_drops,
        "oils": [part.oil.id for part in blend.oils],
        "carriers": [part.carrier.id for part in blend.carriers],
        "remarks": [words.say("recipe_over", names=words.listed(over))] if over else [],
    }  # fmt: skip


def _finished(
    plan: ClassPlan, bottle: SeatBottle, printing: Printing, words: Words
) -> dict[str, Any]:
    """The recipe of one seat as it was mixed, with its days."""
    day = printing.made_on or date.today()
    recipe = _mixed(plan, bottle.blend, words)
    use_by = f"{best_before(bottle.blend, day)[0].use_by}"
    return {**recipe, "title": bottle.seat, "made_on": f"{day}", "use_by": use_by}


def _question(question: Question, words: Words) -> str:
    return words.say(f"exercise_{question.kind}", **question.numbers)


def _answer(question: Question, words: Words) -> str:
    if question.kind == "share":
        return words.say("answer_share", **question.answer)
    ((unit, number),) = question.answer.items()
    if unit == "drops":
        return words.counted(int(number), "drop")
    return f"{words.number(float(number), 6)} {'%' if unit == 'percent' else 'mL'}"


def _cautions(materials: Sequence[str], words: Words) -> list[dict[str, str]]:
    """Cautions for home, one line a text, with the materials that call for it.

    Names come from the materials themselves, since a caution's own words for them are English.
    """
    causes: dict[tuple[int, str], list[str]] = {line: [] for line in _home_cautions("")}
    for material in materials:
        for line in _home_cautions(material):
            causes.setdefault(line, []).append(material)
    lines = sorted(causes, key=lambda line: line[0])
    return [{"text": words.text(e[1]), "names": words.listed(causes[e])} for e in lines]


@lru_cache(maxsize=512)
def _home_cautions(material: str) -> tuple[tuple[int, str], ...]:
    """Place and text of each caution for home that a material calls for; "" for any at all."""
    return tuple(
        (_AT_HOME.index(caution.topic), caution.text)
        for caution in cautions_for([material] if material else [])
        if caution.topic in _AT_HOME and (caution.because_of or not material)
    )
