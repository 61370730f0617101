"""First sections of the batch panel: weighing, oil concentrate, and stock."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any

import ipywidgets as widgets

from blendkit.batch.bottles import bottles_in_words
from blendkit.batch.master import master_like
from blendkit.batch.scaling import Batch
from blendkit.batch.stock import OnShelf, uses_of
from blendkit.batch.weighing import BatchSkin
from blendkit.foundation.errors import BadNumber, Problem, Refused
from blendkit.foundation.money import read_money
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.stock_entries import buy, count
from blendkit.materials.amounts import shelf_id
from blendkit.panels.kit import parts
from blendkit.panels.kit.chart_view import ChartView
from blendkit.panels.kit.print_button import PrintButton
from blendkit.panels.kit.section import Section
from blendkit.showing.batch import fragments as batch_fragments
from blendkit.showing.batch.rows import shelf_rows, weighing_rows
from blendkit.showing.batch.sheets import weighing_page
from blendkit.showing.label.pages import refusal_page
from blendkit.skin.check import options
from blendkit.skin.finding_words import skin_in_words
from blendkit.skin.verdict import Verdict


@dataclass(frozen=True)
class Making:
    """The batch that all sections show.

    Attributes
    ----------
    batch : Batch
    on_shelf : dict of str to OnShelf
        Stock, by shelf id.
    skin : BatchSkin
    judged : Verdict or None
        Of the bottle, or of the batch as weighed where that alone does not pass; None before
        the page has drawn the chart.
    """

    batch: Batch
    on_shelf: dict[str, OnShelf]
    skin: BatchSkin
    judged: Verdict | None = None


class BatchSection(Section):
    """A part of the batch panel; `making` is the batch it shows, on the pages it prints too."""

    making: Making | None = None
    print_buttons: tuple[PrintButton, ...] = ()

    def offer(self, making: Making) -> None:
        """Show a batch, or the reason for showing nothing."""
        self.making = making
        for print_button in self.print_buttons:
            print_button.warning = making.judged.warning if making.judged else ""
        self.again()

    def again(self) -> None:
        """Show the same batch with the values typed here now."""
        making = self.making
        if making is not None:
            self.attempt(lambda: self.calculate(making))

    def page(self, make: Callable[[Making, Verdict], str]) -> str:
        """Make a page; where it is refused, one with the reason, which a button would hide."""
        making = self.making
        try:
            if making is None or making.judged is None:
                raise BadNumber([Problem("batch", "none", "a batch that can be made")])
            return make(making, making.judged)
        except Refused as error:
            self.message.refuse(error)
            return refusal_page(error.sentences)

    def calculate(self, making: Making) -> None:
        """Show the section; `Refused` where an input cannot be used."""
        raise NotImplementedError

    def watch(self, *controls: widgets.Widget) -> None:
        """Show the section again when one of these changes."""
        again = self.message.guard(self.again)
        for control in controls:
            control.observe(again, "value")


class WeighSection(BatchSection):
    """Amounts to count, weigh and pour, with the skin check."""

    def __init__(self) -> None:
        self.chart = ChartView(
            "batch", "weighing_chart", "Amounts to measure out, smallest first"
        )
        self.words, self.skin = parts.Findings(""), parts.Findings("")
        self.weighings, self.pours = widgets.HTML(), widgets.HTML()
        sheet = PrintButton("Print the weighing list", lambda: self.page(_weighing_page))
        self.print_buttons = (sheet,)
        super().__init__(
            self.chart,
            self.words.view,
            self.weighings,
            self.pours,
            parts.heading("Skin check as weighed, worst-case scale error"),
            self.skin.view,
            above=self.print_buttons,
        )

    def calculate(self, making: Making) -> None:
        """Show the batch."""
        batch = making.batch
        self.chart.rows = weighing_rows(batch)
        self.words.show(batch.sentences)
        self.weighings.value = batch_fragments.weighing_list(batch, "Measure out")
        self.pours.value = batch_fragments.pour_list(batch)
        self.skin.show(skin_in_words(making.skin.worst))


def _weighing_page(making: Making, judged: Verdict) -> str:
    return weighing_page(making.batch, judged)


class MasterSection(BatchSection):
    """Oils mixed without carrier, to dilute later at several strengths."""

    def __init__(self) -> None:
        self.dilutions = [
            (
                parts.text_box("Bottles", bottles, "250px"),
                parts.text_box("Strength", strength, "210px"),
            )
            for bottles, strength in (("8 × 10 mL", "20 %"), ("4 × 30 mL", "5 %"), ("", ""))
        ]
        self.weighings, self.later = widgets.HTML(), widgets.HTML()
        self.words, self.skin = parts.Findings(""), parts.Findings("")
        super().__init__(
            self.weighings,
            self.words.view,
            self.later,
            parts.heading("Skin check as weighed, worst-case scale error"),
            self.skin.view,
            above=(
                parts.heading("Bottles to fill from it"),
                *(widgets.HBox(pair) for pair in self.dilutions),
            ),
        )
        self.watch(*(box for pair in self.dilutions for box in pair))

    def calculate(self, making: Making) -> None:
        """Show the master and its dilutions."""
        batch = making.batch
        wanted = [
            (bottles.value, strength.value)
            for bottles, strength in self.dilutions
            if bottles.value.strip() or strength.value.strip()
        ]
        found = master_like(batch, wanted)
        self.weighings.value = batch_fragments.weighing_list(
            found, "Weigh into the concentrate"
        )
        self.words.show(found.sentences)
        self.later.value = batch_fragments.dilution_list(found)
        shared: dict[str, list[str]] = {}  # a sentence on several bottles is shown once
        for each in found.dilutions:
            for sentence in skin_in_words(each.worst):
                shared.setdefault(sentence, []).append(bottles_in_words([each.bottles]))
        self.skin.show(f"{', '.join(bottles)}: {text}" for text, bottles in shared.items())


class ShelfSection(BatchSection):
    """Stock for the batch, with forms for purchases and counts.

    Parameters
    ----------
    changed : callable
        Called after an entry.
    """

    def __init__(self, changed: Callable[..., None]) -> None:
        self.changed = changed
        self.chart = ChartView("batch", "shelf_chart", "Stock as a share of what is needed")
        self.everything, self.note = widgets.HTML(), parts.Findings("")
        self.material = parts.choice("Material", [])
        self.size = parts.text_box("Bottle of", "10 mL", "210px")
        self.price = parts.text_box("Price of one", "", "250px", placeholder="12.50 EUR")
        self.bottles = parts.text_box("Bottles", "1", "210px")
        self.opened_on = parts.text_box("Opened on", "", "250px", placeholder="2026-11-25")
        self.left = parts.text_box("Left now", "", "210px", placeholder="6.5 mL")
        super().__init__(
            self.chart,
            self.note.view,
            parts.heading("Record a purchase or a count"),
        )
        guard = self.message.guard
        buy = parts.button("Add purchase", guard(self.buy))
        count = parts.button("Correct stock to this count", guard(self.count))
        entry = [
            self.material,
            parts.row(self.size, self.price),
            parts.row(self.bottles, self.opened_on, buy),
            parts.row(self.left, count),
        ]
        self.view.children = (*self.view.children, *entry, self.everything)

    def calculate(self, making: Making) -> None:
        """Show the stock."""
        names = [each.material for each in making.batch.weighings]
        rest = sorted({shelf_id(name) for name in names})
        parts.set_options(self.material, options(rest))
        self.chart.rows = shelf_rows(uses_of(making.batch), making.on_shelf)
        self.everything.value = batch_fragments.stock_list(making.on_shelf)
        self.note.show(
            f"{row.name}: {row.remark}" for row in making.on_shelf.values() if row.remark
        )

    def buy(self) -> None:
        """Add bottles to the stock."""
        price: dict[str, Any] = {}
        if self.price.value.strip():
            money = read_money(self.price.value, name="price of one")
            price = {"price": money.amount, "currency": money.currency}
        bottles: Any = parts.number_of(self.bottles.value)
        opened = self.opened_on.value.strip() or None
        journal, name = the_journal(), self.material.value
        buy(journal, name, self.size.value, bottles=bottles, opened_on=opened, **price)
        self.changed()
        self.message.say(f"Recorded in {journal.path}.")

    def count(self) -> None:
        """Record a count."""
        journal = the_journal()
        count(journal, self.material.value, self.left.value)
        self.changed()
        self.message.say(f"Counted on {date.today()}, recorded in {journal.path}.")
