"""Base of the panels that are answered by sniffing and have a blend: the one in hand."""

from __future__ import annotations

from html import escape

import ipywidgets as widgets

from blendkit.blend.blend import Blend, BlendLike
from blendkit.journal.records import AnswerRow
from blendkit.panels.bottle.blend_panel import BlendPanel
from blendkit.panels.kit.parts import button, heading, panel_frame, row
from blendkit.panels.kit.section import Section
from blendkit.showing.choosing.sniffing import drops_compared
from blendkit.showing.skin.fragments import NO_NAME, verdict_line
from blendkit.skin.counted_bottle import in_its_own_ratio
from blendkit.skin.verdict import verdict


class SniffingPanel(BlendPanel):
    """A panel under a short header, without an editor of its own.

    A panel of this family shows in `answer` what follows from its blend and its answers; where
    that is refused, `section` says so.
    """

    notebook = "09_what_next"
    section: Section

    def __init__(self, title: str, blend: BlendLike | None = None) -> None:
        super().__init__(blend)
        self.title, self.whose = heading(title), widgets.HTML()
        self.offer = Offer(self)

    def lay_out_short(self, *body: widgets.Widget) -> None:
        """Put the panel together, and calculate for the first time."""
        self._stale = (self.section.found,)
        self.hand.watch.follow(self.refresh, AnswerRow)
        self.message.view.add_class("bk-lasting")
        head = row(self.title, self.whose, self.hand.view).add_class("bk-head")
        self.view = panel_frame(head, self.message.view, *body, self.hand.watch)
        self.hand.begin()
        self.refresh()
        self._afterwards.finish()

    def calculate(self, blend: Blend) -> None:
        """Show whose answers they are at once, and the rest when the page has drawn that."""
        self.blend = blend
        self.whose.value = f'<div class="bk-hand">{escape(blend.name or NO_NAME)}</div>'
        self._afterwards.ask(self.message.guard(lambda: self.section.attempt(self.answer)))

    def answer(self) -> None:
        """Show what follows; `Refused` where that cannot be."""
        raise NotImplementedError


class Offer:
    """Another blend next to the one on the panel: its drops, its verdict, and one press."""

    def __init__(self, panel: SniffingPanel) -> None:
        self.panel = panel
        self.found: Blend | None = None
        self.drops, self.verdict = widgets.HTML(), widgets.HTML()
        take = button("Take it in hand", panel.message.guard(self.take))
        self.view = widgets.VBox([self.drops, self.verdict, take])
        self.show(None)

    def show(self, found: Blend | None, name: str = "") -> None:
        """Show a blend of the same oils under a name, or nothing."""
        self.found = found
        self.view.layout.display = None if found else "none"
        if found:
            now = self.panel.blend.oil_drops
            columns = {"yours": now, name: found.oil_drops}
            counts = {of: [drops.get(oil, 0) for oil in now] for of, drops in columns.items()}
            self.drops.value = drops_compared(list(now), counts)
            self.verdict.value = verdict_line(found, verdict(found), name=name.capitalize())

    def take(self) -> None:
        """Put it in hand, its ratio set from its drops."""
        if self.found is None:  # a press that was on its way while the blend changed
            self.panel.message.say("The blend has changed since: look again.")
            return
        self.panel.show(in_its_own_ratio(self.found))
        self.panel.message.say("In hand now, on every page. Undo takes it back.")
