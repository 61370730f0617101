"""The stock on the shelf panel: bottles bought, what is left, and counting."""

from __future__ import annotations

import ipywidgets as widgets

from blendkit.foundation.units import ML_PER_M3, show
from blendkit.journal.store import Journal
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.stock_entries import (
    buy,
    count,
    counts,
    current_stock,
    purchases,
    take_back,
)
from blendkit.materials import catalogue
from blendkit.materials.amounts import material
from blendkit.panels.kit.parts import (
    Message,
    button,
    choice,
    heading,
    number_of,
    results,
    set_options,
    text_box,
)
from blendkit.showing.shelf import fragments
from blendkit.skin.check import marked_name, options

_NARROW = "230px"
_NOTHING = ("nothing", "")
_HINT = (
    '<p class="bk-faint">What your batches in the journal used is taken off by itself. When '
    "the list and the bottle disagree, count: the newest count wins, and only later batches "
    "are taken off it. Own lots count with their oil.</p>"
)


class ShelfStock:
    """Bottles, prices and counts, and what is left of each material.

    Attributes
    ----------
    views : tuple of widgets
        Controls, and next to them what is left.
    """

    def __init__(self, message: Message) -> None:
        self.message = message
        guard = message.guard
        self.material = choice("Oil or carrier", _materials())
        self.size = text_box("Bottle size", "10 mL", _NARROW)
        self.bottles = text_box("How many", "1", _NARROW)
        self.price = text_box("Price of one", "", _NARROW, placeholder="12.50")
        self.currency = text_box("Currency", "EUR", _NARROW)
        self.bought = text_box("Bought on", "", _NARROW, placeholder="2026-11-25")
        self.opened = text_box("Opened on", "", _NARROW, placeholder="2026-11-25")
        self.left = text_box("Left now", "", _NARROW, placeholder="6.5 mL or 6 g")
        self.slip = choice("Undo an entry", [_NOTHING])
        self.list = widgets.HTML()
        entering = widgets.VBox(
            [
                heading("Put bottles on your shelf, or count"),
                self.material,
                *(self.size, self.bottles, self.price),
                *(self.currency, self.bought, self.opened),
                widgets.HBox([button("Put on the shelf", guard(self.put_on_shelf))]),
                self.left,
                widgets.HBox([button("Correct stock to this count", guard(self.count))]),
                self.slip,
                widgets.HBox([button("Undo this entry", guard(self.take_back))]),
            ]
        )
        list_view = results(heading("What is on your shelf"), widgets.HTML(_HINT), self.list)
        self.views = (entering, list_view)

    def update(self) -> None:
        """Show what is left, with what the journal's batches used taken off."""
        journal = the_journal()
        self.list.value = fragments.stock_list(current_stock(journal))
        set_options(self.slip, [_NOTHING, *_entries(journal)])

    def put_on_shelf(self) -> None:
        """Write down the bottles that were typed; empty boxes are left out."""
        typed = {
            "price": number_of(self.price.value),
            "currency": self.currency.value.strip() if self.price.value.strip() else "",
            "bottles": number_of(self.bottles.value),
            "bought_on": self.bought.value.strip(),
            "opened_on": self.opened.value.strip(),
        }
        matters = {key: value for key, value in typed.items() if value != ""}
        journal = the_journal()
        row = buy(journal, self.material.value, self.size.value, **matters)
        bottles = f"{row.bottles} × {show(row.bottle_ml or 0)} mL"
        self._say(f"{material(row.material).name}: {bottles} entered in {journal.path}.")

    def count(self) -> None:
        """Write down what is left."""
        journal = the_journal()
        count(journal, self.material.value, self.left.value)
        self._say(f"Counted: {self.left.value.strip()} left. Entered in {journal.path}.")

    def take_back(self) -> None:
        """Undo the chosen entry."""
        if self.slip.value:
            take_back(the_journal(), self.slip.value)
            self._say("Undone; the entry stays in the store and no longer counts.")

    def _say(self, text: str) -> None:
        self.update()
        self.message.say(text)


def _materials() -> list[tuple[str, str]]:
    """Carriers first: they are few, and the largest bottles."""
    listed = (catalogue.carrier_ids(), catalogue.shipped_oils().index)
    return [option for ids in listed for option in sorted(options(ids))]


def _entries(journal: Journal) -> list[tuple[str, str]]:
    """Bottles bought and counts in force, newest first."""
    rows = [
        (
            row.at,
            f"{marked_name(row.material)}: {row.bottles} × {_ml(row.bottle_m3)}",
            row.entry,
        )
        for row in purchases(journal)
    ]
    rows += [
        (row.at, f"{marked_name(row.material)}: counted {_ml(row.volume_m3)}", row.entry)
        for row in counts(journal).values()
    ]
    newest_first = sorted(rows, reverse=True)
    return [
        (f"{at.astimezone():%Y-%m-%d}  {words}", entry) for at, words, entry in newest_first
    ]


def _ml(volume_m3: float) -> str:
    return f"{show(volume_m3 * ML_PER_M3)} mL"
