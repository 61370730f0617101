"""The daily copies of the journal: one a day, the last fourteen kept.

Each is made by SQLite's backup interface, which copies a journal that others are writing to as
it stood at one moment (https://www.sqlite.org/backup.html), into a file of another name that is
given its own only when it is whole.
"""

from __future__ import annotations

import contextlib
import re
import sqlite3
from datetime import date
from pathlib import Path

from blendkit.foundation import keep
from blendkit.foundation.whole_files import give_name, put_on_disk, temporary_file

FILE = "journal.sqlite3"
FOLDER = "journal copies"
MOST_COPIES = 14
_COPY = re.compile(r"journal \d{4}-\d\d-\d\d\.sqlite3")


def journal_path(folder: Path | None = None) -> Path:
    """Where the journal is: in the maker's folder, or in another one."""
    return (folder or keep.home()) / FILE


def copies(folder: Path | None = None) -> list[Path]:
    """The daily copies, newest first."""
    files = (journal_path(folder).parent / FOLDER).glob("journal *.sqlite3")
    return sorted((file for file in files if _COPY.fullmatch(file.name)), reverse=True)


def copy_if_due(connection: sqlite3.Connection, folder: Path, today: date) -> Path | None:
    """Make today's copy, unless it is there, and let go of the oldest beyond fourteen.

    Parameters
    ----------
    connection : sqlite3.Connection
        To the journal.
    folder : Path
        The maker's folder.
    today : date

    Returns
    -------
    Path or None
        The copy made; None where it was there already.

    Raises
    ------
    OSError, sqlite3.Error
        It cannot be made. Older copies are left as they are.
    """
    target = folder / FOLDER / f"journal {today.isoformat()}.sqlite3"
    if target.exists():
        return None
    target.parent.mkdir(parents=True, exist_ok=True)
    with temporary_file(target.parent) as part:
        _copy(connection, part)
        put_on_disk(part)
        give_name(part, target)
    for old in copies(folder)[MOST_COPIES:]:
        old.unlink(missing_ok=True)
    return target


def _copy(connection: sqlite3.Connection, part: Path) -> None:
    with contextlib.closing(sqlite3.connect(part, isolation_level=None)) as copy:
        connection.backup(copy)
        # one plain file that needs no neighbours to be read
        copy.execute("PRAGMA journal_mode=DELETE")
