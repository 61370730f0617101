"""Finding a blend within the limits: the nearest, the strongest, the most of one oil."""

from __future__ import annotations

from typing import Any, Protocol

import ipywidgets as widgets

from blendkit.blend.blend import Blend
from blendkit.blend.filling import Filling
from blendkit.foundation.units import show
from blendkit.panels.kit.parts import (
    Findings,
    Message,
    button,
    choice,
    columns,
    heading,
    set_options,
    tick,
    titled_bottle,
)
from blendkit.skin.reformulation import (
    GENTLER_KINDS,
    Reformulation,
    most_drops_of,
    reformulate,
    strongest_within_limits,
)


class HasLimits(Protocol):
    """A panel with a blend and a choice of limits on it."""

    blend: Blend
    figures: widgets.Dropdown
    message: Message

    def show(self, blend: Blend) -> None:
        """Put another blend on the panel."""


class NearestBlend:
    """Finds a blend within the limits and shows it beside the maker's own."""

    def __init__(self, panel: HasLimits) -> None:
        self.panel = panel
        guard = panel.message.guard
        self.keep = choice("Keep", list(_KEPT.items()))
        self.swap = tick(
            "may take a gentler kind (bergapten-free bergamot, distilled lime)", ticked=True
        )
        self.advice = tick("heed advice like law", ticked=True)
        self.oil = choice("Oil", [])
        find = button("Show the nearest blend within the limits", guard(self.find, _SEARCHING))
        strongest = button("How strong can this ratio be?", guard(self.strongest))
        most = button("Most drops of this oil", guard(self.most))
        self.take_button = button("Use this blend", guard(self.take))
        self.words = Findings("")
        self.pictures = columns()
        self.found: Blend | None = None
        self.view = widgets.VBox(
            [
                heading("Nearest blend"),
                self.keep,
                self.swap,
                self.advice,
                widgets.HBox([find, self.take_button]),
                widgets.HBox([strongest]),
                widgets.HBox([self.oil, most]),
                self.words.view,
                self.pictures,
            ]
        )

    def offer(self, filling: Filling) -> None:
        """Offer the oils of a blend, and forget what was found for an earlier one."""
        set_options(self.oil, [(portion.name, portion.material) for portion in filling.oils])
        self.found = None
        self.words.show([])
        self.pictures.children = []
        self.take_button.disabled = True

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
        self._show(found, f"Most drops of {name}: {found.blend.oil_drops[oil_id]}.")

    def _limits(self) -> dict[str, Any]:
        return {"figures": self.panel.figures.value, "heed_advice": self.advice.value}

    def _show(self, found: Reformulation, *first: str) -> None:
        self.found = found.blend
        self.words.show([*first, *found.sentences])
        yours, nearest = self.panel.blend.bottle, found.blend.bottle
        self.pictures.children = [
            titled_bottle("Yours", yours),
            titled_bottle("Found", nearest),
        ]
        self.take_button.disabled = False

    def take(self) -> None:
        """Put the nearest blend in place of the maker's own."""
        if self.found is not None:
            self.panel.show(_of_what_is_in(self.found))
            self.panel.message.say(
                "The nearest blend is on the panel now; yours is as you kept it."
            )


def _of_what_is_in(blend: Blend) -> Blend:
    """The same blend without the oils that it has no drop of: nobody should reach for them."""
    document = blend.to_dict()
    document["oils"] = [oil for oil in document["oils"] if oil.get("drops") != 0]
    notes = {part.note for part in blend.oils if blend.oil_drops[part.oil.id]}
    parts = document["note_parts"].items()
    document["note_parts"] = {note: part for note, part in parts if note in notes}
    return Blend.from_dict(document) if notes else blend


_SEARCHING = "Searching within the limits …"
_KEPT = {
    "whatever moves fewest drops": "",
    "the drops in all": "total",
    "the ratio of the notes": "ratio",
    "both": "both",
}
