"""Damaged journals, and what plain SQLite still reads of them, asked without the package."""

from __future__ import annotations

import contextlib
import random
import sqlite3
from pathlib import Path


def damage_pages(path: Path, chance: random.Random) -> None:
    """Overwrite one to three places of a file with noise of one byte to two pages."""
    raw = bytearray(path.read_bytes())
    for _ in range(chance.randint(1, 3)):
        size = chance.choice((1, 2, 16, 300, 4096, 8192))
        place = chance.randrange(len(raw) - size)
        raw[place : place + size] = chance.randbytes(size)
    path.write_bytes(raw)


def plain_rows(path: Path) -> set[tuple[str, str]]:
    """Table and id of every row that a scan from the front or the back of a table reads."""
    found: set[tuple[str, str]] = set()
    broken = (sqlite3.Error, UnicodeDecodeError)
    with contextlib.closing(sqlite3.connect(path)) as connection, contextlib.suppress(*broken):
        connection.text_factory = lambda raw: raw.decode(errors="replace")
        tables = connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")
        for (table,) in tables.fetchall():
            for order in ("", "DESC"):
                with contextlib.suppress(*broken):
                    rows = connection.execute(
                        f'SELECT * FROM "{table}" NOT INDEXED ORDER BY rowid {order}'
                    )
                    for row in rows:
                        found.add((table, row[0]))
    return found
