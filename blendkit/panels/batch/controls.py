"""How much to make: bottles, a total, or as much as one material allows; scale and loss."""

from __future__ import annotations

from collections.abc import Callable

import ipywidgets as widgets

from blendkit.batch.scaling import Batch, scale
from blendkit.blend.blend import Blend
from blendkit.panels.kit.parts import LABEL_WIDTH, choice, heading, set_options, text_box

BOTTLES, TOTAL, ALLOWS = "so many bottles", "a total", "as much as one material allows"


class BatchControls:
    """Says how much of a blend is made.

    Parameters
    ----------
    bottles : str
        What stands in the box for bottles at first.
    changed : callable
        Called whenever anything is changed.
    """

    def __init__(self, bottles: str, changed: Callable[..., None]) -> None:
        self.way = choice("Make", [BOTTLES, TOTAL, ALLOWS])
        self.bottles = text_box("Bottles", bottles, "380px")
        self.total = text_box("In all", "250 mL", "210px")
        self.material = choice("Material", [])
        self.amount = text_box("There is", "5 mL", "210px")
        self.step = widgets.Dropdown(
            options=[("reads 0.1 g", "0.1 g"), ("reads 0.01 g", "0.01 g"),
                     ("reads 0.001 g", "0.001 g")],
            value="0.01 g",
            description="Scale",
            layout=widgets.Layout(width="250px"),
            style={"description_width": LABEL_WIDTH},
        )  # fmt: skip
        self.loss = text_box("Lost on tools", "2 %", "210px")
        hint = widgets.HTML(
            '<p class="bk-faint">Sizes may be mixed: "8 × 10 mL + 4 × 30 mL".</p>'
        )
        self._only = {
            BOTTLES: (self.bottles, hint),
            TOTAL: (self.total,),
            ALLOWS: (self.material, self.amount),
        }
        rows = [row for shown in self._only.values() for row in shown]
        self.view = widgets.VBox([heading("How much"), self.way, *rows, self.step, self.loss])
        self.way.observe(self._show_wanted, "value")
        self._show_wanted()
        for control in (
            self.way, self.bottles, self.total, self.amount, self.step, self.loss,
        ):  # fmt: skip
            control.observe(changed, "value")
        self._changed = changed
        self.material.observe(self._tell_of_material, "value")

    def batch(self, blend: Blend) -> Batch:
        """The batch of a blend; `Refused` lists everything that cannot be used."""
        portions = [portion for portion in blend.bottle.portions if portion.mass_kg]
        set_options(self.material, [(each.name, each.material) for each in portions])
        accuracy = {"scale_step": self.step.value, "loss": self.loss.value}
        if self.way.value == BOTTLES:
            return scale(blend, self.bottles.value, **accuracy)
        if self.way.value == TOTAL:
            return scale(blend, total=self.total.value, **accuracy)
        return scale(blend, at_most={self.material.value: self.amount.value}, **accuracy)

    def _tell_of_material(self, _: object) -> None:
        """A list that follows the blend is no change of the batch while it does not count."""
        if self.way.value == ALLOWS:
            self._changed()

    def _show_wanted(self, _: object = None) -> None:
        for way, rows in self._only.items():
            for row in rows:
                row.layout.display = None if way == self.way.value else "none"
