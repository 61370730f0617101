"""Opening the journal: looked at before anything is written to it, then brought up to date.

What is relied on, from SQLite's own documentation:

- A transaction is there wholly or not at all after a crash or a power cut
  (https://www.sqlite.org/atomiccommit.html; https://www.sqlite.org/transactional.html).
- With a rollback journal, all that was committed is in the one file, which can be copied alone
  at any moment but that of a commit; a write-ahead log would keep it apart
  (https://www.sqlite.org/wal.html, section 4). Before a commit returns, file and rollback
  journal are flushed to the disk, so what was acknowledged survives a power cut
  (https://www.sqlite.org/pragma.html#pragma_synchronous). In PERSIST mode the rollback journal
  stays next to the file, its first bytes zeroed: overwriting it is quicker than making
  and removing one for each tap (https://www.sqlite.org/pragma.html#pragma_journal_mode).
- SQLite refuses to begin a rollback journal for a file that was moved or replaced while open
  (SQLITE_READONLY_DBMOVED, https://www.sqlite.org/rescode.html); `Ledger` looks again after.
- What still breaks a file, and is not done here: keeping it on a network share
  (https://www.sqlite.org/howtocorrupt.html).
- A file from a stranger is opened with `trusted_schema` off and `cell_size_check` on
  (https://www.sqlite.org/security.html).
"""

import contextlib
import os
import sqlite3
from pathlib import Path

from blendkit.foundation.errors import Problem
from blendkit.foundation.whole_files import PRIVATE_FILE, is_regular, make_folder
from blendkit.journal import migrations
from blendkit.journal.backups import has_backups
from blendkit.journal.errors import CannotJournal, damaged, is_unwritable, newer
from blendkit.journal.photos import on_another_computer

PATIENCE_S = 10.0  # waiting for another notebook's transaction, which takes milliseconds
OLDEST_SQLITE = (3, 37, 0)  # knows STRICT tables
LONGEST_ROLLBACK = 1_000_000  # bytes that stay next to the file after a long transaction
_FIRST_BYTES = b"SQLite format 3\0"  # https://www.sqlite.org/fileformat2.html, section 1.3


def look_at(path: Path) -> None:
    """Refuse a file that is no sound journal of a version known here, leaving it as it is.

    Raises
    ------
    JournalDamaged, JournalNewer
    sqlite3.Error, OSError
    """
    if not os.path.lexists(path):
        return
    if not is_regular(path):
        raise damaged(path, "something that is no plain file")
    with path.open("rb") as file:
        first = file.read(len(_FIRST_BYTES))
    if not first and not has_backups(path.parent):
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
        "ro" or "rw".
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
        connection.text_factory = text_or_bytes
        for pragma in (
            "foreign_keys=ON",
            "synchronous=EXTRA",
            "fullfsync=ON",  # macOS: past the disk's own cache
            "trusted_schema=OFF",
            "cell_size_check=ON",
            f"journal_size_limit={LONGEST_ROLLBACK}",
        ):
            connection.execute(f"PRAGMA {pragma}")
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def opened(path: Path) -> sqlite3.Connection:
    """A connection to a journal that was looked at, in one file, not yet brought up to date.

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
    if on_another_computer(str(path)):
        needed = "a folder on this computer"
        fix = "Set BLENDKIT_HOME to one: SQLite's locks fail on shares, and a file breaks."
        raise CannotJournal([Problem(str(path), "a folder on another computer", needed, fix)])
    make_folder(path.parent)
    look_at(path)
    make_private(path)
    connection = connected(path, "rw")
    try:
        # Brings in what an earlier program left in a log of its own. Where another notebook of
        # such a program has the file open, this changes nothing until the next opening.
        with contextlib.suppress(sqlite3.OperationalError):
            connection.execute("PRAGMA journal_mode=PERSIST")
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def make_private(path: Path) -> None:
    """Make the file where there is none, and let its owner alone read it.

    By its name: closing a file drops the locks that this process has on it elsewhere
    (https://www.sqlite.org/howtocorrupt.html, section 2.2).
    """
    with contextlib.suppress(FileExistsError):
        os.close(os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL, PRIVATE_FILE))
    with contextlib.suppress(OSError):  # somebody else's, or a stick without such modes
        if path.stat().st_mode & 0o077:
            path.chmod(PRIVATE_FILE)


def text_or_bytes(raw: bytes) -> str | bytes:
    """A text of the file; as bytes where damage left no text, which no record can hold."""
    try:
        return raw.decode()
    except UnicodeDecodeError:
        return raw
