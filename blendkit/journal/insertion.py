"""One row into a table of the journal, by our own statements."""

import sqlite3
import uuid
from collections.abc import Mapping
from datetime import UTC, datetime

from blendkit.journal.records import AnyRecord
from blendkit.journal.rows import Stored, read, written


def insert(
    connection: sqlite3.Connection,
    record: AnyRecord,
    corrects: str = "",
    withdrawn: bool = False,
    id: str = "",
) -> AnyRecord:
    """Write a record as one row and read it back.

    Raises
    ------
    BadRecord
        Lists every field that cannot be kept.
    """
    row = {
        **next_row(connection, record.TABLE),
        "corrects": corrects or None,
        "withdrawn": int(withdrawn),
        **written(record),
    }
    row["id"] = id or row["id"]
    put_row(connection, record.TABLE, row)
    return read(type(record), row)


def new_id() -> str:
    """An id that no other row has."""
    return uuid.uuid4().hex


def next_row(connection: sqlite3.Connection, table: str) -> dict[str, Stored]:
    """What the next row of a table begins with: id, turn and moment."""
    turn = connection.execute(f"SELECT max(turn) FROM {table}").fetchone()[0] or 0
    recorded_at = datetime.now(UTC).isoformat()
    return {"id": new_id(), "turn": turn + 1, "recorded_at": recorded_at}


def put_row(
    connection: sqlite3.Connection, table: str, row: Mapping[str, Stored | bytes]
) -> None:
    """Write a whole row as it is, also bytes that are no text."""
    names = ", ".join(f'"{name}"' for name in row)
    places = ", ".join(
        "CAST(? AS TEXT)" if isinstance(cell, bytes) else "?" for cell in row.values()
    )
    connection.execute(f"INSERT INTO {table} ({names}) VALUES ({places})", list(row.values()))
