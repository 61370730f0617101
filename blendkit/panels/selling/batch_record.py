"""Panel 10: batch record — what the journal lacks of a batch, its release, and looks at it."""

from datetime import date
from functools import partial
from typing import Any

import ipywidgets as widgets

from blendkit.foundation.errors import BadNumber, Problem
from blendkit.foundation.units import read_day
from blendkit.journal.records import BatchMaterial, BatchPaperRow, BatchRow, Impression, Session
from blendkit.keeping.batch_records import KeptBatch, kept_batches
from blendkit.keeping.open_store import the_journal
from blendkit.making.bench_words import name_of
from blendkit.panels.kit import parts
from blendkit.panels.kit.entry_grid import EntryGrid, GridColumn, cell_text
from blendkit.panels.kit.links import notebook_links
from blendkit.panels.kit.print_button import PrintButton
from blendkit.panels.kit.section import Section
from blendkit.panels.kit.watch import Watch
from blendkit.selling import papers
from blendkit.selling.batch_record import CHECKS, TOLERANCE, TYPED
from blendkit.showing.kit.rendering import render
from blendkit.showing.selling.sheets import record_page

_NO_BATCH = "No batch yet: record one as made in notebook 07, or keep a bottle in notebook 06."
_WIDE = "420px"
_MATERIALS = (
    GridColumn("name", "Material", "", fixed=True),
    GridColumn("lot", "Supplier's lot", "100px"),
    GridColumn("weighed", "Weighed, g", "84px", number=True),
)
_CHECKS = (
    GridColumn("words", "Check", "", fixed=True),
    GridColumn("found", "Result", "150px"),
)


