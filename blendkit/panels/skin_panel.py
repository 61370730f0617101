"""Panel 03: the skin check — what each limit is used up to, and the nearest blend within."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import ipywidgets as widgets

from blendkit import fragments, words
from blendkit.allergens import label_allergens, label_gaps
from blendkit.blend import Blend
from blendkit.cautions import WEARERS, cautions_for, patch_test_steps
from blendkit.chart_rows import limits_rows
from blendkit.data import example_document
from blendkit.drops import Filling, fill
from blendkit.errors import Refused
from blendkit.limits import DECIDING, FIGURES, USES
from blendkit.panels.blend_editor import BlendEditor
from blendkit.panels.chart_view import ChartView
from blendkit.panels.parts import (
    Findings,
    Message,
    Panel,
    button,
    choice,
    columns,
    framed,
    grey,
    heading,
    results,
)
from blendkit.panels.saved_blends import SavedBlends
from blendkit.pictures import bottle_picture
from blendkit.reformulation import GENTLER_KINDS, reformulate
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
        self.gaps, self.unchecked = Findings(""), Findings("")
        patch_test = Findings("")
        patch_test.show(patch_test_steps())
        details = widgets.Accordion(
            [
                widgets.VBox([self.unchecked.view]),
                widgets.VBox([self.names, self.gaps.view]),
                widgets.VBox([self.wearers, self.cautions]),
                widgets.VBox([patch_test.view]),
            ]
        )
        titles = (
            "What was not checked",
            "Names for the label",
            "Who is wearing it",
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

    def update(self) -> None:
        """Check the blend anew from the controls."""
        try:
            blend = Blend.from_dict(self.editor.document)
        except Refused as error:
            self.message.refuse(error)
            grey(self.results, stale=True)
            return
        self.blend = blend
        chosen = (self.region.value, self.use.value, self.figures.value)
        findings = words.skin_check(fill(blend), *chosen)
        self.chart.rows = limits_rows(findings)
        self.sentences.show(words.skin_in_words(findings))
        self.unchecked.show(unchecked(blend, *chosen))
        self.names.value = fragments.allergen_list(
            label_allergens(blend, self.region.value, self.figures.value)
        )
        self.gaps.show(label_gaps(blend))
        self.cautions.value = fragments.caution_list(cautions_for(blend, self.wearers.value))
        self.nearest.clear()
        grey(self.results, stale=False)
        self.message.say("")


class NearestBlend:
    """Finds the nearest blend within the limits and shows it beside the maker's own."""

    def __init__(self, panel: SkinPanel) -> None:
        self.panel = panel
        guard = panel.message.guard
        self.keep = choice("Keep", list(_KEPT.items()))
        self.swap = widgets.Checkbox(
            value=True,
            description="may take a gentler kind (bergapten-free bergamot, distilled lime)",
            indent=False,
            layout=widgets.Layout(width="auto"),
        )
        self.advice = widgets.Checkbox(
            value=True,
            description="heed advice like law",
            indent=False,
            layout=widgets.Layout(width="auto"),
        )
        self.find_button = button("Show the nearest blend within the limits", guard(self.find))
        self.take_button = button("Take it over", guard(self.take))
        self.words = Findings("")
        self.pictures = columns()
        self.found: Blend | None = None
        options = widgets.VBox([self.keep, self.swap, self.advice])
        actions = widgets.HBox([self.find_button, self.take_button])
        self.view = widgets.VBox(
            [heading("Nearest blend"), options, actions, self.words.view, self.pictures]
        )
        self.clear()

    def find(self) -> None:
        """Search, and show both bottles side by side."""
        panel = self.panel
        found = reformulate(
            panel.blend,
            region=panel.region.value,
            use=panel.use.value,
            figures=panel.figures.value,
            keep=self.keep.value or None,
            swaps=GENTLER_KINDS if self.swap.value else None,
            heed_advice=self.advice.value,
        )
        self.found = found.blend
        self.words.show(found.sentences)
        yours, nearest = fill(panel.blend), fill(found.blend)
        self.pictures.children = [_titled("Yours", yours), _titled("Nearest within", nearest)]
        self.take_button.disabled = False

    def take(self) -> None:
        """Put the nearest blend in place of the maker's own."""
        if self.found is not None:
            self.panel.show(self.found)
            self.panel.message.say(
                "The nearest blend is on the panel now; yours is as you kept it."
            )

    def clear(self) -> None:
        """Forget what was found for an earlier blend."""
        self.found = None
        self.words.show([])
        self.pictures.children = []
        self.take_button.disabled = True


def _titled(title: str, filling: Filling) -> widgets.VBox:
    picture = widgets.HTML(bottle_picture(filling))
    half = widgets.Layout(width="46%", min_width="270px")
    return widgets.VBox([heading(title), picture], layout=half)


_KEPT = {
    "whatever moves fewest drops": "",
    "the drops in all": "total",
    "the ratio of the notes": "ratio",
    "both": "both",
}
