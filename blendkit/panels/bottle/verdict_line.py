"""The verdict under a blend's name, and the nearest blend within the limits one press away."""

import ipywidgets as widgets

from blendkit.blend.blend import Blend
from blendkit.panels.bottle.hand import HoldsBlend
from blendkit.panels.kit.parts import button
from blendkit.showing.skin.fragments import verdict_line
from blendkit.skin.counted_bottle import in_its_own_ratio
from blendkit.skin.reformulation import GENTLER_KINDS, reformulate
from blendkit.skin.verdict import Verdict

SEARCHING = "Searching within the limits …"


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
