"""Import of an export: each row is checked, then merged; nothing is overwritten.

A zip may come from anybody. Only names that an export has are read, and sizes are limited
before anything is unpacked. Its SQLite file goes to a private folder and is opened read-only
with `trusted_schema` off (https://www.sqlite.org/security.html). It is refused unless it holds
plain tables alone, so that no view, trigger or expression of somebody else is ever run. Rows
are checked by the rules of `journal.records` first, all of them, and then written by our own
statements in one transaction.
"""

from __future__ import annotations

import contextlib
import re
import shutil
import sqlite3
import tempfile
import zipfile
import zlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, NoReturn

from blendkit.foundation.errors import Problem, Refused, near_miss, quoted
from blendkit.foundation.whole_files import give_name, put_on_disk, temporary_file
from blendkit.journal import migrations
from blendkit.journal.errors import in_words
from blendkit.journal.exchange import READ_ME, STORE, WORDS, plain_table
from blendkit.journal.ledger import put_row
from blendkit.journal.photos import FOLDER, picture_kind
from blendkit.journal.records import KINDS, Photo, Record
from blendkit.journal.rows import LONGEST_TEXT, BadRecord, Stored, columns_of, read, written
from blendkit.journal.store import Journal

MOST_EXPANSION = 50  # as many bytes as that from each byte of the zip
LEAST_ROOM = 32_000_000  # bytes that any export may unpack to: small stores pack well
MOST_TURN = 2**53  # the journal counts on from the largest turn, and needs room for that
_ID = re.compile("[0-9a-f]{32}")
_PHOTO = re.compile(rf"{FOLDER}/([0-9a-f]{{32}})\.(?:png|jpg)")
_UNREADABLE = (
    zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, UnicodeError,
)  # fmt: skip
_NO_ROW = (BadRecord, ValueError, TypeError, AttributeError, OverflowError, RecursionError)
_PACKED = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)


class BadExchange(Refused):
    """An export that cannot be read back. Nothing was added."""

    heading = "This file cannot be read into the store"


def import_journal(journal: Journal, source: Path) -> dict[str, int]:
    """Add what an export has and the store has not.

    Parameters
    ----------
    journal : Journal
    source : Path
        A zip that `exchange.export_journal` wrote.

    Returns
    -------
    dict of str to int
        Rows added, by table.

    Raises
    ------
    BadExchange
        Lists what is wrong. Nothing was added.
    CannotJournal
        The store cannot be written. Nothing was added.
    """
    needed = "a zip file that an export of the store wrote"
    with tempfile.TemporaryDirectory() as folder, contextlib.ExitStack() as closing:
        try:
            files = closing.enter_context(zipfile.ZipFile(source))
            _refuse_strangers(source, files, Path(folder))
            plain = Path(folder) / STORE
            _unpack(files, STORE, plain)
        except (*_UNREADABLE, OSError) as error:
            raise BadExchange([Problem(str(source), str(error), needed)]) from error
        with in_words(journal.path):
            added = _merge(journal, plain)
            _put_photos(files, journal)
        return added


def _refuse(where: str, got: str, needed: str, fix: str = "") -> NoReturn:
    raise BadExchange([Problem(where, got, needed, fix)])


# --- the zip ------------------------------------------------------------------------------


def _refuse_strangers(source: Path, files: zipfile.ZipFile, folder: Path) -> None:
    infos, zip_name = files.infolist(), source.name
    names = [info.filename for info in infos]
    if any(info.compress_type not in _PACKED for info in infos):
        _refuse(zip_name, "a file packed in another way", "what an export writes")
    known = {READ_ME, STORE, *(f"{kind.TABLE}.csv" for kind in KINDS)}
    for name in names:
        if name not in known and not _PHOTO.fullmatch(name):
            needed = "only files that an export has"
            _refuse(zip_name, quoted(name), needed, near_miss(name, known))
    if len(set(names)) < len(names):
        _refuse(zip_name, "two files of one name", "each file once")
    if STORE not in names:
        _refuse(zip_name, f"no {STORE}", "an export of the store")
    size = sum(info.file_size for info in infos if not info.filename.endswith(".csv"))
    room = max(MOST_EXPANSION * source.stat().st_size, LEAST_ROOM)
    most = min(room, shutil.disk_usage(folder).free)
    if size > most:
        got = f"files that unpack to {size / 1e6:.0f} MB"
        _refuse(zip_name, got, f"at most {most / 1e6:.0f} MB")


def _unpack(files: zipfile.ZipFile, name: str, target: Path) -> None:
    """Unpack a file; never more of it than the zip's directory promised."""
    with files.open(name) as packed, target.open("wb") as plain:
        shutil.copyfileobj(packed, plain)


def _put_photos(files: zipfile.ZipFile, journal: Journal) -> None:
    """Put photos' files into the maker's folder, each once; pictures of known rows only."""
    folder, known = journal.path.parent / FOLDER, {photo.id for photo in journal.all(Photo)}
    for info in files.infolist():
        found = _PHOTO.fullmatch(info.filename)
        target = folder / Path(info.filename).name
        if not found or found[1] not in known or target.exists():
            continue
        folder.mkdir(parents=True, exist_ok=True)
        with temporary_file(folder) as part, contextlib.suppress(*_UNREADABLE):
            _unpack(files, info.filename, part)
            with part.open("rb") as content:
                kind = picture_kind(content.read(16))
            if kind and info.filename.endswith(kind[1]):
                put_on_disk(part)
                give_name(part, target)


