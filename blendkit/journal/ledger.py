"""Rows go in, one transaction a call, and come back as they are after corrections.

Rows are put in order by a counter that is always greater than any known when a row is written
(L. Lamport, "Time, clocks, and the ordering of events in a distributed system", Communications
of the ACM 21 (1978) 558), and not by the clock, which may be set back.
"""

from __future__ import annotations

import contextlib
import dataclasses
import sqlite3
import threading
import uuid
import weakref
from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, date, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from blendkit.foundation.errors import BlendkitError, Problem
from blendkit.journal.backups import copy_if_due
from blendkit.journal.errors import CannotJournal, in_words
from blendkit.journal.records import AnyRecord, Record
from blendkit.journal.rows import BadRecord, Stored, read, stored, written

# A row counts unless a later one corrects the same thing
_NOT_CORRECTED = """NOT EXISTS (
  SELECT 1 FROM {table} AS later WHERE later.corrects = coalesce(this.corrects, this.id)
  AND (later.turn, later.id) > (this.turn, this.id))"""
_FIRST_TURN = """(SELECT first.turn FROM {table} AS first
  WHERE first.id = coalesce(this.corrects, this.id))"""


class UnknownRecord(BlendkitError, LookupError):
    """Nothing in the journal goes by this id."""


class Ledger:
    """An open journal's rows. Any thread may use it; several notebooks may have it open.

    Attributes
    ----------
    path : Path
        The file.
    warnings : tuple of str
        What did not go well without standing in the way, such as a daily copy.
    """

    def __init__(self, connection: sqlite3.Connection, path: Path) -> None:
        self.path = path
        self.warnings: tuple[str, ...] = ()
        self._connection = connection
        self._lock = threading.RLock()
        self._copied_on: date | None = None
        self._finish = weakref.finalize(self, connection.close)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file; may be called twice."""
        with self._lock:
            self._finish()

    def warn(self, sentence: str) -> None:
        """Add to the warnings, once."""
        if sentence not in self.warnings:
            self.warnings = (*self.warnings, sentence)

    # --- writing --------------------------------------------------------------------------

    @contextlib.contextmanager
    def transaction(self) -> Iterator[sqlite3.Connection]:
        """Everything inside is kept together, or nothing is.

        Raises
        ------
        CannotJournal
            It could not be kept; nothing was changed.
        BadRecord
            A row breaks the journal's rules.
        """
        with self._lock, in_words(self.path):
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                yield self._connection
                self._connection.execute("COMMIT")
            finally:
                if self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")
        self.copy_if_due()

    @contextlib.contextmanager
    def snapshot(self) -> Iterator[sqlite3.Connection]:
        """The journal as it stands at one moment, whatever others write meanwhile."""
        with self._lock, in_words(self.path):
            self._connection.execute("BEGIN")
            try:
                yield self._connection
            finally:
                self._connection.execute("ROLLBACK")

    def copy_if_due(self) -> None:
        """Make today's copy where there is none; where that fails there is a warning."""
        today = datetime.now().astimezone().date()
        if self._copied_on == today:
            return
        self._copied_on = today
        with self._lock:
            try:
                copy_if_due(self._connection, self.path.parent, today)
            except (OSError, sqlite3.Error) as error:
                self.warn(f"Today's copy of the journal could not be made: {error}.")

    def add(self, *records: AnyRecord) -> tuple[AnyRecord, ...]:
        """Keep new records together; they come back with their ids.

        Raises
        ------
        BadRecord
            Lists everything that cannot be kept. Nothing was kept.
        CannotJournal
        """
        known = [record for record in records if record.id]
        if known:
            fix = "To change what is there, correct it."
            raise BadRecord(
                [Problem(r.TABLE, "what is in the journal already", "a new record", fix)
                 for r in known]
            )  # fmt: skip
        return self._keep([(record, "", False) for record in records])

    def correct(self, record: AnyRecord, **changes: Any) -> AnyRecord:
        """Say what is true instead; the earlier row stays."""
        changed = dataclasses.replace(record, **changes)
        return self._keep([(changed, self._known(record), record.withdrawn)])[0]

    def withdraw(self, record: AnyRecord) -> AnyRecord:
        """Say that it did not happen; the earlier rows stay, and it can be restored."""
        return self._keep([(record, self._known(record), True)])[0]

    def restore(self, record: AnyRecord) -> AnyRecord:
        """Say that it did happen after all."""
        return self._keep([(record, self._known(record), False)])[0]

    def _known(self, record: Record) -> str:
        return self.get(type(record), record.id).id

    def _keep(self, wanted: Sequence[tuple[AnyRecord, str, bool]]) -> tuple[AnyRecord, ...]:
        problems: list[Problem] = []
        rows = []
        for record, corrects, withdrawn in wanted:
            try:
                rows.append((type(record), written(record), corrects, withdrawn))
            except BadRecord as refusal:
                problems += refusal.problems
        if problems:
            raise BadRecord(problems)
        with self.transaction() as connection:
            return tuple(insert(connection, *row) for row in rows)

    # --- reading --------------------------------------------------------------------------

    def all(self, kind: type[AnyRecord], /, **equal: Any) -> list[AnyRecord]:
        """What holds after corrections, in the order it was first written.

        Parameters
        ----------
        kind : type
            One of `records.KINDS`.
        **equal
            Fields that have to be equal, such as ``session_id=session.id``.
        """
        table = kind.TABLE
        select = f"SELECT this.* FROM {table} AS this {_holding(kind, equal)}"
        order = f"ORDER BY {_FIRST_TURN.format(table=table)}, this.corrects, this.id"
        return self._rows(kind, f"{select} {order}", _looked_for(kind, equal))

    def count(self, kind: type[Record], /, **equal: Any) -> int:
        """How many hold after corrections; see `all`."""
        counted = f"SELECT count(*) FROM {kind.TABLE} AS this {_holding(kind, equal)}"
        values = _looked_for(kind, equal)
        with self._lock, in_words(self.path):
            found: int = self._connection.execute(counted, values).fetchone()[0]
        return found

    def get(self, kind: type[AnyRecord], id: str) -> AnyRecord:
        """One thing as it is after corrections, also when it was withdrawn.

        Raises
        ------
        UnknownRecord
        """
        return self.history(kind, id)[-1]

    def history(self, kind: type[AnyRecord], id: str) -> list[AnyRecord]:
        """Every row about one thing, the oldest first.

        Raises
        ------
        UnknownRecord
        """
        select = f"SELECT * FROM {kind.TABLE} WHERE id = ? AND corrects IS NULL"
        select += f" UNION ALL SELECT * FROM {kind.TABLE} WHERE corrects = ?"
        rows = self._rows(kind, f"{select} ORDER BY turn, id", [id, id])
        if not rows:
            raise UnknownRecord(f"{kind.TABLE}: got the id {id}; needs one in the journal.")
        return rows

    def written_of(self, *kinds: type[Record]) -> tuple[int, ...]:
        """Numbers that change when anything of these kinds was written, and by nothing else."""
        with self._lock, in_words(self.path):
            # rows are only ever added
            counted = (f"SELECT count(*) FROM {kind.TABLE}" for kind in kinds)
            return tuple(self._connection.execute(one).fetchone()[0] for one in counted)

    def seen(self) -> int:
        """A number that changes when anything was written, also by another notebook."""
        with self._lock, in_words(self.path):
            others: int = self._connection.execute("PRAGMA data_version").fetchone()[0]
            return (others << 40) + self._connection.total_changes

    def _rows(
        self, kind: type[AnyRecord], select: str, values: Sequence[Stored]
    ) -> list[AnyRecord]:
        with self._lock, in_words(self.path):
            rows = self._connection.execute(select, values).fetchall()
        return [_read(self.path, kind, row) for row in rows]


