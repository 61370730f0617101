"""Finding a blend within the limits: the nearest, the strongest, the most of one oil."""

import ipywidgets as widgets

from blendkit.blend.blend import Blend
from blendkit.blend.filling import Filling
from blendkit.foundation.units import show
from blendkit.panels.bottle.blend_panel import SEARCHING, BlendPanel
from blendkit.panels.kit import parts
from blendkit.showing.kit.rendering import render
from blendkit.skin.check import options
from blendkit.skin.counted_bottle import in_its_own_ratio
from blendkit.skin.reformulation import (
    GENTLER_KINDS,
    Reformulation,
    most_drops_of,
    reformulate,
    strongest_within_limits,
)


class NearestBlend:
    """Finds a blend within the limits and shows it beside the maker's own.

    Attributes
    ----------
    found : Blend or None
        The blend that "Use this blend" puts on the panel.
    """

    found: Blend | None = None

    def __init__(self, panel: BlendPanel) -> None:
        self.panel = panel
        guard = panel.message.guard
        self.keep = parts.choice("Keep", list(_KEPT.items()))
        self.swap = parts.tick(
            "may take a gentler kind (bergapten-free bergamot, distilled lime)", ticked=True
        )
        self.advice = parts.tick("treat advice as a limit", ticked=True)
        self.oil = parts.choice("Oil", [])
        find = parts.button(
            "Show the nearest blend within the limits", guard(self.find, SEARCHING)
        )
        strongest = parts.button("How strong can this ratio be?", guard(self.strongest))
        most = parts.button("Most drops of this oil", guard(self.most))
        self.words, self.pictures = widgets.HTML(), parts.columns()
        take = parts.button("Use this blend", guard(self.take))
        # what to move, in three lines with the rest folded, and the button that does it
        self.cure = widgets.VBox([self.words, take], layout=widgets.Layout(display="none"))
        others = (self.keep, self.swap, self.advice, strongest, self.oil, most)
        more = parts.fold("What may move; how strong; most of one oil", *others)
        shown = (parts.heading("Nearest blend"), find, self.cure, self.pictures, more)
        self.view = widgets.VBox(shown)

    def offer(self, filling: Filling) -> None:
        """Offer the oils of a blend, and forget what was found for an earlier one."""
        parts.set_options(self.oil, options(portion.material for portion in filling.oils))
        self.found, self.words.value, self.pictures.children = None, "", []
        self.cure.layout.display = "none"

    def find(self) -> None:
        """Search for the fewest drops to move."""
        found = reformulate(
            self.panel.blend,
            keep=self.keep.value or None,
            swaps=GENTLER_KINDS if self.swap.value else None,
            heed_advice=self.advice.value,
        )
        self._show(found)

    def strongest(self) -> None:
        """Search for the most drops in all at which the ratio is within the limits."""
        found = strongest_within_limits(self.panel.blend, heed_advice=self.advice.value)
        self._show(found, f"This ratio can be as strong as {show(found.strength_percent)} %.")

    def most(self) -> None:
        """Search for the most drops of one oil, the others held."""
        oil_id = self.oil.value
        found = most_drops_of(self.panel.blend, oil_id, heed_advice=self.advice.value)
        name = dict(map(reversed, self.oil.options))[oil_id]
        most = found.blend.count_in_words(found.blend.oil_drops[oil_id])
        self._show(found, f"Most of {name}: {most}.")

    def take(self) -> None:
        """Put the blend found on the panel, its ratio set from its drops."""
        if self.found is None:  # a press that was on its way while the blend changed
            self.panel.message.say("The blend has changed since: search again, then use it.")
            return
        self.panel.show(in_its_own_ratio(self.found))
        self.panel.message.say(
            "The nearest blend is on the panel now; yours is as you kept it."
        )

    def _show(self, found: Reformulation, *first: str) -> None:
        self.found = found.blend
        lines = [*first, *found.sentences]
        self.words.value = render("moves", first=lines[:3], rest=lines[3:])
        self.cure.layout.display = None
        bottles = {"Yours": self.panel.blend.bottle, "Found": found.blend.bottle}
        self.pictures.children = [parts.titled_bottle(*each) for each in bottles.items()]


_KEPT = {
    "whatever moves fewest drops": "",
    "the drops in all": "total",
    "the ratio of the notes": "ratio",
    "both": "both",
}
