"""A ladder of two materials: a sheet for the blotters, and the best rung kept as an accord."""

from __future__ import annotations

from collections.abc import Callable

from blendkit.foundation.errors import Refused
from blendkit.keeping.hand import own_drop_sizes
from blendkit.keeping.own_materials import keep_mixture
from blendkit.making.ladder import USUAL, Rung, ladder, rung_of
from blendkit.materials import catalogue
from blendkit.materials.amounts import material
from blendkit.panels.kit import parts
from blendkit.panels.kit.print_button import PrintButton
from blendkit.showing.shelf import fragments
from blendkit.skin.check import options


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
            return fragments.ladder_page(names, self._rungs())
        except Refused as error:
            self.message.refuse(error)
            return fragments.making_page("", str(error))

    def keep(self) -> None:
        """Keep the ratio with the code typed as a mixture."""
        rung = rung_of(self._rungs(), self.best.value)
        amounts = {self.first.value: rung.first, self.second.value: rung.second}
        sizes = own_drop_sizes({"oils": [{"id": name} for name in amounts]})
        made = keep_mixture(self.name.value, amounts, "drops", drop_sizes=sizes)
        self.changed(made.id)
        self.message.say(f"Kept {made.name}, {rung.first} drops to {rung.second}.")
