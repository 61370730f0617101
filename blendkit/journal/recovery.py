"""Going on after the journal's file was damaged: from a daily copy, deleting nothing."""

from __future__ import annotations

import itertools
import shutil
from datetime import datetime
from pathlib import Path

from blendkit.foundation.errors import Problem
from blendkit.foundation.whole_files import give_name, put_on_disk, temporary_file
from blendkit.journal.backups import copies, journal_path
from blendkit.journal.connect import look_at
from blendkit.journal.errors import CannotJournal, JournalDamaged, JournalNewer, in_words
from blendkit.journal.store import Journal, open_journal

SET_ASIDE = "journal set aside"
# What may lie beside a database (https://www.sqlite.org/tempfiles.html); they belong together
_NEIGHBOURS = ("", "-wal", "-shm", "-journal")


def reopen_from_copy(folder: Path | None = None) -> Journal:
    """Open the newest sound daily copy in place of a journal that cannot be opened.

    Close the journal in other notebooks first. The file that cannot be opened is moved to a
    folder of its own, with whatever was written since the copy.

    Parameters
    ----------
    folder : Path, optional
        Instead of the maker's folder.

    Raises
    ------
    CannotJournal
        The journal is sound, or there is no sound copy. Nothing was changed.
    """
    path = journal_path(folder)
    with in_words(path):
        _refuse_sound(path)
        chosen = _newest_sound_copy(path)
        with temporary_file(path.parent) as part:
            shutil.copyfile(chosen, part)
            put_on_disk(part)
            there = _set_aside(path)
            give_name(part, path)
    journal = open_journal(folder)
    journal.warn(f"Opened from {chosen}. The file that could not be opened is in {there}.")
    return journal


def _is_sound(path: Path) -> bool:
    try:
        with in_words(path):
            look_at(path)
    except (JournalDamaged, JournalNewer):
        return False
    return path.exists()


def _refuse_sound(path: Path) -> None:
    if _is_sound(path):
        fix = "Open it as it is. Nothing was changed."
        raise CannotJournal([Problem(str(path), "a sound journal", "a damaged one", fix)])


def _newest_sound_copy(path: Path) -> Path:
    for copy in copies(path.parent):
        if _is_sound(copy):
            return copy
    needed = "a sound copy to open instead"
    fix = "Rename the file, and a new journal begins in its place. Nothing was changed."
    raise CannotJournal([Problem(str(path.parent), "no sound copy", needed, fix)])


def _set_aside(path: Path) -> Path:
    """Move the journal and its neighbours to a new folder."""
    day = datetime.now().astimezone().date()
    for number in itertools.count(1):
        there = path.parent / SET_ASIDE / f"{day.isoformat()} {number}"
        if not there.exists():
            break
    there.mkdir(parents=True)
    for ending in _NEIGHBOURS:
        file = path.with_name(path.name + ending)
        if file.exists():
            file.rename(there / file.name)
    return there
