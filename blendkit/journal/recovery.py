"""A new journal of every row that SQLite still reads in a damaged one.

Only what is missing is taken from the newest sound backup. Rows are immutable, so a row that
both have is the same in both, or is damaged in the one that cannot be read. The blend in hand
comes along; the line of its steps begins again.
"""

import contextlib
import json
import shutil
import sqlite3
import tempfile
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from blendkit.foundation.units import counted
from blendkit.foundation.whole_files import is_regular, put_on_disk
from blendkit.journal import migrations
from blendkit.journal.backups import list_backups
from blendkit.journal.connect import connected, look_at, text_or_bytes
from blendkit.journal.errors import CannotJournal
from blendkit.journal.forgetting import forgotten_in_copies
from blendkit.journal.hand_table import document_in, take_over
from blendkit.journal.insertion import insert, new_id, put_row
from blendkit.journal.people_table import forget_people, take_people
from blendkit.journal.records import KINDS, BlendRow, Record, Session
from blendkit.journal.rows import EVERY_ROW, ID, UNREADABLE, columns_of, read

# What may lie beside a database (https://www.sqlite.org/tempfiles.html); they belong together
NEIGHBOURS = ("-wal", "-shm", "-journal")
MOST_PLACES = 5_000_000  # rows looked for one by one in a damaged table
BROKEN = (sqlite3.Error, UnicodeDecodeError)


@dataclass
class _New:
    """The journal that is made, with how many rows came into it from where.

    Attributes
    ----------
    lost : list of str
        Rows that could be read and not kept: those that break a rule of the journal.
    """

    store: sqlite3.Connection
    read: int = 0
    from_backup: int = 0
    backup: Path | None = None
    lost: list[str] = field(default_factory=list)

    def put(self, kind: type[Record], row: Mapping[str, Any]) -> bool:
        try:
            put_row(self.store, kind.TABLE, row)
        except (sqlite3.IntegrityError, sqlite3.InterfaceError, OverflowError) as error:
            self.lost.append(f"{kind.TABLE} {row['id']!r:.40} ({error})")
            return False
        return True

    def lacks(self, kind: type[Record], id: object) -> bool:
        there = f"SELECT 1 FROM {kind.TABLE} WHERE id = ?"
        return self.store.execute(there, (id,)).fetchone() is None

    def take_people(self, rows: Iterable[sqlite3.Row]) -> None:
        with contextlib.suppress(*BROKEN):
            self.lost += [f"people {id}" for id in take_people(self.store, rows)[1]]

    def in_words(self) -> str:
        parts = [f"{counted(self.read, 'row')} read from the damaged file"]
        if self.backup:
            added = counted(self.from_backup, "missing row")
            parts.append(f"{added} taken from the backup {self.backup}")
        else:
            parts.append("there is no sound backup to take missing rows from")
        if self.lost:
            named = ", ".join(self.lost[:20])
            parts.append(f"{counted(len(self.lost), 'row')} not kept: {named}")
        return f"Recovered: {'; '.join(parts)}."


def rebuild(path: Path, part: Path) -> str:
    """Make a journal in an empty file, of a damaged one and the newest sound backup.

    Returns
    -------
    str
        What was recovered from where.

    Raises
    ------
    sqlite3.Error, OSError
    """
    with (
        tempfile.TemporaryDirectory(dir=path.parent, prefix="blendkit-") as folder,
        contextlib.closing(connected(part, "rw")) as store,
    ):
        store.execute("PRAGMA foreign_keys=OFF")
        store.execute("PRAGMA synchronous=OFF")  # the whole file is flushed at the end
        new = _New(store)
        odd = _take_damaged(path, Path(folder), new)
        for backup in list_backups(path.parent):
            with contextlib.suppress(*BROKEN, CannotJournal, OSError):
                look_at(backup)
                _take_backup(backup, Path(folder) / "backup.sqlite3", new)
                new.backup = backup
                break
        _put_odd(odd, new)
        _put_lost_owners(store)
    put_on_disk(part)
    look_at(part)
    return new.in_words()


Odd = list[tuple[type[Record], dict[str, Any]]]


def _take_damaged(path: Path, folder: Path, new: _New) -> Odd:
    """Put every readable row of the damaged file in; returns those that are no record."""
    copy, odd = folder / path.name, Odd()
    if is_regular(path):
        for ending in ("", *NEIGHBOURS):  # read on a copy: reading may play back a log
            beside = path.with_name(path.name + ending)
            if is_regular(beside):
                shutil.copyfile(beside, folder / beside.name)
    with contextlib.closing(_plain(copy)) as source:
        version = migrations.NEWEST
        with contextlib.suppress(*BROKEN):
            version = migrations.version_of(source)
        sound = 0 < version < migrations.NEWEST
        migrations.take_steps(new.store, version if sound else migrations.NEWEST)
        new.store.execute("BEGIN")
        for kind in KINDS:
            names = _columns(source, kind, new.store)
            for row in _readable(source, kind.TABLE) if names else ():
                cells = {name: row[name] for name in names}
                if _is_record(kind, cells):
                    new.read += new.put(kind, cells)
                else:
                    odd.append((kind, cells))
        new.store.execute("COMMIT")
        migrations.take_steps(new.store)
        take_over(new.store, document_in(source))
        forget_people(new.store, forgotten_in_copies(path.parent))
        new.take_people(_readable(source, "people"))
    return odd


