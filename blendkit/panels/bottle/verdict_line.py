"""The verdict under a blend's name, and the nearest blend within the limits one press away."""

from __future__ import annotations

from typing import Protocol

import ipywidgets as widgets

from blendkit.blend.blend import Blend
from blendkit.panels.bottle.hand import InHand
from blendkit.panels.kit.parts import Message, button
from blendkit.showing.skin.fragments import moves_list, verdict_line
from blendkit.skin.counted_bottle import in_its_own_ratio
from blendkit.skin.reformulation import GENTLER_KINDS, Reformulation, reformulate
from blendkit.skin.verdict import Verdict

SEARCHING = "Searching within the limits …"
TAKEN = "The nearest blend is on the panel now; yours is as you kept it."


class HoldsBlend(Protocol):
    """A panel with a blend on it."""

    blend: Blend
    hand: InHand
    message: Message

    def show(self, blend: Blend) -> None:
        """Put another blend on the panel."""


class Cure:
    """What to move, in three lines with the rest folded, and a button that does it.

    Attributes
    ----------
    found : Blend or None
        The blend that the button puts on the panel.
    """

    def __init__(self, panel: HoldsBlend) -> None:
        self.panel = panel
        self.found: Blend | None = None
        self.words = widgets.HTML()
        self.take_button = button("Use this blend", panel.message.guard(self.take))
        self.view = widgets.VBox([self.words, self.take_button])
        self.clear()

    def show(self, found: Reformulation, *first: str) -> None:
        """Show what was found."""
        self.found = found.blend
        self.words.value = moves_list([*first, *found.sentences])
        self.view.layout.display = None

    def clear(self) -> None:
        """Forget what was found."""
        self.found, self.words.value = None, ""
        self.view.layout.display = "none"

    def take(self) -> None:
        """Put the blend found on the panel, its ratio set from its drops."""
        if self.found is None:  # a press that was on its way while the blend changed
            self.panel.message.say("The blend has changed since: search again, then use it.")
            return
        self.panel.show(in_its_own_ratio(self.found))
        self.panel.message.say(TAKEN)


class VerdictLine:
    """The verdict in its lasting place, and a button while there is something to cure."""

    def __init__(self, panel: HoldsBlend) -> None:
        self.panel = panel
        self.words = widgets.HTML()
        self.words.add_class("bk-verdict-place")
        self.fix_button = button("Fix it", panel.message.guard(self.fix, SEARCHING))
        self.view = widgets.HBox([self.words, self.fix_button])
        self.view.add_class("bk-verdict-row")

    def show(self, blend: Blend, verdict: Verdict, held: Verdict | None = None) -> None:
        """Show the verdict on a blend, and how near its limit another one is that is held."""
        self.words.value = verdict_line(blend, verdict, held=held)
        # hidden, not taken away: the line next to it must not move
        self.fix_button.layout.visibility = "visible" if verdict.warning else "hidden"

    def fix(self) -> None:
        """Take the nearest blend that keeps every law and standard, and say what moved."""
        panel = self.panel
        found = reformulate(panel.blend, swaps=GENTLER_KINDS, heed_advice=False)
        panel.show(in_its_own_ratio(found.blend))
        back = "" if panel.hand.is_own else "Undo takes it back."
        panel.message.say(" ".join((*found.sentences[:3], back)).strip())
