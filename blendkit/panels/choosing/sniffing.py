"""Answers by sniffing: taps that are kept and undone, and a panel of the blend in hand.

A tap is one row of the journal at once. Undo withdraws the last of the nose on the panel.
"""

import time
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from html import escape
from typing import Any

import ipywidgets as widgets

from blendkit.blend.blend import Blend, BlendLike
from blendkit.choosing.blind import rest_until
from blendkit.foundation.errors import BadNumber, Problem
from blendkit.journal.records import AnswerRow
from blendkit.journal.store import now
from blendkit.keeping.answers import MINE, Kept, keep_answer, kept_answers, noses
from blendkit.keeping.open_store import read_or, the_journal
from blendkit.panels.bottle.blend_panel import BlendPanel
from blendkit.panels.kit import parts
from blendkit.panels.kit.section import Section
from blendkit.showing.choosing.sniffing import drops_compared, rest_line, unit_of
from blendkit.showing.skin.fragments import NO_NAME, verdict_line
from blendkit.skin.counted_bottle import in_its_own_ratio
from blendkit.skin.verdict import verdict

_MOST = 3  # buttons


class Taps:
    """Whose nose it is, its question with big buttons, undo, and a rest that is only shown.

    Parameters
    ----------
    kind : str
        Of the answers; see `keeping.answers`.
    message : Message
    changed : callable
        Called after an answer was kept or withdrawn, or another nose was named.

    Attributes
    ----------
    nose : ipywidgets.Combobox
    undoes : sequence of Kept
        Answers that undo may take back, the last one first to go.
    view : ipywidgets.Widget
    """

    PAUSE_SECONDS = 0.3  # a second tap of one press answers nothing that was seen

    def __init__(self, kind: str, message: parts.Message, changed: Callable[[], None]) -> None:
        self.kind, self._changed, self._ready_at = kind, changed, 0.0
        self.undoes: Sequence[Kept] = ()
        self._offered: list[Mapping[str, Any]] = []
        self.question, self.rest = widgets.HTML(), widgets.HTML()
        self.nose = name_box("Nose", MINE, "260px", options=read_or(noses, list[str]()))
        self.nose.observe(message.guard(changed), "value")
        taps = [message.guard(partial(self.tap, place)) for place in range(_MOST)]
        self.buttons = [parts.button("", each).add_class("bk-tap") for each in taps]
        for each in self.buttons:
            each.layout = widgets.Layout()  # wide: its style sheet says how
        self.undo = parts.button("↶ Undo the last tap", message.guard(self.take_back))
        row = parts.row(*self.buttons).add_class("bk-taps")
        self.view = parts.column(self.question, row, self.rest, parts.row(self.undo))

    @property
    def whose(self) -> str:
        """Name of the nose."""
        return str(self.nose.value).strip()

    def kept(self) -> list[Kept]:
        """Answers of all noses; none where the journal cannot be read."""
        return read_or(lambda journal: kept_answers(journal, self.kind), list[Kept]())

    def own(self) -> list[Kept]:
        """Answers of this nose, as they were given."""
        return [each for each in self.kept() if each.row.nose == self.whose]

    def offer(
        self, question: str, answers: Sequence[tuple[str, Mapping[str, Any]]],
        undoes: Sequence[Kept],
    ) -> None:  # fmt: skip
        """Ask something; each button's words, and the document that a tap keeps."""
        self.undoes, self._offered = undoes, [document for _, document in answers]
        self.question.value = f"<h2>{escape(question)}</h2>" if question else ""
        labels = [*(words for words, _ in answers), *[""] * _MOST]
        for words, each in zip(labels, self.buttons, strict=False):
            each.description, each.layout.display = words, None if words else "none"
        self.undo.disabled = not undoes
        rows = read_or(lambda it: it.all(AnswerRow, nose=self.whose), list[AnswerRow]())
        self.rest.value = rest_line(rest_until([row.answered_at for row in rows]), now())

    def tap(self, place: int) -> None:
        """Keep the answer of one button."""
        if time.monotonic() < self._ready_at or place >= len(self._offered):
            return
        document, self._offered = self._offered[place], []
        try:
            keep_answer(the_journal(), self.kind, self.whose, document)
        finally:
            self._changed()
            self._ready_at = time.monotonic() + self.PAUSE_SECONDS

    def take_back(self) -> None:
        """Withdraw the last answer."""
        if not self.undoes:
            raise BadNumber([Problem("undo", "no tap on record", "one of this nose")])
        the_journal().withdraw(self.undoes[-1].row)
        self._changed()


def name_box(label: str, value: str, width: str, **more: Any) -> widgets.Combobox:
    """A labelled box for a name: one of those that are offered, or any other."""
    layout = widgets.Layout(width=width, max_width="calc(100% - 4px)")
    return widgets.Combobox(
        value=value, description=label, layout=layout, ensure_option=False,
        continuous_update=False, style={"description_width": parts.LABEL_WIDTH}, **more,
    )  # fmt: skip


class SniffingPanel(BlendPanel):
    """A panel under a short header, without an editor of its own.

    A panel of this family shows in `answer` what follows from its blend and its answers; where
    that is refused, `section` says so.
    """

    notebook = "09_what_next"
    section: Section

    def __init__(self, title: str, blend: BlendLike | None = None) -> None:
        super().__init__(blend)
        self.title, self.whose = parts.heading(title), widgets.HTML()
        self.offer = Offer(self)

    def lay_out_short(self, *body: widgets.Widget) -> None:
        """Put the panel together, and calculate for the first time."""
        self.hand.watch.follow(self.refresh, AnswerRow)
        head = parts.row(self.title, self.whose, self.hand.view).add_class("bk-head")
        self.frame(head, self.message.view, *body, stale=(self.section.found,))

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
        take = parts.button("Take it in hand", panel.message.guard(self.take))
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
            self.drops.value = drops_compared(unit_of(found), list(now), counts)
            self.verdict.value = verdict_line(found, verdict(found), name=name.capitalize())

    def take(self) -> None:
        """Put it in hand, its ratio set from its drops."""
        if self.found is None:  # a press that was on its way while the blend changed
            return
        self.panel.show(in_its_own_ratio(self.found))
        own = self.panel.hand.is_own
        self.panel.message.say("Taken." if own else "In hand now. Undo takes it back.")
