"""Keep it smelling the same: the nearest blend without an oil that ran out."""

from __future__ import annotations

from collections.abc import Callable

import ipywidgets as widgets

from blendkit.blend.blend import Blend, BlendLike
from blendkit.choosing.same_smell import MOST_CHANGED, Replacement, replace_oil
from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.units import is_whole_number
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

SEARCHING = "Searching, two seconds at most …"


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
        guard, self._search = self.message.guard, Aside()
        self.missing = parts.choice("Missing oil", [])
        self.most = parts.SlidingNumber("May change", f"{MOST_CHANGED}", 0, 6, 1)
        find = parts.button("Find the nearest blend", guard(self.find))
        self.chart = ChartView("choosing", "smell_chart", "What stays of the smell, by hour")
        self.judged_after, self.words = widgets.HTML(), parts.Findings("")
        self.take_button = parts.button("Take it in hand", guard(self.take))
        self.pictures = parts.columns()
        shown = (self.judged_after, self.take_button, self.chart, self.words.view)
        self.result = parts.results(*shown, self.pictures)
        hint = parts.hint("Further materials whose drops may change: 3 is few, 6 is many.")
        controls = (self.missing, self.most.view, hint, find)
        self.missing.observe(guard(self.forget), "value")
        self.most.on_change(guard(self.forget))
        self.lay_out(self.side_by_side(self.result, *controls), stale=(self.result,))

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
        blend, missing, most = self.blend, self.missing.value, parts.number_of(self.most.value)
        if not is_whole_number(most, 0, 99):
            raise BadNumber([Problem("may change", quoted(most), "a whole number, 0 or more")])
        left = oils_left()
        barred = excluded_for(self.hand.present.document.get("wearers", ()))
        self.message.work(SEARCHING)
        self._search.run(
            lambda: replace_oil(blend, missing, left, excluded=barred, most_changed=most),
            lambda found: self.message.guard(lambda: self._show(found))(),
        )

    def _show(self, result: Callable[[], Replacement]) -> None:
        found = self.found = result()
        after = in_its_own_ratio(found.blend)
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
