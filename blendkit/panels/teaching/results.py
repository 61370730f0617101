"""Results of a class: a grid of drops by seat, all kept in the journal at once."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

from blendkit.batch.label import LabelDetails, label_of
from blendkit.foundation.errors import BadNumber, Problem, Refused
from blendkit.foundation.units import counted, read_day
from blendkit.keeping.class_results import KeptBottle, keep_bottles
from blendkit.keeping.details import kept_maker
from blendkit.keeping.open_store import read_or, the_journal
from blendkit.panels.kit import parts
from blendkit.panels.kit.entry_grid import EntryGrid, GridColumn, cell_text
from blendkit.panels.kit.print_button import PrintButton
from blendkit.panels.teaching.sections import ClassSection
from blendkit.showing.label.layout import lay_out
from blendkit.showing.label.pages import refusal_page, sheet_page
from blendkit.showing.label.sheets import PAPERS_MM, read_grid
from blendkit.showing.label.sizes import stickers, type_size
from blendkit.teaching.class_document import ClassPlan, Seat
from blendkit.teaching.free_choice import ChoiceCard
from blendkit.teaching.judging import Judgement, judge
from blendkit.teaching.plan import SeatPlan, seat_plans
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
        self.labels = PrintButton("Print the labels of all bottles", self.label_page)
        stick = parts.row(self.sticker, self.paper, self.labels)
        self.view.children = (*self.view.children[:2], actions, stick, *self.view.children[2:])
        self.plan: ClassPlan | None = None
        self.card: ChoiceCard | None = None

    def calculate(self, plan: ClassPlan, card: ChoiceCard | None) -> None:
        """Offer a row for each seat; what was typed stays where it is."""
        self.plan, self.card = plan, card
        found = seat_plans(plan)
        self.grid.use_columns(_columns(plan))
        fresh = [_row(plan, seat) for seat in found]
        typed_rows = list(self.grid.rows)
        self.grid.rows = [
            old if any(key not in ("seat", "carrier") and old[key] for key in old) else new
            for old, new in zip(typed_rows, fresh, strict=False)
        ] + fresh[len(typed_rows) :]

    def read(self) -> list[SeatBottle]:
        """Read the bottles of the whole grid; `BadClass` lists every problem in it."""
        if self.plan is None:
            raise BadNumber([Problem("class", "none", "a class that can be planned")])
        ids = [each.oil.id for each in self.plan.oils]
        rows = [
            {
                "seat": cell_text(row, "seat"),
                "carrier": cell_text(row, "carrier") or self.plan.carriers[0].id,
                "drops": {name: cell_text(row, name) for name in ids},
            }
            for row in self.grid.rows
        ]
        return seat_bottles(self.plan, rows)

    def mixed(self) -> tuple[list[SeatBottle], date]:
        """Bottles that were typed, none where the grid is empty, and the day they were made."""
        keys = ("seat", "carrier")
        has_drops = any(row[key] for row in self.grid.rows for key in row if key not in keys)
        return self.read() if has_drops else [], read_day(self.made_on.value, "Made on")

    def label_page(self) -> str:
        """Page of the labels of all bottles, on sheets of stickers."""
        try:
            bottles, day = self.mixed()
            if self.plan is None or not bottles:
                got = Problem("the grid", "no drops", "the drops that each seat counted")
                raise BadNumber([got])
            is_us = self.plan.market.region == "US"
            size = type_size("US cosmetics" if is_us else "common measure")
            maker, contact = read_or(kept_maker, ("", ""))
            details = LabelDetails(maker=maker, contact=contact, mixed_on=day)
            prints = []
            for one in bottles:
                label = label_of(one.blend, replace(details, lot=self.lots.get(one.seat, "")))
                prints.append((lay_out(label, self.sticker.value, size), 1))
            return sheet_page(prints, read_grid(self.sticker.value, self.paper.value))
        except Refused as error:
            return refusal_page([str(error)])

    def check(self) -> None:
        """Check the grid, and list where a bottle breaks the card or a limit."""
        bottles = self._checked()
        held = [each for each in self._judged(bottles).values() if each.left_out or each.broken]
        words = f"{counted(len(bottles), 'bottle')} checked"
        mind = f"{counted(len(held), 'bottle')} to look at first: see below"
        self.message.say(f"{words}; {mind}." if held else f"{words}; all can be kept.")

    def keep(self) -> None:
        """Keep every bottle as a version and a batch of its own."""
        bottles = self._checked()
        assert self.plan is not None  # else `read` has refused
        journal = the_journal()
        left_out = {
            seat: [name for name, _ in found.left_out]
            for seat, found in self._judged(bottles).items()
        }
        day = read_day(self.made_on.value, "Made on")
        kept = keep_bottles(journal, self.plan, bottles, day, left_out)
        new = [one for one in kept if one.lot]
        self.lots |= {one.seat: one.lot for one in new}
        before = len(kept) - len(new)
        already = f" {counted(before, 'bottle')} had been kept before." if before else ""
        words = f"{counted(len(new), 'bottle')} kept.{already}"
        self.findings.show([*_lots(new), *self._warnings(bottles)])
        self.message.say(words)

    def _checked(self) -> list[SeatBottle]:
        try:
            read_day(self.made_on.value, "Made on")
            bottles = self.read()
        except Exception:
            parts.grey(self.found, stale=True)
            raise
        parts.grey(self.found, stale=False)
        self.findings.show(self._warnings(bottles))
        return bottles

    def _judged(self, bottles: list[SeatBottle]) -> dict[str, Judgement]:
        assert self.plan is not None  # else `read` has refused
        return {
            one.seat: judge(self.plan, self.card, self._seat_of(one.seat), one.blend)
            for one in bottles
        }

    def _seat_of(self, name: str) -> Seat | None:
        """The seat of the row with a name: a name may be typed over in this grid."""
        assert self.plan is not None
        rows = zip(self.grid.rows, self.plan.seats, strict=False)
        by_row = {cell_text(row, "seat"): seat for row, seat in rows}
        return by_row.get(name)

    def _warnings(self, bottles: list[SeatBottle]) -> list[str]:
        sentences = [
            f"{seat}, {one}" if one[0] != "◐" else f"{seat} {one}"
            for seat, found in self._judged(bottles).items()
            for one in found.sentences
        ]
        return sentences or [
            "Every bottle keeps to its seat and the card; none is over a limit on record."
        ]


def _lots(kept: list[KeptBottle]) -> list[str]:
    return [f"{one.seat}: lot {one.lot}" for one in kept]


def _columns(plan: ClassPlan) -> list[GridColumn]:
    carriers = [(each.name, each.id) for each in plan.carriers]
    oils = [
        GridColumn(
            each.oil.id, each.oil.name.partition(" (")[0], "52px", number=True, turned=True
        )
        for each in plan.oils
    ]
    return [
        GridColumn("seat", "Seat", "120px"),
        *oils,
        GridColumn("carrier", "Carrier", "130px", carriers),
    ]


def _row(plan: ClassPlan, found: SeatPlan) -> dict[str, Any]:
    usual = plan.carriers[0].id
    return {"seat": found.seat.label, "carrier": found.carrier or usual}
