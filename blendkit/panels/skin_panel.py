"""Panel 03: the skin check — what each limit is used up to, and the nearest blend within."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

import ipywidgets as widgets

from blendkit import fragments, words
from blendkit.allergens import label_allergens, label_gaps
from blendkit.blend import Blend
from blendkit.cautions import (
    WEARERS,
    best_before,
    cautions_for,
    old_stock,
    patch_test_steps,
)
from blendkit.chart_rows import limits_rows
from blendkit.data import example_document
from blendkit.drops import fill
from blendkit.errors import Refused
from blendkit.limits import DECIDING, FIGURES, USES
from blendkit.panels.blend_editor import BlendEditor
from blendkit.panels.chart_view import ChartView
from blendkit.panels.nearest_blend import NearestBlend
from blendkit.panels.parts import (
    Findings,
    Message,
    Panel,
    choice,
    columns,
    framed,
    grey,
    heading,
    results,
)
from blendkit.panels.saved_blends import SavedBlends
from blendkit.shelf import owned
from blendkit.skin import unchecked


class SkinPanel(Panel):
    """A blend against the limits on record, worst first.

    Parameters
    ----------
    document : mapping, optional
        The blend to open with.

    Attributes
    ----------
    blend : Blend
        The last good blend.
    """

    blend: Blend

    def __init__(self, document: Mapping[str, Any] | None = None) -> None:
        self.message = Message()
        update = self.message.guard(self.update)
        self.region = choice("Sold or worn in", list(DECIDING))
        self.use = choice("As a", list(USES))
        self.figures = choice("Ranges count", [(f"at their {word}", word) for word in FIGURES])
        self.chart = ChartView("limits_chart", "Share of each skin limit used, worst first")
        self.sentences = Findings("")
        self.nearest = NearestBlend(self)
        self.wearers = widgets.SelectMultiple(
            options=list(WEARERS),
            rows=6,
            description="Who wears it",
            layout=widgets.Layout(width="380px"),
            style={"description_width": "118px"},
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
        for place, title in enumerate(titles):
            details.set_title(place, title)
        self.results = results(
            self.chart, heading("In words"), self.sentences.view, self.nearest.view, details
        )
        self.editor = BlendEditor(document or example_document(), update)
        self.saved = SavedBlends(self, self.message)
        for control in (self.region, self.use, self.figures, self.wearers):
            control.observe(update, "value")
        rules = widgets.VBox([self.region, self.use, self.figures])
        controls = widgets.VBox([rules, self.editor.view])
        self.view = framed(self.saved.view, self.message.view, columns(controls, self.results))
        self.update()

    def show(self, blend: Blend) -> None:
        """Put another blend on the panel."""
        self.editor.show(blend.to_dict())

    def chosen(self) -> tuple[str, str, str]:
        """Region, use and which end of the ranges counts."""
        return self.region.value, self.use.value, self.figures.value

    def update(self) -> None:
        """Check the blend anew from the controls."""
        try:
            blend = Blend.from_dict(self.editor.document)
        except Refused as error:
            self.message.refuse(error)
            grey(self.results, stale=True)
            return
        self.blend = blend
        filling, chosen = fill(blend), self.chosen()
        findings = words.skin_check(filling, *chosen)
        self.chart.rows = limits_rows(findings)
        self.sentences.show(words.skin_in_words(findings))
        self.unchecked.show(unchecked(blend, *chosen))
        self.names.value = fragments.allergen_list(
            label_allergens(blend, self.region.value, self.figures.value)
        )
        self.gaps.show(label_gaps(blend))
        self.cautions.value = fragments.caution_list(cautions_for(blend, self.wearers.value))
        self.keeping.show(_keeping(blend))
        self.nearest.offer(filling)
        grey(self.results, stale=False)
        self.message.say("")


def _keeping(blend: Blend) -> list[str]:
    """How long the blend keeps, and what the shelf says of its oils."""
    today = date.today()
    opened = {
        name: entry.opened_on
        for name, entry in owned().items()
        if entry.opened_on and name in blend.oil_drops
    }
    end = best_before(blend, today, opened)
    told = [
        f"Mixed today, best before {end.use_by}: as soon as {end.weakest} "
        f"({end.grade}; that a blend keeps as long as its weakest part is common practice)."
    ]
    if end.assumed_fresh:
        told.append(f"Taken as opened today: {', '.join(end.assumed_fresh)}.")
    past = [f"{bottle.name}: {bottle.advice}" for bottle in old_stock(opened, today)]
    return [*told, *past]
