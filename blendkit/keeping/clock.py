"""The clock of the forecasts, as the maker's nose and scale taught it."""

from functools import lru_cache

from blendkit.evaporation.nose_log import learn
from blendkit.evaporation.uncertainty import Clock
from blendkit.journal.records import WeighingRow
from blendkit.journal.store import Journal
from blendkit.keeping.nose_logs import READ, kept_logs
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.weighings import kept_weighings

TEACHERS = (*READ, WeighingRow)  # all that the clock goes by


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
