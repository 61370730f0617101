"""Calibrating a dropper: count into a measure, or weigh; and what a wrong rule does."""

from collections.abc import Callable
from typing import Any

import ipywidgets as widgets

from blendkit.blend.droppers import (
    drop_from_tip,
    drops_per_ml_counted,
    drops_per_ml_weighed,
    surface_tension_of,
    weighing_error,
)
from blendkit.blend.filling import Filling
from blendkit.foundation import data
from blendkit.foundation.units import ML_PER_M3, show
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.stock_entries import keep_drop_size
from blendkit.materials import catalogue
from blendkit.panels.kit import parts
from blendkit.skin.check import options

COUNTED, WEIGHED = "drops counted into a measure", "drops weighed on a scale"
PREDICTED = "predicted from the tip, as a help"
_PROMPTS = {WEIGHED: ("0.66", "g"), COUNTED: ("1", "mL"), PREDICTED: ("5.5", "mm")}


class Calibrator:
    """Finds the drop size of one oil and keeps it in the store.

    Parameters
    ----------
    found : callable
        Called with the oil's id and its drops per millilitre.
    message : parts.Message
        Where to say what happened.
    """

    def __init__(self, found: Callable[[str, float], None], message: parts.Message) -> None:
        self.found = found
        self.message = message
        self.oil = parts.choice("Oil", [])
        self.way = parts.choice("How", list(_PROMPTS))
        self.drops = parts.text_box("Drops", "20", "210px")
        self.amount = parts.unit_box("Together", "g", "0.66 g")
        self.scale_step = parts.unit_box("Scale's step", "g", "0.01 g")
        self.button = parts.button("Use and keep this drop size", message.guard(self.calibrate))
        self.way.observe(self._prompt, "value")
        self.rule = widgets.HTML()
        self.kind = parts.choice("Dropper", _dropper_kinds())
        use_kind = parts.button(
            "Use this drop size for all other oils", message.guard(self.use_kind)
        )
        self.view = parts.column(
            *(self.oil, self.way, self.drops, self.amount, self.scale_step, self.button),
            *(self.rule, self.kind, use_kind),
        )

    def offer(self, filling: Filling) -> None:
        """Offer the oils of a blend, and show what the usual size of oil drops would mean."""
        parts.set_options(self.oil, options(portion.material for portion in filling.oils))
        fields = filling.fields
        self.rule.layout.display = None if fields.step_kg is None else "none"
        drops_in_all = filling.oil_drops / (fields.liquid_m3 * ML_PER_M3)
        believed, true = (drops_in_all / size for size in (fields.drops_per_ml["default"], 30))
        self.rule.value = (
            '<p class="bk-faint">20 drops to the millilitre is common practice, no published '
            "source. Weighed oil drops run 20 to 40, often about 30: then these "
            f"{filling.oil_drops} drops would make {show(true * 100)} % by volume instead of "
            f"{show(believed * 100)} %.</p>"
        )

    def calibrate(self) -> None:
        """Calculate the drop size, give it to the editor, and keep it."""
        oil = catalogue.oil(self.oil.value)
        size, doubt = self._size_of(oil)
        keep_drop_size(the_journal(), oil.id, size, self.way.value)
        self.found(oil.id, size)
        self.message.say(f"Kept: {oil.name}, {show(size)} drops in 1 mL. {doubt}".strip())

    def use_kind(self) -> None:
        """Count every oil that has no size of its own by one kind of dropper."""
        self.found("default", self.kind.value)
        self.message.say(f"All other oils: {show(self.kind.value)} drops in 1 mL.")

    def _size_of(self, oil: catalogue.Oil) -> tuple[float, str]:
        """Drops per millilitre, and how far to trust it. [1/mL]"""
        count: Any = parts.number_of(self.drops.value)
        if self.way.value == COUNTED:
            return drops_per_ml_counted(count, self.amount.quantity), ""
        if self.way.value == WEIGHED:
            size = drops_per_ml_weighed(count, self.amount.quantity, oil)
            relative = weighing_error(self.amount.quantity, self.scale_step.quantity)
            return size, f"Half a step of the scale is ± {show(relative * 100, 2)} % of it."
        tension, whose = surface_tension_of(oil)
        drop = drop_from_tip(tension, oil.density_kg_per_m3, self.amount.quantity)
        return drop.drops_per_ml, f"Surface tension of {whose}; weighing beats this."

    def _prompt(self, change: Any) -> None:
        way = change["new"]
        number, self.amount.unit = _PROMPTS[way]
        self.amount.value = f"{number} {self.amount.unit}"
        self.amount.description = "Tip, outside" if way == PREDICTED else "Together"
        self.drops.layout.display = "none" if way == PREDICTED else None
        self.scale_step.layout.display = None if way == WEIGHED else "none"


def _dropper_kinds() -> list[tuple[str, float]]:
    table = data.table("dropper_kinds")[["drops_per_ml_typical", "kind", "grade"]]
    rows = table.itertuples(index=False)
    return [(f"{size:g} — {kind} ({grade})", float(size)) for size, kind, grade in rows]