class BatchRecordPanel(parts.Panel):
    """Record of one batch: typed entries, decision, looks, and the page to print."""

    def __init__(self) -> None:
        self._batches: dict[str, KeptBatch] = {}
        self._drafts: dict[str, dict[str, Any]] = {}  # what was typed and not kept yet
        self._at, self._rows = "", list[BatchMaterial]()
        self.due = parts.Findings("No kept sample is due for a look.")
        self.open = parts.Findings(_NO_BATCH)
        self.facts = widgets.HTML()
        self.section = Section(parts.heading("Still open"), self.open.view, self.facts)
        self.message = self.section.message
        self.batch = parts.choice("Batch", [], "560px")
        self.boxes: dict[str, widgets.Text] = {
            key: parts.text_box(label, "", _WIDE, placeholder=hint)
            for key, (label, hint) in TYPED.items()
        }
        self.boxes["tolerance"] = parts.unit_box("Tolerance", "%", TOLERANCE)
        self.materials = EntryGrid("Lots and weighed amounts", _MATERIALS)
        self.checks = EntryGrid("Checks", _CHECKS)
        self.forms: dict[str, dict[str, Any]] = {
            papers.RELEASE: {
                "decision": parts.choice("Decision", papers.DECISIONS, _WIDE),
                "by": parts.text_box("Decided by", "", _WIDE),
                "why": parts.text_box("Why", "", _WIDE),
            },
            papers.STABILITY: {
                "colour": parts.text_box("Colour", "", _WIDE),
                "clouding": parts.choice("Clouding", papers.CLOUDING, _WIDE),
                "smell": parts.text_box("Smell", "", _WIDE),
                "words": parts.text_box("In words", "", _WIDE),
            },
        }
        today = f"{date.today()}"
        self.days = {kind: parts.text_box("On", today, "260px") for kind in self.forms}
        self.watch = Watch()
        guard = self.message.guard
        kinds = (BatchRow, BatchMaterial, BatchPaperRow, Session, Impression)
        self.watch.follow(guard(self.refresh), *kinds)
        self.view = self._lay_out()
        self.batch.observe(guard(self.open_batch), "value")
        parts.observe(guard(self.update), *self.boxes.values())
        parts.observe(guard(self.update), self.materials, self.checks, of="rows")
        guard(self.refresh)()

    def _lay_out(self) -> widgets.Widget:
        guard, boxes = self.message.guard, [*self.boxes.values()]
        folds = [
            parts.fold(
                title,
                *(self.days[kind], *self.forms[kind].values()),
                parts.row(
                    parts.button(f"Record {noun}", guard(partial(self.write, kind))),
                    parts.button("Undo the newest", guard(partial(self.undo, kind))),
                ),
                parts.hint(papers.LOOK_DAYS_SOURCE if kind == papers.STABILITY else ""),
            )
            for kind, title, noun in (
                (papers.RELEASE, "Release", "decision"),
                (papers.STABILITY, "Look at the kept sample", "look"),
            )
        ]
        self.typed = parts.column(
            *(*boxes[:3], boxes[-1], self.materials, self.checks, *boxes[3:-1]),
            parts.row(
                parts.button("Keep the record", guard(self.keep)),
                PrintButton("Print the batch record", self.page),
            ),
            *folds,
        )
        self.typed.layout.flex = "0 1 440px"
        head = (notebook_links("10_sell_with_a_file"), self.due.view, self.batch)
        body = parts.columns(self.typed, self.section.found)
        return parts.panel_frame(*head, self.message.view, body, self.watch)

    @property
    def document(self) -> dict[str, Any]:
        """What is typed for the record."""
        lines = [*zip(self._rows, self.materials.rows, strict=False)]
        found = (cell_text(row, "found") for row in self.checks.rows)
        return {
            **{key: getattr(box, "quantity", box.value.strip())
               for key, box in self.boxes.items()},
            "lots": {row.material: cell_text(line, "lot") for row, line in lines},
            "weighed": {row.material: parts.with_unit(cell_text(line, "weighed"), "g")
                        for row, line in lines},
            "checks": dict(zip(CHECKS, found, strict=False)),
        }  # fmt: skip

    def refresh(self) -> None:
        """List the batches and what is due; what is typed stays."""
        self._batches = {one.label: one for one in kept_batches()}
        rows = {label: one.row for label, one in self._batches.items()}
        self.due.show(papers.looks_due(the_journal(), rows, date.today()))
        parts.set_options(self.batch, [(label, label) for label in rows])
        self.batch.layout.display = self.typed.layout.display = None if rows else "none"
        if not rows:
            self.open.show([])
        self.update()

    def open_batch(self) -> None:
        """Show the chosen batch with what was typed or kept of it."""
        if self._at:
            self._drafts[self._at] = self.document
        self._at = ""  # boxes are filled one by one
        if self.batch.value is None:
            return
        batch = self.chosen().row
        kept = papers.papers(the_journal(), batch, papers.RECORD)
        document = self._drafts.get(batch.id) or (kept[-1].document if kept else {})
        typed = {"tolerance": TOLERANCE, **papers.texts(document)}
        keys = ("weighed", "lots", "checks")
        weighed, lots, found = (papers.texts(document.get(key)) for key in keys)
        self._rows = the_journal().all(BatchMaterial, batch_id=batch.id)
        for key, box in self.boxes.items():
            box.value = typed.get(key, "")
        self.checks.rows = [
            {"words": f"{check}: {limit}", "found": found.get(check, "")}
            for check, limit in CHECKS.items()
        ]
        self.materials.rows = [
            {
                "name": name_of(row.material),
                "lot": lots.get(row.material, row.supplier_lot),
                "weighed": weighed.get(row.material, ""),
            }
            for row in self._rows
        ]
        self._at = batch.id
        self.update()

    def chosen(self) -> KeptBatch:
        """Batch that is shown; `BadNumber` where there is none."""
        if self.batch.value not in self._batches:
            raise BadNumber([Problem("batch", "none", "a batch in the journal", _NO_BATCH)])
        return self._batches[self.batch.value]

    def update(self) -> None:
        """Show the record as it is typed."""
        if self._at:
            self.section.attempt(self._show)

    def _show(self) -> None:
        record = self.chosen().record(self.document)
        self.open.show(record.open_points or ["Nothing."])
        self.facts.value = render("record_facts", record=record)

    def page(self) -> str:
        """Page of the record as it is typed."""
        return self.section.printed(lambda: record_page(self.chosen().record(self.document)))

    def keep(self) -> None:
        """Keep the typed entries; a lot that was typed corrects that of the batch."""
        batch, document, journal = self.chosen(), self.document, the_journal()
        batch.record(document)  # refused before anything is written
        lots = document.pop("lots")  # are in the rows of the batch, for a recall
        is_new = papers.keep_paper(journal, batch.row, papers.RECORD, document, date.today())
        for place, row in enumerate(self._rows):
            if lots[row.material] != row.supplier_lot:
                self._rows[place] = journal.correct(row, supplier_lot=lots[row.material])
                is_new = True
        self.refresh()
        self.message.say("Record kept." if is_new else "The same was kept before.")

    def write(self, kind: str) -> None:
        """Keep a decision on the batch, or a look at it; earlier ones stay."""
        form, day = self.forms[kind], read_day(self.days[kind].value, "on")
        document = {key: box.value.strip() for key, box in form.items()}
        papers.keep_paper(the_journal(), self.chosen().row, kind, document, day)
        for box in form.values():
            box.value = box.options[0] if hasattr(box, "options") else ""
        self.refresh()
        self.message.say("Recorded. Earlier entries stay.")

    def undo(self, kind: str) -> None:
        """Withdraw the newest decision or look; its row stays."""
        rows = papers.papers(the_journal(), self.chosen().row, kind)
        if not rows:
            raise BadNumber([Problem("entry", "none", "one that was recorded for this batch")])
        the_journal().withdraw(rows[-1])
        self.refresh()
        self.message.say(f"Undone: the entry of {rows[-1].dated_on}. Its row stays.")
