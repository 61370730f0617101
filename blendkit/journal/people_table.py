"""People who got a bottle and what they reported: the table that can forget.

Its rows are rewritten, which the journal's are not. A person who was forgotten stays as an id
with an empty document: handovers that name the id keep the trail of a lot, and no row of an
older export or backup fills the document again. The table's own triggers see to that.
"""

from __future__ import annotations

import contextlib
import json
import sqlite3
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from typing import Any, NamedTuple

from blendkit.foundation.keep import parse_document
from blendkit.journal.rows import ID, LONGEST_TEXT, UNREADABLE

COLUMNS = ("id", "turn", "document", "forgotten", "changed_at")
TABLE = 'CREATE TABLE people ("id", "turn", "document", "forgotten", "changed_at")'  # of a Move
FIELDS = ("name", "contact", "note")
REACTION = ("what", "serious", "noticed_on", "heard_on", "handover", "region")
MOST_TURN = 2**53
_LIVE = "SELECT id FROM people WHERE NOT forgotten"
# not emptied, or emptied in a file that may still hold the bytes
_UNCLEAN = f"{_LIVE} OR changed_at = ''"


class Person(NamedTuple):
    """A row of the table.

    Attributes
    ----------
    document : dict
        Texts of `FIELDS`, and "reactions" by id, each with texts of `REACTION`; empty once
        forgotten.
    changed_at : str
        Empty from the moment a person is forgotten until the file holds no trace of them.
    """

    id: str
    turn: int
    document: dict[str, Any]
    forgotten: bool
    changed_at: str


def read_person(row: Mapping[str, Any] | sqlite3.Row) -> Person:
    """A row of this store, another one or an export.

    Raises
    ------
    ValueError, TypeError, AttributeError, RecursionError
        It is none; all of `UNREADABLE`.
    """
    id, turn, document, forgotten, changed_at = (row[name] for name in COLUMNS)
    if not ID.fullmatch(id) or not isinstance(turn, int) or not 0 < turn <= MOST_TURN:
        raise ValueError("no id or turn of a person")
    if forgotten not in (0, 1) or len(document) > LONGEST_TEXT or len(changed_at) > 40:
        raise ValueError("no document of a person")
    if forgotten:
        return Person(id, turn, {}, True, changed_at)
    found = parse_document(document)
    reactions = found.get("reactions")
    known = reactions.items() if isinstance(reactions, dict) else ()
    kept = {key: _texts(each, REACTION) for key, each in known if isinstance(each, dict)}
    tidy = {**_texts(found, FIELDS), "reactions": kept}
    return Person(id, turn, tidy, False, changed_at)


def _texts(given: Mapping[str, Any], names: Iterable[str]) -> dict[str, str]:
    return {name: given[name] if isinstance(given.get(name), str) else "" for name in names}


def read_people(store: sqlite3.Connection) -> list[Person]:
    """Everybody on record who can be read; those forgotten have an empty document."""
    found = []
    for row in store.execute("SELECT * FROM people ORDER BY rowid"):
        with contextlib.suppress(*UNREADABLE):
            found.append(read_person(row))
    return found


def put_person(store: sqlite3.Connection, id: str, document: Mapping[str, Any]) -> None:
    """Write a person's document, over the one before.

    Raises
    ------
    sqlite3.IntegrityError
        The person was forgotten.
    """
    row = store.execute("SELECT turn FROM people WHERE id = ?", (id,)).fetchone()
    turn, now = row[0] + 1 if row else 1, datetime.now(UTC).isoformat()
    _put(store, Person(id, turn, dict(document), False, now))


def forget_people(store: sqlite3.Connection, ids: Iterable[str], changed_at: str = "") -> None:
    """Empty documents for good, also of people who are not on record here."""
    for id in ids:
        row = store.execute("SELECT turn FROM people WHERE id = ?", (id,)).fetchone()
        _put(store, Person(id, row[0] if row else 1, {}, True, changed_at))


def take_people(store: sqlite3.Connection, rows: Iterable[Any]) -> tuple[int, list[str]]:
    """Merge rows of elsewhere; how many changed something, and ids of those that are no row.

    Forgotten anywhere is forgotten. Of two documents the one that was changed more often
    holds, with the reactions of both.
    """
    changed, odd = 0, []
    for row in rows:
        try:
            theirs = read_person(row)
            select = "SELECT * FROM people WHERE id = ?"
            there = store.execute(select, (theirs.id,)).fetchone()
            before = read_person(there) if there else None
            after = _merged(before, theirs)
            if after != before:
                _put(store, after)
                changed += 1
        except UNREADABLE:
            odd.append(f"{row['id']!s:.40}")
    return changed, odd


def _merged(mine: Person | None, theirs: Person) -> Person:
    if mine is None or mine.forgotten:
        return mine or theirs
    if theirs.forgotten:
        return theirs._replace(turn=max(mine.turn, theirs.turn), changed_at="")
    older, newer = (theirs, mine) if theirs.turn <= mine.turn else (mine, theirs)
    reactions = {**older.document["reactions"], **newer.document["reactions"]}
    return newer._replace(document={**newer.document, "reactions": reactions})


def unclean_ids(store: sqlite3.Connection) -> set[str]:
    """People of whom a file holds anything, or may; none in a store without the table."""
    return _ids(store, _UNCLEAN)


def forgotten_ids(store: sqlite3.Connection) -> set[str]:
    """People who were forgotten."""
    return _ids(store, "SELECT id FROM people WHERE forgotten")


def has_people(store: sqlite3.Connection) -> bool:
    """True where anybody is on record."""
    return bool(_ids(store, _LIVE))


def drop_people(store: sqlite3.Connection) -> None:
    """Take everybody out, for a copy without people; the ids of those forgotten stay."""
    store.execute("DELETE FROM people WHERE NOT forgotten")


def _ids(store: sqlite3.Connection, select: str) -> set[str]:
    if not store.execute("SELECT 1 FROM sqlite_schema WHERE name = 'people'").fetchone():
        return set()
    return {row[0] for row in store.execute(select)}


def _put(store: sqlite3.Connection, person: Person) -> None:
    document = json.dumps(person.document, allow_nan=False)
    if len(document) > LONGEST_TEXT:
        raise ValueError("a document that is too long")
    values = (person.turn, document, person.forgotten, person.changed_at, person.id)
    update = "UPDATE people SET turn = ?, document = ?, forgotten = ?, changed_at = ?"
    if not store.execute(f"{update} WHERE id = ?", values).rowcount:
        names = "turn, document, forgotten, changed_at, id"
        store.execute(f"INSERT INTO people ({names}) VALUES (?, ?, ?, ?, ?)", values)
