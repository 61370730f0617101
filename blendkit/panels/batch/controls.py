"""Batch size: bottles, a total, or the limit of one material; scale and loss."""

from collections.abc import Callable
from itertools import chain

from blendkit.batch.scaling import Batch, scale
from blendkit.blend.blend import Blend
from blendkit.panels.kit import parts
from blendkit.skin.check import options

BOTTLES, TOTAL, ALLOWS = "number of bottles", "total amount", "limited by one material"


class BatchControls:
    """Boxes for the size of a batch.

    Parameters
    ----------
    bottles : str
        Initial text of the box for bottles.
    changed : callable
        Called after every change.
    """

    def __init__(self, bottles: str, changed: Callable[..., None]) -> None:
        self.way = parts.choice("Make", [BOTTLES, TOTAL, ALLOWS])
        one = bottles.partition(" ")[2]  # such as "× 10 mL"
        self.bottles = parts.unit_box("Bottles", one, bottles, "380px")
        self.total = parts.unit_box("Total", "mL", "250 mL")
        self.material = parts.choice("Material", [])
        self.amount = parts.unit_box("Available", "mL", "5 mL")
        steps = [(f"reads {g} g", f"{g} g") for g in (0.1, 0.01, 0.001)]
        self.step = parts.choice("Scale", steps, value="0.01 g")
        self.loss = parts.unit_box("Lost on tools", "%", "2 %")
        hint = parts.hint('Sizes may be mixed: "8 × 10 mL + 4 × 30 mL".')
        self._only = {
            BOTTLES: (self.bottles, hint),
            TOTAL: (self.total,),
            ALLOWS: (self.material, self.amount),
        }
        title, rows = parts.heading("Batch size"), chain(*self._only.values())
        self.view = parts.column(title, self.way, *rows, self.step, self.loss)
        self.way.observe(self._show_wanted, "value")
        self._show_wanted()
        boxes = (self.bottles, self.total, self.amount, self.loss)
        parts.observe(changed, self.way, self.step, *boxes)

        def change_material(_: object) -> None:  # not as the list changes
            if self.way.value == ALLOWS:
                changed()

        self.material.observe(change_material, "value")

    def batch(self, blend: Blend) -> Batch:
        """Scale a blend; `Refused` lists everything that cannot be used."""
        portions = [portion for portion in blend.bottle.portions if portion.mass_kg]
        parts.set_options(self.material, options(each.material for each in portions))
        accuracy = {"scale_step": self.step.value, "loss": self.loss.quantity}
        if self.way.value == BOTTLES:
            return scale(blend, self.bottles.quantity, **accuracy)
        if self.way.value == TOTAL:
            return scale(blend, total=self.total.quantity, **accuracy)
        return scale(blend, at_most={self.material.value: self.amount.quantity}, **accuracy)

    def _show_wanted(self, _: object = None) -> None:
        for way, rows in self._only.items():
            for row in rows:
                row.layout.display = None if way == self.way.value else "none"
