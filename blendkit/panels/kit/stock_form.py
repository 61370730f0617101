"""Form for the stock: a purchase, a count, and undoing an entry."""

from collections.abc import Callable
from typing import Any

from blendkit.foundation.units import ML_PER_M3, show_ml
from blendkit.journal.store import Journal
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.stock_entries import buy, count, counts, purchases, take_back
from blendkit.keeping.storing import storing_entries
from blendkit.materials.amounts import material
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
        self.bought = parts.text_box("Bought on", "", _NARROW, placeholder="2026-11-25")
        self.opened = parts.text_box("Opened on", "", _NARROW, placeholder="2026-11-25")
        self.left = parts.unit_box("Left now", "mL", "", _NARROW, placeholder="6.5 mL or 6 g")
        self.entry = parts.choice("Entry", [_NOTHING])
        undo = parts.button("Undo this entry", guard(self.undo))
        days = parts.row(self.bought, self.opened)
        self.view = parts.column(
            parts.heading("Record a purchase or a count"),
            self.material,
            parts.row(self.size, self.price),
            parts.row(self.bottles, parts.button("Add purchase", guard(self.buy))),
            parts.row(self.left, parts.button("Correct to this count", guard(self.count))),
            parts.fold(
                "Dates, currency, undo", days, self.currency, parts.row(self.entry, undo)
            ),
        )
        self.view.layout.max_width = "500px"  # so that the stock has room next to it

    def refresh(self, journal: Journal) -> None:
        """List the entries that can be undone."""
        parts.set_options(self.entry, [_NOTHING, *_entries(journal)])

    def buy(self) -> None:
        """Record bottles bought; empty boxes are left out."""
        typed = {"bought_on": self.bought.value.strip(), "opened_on": self.opened.value.strip()}
        if self.price.value.strip():
            typed |= parts.price_of(self.price.value, self.currency.value)
        known: dict[str, Any] = {key: value for key, value in typed.items() if value != ""}
        known["bottles"] = parts.number_of(self.bottles.value)
        row = buy(the_journal(), self.material.value, self.size.quantity, **known)
        self.price.value = ""
        size = show_ml((row.bottle_ml or 0.0) / ML_PER_M3)
        self.say(f"Added {material(row.material).name}, {row.bottles} × {size}.")

    def count(self) -> None:
        """Record what is left."""
        count(the_journal(), self.material.value, self.left.quantity)
        left, self.left.value = self.left.quantity, ""
        self.say(f"Counted {material(self.material.value).name}: {left} left.")

    def undo(self) -> None:
        """Undo the chosen entry."""
        if self.entry.value:
            words = self.entry.label
            take_back(the_journal(), self.entry.value)
            self.say(f"Undone: {words}.")

    def say(self, text: str) -> None:
        """Say what was recorded, and have the lists follow."""
        self._changed()
        self.message.say(text)


def _entries(journal: Journal) -> list[tuple[str, str]]:
    """Bottles bought, counts, storing and tests in force, newest first."""
    entries = [
        *((x.at, x.material, f"{x.bottles} × {show_ml(x.bottle_m3)}", x.entry)
          for x in purchases(journal)),
        *((x.at, x.material, f"counted {show_ml(x.volume_m3)}", x.entry)
          for x in counts(journal).values()),
        *storing_entries(journal),
    ]  # fmt: skip
    return [
        (f"{at.astimezone():%Y-%m-%d}  {material(name).name}: {words}", entry)
        for at, name, words, entry in sorted(entries, reverse=True)
    ]
