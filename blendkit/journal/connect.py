"""Opening the journal: looked at before anything is written to it, then brought up to date.

What is relied on, from SQLite's own documentation:

- A transaction is there wholly or not at all after a crash or a power cut
  (https://www.sqlite.org/atomiccommit.html; https://www.sqlite.org/transactional.html).
- In WAL mode readers do not block a writer nor a writer readers; one writes at a time
  (https://www.sqlite.org/wal.html). With ``synchronous=FULL`` the log is flushed to the disk
  after each commit, so what was acknowledged survives a power cut
  (https://www.sqlite.org/pragma.html#pragma_synchronous).
- What still breaks a file, and is not done here: renaming, copying or unlinking it while it is
  open, or keeping it on a network share (https://www.sqlite.org/howtocorrupt.html).
- A file from a stranger is opened with `trusted_schema` off and `cell_size_check` on
  (https://www.sqlite.org/security.html).
"""

from __future__ import annotations

import contextlib
import itertools
import shutil
import sqlite3
import time
from datetime import datetime
from pathlib import Path

from blendkit.foundation.errors import Problem
from blendkit.foundation.whole_files import give_name, put_on_disk, temporary_file
from blendkit.journal import migrations
from blendkit.journal.backups import copies
from blendkit.journal.errors import (
    CannotJournal,
    JournalDamaged,
    JournalNewer,
    damaged,
    in_words,
    is_unwritable,
    newer,
)

SET_ASIDE = "journal set aside"
# What may lie beside a database (https://www.sqlite.org/tempfiles.html); they belong together
_NEIGHBOURS = ("", "-wal", "-shm", "-journal")
PATIENCE_S = 10.0  # waiting for another notebook's transaction, which takes milliseconds
OLDEST_SQLITE = (3, 37, 0)  # knows STRICT tables
_FIRST_BYTES = b"SQLite format 3\0"  # https://www.sqlite.org/fileformat2.html, section 1.3


def look_at(path: Path) -> None:
    """Refuse a file that is no sound journal of a version known here, leaving it as it is.

    Raises
    ------
    JournalDamaged, JournalNewer
    sqlite3.Error, OSError
    """
    if not path.exists():
        return
    with path.open("rb") as file:
        first = file.read(len(_FIRST_BYTES))
    if not first and not copies(path.parent):
        return  # a first opening that was cut short
    if first != _FIRST_BYTES:
        raise damaged(path, "a file that is no SQLite database" if first else "an empty file")
    try:
        _look_inside(path, "ro")
    except sqlite3.Error as error:
        # A writer that was cut short leaves a log that only a writer can play back
        if not is_unwritable(error):
            raise
        _look_inside(path, "rw")


def _look_inside(path: Path, mode: str) -> None:
    with contextlib.closing(connected(path, mode)) as connection:
        version = migrations.version_of(connection)
        application = connection.execute("PRAGMA application_id").fetchone()[0]
        tables = connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
        if application != migrations.APPLICATION_ID and (tables or version or application):
            raise damaged(path, "a database of another program")
        if version > migrations.NEWEST:
            raise newer(path, version, migrations.NEWEST)
        found = [row[0] for row in connection.execute("PRAGMA integrity_check(3)")]
        if found != ["ok"]:
            raise damaged(path, "an integrity check that found: " + "; ".join(found))


def connected(path: Path, mode: str) -> sqlite3.Connection:
    """A connection in autocommit mode that any thread may use, one at a time.

    Parameters
    ----------
    path : Path
    mode : str
        "ro", "rw", or "rwc" to make the file where there is none.
    """
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?mode={mode}",
        uri=True,
        timeout=PATIENCE_S,
        isolation_level=None,
        check_same_thread=False,  # Jupyter may answer widgets from a thread of their own
    )
    try:
        connection.row_factory = sqlite3.Row
        for pragma in (
            "foreign_keys=ON",
            "synchronous=FULL",
            "fullfsync=ON",  # macOS: past the disk's own cache
            "checkpoint_fullfsync=ON",
            "trusted_schema=OFF",
            "cell_size_check=ON",
        ):
            connection.execute(f"PRAGMA {pragma}")
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def opened(path: Path) -> sqlite3.Connection:
    """A connection to a journal that was looked at, in WAL mode, not yet brought up to date.

    Raises
    ------
    CannotJournal
        As `look_at`; or this Python's SQLite is older than the journal needs.
    sqlite3.Error, OSError
    """
    if sqlite3.sqlite_version_info < OLDEST_SQLITE:
        needed = "SQLite {}.{}.{} or newer".format(*OLDEST_SQLITE)
        fix = "Install a newer Python."
        raise CannotJournal([Problem("Python", sqlite3.sqlite_version, needed, fix)])
    path.parent.mkdir(parents=True, exist_ok=True)
    look_at(path)
    connection = connected(path, "rwc")
    try:
        _write_ahead(connection)
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def _write_ahead(connection: sqlite3.Connection) -> None:
    """Set WAL mode, which stays with the file.

    The switch needs the file for itself and does not wait by itself for another notebook that
    is opening the same new file.
    """
    until = time.monotonic() + PATIENCE_S
    while True:
        try:
            connection.execute("PRAGMA journal_mode=WAL")
        except sqlite3.OperationalError as error:
            busy = error.sqlite_errorname.startswith("SQLITE_BUSY")
            if not busy or time.monotonic() > until:
                raise
            time.sleep(0.02)
        else:
            return


# --- a backup in place of a damaged file --------------------------------------------------


def put_backup_in_place(path: Path) -> str:
    """Put the newest sound backup in place of a damaged journal, deleting nothing.

    Returns
    -------
    str
        From where to where, in a sentence.

    Raises
    ------
    CannotJournal
        The journal is sound, or there is no sound backup. Nothing was changed.
    sqlite3.Error, OSError
    """
    _refuse_sound(path)
    chosen = _newest_sound_copy(path)
    with temporary_file(path.parent) as part:
        shutil.copyfile(chosen, part)
        put_on_disk(part)
        there = _set_aside(path)
        give_name(part, path)
    return f"Opened from {chosen}. The file that could not be opened is in {there}."


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
    needed = "a sound backup to open instead"
    fix = "Rename the file, and a new journal begins in its place. Nothing was changed."
    raise CannotJournal([Problem(str(path.parent), "no sound backup", needed, fix)])


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
