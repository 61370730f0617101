"""Finding a blend within the limits: the nearest, the strongest, the most of one oil."""

from __future__ import annotations

from typing import Any

import ipywidgets as widgets

from blendkit.blend.filling import Filling
from blendkit.foundation.units import show
from blendkit.panels.bottle.verdict_line import SEARCHING, Cure, HoldsBlend
from blendkit.panels.kit.parts import (
    button,
    choice,
    columns,
    heading,
    set_options,
    tick,
    titled_bottle,
)
from blendkit.skin.check import options
from blendkit.skin.reformulation import (
    GENTLER_KINDS,
    Reformulation,
    most_drops_of,
    reformulate,
    strongest_within_limits,
)


class NearestBlend:
    """Finds a blend within the limits and shows it beside the maker's own."""

    def __init__(self, panel: HoldsBlend) -> None:
        self.panel = panel
        guard = panel.message.guard
        self.keep = choice("Keep", list(_KEPT.items()))
        self.swap = tick(
            "may take a gentler kind (bergapten-free bergamot, distilled lime)", ticked=True
        )
        self.advice = tick("treat advice as a limit", ticked=True)
        self.oil = choice("Oil", [])
        find = button("Show the nearest blend within the limits", guard(self.find, SEARCHING))
        strongest = button("How strong can this ratio be?", guard(self.strongest))
        most = button("Most drops of this oil", guard(self.most))
        self.cure = Cure(panel)
        self.pictures = columns()
        others = widgets.Accordion(
            [widgets.VBox([self.keep, self.swap, self.advice, strongest, self.oil, most])]
        )
        others.set_title(0, "What may move; how strong; most of one oil")
        self.view = widgets.VBox(
            [
                heading("Nearest blend"),
                find,
                self.cure.view,
                self.pictures,
                others,
            ]
        )

    def offer(self, filling: Filling) -> None:
        """Offer the oils of a blend, and forget what was found for an earlier one."""
        set_options(self.oil, options(portion.material for portion in filling.oils))
        self.cure.clear()
        self.pictures.children = []

    def find(self) -> None:
        """Search for the fewest drops to move."""
        swaps = GENTLER_KINDS if self.swap.value else None
        keep = self.keep.value or None
        self._show(reformulate(self.panel.blend, keep=keep, swaps=swaps, **self._limits()))

    def strongest(self) -> None:
        """Search for the most drops in all at which the ratio is within the limits."""
        found = strongest_within_limits(self.panel.blend, **self._limits())
        self._show(found, f"This ratio can be as strong as {show(found.strength_percent)} %.")

    def most(self) -> None:
        """Search for the most drops of one oil, the others held."""
        oil_id = self.oil.value
        found = most_drops_of(self.panel.blend, oil_id, **self._limits())
        name = dict(map(reversed, self.oil.options))[oil_id]
        self._show(
            found,
            f"Most of {name}: {found.blend.count_in_words(found.blend.oil_drops[oil_id])}.",
        )

    def _limits(self) -> dict[str, Any]:
        return {"heed_advice": self.advice.value}

    def _show(self, found: Reformulation, *first: str) -> None:
        self.cure.show(found, *first)
        yours, nearest = self.panel.blend.bottle, found.blend.bottle
        self.pictures.children = [
            titled_bottle("Yours", yours),
            titled_bottle("Found", nearest),
        ]


_KEPT = {
    "whatever moves fewest drops": "",
    "the drops in all": "total",
    "the ratio of the notes": "ratio",
    "both": "both",
}
