"""Weighings at home, as they were typed, and the clock that nose and scale taught."""

import contextlib
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from blendkit.evaporation.home_weighings import Weighing, read_weighing
from blendkit.evaporation.nose_log import learn
from blendkit.evaporation.uncertainty import Clock
from blendkit.foundation.errors import BlendkitError
from blendkit.journal.records import WeighingRow
from blendkit.journal.store import Journal, now
from blendkit.keeping.nose_logs import READ, kept_logs
from blendkit.keeping.open_store import the_journal

TEACHERS = (*READ, WeighingRow)  # all that the clock goes by


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


def learnt_clock(surface: str) -> Clock | None:
    """Clock learnt from all wearings of one surface, and for skin from weighings.

    Raises
    ------
    CannotJournal
    """
    journal = the_journal()
    return _learnt(journal, journal.written_of(*TEACHERS), surface)


@lru_cache(maxsize=8)
def _learnt(journal: Journal, state: tuple[int, ...], surface: str) -> Clock | None:
    """The clock of a journal as it stands; its state tells when to learn again.

    The journal itself is part of the key: a file in its place may hold as many rows.
    """
    logs = [log for log in kept_logs(journal) if log.conditions.surface == surface]
    weighings = [each for _, each in kept_weighings(journal)] if surface == "skin" else []
    return learn(logs, weighings)
