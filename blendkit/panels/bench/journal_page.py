"""The journal itself: where it lies, whether it is sound, export, import, and a way back."""

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
from blendkit.journal.records import Batch, Event, Impression, Version
from blendkit.journal.recovery import reopen_from_copy
from blendkit.journal.zip_import import import_journal
from blendkit.keeping.open_store import let_go, share, the_journal
from blendkit.panels.bench.tray import Guard
from blendkit.panels.kit.parts import Findings, Message, button, heading, text_box


class JournalPage:
    """Path, state, and what goes in and out as a whole.

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
            tooltip="import an export of a journal",
            layout=widgets.Layout(width="auto"),
        )
        self.upload.observe(guard(self.take_upload), "value")
        self.path = text_box("or from path", width="440px", placeholder="… .zip")
        self.reopen = button("Go on with the last daily copy", guard(self.rescue))
        self.reopen.layout.display = "none"
        self.view = widgets.VBox(
            [
                heading("Your journal"),
                self.state.view,
                self.reopen,
                widgets.HBox([button("Export everything", guard(self.export)), self.upload]),
                widgets.HBox([self.path, button("Import it", guard(self.take_path))]),
            ]
        )

    def refresh(self) -> None:
        """Show the journal's place and state."""
        try:
            journal = the_journal()
            held = [
                counted(journal.count(Version), "version"),
                f"{journal.count(Batch)} made at the bench",
                counted(journal.count(Event), "bench event"),
                counted(journal.count(Impression), "impression"),
            ]
            sound = "Checked when it was opened, and sound."
            self.state.show(
                [str(journal.path), sound, f"{', '.join(held)}.", *journal.warnings]
            )
            self.reopen.layout.display = "none"
        except CannotJournal as error:
            wait = "What you tap is held on this page meanwhile, and goes in when it can."
            self.state.show([f"{journal_path()}", str(error), wait])
            damaged = isinstance(error, JournalDamaged)
            self.reopen.layout.display = None if damaged else "none"

    def export(self) -> None:
        """Write everything to a new zip file; `CannotJournal` where that cannot be."""
        file = export_journal(the_journal())
        self.message.say(f"Everything is in {file}.")

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
        """Merge an export that lies on this computer into the journal."""
        file = Path(self.path.value.strip()).expanduser()
        if not self.path.value.strip() or not file.is_file():
            needed = "the path of an export, a .zip file"
            raise BadNumber([Problem("import", quoted(self.path.value), needed)])
        self._take(file, file.name)

    def rescue(self) -> None:
        """Go on with the newest daily copy in place of a damaged journal."""
        let_go()
        journal = reopen_from_copy()
        share(journal)
        self.changed()
        self.message.say(f"Went on with a daily copy in {journal.path}.")

    def _take(self, file: Path, name: str) -> None:
        added = import_journal(the_journal(), file)
        self.changed()
        rows = sum(added.values())
        told = f"{counted(rows, 'row')} came in from {name}; what was here stays."
        self.message.say(told if rows else f"All of {name} was here already.")
