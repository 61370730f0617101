"""Everything in the journal as plain files in one zip: tables as CSV, blends as JSON.

Tables open in any spreadsheet, and no cell in them is taken for a formula (`journal.texts`).
All rows are there, corrected ones and corrections, so that `zip_import` can read them back into
this journal or another.
"""

from __future__ import annotations

import csv
import io
import json
import sqlite3
import zipfile
from collections.abc import Iterable, Sequence
from pathlib import Path

from blendkit.foundation.errors import Problem
from blendkit.foundation.whole_files import give_name, numbered, put_on_disk, temporary_file
from blendkit.journal import migrations
from blendkit.journal.errors import CannotJournal, in_words
from blendkit.journal.records import KINDS
from blendkit.journal.rows import Stored
from blendkit.journal.store import Journal, now
from blendkit.journal.text_codec import defused

FORMAT = "blendkit journal"
MANIFEST = "manifest.json"
READ_ME = "README.txt"
DOCUMENTS = "documents/"
DOCUMENT_COLUMN = ("versions", "document")  # kept as files of their own
ENCODING = "utf-8-sig"  # by its first bytes a spreadsheet knows UTF-8
_FOLDER = "journal exports"
_WORDS = """A blendkit journal, as plain files.

The .csv files hold one table each. A row is never changed: a correction is a row of its own
whose column "corrects" names the id of the row it corrects; the one with the highest "turn"
holds. "withdrawn" 1 says that it did not happen.

Where a text begins with = + - or @, an apostrophe stands before it, so that no spreadsheet
takes it for a formula. A text with characters that no file can hold is spelled out behind the
character U+FDD0.

documents/ holds each version of each blend, by the id of its row in versions.csv.
manifest.json says which version of the journal wrote this, and how many rows there are.

Reading these files back into a journal adds what is missing there and overwrites nothing.
"""


def table_columns(connection: sqlite3.Connection, table: str) -> list[sqlite3.Row]:
    """The columns a table's CSV file has, as `PRAGMA table_info` describes them."""
    connection.row_factory = sqlite3.Row
    columns = connection.execute(f"PRAGMA table_info({table})").fetchall()
    return [column for column in columns if (table, column["name"]) != DOCUMENT_COLUMN]


def export_journal(journal: Journal, target: Path | None = None) -> Path:
    """Write everything to a new zip file.

    Parameters
    ----------
    journal : Journal
    target : Path, optional
        Instead of a file named by the day in the maker's folder.

    Returns
    -------
    Path
        The file written. It did not exist before.

    Raises
    ------
    CannotJournal
        The name is taken or the file cannot be written.
    """
    folder = target.parent if target else journal.path.parent / _FOLDER
    day = now().date().isoformat()
    names = [target] if target else numbered(folder, f"journal {day}", ".zip")
    with in_words(folder):
        folder.mkdir(parents=True, exist_ok=True)
        with temporary_file(folder) as part:
            _write(journal, part)
            put_on_disk(part)
            for name in names:
                if give_name(part, name):
                    return name
    raise CannotJournal([Problem(str(target), "a file that is there already", "a new name")])


def _write(journal: Journal, file: Path) -> None:
    counts = {}
    with (
        journal.snapshot() as connection,
        zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as out,
    ):
        for kind in KINDS:
            table = kind.TABLE
            names = [column["name"] for column in table_columns(connection, table)]
            quoted = ", ".join(f'"{name}"' for name in names)
            rows = connection.execute(f"SELECT {quoted} FROM {table} ORDER BY turn, id")
            with (
                out.open(f"{table}.csv", "w") as member,
                io.TextIOWrapper(member, ENCODING, newline="") as text,
            ):
                write_table(text, names, rows)
            count = f"SELECT count(*) FROM {table}"
            counts[table] = connection.execute(count).fetchone()[0]
        for row in connection.execute("SELECT id, document FROM versions ORDER BY turn, id"):
            out.writestr(f"{DOCUMENTS}{row['id']}.json", row["document"])
        version = migrations.version_of(connection)
        manifest = {"format": FORMAT, "version": version, "rows": counts}
        out.writestr(MANIFEST, json.dumps(manifest, indent=1))
        out.writestr(READ_ME, _WORDS)


def write_table(
    text: io.TextIOBase, names: Sequence[str], rows: Iterable[Sequence[Stored]]
) -> None:
    """Write a table as CSV, its headings first."""
    writer = csv.writer(text, quoting=csv.QUOTE_ALL)
    writer.writerow(names)
    writer.writerows([_cell(value) for value in row] for row in rows)


def _cell(value: Stored) -> str:
    if value is None:
        return ""
    return defused(value) if isinstance(value, str) else repr(value)
