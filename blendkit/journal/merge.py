"""Import of an export: each row is checked, then merged; nothing is overwritten.

Rows are checked by the rules of `journal.records` first, all of them, and then written by our
own statements. A row that is no record, that refers to nothing, or that differs from what the
store has under its id is passed by and named; it keeps no other row away. The blend in hand is
taken over only by a store with nothing in hand.

Writing goes in pieces, so that the page answers and nobody else has to wait. Each piece is one
transaction and holds whole things: a row with all its corrections, a batch with its bottles
and materials, a bench session with its events. What refers to another comes after it. An import
that was left off or killed has added whole things; the same file imported again adds the rest.
"""

import contextlib
import itertools
import json
import sqlite3
import tempfile
import zipfile
from collections import Counter
from collections.abc import Generator, Iterator, Mapping
from operator import itemgetter
from pathlib import Path
from typing import Any

from blendkit.foundation import whole_files
from blendkit.foundation.errors import MOST_SHOWN, Problem, quoted
from blendkit.journal import records, rows, unpacking
from blendkit.journal.errors import in_words
from blendkit.journal.exchange import STORE, WORDS
from blendkit.journal.hand_table import document_in, take_over
from blendkit.journal.insertion import put_row
from blendkit.journal.people_table import TABLE as PEOPLE
from blendkit.journal.people_table import take_people
from blendkit.journal.photos import FOLDER, picture_kind
from blendkit.journal.records import KINDS, Photo, Record
from blendkit.journal.rows import Stored
from blendkit.journal.store import Journal
from blendkit.journal.unpacking import UNREADABLE, BadExchange, unpack

MOST_TURN = 2**53  # the journal counts on from the largest turn, and needs room for that
PIECE_ROWS = 500  # at least, of one transaction
_WHEN = ("turn", "recorded_at", "made_at", "kept_at", "entered_at", "happened_at")
# What is one thing with the row that it names
_OWNER: Mapping[type[Record], tuple[type[Record], str]] = {
    records.BatchBottles: (records.BatchRow, "batch_id"),
    records.BatchMaterial: (records.BatchRow, "batch_id"),
    records.EventRow: (records.Session, "session_id"),
}


_ORDER = "part, first, owner, kind, turn"
_STAGE = (
    "PRAGMA synchronous=OFF",
    "PRAGMA journal_mode=OFF",
    f"CREATE TABLE line ({_ORDER}, id, cells)",
    f"CREATE INDEX in_order ON line ({_ORDER})",
    "CREATE INDEX by_id ON line (kind, id, turn)",
    PEOPLE,
)


class Imported(dict[str, int]):
    """Rows added, by table."""

    def __init__(self) -> None:
        self._problems: list[Problem] = []
        self._more = 0

    def pass_by(self, where: str, got: str, needed: str) -> None:
        """Name a row that was not added; of very many, the first."""
        if len(self._problems) < MOST_SHOWN:
            self._problems.append(Problem(where, got, needed))
        else:
            self._more += 1

    @property
    def passed_by(self) -> tuple[str, ...]:
        """The first rows that were not added, each with the reason, and how many more."""
        return BadExchange(self._problems, self._more).sentences


def import_journal(journal: Journal, source: Path) -> Imported:
    """Add what an export has and the store has not; see `Import`."""
    one = Import(journal, source)
    for _share_done in one.steps():
        pass
    return one.added


