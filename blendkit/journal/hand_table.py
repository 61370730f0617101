"""The blend in hand and the line of its steps: the two tables that are not only added to.

One row holds the document as it is now and how far along the line it is; each step holds the
changes that it made. What was undone is cut off by the next change, and the oldest steps go.
"""

from __future__ import annotations

import contextlib
import json
import sqlite3
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any, NamedTuple

from blendkit.foundation.keep import parse_document
from blendkit.journal.rows import UNREADABLE

MOST_STEPS = 500


class HandRow(NamedTuple):
    """The document in hand, the number of this state, and the last step done."""

    document: dict[str, Any]
    turn: int
    step: int


class StepRow(NamedTuple):
    """A step: its changes as JSON, what it was, and the press that made it."""

    id: int
    changes: Any
    what: str
    press: str


def read_hand(store: sqlite3.Connection) -> HandRow | None:
    """What is in hand; None before anything was.

    Raises
    ------
    ValueError, TypeError, AttributeError, RecursionError
        All of `UNREADABLE`: the row is damaged.
    """
    row = store.execute("SELECT document, turn, step FROM hand").fetchone()
    return HandRow(parse_document(row["document"]), row["turn"], row["step"]) if row else None


def write_hand(store: sqlite3.Connection, document: Mapping[str, Any], step: int) -> None:
    """Put a document in hand, at a step of the line."""
    store.execute(
        "INSERT INTO hand (id, turn, document, step) VALUES (1, 1, ?, ?) ON CONFLICT (id) "
        "DO UPDATE SET turn = turn + 1, document = excluded.document, step = excluded.step",
        (json.dumps(document, allow_nan=False), step),
    )


def read_step(store: sqlite3.Connection, id: int) -> StepRow | None:
    """One step of the line; None where there is none, or none that can be read."""
    select = "SELECT id, changes, what, press FROM hand_steps WHERE id = ?"
    row = store.execute(select, (id,)).fetchone()
    with contextlib.suppress(*UNREADABLE):
        return StepRow(row["id"], json.loads(row["changes"]), row["what"], row["press"])
    return None


def write_step(store: sqlite3.Connection, step: StepRow) -> None:
    """Put a step at its place in the line; later ones are cut off, and the oldest go."""
    store.execute("DELETE FROM hand_steps WHERE id >= ? OR id <= ?",
                  (step.id, step.id - MOST_STEPS))  # fmt: skip
    store.execute(
        "INSERT INTO hand_steps (id, turn, changes, what, press, made_at) VALUES "
        "(?, (SELECT coalesce(max(turn), 0) + 1 FROM hand_steps), ?, ?, ?, ?)",
        (step.id, json.dumps(step.changes, allow_nan=False), step.what, step.press,
         datetime.now(UTC).isoformat()),
    )  # fmt: skip


def drop_step(store: sqlite3.Connection, id: int) -> None:
    """Take a step and all later ones out of the line."""
    store.execute("DELETE FROM hand_steps WHERE id >= ?", (id,))


def document_in(source: sqlite3.Connection) -> dict[str, Any] | None:
    """The document in hand of another store or export, where there is one to read."""
    with contextlib.suppress(sqlite3.Error, *UNREADABLE):
        return parse_document(source.execute("SELECT document FROM hand").fetchone()[0])
    return None


def take_over(store: sqlite3.Connection, document: Mapping[str, Any] | None) -> None:
    """Put another store's document in hand, unless something is in hand here."""
    if document is not None and not store.execute("SELECT 1 FROM hand").fetchone():
        write_hand(store, document, 0)
