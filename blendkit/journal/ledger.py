"""Rows go in, one transaction a call, and come back as they are after corrections.

Rows are put in order by a counter that is always greater than any known when a row is written
(L. Lamport, "Time, clocks, and the ordering of events in a distributed system", Communications
of the ACM 21 (1978) 558), and not by the clock, which may be set back.
"""

import contextlib
import dataclasses
import sqlite3
import threading
import weakref
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any, Self

from blendkit.foundation.errors import BlendkitError, Problem, attempt, quoted, refuse_any
from blendkit.foundation.whole_files import identity
from blendkit.journal.backups import back_up, back_up_if_due
from blendkit.journal.errors import CannotJournal, in_words, moved
from blendkit.journal.forgetting import Cleaned, clean
from blendkit.journal.insertion import insert, next_row, put_row
from blendkit.journal.people_table import forget_people, forgotten_ids, unclean_ids
from blendkit.journal.records import KINDS, AnyRecord, Record
from blendkit.journal.rows import UNREADABLE, BadRecord, Stored, read, stored
from blendkit.journal.second_place import copy_to_second_place

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
        What went wrong without stopping anything, such as a daily backup.
    unreadable : dict of (str, str) to Problem
        Rows that were passed by, by table and row: damaged, or written by another program.
    """

    def __init__(self, connection: sqlite3.Connection, path: Path) -> None:
        self.path = path
        self.warnings: tuple[str, ...] = ()
        self._connection = connection
        self._lock = threading.RLock()
        self.unreadable: dict[tuple[str, str], Problem] = {}
        self._backed_up_on: date | None = None
        self._identity = identity(path)
        self._finish = weakref.finalize(self, connection.close)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file; may be called twice."""
        with self._lock:
            self._finish()

    def is_current(self) -> bool:
        """True where the file that is open is the one that has its name."""
        return self._identity is not None and identity(self.path) == self._identity

    def _refuse_moved(self) -> None:
        if not self.is_current():
            raise moved(self.path)

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
            It could not be kept; nothing was changed. `JournalMoved` where another file has
            the journal's name: what was kept meanwhile is in the other one.
        BadRecord
            A row breaks the journal's rules.
        """
        with self._lock, in_words(self.path):
            self._refuse_moved()
            with self._connection:  # which commits, or rolls back
                self._connection.execute("BEGIN IMMEDIATE")
                yield self._connection
            self._refuse_moved()  # else it would be acknowledged, and in no journal
        self.back_up_if_due()

    @contextlib.contextmanager
    def snapshot(self) -> Iterator[sqlite3.Connection]:
        """The journal as it is at one moment, whatever others write meanwhile."""
        with self._lock, in_words(self.path), self._connection:
            self._connection.execute("BEGIN")
            yield self._connection

    def back_up_if_due(self) -> None:
        """Make today's backup where there is none; where that fails there is a warning."""
        today = datetime.now().astimezone().date()
        if self._backed_up_on == today:
            return
        self._backed_up_on = today
        with self._lock:
            try:
                if back_up_if_due(self._connection, self.path.parent, today):
                    self._copy_to_second_place()
            except (OSError, sqlite3.Error, UnicodeDecodeError) as error:
                self.warn(f"Today's backup of the journal could not be made: {error}.")

    def back_up_now(self) -> Path:
        """Make a backup, also where there is one of today.

        Raises
        ------
        CannotJournal
        """
        with self._lock, in_words(self.path):
            today = datetime.now().astimezone().date()
            made = back_up(self._connection, self.path.parent, today)
            self._copy_to_second_place()
        return made

    def _copy_to_second_place(self) -> None:
        if warning := copy_to_second_place(self.path.parent):
            self.warn(warning)
        clean(self._connection, self.path.parent)  # where a place is in reach again

    def forget(self, person_id: str) -> Cleaned:
        """Forget somebody, here and in every copy in reach; see `journal.forgetting`.

        Raises
        ------
        CannotJournal
            Nothing was changed.
        """
        self.back_up_if_due()  # or it would be made, and cleaned, before there is a report
        with self.transaction() as store:
            forget_people(store, [person_id])
        return self.clean_if_due()

    def clean_if_due(self) -> Cleaned:
        """Finish what was forgotten and not yet taken out of the files."""
        with self._lock, in_words(self.path):
            if not forgotten_ids(self._connection) & unclean_ids(self._connection):
                return Cleaned()
            return clean(self._connection, self.path.parent)

    def add(self, *records: AnyRecord) -> tuple[AnyRecord, ...]:
        """Keep new records together; they come back with their ids.

        Raises
        ------
        BadRecord
            Lists everything that cannot be kept. Nothing was kept.
        CannotJournal
        """
        got, fix = "what is in the journal already", "To change what is there, correct it."
        problems = [Problem(r.TABLE, got, "a new record", fix) for r in records if r.id]
        with self.transaction() as connection:
            kept = [attempt(problems, insert, connection, record) for record in records]
            refuse_any(problems, BadRecord)
        return tuple(record for record in kept if record)

    def correct(self, record: AnyRecord, **changes: Any) -> AnyRecord:
        """Say what is true instead; the earlier row stays."""
        return self._mend(dataclasses.replace(record, **changes), record.withdrawn)

    def withdraw(self, record: AnyRecord) -> AnyRecord:
        """Say that it did not happen; the earlier rows stay, and it can be restored."""
        return self._mend(record, True)

    def restore(self, record: AnyRecord) -> AnyRecord:
        """Say that it did happen after all."""
        return self._mend(record, False)

    def _mend(self, record: AnyRecord, withdrawn: bool) -> AnyRecord:
        known = self.get(type(record), record.id).id
        with self.transaction() as connection:
            return insert(connection, record, known, withdrawn)

    def withdraw_unreadable(self, table: str, row_id: str) -> None:
        """Withdraw a row that cannot be read, with whatever is in it; the row stays.

        Raises
        ------
        UnknownRecord
        CannotJournal
        """
        kind = next((kind for kind in KINDS if table == kind.TABLE), None)
        with self.transaction() as connection:
            select = f"SELECT * FROM {table} WHERE id = ?"
            row = connection.execute(select, (row_id,)).fetchone() if kind else None
            if row is None:
                raise UnknownRecord(f"{table}: got the id {row_id}; needs one in the journal.")
            withdrawn = {"corrects": row["corrects"] or row_id, "withdrawn": 1}
            put_row(connection, table, dict(row) | next_row(connection, table) | withdrawn)
        self.unreadable.pop((table, row_id), None)

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
        holding, values = _holding(kind, equal)
        order = f"ORDER BY {_FIRST_TURN.format(table=kind.TABLE)}, this.corrects, this.id"
        return self._rows(kind, f"SELECT this.* {holding} {order}", values)

    def count(self, kind: type[Record], /, **equal: Any) -> int:
        """How many hold after corrections; see `all`."""
        holding, values = _holding(kind, equal)
        return int(self._ask(f"SELECT count(*) {holding}", values)[0][0])

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
            for (table, _), problem in self.unreadable.items():
                if table == kind.TABLE and quoted(id) in problem.where:
                    raise CannotJournal([problem])
            raise UnknownRecord(f"{kind.TABLE}: got the id {id}; needs one in the journal.")
        return rows

    def written_of(self, *kinds: type[Record]) -> tuple[int, ...]:
        """Numbers that change when anything of these kinds was written, and by nothing else."""
        # rows are only ever added
        counted = (self._ask(f"SELECT count(*) FROM {kind.TABLE}") for kind in kinds)
        return tuple(rows[0][0] for rows in counted)

    def seen(self) -> int:
        """A number that changes when anything was written, also by another notebook."""
        with self._lock, in_words(self.path):
            others: int = self._connection.execute("PRAGMA data_version").fetchone()[0]
            return (others << 40) + self._connection.total_changes

    def _ask(self, select: str, values: Sequence[Stored] = ()) -> list[Any]:
        with self._lock, in_words(self.path):
            return self._connection.execute(select, values).fetchall()

    def _rows(
        self, kind: type[AnyRecord], select: str, values: Sequence[Stored]
    ) -> list[AnyRecord]:
        records = []
        for row in self._ask(select, values):
            try:
                records.append(read(kind, dict(row)))
            except UNREADABLE as error:
                where, got = f"{kind.TABLE}, {quoted(row['id'])}", f"{error}"
                fix = "It was passed by; it can be withdrawn in notebook 06."
                problem = Problem(where, got, "a row that this program wrote", fix)
                self.unreadable[kind.TABLE, row["id"]] = problem
        return records

    def find_unreadable(self) -> tuple[Problem, ...]:
        """Look at every row that holds, and list those that cannot be read."""
        self.unreadable.clear()
        for kind in KINDS:
            self.all(kind)
        return tuple(self.unreadable.values())


def _holding(kind: type[Record], equal: Mapping[str, Any]) -> tuple[str, list[Stored]]:
    """Rows of a table that hold and have equal fields, as SQL and its values."""
    values = [stored(kind, name, value) for name, value in equal.items()]
    terms = [f'this."{name}" IS ?' for name in equal]
    terms += ["NOT this.withdrawn", _NOT_CORRECTED.format(table=kind.TABLE)]
    return f"FROM {kind.TABLE} AS this WHERE {' AND '.join(terms)}", values
