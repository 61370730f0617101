"""The journal: rows go in, one transaction a call, and come back as they are after corrections.

>>> from pathlib import Path
>>> from tempfile import TemporaryDirectory
>>> with TemporaryDirectory() as folder, open_journal(Path(folder)) as journal:
...     first = journal.new_blend("Quay at Dusk", {"oils": []}, why="invented")
...     session = journal.start_session("first try", version_id=first.id)
...     drops = journal.log(session, "added", {"oil": "lavender", "drops": 3})
...     drops = journal.correct(drops, details={"oil": "lavender", "drops": 2})
...     [event.details["drops"] for event in journal.all(EventRow)]
[2]
"""

from __future__ import annotations

import dataclasses
import itertools
import platform
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any

from blendkit.foundation.errors import Problem
from blendkit.journal import migrations, records
from blendkit.journal.backups import FOLDER, back_up_before_migration, has_backups, journal_path
from blendkit.journal.connect import opened
from blendkit.journal.errors import in_words
from blendkit.journal.insertion import insert, new_id
from blendkit.journal.ledger import Ledger
from blendkit.journal.records import AnyRecord, BatchRow, EventRow, Record, Session, Version
from blendkit.journal.rows import BadRecord, storable, written


def open_journal(folder: Path | None = None) -> Journal:
    """Open the journal in the maker's folder; begin one where there is none.

    Parameters
    ----------
    folder : Path, optional
        Instead of the maker's folder.

    Raises
    ------
    CannotJournal
        With a way on; `JournalDamaged` or `JournalNewer` where the file is the reason. The file
        is left as it is.
    """
    path = journal_path(folder)
    with in_words(path):
        is_lost = not path.exists() and has_backups(path.parent)
        connection = opened(path)
        journal = Journal(connection, path)
        try:
            if is_lost:
                journal.warn(f"{path} was not there: a new journal was begun. Backups of an "
                             f"earlier one are in {path.parent / FOLDER}; they can be "
                             "restored in notebook 06.")  # fmt: skip
            version = migrations.version_of(connection)
            if 0 < version < migrations.NEWEST:
                back_up_before_migration(connection, path.parent, version)
            elif version:
                journal.back_up_if_due()
            migrations.take_steps(connection)
            journal.clean_if_due()
        except BaseException:
            journal.close()
            raise
    return journal


class Journal(Ledger):
    """An open journal, with what makers do."""

    def new_blend(
        self, name: str, document: Mapping[str, Any], why: str = "", at: datetime | None = None
    ) -> Version:
        """Begin a blend with its first version."""
        with self.transaction() as connection:
            blend = insert(connection, records.BlendRow(name=name, made_at=at or now()))
            first = Version(blend_id=blend.id, number=1, document=dict(document), why=why,
                            made_at=blend.made_at, computer=this_computer())  # fmt: skip
            return insert(connection, first)

    def new_version(
        self, parent: Version, document: Mapping[str, Any], why: str = ""
    ) -> Version:
        """Keep a new version of a blend, under the blend's next number."""
        with self.transaction() as connection:
            highest = "SELECT max(number) FROM versions WHERE blend_id = ?"
            number = connection.execute(highest, (parent.blend_id,)).fetchone()[0] or 0
            version = Version(blend_id=parent.blend_id, number=number + 1, why=why,
                              document=dict(document), made_at=now(), parent_id=parent.id,
                              computer=this_computer())  # fmt: skip
            return insert(connection, version)

    def next_lot(self, made_on: date) -> str:
        """A lot number that was never used: the day, and a count.

        Lots that were withdrawn count too: a label with one may be on a bottle.
        """
        rows = self._ask("SELECT lot FROM batches UNION SELECT lot FROM makings")
        used = {row["lot"] for row in rows}
        lots = (f"{made_on:%Y%m%d}-{number}" for number in itertools.count(1))
        return next(lot for lot in lots if lot not in used)

    def make_batch(
        self,
        batch: BatchRow,
        bottles: Sequence[tuple[int, float]],
        materials: Sequence[records.BatchMaterial],
    ) -> BatchRow:
        """Keep a batch with its bottles and materials, under a lot number of its own.

        Parameters
        ----------
        batch : BatchRow
        bottles : sequence of (int, float)
            How many, of which size. [mL]
        materials : sequence of BatchMaterial
            Their `batch_id` is filled in.

        Raises
        ------
        BadRecord
            The lot is taken, or something cannot be kept. Nothing was kept.
        CannotJournal
        """
        with self.transaction() as connection:
            taken = "SELECT 1 FROM batches WHERE lot = ?"
            if connection.execute(taken, (written(batch)["lot"],)).fetchone():
                fix = f"The next free one is {self.next_lot(batch.made_on)}."
                problem = Problem("lot", f"{batch.lot}, which is taken", "one of its own", fix)
                raise BadRecord([problem])
            kept = insert(connection, dataclasses.replace(batch, computer=this_computer()))
            for count, size in bottles:
                row = records.BatchBottles(batch_id=kept.id, count=count, size_ml=size)
                insert(connection, row)
            for each in materials:
                insert(connection, dataclasses.replace(each, batch_id=kept.id))
        return kept

    def start_session(
        self,
        title: str,
        version_id: str | None = None,
        batch_id: str | None = None,
        at: datetime | None = None,
    ) -> Session:
        """Begin a session at the bench."""
        session = Session(title=title, started_at=at or now(), version_id=version_id,
                          batch_id=batch_id)  # fmt: skip
        return self.put(session, new_id())

    def log(
        self,
        session: Session,
        kind: str,
        details: Mapping[str, Any],
        at: datetime | None = None,
        id: str = "",
    ) -> EventRow:
        """Keep one event of a session; it is on the disk when this returns.

        Given an id that is there already, nothing is written: it was kept before.
        """
        event = EventRow(session_id=session.id, kind=kind, details=dict(details),
                      happened_at=at or now())  # fmt: skip
        return self.put(event, id or new_id())

    def add_under(self, records: Iterable[tuple[str, Record]]) -> None:
        """Keep records together under ids of their own; those that are there stay."""
        with self.transaction() as connection:
            for id, record in records:
                kept = f"SELECT 1 FROM {record.TABLE} WHERE id = ?"
                if connection.execute(kept, (id,)).fetchone() is None:
                    insert(connection, record, id=id)

    def put(self, record: AnyRecord, id: str) -> AnyRecord:
        """Keep a record under an id of its own, as one of another file; see `add_under`."""
        self.add_under([(id, record)])
        return self.get(type(record), id)


def this_computer() -> str:
    """What this computer is called, for telling apart what was made on two of them."""
    return storable(platform.node())[:40]


def now() -> datetime:
    """The present moment, with the offset from UTC of where the maker is."""
    return datetime.now().astimezone()
