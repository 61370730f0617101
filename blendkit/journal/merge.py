"""Import of an export: each row is checked, then merged; nothing is overwritten.

A zip may come from anybody. Only names that an export has are read, and sizes are limited
before anything is unpacked. Its SQLite file goes to a private folder and is opened read-only
with `trusted_schema` off (https://www.sqlite.org/security.html). It is refused unless it holds
plain tables alone, so that no view, trigger or expression of somebody else is ever run. Rows
are checked by the rules of `journal.records` first, all of them, and then written by our own
statements in one transaction. A row that is no record, that refers to nothing, or that differs
from what the store has under its id is passed by and named; it keeps no other row away. The
blend in hand is taken over only by a store with nothing in hand.
"""

from __future__ import annotations

import contextlib
import re
import shutil
import sqlite3
import tempfile
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, NoReturn, Self

from blendkit.foundation.errors import MOST_SHOWN, Problem, Refused, near_miss, quoted
from blendkit.foundation.whole_files import (
    give_name,
    is_regular,
    make_folder,
    put_on_disk,
    temporary_file,
)
from blendkit.journal import migrations
from blendkit.journal.errors import in_words
from blendkit.journal.exchange import HAND, READ_ME, STORE, WORDS, plain_table
from blendkit.journal.hand_table import document_in, take_over
from blendkit.journal.insertion import put_row
from blendkit.journal.photos import FOLDER, picture_kind
from blendkit.journal.records import KINDS, Photo, Record
from blendkit.journal.rows import ID, LONGEST_TEXT, BadRecord, Stored, columns_of, read, written
from blendkit.journal.store import Journal

MOST_EXPANSION = 50  # as many bytes as that from each byte of the zip
LEAST_ROOM = 4_000_000  # bytes that any export may unpack to: small stores pack well
MOST_TURN = 2**53  # the journal counts on from the largest turn, and needs room for that
_PHOTO = re.compile(rf"{FOLDER}/([0-9a-f]{{32}})\.(?:png|jpg)")
_UNREADABLE = (
    zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, UnicodeError,
)  # fmt: skip
_NO_ROW = (BadRecord, ValueError, TypeError, AttributeError, OverflowError, RecursionError)
_WHEN = ("turn", "recorded_at", "made_at", "kept_at", "entered_at", "happened_at")
_PIECE = 1 << 20
_PACKED = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)


class BadExchange(Refused):
    """An export that cannot be read back. Nothing was added."""

    heading = "This file cannot be read into the store"


class Imported(dict[str, int]):
    """Rows added, by table.

    Attributes
    ----------
    passed_by : tuple of str
        The first rows that were not added, each with the reason, and how many more there are.
    """

    passed_by: tuple[str, ...] = ()


def import_journal(journal: Journal, source: Path) -> Imported:
    """Add what an export has and the store has not; see `Import`."""
    with Import(journal, source) as one:
        for _share_done in one.steps():
            pass
        return one.finish()


