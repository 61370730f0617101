"""What can happen to a file, in words, with a way on.

SQLite tells what failed by a code (https://www.sqlite.org/rescode.html); each is turned into a
sentence that says what was kept, what was not, and what to do next.
"""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from blendkit.foundation.errors import Problem, Refused
from blendkit.journal.backups import copies
from blendkit.journal.rows import BadRecord

_NOTHING_LOST = "Nothing was changed; what was kept before is there."
_FULL = ("SQLITE_FULL",)
_BUSY = ("SQLITE_BUSY", "SQLITE_LOCKED")
_DAMAGED = ("SQLITE_CORRUPT", "SQLITE_NOTADB")
_CANNOT_WRITE = ("SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_PERM", "SQLITE_AUTH")


class CannotJournal(Refused):
    """The journal cannot be read or written just now. Nothing in it was changed."""

    heading = "The journal cannot be used"


class JournalDamaged(CannotJournal):
    """The file is no sound journal; `store.reopen_from_backup` is a way on."""

    heading = "The journal is damaged"


class JournalNewer(CannotJournal):
    """The file was written by a newer blendkit."""

    heading = "The journal is newer than this blendkit"


def damaged(path: Path, got: str) -> JournalDamaged:
    """The refusal of a file that is no sound journal."""
    return JournalDamaged([Problem(str(path), got, "a sound journal", way_on(path))])


def newer(path: Path, version: int, newest: int) -> JournalNewer:
    """The refusal of a file with migrations that are not known here."""
    got, needed = f"a journal of version {version}", f"version {newest} or older"
    fix = f"Update blendkit. {_NOTHING_LOST}"
    return JournalNewer([Problem(str(path), got, needed, fix)])


def way_on(path: Path) -> str:
    """What to do about a file that is no sound journal."""
    kept = copies(path.parent)
    if kept:
        offer = f"The last backup is {kept[0]}; reopen from it"
        return (
            f"The file was left as it is. {offer}: the damaged file is set aside, not deleted."
        )
    fresh = "rename the file, and a new journal begins in its place"
    return f"The file was left as it is. There is no backup; {fresh}."


@contextlib.contextmanager
def in_words(path: Path) -> Iterator[None]:
    """Turn what SQLite or the file system raises into a refusal with a way on.

    Raises
    ------
    CannotJournal
        `JournalDamaged` where a copy is the way on.
    BadRecord
        A row that the journal's own rules refuse.
    """
    try:
        yield
    except sqlite3.Error as error:
        raise _refusal(path, error) from error
    except OSError as error:
        raise _cannot_write(path, error.strerror or str(error)) from error


def is_unwritable(error: sqlite3.Error) -> bool:
    """Whether a file could not be opened, or not be written."""
    return _code(error).startswith(_CANNOT_WRITE)


def _code(error: sqlite3.Error) -> str:
    return str(getattr(error, "sqlite_errorname", ""))


def _refusal(path: Path, error: sqlite3.Error) -> Refused:
    code, said = _code(error), str(error)
    if code.startswith(_DAMAGED):
        return damaged(path, said)
    if code.startswith(_FULL):
        fix = f"Free some space and try again. {_NOTHING_LOST}"
        return CannotJournal([Problem(str(path), "a full disk", "room to write", fix)])
    if code.startswith(_BUSY):
        got = "another notebook that has been writing for a while"
        fix = f"Try again in a moment. {_NOTHING_LOST}"
        return CannotJournal([Problem(str(path), got, "a turn to write", fix)])
    if code.startswith(_CANNOT_WRITE):
        return _cannot_write(path, said)
    if code.startswith("SQLITE_CONSTRAINT"):
        return BadRecord([_broken_rule(path, code, said)])
    fix = f"Try again, and look after the disk or memory stick. {_NOTHING_LOST}"
    return CannotJournal([Problem(str(path), said, "a file that can be read and written", fix)])


def _broken_rule(path: Path, code: str, said: str) -> Problem:
    if code == "SQLITE_CONSTRAINT_FOREIGNKEY":
        got, needed = "a row about something that is not there", "something in this journal"
        return Problem(str(path), got, needed, _NOTHING_LOST)
    return Problem(str(path), said, "rows that keep the journal's rules", _NOTHING_LOST)


def _cannot_write(path: Path, said: str) -> CannotJournal:
    fix = f"Allow writing, or set BLENDKIT_HOME to another folder. {_NOTHING_LOST}"
    needed = "a file and a folder that can be written"
    return CannotJournal([Problem(str(path), said, needed, fix)])
