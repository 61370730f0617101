"""Answers of noses in the journal: loudness, duels and blind tests, one row a tap.

Each nose has its own answers and its own belief. Undo withdraws the last row.
"""

import contextlib
from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import Any, NamedTuple

from blendkit.choosing.blind import read_pick
from blendkit.choosing.duels import read_duel
from blendkit.choosing.loudness import Loudness, Nose, match, read_answer
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.wear import Film
from blendkit.foundation.errors import BadNumber, BlendkitError, Problem
from blendkit.journal.records import AnswerRow
from blendkit.journal.store import Journal, now
from blendkit.keeping.open_store import read_or

LOUDNESS, DUEL, BLIND = "loudness", "duel", "blind"  # kinds of `AnswerRow`
MINE = "mine"  # the nose that forecasts go by, where it has answered
_NOBODY: tuple[str, Loudness | None] = ("", None)
READERS: Mapping[str, Callable[[Mapping[str, Any]], Any]] = {
    LOUDNESS: read_answer, DUEL: read_duel, BLIND: read_pick,
}  # fmt: skip


class Kept(NamedTuple):
    """An answer in the journal, and as its kind reads it."""

    row: AnswerRow
    read: Any


def keep_answer(
    journal: Journal, kind: str, nose: str, document: Mapping[str, Any]
) -> AnswerRow:
    """Check an answer and write it into the journal.

    Parameters
    ----------
    journal : Journal
    kind : str
        A key of `READERS`, whose value says what the document holds.
    nose : str
        Whose nose it was.
    document : mapping

    Raises
    ------
    BadNumber, UnknownMaterial
        The answer is broken, or the nose has no name. Nothing was written.
    CannotJournal
    """
    if not nose.strip():
        raise BadNumber([Problem("nose", "nothing", f'a name, such as "{MINE}"')])
    READERS[kind](document)
    row = AnswerRow(kind=kind, nose=nose.strip(), document=dict(document), answered_at=now())
    return journal.add(row)[0]


def kept_answers(journal: Journal, kind: str, nose: str | None = None) -> list[Kept]:
    """Answers of one kind that can be read, as they were written; by default of all noses."""
    whose = {} if nose is None else {"nose": nose.strip()}
    found = []
    for row in journal.all(AnswerRow, kind=kind, **whose):
        # one damaged row must not take the others with it
        with contextlib.suppress(BlendkitError, KeyError, TypeError):
            found.append(Kept(row, READERS[kind](row.document)))
    return found


def noses(journal: Journal) -> list[str]:
    """Everybody who answered anything, the one of the newest answer first."""
    return list(dict.fromkeys(row.nose for row in reversed(journal.all(AnswerRow))))


def maker_nose(conditions: Conditions | None = None) -> Nose:
    """The nose that forecasts go by: `MINE`, else the one of the newest loudness answer."""
    _, loudness = read_or(_mine_now, _NOBODY)
    return Nose(loudness, conditions or Conditions())


def as_smelt(film: Film) -> tuple[Film, str]:
    """A film as the maker's own nose smells it, and that in a few words.

    As it was, and no words, where that nose has matched none of its oils.
    """
    nose, loudness = read_or(_mine_now, _NOBODY)
    matched = [name for name in film.oils if loudness and name in loudness.oils]
    if not matched:
        return film, ""
    whose = "your nose" if nose == MINE else f"the nose of {nose}"
    words = f"as {whose} matched {len(matched)} of {len(film.oils)} oils"
    return Nose(loudness).heard(film), words


def _mine_now(journal: Journal) -> tuple[str, Loudness | None]:
    return _mine(journal, journal.written_of(AnswerRow))


# The journal itself is part of the key: a file in its place may hold as many rows
@lru_cache(maxsize=4)
def _mine(journal: Journal, state: tuple[int, ...]) -> tuple[str, Loudness | None]:
    kept = kept_answers(journal, LOUDNESS)
    if not kept:
        return _NOBODY
    whose = {each.row.nose for each in kept}
    nose = MINE if MINE in whose else kept[-1].row.nose
    return nose, match((), [each.read for each in kept if each.row.nose == nose])
