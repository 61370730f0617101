"""The store: place, state, export, import, and rows to withdraw."""

from __future__ import annotations

import contextlib
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import ipywidgets as widgets

from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.units import counted
from blendkit.foundation.whole_files import is_regular
from blendkit.journal.backups import journal_path
from blendkit.journal.errors import CannotJournal, JournalDamaged
from blendkit.journal.exchange import export_journal
from blendkit.journal.merge import Import, Imported
from blendkit.journal.records import BatchRow, EventRow, Impression, Version
from blendkit.journal.store import Journal
from blendkit.keeping.open_store import the_journal
from blendkit.panels.bench.backups_page import BackupsPage
from blendkit.panels.bench.tray import Guard
from blendkit.panels.kit.deferred import InSteps
from blendkit.panels.kit.parts import (
    Findings,
    Message,
    button,
    column,
    heading,
    row,
    set_options,
    text_box,
)

MOST_LISTED = 200


class JournalPage:
    """Path and state of the store, export and import.

    Parameters
    ----------
    message : Message
    changed : callable
        Called after the journal's content changed as a whole.
    """

    def __init__(self, message: Message, changed: Callable[[], None]) -> None:
        self.message, self.changed = message, changed
        guard: Guard = message.guard
        self._looked_through: Journal | None = None
        self._import: Import | None = None
        self.state = Findings("")
        self.backups = BackupsPage(message, changed)
        self.unreadable = widgets.Dropdown(tooltip="a row that cannot be read")
        withdraw = button("Withdraw this row", guard(self.withdraw))
        self.odd_rows = row(self.unreadable, withdraw)
        self.upload = widgets.FileUpload(
            accept=".zip",
            multiple=False,
            description="Import a file …",
            tooltip="import an export of a store",
            layout=widgets.Layout(width="auto"),
        )
        self.upload.observe(guard(self.take_upload), "value")
        self.path = text_box("Or from path", width="440px", placeholder="… .zip")
        self.at_work = InSteps()
        self.progress = widgets.FloatProgress(min=0, max=1, description="Importing")
        cancel = button("Cancel the import", guard(self.cancel))
        self.importing = row(self.progress, cancel)
        self.importing.layout.display = "none"
        self.view = column(
            heading("Your journal"),
            self.state.view,
            self.odd_rows,
            self.backups.view,
            heading("Move, share and merge"),
            widgets.HTML(_MOVE),
            button("Export to move", guard(lambda: self.export(people=True))),
            widgets.HTML(_SHARE),
            button("Export to share", guard(lambda: self.export(people=False))),
            row(self.upload, self.path, button("Import", guard(self.take_path))),
            self.importing,
        )

    def refresh(self) -> None:
        """Show where the journal is and in what state."""
        try:
            journal = the_journal()
            if journal is not self._looked_through:
                journal.find_unreadable()  # after that, whatever reads a row notes it
                self._looked_through = journal
            problems = list(journal.unreadable.values())
            held = [
                counted(journal.count(Version), "version"),
                f"{journal.count(BatchRow)} made at the bench",
                counted(journal.count(EventRow), "bench event"),
                counted(journal.count(Impression), "impression"),
            ]
            sound = "Checked when it was opened, and sound."
            if problems:
                sound = f"{counted(len(problems), 'row')} cannot be read; all others are here."
            first = [f"{problem}" for problem in problems[:20]]
            self.state.show(
                [str(journal.path), sound, *first, f"{', '.join(held)}.", *journal.warnings]
            )
            rows = list(journal.unreadable)[:MOST_LISTED]
            set_options(
                self.unreadable, [(f"{table}, {id}", (table, id)) for table, id in rows]
            )
            damaged = bool(problems)
        except CannotJournal as error:
            wait = "Events are kept on this page and written later."
            self.state.show([f"{journal_path()}", str(error), wait])
            set_options(self.unreadable, [])
            damaged = isinstance(error, JournalDamaged)
        self.odd_rows.layout.display = None if self.unreadable.options else "none"
        self.backups.refresh(is_damaged=damaged)

    def withdraw(self) -> None:
        """Withdraw the chosen row that cannot be read."""
        if self.unreadable.value:
            table, id = self.unreadable.value
            the_journal().withdraw_unreadable(table, id)
            self.changed()
            self.message.say(f"Withdrawn: {table}, {id}. The row stays in the file.")

    def export(self, *, people: bool) -> None:
        """Write a Move or a Share to a new zip file; `CannotJournal` where that cannot be."""
        done = export_journal(the_journal(), people=people)
        self.refresh()
        what = "Everything is" if people else "Blends and own lots are"
        missing = f" Photos not found: {', '.join(done.missing)}." if done.missing else ""
        self.message.say(f"{what} in {done.path}.{missing}")

    def take_upload(self) -> None:
        """Merge an uploaded export into the journal."""
        if not self.upload.value:
            return
        (given,) = self.upload.value
        content = bytes(given["content"])
        self.upload.value = ()
        self.at_work.run(self._take(None, content, str(given["name"])))

    def take_path(self) -> None:
        """Merge an export on this computer into the journal."""
        needed = "the path of an export, a .zip file"
        try:
            file = Path(self.path.value.strip()).expanduser()
        except RuntimeError:  # a home that is nobody's
            file = Path()
        if not is_regular(file):
            raise BadNumber([Problem("import", quoted(self.path.value), needed)])
        self.at_work.run(self._take(file, b"", file.name))

    def cancel(self) -> None:
        """Leave an import off; things that were added are whole, and stay."""
        self.at_work.cancel()
        self.importing.layout.display = "none"
        rows = sum(self._import.added.values()) if self._import else 0
        text = "The import was cancelled. Nothing was added."
        if rows:
            self.changed()
            text = f"The import was cancelled after {counted(rows, 'row')}. Import the file "
            text += "again to add the rest."
        self.message.say(text)

    def _take(self, file: Path | None, content: bytes, name: str) -> Iterator[float]:
        def finish() -> None:
            self._say(one.added, name)

        with contextlib.ExitStack() as closing:
            if file is None:
                folder = closing.enter_context(tempfile.TemporaryDirectory())
                file = Path(folder) / "import.zip"
                file.write_bytes(content)
            failed: list[Exception] = []
            one = self._import = closing.enter_context(Import(the_journal(), file))
            self.importing.layout.display = None
            yield from _caught(one.steps(), self.progress, failed)
            self.importing.layout.display = "none"
            if failed and any(one.added.values()):
                self.changed()
            self.message.guard(_raiser(failed[0]) if failed else finish)(self.upload)

    def _say(self, added: Imported, name: str) -> None:
        self.changed()
        rows = sum(added.values())
        text = f"{counted(rows, 'row')} added from {name}; nothing was overwritten."
        text = text if rows or added.passed_by else f"All of {name} was here already."
        passed_by = " Passed by: " + " ".join(added.passed_by) if added.passed_by else ""
        self.message.say(f"{text}{passed_by}")


def _caught(
    steps: Iterator[float], progress: widgets.FloatProgress, failed: list[Exception]
) -> Iterator[float]:
    """Steps that show how far they are, and note what they raise."""
    progress.value = 0
    try:
        for done in steps:
            if done - progress.value >= 0.01:
                progress.value = done
            yield done
    except Exception as error:
        failed.append(error)


def _raiser(error: Exception) -> Callable[[], None]:
    def raise_it() -> None:
        raise error

    return raise_it


_MOVE = (
    '<p class="bk-faint">For your next computer: everything, with the people you noted, what '
    "was smelt on skin, prices, and the photos' files. Import it there; two stores become one "
    "in the same way.</p>"
)
_SHARE = (
    '<p class="bk-faint">For somebody else: blends with their versions and own lots, without '
    "people, health, stock, prices and reasons.</p>"
)
