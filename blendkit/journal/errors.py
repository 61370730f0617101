"""What can happen to a file, in words, with a way on.

SQLite tells what failed by a code (https://www.sqlite.org/rescode.html); each is turned into a
sentence that says what was kept, what was not, and what to do next.
"""

import contextlib
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from blendkit.foundation.errors import Problem, Refused
from blendkit.journal.backups import has_backups
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
    """The file is no sound journal; `store.recover_journal` is a way on."""

    heading = "The journal is damaged"


class JournalMoved(CannotJournal):
    """Another file has the journal's name since it was opened."""

    heading = "The journal was moved or replaced"


class JournalNewer(CannotJournal):
    """The file was written by a newer blendkit."""

    heading = "The journal is newer than this blendkit"


def damaged(path: Path, got: str) -> JournalDamaged:
    """The refusal of a file that is no sound journal, with what to do about it."""
    backups = " and the backups" if has_backups(path.parent) else ""
    fix = (
        "The file was left as it is. Recover the journal in notebook 06: every row that can be "
        f"read of it{backups} goes into a new one, and the damaged file is kept."
    )
    return JournalDamaged([Problem(str(path), got, "a sound journal", fix)])


def moved(path: Path) -> JournalMoved:
    """The refusal to write into a file that is no longer the journal."""
    got, needed = "another file of this name, or none", "the file that was opened"
    fix = "Try again: the file that is there now is opened."
    return JournalMoved([Problem(str(path), got, needed, fix)])


def newer(path: Path, version: int, newest: int) -> JournalNewer:
    """The refusal of a file with migrations that are not known here."""
    got, needed = f"a journal of version {version}", f"version {newest} or older"
    fix = f"Update blendkit. {_NOTHING_LOST}"
    return JournalNewer([Problem(str(path), got, needed, fix)])


@contextlib.contextmanager
def in_words(path: Path) -> Iterator[None]:
    """Turn what SQLite or the file system raises into a refusal with a way on.

    Raises
    ------
    CannotJournal
        `JournalDamaged` where recovering is the way on.
    BadRecord
        A row that the journal's own rules refuse.
    """
    try:
        yield
    except UnicodeDecodeError as error:  # Python's sqlite3 fails so on what SQLite quotes
        raise damaged(path, "bytes that are no text") from error
    except sqlite3.Error as error:
        raise _refusal(path, error) from error
    except OSError as error:
        raise _cannot_write(path, error.strerror or str(error)) from error


def is_unwritable(error: sqlite3.Error) -> bool:
    """True where a file could not be opened, or not be written."""
    return _code(error).startswith(_CANNOT_WRITE)


def _code(error: sqlite3.Error) -> str:
    return str(getattr(error, "sqlite_errorname", ""))


def _refusal(path: Path, error: sqlite3.Error) -> Refused:
    code, said = _code(error), str(error)
    if code == "SQLITE_READONLY_DBMOVED":
        return moved(path)
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