class Import:
    """An import in steps: unpacking and checking, which can be left off, then one transaction.

    Memory does not grow with the size of the export: rows that pass the check go from one
    private file to another, one by one.

    Parameters
    ----------
    journal : Journal
    source : Path
        A zip that `exchange.export_journal` wrote.

    Raises
    ------
    BadExchange
        The file is no export. Nothing was added.
    """

    def __init__(self, journal: Journal, source: Path) -> None:
        self.journal, self.source = journal, source
        self._closing = contextlib.ExitStack()
        self._problems: list[Problem] = []
        self._passed_by = 0

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self._closing.close()

    def steps(self) -> Iterator[float]:
        """Unpack and check; yields how much is done, from 0 to 1.

        Raises
        ------
        BadExchange
            Nothing was added.
        """
        needed = "a zip file that an export of the store wrote"
        self._folder = Path(self._closing.enter_context(tempfile.TemporaryDirectory()))
        plain = self._folder / STORE
        try:
            if not is_regular(self.source):
                raise OSError("no plain file")
            self._files = self._closing.enter_context(zipfile.ZipFile(self.source))
            _refuse_strangers(self.source, self._files, self._folder)
            yield from (done / 2 for done in _unpack(self._files, STORE, plain))
        except (*_UNREADABLE, OSError) as error:
            raise BadExchange([Problem(str(self.source), str(error), needed)]) from error
        try:
            with contextlib.closing(_opened(plain)) as source:
                yield from (0.5 + done / 2 for done in self._check(source))
        except (sqlite3.Error, UnicodeDecodeError) as error:
            problem = Problem(STORE, str(error), "what an export writes")
            raise BadExchange([problem]) from error

    def finish(self) -> Imported:
        """Add what passed the check, in one transaction.

        Raises
        ------
        CannotJournal
            The store cannot be written. Nothing was added.
        """
        added = Imported()
        with in_words(self.journal.path):
            with self.journal.transaction() as store:
                take_over(store, self._in_hand)
                for kind in self._kinds:
                    rows = self._staged.execute(f"SELECT * FROM {kind.TABLE}")
                    added[kind.TABLE] = sum(self._add(store, kind, dict(row)) for row in rows)
            _put_photos(self._files, self.journal)
        if self._problems:
            added.passed_by = BadExchange(
                self._problems, more=self._passed_by - len(self._problems)
            ).sentences
        return added

    def _pass_by(
        self, kind: type[Record], row: Mapping[str, Any], got: str, needed: str
    ) -> None:
        self._passed_by += 1
        if len(self._problems) < MOST_SHOWN:
            self._problems.append(Problem(_where(kind, row["id"]), got, needed))

    def _check(self, source: sqlite3.Connection) -> Iterator[float]:
        """Stage every row that a record of its kind can hold, in the order of writing."""
        self._kinds, version = _plain_tables(source)
        self._in_hand = document_in(source)
        self._staged = self._closing.enter_context(
            contextlib.closing(sqlite3.connect(self._folder / "checked.sqlite3"))
        )
        self._staged.row_factory = sqlite3.Row
        for number, kind in enumerate(self._kinds):
            names = columns_of(kind)
            self._staged.execute(plain_table(kind.TABLE, names))
            places = ", ".join("?" * len(names))
            count = source.execute(f"SELECT count(*) FROM {kind.TABLE}").fetchone()[0]
            rows = source.execute(f"SELECT * FROM {kind.TABLE} ORDER BY turn, id")
            for done, found in enumerate(rows):
                row = added_in(kind.TABLE, version) | dict(found)
                try:
                    checked = _checked(kind, row)
                    values = [checked[name] for name in names]
                    self._staged.execute(f"INSERT INTO {kind.TABLE} VALUES ({places})", values)
                except _NO_ROW as error:
                    self._pass_by(kind, row, str(error), "what an export writes")
                if done % 200 == 0:
                    yield (number + done / count) / len(self._kinds)
        self._staged.commit()

    def _add(
        self, store: sqlite3.Connection, kind: type[Record], row: dict[str, Stored]
    ) -> bool:
        """Add a row, unless it is there; one that differs from what is there is passed by."""
        select = f"SELECT * FROM {kind.TABLE} WHERE id = ?"
        there = store.execute(select, (row["id"],)).fetchone()
        if there is not None:
            if not _same(kind, dict(there), row):
                needed = "what the store has under this id, which is never overwritten"
                self._pass_by(kind, row, "something else", needed)
            return False
        try:
            put_row(store, kind.TABLE, row)
        except sqlite3.IntegrityError as error:
            got = "a reference to no row" if "FOREIGN" in str(error) else str(error)
            self._pass_by(kind, row, got, "a row that keeps the store's rules")
            return False
        return True


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