class Import:
    """An import in steps, which can be left off at each: unpacking, checking, writing.

    Memory does not grow with the size of the export: rows that pass the check go from one
    private file to another, one by one.

    Parameters
    ----------
    journal : Journal
    source : Path
        A zip that `exchange.export_journal` wrote.

    Attributes
    ----------
    added : Imported
        What was added so far.
    """

    def __init__(self, journal: Journal, source: Path) -> None:
        self.journal, self.source = journal, source
        self.added = Imported()

    def steps(self) -> Generator[float, None, None]:
        """Unpack, check and write; yields how much is done, from 0 to 1.

        Raises
        ------
        BadExchange
            The file is no export. Nothing was added.
        CannotJournal
            The store cannot be written. Whole things may have been added before.
        """
        needed = "a zip file that an export of the store wrote"
        with contextlib.ExitStack() as closing:
            folder = Path(closing.enter_context(tempfile.TemporaryDirectory()))
            plain = folder / STORE
            try:
                if not whole_files.is_regular(self.source):
                    raise OSError("no plain file")
                raw = closing.enter_context(unpacking.ZipOfBoundedPieces(self.source))
                files = closing.enter_context(zipfile.ZipFile(raw))
                unpacking.refuse_strangers(self.source, files, folder)
                yield from (done / 10 for done in unpack(files, STORE, plain))
            except (*UNREADABLE, OSError) as error:
                raise BadExchange([Problem(str(self.source), str(error), needed)]) from error
            staged = sqlite3.connect(folder / "checked.sqlite3")
            self._staged = closing.enter_context(contextlib.closing(staged))
            try:
                with contextlib.closing(unpacking.opened(plain)) as source:
                    yield from (0.1 + done / 2 for done in self._check(source, plain))
            except (sqlite3.Error, UnicodeDecodeError) as error:
                unpacking.refuse(STORE, str(error), "what an export writes")
            yield from (0.6 + 0.4 * done for done in self._write())
            with in_words(self.journal.path):
                with self.journal.transaction() as store:
                    take_over(store, self._in_hand)
                    self._take_people(store)
                self.journal.clean_if_due()
                yield from _put_photos(files, self.journal)

    def _check(self, source: sqlite3.Connection, plain: Path) -> Iterator[float]:
        """Stage every row that a record of its kind can hold."""
        kinds, version = unpacking.plain_tables(source)
        self._in_hand = document_in(source)
        self.added.update({kind.TABLE: 0 for kind in kinds})
        size = self._room = plain.stat().st_size
        self._staged.row_factory = sqlite3.Row
        for statement in _STAGE:
            self._staged.execute(statement)
        for kind in kinds:
            for done, found in enumerate(source.execute(f"SELECT * FROM {kind.TABLE}")):
                self._make_room(found)
                row = unpacking.added_in(kind.TABLE, version) | dict(found)
                try:
                    self._stage(kind, _checked(kind, row))
                except rows.UNREADABLE as error:
                    where = _where(kind, row["id"])
                    self.added.pass_by(where, str(error), "what an export writes")
                if done % 200 == 0:
                    yield 1 - self._room / size
        if source.execute("SELECT 1 FROM sqlite_schema WHERE name = 'people'").fetchone():
            for found in source.execute("SELECT * FROM people"):
                self._make_room(found)
                self._staged.execute("INSERT INTO people VALUES (?, ?, ?, ?, ?)", tuple(found))
        self._staged.commit()

    def _make_room(self, found: sqlite3.Row) -> None:
        """Refuse rows that hold more than the file: its pages name one another for ever."""
        self._room -= 8 + sum(len(cell) for cell in found if isinstance(cell, str | bytes))
        if self._room < 0:
            unpacking.refuse(STORE, "rows that hold more than the file", "an export")

    def _take_people(self, store: sqlite3.Connection) -> None:
        """Merge people; whoever was forgotten in either store is in neither."""
        changed, odd = take_people(store, self._staged.execute("SELECT * FROM people"))
        if changed:
            self.added["people"] = changed
        for id in odd:
            self.added.pass_by(f"people, {quoted(id)}", "no person", "what an export writes")

    def _stage(self, kind: type[Record], row: Mapping[str, Stored]) -> None:
        """Keep a row for writing, with its place in the order of writing."""
        owners, column = _OWNER.get(kind, (kind, "corrects"))
        part, owner = KINDS.index(owners), row[column] or row["id"]
        select = "SELECT min(turn) FROM line WHERE kind = ? AND id = ?"
        first = self._staged.execute(select, (part, owner)).fetchone()[0] or row["turn"]
        order = (part, first, owner, KINDS.index(kind), row["turn"], row["id"], json.dumps(row))
        self._staged.execute("INSERT INTO line VALUES (?, ?, ?, ?, ?, ?, ?)", order)

    def _write(self) -> Iterator[float]:
        """Add what passed the check, a piece of whole things at a time; yields between them."""
        staged = self._staged.execute("SELECT count(*) FROM line").fetchone()[0]
        select = f"SELECT owner, kind, rowid FROM line ORDER BY {_ORDER}, rowid"
        line = self._staged.execute(select)
        done, piece = 0, []
        for _owner, same in itertools.groupby(line, itemgetter("owner")):
            piece += [(KINDS[row["kind"]], row["rowid"]) for row in same]
            if len(piece) >= PIECE_ROWS:
                self._put(piece)
                done, piece = done + len(piece), []
                yield done / staged
        self._put(piece)

    def _put(self, piece: list[tuple[type[Record], int]]) -> None:
        new = Counter({kind.TABLE: 0 for kind, _ in piece})
        with in_words(self.journal.path), self.journal.transaction() as store:
            for kind, place in piece:
                select = "SELECT cells FROM line WHERE rowid = ?"
                (cells,) = self._staged.execute(select, (place,)).fetchone()
                new[kind.TABLE] += self._add(store, kind, json.loads(cells))
        for table, count in new.items():
            self.added[table] += count

    def _add(
        self, store: sqlite3.Connection, kind: type[Record], row: dict[str, Stored]
    ) -> bool:
        """Add a row, unless it is there; one that differs from what is there is passed by."""
        select = f"SELECT * FROM {kind.TABLE} WHERE id = ?"
        there = store.execute(select, (row["id"],)).fetchone()
        if there is not None:
            if not _same(kind, dict(there), row):
                needed = "what the store has under this id, which is never overwritten"
                self.added.pass_by(_where(kind, row["id"]), "something else", needed)
            return False
        try:
            put_row(store, kind.TABLE, row)
        except sqlite3.IntegrityError as error:
            got = "a reference to no row" if "FOREIGN" in str(error) else str(error)
            needed = "a row that keeps the store's rules"
            self.added.pass_by(_where(kind, row["id"]), got, needed)
            return False
        return True


