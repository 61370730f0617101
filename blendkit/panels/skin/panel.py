"""Panel 03: the skin check — what each limit is used up to, and the nearest blend within."""

from collections.abc import Mapping, Sequence
from datetime import date

import ipywidgets as widgets

from blendkit.blend.blend import Blend, BlendLike
from blendkit.foundation.errors import BadNumber, Problem
from blendkit.journal.records import PurchaseRow, StoringRow
from blendkit.keeping.open_store import read_or
from blendkit.keeping.stock_entries import opening_days
from blendkit.keeping.storing import storings
from blendkit.panels.bottle.blend_editor import BlendEditor
from blendkit.panels.bottle.blend_panel import BlendPanel
from blendkit.panels.kit import parts
from blendkit.panels.kit.chart_view import ChartView
from blendkit.panels.skin.nearest_blend import NearestBlend
from blendkit.showing.kit.rendering import render
from blendkit.showing.skin.fragments import note
from blendkit.showing.skin.rows import limits_rows
from blendkit.skin.allergens import label_allergens, label_gaps
from blendkit.skin.cautions import WEARERS, cautions_for, patch_test_steps
from blendkit.skin.check import findings_in, questions
from blendkit.skin.finding_words import accepted_in_words, what_would_settle
from blendkit.skin.freshness import Storing
from blendkit.skin.keeping_times import best_before, old_stock
from blendkit.skin.limits import NOT_SETTLED, Finding
from blendkit.skin.uses import places_in_words

_CHART = "Share of each skin limit used, worst first"


class SkinPanel(BlendPanel):
    """A blend against the limits on record, worst first."""

    notebook = "03_skin_check"

    def __init__(self, blend: BlendLike | None = None) -> None:
        super().__init__(blend)
        self.chart = ChartView("skin", "limits_chart", _CHART)
        self.judged_as, self.known_by = widgets.HTML(), widgets.HTML()
        self.nearest = NearestBlend(self)
        self.acceptance = Acceptance(self.editor, self.message)
        look = parts.labelled("Who wears it", "380px")
        self.wearers = widgets.SelectMultiple(options=list(WEARERS), rows=6, **look)
        self.cautions, self.names = widgets.HTML(), widgets.HTML()
        self.gaps, self.keeping, self.places, self.advice, patch_test = (
            parts.Findings("") for _ in range(5)
        )
        self.unchecked = parts.Findings("Nothing in the bottle is unchecked.")
        patch_test.show(patch_test_steps())
        pages = {
            "Not settled: what to ask, or accept": self.acceptance.view,
            "Not checked": self.unchecked.view,
            "Advice and information": self.advice.view,
            "Where it may be worn, and where not": self.places.view,
            "Names for the label": widgets.VBox([self.names, self.gaps.view]),
            "Who is wearing it": widgets.VBox([self.wearers, self.cautions]),
            "Old stock and best before": self.keeping.view,
            "Patch test": patch_test.view,
        }
        details = widgets.Accordion(list(pages.values()), titles=list(pages))
        self.results = parts.results(self.chart, self.nearest.view, self.known_by, details)
        self.wearers.observe(self.refresh, "value")
        self.hand.settings = {("wearers",): self.wearers}
        self.hand.watch.follow(self.refresh, PurchaseRow, StoringRow)
        controls = (*self.editor.market.controls, self.judged_as)
        self.lay_out(self.side_by_side(self.results, *controls), stale=(self.results,))

    def calculate(self, blend: Blend) -> None:
        """Check the blend against the limits that apply."""
        self.blend = blend
        findings = findings_in(blend.bottle)
        self.chart.rows = limits_rows(findings)
        self.defer(lambda: self._show_details(blend, findings), findings)

    def _show_details(self, blend: Blend, findings: Sequence[Finding]) -> None:
        found = self.judged
        self.judged_as.value = note(found.judged_as)
        known_by = f"How the deciding limit is known: {found.known_by}."
        self.known_by.value = note(known_by if found.known_by else "")
        self.acceptance.offer(findings)
        self.unchecked.show(found.not_checked)
        self.advice.show([*found.advice, blend.market.note, *questions(blend)])
        self.places.show(places_in_words(blend.market))
        names = label_allergens(blend)
        named = names[names["on_label"]].to_dict("records")
        self.names.value = render("allergens", rows=named)
        self.gaps.show(label_gaps(blend))
        self.cautions.value = render("cautions", rows=cautions_for(blend, self.wearers.value))
        self.keeping.show(_keeping(blend))
        self.nearest.offer(blend.bottle)


class Acceptance:
    """What would settle each open limit, the limits accepted, and a button for either."""

    def __init__(self, editor: BlendEditor, message: parts.Message) -> None:
        self.editor = editor
        self.words = parts.Findings("Every limit that applies is settled.")
        self.limit = parts.choice("Limit", [])
        why = "why it is kept, in your case"
        self.reason = parts.text_box("Reason", "", "380px", placeholder=why)
        self.accept_button = parts.button("Accept this limit", message.guard(self.accept))
        self.withdraw_button = parts.button("Withdraw acceptance", message.guard(self.withdraw))
        buttons = widgets.HBox([self.accept_button, self.withdraw_button])
        self.controls = widgets.VBox([self.limit, self.reason, buttons])
        self.view = widgets.VBox([self.words.view, self.controls])

    def offer(self, findings: Sequence[Finding]) -> None:
        """Offer the limits that are not settled, and those accepted that no longer apply."""
        open_ones = [f for f in findings if f.rule.decides and f.verdict == NOT_SETTLED]
        asking = (f for f in open_ones if not f.rule.accepted)
        asked = [
            f"{f.rule.subject} ({f.rule.rule_set}). {what_would_settle(f)}" for f in asking
        ]
        self.words.show([*asked, *accepted_in_words(open_ones)])
        names = dict.fromkeys([*(f.rule.name for f in open_ones), *self.editor.accepted])
        parts.set_options(self.limit, [(name, name) for name in names])
        self.controls.layout.display = None if names else "none"

    def accept(self) -> None:
        """Write the chosen limit into the blend as accepted."""
        reason = self.reason.value.strip()
        if not (self.limit.value and reason):
            needed = "a few words that you can stand by; they are printed with the blend"
            raise BadNumber([Problem("reason", "nothing", needed)])
        self.editor.accept(self.limit.value, reason)
        self.reason.value = ""

    def withdraw(self) -> None:
        """Take the chosen limit out of what the blend accepts."""
        self.editor.accept(self.limit.value, "")


def _keeping(blend: Blend) -> list[str]:
    """How long the blend keeps, and what the shelf says of what is in it."""
    today = date.today()
    held = {*blend.oil_drops, *(part.carrier.id for part in blend.carriers)}
    days: Mapping[str, date] = read_or(opening_days, {})
    opened = {name: day for name, day in days.items() if name in held}
    stored: Mapping[str, Storing] = read_or(storings, {})
    end, fresh = best_before(blend, today, opened, stored)
    told = [
        f"Mixed today, best before {end.use_by}: as soon as {end.name} "
        f"({end.grade}; that a blend keeps as long as its weakest part is common practice)."
    ]
    if fresh:
        told.append(f"Taken as opened today: {', '.join(fresh)}.")
    past = [f"{bottle.name}: {bottle.advice}" for bottle in old_stock(opened, today, stored)]
    return [*told, *past]