# --- the rows -----------------------------------------------------------------------------


def _checked_rows(plain: Path) -> dict[type[Record], list[dict[str, Stored]]]:
    """Every row of an export.

    Raises
    ------
    BadExchange
    """
    problems: list[Problem] = []
    checked: dict[type[Record], list[dict[str, Stored]]] = {}
    try:
        with contextlib.closing(_opened(plain)) as source:
            for kind in _plain_tables(source):
                rows = checked[kind] = []
                # those first that others correct
                for row in source.execute(f"SELECT * FROM {kind.TABLE} ORDER BY turn, id"):
                    try:
                        rows.append(_checked(kind, dict(row)))
                    except _NO_ROW as error:
                        where = _where(kind, row["id"])
                        problems.append(Problem(where, str(error), "what an export writes"))
    except sqlite3.Error as error:
        raise BadExchange([Problem(STORE, str(error), "what an export writes")]) from error
    if problems:
        raise BadExchange(problems)
    return checked


def _opened(plain: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(f"{plain.absolute().as_uri()}?mode=ro&immutable=1", uri=True)
    connection.row_factory = sqlite3.Row
    connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, 4 * LONGEST_TEXT)  # UTF-8
    connection.execute("PRAGMA trusted_schema=OFF")
    connection.execute("PRAGMA cell_size_check=ON")
    return connection


def _plain_tables(source: sqlite3.Connection) -> list[type[Record]]:
    """The kinds that an export has a table of, where it has nothing but such tables."""
    application, version = (
        source.execute(f"PRAGMA {name}").fetchone()[0]
        for name in ("application_id", "user_version")
    )
    if application != migrations.APPLICATION_ID:
        _refuse(STORE, "a database of another program", "an export of the store")
    if version > migrations.NEWEST:
        needed = f"version {migrations.NEWEST} or older"
        _refuse(STORE, f"version {version}", needed, "Update blendkit.")
    plain = {plain_table(kind.TABLE, columns_of(kind)): kind for kind in KINDS}
    schema = source.execute("SELECT type, name, sql FROM sqlite_schema").fetchall()
    for each, name, sql in schema:
        if each != "table" or sql not in plain or name != plain[sql].TABLE:
            _refuse(STORE, quoted(f"{each} {name}"), "only plain tables of an export")
    found = {sql for _, _, sql in schema}
    return [kind for sql, kind in plain.items() if sql in found]


def _checked(kind: type[Record], row: dict[str, Any]) -> dict[str, Stored]:
    """A row as it is, where a record of its kind can hold it."""
    ids = [row["id"], *([] if row["corrects"] is None else [row["corrects"]])]
    if not all(isinstance(each, str) and _ID.fullmatch(each) for each in ids):
        raise ValueError("no id of an export")
    turn = row["turn"]
    if not isinstance(turn, int) or not 0 < turn <= MOST_TURN or row["withdrawn"] not in (0, 1):
        raise ValueError("no turn of an export")
    own = written(read(kind, row))
    if odd := [name for name, cell in own.items() if _is_number(cell) and cell != row[name]]:
        raise ValueError(f"{odd[0]} of another type")
    return row


def _is_number(cell: Stored) -> bool:
    return isinstance(cell, int | float)


def _merge(journal: Journal, plain: Path) -> dict[str, int]:
    rows_of, added = _checked_rows(plain), {}
    with journal.transaction() as store:
        # a row may refer to one that comes later; all are there at the end
        store.execute("PRAGMA defer_foreign_keys=ON")
        problems: list[Problem] = []
        for kind, rows in rows_of.items():
            outcome = [_add(store, kind, row, problems) for row in rows]
            added[kind.TABLE] = outcome.count(True)
            if added[kind.TABLE] and not problems:
                problems += _loose_ends(store, kind)
        if problems:
            raise BadExchange(problems)
    return added


def _add(
    store: sqlite3.Connection,
    kind: type[Record],
    row: Mapping[str, Stored],
    problems: list[Problem],
) -> bool:
    """Add a row, unless it is there; one that differs from what is there is a problem."""
    select = f"SELECT * FROM {kind.TABLE} WHERE id = ?"
    there = store.execute(select, (row["id"],)).fetchone()
    if there is not None and not _same(kind, dict(there), row):
        needed = "what the store has under this id, which is never overwritten"
        problems.append(Problem(_where(kind, row["id"]), "something else", needed))
    elif there is None:
        try:
            put_row(store, kind.TABLE, row)
        except sqlite3.IntegrityError as error:
            needed = "a row that keeps the store's rules"
            problems.append(Problem(_where(kind, row["id"]), str(error), needed))
    return there is None


def _same(kind: type[Record], there: Mapping[str, Stored], new: Mapping[str, Stored]) -> bool:
    """Whether two rows say the same; a Share leaves its words empty."""
    words = WORDS.get(kind.TABLE)
    return all(
        there[name] == new[name] or (name == words and "" in (there[name], new[name]))
        for name in there
    )


def _loose_ends(store: sqlite3.Connection, kind: type[Record]) -> list[Problem]:
    """References to rows that are not there; what others refer to was added before."""
    found = store.execute(f"PRAGMA foreign_key_check({kind.TABLE})").fetchall()
    return [
        Problem(kind.TABLE, "a reference to no row", f"only to rows of {row['parent']}")
        for row in found
    ]


def _where(kind: type[Record], row_id: object) -> str:
    return f"{kind.TABLE}, the row {row_id if isinstance(row_id, str) else quoted(row_id)}"