def _unpack(files: zipfile.ZipFile, name: str, target: Path) -> Iterator[float]:
    """Unpack a file, never more of it than the zip's directory promised; how much is done."""
    size = files.getinfo(name).file_size
    with files.open(name) as packed, target.open("wb") as plain:
        while piece := packed.read(_PIECE):
            plain.write(piece)
            yield plain.tell() / size


def _put_photos(files: zipfile.ZipFile, journal: Journal) -> None:
    """Put photos' files into the maker's folder, each once; pictures of known rows only."""
    folder, known = journal.path.parent / FOLDER, {photo.id for photo in journal.all(Photo)}
    for info in files.infolist():
        found = _PHOTO.fullmatch(info.filename)
        target = folder / Path(info.filename).name
        if not found or found[1] not in known or target.exists():
            continue
        make_folder(folder)
        with temporary_file(folder) as part, contextlib.suppress(*_UNREADABLE):
            for _share_done in _unpack(files, info.filename, part):
                pass
            with part.open("rb") as content:
                kind = picture_kind(content.read(16))
            if kind and info.filename.endswith(kind[1]):
                put_on_disk(part)
                give_name(part, target)


# --- the rows -----------------------------------------------------------------------------


def _opened(plain: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(f"{plain.absolute().as_uri()}?mode=ro&immutable=1", uri=True)
    connection.row_factory = sqlite3.Row
    connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, 4 * LONGEST_TEXT)  # UTF-8
    connection.execute("PRAGMA trusted_schema=OFF")
    connection.execute("PRAGMA cell_size_check=ON")
    return connection


def _plain_tables(source: sqlite3.Connection) -> tuple[list[type[Record]], int]:
    """The kinds that an export has a table of, where it has nothing but such; its version."""
    application, version = (
        source.execute(f"PRAGMA {name}").fetchone()[0]
        for name in ("application_id", "user_version")
    )
    if application != migrations.APPLICATION_ID:
        _refuse(STORE, "a database of another program", "an export of the store")
    if version > migrations.NEWEST:
        needed = f"version {migrations.NEWEST} or older"
        _refuse(STORE, f"version {version}", needed, "Update blendkit.")
    plain = {
        plain_table(kind.TABLE, [name for name in columns_of(kind)
                                 if name not in added_in(kind.TABLE, version)]): kind
        for kind in KINDS
    }  # fmt: skip
    schema = source.execute("SELECT type, name, sql FROM sqlite_schema").fetchall()
    for each, name, sql in schema:
        if (each, name, sql) == ("table", "hand", HAND):
            continue
        if each != "table" or sql not in plain or name != plain[sql].TABLE:
            _refuse(STORE, quoted(f"{each} {name}"), "only plain tables of an export")
    found = {sql for _, _, sql in schema}
    return [kind for sql, kind in plain.items() if sql in found], version


def added_in(table: str, version: int) -> dict[str, Stored]:
    """What tables of an earlier version lack, as a migration fills it in."""
    return {"computer": ""} if version < 7 and table in ("versions", "batches") else {}


def _checked(kind: type[Record], row: dict[str, Any]) -> dict[str, Stored]:
    """A row as it is, where a record of its kind can hold it."""
    ids = [row["id"], *([] if row["corrects"] is None else [row["corrects"]])]
    if not all(isinstance(each, str) and ID.fullmatch(each) for each in ids):
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


def _same(kind: type[Record], there: Mapping[str, Stored], new: Mapping[str, Stored]) -> bool:
    """True where two rows say the same; a Share leaves its words empty.

    When and in which order it was written may differ: files of one older folder are read in
    under the same ids on two computers.
    """
    words = WORDS.get(kind.TABLE, ())
    return all(
        there[name] == new[name]
        or name in _WHEN
        or (name in words and "" in (there[name], new[name]))
        for name in there
    )


def _where(kind: type[Record], row_id: object) -> str:
    return f"{kind.TABLE}, the row {row_id if isinstance(row_id, str) else quoted(row_id)}"
