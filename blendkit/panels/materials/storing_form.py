"""How the bottle in use is stored, and its peroxide tests."""

from __future__ import annotations

from datetime import date

from blendkit.keeping.open_store import the_journal
from blendkit.keeping.storing import keep_peroxide_test, keep_storing
from blendkit.materials.amounts import material
from blendkit.panels.kit import parts
from blendkit.panels.kit.stock_form import StockForm
from blendkit.skin.freshness import RICH, Storing, judge_peroxides, places

_WIDTH = "300px"
_WHOSE = "Of the material chosen above."
_RICH = (
    "A value of the raw oil. Limits of constituents count where they are "
    f"{RICH * 100:g} % of it or more: no standard gives that figure."
)


class StoringForm:
    """Entering how the chosen material is stored, and a peroxide value of it.

    Parameters
    ----------
    stock : StockForm
        Where the material is chosen.
    """

    def __init__(self, stock: StockForm) -> None:
        self.stock, guard = stock, stock.message.guard
        self.place = parts.choice("Stored in", list(places()), _WIDTH, value=places()[1])
        self.opened = parts.text_box("Open since", "", _WIDTH, placeholder="as on record")
        self.daylight = parts.tick("In daylight")
        self.antioxidant = parts.tick("Antioxidant added")
        self.peroxides = parts.unit_box("Peroxides", "mmol/L", "", _WIDTH)
        self.tested = parts.text_box("Tested on", f"{date.today()}", _WIDTH)
        self.lot = parts.text_box("Lot", "", _WIDTH)
        keep = parts.button("Keep how it is stored", guard(self.keep))
        test = parts.button("Add this test", guard(self.test))
        self.view = parts.column(
            parts.hint(_WHOSE), self.place, self.opened,
            parts.row(self.daylight, self.antioxidant), keep, parts.heading("Peroxide test"),
            parts.hint(_RICH), self.peroxides, self.tested, self.lot, test,
        )  # fmt: skip

    def keep(self) -> None:
        """Keep how the chosen material is stored."""
        storing = Storing(self.place.value, self.daylight.value, self.antioxidant.value)
        name, opened = self.stock.material.value, self.opened.value.strip()
        keep_storing(the_journal(), name, storing, opened)
        self.opened.value = ""
        self.stock.say(f"Kept: {material(name).name}, {storing.place}.")

    def test(self) -> None:
        """Enter a peroxide value of the chosen material."""
        typed = (self.peroxides.quantity, self.tested.value.strip(), self.lot.value)
        name = self.stock.material.value
        row = keep_peroxide_test(the_journal(), name, *typed)
        self.peroxides.value = ""
        found = judge_peroxides(name, row.document["peroxides_mmol_per_l"])
        self.stock.say(f"{material(name).name}. {found.words}.")
