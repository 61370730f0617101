"""The sections of the class panel that only show, and what all its sections share.

Each shows its own refusal in its own place, so that a class too long for its minutes still has
a shopping list.
"""

from collections.abc import Mapping, Sequence
from datetime import date

import ipywidgets as widgets

from blendkit.foundation.errors import BadNumber, Problem
from blendkit.foundation.units import counted, show
from blendkit.keeping.class_results import keep_bottles
from blendkit.keeping.open_store import the_journal
from blendkit.panels.kit import parts
from blendkit.panels.kit.chart_view import ChartView
from blendkit.panels.kit.section import Section
from blendkit.panels.teaching.shopping import ShoppingSection
from blendkit.showing.teach import fragments as class_fragments
from blendkit.showing.teach import rows as class_rows
from blendkit.teaching.class_document import ClassPlan
from blendkit.teaching.demand import chance_in_words, demand_of
from blendkit.teaching.free_choice import ChoiceCard, proof_in_words
from blendkit.teaching.judging import Judgement
from blendkit.teaching.plan import plan_in_words
from blendkit.teaching.results import SeatBottle
from blendkit.teaching.run_sheet import run_sheet

_SUNS = '<p class="bk-faint">Suns: one budget for all oils that react with sunlight.</p>'


class ClassSection(Section):
    """A part of the class panel.

    Attributes
    ----------
    plan : ClassPlan or None
        The last good one, with its card.
    """

    plan: ClassPlan | None = None
    card: ChoiceCard | None = None

    def offer(self, plan: ClassPlan, card: ChoiceCard | None) -> None:
        """Show what follows from a good plan, or say why nothing does."""
        self.plan, self.card = plan, card
        self.attempt(lambda: self.calculate(plan, card))

    def good_plan(self) -> ClassPlan:
        """The last good plan; `BadNumber` where there was none yet."""
        if self.plan is None:
            fix = "Mend the plan first."
            raise BadNumber([Problem("class", "none", "a class that can be planned", fix)])
        return self.plan

    def calculate(self, plan: ClassPlan, card: ChoiceCard | None) -> None:
        """Show what follows; `Refused` where nothing does. Here: nothing."""


class PlanSection(ClassSection):
    """Oils that each seat can use, as a picture and in words."""

    def __init__(self) -> None:
        self.picture = widgets.HTML()
        self.words = parts.Findings("")
        super().__init__(self.picture, parts.heading("In words"), self.words.view)

    def calculate(self, plan: ClassPlan, card: ChoiceCard | None) -> None:
        """Show the seats."""
        self.picture.value = class_fragments.seat_picture(plan)
        self.words.show(plan_in_words(plan))


class BuySection(ClassSection):
    """Amounts to have in the room, so that nobody runs out, with the chance asked for."""

    def __init__(self) -> None:
        self.chart = ChartView("teach", "demand_chart", "Drops to have of each oil")
        self.words = parts.Findings("")
        self.shopping = ShoppingSection()
        super().__init__(self.chart, self.words.view)
        self.view.children = (*self.view.children, self.shopping.view)

    def calculate(self, plan: ClassPlan, card: ChoiceCard | None) -> None:
        """Calculate the demand with 95 % chance."""
        demand = demand_of(plan, card)
        self.chart.rows = class_rows.demand_rows(demand)
        top = f"{show(plan.spillage * 100)} % spillage and "
        top += f"{counted(plan.sniffing_drops, 'drop')} of each oil for blotters"
        how = (f"{demand.method} {demand.model}", f"On top: {top} (both judgement).")
        self.words.show([*chance_in_words(demand), *how])
        self.shopping.offer(plan, demand)


class CardSection(ClassSection):
    """The most drops of each oil, and what proves that any mix by the card keeps the limits."""

    def __init__(self) -> None:
        self.rule = widgets.HTML()
        self.chart = ChartView("teach", "card_chart", "Most drops of each oil in one bottle")
        self.proof = parts.Findings("")
        super().__init__(
            self.rule, self.chart, parts.heading("What proves it"), self.proof.view
        )

    def calculate(self, plan: ClassPlan, card: ChoiceCard | None) -> None:
        """Show the card."""
        if card is None:
            return
        size = show(card.bottle_ml)
        suns = f"; at most {counted(card.most_suns, 'sun')}" if card.suns else ""
        rule = f"In {size} mL: at most {counted(card.total_drops, 'drop')} in all{suns}."
        large = f'<p style="font-size: 20px; line-height: 1.3">{rule}</p>'
        self.rule.value = f"{large}{_SUNS if card.suns else ''}"
        self.chart.rows = class_rows.card_rows(plan, card)
        self.proof.show(proof_in_words(card))


class RunSection(ClassSection):
    """Minute by minute, with every bottle at one table at a time."""

    def __init__(self) -> None:
        self.words = parts.Findings("")
        self.lines = widgets.HTML()
        super().__init__(self.words.view, self.lines)

    def calculate(self, plan: ClassPlan, card: ChoiceCard | None) -> None:
        """Lay the class out over its minutes."""
        sheet = run_sheet(plan, card)
        self.words.show(sheet.words)
        self.lines.value = class_fragments.run_list(plan, card)


def keep_judged(
    plan: ClassPlan,
    judged: Sequence[tuple[SeatBottle, Judgement]],
    made_on: date,
    *,
    says_seat: bool = False,
) -> tuple[dict[str, str], int]:
    """Keep bottles in the journal, with what each has that its seat leaves out.

    Returns
    -------
    lots : dict of str to str
        By seat, of the bottles that were not kept before.
    before : int
        How many were.
    """
    left_out = {one.seat: [name for name, _ in found.left_out] for one, found in judged}
    bottles = [one for one, _ in judged]
    made = (the_journal(), plan, bottles, made_on, left_out)
    kept = keep_bottles(*made, says_seat=says_seat)
    lots = {seat: lot for seat, lot in kept.items() if lot}
    return lots, len(kept) - len(lots)


def lots_in_words(lots: Mapping[str, str]) -> list[str]:
    """Lots by seat, in sentences."""
    return [f"{seat}: lot {lot}" for seat, lot in lots.items()]
