"""Panel 01: from a ratio to a bottle and its bench sheet."""

from __future__ import annotations

import ipywidgets as widgets

from blendkit.blend.blend import Blend, BlendLike
from blendkit.blend.filling import Filling
from blendkit.panels.bottle.blend_panel import BlendPanel
from blendkit.panels.bottle.calibrator import Calibrator
from blendkit.panels.kit.chart_view import ChartView
from blendkit.panels.kit.parts import Findings, heading, results
from blendkit.panels.kit.print_button import PrintButton
from blendkit.showing.bottle import sheets, words
from blendkit.showing.bottle.pictures import bottle_picture
from blendkit.showing.bottle.rows import drops_rows


class FirstBottlePanel(BlendPanel):
    """Pick oils, drag the ratio, and see the bottle, the drops and the bench sheet."""

    notebook = "01_first_bottle"

    def __init__(self, blend: BlendLike | None = None) -> None:
        super().__init__(blend)
        self.picture = widgets.HTML()
        self.chart = ChartView("bottle", "drops_chart", "Whole drops and target ratio, by oil")
        self.drops = widgets.HTML()
        self.findings = Findings("Whole drops keep the ratio exactly.")
        self.bench = PrintButton("Print the bench sheet", lambda: sheets.bench_page(self.blend))
        self.sniff = PrintButton("Print the sniff test", lambda: sheets.sniff_page(self.blend))
        rounding = heading("Effect of rounding")
        self.results = results(
            self.picture, self.chart, self.drops, rounding, self.findings.view
        )
        self.calibrator = Calibrator(self.editor.use_drop_size, self.message)
        calibrate = widgets.Accordion([self.calibrator.view])
        calibrate.set_title(0, "Calibrate your dropper")
        controls = [self.editor.view, calibrate]
        self.lay_out(controls, self.results, self.bench, self.sniff, stale=(self.results,))

    def calculate(self, blend: Blend) -> None:
        """Fill the bottle and show it."""
        self.blend, filling = blend, blend.bottle
        self.chart.rows = drops_rows(filling)
        self.defer(lambda: self._show(filling))

    def _show(self, filling: Filling) -> None:
        self.picture.value = bottle_picture(filling)
        self.drops.value = sheets.drop_list(filling)
        self.findings.show(words.remarks(self.blend))
        self.bench.warning = self.sniff.warning = self.judged.warning
        self.calibrator.offer(filling)
