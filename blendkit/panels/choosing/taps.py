"""Big buttons for one answer after another, kept as they are tapped, and undone as easily."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from html import escape
from typing import Any

import ipywidgets as widgets

from blendkit.choosing.blind import rest_until
from blendkit.foundation.errors import BadNumber, Problem
from blendkit.journal.records import AnswerRow
from blendkit.journal.store import now
from blendkit.keeping.answers import MINE, Kept, keep_answer, kept_answers, noses
from blendkit.keeping.open_store import read_or, the_journal
from blendkit.panels.kit import parts
from blendkit.showing.choosing.sniffing import rest_line

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
        self.kind, self._changed = kind, changed
        self.undoes: Sequence[Kept] = ()
        self._offered: list[Mapping[str, Any]] = []
        self._ready_at = 0.0
        self.question, self.rest = widgets.HTML(), widgets.HTML()
        self.nose = widgets.Combobox(
            value=MINE, description="Nose", ensure_option=False, continuous_update=False,
            options=read_or(noses, list[str]()), layout=widgets.Layout(width="260px"),
            style={"description_width": parts.LABEL_WIDTH},
        )  # fmt: skip
        self.nose.observe(message.guard(changed), "value")
        guards = [message.guard(partial(self.tap, place)) for place in range(_MOST)]
        self.buttons = [parts.button("", guard) for guard in guards]
        for each in self.buttons:
            each.layout = widgets.Layout()
            each.add_class("bk-tap")
        self.undo = parts.button("↶ Undo the last tap", message.guard(self.take_back))
        taps = parts.row(*self.buttons).add_class("bk-taps")
        self.view = parts.column(self.question, taps, self.rest, parts.row(self.undo))

    def kept(self) -> list[Kept]:
        """Answers of this nose, as they were given; none where the journal cannot be read."""
        whose = self.nose.value
        return read_or(lambda journal: kept_answers(journal, self.kind, whose), list[Kept]())

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
        self.show_rest()
        self._ready_at = time.monotonic() + self.PAUSE_SECONDS

    def tap(self, place: int) -> None:
        """Keep the answer of one button."""
        if time.monotonic() < self._ready_at or place >= len(self._offered):
            return
        keep_answer(the_journal(), self.kind, self.nose.value, self._offered[place])
        self._changed()

    def take_back(self) -> None:
        """Withdraw the last answer."""
        if not self.undoes:
            raise BadNumber([Problem("undo", "no tap on record", "one of this nose")])
        the_journal().withdraw(self.undoes[-1].row)
        self._changed()

    def show_rest(self) -> None:
        """Show until when this nose should rest, by its answers of every kind."""
        whose = self.nose.value.strip()
        rows = read_or(lambda journal: journal.all(AnswerRow, nose=whose), list[AnswerRow]())
        self.rest.value = rest_line(rest_until([row.answered_at for row in rows]), now())
