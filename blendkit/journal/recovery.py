"""A new journal of every row that SQLite still reads in a damaged one.

Only what is missing is taken from the newest sound backup. Rows are immutable, so a row that
both have is the same in both, or is damaged in the one that cannot be read. The blend in hand
comes along; the line of its steps begins again.
"""

from __future__ import annotations

import contextlib
import json
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from blendkit.foundation.units import counted
from blendkit.foundation.whole_files import is_regular, put_on_disk
from blendkit.journal import migrations
from blendkit.journal.backups import copy_store, list_backups, read_only
from blendkit.journal.connect import connected, look_at, text_or_bytes
from blendkit.journal.errors import CannotJournal
from blendkit.journal.forgetting import forgotten_in_copies
from blendkit.journal.hand_table import document_in, take_over
from blendkit.journal.insertion import new_id, put_row
from blendkit.journal.people_table import forget_people, take_people
from blendkit.journal.records import KINDS, BlendRow, Record, Session
from blendkit.journal.rows import EVERY_ROW, ID, UNREADABLE, columns_of, read, written

# What may lie beside a database (https://www.sqlite.org/tempfiles.html); they belong together
NEIGHBOURS = ("-wal", "-shm", "-journal")
MOST_PLACES = 5_000_000  # rows looked for one by one in a damaged table
BROKEN = (sqlite3.Error, UnicodeDecodeError)


@dataclass
class Recovered:
    """What came into a new journal, by table.

    Attributes
    ----------
    read, from_backup : dict of str to int
    backup : Path or None
    lost : list of str
        Rows that could be read and not kept: those that break a rule of the journal.
    """

    read: dict[str, int] = field(default_factory=dict)
    from_backup: dict[str, int] = field(default_factory=dict)
    backup: Path | None = None
    lost: list[str] = field(default_factory=list)

    @property
    def sentence(self) -> str:
        """What was recovered from where."""
        parts = [f"{counted(sum(self.read.values()), 'row')} read from the damaged file"]
        if self.backup:
            added = counted(sum(self.from_backup.values()), "missing row")
            parts.append(f"{added} taken from the backup {self.backup}")
        else:
            parts.append("there is no sound backup to take missing rows from")
        if self.lost:
            named = ", ".join(self.lost[:20])
            parts.append(f"{counted(len(self.lost), 'row')} not kept: {named}")
        return f"Recovered: {'; '.join(parts)}."


def rebuild(path: Path, part: Path) -> Recovered:
    """Make a journal in an empty file, of a damaged one and the newest sound backup.

    Raises
    ------
    sqlite3.Error, OSError
    """
    found = Recovered()
    with (
        tempfile.TemporaryDirectory(dir=path.parent, prefix="blendkit-") as folder,
        contextlib.closing(connected(part, "rw")) as new,
    ):
        new.execute("PRAGMA foreign_keys=OFF")
        new.execute("PRAGMA synchronous=OFF")  # the whole file is flushed at the end
        odd = _take_damaged(path, Path(folder), new, found)
        for backup in list_backups(path.parent):
            with contextlib.suppress(*BROKEN, CannotJournal, OSError):
                look_at(backup)
                _take_backup(backup, Path(folder) / "backup.sqlite3", new, found)
                found.backup = backup
                break
        _put_all(new, odd, found)
        _put_lost_owners(new)
    put_on_disk(part)
    look_at(part)
    return found


Odd = list[tuple[type[Record], dict[str, Any]]]


def _take_damaged(path: Path, folder: Path, new: sqlite3.Connection, found: Recovered) -> Odd:
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
        migrations.take_steps(new, version if sound else migrations.NEWEST)
        new.execute("BEGIN")
        for kind in KINDS:
            names = _columns(source, kind, new)
            for row in _readable(source, kind.TABLE) if names else ():
                cells = {name: row[name] for name in names}
                if not _is_record(kind, cells):
                    odd.append((kind, cells))
                elif _put(new, kind, cells, found):
                    found.read[kind.TABLE] = found.read.get(kind.TABLE, 0) + 1
        new.execute("COMMIT")
        migrations.take_steps(new)
        take_over(new, document_in(source))
        forget_people(new, forgotten_in_copies(path.parent))
        _take_people(new, _readable(source, "people"), found)
    return odd


def _take_people(
    new: sqlite3.Connection, rows: Iterator[sqlite3.Row], found: Recovered
) -> None:
    with contextlib.suppress(*BROKEN):
        found.lost += [f"people {id}" for id in take_people(new, rows)[1]]


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


