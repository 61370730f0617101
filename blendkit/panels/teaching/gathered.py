"""Blends handed in by each seat: judged, followed as they come, and kept in the journal."""

from datetime import date
from pathlib import Path

import ipywidgets as widgets
from markupsafe import Markup

from blendkit.foundation import keep
from blendkit.foundation.shipping import package_text
from blendkit.foundation.units import counted
from blendkit.panels.kit import parts
from blendkit.panels.kit.print_button import PrintButton
from blendkit.panels.kit.section import greyed_if_refused
from blendkit.panels.teaching.sections import ClassSection, keep_judged, lots_in_words
from blendkit.showing.kit.rendering import render
from blendkit.showing.teach import fragments as class_fragments
from blendkit.teaching.class_document import ClassPlan
from blendkit.teaching.free_choice import ChoiceCard
from blendkit.teaching.hand_in import CannotHandIn, Gathered, drop_box, gather, where_handed_in
from blendkit.teaching.judging import Judgement, judge
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


class GatheredSection(ClassSection):
    """Reads the folder that a class hands in to."""

    def __init__(self) -> None:
        self._gathered, self._mark = Gathered((), ()), 0
        self.seats = widgets.HTML()
        self.remarks = parts.Findings("")
        super().__init__(self.seats, self.remarks.view)
        guard, box = self.message.guard, f"{drop_box() or ''}"
        self.folder = parts.text_box("Folder", box, "420px", placeholder="of the class")
        keeping = parts.button("Keep all in the journal", guard(self.keep))
        save = parts.button("Save the class for laptops", guard(self.save))
        steps = PrintButton("Print the steps for laptops", steps_page)
        above = (parts.hint(_HINT), parts.row(save, steps), parts.row(self.folder, keeping))
        self.view.children = (*above, *self.view.children)
        self.folder.observe(guard(self.look), "value")
        if box:
            guard(self.look)()

    def offer(self, plan: ClassPlan, card: ChoiceCard | None) -> None:
        """Judge what was handed in by this class."""
        self.plan, self.card = plan, card
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
        plan = self.good_plan()
        judged: list[tuple[SeatBottle, Judgement]] = []
        for one in self._gathered.seats:
            seat = plan.seat_named(one.seat)
            if seat and one.blend:
                name = f"Seat {seat.number}"
                blend = one.blend.with_(name=f"{plan.name}: {name}")
                judged.append((SeatBottle(name, blend), judge(plan, self.card, seat, blend)))
        lots, before = keep_judged(plan, judged, date.today(), says_seat=True)
        self.remarks.show([*self._gathered.remarks, *lots_in_words(lots)])
        others = len(self._gathered.seats) - len(judged)
        kept = f"{counted(len(lots), 'bottle')} kept, {before} kept before"
        self.message.say(f"{kept}; {others} with no seat or no blend.")

    def save(self) -> None:
        """Save the class for laptops, without anybody's name or health."""
        plan = self.good_plan()
        file = keep.save("laptops", plan.name, for_laptops(plan))
        self.message.say(f"Saved. To start: sudo /opt/class/bin/blendkit class --of '{file}'")

    def look(self) -> None:
        """Read the folder again."""
        self._mark = self._changed()
        text = self.folder.value.strip()
        with greyed_if_refused(self.found):
            self._gathered = gather(Path(text)) if text else Gathered((), ())
        self._show()
        said = f"{counted(len(self._gathered.seats), 'seat')} handed in."
        self.message.say(said if text else "")

    def _show(self) -> None:
        found = self._gathered
        if self.plan:
            shown = class_fragments.gathered_list(found.seats, self.plan, self.card)
            self.seats.value = shown
            self.remarks.show(found.remarks)
