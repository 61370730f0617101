"""Mixtures: a batch to keep with its lot, label and stock; a ladder of two for the blotters."""

from collections.abc import Callable
from operator import attrgetter

import ipywidgets as widgets

from blendkit.foundation.errors import Refused
from blendkit.journal.records import MakingRow
from blendkit.keeping.hand import own_drop_sizes
from blendkit.keeping.makings import make_mixture, making_label
from blendkit.keeping.open_store import read_or, the_journal
from blendkit.keeping.own_materials import keep_mixture
from blendkit.making.ladder import USUAL, Rung, ladder, rung_of
from blendkit.materials import catalogue
from blendkit.materials.amounts import material
from blendkit.materials.catalogue import MixedMaterial
from blendkit.panels.kit import parts
from blendkit.panels.kit.print_button import PrintButton
from blendkit.showing.kit.rendering import render
from blendkit.skin.check import options

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
        self.made.value = render("makings", labels=[*map(making_label, newest)])

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
        return render("making_label", label=label, instead="Add a batch of this mixture first.")


class Ladder:
    """Two materials, the ratios to smell, and the code that was liked best.

    Parameters
    ----------
    message : Message
    changed : callable
        Called with the accord's id once it is kept.
    """

    def __init__(self, message: parts.Message, changed: Callable[[str], None]) -> None:
        self.message, self.changed = message, changed
        self.first, self.second = (parts.choice(label, []) for label in ("First", "Second"))
        self.ratios = parts.text_box("Drops of each", USUAL, "380px")
        self.best = parts.text_box("Best code", "", "230px")
        self.name = parts.text_box("Name of accord")
        self.sheet = PrintButton("Print the ladder", self.page)
        keep = parts.button("Keep the best as an accord", message.guard(self.keep))
        self.view = parts.column(
            self.first, self.second, self.ratios, self.sheet,
            parts.row(self.best), self.name, keep,
        )  # fmt: skip
        self.refresh()
        self.second.index = 1

    def refresh(self) -> None:
        """Offer what is on the shelf now; accords can be laddered again, pair by pair."""
        offered = sorted(options(catalogue.oil_ids()))
        for box in (self.first, self.second):
            parts.set_options(box, offered)

    def _rungs(self) -> tuple[Rung, ...]:
        return ladder(self.first.value, self.second.value, self.ratios.value)

    def page(self) -> str:
        """The ladder as a page: drops to mix by code, and codes to smell in another order."""
        names = material(self.first.value).name, material(self.second.value).name
        try:
            rungs = self._rungs()
            by_code = sorted(rungs, key=attrgetter("code"))
            return render("ladder", names=names, rungs=rungs, by_code=by_code)
        except Refused as error:
            self.message.refuse(error)
            return render("making_label", label="", instead=str(error))

    def keep(self) -> None:
        """Keep the ratio with the code typed as a mixture."""
        rung = rung_of(self._rungs(), self.best.value)
        amounts = {self.first.value: rung.first, self.second.value: rung.second}
        sizes = own_drop_sizes({"oils": [{"id": name} for name in amounts]})
        made = keep_mixture(self.name.value, amounts, "drops", drop_sizes=sizes)
        self.changed(made.id)
        self.message.say(f"Kept {made.name}, {rung.first} drops to {rung.second}.")