def _plain(copy: Path) -> sqlite3.Connection:
    source = sqlite3.connect(copy, isolation_level=None)
    source.row_factory, source.text_factory = sqlite3.Row, text_or_bytes
    with contextlib.suppress(*BROKEN):
        source.execute("PRAGMA trusted_schema=OFF")
        source.execute("PRAGMA writable_schema=ON")  # reads past what is broken of the schema
    return source


def _columns(
    source: sqlite3.Connection, kind: type[Record], new: sqlite3.Connection
) -> list[str]:
    """The columns of a table in both files; none where it is no table of ours."""
    ask = f"PRAGMA table_info({kind.TABLE})"
    try:
        there = {row["name"] for row in source.execute(ask)}
    except BROKEN:
        return []
    names = [row["name"] for row in new.execute(ask)]
    return [name for name in names if name in there] if there >= set(EVERY_ROW) else []


def _readable(source: sqlite3.Connection, table: str) -> Iterator[sqlite3.Row]:
    """Every row that can be read: from both ends, and one by one across what is damaged."""
    seen: set[int] = set()
    places: set[int] = set()
    for order in ("", "DESC"):
        with contextlib.suppress(*BROKEN):
            select = f"SELECT rowid AS place, * FROM {table} NOT INDEXED ORDER BY rowid {order}"
            for row in source.execute(select):
                if row["place"] in seen:
                    break
                seen.add(row["place"])
                yield row
            else:
                return  # read to the end without damage
    for order in ("", "DESC"):  # an index names places in pages of its own
        with contextlib.suppress(*BROKEN):
            select = f"SELECT rowid FROM {table} INDEXED BY {table}_turn ORDER BY turn {order}"
            places.update(place for (place,) in source.execute(select))
    highest = min(max(seen | places, default=0), MOST_PLACES)
    for place in sorted((places | set(range(1, highest + 1))) - seen):
        with contextlib.suppress(*BROKEN):
            row = source.execute(f"SELECT rowid AS place, * FROM {table} NOT INDEXED "
                                 "WHERE rowid = ?", (place,)).fetchone()  # fmt: skip
            if row is not None:
                yield row


def _has_id(row: Mapping[str, Any]) -> bool:
    return isinstance(row["id"], str) and bool(ID.fullmatch(row["id"]))


def _is_record(kind: type[Record], row: Mapping[str, Any]) -> bool:
    if not _has_id(row):
        return False
    if not row.keys() >= set(columns_of(kind)):
        return True  # of an earlier version; its next step fills in what is missing
    try:
        read(kind, row)
    except UNREADABLE:
        return False
    return True


def _put_odd(rows: Odd, new: _New) -> None:
    """Put in, as they are, odd rows that no backup had; they are passed by and named later."""
    new.store.execute("BEGIN")
    for kind, row in rows:
        if not _has_id(row):
            same = f"SELECT 1 FROM {kind.TABLE} WHERE turn = ? AND recorded_at = ?"
            if new.store.execute(same, (row["turn"], row["recorded_at"])).fetchone():
                continue  # the backup has it, under the id it had
            row["id"] = new_id()
        new.read += new.lacks(kind, row["id"]) and new.put(kind, row)
    new.store.execute("COMMIT")


def _take_backup(backup: Path, copy: Path, new: _New) -> None:
    shutil.copyfile(backup, copy)  # migrations run on it
    with contextlib.closing(connected(copy, "rw")) as source:
        migrations.take_steps(source)
        new.store.execute("BEGIN")
        for kind in KINDS:
            for row in source.execute(f"SELECT * FROM {kind.TABLE} ORDER BY turn, id"):
                new.from_backup += new.lacks(kind, row["id"]) and new.put(kind, dict(row))
        take_over(new.store, document_in(source))
        new.take_people(source.execute("SELECT * FROM people"))
        new.store.execute("COMMIT")


_LOST = "SELECT * FROM {0} WHERE {1} NOT IN (SELECT id FROM {2}) GROUP BY {1}"


def _put_lost_owners(new: sqlite3.Connection) -> None:
    """Blends and sessions whose rows are lost, so that what belongs to them is shown."""
    owners: list[tuple[str, Record]] = []
    for row in new.execute(_LOST.format("versions", "blend_id", "blends")):
        name = "Recovered blend"
        with contextlib.suppress(*UNREADABLE, KeyError):
            name = str(json.loads(row["document"])["name"])
        blend = BlendRow(name=name, made_at=_moment(row["made_at"]))
        owners.append((row["blend_id"], blend))
    for row in new.execute(_LOST.format("events", "session_id", "sessions")):
        session = Session(title="Recovered session", started_at=_moment(row["happened_at"]))
        owners.append((row["session_id"], session))
    new.execute("BEGIN")
    for id, owner in owners:
        with contextlib.suppress(sqlite3.IntegrityError):
            insert(new, owner, id=id)
    new.execute("COMMIT")


def _moment(text: object) -> datetime:
    with contextlib.suppress(ValueError, TypeError):
        moment = datetime.fromisoformat(str(text))
        if moment.tzinfo:
            return moment
    return datetime.now().astimezone()
