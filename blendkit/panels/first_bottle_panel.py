"""Panel 01: from a ratio to a bottle and its bench sheet."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import ipywidgets as widgets

from blendkit import fragments, sheets, words
from blendkit.blend import Blend
from blendkit.chart_rows import ratio_rows
from blendkit.data import example_document
from blendkit.drops import Filling, fill
from blendkit.errors import Refused
from blendkit.panels.blend_editor import BlendEditor
from blendkit.panels.calibrator import Calibrator, kept_drop_sizes
from blendkit.panels.chart_view import ChartView
from blendkit.panels.parts import (
    Findings,
    Message,
    Panel,
    columns,
    framed,
    grey,
    heading,
    results,
)
from blendkit.panels.print_button import PrintButton
from blendkit.panels.saved_blends import SavedBlends
from blendkit.pictures import bottle_picture


class FirstBottlePanel(Panel):
    """Pick oils, drag the ratio, and see the bottle, the drops and the bench sheet.

    Parameters
    ----------
    document : mapping, optional
        The blend to open with; the invented example where left out.

    Attributes
    ----------
    blend : Blend
        The last good blend.
    """

    blend: Blend

    def __init__(self, document: Mapping[str, Any] | None = None) -> None:
        self.message = Message()
        self.picture = widgets.HTML(layout=widgets.Layout(min_height="410px"))
        self.chart = ChartView("ratio_chart", "Drops got beside the ratio wished, oil by oil")
        self.drops = widgets.HTML()
        self.findings = Findings("Whole drops keep the ratio exactly.")
        self.skin = Findings("")
        self.bench = PrintButton(
            "Print the bench sheet", lambda: sheets.bench_page(fill(self.blend))
        )
        self.sniff = PrintButton(
            "Print the sniff test", lambda: sheets.sniff_page(fill(self.blend))
        )
        rounding = heading("What rounding did")
        skin = (heading("On skin, counted for the EU as a perfume oil"), self.skin.view)
        self.results = results(
            self.picture, self.chart, self.drops, rounding, self.findings.view, *skin
        )
        self.editor = BlendEditor(
            document or example_document(), self.message.guard(self.update)
        )
        self.editor.drop_sizes |= kept_drop_sizes()
        self.calibrator = Calibrator(self.editor.use_drop_size, self.message)
        calibrate = widgets.Accordion([self.calibrator.view])
        calibrate.set_title(0, "Calibrate your dropper")
        controls = widgets.VBox([self.editor.view, calibrate])
        self.saved = SavedBlends(self, self.message, self.bench, self.sniff)
        self.view = framed(self.saved.view, self.message.view, columns(controls, self.results))
        self.update()

    def show(self, blend: Blend) -> None:
        """Put another blend on the panel."""
        self.editor.show(blend.to_dict())

    def update(self) -> None:
        """Work everything out anew from the controls."""
        try:
            blend = Blend.from_dict(self.editor.document)
        except Refused as error:
            self.message.refuse(error)
            grey(self.results, stale=True)
            return
        self.blend = blend
        self._show_filling(fill(blend))
        grey(self.results, stale=False)
        self.message.say("")

    def _show_filling(self, filling: Filling) -> None:
        # what is looked at while dragging is sent first
        self.chart.rows = ratio_rows(filling)
        self.picture.value = bottle_picture(filling)
        self.drops.value = fragments.drop_list(filling)
        self.findings.show(words.remarks(filling))
        self.skin.show(words.skin_in_words(words.skin_check(filling)))
        self.calibrator.offer(filling)
