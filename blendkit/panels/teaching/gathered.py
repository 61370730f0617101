"""Blends handed in by each seat, and the limits they are over."""

from __future__ import annotations

from pathlib import Path

import ipywidgets as widgets

from blendkit.foundation.units import counted
from blendkit.panels.kit import parts
from blendkit.showing.teach import fragments as class_fragments
from blendkit.teaching.class_document import ClassPlan
from blendkit.teaching.free_choice import ChoiceCard
from blendkit.teaching.hand_in import CannotHandIn, Gathered, drop_box, gather

_HINT = (
    "With laptops, every learner’s panel has a button “Hand in”. The "
    "newest blend of each seat shows here, by the account that owns the file."
)


class GatheredSection:
    """Reads the folder that a class hands in to."""

    def __init__(self) -> None:
        self.message = parts.Message()
        self._class: tuple[ClassPlan, ChoiceCard | None] | None = None
        self._gathered = Gathered((), ())
        box = drop_box()
        self.folder = parts.text_box(
            "Folder", str(box or ""), "420px", placeholder="of the class"
        )
        self.seats = widgets.HTML()
        self.remarks = parts.Findings("")
        self.found = parts.results(self.seats, self.remarks.view)
        look = parts.button("Look again", self.message.guard(self.look))
        row = parts.row(self.folder, look)
        self.view = parts.column(parts.hint(_HINT), row, self.message.view, self.found)
        self.folder.observe(self.message.guard(self.look_where_typed), "value")
        if box:
            self.message.guard(self.look)()

    def offer(self, plan: ClassPlan, card: ChoiceCard | None) -> None:
        """Judge what was handed in by this class."""
        self._class = plan, card
        self._show()

    def look_where_typed(self) -> None:
        """Read the folder that was typed, if any."""
        if self.folder.value.strip():
            self.look()
        else:
            parts.grey(self.found, stale=True)
            self.message.say("")

    def look(self) -> None:
        """Read the folder again."""
        text = self.folder.value.strip()
        try:
            if not text:
                raise CannotHandIn("Folder: got nothing; needs the folder of the class.")
            self._gathered = gather(Path(text))
        except CannotHandIn:
            parts.grey(self.found, stale=True)
            raise
        parts.grey(self.found, stale=False)
        self._show()
        self.message.say(f"{counted(len(self._gathered.seats), 'seat')} handed in.")

    def _show(self) -> None:
        found = self._gathered
        if self._class:
            self.seats.value = class_fragments.gathered_list(found.seats, *self._class)
            self.remarks.show(found.remarks)
