"""Panel 03: the skin check — what each limit is used up to, and the nearest blend within."""

from __future__ import annotations

from datetime import date

import ipywidgets as widgets

from blendkit.blend.blend import Blend, BlendLike
from blendkit.keeping.open_store import read_or
from blendkit.keeping.stock_entries import opening_days
from blendkit.panels.bottle.blend_panel import BlendPanel
from blendkit.panels.kit.chart_view import ChartView
from blendkit.panels.kit.parts import LABEL_WIDTH, Findings, choice, heading, results
from blendkit.panels.skin.nearest_blend import NearestBlend
from blendkit.showing.skin import fragments, words
from blendkit.showing.skin.rows import limits_rows
from blendkit.skin.allergens import label_allergens, label_gaps
from blendkit.skin.cautions import (
    WEARERS,
    best_before,
    cautions_for,
    old_stock,
    patch_test_steps,
)
from blendkit.skin.check import findings_in, unchecked
from blendkit.skin.limits import FIGURES, Finding


class SkinPanel(BlendPanel):
    """A blend against the limits on record, worst first."""

    notebook = "03_skin_check"

    def __init__(self, blend: BlendLike | None = None) -> None:
        super().__init__(blend)
        self.figures = choice("Ranges count", [(f"at their {word}", word) for word in FIGURES])
        self.chart = ChartView(
            "skin", "limits_chart", "Share of each skin limit used, worst first"
        )
        self.sentences = Findings("")
        self.nearest = NearestBlend(self)
        self.wearers = widgets.SelectMultiple(
            options=list(WEARERS),
            rows=6,
            description="Who wears it",
            layout=widgets.Layout(width="380px"),
            style={"description_width": LABEL_WIDTH},
        )
        self.cautions, self.names = widgets.HTML(), widgets.HTML()
        self.gaps, self.unchecked, self.keeping = Findings(""), Findings(""), Findings("")
        patch_test = Findings("")
        patch_test.show(patch_test_steps())
        details = widgets.Accordion(
            [
                widgets.VBox([self.unchecked.view]),
                widgets.VBox([self.names, self.gaps.view]),
                widgets.VBox([self.wearers, self.cautions]),
                widgets.VBox([self.keeping.view]),
                widgets.VBox([patch_test.view]),
            ]
        )
        titles = (
            "What was not checked",
            "Names for the label",
            "Who is wearing it",
            "Old stock and best before",
            "Patch test",
        )
        details.titles = titles
        self.results = results(
            self.chart, heading("In words"), self.sentences.view, self.nearest.view, details
        )
        for control in (self.figures, self.wearers):
            control.observe(self.refresh, "value")
        controls = [*self.editor.market.controls, self.figures, self.editor.view]
        self.lay_out(controls, self.results, stale=(self.results,))

    def calculate(self, blend: Blend) -> None:
        """Check the blend against the limits that apply."""
        self.blend = blend
        findings = findings_in(blend.bottle, figures=self.figures.value)
        self.chart.rows = limits_rows(findings)
        self.defer(lambda: self._tell(blend, findings))

    def _tell(self, blend: Blend, findings: tuple[Finding, ...]) -> None:
        figures = self.figures.value
        self.sentences.show(words.skin_in_words(findings))
        self.unchecked.show(unchecked(blend, figures))
        self.names.value = fragments.allergen_list(label_allergens(blend, figures=figures))
        self.gaps.show(label_gaps(blend))
        self.cautions.value = fragments.caution_list(cautions_for(blend, self.wearers.value))
        self.keeping.show(_keeping(blend))
        self.nearest.offer(blend.bottle)


def _keeping(blend: Blend) -> list[str]:
    """How long the blend keeps, and what the shelf says of what is in it."""
    today = date.today()
    parts = {*blend.oil_drops, *(part.carrier.id for part in blend.carriers)}
    days: dict[str, date] = read_or(opening_days, {})
    opened = {name: day for name, day in days.items() if name in parts}
    end = best_before(blend, today, opened)
    told = [
        f"Mixed today, best before {end.use_by}: as soon as {end.weakest} "
        f"({end.grade}; that a blend keeps as long as its weakest part is common practice)."
    ]
    if end.assumed_fresh:
        told.append(f"Taken as opened today: {', '.join(end.assumed_fresh)}.")
    past = [f"{bottle.name}: {bottle.advice}" for bottle in old_stock(opened, today)]
    return [*told, *past]
