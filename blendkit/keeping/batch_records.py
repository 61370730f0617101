"""Batches with the versions they were made by, and the record of one from its bench session."""

import contextlib
from collections.abc import Mapping
from typing import Any, NamedTuple

from blendkit.foundation.errors import BadBlend
from blendkit.journal.records import BatchRow, Session
from blendkit.keeping.bench_sessions import BenchRecord
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.versions import KeptVersion, kept_versions, lot_names
from blendkit.selling.batch_record import BatchRecord, record_of


class KeptBatch(NamedTuple):
    """A batch with the version it was made by."""

    row: BatchRow
    version: KeptVersion
    lot: str

    @property
    def product(self) -> str:
        """Such as "Quay · version 3"."""
        return f"{self.version.name} · version {self.version.number}"

    @property
    def label(self) -> str:
        """Such as "Quay · version 3 · lot 20261125-1"."""
        return f"{self.product} · lot {self.lot}"

    def record(self, typed: Mapping[str, Any] | None = None) -> BatchRecord:
        """Record of it, with `typed` in place of the kept document.

        Raises
        ------
        BadNumber
            A typed amount cannot be read.
        CannotJournal
        """
        sessions = the_journal().all(Session, batch_id=self.row.id)
        bench = BenchRecord.resumed(sessions[-1]).bench if sessions else None
        blend = None
        with contextlib.suppress(BadBlend):  # a material is no longer on record
            blend = self.version.blend()
        return record_of(the_journal(), self.row, self.product, blend, bench, typed)


def kept_batches() -> list[KeptBatch]:
    """Every batch whose version is on record, newest first.

    Raises
    ------
    CannotJournal
    """
    journal = the_journal()
    versions, lots = {one.version.id: one for one in kept_versions(journal)}, lot_names(journal)
    return [
        KeptBatch(row, versions[row.version_id], lots[row.id])
        for row in journal.all(BatchRow)[::-1]
        if row.version_id in versions
    ]
