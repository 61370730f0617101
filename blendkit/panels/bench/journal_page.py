"""The store: place, state, backups and the way back from them, export, import, odd rows."""

import contextlib
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import ipywidgets as widgets

from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.units import counted
from blendkit.foundation.whole_files import is_regular
from blendkit.journal import second_place
from blendkit.journal.backups import journal_path, list_backups, stem_of_backup
from blendkit.journal.errors import CannotJournal, JournalDamaged, in_words
from blendkit.journal.exchange import export_journal
from blendkit.journal.merge import Import, Imported
from blendkit.journal.records import Impression
from blendkit.journal.restore import recover_journal, restore_backup
from blendkit.journal.self_test import count_kept, open_oldest_backup, yearly_test
from blendkit.journal.store import Journal
from blendkit.keeping.open_store import let_go, share, the_journal
from blendkit.panels.kit import parts
from blendkit.panels.kit.deferred import InSteps

MOST_LISTED = 200


def _label(backup: Path) -> str:
    """Such as "backup 12 · 2026-11-25"; those of an earlier program have no number."""
    number = backup.stem.split()[1]
    return f"backup {f'{int(number)} · ' if number.isdigit() else ''}{stem_of_backup(backup)}"


class JournalPage:
    """Path and state of the store, backups and the way back from them, export and import.

    Parameters
    ----------
    message : Message
    changed : callable
        Called after the journal's content changed as a whole.
    """

    def __init__(self, message: parts.Message, changed: Callable[[], None]) -> None:
        self.message, self.changed = message, changed
        guard = message.guard
        self._looked_through: Journal | None = None
        self._import: Import | None = None
        self.state = parts.Findings("")
        self.recover = parts.button("Recover the journal", guard(self.recover_it))
        self.chosen = parts.choice("", [], "440px", tooltip="a backup to restore")
        self.place = parts.text_box("Second place", width="440px", placeholder="a memory stick")
        people = "copy people who got a bottle, and what they reported, there too"
        self.people = parts.tick(people)
        self.tested = parts.Findings("")
        self.unreadable = parts.choice("", [], tooltip="a row that cannot be read")
        withdraw = parts.button("Withdraw this row", guard(self.withdraw))
        self.odd_rows = parts.row(self.unreadable, withdraw)
        self.upload = widgets.FileUpload(
            accept=".zip",
            description="Import a file …",
            tooltip="import an export of a store",
            layout=widgets.Layout(width="auto"),
        )
        self.upload.observe(guard(self.take_upload), "value")
        self.path = parts.text_box("Or from path", width="440px", placeholder="… .zip")
        self.at_work = InSteps()
        self.progress = widgets.FloatProgress(min=0, max=1, description="Importing")
        cancel = parts.button("Cancel the import", guard(self.cancel))
        self.importing = parts.row(self.progress, cancel)
        self.importing.layout.display = "none"
        self.view = parts.column(
            parts.heading("Your journal"),
            self.state.view,
            self.odd_rows,
            self.recover,
            parts.heading("Backups"),
            widgets.HTML(_BACKUPS),
            parts.button("Back up now", guard(self.back_up)),
            parts.row(self.chosen, parts.button("Restore this backup", guard(self.restore))),
            parts.row(self.place, parts.button("Use this place", guard(self.use_place))),
            self.people,
            parts.button("Open the oldest backup", guard(self.open_oldest)),
            self.tested.view,
            parts.heading("Move, share and merge"),
            widgets.HTML(_MOVE),
            parts.button("Export to move", guard(lambda: self.export(people=True))),
            widgets.HTML(_SHARE),
            parts.button("Export to share", guard(lambda: self.export(people=False))),
            parts.row(self.upload, self.path, parts.button("Import", guard(self.take_path))),
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
            held = [*count_kept(journal), counted(journal.count(Impression), "impression")]
            sound = "Checked when it was opened, and sound."
            if problems:
                sound = f"{counted(len(problems), 'row')} cannot be read; all others are here."
            first = [f"{problem}" for problem in problems[:20]]
            self.state.show(
                [str(journal.path), sound, *first, f"{', '.join(held)}.", *journal.warnings]
            )
            rows = list(journal.unreadable)[:MOST_LISTED]
            parts.set_options(
                self.unreadable, [(f"{table}, {id}", (table, id)) for table, id in rows]
            )
            damaged = bool(problems)
        except CannotJournal as error:
            wait = "Events are kept on this page and written later."
            self.state.show([f"{journal_path()}", str(error), wait])
            parts.set_options(self.unreadable, [])
            damaged = isinstance(error, JournalDamaged)
        self.odd_rows.layout.display = None if self.unreadable.options else "none"
        self._list_backups(is_damaged=damaged)

    def _list_backups(self, *, is_damaged: bool) -> None:
        """Offer the backups that are there; once a year, say whether the oldest one opens."""
        self.recover.layout.display = None if is_damaged else "none"
        folder = journal_path().parent
        with in_words(folder):
            found = [(_label(each), str(each)) for each in list_backups(folder)]
            found += [(f"{_label(each)} · second place", str(each))
                      for each in second_place.backups_there(folder)]  # fmt: skip
            parts.set_options(self.chosen, found)
            self.place.value = str(second_place.second_place(folder) or "")
            self.people.value = second_place.takes_people(folder)
            if not is_damaged and (text := yearly_test(folder)):
                self.tested.show([text])

    def back_up(self) -> None:
        """Make a backup now."""
        made = the_journal().back_up_now()
        self.changed()
        self.message.say(f"Backed up as {made}.")

    def restore(self) -> None:
        """Restore the chosen backup; the journal that is open is set aside."""
        if not self.chosen.value:
            raise BadNumber([Problem("backup", "none", "a backup to restore")])
        self._open_instead(lambda: restore_backup(Path(self.chosen.value)))

    def recover_it(self) -> None:
        """Make a sound journal of every row that can be read."""
        self._open_instead(recover_journal)

    def _open_instead(self, open_it: Callable[[], Journal]) -> None:
        let_go()
        journal = open_it()
        share(journal)
        said = journal.warnings[-1]
        self.changed()
        self.message.say(said)

    def use_place(self) -> None:
        """Choose the second place, or none, and copy the newest backup there."""
        folder = journal_path().parent
        with in_words(folder):
            wanted = self.place.value
            place = second_place.choose_second_place(folder, wanted, people=self.people.value)
        self.changed()
        said = (
            f"Each backup is also copied to {place}." if place else "There is no second place."
        )
        self.message.say(said)

    def open_oldest(self) -> None:
        """Open the oldest backup and say what is in it."""
        folder = journal_path().parent
        with in_words(folder):
            self.tested.show([open_oldest_backup(folder)])

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
        failed: Exception | None = None
        with contextlib.ExitStack() as closing:
            if file is None:
                folder = closing.enter_context(tempfile.TemporaryDirectory())
                file = Path(folder) / "import.zip"
                file.write_bytes(content)
            one = self._import = Import(the_journal(), file)
            steps = closing.enter_context(contextlib.closing(one.steps()))
            self.importing.layout.display = None
            self.progress.value = 0
            try:
                for done in steps:
                    if done - self.progress.value >= 0.01:
                        self.progress.value = done
                    yield done
            except Exception as error:
                failed = error
            self.importing.layout.display = "none"
            self.message.guard(lambda: self._say(one.added, name, failed))(self.upload)

    def _say(self, added: Imported, name: str, failed: Exception | None) -> None:
        rows = sum(added.values())
        if rows or not failed:
            self.changed()
        if failed:
            raise failed
        text = f"{counted(rows, 'row')} added from {name}; nothing was overwritten."
        text = text if rows or added.passed_by else f"All of {name} was here already."
        self.message.say(" Passed by: ".join(filter(None, [text, " ".join(added.passed_by)])))


_MOVE = (
    '<p class="bk-faint">For your next computer: everything, with the people you noted, what '
    "was smelt on skin, prices, and the photos' files. Import it there; two stores become one "
    "in the same way.</p>"
)
_SHARE = (
    '<p class="bk-faint">For somebody else: blends with their versions and own lots, without '
    "people, health, stock, prices and reasons.</p>"
)
_BACKUPS = (
    '<p class="bk-faint">One is made each day; the last 14 are here, newest first. What is '
    "replaced by a backup is kept in a folder of its own. A memory stick or a folder that is "
    "copied elsewhere can be a second place.</p>"
)
