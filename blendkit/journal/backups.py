"""Backups of the journal: one a day, the last fourteen kept, and one before each migration.

Each is made by SQLite's backup interface, which copies a journal that others are writing to as
it was at one moment (https://www.sqlite.org/backup.html), into a file of another name that is
given its own only when it is whole.

Backups are numbered as they are made, and their order is that of the numbers: the day in a name
is for people, since a clock may be wrong. Those of an earlier program have no number; they come
first, in the order of how far the rows in them go.
"""

import contextlib
import re
import sqlite3
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

from blendkit.foundation import keep, whole_files
from blendkit.foundation.whole_files import give_name, is_regular, make_folder, put_on_disk

FILE = "journal.sqlite3"
FOLDER = "journal copies"
SET_ASIDE = "journal set aside"
MOST_BACKUPS = 14
_BACKUP = re.compile(
    r"journal (?:(\d{4,9}) )?(\d{4}-\d\d-\d\d)( of version \d+(?: \d+)?)?\.sqlite3", re.ASCII
)


def journal_path(folder: Path | None = None) -> Path:
    """Where the journal is: in the maker's folder, or in another one."""
    return (folder or keep.home()) / FILE


def list_backups(folder: Path | None = None) -> list[Path]:
    """The backups, newest first; see the module for what newest means."""
    return backups_in(journal_path(folder).parent / FOLDER)


def backups_in(there: Path) -> list[Path]:
    """The backups in a folder, newest first."""
    return sorted(_files(there), key=_rank, reverse=True)


def has_backups(folder: Path) -> bool:
    """True where there is any backup; quicker than putting them in order."""
    return bool(_files(folder / FOLDER))


def day_of_backup(backup: Path) -> str:
    """The day that a backup was made on, by the clock of then."""
    return stem_of_backup(backup)[:10]


def stem_of_backup(backup: Path) -> str:
    """A backup's name without its number: the day, and the version before a migration."""
    found = _BACKUP.fullmatch(backup.name)
    return f"{found[2]}{found[3] or ''}" if found else backup.stem


def _files(there: Path) -> list[Path]:
    with contextlib.suppress(OSError):
        return [file for file in there.iterdir()
                if _BACKUP.fullmatch(file.name) and is_regular(file)]  # fmt: skip
    return []


def _rank(backup: Path) -> tuple[int, int, str]:
    number = _number(backup)
    return number, 0 if number else turns_in(backup), backup.name


def _number(backup: Path) -> int:
    found = _BACKUP.fullmatch(backup.name)
    return int(found[1] or 0) if found else 0


def turns_in(file: Path) -> int:
    """How far the rows in a journal go: the largest turns of its tables; 0 if unreadable."""
    try:
        with contextlib.closing(read_only(file)) as store:
            select = "SELECT name FROM sqlite_schema WHERE type = 'table'"
            tables = [name for (name,) in store.execute(select)]
            newest = (f'SELECT coalesce(max(turn), 0) FROM "{name}"' for name in tables)
            return sum(store.execute(one).fetchone()[0] for one in newest)
    except (sqlite3.Error, UnicodeDecodeError, TypeError):
        return 0


def read_only(file: Path) -> sqlite3.Connection:
    """A connection to a file that is not written to by anybody meanwhile."""
    connection = sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro", uri=True)
    connection.execute("PRAGMA trusted_schema=OFF")
    return connection


def back_up_if_due(connection: sqlite3.Connection, folder: Path, today: date) -> Path | None:
    """Make today's backup, unless it is there, and remove the oldest beyond fourteen.

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
        The backup made; None where it was there already.

    Raises
    ------
    OSError, sqlite3.Error
        It cannot be made. Older backups are left as they are.
    """
    if today.isoformat() in {day_of_backup(each) for each in _files(folder / FOLDER)
                             if " of version " not in each.name}:  # fmt: skip
        return None
    return back_up(connection, folder, today)


