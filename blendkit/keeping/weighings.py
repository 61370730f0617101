"""Weighings at home in the journal, as they were typed."""

import contextlib
from collections.abc import Mapping
from typing import Any

from blendkit.evaporation.home_weighings import Weighing, read_weighing
from blendkit.foundation.errors import BlendkitError
from blendkit.journal.records import WeighingRow
from blendkit.journal.store import Journal, now


def keep_weighing(journal: Journal, document: Mapping[str, Any]) -> Weighing:
    """Check a weighing and write it into the journal; see `home_weighings.read_weighing`.

    Raises
    ------
    BadNumber
        The weighing is broken. Nothing was written.
    CannotJournal
    """
    weighing = read_weighing(document)
    kind = str(document["kind"])
    journal.add(WeighingRow(kind=kind, document=dict(document), weighed_at=now()))
    return weighing


def kept_weighings(journal: Journal) -> list[tuple[WeighingRow, Weighing]]:
    """Every weighing that can be read, in the order of writing."""
    found = []
    for row in journal.all(WeighingRow):
        with contextlib.suppress(BlendkitError):  # one damaged row must not take the others
            found.append((row, read_weighing(row.document)))
    return found
