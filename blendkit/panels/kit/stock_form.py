"""Form for the stock: a purchase, a count, and undoing an entry."""

from __future__ import annotations

from collections.abc import Callable
from operator import itemgetter
from typing import Any

from blendkit.batch.stock import Count, Purchase
from blendkit.foundation.units import ML_PER_M3, show_ml
from blendkit.journal.records import StoringRow
from blendkit.journal.store import Journal
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.stock_entries import buy, count, counts, purchases, take_back
from blendkit.keeping.storing import storing_in_words
from blendkit.materials.amounts import material
from blendkit.materials.catalogue import known_ids
from blendkit.panels.kit import parts

_NARROW = "230px"
_NOTHING = ("nothing", "")


class StockForm:
    """Boxes for one material, with a button for each kind of entry.

    Parameters
    ----------
    message : Message
        Where to say what was recorded.
    changed : callable
        Called after an entry.

    Attributes
    ----------
    view : ipywidgets.Widget
    """

    def __init__(self, message: parts.Message, changed: Callable[[], None]) -> None:
        self.message, self._changed = message, changed
        guard = message.guard
        self.material = parts.choice("Material", [])
        self.size = parts.unit_box("Bottle size", "mL", "10 mL", _NARROW)
        self.bottles = parts.text_box("Bottles", "1", _NARROW)
        self.currency = parts.text_box("Currency", "EUR", _NARROW)
        self.price = parts.text_box("Price of one", "", _NARROW, placeholder="12.50")
        self.bought, self.opened = (
            parts.text_box(label, "", _NARROW, placeholder="2026-11-25")
            for label in ("Bought on", "Opened on")
        )
        self.left = parts.unit_box("Left now", "mL", "", _NARROW, placeholder="6.5 mL or 6 g")
        self.entry = parts.choice("Entry", [_NOTHING])
        undo = parts.button("Undo this entry", guard(self.undo))
        self.view = parts.column(
            parts.heading("Record a purchase or a count"),
            self.material,
            parts.row(self.size, self.price),
            parts.row(self.bottles, parts.button("Add purchase", guard(self.buy))),
            parts.row(self.left, parts.button("Correct to this count", guard(self.count))),
            parts.fold(
                "Dates, currency, undo",
                parts.row(self.bought, self.opened),
                self.currency,
                parts.row(self.entry, undo),
            ),
        )

        self.view.layout.max_width = "500px"  # so that the stock has room next to it

    def refresh(self, journal: Journal) -> None:
        """List the entries that can be undone."""
        parts.set_options(self.entry, [_NOTHING, *_entries(journal)])

    def buy(self) -> None:
        """Record bottles bought; empty boxes are left out."""
        typed: dict[str, Any] = {
            "bought_on": self.bought.value.strip(),
            "opened_on": self.opened.value.strip(),
        }
        if self.price.value.strip():
            typed |= parts.price_of(self.price.value, self.currency.value)
        matters = {key: value for key, value in typed.items() if value != ""}
        bottles: Any = parts.number_of(self.bottles.value)
        row = buy(
            the_journal(), self.material.value, self.size.quantity, bottles=bottles, **matters
        )
        self.price.value = ""
        size = show_ml((row.bottle_ml or 0.0) / ML_PER_M3)
        self._say(f"Added {material(row.material).name}, {row.bottles} × {size}.")

    def count(self) -> None:
        """Record what is left."""
        count(the_journal(), self.material.value, self.left.quantity)
        left, self.left.value = self.left.quantity, ""
        self._say(f"Counted {material(self.material.value).name}: {left} left.")

    def undo(self) -> None:
        """Undo the chosen entry."""
        if self.entry.value:
            words = self.entry.label
            take_back(the_journal(), self.entry.value)
            self._say(f"Undone: {words}.")

    def _say(self, text: str) -> None:
        self._changed()
        self.message.say(text)


def _entries(journal: Journal) -> list[tuple[str, str]]:
    """Bottles bought, counts, storing and tests in force, newest first."""
    words: dict[Purchase | Count, str] = {
        **{row: f"{row.bottles} × {show_ml(row.bottle_m3)}" for row in purchases(journal)},
        **{row: f"counted {show_ml(row.volume_m3)}" for row in counts(journal).values()},
    }
    entries = [(row.at, row.material, each, row.entry) for row, each in words.items()]
    known = known_ids()
    entries += [
        (row.kept_at, row.material, storing_in_words(row), row.id)
        for row in journal.all(StoringRow)
        if row.material in known
    ]
    return [
        (f"{at.astimezone():%Y-%m-%d}  {material(name).name}: {each}", entry)
        for at, name, each, entry in sorted(entries, key=itemgetter(0), reverse=True)
    ]
