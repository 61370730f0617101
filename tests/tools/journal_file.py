"""What a journal's file holds, asked without the package: by a connection of the test's own."""

from __future__ import annotations

import contextlib
import sqlite3
from pathlib import Path
from typing import Any


def ask(path: Path, query: str) -> list[sqlite3.Row]:
    """The rows that a query finds in a journal's file."""
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.row_factory = sqlite3.Row
        connection.text_factory = lambda raw: raw.decode(errors="backslashreplace")
        return connection.execute(query).fetchall()


def value(path: Path, query: str) -> Any:
    """The first cell that a query finds, such as a pragma of the file."""
    return ask(path, query)[0][0]


def rows_of(path: Path) -> dict[tuple[str, str], dict[str, Any]]:
    """Every cell of every table, by table and id."""
    tables = ask(path, "SELECT name FROM sqlite_schema WHERE type = 'table'")
    return {
        (table, row["id"]): dict(row)
        for (table,) in tables
        for row in ask(path, f"SELECT * FROM {table}")
    }


def schema_of(path: Path) -> set[tuple[str, str, str]]:
    """Tables, indexes and triggers with what made them."""
    select = "SELECT type, name, sql FROM sqlite_schema WHERE sql IS NOT NULL"
    # SQLite versions differ in how they space what ALTER TABLE added
    return {(kind, name, " ".join(sql.split())) for kind, name, sql in ask(path, select)}