def _is_record(kind: type[Record], row: Mapping[str, Any]) -> bool:
    if not (isinstance(row["id"], str) and ID.fullmatch(row["id"])):
        return False
    if not row.keys() >= set(columns_of(kind)):
        return True  # of an earlier version; its next step fills in what is missing
    try:
        read(kind, row)
    except UNREADABLE:
        return False
    return True


def _put(
    new: sqlite3.Connection, kind: type[Record], row: Mapping[str, Any], found: Recovered
) -> bool:
    try:
        put_row(new, kind.TABLE, row)
    except (sqlite3.IntegrityError, sqlite3.InterfaceError, OverflowError) as error:
        found.lost.append(f"{kind.TABLE} {row['id']!r:.40} ({error})")
        return False
    return True


def _put_all(new: sqlite3.Connection, rows: Odd, found: Recovered) -> None:
    """Put in, as they are, odd rows that no backup had; they are passed by and named later."""
    new.execute("BEGIN")
    for kind, row in rows:
        if not (isinstance(row["id"], str) and ID.fullmatch(row["id"])):
            same = f"SELECT 1 FROM {kind.TABLE} WHERE turn = ? AND recorded_at = ?"
            if new.execute(same, (row["turn"], row["recorded_at"])).fetchone():
                continue  # the backup has it, under the id it had
            row["id"] = new_id()
        if not _has(new, kind, row["id"]) and _put(new, kind, row, found):
            found.read[kind.TABLE] = found.read.get(kind.TABLE, 0) + 1
    new.execute("COMMIT")


def _has(new: sqlite3.Connection, kind: type[Record], id: object) -> bool:
    return bool(new.execute(f"SELECT 1 FROM {kind.TABLE} WHERE id = ?", (id,)).fetchone())


def _take_backup(backup: Path, copy: Path, new: sqlite3.Connection, found: Recovered) -> None:
    with contextlib.closing(read_only(backup)) as source:
        copy.unlink(missing_ok=True)
        copy_store(source, copy)
    with contextlib.closing(connected(copy, "rw")) as source:
        migrations.take_steps(source)
        new.execute("BEGIN")
        for kind in KINDS:
            for row in source.execute(f"SELECT * FROM {kind.TABLE} ORDER BY turn, id"):
                if not _has(new, kind, row["id"]) and _put(new, kind, dict(row), found):
                    found.from_backup[kind.TABLE] = found.from_backup.get(kind.TABLE, 0) + 1
        take_over(new, document_in(source))
        _take_people(new, source.execute("SELECT * FROM people"), found)
        new.execute("COMMIT")


_LOST_OWNERS = """SELECT {owner} AS id, {words} AS words, {at} AS at FROM {table} AS this
WHERE NOT EXISTS (SELECT 1 FROM {owners} WHERE {owners}.id = this.{owner}) GROUP BY {owner}"""
_LOST_BLENDS = _LOST_OWNERS.format(
    owner="blend_id", words="document", at="made_at", table="versions", owners="blends"
)
_LOST_SESSIONS = _LOST_OWNERS.format(
    owner="session_id", words="kind", at="happened_at", table="events", owners="sessions"
)


def _put_lost_owners(new: sqlite3.Connection) -> None:
    """Blends and sessions whose rows are lost, so that what belongs to them is shown."""
    new.execute("BEGIN")
    for row in new.execute(_LOST_BLENDS).fetchall():
        name = "Recovered blend"
        with contextlib.suppress(*UNREADABLE, KeyError):
            name = str(json.loads(row["words"])["name"])
        _put_owner(new, BlendRow(name=name, made_at=_moment(row["at"])), row["id"])
    for row in new.execute(_LOST_SESSIONS).fetchall():
        session = Session(title="Recovered session", started_at=_moment(row["at"]))
        _put_owner(new, session, row["id"])
    new.execute("COMMIT")


def _put_owner(new: sqlite3.Connection, record: Record, id: str) -> None:
    turn = new.execute(f"SELECT max(turn) FROM {record.TABLE}").fetchone()[0] or 0
    common = {"id": id, "turn": turn + 1, "recorded_at": _moment(None).isoformat(),
              "corrects": None, "withdrawn": 0}  # fmt: skip
    with contextlib.suppress(sqlite3.IntegrityError):
        put_row(new, record.TABLE, {**common, **written(record)})


def _moment(text: object) -> datetime:
    with contextlib.suppress(ValueError, TypeError):
        moment = datetime.fromisoformat(str(text))
        if moment.tzinfo:
            return moment
    return datetime.now().astimezone()
