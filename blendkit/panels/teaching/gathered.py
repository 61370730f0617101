"""Blends handed in by each seat: judged, followed as they come, and kept in the journal."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import ipywidgets as widgets
from markupsafe import Markup

from blendkit.foundation import keep
from blendkit.foundation.shipping import package_text
from blendkit.foundation.units import counted
from blendkit.keeping.class_results import keep_bottles
from blendkit.keeping.open_store import the_journal
from blendkit.panels.kit import parts
from blendkit.panels.kit.print_button import PrintButton
from blendkit.showing.kit.rendering import render
from blendkit.showing.teach import fragments as class_fragments
from blendkit.teaching.class_document import ClassPlan
from blendkit.teaching.free_choice import ChoiceCard
from blendkit.teaching.hand_in import (
    CannotHandIn,
    Gathered,
    drop_box,
    gather,
    where_handed_in,
)
from blendkit.teaching.judging import judge
from blendkit.teaching.laptop import for_laptops
from blendkit.teaching.results import SeatBottle

_HINT = (
    "With laptops, every learner’s panel has a button “Hand in”. The "
    "newest blend of each seat shows here by itself, by the account that owns the file. Keep "
    "them once the class is over: a bottle that was kept already is not kept again."
)


def steps_page() -> str:
    """The teacher's steps as a sheet to print."""
    from nbconvert.filters.markdown import markdown2html  # slow to import

    text = package_text("classroom/README.md").partition("\n## One hundred")[0]
    return render("laptop_steps", steps=Markup(markdown2html(text)))


class GatheredSection:
    """Reads the folder that a class hands in to."""

    def __init__(self) -> None:
        self.message = parts.Message()
        self._class: tuple[ClassPlan, ChoiceCard | None] | None = None
        self._gathered, self._mark = Gathered((), ()), 0
        box = drop_box()
        self.folder = parts.text_box(
            "Folder", str(box or ""), "420px", placeholder="of the class"
        )
        self.seats = widgets.HTML()
        self.remarks = parts.Findings("")
        self.found = parts.results(self.seats, self.remarks.view)
        keeping = parts.button("Keep all in the journal", self.message.guard(self.keep))
        save = parts.button("Save the class for laptops", self.message.guard(self.save))
        steps = PrintButton("Print the steps for laptops", steps_page)
        row = parts.row(self.folder, keeping)
        before = parts.row(save, steps)
        self.view = parts.column(parts.hint(_HINT), before, row, self.message.view, self.found)
        self.folder.observe(self.message.guard(self.look), "value")
        if box:
            self.message.guard(self.look)()

    def offer(self, plan: ClassPlan, card: ChoiceCard | None) -> None:
        """Judge what was handed in by this class."""
        self._class = plan, card
        self._show()

    def follow(self) -> None:
        """Read the folder again where something was handed in since."""
        if self._mark and self._mark != self._changed():
            self.message.guard(self.look)()

    def _changed(self) -> int:
        """The time of the folder's last change; 0 where there is no folder."""
        try:
            return where_handed_in(Path(self.folder.value.strip())).stat().st_mtime_ns
        except (OSError, ValueError):
            return 0

    def keep(self) -> None:
        """Keep the bottle of every seat as a version and a batch, by the seat's number."""
        if not self.folder.value.strip():
            raise CannotHandIn("Folder: got nothing; needs the one that the command named.")
        self.look()
        if self._class is None:
            raise CannotHandIn("Class: got none that can be planned; mend the plan first.")
        bottles: list[SeatBottle] = []
        left_out: dict[str, list[str]] = {}
        for one in self._gathered.seats:
            seat = self._class[0].seat_named(one.seat)
            if seat and one.blend:
                name = f"Seat {seat.number}"
                blend = one.blend.with_(name=f"{self._class[0].name}: {name}")
                bottles.append(SeatBottle(name, blend.oil_drops, blend))
                found = judge(*self._class, seat, blend).left_out
                left_out[name] = [each for each, _ in found]
        made = (self._class[0], bottles, date.today(), left_out)
        kept = keep_bottles(the_journal(), *made, says_seat=True)
        new = [f"{one.seat}: lot {one.lot}" for one in kept if one.lot]
        self.remarks.show([*self._gathered.remarks, *new])
        others = len(self._gathered.seats) - len(bottles)
        self.message.say(
            f"{counted(len(new), 'bottle')} kept, {len(kept) - len(new)} kept before; "
            f"{others} with no seat or no blend."
        )

    def save(self) -> None:
        """Save the class for laptops, without anybody's name or health."""
        if self._class is None:
            raise CannotHandIn("Class: got none that can be planned; mend the plan first.")
        plan = self._class[0]
        file = keep.save("laptops", plan.name, for_laptops(plan))
        self.message.say(f"Saved. To start: sudo /opt/class/bin/blendkit class --of '{file}'")

    def look(self) -> None:
        """Read the folder again."""
        self._mark = self._changed()
        text = self.folder.value.strip()
        try:
            self._gathered = gather(Path(text)) if text else Gathered((), ())
        except CannotHandIn:
            parts.grey(self.found, stale=True)
            raise
        parts.grey(self.found, stale=False)
        self._show()
        said = f"{counted(len(self._gathered.seats), 'seat')} handed in."
        self.message.say(said if text else "")

    def _show(self) -> None:
        found = self._gathered
        if self._class:
            self.seats.value = class_fragments.gathered_list(found.seats, *self._class)
            self.remarks.show(found.remarks)
