"""Forgetting somebody in the store and in every copy of it that this computer can reach.

The row is emptied first, in one transaction that also marks the file as not yet clean. Then
each copy is written again without the person and takes its own place in one step, and the store
is rebuilt (https://www.sqlite.org/lang_vacuum.html), so that no page of a file holds what a
deleted row left there; the rollback journal, which holds pages as they were, is removed. Only
then is the mark taken away: whoever is killed before goes on at the next opening.

Files are clean then. What a disk keeps in blocks that no file uses is beyond this program.
"""

import contextlib
import os
import sqlite3
import zipfile
import zlib
from collections.abc import Iterator
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import NamedTuple

from blendkit.foundation.whole_files import is_regular, put_in_place, temporary_file
from blendkit.journal import backups
from blendkit.journal.people_table import forget_people, forgotten_ids, unclean_ids
from blendkit.journal.second_place import backups_there, second_place

EXPORTS = "exports"
_BROKEN = (sqlite3.Error, OSError, UnicodeDecodeError)
_NO_EXPORT = (zipfile.BadZipFile, zlib.error, EOFError, KeyError, NotImplementedError)
_MOST_READ = 50_000_000  # bytes of a table of people in an export


class Cleaned(NamedTuple):
    """What became of the copies of a store.

    Attributes
    ----------
    cleaned : tuple of Path
        Copies that were written again.
    not_reached : tuple of str
        Each with the reason.
    """

    cleaned: tuple[Path, ...] = ()
    not_reached: tuple[str, ...] = ()


def clean(store: sqlite3.Connection, folder: Path) -> Cleaned:
    """Take whoever was forgotten out of the copies in reach, and out of the store's own file.

    Parameters
    ----------
    store : sqlite3.Connection
        In autocommit mode, with no transaction open.
    folder : Path
        The maker's folder.
    """
    ids = forgotten_ids(store)
    cleaned, not_reached = list[Path](), list[str]()
    for file in _copies(folder) if ids else ():
        try:
            if _clean_copy(file, ids):
                cleaned.append(file)
        except _BROKEN as error:
            not_reached.append(f"{file}: {error}")
    place = second_place(folder)
    if ids and place and not place.is_dir():
        not_reached.append(f"{place}: it is not there; its copies are cleaned with the next "
                           "backup that is made when it is")  # fmt: skip
    try:
        if ids & unclean_ids(store):
            _rebuild(store)
    except sqlite3.OperationalError as error:
        not_reached.append(
            f"{folder / backups.FILE}: {error}; it is cleaned when it next opens"
        )
    return Cleaned(tuple(cleaned), tuple(not_reached))


def forgotten_in_copies(folder: Path) -> set[str]:
    """People forgotten by the store or any copy of it that can be read."""
    found = set[str]()
    for file in filter(is_regular, (folder / backups.FILE, *_copies(folder))):
        with (
            contextlib.suppress(*_BROKEN),
            contextlib.closing(backups.read_only(file)) as store,
        ):
            found |= forgotten_ids(store)
    return found


def exports_with(folder: Path, person_id: str) -> list[Path]:
    """Exports in the maker's folder that hold a person; others are known to the maker alone."""
    found = []
    for file in filter(is_regular, sorted((folder / EXPORTS).glob("*.zip"))):
        with (
            contextlib.suppress(*_BROKEN, *_NO_EXPORT),
            zipfile.ZipFile(file) as files,
            files.open("people.csv") as table,
        ):
            if person_id.encode() in table.read(_MOST_READ):
                found.append(file)
    return found


def _copies(folder: Path) -> Iterator[Path]:
    yield from backups.list_backups(folder)
    aside = sorted((folder / backups.SET_ASIDE).glob(f"*/{backups.FILE}"))
    yield from filter(is_regular, aside)
    yield from backups_there(folder)


def _clean_copy(file: Path, ids: set[str]) -> bool:
    log, *others = (Path(f"{file}{ending}") for ending in ("-journal", "-wal", "-shm"))
    is_open = is_regular(log) and any(log.read_bytes()[:28])  # else it is of no use to anybody
    if is_open or any(map(os.path.lexists, others)):
        raise OSError("it was set aside with a log; delete the folder once it is of no use")
    log.unlink(missing_ok=True)
    with contextlib.closing(backups.read_only(file)) as copy:
        found = unclean_ids(copy) & ids
    if not found:
        return False
    with temporary_file(file.parent) as part:
        backups.write_copy(file, part, partial(forget_people, ids=found, changed_at=_now()))
        put_in_place(part, file)
    return True


def _rebuild(store: sqlite3.Connection) -> None:
    """Write every page of the store again, with no page of before in a log."""
    store.execute("PRAGMA temp_store=MEMORY")
    store.execute("PRAGMA journal_mode=DELETE")
    store.execute("VACUUM")
    store.execute("UPDATE people SET changed_at = ? WHERE changed_at = ''", (_now(),))
    store.execute("PRAGMA journal_mode=PERSIST")


def _now() -> str:
    return datetime.now(UTC).isoformat()
