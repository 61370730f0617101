"""First sections of the batch panel: weighing, oil concentrate, and stock."""

import contextlib
from collections.abc import Callable
from dataclasses import dataclass
from itertools import chain

import ipywidgets as widgets

from blendkit.batch.master import master
from blendkit.batch.scaling import Batch
from blendkit.batch.stock import OnShelf, uses_of
from blendkit.foundation.errors import BadNumber, Problem
from blendkit.foundation.units import G_PER_KG
from blendkit.journal.errors import CannotJournal
from blendkit.keeping.open_store import read_or, the_journal
from blendkit.keeping.storing import Freshness, freshness
from blendkit.materials.amounts import shelf_id
from blendkit.panels.kit import parts
from blendkit.panels.kit.chart_view import ChartView
from blendkit.panels.kit.print_button import PrintButton
from blendkit.panels.kit.section import Section
from blendkit.panels.kit.stock_form import StockForm
from blendkit.showing.batch import fragments as batch_fragments
from blendkit.showing.batch.rows import shelf_rows, weighing_rows
from blendkit.showing.shelf import fragments as shelf_fragments
from blendkit.skin.check import options
from blendkit.skin.finding_words import skin_in_words
from blendkit.skin.limits import Finding
from blendkit.skin.verdict import Verdict

NO_BATCH = Problem("batch", "none", "a batch that can be made")
_AS_WEIGHED = "Skin check as weighed, worst-case scale error"


@dataclass(frozen=True)
class Making:
    """The batch that all sections show.

    Attributes
    ----------
    batch : Batch
    on_shelf : dict of str to OnShelf
        Stock, by shelf id.
    skin : tuple of Finding
        As counted and weighed, each rule in its own worst case of scale error.
    judged : Verdict or None
        Of the bottle, or of the batch as weighed where that alone does not pass; None before
        the page has drawn the chart.
    """

    batch: Batch
    on_shelf: dict[str, OnShelf]
    skin: tuple[Finding, ...]
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

    def printer(self, label: str, make: Callable[[Making, Verdict], str]) -> PrintButton:
        """A button for a page of the batch, or for one with the reason why there is none."""

        def page() -> str:
            if self.making is None or self.making.judged is None:
                raise BadNumber([NO_BATCH])
            return make(self.making, self.making.judged)

        made = PrintButton(label, lambda: self.printed(page))
        self.print_buttons = (*self.print_buttons, made)
        return made

    def calculate(self, making: Making) -> None:
        """Show the section; `Refused` where an input cannot be used."""
        raise NotImplementedError

    def watch(self, *controls: widgets.Widget) -> None:
        """Show the section again when one of these changes."""
        parts.observe(self.message.guard(self.again), *controls)


class WeighSection(BatchSection):
    """Amounts to count, weigh and pour, with the skin check."""

    def __init__(self) -> None:
        self.chart = ChartView(
            "batch", "weighing_chart", "Amounts to measure out, smallest first"
        )
        self.words, self.skin = parts.Findings(""), parts.Findings("")
        self.weighings, self.pours = widgets.HTML(), widgets.HTML()
        sheet = self.printer("Print the weighing list", _weighing_page)
        tables = (self.weighings, self.pours)
        skin = (parts.heading(_AS_WEIGHED), self.skin.view)
        super().__init__(self.chart, self.words.view, *tables, *skin, above=(sheet,))

    def calculate(self, making: Making) -> None:
        """Show the batch."""
        batch = making.batch
        self.chart.rows = weighing_rows(batch)
        self.words.show(batch.sentences)
        self.weighings.value = batch_fragments.weighing_list(batch, "Measure out")
        self.pours.value = batch_fragments.pour_list(batch)
        self.skin.show(skin_in_words(making.skin))


class MasterSection(BatchSection):
    """Oils mixed without carrier, to dilute later at several strengths."""

    def __init__(self) -> None:
        usual = (("8 × 10 mL", "20 %"), ("4 × 30 mL", "5 %"), ("", ""))
        self.dilutions = [
            (
                parts.unit_box("Bottles", "× 10 mL", bottles, "250px"),
                parts.unit_box("Strength", "%", strength),
            )
            for bottles, strength in usual
        ]
        rows = map(widgets.HBox, self.dilutions)
        self.weighings, self.later = widgets.HTML(), widgets.HTML()
        self.words, self.skin = parts.Findings(""), parts.Findings("")
        super().__init__(
            *(self.weighings, self.words.view, self.later),
            *(parts.heading(_AS_WEIGHED), self.skin.view),
            above=(parts.heading("Bottles to fill from it"), *rows),
        )
        self.watch(*chain(*self.dilutions))

    def calculate(self, making: Making) -> None:
        """Show the master and its dilutions."""
        batch = making.batch
        typed = [(some.quantity, strength.quantity) for some, strength in self.dilutions]
        wanted = [pair for pair in typed if any(pair)]
        step, loss = f"{batch.step_kg * G_PER_KG:g} g", f"{batch.loss_fraction * 100:.12g} %"
        found = master(batch.blend, wanted, scale_step=step, loss=loss)
        self.weighings.value = batch_fragments.weighing_list(
            found, "Weigh into the concentrate"
        )
        self.words.show(found.sentences)
        self.later.value = batch_fragments.dilution_list(found)
        shared: dict[str, list[str]] = {}  # a sentence on several bottles is shown once
        for each in found.dilutions:
            for sentence in skin_in_words(each.worst):
                shared.setdefault(sentence, []).append(str(each.bottles))
        self.skin.show(f"{', '.join(bottles)}: {text}" for text, bottles in shared.items())


class ShelfSection(BatchSection):
    """Stock for the batch, with forms for purchases and counts.

    Parameters
    ----------
    changed : callable
        Called after an entry.
    """

    def __init__(self, changed: Callable[..., None]) -> None:
        self.chart = ChartView("batch", "shelf_chart", "Stock as a share of what is needed")
        self.everything = widgets.HTML()
        super().__init__(self.chart)
        self.form = StockForm(self.message, changed)
        self.view.children = (*self.view.children, self.form.view, self.everything)

    def calculate(self, making: Making) -> None:
        """Show the stock."""
        rest = sorted({shelf_id(each.material) for each in making.batch.weighings})
        parts.set_options(self.form.material, options(rest))
        with contextlib.suppress(CannotJournal):  # the line of the kept blends shows why
            self.form.refresh(the_journal())
        self.chart.rows = shelf_rows(uses_of(making.batch), making.on_shelf)
        fresh = read_or(freshness, Freshness({}, {}))
        self.everything.value = shelf_fragments.stock_list(making.on_shelf, fresh)


def _weighing_page(making: Making, judged: Verdict) -> str:
    """Amounts to tick, smallest first, and the filling."""
    batch = making.batch
    lists = (
        batch_fragments.weighing_list(batch, "Measure out"),
        batch_fragments.pour_list(batch),
    )
    return batch_fragments.page("Weighing list", batch, judged, lists, batch.sentences)