def _read(path: Path, kind: type[AnyRecord], row: sqlite3.Row) -> AnyRecord:
    try:
        return read(kind, dict(row))
    except (ValueError, RecursionError) as error:
        where, got = f"{path}, {kind.TABLE}, {row['id']}", f"{error}"
        needed = "a row that this program wrote"
        fix = "Correct it with the program that wrote it. Nothing was changed."
        raise CannotJournal([Problem(where, got, needed, fix)]) from error


def _holding(kind: type[Record], equal: Mapping[str, Any]) -> str:
    terms = [f'this."{name}" IS ?' for name in equal]
    terms += ["NOT this.withdrawn", _NOT_CORRECTED.format(table=kind.TABLE)]
    return "WHERE " + " AND ".join(terms)


def _looked_for(kind: type[Record], equal: Mapping[str, Any]) -> list[Stored]:
    return [stored(kind, name, value) for name, value in equal.items()]


def insert(
    connection: sqlite3.Connection,
    kind: type[AnyRecord],
    values: Mapping[str, Stored],
    corrects: str = "",
    withdrawn: bool = False,
) -> AnyRecord:
    """Write one row and read it back."""
    turn = connection.execute(f"SELECT max(turn) FROM {kind.TABLE}").fetchone()[0] or 0
    row: dict[str, Stored] = {
        "id": uuid.uuid4().hex,
        "turn": turn + 1,
        "recorded_at": datetime.now(UTC).isoformat(),
        "corrects": corrects or None,
        "withdrawn": int(withdrawn),
        **values,
    }
    put_row(connection, kind.TABLE, row)
    return read(kind, row)


def put_row(connection: sqlite3.Connection, table: str, row: Mapping[str, Stored]) -> None:
    """Write a whole row as it is."""
    names = ", ".join(f'"{name}"' for name in row)
    places = ", ".join("?" for _ in row)
    connection.execute(f"INSERT INTO {table} ({names}) VALUES ({places})", list(row.values()))
