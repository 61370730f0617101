"""A way on from any journal: recover what can be read of it, or restore a backup.

Neither deletes anything: the journal that was there is kept in a folder of its own, with
whatever lay beside it, and the new file takes its name in one step, so that a kill at any
moment leaves one or the other.
"""

import contextlib
import itertools
import os
import shutil
from datetime import datetime
from pathlib import Path

from blendkit.foundation import whole_files
from blendkit.foundation.errors import Problem
from blendkit.foundation.whole_files import is_regular, make_folder, put_in_place, put_on_disk
from blendkit.journal import migrations
from blendkit.journal.backups import SET_ASIDE as SET_ASIDE  # noqa: PLC0414
from blendkit.journal.backups import journal_path
from blendkit.journal.connect import connected, look_at
from blendkit.journal.errors import CannotJournal, JournalDamaged, JournalNewer, in_words
from blendkit.journal.forgetting import forgotten_in_copies
from blendkit.journal.people_table import forget_people
from blendkit.journal.recovery import BROKEN, NEIGHBOURS, rebuild
from blendkit.journal.store import Journal, open_journal


def recover_journal(folder: Path | None = None) -> Journal:
    """Make a sound journal of a damaged one and the newest sound backup, and open it.

    Parameters
    ----------
    folder : Path, optional
        Instead of the maker's folder.

    Raises
    ------
    CannotJournal
        The journal is sound, or of a newer version. Nothing was changed.
    """
    path = journal_path(folder)
    with in_words(path):
        _refuse_sound(path)
        with whole_files.temporary_file(path.parent) as part:
            found = rebuild(path, part)
            there = _replace(path, part)
    journal = open_journal(folder)
    journal.warn(f"{found} The damaged file is in {there}.")
    return journal


def restore_backup(backup: Path, folder: Path | None = None) -> Journal:
    """Open a backup in place of the journal, sound or not; that one is set aside.

    Parameters
    ----------
    backup : Path
        One of `list_backups`, or of a second place.
    folder : Path, optional
        Instead of the maker's folder.

    Raises
    ------
    CannotJournal
        The backup is no sound journal. Nothing was changed.
    """
    path = journal_path(folder)
    with in_words(backup):
        if not is_regular(backup):
            raise CannotJournal([Problem(str(backup), "no file", "a backup of the journal")])
        look_at(backup)
    with in_words(path):
        make_folder(path.parent)
        with whole_files.temporary_file(path.parent) as part:
            shutil.copyfile(backup, part)
            put_on_disk(part)
            look_at(part)
            if forgotten := forgotten_in_copies(path.parent):
                _forget(part, forgotten)
            there = _replace(path, part)
    journal = open_journal(folder)
    kept = f" The journal that was open before is in {there}." if there else ""
    journal.warn(f"Restored from {backup}.{kept}")
    return journal


def _refuse_sound(path: Path) -> None:
    try:
        with in_words(path):
            look_at(path)
    except JournalNewer:
        raise
    except JournalDamaged:
        return
    if path.exists():
        with open_journal(path.parent) as journal:
            if journal.find_unreadable():
                return
        fix = "Open it as it is. Nothing was changed."
        raise CannotJournal([Problem(str(path), "a sound journal", "a damaged one", fix)])


def _forget(part: Path, ids: set[str]) -> None:
    """Empty people who were forgotten after a backup was made; opening it cleans the file."""
    with contextlib.closing(connected(part, "rw")) as store:
        migrations.take_steps(store)
        forget_people(store, ids)
    put_on_disk(part)


# --- one file in place of another -----------------------------------------------------------


def _replace(path: Path, part: Path) -> Path | None:
    """Give a finished file the journal's name; where the one before is now, if any."""
    if not os.path.lexists(path):
        _move_neighbours(path, None)
        put_in_place(part, path)
        return None
    _finish_transactions(path)
    there = _new_folder(path)
    if not is_regular(path):
        path.rename(there / path.name)
    else:
        try:
            os.link(path, there / path.name)
        except OSError:  # some memory sticks know no hard links
            shutil.copyfile(path, there / path.name)
    _move_neighbours(path, there)
    put_in_place(part, path)
    return there


def _finish_transactions(path: Path) -> None:
    """Bring in what lies beside a sound journal, once no other notebook is writing."""
    with contextlib.suppress(*BROKEN, CannotJournal, OSError):
        look_at(path)
        with contextlib.closing(connected(path, "rw")) as connection:
            connection.execute("PRAGMA journal_mode=DELETE")
            connection.execute("BEGIN EXCLUSIVE")
            connection.execute("ROLLBACK")


def _move_neighbours(path: Path, there: Path | None) -> None:
    """What belongs to the old file must never be applied to the new one."""
    for ending in NEIGHBOURS:
        file = path.with_name(path.name + ending)
        if os.path.lexists(file):
            there = there or _new_folder(path)
            with contextlib.suppress(FileNotFoundError):  # its notebook was just done with it
                file.rename(there / file.name)


def _new_folder(path: Path) -> Path:
    day = datetime.now().astimezone().date()
    make_folder(path.parent / SET_ASIDE)
    for number in itertools.count(1):
        there = path.parent / SET_ASIDE / f"{day.isoformat()} {number}"
        with contextlib.suppress(FileExistsError):
            there.mkdir(mode=whole_files.PRIVATE_FOLDER)
            return there
    raise AssertionError("numbers do not end")
