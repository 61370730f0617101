"""How the bottle in use is stored, and its peroxide tests."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import ipywidgets as widgets

from blendkit.keeping.open_store import the_journal
from blendkit.keeping.storing import keep_peroxide_test, keep_storing
from blendkit.materials.amounts import material
from blendkit.panels.kit import parts
from blendkit.skin.freshness import RICH, judge_peroxides, places


class StoringForm:
    """Entering how the chosen material is stored, and a peroxide value of it.

    Parameters
    ----------
    message : Message
    chosen : Dropdown
        The material.
    changed : callable
        Called after an entry.
    """

    def __init__(
        self, message: parts.Message, chosen: widgets.Dropdown, changed: Callable[[], None]
    ) -> None:
        self.message, self.chosen, self.changed = message, chosen, changed
        self.whose = widgets.HTML()
        self.place = parts.choice("Stored in", list(places()), "300px")
        self.place.value = places()[1]
        self.opened = parts.text_box("Open since", "", "300px", placeholder="as on record")
        self.daylight = parts.tick("In daylight")
        self.antioxidant = parts.tick("Antioxidant added")
        self.peroxides = parts.unit_box("Peroxides", "mmol/L", "", "230px")
        self.tested = parts.text_box("Tested on", f"{date.today()}", "230px")
        self.lot = parts.text_box("Lot", "", "230px")
        keep = parts.button("Keep how it is stored", message.guard(self.keep))
        test = parts.button("Add this test", message.guard(self.test))
        self.view = parts.column(
            self.whose, self.place, self.opened, parts.row(self.daylight, self.antioxidant),
            parts.row(keep), parts.heading("Peroxide test"), parts.hint(_RICH),
            self.peroxides, self.tested, self.lot, parts.row(test),
        )  # fmt: skip
        chosen.observe(self._name, "value")

    def keep(self) -> None:
        """Keep how the chosen material is stored."""
        keep_storing(
            the_journal(),
            self.chosen.value,
            self.place.value,
            in_daylight=self.daylight.value,
            has_antioxidant=self.antioxidant.value,
            opened_on=self.opened.value.strip(),
        )
        self.opened.value = ""
        self.changed()
        self.message.say(f"Kept: {material(self.chosen.value).name}, {self.place.value}.")

    def test(self) -> None:
        """Enter a peroxide value of the chosen material."""
        typed = (self.peroxides.quantity, self.tested.value.strip(), self.lot.value)
        row = keep_peroxide_test(the_journal(), self.chosen.value, *typed)
        self.peroxides.value = ""
        self.changed()
        found = judge_peroxides(row.material, row.document["peroxides_mmol_per_l"])
        self.message.say(f"{material(row.material).name}. {found.words}.")

    def _name(self, _: object = None) -> None:
        name = material(self.chosen.value).name if self.chosen.value else "nothing chosen"
        self.whose.value = parts.hint(f"Of the material chosen above: {name}").value


_RICH = (
    "A value of the raw oil. Limits of constituents count where they are "
    f"{RICH * 100:g} % of it or more: no standard gives that figure."
)
