"""Keep it smelling the same: the nearest blend without an oil that ran out."""

from typing import Any

import ipywidgets as widgets

from blendkit.blend.blend import Blend, BlendLike
from blendkit.choosing.same_smell import MOST_CHANGED, Replacement, replace_oil
from blendkit.keeping.replacement import oils_left
from blendkit.panels.bottle.blend_panel import BlendPanel
from blendkit.panels.kit import parts
from blendkit.panels.kit.chart_view import ChartView
from blendkit.panels.kit.deferred import Aside
from blendkit.showing.choosing.rows import smell_rows
from blendkit.showing.skin.fragments import verdict_line
from blendkit.skin.cautions import excluded_for
from blendkit.skin.check import findings_in, options
from blendkit.skin.counted_bottle import in_its_own_ratio
from blendkit.skin.verdict import judge


class ReplacePanel(BlendPanel):
    """Choose the oil that is missing, and see the nearest blend without it.

    Attributes
    ----------
    found : Replacement or None
        What the last search found for the blend on the panel.
    """

    notebook = "09_what_next"
    found: Replacement | None = None

    def __init__(self, blend: BlendLike | None = None) -> None:
        super().__init__(blend)
        guard = self.message.guard
        self._search = Aside(guard)
        self.missing = parts.choice("Missing oil", [])
        self.most = parts.choice("May change", range(7), "200px", value=MOST_CHANGED)
        find = parts.button("Find the nearest blend", guard(self.find))
        self.chart = ChartView("choosing", "smell_chart", "What stays of the smell, by hour")
        self.judged_after, self.words = widgets.HTML(), parts.Findings("")
        take = parts.button("Take it in hand", guard(self.take))
        self.pictures = parts.columns()
        shown = (self.judged_after, take, self.chart, self.words.view, self.pictures)
        self.result = parts.results(*shown)
        hint = parts.hint("Further materials whose drops may change: 3 is few, 6 is many.")
        parts.observe(guard(self.forget), self.missing, self.most)
        body = self.side_by_side(self.result, self.missing, self.most, hint, find)
        self.lay_out(body, stale=(self.result,))

    def calculate(self, blend: Blend) -> None:
        """Offer the oils of the blend, and forget the result for an earlier one."""
        self.blend = blend
        parts.set_options(self.missing, options(n for n, c in blend.oil_drops.items() if c))
        self.forget()
        self.defer(lambda: None)

    def forget(self) -> None:
        """Remove what was found for other input, and cancel a search for it."""
        self._search.cancel()
        self.found, self.result.layout.display = None, "none"

    def find(self) -> None:
        """Search in a thread, in what is in stock and the wearers may have."""
        asked: tuple[Any, ...] = self.blend, self.missing.value, oils_left()
        barred = excluded_for(self.hand.present.document.get("wearers", ()))
        more = {"excluded": barred, "most_changed": self.most.value}
        self.message.work("Searching, two seconds at most …")
        self._search.run(lambda: replace_oil(*asked, **more), self._show)

    def _show(self, found: Replacement) -> None:
        self.found, after = found, in_its_own_ratio(found.blend)
        self.message.say("")
        self.words.show(found.sentences)
        self.chart.rows = smell_rows(found)
        judged = judge(after, findings_in(after.bottle))
        self.judged_after.value = verdict_line(after, judged, name="With the replacement")
        pair = {"Before": self.blend.bottle, "After": after.bottle}
        self.pictures.children = [parts.titled_bottle(*each) for each in pair.items()]
        self.result.layout.display = None

    def take(self) -> None:
        """Put the blend that was found in hand."""
        if self.found is not None:
            self.show(in_its_own_ratio(self.found.blend))
            self.message.say("The blend without it is in hand now. Undo takes it back.")