def back_up(connection: sqlite3.Connection, folder: Path, today: date) -> Path:
    """Make a backup now, and remove the oldest daily ones beyond fourteen.

    Raises
    ------
    OSError, sqlite3.Error
    """
    target = _made(connection, folder, today.isoformat(), None)
    remove_oldest(folder / FOLDER)
    return target


def remove_oldest(there: Path) -> None:
    """Remove daily backups beyond fourteen; those before a migration stay."""
    daily = [each for each in backups_in(there) if " of version " not in each.name]
    for old in daily[MOST_BACKUPS:]:
        old.unlink(missing_ok=True)


def back_up_before_migration(
    connection: sqlite3.Connection, folder: Path, version: int
) -> Path:
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
        The backup; a sound one that holds the same is taken again.

    Raises
    ------
    OSError, sqlite3.Error
        It cannot be made, or differs from the journal. The journal is left as it is.
    """
    ending, state = f" of version {version}", _state(connection)
    for there in _files(folder / FOLDER):
        if ending in there.name and _is_as(there, state):
            return there
    return _made(connection, folder, f"{date.today().isoformat()}{ending}", state)


def _made(
    connection: sqlite3.Connection, folder: Path, stem: str, state: list[Any] | None
) -> Path:
    there = folder / FOLDER
    make_folder(there)
    with whole_files.temporary_file(there) as part:
        copy_store(connection, part)
        if state is not None and not _is_as(part, state):
            raise sqlite3.DatabaseError("a backup that differs from the journal")
        return give_next_name(part, there, stem)


def give_next_name(part: Path, there: Path, stem: str) -> Path:
    """Name a finished backup by the next number of its folder and a stem, a day first."""
    number = max(map(_number, _files(there)), default=0)
    while True:  # until no other notebook has taken the number
        number += 1
        target = there / f"journal {number:04d} {stem}.sqlite3"
        if give_name(part, target):
            return target


def write_copy(source: Path, part: Path, change: Callable[[sqlite3.Connection], None]) -> None:
    """Copy a store with its people changed into an empty file, onto the disk, and verify it.

    It is changed in memory, so that the new file never holds what was there before.

    Raises
    ------
    OSError, sqlite3.Error
        It cannot be made, or differs from its source in anything else.
    """
    with contextlib.closing(sqlite3.connect(":memory:", isolation_level=None)) as copy:
        copy.execute("PRAGMA trusted_schema=OFF")
        with contextlib.closing(read_only(source)) as store:
            store.backup(copy)
        state = _state(copy, but="people")
        change(copy)
        copy.execute("VACUUM INTO ?", (str(part),))
    with contextlib.closing(read_only(part)) as copy:
        if _state(copy, but="people") != state:
            raise sqlite3.DatabaseError("a copy that differs from its source")
    put_on_disk(part)


def _state(connection: sqlite3.Connection, but: str = "") -> list[Any]:
    """What a backup has to agree in: soundness, version, tables, and rows of each."""

    def ask(query: str) -> list[Any]:
        return [tuple(row) for row in connection.execute(query)]

    tables = ask("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name")
    counts = [ask(f'SELECT count(*), max(turn) FROM "{name}"') for (name,) in tables
              if name != but]  # fmt: skip
    return [ask("PRAGMA integrity_check(1)"), ask("PRAGMA user_version"), tables, counts]


def _is_as(file: Path, state: list[Any]) -> bool:
    try:
        with contextlib.closing(read_only(file)) as copy:
            return _state(copy) == state
    except sqlite3.Error:
        return False


def copy_store(connection: sqlite3.Connection, part: Path) -> None:
    """Copy a whole store into an empty file, onto the disk.

    Raises
    ------
    OSError, sqlite3.Error
    """
    with contextlib.closing(sqlite3.connect(part, isolation_level=None)) as copy:
        connection.backup(copy)
        # a store of an earlier program says that it needs neighbours to be read
        copy.execute("PRAGMA journal_mode=DELETE")
    put_on_disk(part)
