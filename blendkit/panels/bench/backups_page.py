"""Backups on the journal's page: make, restore and test one, recover, a second place."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import ipywidgets as widgets

from blendkit.foundation.errors import BadNumber, Problem
from blendkit.journal.backups import journal_path, list_backups, stem_of_backup
from blendkit.journal.errors import in_words
from blendkit.journal.restore import recover_journal, restore_backup
from blendkit.journal.second_place import (
    backups_there,
    choose_second_place,
    second_place,
    takes_people,
)
from blendkit.journal.self_test import open_oldest_backup, yearly_test
from blendkit.journal.store import Journal
from blendkit.keeping.open_store import let_go, share, the_journal
from blendkit.panels.bench.tray import Guard
from blendkit.panels.kit.parts import (
    Findings,
    Message,
    button,
    column,
    heading,
    row,
    set_options,
    text_box,
    tick,
)


class BackupsPage:
    """Backups, and the way back from them.

    Parameters
    ----------
    message : Message
    changed : callable
        Called after the journal's content changed as a whole.
    """

    def __init__(self, message: Message, changed: Callable[[], None]) -> None:
        self.message, self.changed = message, changed
        guard: Guard = message.guard
        self.recover = button("Recover the journal", guard(self.recover_it))
        self.chosen = widgets.Dropdown(
            tooltip="a backup to restore", layout=widgets.Layout(width="440px")
        )
        self.place = text_box("Second place", width="440px", placeholder="a memory stick")
        self.people = tick("copy people who got a bottle, and what they reported, there too")
        self.tested = Findings("")
        self.view = column(
            self.recover,
            heading("Backups"),
            widgets.HTML(_BACKUPS),
            button("Back up now", guard(self.back_up)),
            row(self.chosen, button("Restore this backup", guard(self.restore))),
            row(self.place, button("Use this place", guard(self.use_place))),
            self.people,
            button("Open the oldest backup", guard(self.open_oldest)),
            self.tested.view,
        )

    def refresh(self, *, is_damaged: bool) -> None:
        """Offer the backups that are there; once a year, say whether the oldest one opens."""
        self.recover.layout.display = None if is_damaged else "none"
        folder = journal_path().parent
        with in_words(folder):
            found = [(_label(each), str(each)) for each in list_backups(folder)]
            found += [(f"{_label(each)} · second place", str(each))
                      for each in backups_there(folder)]  # fmt: skip
            set_options(self.chosen, found)
            place = second_place(folder)
            self.place.value = str(place or "")
            self.people.value = takes_people(folder)
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
            place = choose_second_place(folder, wanted, people=self.people.value)
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


def _label(backup: Path) -> str:
    """Such as "backup 12 · 2026-11-25"; those of an earlier program have no number."""
    number = backup.stem.split()[1]
    return f"backup {f'{int(number)} · ' if number.isdigit() else ''}{stem_of_backup(backup)}"


_BACKUPS = (
    '<p class="bk-faint">One is made each day; the last 14 are here, newest first. What is '
    "replaced by a backup is kept in a folder of its own. A memory stick or a folder that is "
    "copied elsewhere can be a second place.</p>"
)
