"""The yearly self-test: whether the oldest backup still opens, and what is in it, in words."""

import shutil
import tempfile
import time
from pathlib import Path

from blendkit.foundation.errors import BlendkitError
from blendkit.foundation.units import counted
from blendkit.foundation.whole_files import write_text
from blendkit.journal.backups import FILE, FOLDER, day_of_backup, list_backups
from blendkit.journal.records import BatchRow, EventRow, Version
from blendkit.journal.second_place import backups_there
from blendkit.journal.store import Journal, open_journal

NOTE = "oldest backup opened.txt"
YEAR_S = 365 * 86_400.0


def yearly_test(folder: Path) -> str:
    """What opening the oldest backup found, where a year has passed; else an empty text."""
    note = folder / FOLDER / NOTE
    try:
        is_due = not 0 <= time.time() - note.stat().st_mtime < YEAR_S
    except OSError:
        is_due = bool(list_backups(folder))
    return open_oldest_backup(folder) if is_due else ""


def open_oldest_backup(folder: Path) -> str:
    """Open the oldest backup of each place on a copy, read all of it, and say what was found.

    Parameters
    ----------
    folder : Path
        The maker's folder.
    """
    places = {"": list_backups(folder), "second place: ": backups_there(folder)}
    text = " ".join(
        f"Oldest backup, {place}{_opened(found[-1])}"
        for place, found in places.items()
        if found
    )
    if text:
        write_text(folder / FOLDER / NOTE, f"{text}\n")
    return text or "There is no backup to open yet."


def count_kept(journal: Journal) -> list[str]:
    """Write how many versions, batches and bench events a journal has."""
    return [
        counted(journal.count(Version), "version"),
        f"{journal.count(BatchRow)} made at the bench",
        counted(journal.count(EventRow), "bench event"),
    ]


def _opened(backup: Path) -> str:
    day = day_of_backup(backup)
    with tempfile.TemporaryDirectory() as home:
        try:
            shutil.copyfile(backup, Path(home) / FILE)
            with open_journal(Path(home)) as journal:
                unreadable = journal.find_unreadable()
                held = ", ".join(count_kept(journal))
        except (OSError, BlendkitError) as error:
            return f"of {day}: cannot be opened. {error}"
    odd = f"; {counted(len(unreadable), 'row')} cannot be read" if unreadable else ""
    return f"of {day}: opens, with {held}{odd}."
