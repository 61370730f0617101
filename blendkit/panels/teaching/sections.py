"""The sections of the class panel that only show: plan, what to buy, the card, the run sheet.

Each shows its own refusal in its own place, so that a class too long for its minutes still has
a shopping list.
"""

from __future__ import annotations

import ipywidgets as widgets

from blendkit.foundation.errors import Refused
from blendkit.foundation.units import counted, show
from blendkit.panels.kit import parts
from blendkit.panels.kit.chart_view import ChartView
from blendkit.panels.kit.section import Section
from blendkit.panels.teaching.shopping import ShoppingGrid
from blendkit.showing.teach import fragments as class_fragments
from blendkit.showing.teach import rows as class_rows
from blendkit.teaching.class_document import ClassPlan
from blendkit.teaching.demand import Demand, chance_in_words, demand_of
from blendkit.teaching.free_choice import ChoiceCard, proof_in_words
from blendkit.teaching.plan import plan_in_words
from blendkit.teaching.run_sheet import run_sheet

_SUNS = '<p class="bk-faint">Suns: one budget for all oils that react with sunlight.</p>'


class ClassSection(Section):
    """A part of the class panel."""

    def offer(self, plan: ClassPlan, card: ChoiceCard | None) -> None:
        """Show what follows from a good plan, or say why nothing does."""
        self.attempt(lambda: self.calculate(plan, card))

    def calculate(self, plan: ClassPlan, card: ChoiceCard | None) -> None:
        """Show what follows; `Refused` where nothing does."""
        raise NotImplementedError


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
        self.shopping = ShoppingGrid(self.again)
        super().__init__(self.chart, self.words.view)
        self.listed = parts.Message()  # a mistake in the list leaves what to have as it is
        self.view.children = (*self.view.children, self.listed.view, self.shopping.view)
        self._offered: tuple[ClassPlan, Demand] | None = None

    def calculate(self, plan: ClassPlan, card: ChoiceCard | None) -> None:
        """Calculate the demand with 95 % chance."""
        demand = demand_of(plan, card)
        self.chart.rows = class_rows.demand_rows(demand)
        spill = show(plan.spillage * 100)
        self.words.show(
            [
                *chance_in_words(demand),
                f"{demand.method} {demand.model}",
                f"On top: {spill} % spillage and {counted(plan.sniffing_drops, 'drop')} of "
                "each oil for blotters (both judgement).",
            ]
        )
        self._offered = plan, demand
        self.again()

    def again(self, _: object = None) -> None:
        """Calculate the shopping list again, from what was typed into it."""
        self.listed.guard(self._list)()

    def _list(self) -> None:
        if self._offered is None:
            return
        try:
            self.shopping.offer(*self._offered)
        except Refused:
            parts.grey(self.shopping.words.view, stale=True)
            raise
        parts.grey(self.shopping.words.view, stale=False)
        self.listed.say("")


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