def _put_photos(files: zipfile.ZipFile, journal: Journal) -> Iterator[float]:
    """Put photos' files into the maker's folder, each once; pictures of known rows only."""
    folder, known = journal.path.parent / FOLDER, {photo.id for photo in journal.all(Photo)}
    for info in files.infolist():
        found = unpacking.PHOTO.fullmatch(info.filename)
        target = folder / Path(info.filename).name
        if not found or found[1] not in known or target.exists():
            continue
        whole_files.make_folder(folder)
        with whole_files.temporary_file(folder) as part, contextlib.suppress(*UNREADABLE):
            for _share_done in unpack(files, info.filename, part):
                yield 1.0
            with part.open("rb") as content:
                kind = picture_kind(content.read(16))
            if kind and info.filename.endswith(kind[1]):
                whole_files.put_on_disk(part)
                whole_files.give_name(part, target)


# --- the rows -----------------------------------------------------------------------------


def _checked(kind: type[Record], row: dict[str, Any]) -> dict[str, Stored]:
    """A row as it is, where a record of its kind can hold it."""
    ids = [row["id"], *([] if row["corrects"] is None else [row["corrects"]])]
    if not all(isinstance(each, str) and rows.ID.fullmatch(each) for each in ids):
        raise ValueError("no id of an export")
    turn = row["turn"]
    if not isinstance(turn, int) or not 0 < turn <= MOST_TURN or row["withdrawn"] not in (0, 1):
        raise ValueError("no turn of an export")
    for name, cell in rows.written(rows.read(kind, row)).items():
        if isinstance(cell, int | float) and cell != row[name]:
            raise ValueError(f"{name} of another type")
    return row


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
