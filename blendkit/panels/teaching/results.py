"""Results of a class: a grid of drops by seat, all kept in the journal at once."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date
from typing import Any

from blendkit.batch.label import LabelDetails, label_of
from blendkit.foundation.errors import BadNumber, Problem
from blendkit.foundation.units import counted, read_day
from blendkit.keeping.details import kept_maker
from blendkit.keeping.open_store import read_or
from blendkit.panels.kit import parts
from blendkit.panels.kit.entry_grid import EntryGrid, GridColumn, cell_text
from blendkit.panels.kit.print_button import PrintButton
from blendkit.panels.kit.section import greyed_if_refused
from blendkit.panels.teaching.sections import ClassSection, keep_judged, lots_in_words
from blendkit.showing.label.layout import lay_out
from blendkit.showing.label.pages import sheet_page
from blendkit.showing.label.sheets import PAPERS_MM, read_grid
from blendkit.showing.label.sizes import stickers, usual_type_size
from blendkit.teaching.class_document import ClassPlan
from blendkit.teaching.free_choice import ChoiceCard
from blendkit.teaching.judging import Judgement, judge
from blendkit.teaching.plan import seat_plans
from blendkit.teaching.results import SeatBottle, seat_bottles

_HINT = (
    "Type the drops that each seat counted; an empty box is none. Enter "
    "goes down, Tab to the right, and a block from a spreadsheet can be pasted in. Rows "
    "without drops are skipped."
)


class ResultsSection(ClassSection):
    """Grid of drops by seat, and buttons that check and keep them."""

    def __init__(self) -> None:
        self.grid = EntryGrid("Drops of each oil, seat by seat", [])
        self.made_on = parts.text_box("Made on", date.today().isoformat(), "240px")
        self.findings = parts.Findings("")
        super().__init__(self.findings.view, above=(parts.hint(_HINT), self.grid))
        guard = self.message.guard
        actions = parts.row(
            self.made_on,
            parts.button("Check", guard(self.check)),
            parts.button("Keep all in the journal", guard(self.keep)),
        )
        self.lots: dict[str, str] = {}
        self.sticker = parts.choice(
            "Sticker", [(f"{name}: {one.words}", one) for name, one in stickers()]
        )
        self.paper = parts.choice("Paper", list(PAPERS_MM))
        labels = PrintButton("Print the labels of all bottles", self.label_page)
        stick = parts.row(self.sticker, self.paper, labels)
        self.view.children = (*self.view.children[:2], actions, stick, *self.view.children[2:])

    def calculate(self, plan: ClassPlan, card: ChoiceCard | None) -> None:
        """Offer a row for each seat; what was typed stays where it is."""
        self.grid.use_columns(_columns(plan))
        usual = plan.carriers[0].id
        fresh = [
            {"seat": found.seat.label, "carrier": found.carrier or usual}
            for found in seat_plans(plan)
        ]
        typed = {n: row for n, row in enumerate(self.grid.rows) if _has_drops(row)}
        self.grid.rows = [typed.get(n, row) for n, row in enumerate(fresh)]

    def read(self) -> list[SeatBottle]:
        """Read the bottles of the whole grid; `BadClass` lists every problem in it."""
        plan = self.good_plan()
        rows = [
            {
                "seat": cell_text(row, "seat"),
                "carrier": cell_text(row, "carrier") or plan.carriers[0].id,
                "drops": {each.oil.id: cell_text(row, each.oil.id) for each in plan.oils},
            }
            for row in self.grid.rows
        ]
        return seat_bottles(plan, rows)

    def mixed(self) -> tuple[list[SeatBottle], date]:
        """Bottles that were typed, none where the grid is empty, and the day they were made."""
        has_drops = any(map(_has_drops, self.grid.rows))
        return self.read() if has_drops else [], read_day(self.made_on.value, "Made on")

    def label_page(self) -> str:
        """Page of the labels of all bottles, on sheets of stickers; else why there is none."""
        return self.printed(self._labels)

    def _labels(self) -> str:
        bottles, day = self.mixed()
        if not bottles:
            needed = "the drops that each seat counted"
            raise BadNumber([Problem("the grid", "no drops", needed)])
        size = usual_type_size(self.good_plan().market.region)
        maker, contact = read_or(kept_maker, ("", ""))
        details = LabelDetails(maker=maker, contact=contact, mixed_on=day)
        prints = []
        for one in bottles:
            label = label_of(one.blend, replace(details, lot=self.lots.get(one.seat, "")))
            prints.append((lay_out(label, self.sticker.value, size), 1))
        return sheet_page(prints, read_grid(self.sticker.value, self.paper.value))

    def check(self) -> None:
        """Check the grid, and list where a bottle breaks the card or a limit."""
        judged = self._checked()
        held = [found for _, found in judged if found.left_out or found.broken]
        words = f"{counted(len(judged), 'bottle')} checked"
        mind = f"{counted(len(held), 'bottle')} to look at first: see below"
        self.message.say(f"{words}; {mind}." if held else f"{words}; all can be kept.")

    def keep(self) -> None:
        """Keep every bottle as a version and a batch of its own."""
        judged = self._checked()
        day = read_day(self.made_on.value, "Made on")
        lots, before = keep_judged(self.good_plan(), judged, day)
        self.lots |= lots
        already = f" {counted(before, 'bottle')} had been kept before." if before else ""
        self.findings.show([*lots_in_words(lots), *_warnings(judged)])
        self.message.say(f"{counted(len(lots), 'bottle')} kept.{already}")

    def _checked(self) -> list[tuple[SeatBottle, Judgement]]:
        """The bottles of the grid, each judged; shows the sentences on them."""
        with greyed_if_refused(self.found):
            read_day(self.made_on.value, "Made on")
            bottles, plan = self.read(), self.good_plan()
        # by the row and not by the seat: a name may be typed over in this grid
        rows = zip(self.grid.rows, plan.seats, strict=False)
        seats = {cell_text(row, "seat"): seat for row, seat in rows}
        judged = [
            (one, judge(plan, self.card, seats.get(one.seat), one.blend)) for one in bottles
        ]
        self.findings.show(_warnings(judged))
        return judged


def _has_drops(row: Mapping[str, Any]) -> bool:
    return any(row[key] for key in row if key not in ("seat", "carrier"))


def _warnings(judged: Iterable[tuple[SeatBottle, Judgement]]) -> list[str]:
    sentences = [
        f"{one.seat}{' ' if line[0] == '◐' else ', '}{line}"
        for one, found in judged
        for line in found.sentences
    ]
    return sentences or [
        "Every bottle keeps to its seat and the card; none is over a limit on record."
    ]


def _columns(plan: ClassPlan) -> list[GridColumn]:
    carriers = [(each.name, each.id) for each in plan.carriers]
    names = {each.oil.id: each.oil.name.partition(" (")[0] for each in plan.oils}
    return [
        GridColumn("seat", "Seat", "120px"),
        *(GridColumn(*each, "52px", number=True, turned=True) for each in names.items()),
        GridColumn("carrier", "Carrier", "130px", carriers),
    ]
