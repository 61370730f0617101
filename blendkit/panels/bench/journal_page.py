"""The store: place, state, export, import and recovery."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path

import ipywidgets as widgets

from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.units import counted
from blendkit.journal.backups import journal_path
from blendkit.journal.errors import CannotJournal, JournalDamaged
from blendkit.journal.exchange import export_journal
from blendkit.journal.merge import import_journal
from blendkit.journal.records import BatchRow, EventRow, Impression, Version
from blendkit.journal.store import reopen_from_backup
from blendkit.keeping.open_store import let_go, share, the_journal
from blendkit.panels.bench.tray import Guard
from blendkit.panels.kit.parts import Findings, Message, button, heading, text_box


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
        self.state = Findings("")
        self.upload = widgets.FileUpload(
            accept=".zip",
            multiple=False,
            description="Import a file …",
            tooltip="import an export of a store",
            layout=widgets.Layout(width="auto"),
        )
        self.upload.observe(guard(self.take_upload), "value")
        self.path = text_box("Or from path", width="440px", placeholder="… .zip")
        self.reopen = button("Restore the last backup", guard(self.restore))
        self.reopen.layout.display = "none"
        self.view = widgets.VBox(
            [
                heading("Your journal"),
                self.state.view,
                self.reopen,
                widgets.HTML(_MOVE),
                button("Export to move", guard(lambda: self.export(people=True))),
                widgets.HTML(_SHARE),
                button("Export to share", guard(lambda: self.export(people=False))),
                self.upload,
                widgets.HBox([self.path, button("Import", guard(self.take_path))]),
            ]
        )

    def refresh(self) -> None:
        """Show the journal's place and state."""
        try:
            journal = the_journal()
            contents = [
                counted(journal.count(Version), "version"),
                f"{journal.count(BatchRow)} made at the bench",
                counted(journal.count(EventRow), "bench event"),
                counted(journal.count(Impression), "impression"),
            ]
            sound = "Checked when it was opened, and sound."
            self.state.show(
                [str(journal.path), sound, f"{', '.join(contents)}.", *journal.warnings]
            )
            self.reopen.layout.display = "none"
        except CannotJournal as error:
            wait = "Events are kept on this page and written later."
            self.state.show([f"{journal_path()}", str(error), wait])
            damaged = isinstance(error, JournalDamaged)
            self.reopen.layout.display = None if damaged else "none"

    def export(self, *, people: bool) -> None:
        """Write a Move or a Share to a new zip file; `CannotJournal` where that cannot be."""
        done = export_journal(the_journal(), people=people)
        what = "Everything is" if people else "Blends and own lots are"
        missing = f" Photos not found: {', '.join(done.missing)}." if done.missing else ""
        self.message.say(f"{what} in {done.path}.{missing}")

    def take_upload(self) -> None:
        """Merge an uploaded export into the journal."""
        if not self.upload.value:
            return
        (given,) = self.upload.value
        with tempfile.TemporaryDirectory() as folder:
            file = Path(folder) / "import.zip"
            file.write_bytes(bytes(given["content"]))
            self._take(file, str(given["name"]))
        self.upload.value = ()

    def take_path(self) -> None:
        """Merge an export on this computer into the journal."""
        file = Path(self.path.value.strip()).expanduser()
        if not self.path.value.strip() or not file.is_file():
            needed = "the path of an export, a .zip file"
            raise BadNumber([Problem("import", quoted(self.path.value), needed)])
        self._take(file, file.name)

    def restore(self) -> None:
        """Replace a damaged journal with the newest backup."""
        let_go()
        journal = reopen_from_backup()
        share(journal)
        self.changed()
        self.message.say(f"Restored from a backup: {journal.path}.")

    def _take(self, file: Path, name: str) -> None:
        added = import_journal(the_journal(), file)
        self.changed()
        rows = sum(added.values())
        text = f"{counted(rows, 'row')} added from {name}; nothing was overwritten."
        self.message.say(text if rows else f"All of {name} was here already.")


_MOVE = (
    '<p class="bk-faint">For your next computer: everything, with people, wearings on '
    "skin, prices and photo files.</p>"
)
_SHARE = (
    '<p class="bk-faint">For somebody else: blends with their versions and own lots, without '
    "people, health, stock, prices and reasons.</p>"
)
