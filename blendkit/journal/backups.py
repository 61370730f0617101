"""Backups of the journal: one a day, the last fourteen kept, and one before each migration.

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
from typing import Any

from blendkit.foundation import keep
from blendkit.foundation.whole_files import give_name, numbered, put_on_disk, temporary_file

FILE = "journal.sqlite3"
FOLDER = "journal copies"
MOST_COPIES = 14
_DAILY = re.compile(r"journal \d{4}-\d\d-\d\d\.sqlite3")
_COPY = re.compile(r"journal \d{4}-\d\d-\d\d(?: of version \d+(?: \d+)?)?\.sqlite3")


def journal_path(folder: Path | None = None) -> Path:
    """Where the journal is: in the maker's folder, or in another one."""
    return (folder or keep.home()) / FILE


def copies(folder: Path | None = None) -> list[Path]:
    """The backups, newest first."""
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
    daily = [copy for copy in copies(folder) if _DAILY.fullmatch(copy.name)]
    for old in daily[MOST_COPIES:]:
        old.unlink(missing_ok=True)
    return target


def copy_before_migration(connection: sqlite3.Connection, folder: Path, version: int) -> Path:
    """Make a backup of a journal before its tables are brought up to date, and verify it.

    Parameters
    ----------
    connection : sqlite3.Connection
        To the journal.
    folder : Path
        The maker's folder.
    version : int
        Of the journal.

    Returns
    -------
    Path
        The backup; a sound one of today that holds the same is taken again.

    Raises
    ------
    OSError, sqlite3.Error
        It cannot be made, or differs from the journal. The journal is left as it is.
    """
    there, stem = folder / FOLDER, f"journal {date.today().isoformat()} of version {version}"
    there.mkdir(parents=True, exist_ok=True)
    state = _state(connection)
    for name in numbered(there, stem, ".sqlite3"):
        if name.exists():
            if _is_as(name, state):
                return name
            continue
        with temporary_file(there) as part:
            _copy(connection, part)
            put_on_disk(part)
            if not _is_as(part, state):
                raise sqlite3.DatabaseError("a backup that differs from the journal")
            if give_name(part, name):
                return name
    raise AssertionError("names to try do not end")


def _state(connection: sqlite3.Connection) -> list[Any]:
    """What a backup has to agree in: soundness, version, tables, and rows of each."""

    def ask(query: str) -> list[Any]:
        return [tuple(row) for row in connection.execute(query)]

    tables = ask("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name")
    counts = [ask(f'SELECT count(*), max(turn) FROM "{name}"') for (name,) in tables]
    return [ask("PRAGMA integrity_check(1)"), ask("PRAGMA user_version"), tables, counts]


def _is_as(file: Path, state: list[Any]) -> bool:
    try:
        uri = f"{file.absolute().as_uri()}?mode=ro"
        with contextlib.closing(sqlite3.connect(uri, uri=True)) as copy:
            return _state(copy) == state
    except sqlite3.Error:
        return False


def _copy(connection: sqlite3.Connection, part: Path) -> None:
    with contextlib.closing(sqlite3.connect(part, isolation_level=None)) as copy:
        connection.backup(copy)
        # one plain file that needs no neighbours to be read
        copy.execute("PRAGMA journal_mode=DELETE")
