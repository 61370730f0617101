"""Making a mixture to keep: a batch with its lot, its label line and its stock."""

from __future__ import annotations

from collections.abc import Callable

import ipywidgets as widgets

from blendkit.journal.records import MakingRow
from blendkit.keeping.makings import make_mixture, making_label
from blendkit.keeping.open_store import read_or, the_journal
from blendkit.materials import catalogue
from blendkit.materials.catalogue import MixedMaterial
from blendkit.panels.kit import parts
from blendkit.panels.kit.print_button import PrintButton
from blendkit.showing.shelf import fragments

MOST_LISTED = 12


class Makings:
    """Entering what was mixed to keep.

    Parameters
    ----------
    message : Message
    changed : callable
        Called once a batch is entered.
    """

    def __init__(self, message: parts.Message, changed: Callable[[], None]) -> None:
        self.message, self.changed = message, changed
        self.mixture = parts.choice("Mixture", [])
        self.amount = parts.unit_box("Amount made", "mL", "10 mL", "230px")
        self.made_on = parts.text_box("Made on", "", "230px", placeholder="today")
        self.made = widgets.HTML()
        self.label = PrintButton("Print its label", self.label_page)
        make = parts.button("Add this batch", message.guard(self.make))
        self.view = parts.column(
            self.mixture, parts.row(self.amount, self.made_on), parts.row(make, self.label),
            self.made,
        )  # fmt: skip
        self.refresh()

    def refresh(self) -> None:
        """Offer the mixtures on record, and list what was made of them."""
        ids = (*catalogue.oil_ids(), *catalogue.carrier_ids())
        own = [item for name in ids if (item := catalogue.find_own(name))]
        mixtures = [(item.name, item.id) for item in own if isinstance(item, MixedMaterial)]
        parts.set_options(self.mixture, sorted(mixtures))
        rows: list[MakingRow] = read_or(lambda journal: [*journal.all(MakingRow)], [])
        newest = rows[: -MOST_LISTED - 1 : -1]
        self.made.value = fragments.makings([making_label(row) for row in newest])

    def make(self) -> None:
        """Enter a batch: its parts are taken from the stock, and it goes on the shelf."""
        day = self.made_on.value.strip() or None
        row = make_mixture(the_journal(), self.mixture.value, self.amount.quantity, made_on=day)
        self.changed()
        self.message.say(f"Added: {making_label(row)}")

    def label_page(self) -> str:
        """The label of the newest batch of the chosen mixture, as a page to print."""
        rows = the_journal().all(MakingRow)
        base = str(self.mixture.value)
        mine = [row for row in rows if row.material.partition(catalogue.OWN_MARK)[0] == base]
        label = making_label(mine[-1]) if mine else ""
        return fragments.making_page(label, "Add a batch of this mixture first.")
