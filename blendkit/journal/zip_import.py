"""Reading an export back: checked wholly first, then merged; nothing is overwritten.

A zip may come from anybody. Only names that an export has are read, none is ever unpacked to
the disk, and sizes are limited before anything is unpacked. The rows go into an empty journal
in memory first, of the version that wrote them; its own rules check them, and its own steps
bring them up to date. Only then does the maker's journal see them, in one transaction.
"""

from __future__ import annotations

import contextlib
import csv
import io
import json
import math
import re
import sqlite3
import zipfile
import zlib
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from blendkit.foundation.errors import Problem, Refused, near_miss, quoted
from blendkit.journal import migrations
from blendkit.journal.exchange import (
    DOCUMENT_COLUMN,
    DOCUMENTS,
    ENCODING,
    FORMAT,
    MANIFEST,
    READ_ME,
    table_columns,
)
from blendkit.journal.ledger import put_row
from blendkit.journal.records import KINDS
from blendkit.journal.rows import Stored, read
from blendkit.journal.store import Journal
from blendkit.journal.text_codec import undefused

MOST_BYTES = 256_000_000  # unpacked, all files together
MOST_FILES = 100_000
MOST_PROBLEMS = 20
MOST_COUNT = 2**53  # the journal counts on from the largest turn, and needs room for that
_DOCUMENT = re.compile(rf"{DOCUMENTS}[0-9a-f]{{32}}\.json")
_ID = re.compile("[0-9a-f]{32}")
_UNREADABLE = (
    zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, OSError,
    UnicodeError, csv.Error,
)  # fmt: skip
_PACKED = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_NO_MANIFEST = (
    ValueError, TypeError, KeyError, AttributeError, OverflowError, RecursionError,
)  # fmt: skip


class BadExchange(Refused):
    """An export that cannot be read back. Nothing was added."""

    heading = "These files cannot be read into the journal"


def import_journal(journal: Journal, source: Path) -> dict[str, int]:
    """Add what an export has and the journal has not.

    Parameters
    ----------
    journal : Journal
    source : Path
        A zip that `exchange.export_journal` wrote.

    Returns
    -------
    dict of str to int
        Rows added, by table.

    Raises
    ------
    BadExchange
        Lists what is wrong. Nothing was added.
    CannotJournal
        The journal cannot be written. Nothing was added.
    """
    with contextlib.closing(sqlite3.connect(":memory:", isolation_level=None)) as scratch:
        try:
            with zipfile.ZipFile(source) as files:
                _refuse_strangers(source.name, files)
                _fill(scratch, source.name, files)
        except _UNREADABLE as error:
            needed = "a zip file that the journal's export wrote"
            raise BadExchange([Problem(str(source), str(error), needed)]) from error
        migrations.take_steps(scratch)
        _refuse(_content_problems(scratch))
        return _merge(journal, scratch)


def _refuse(problems: Iterator[Problem] | Sequence[Problem]) -> None:
    found = list(problems)
    if len(found) > MOST_PROBLEMS:
        more = len(found) - MOST_PROBLEMS
        found = [*found[:MOST_PROBLEMS], Problem("further on", f"{more} more", "none of these")]
    if found:
        raise BadExchange(found)


def _refuse_strangers(zip_name: str, files: zipfile.ZipFile) -> None:
    names = files.namelist()
    size = sum(info.file_size for info in files.infolist())
    if any(info.compress_type not in _PACKED for info in files.infolist()):
        _refuse([Problem(zip_name, "a file packed in another way", "what an export writes")])
    if len(names) > MOST_FILES or size > MOST_BYTES:
        got = f"{len(names)} files that unpack to {size / 1e6:.0f} MB"
        needed = f"at most {MOST_FILES} files and {MOST_BYTES / 1e6:.0f} MB"
        _refuse([Problem(zip_name, got, needed)])
    known = {MANIFEST, READ_ME, DOCUMENTS, *(f"{kind.TABLE}.csv" for kind in KINDS)}
    strange = [name for name in names if name not in known and not _DOCUMENT.fullmatch(name)]
    needed = "only files that an export has"
    _refuse(
        [Problem(zip_name, quoted(name), needed, near_miss(name, known)) for name in strange]
    )
    if len(set(names)) < len(names):
        _refuse([Problem(zip_name, "two files of one name", "each file once")])
    if MANIFEST not in names:
        _refuse([Problem(zip_name, f"no {MANIFEST}", "all the files of an export")])


# --- the files, into a journal in memory ---------------------------------------------------


def _fill(scratch: sqlite3.Connection, zip_name: str, files: zipfile.ZipFile) -> None:
    version, counts = _manifest(files)
    migrations.take_steps(scratch, version)
    problems: list[Problem] = []
    tables = [kind.TABLE for kind in KINDS if table_columns(scratch, kind.TABLE)]
    documents = _documents(files)
    for table in _later_tables(files, counts, tables):
        got, needed = f"a table that version {version} did not have", "its own tables only"
        problems.append(Problem(f"{table}.csv", got, needed))
    for table in tables:
        rows, found = _rows(scratch, files, table, counts)
        problems += found
        if table == DOCUMENT_COLUMN[0]:
            problems += _add_documents(rows, documents)
        problems += _insert(scratch, table, rows) if not found else []
    for name in documents:
        problems.append(Problem(name, "a document without a row", "a row in versions.csv"))
    for row in scratch.execute("PRAGMA foreign_key_check") if not problems else []:
        needed = f"only references to rows of {row['parent']}.csv"
        problems.append(Problem(f"{row['table']}.csv", "one that is not there", needed))
    _refuse(problems)


def _manifest(files: zipfile.ZipFile) -> tuple[int, Mapping[str, int]]:
    try:
        manifest: Any = json.loads(files.read(MANIFEST))
        version, counts = manifest["version"], manifest["rows"]
        is_ours = manifest["format"] == FORMAT and isinstance(version, int) and version > 0
        counts = {str(table): int(count) for table, count in counts.items()}
    except _NO_MANIFEST:
        is_ours, version, counts = False, 0, {}
    if not is_ours:
        _refuse([Problem(MANIFEST, "something else", f"what an export of a {FORMAT} says")])
    if version > migrations.NEWEST:
        got, needed = f"version {version}", f"version {migrations.NEWEST} or older"
        _refuse([Problem(MANIFEST, got, needed, "Update blendkit.")])
    return version, counts


def _later_tables(
    files: zipfile.ZipFile, counts: Mapping[str, int], tables: Sequence[str]
) -> list[str]:
    there = {name.removesuffix(".csv") for name in files.namelist() if name.endswith(".csv")}
    return sorted((there | counts.keys()) - set(tables))


def _documents(files: zipfile.ZipFile) -> dict[str, str]:
    names = [name for name in files.namelist() if _DOCUMENT.fullmatch(name)]
    return {name: files.read(name).decode("utf-8") for name in names}


def _add_documents(rows: list[dict[str, Stored]], documents: dict[str, str]) -> list[Problem]:
    problems = []
    for row in rows:
        name = f"{DOCUMENTS}{row['id']}.json"
        if name in documents:
            row[DOCUMENT_COLUMN[1]] = documents.pop(name)
        else:
            problems.append(Problem(name, "no such file", "the document of that version"))
    return problems


def _rows(
    scratch: sqlite3.Connection, files: zipfile.ZipFile, table: str, counts: Mapping[str, int]
) -> tuple[list[dict[str, Stored]], list[Problem]]:
    file = f"{table}.csv"
    if file not in files.namelist():
        return [], [Problem(file, "no such file", "all the files of an export")]
    columns = table_columns(scratch, table)
    names = [column["name"] for column in columns]
    headings, *lines = _lines(files.read(file).decode(ENCODING)) or [[]]
    if headings != names:
        got = quoted(", ".join(headings), longest=120)
        return [], [Problem(f"{file}, headings", got, ", ".join(names))]
    problems = []
    if len(lines) != counts.get(table):
        needed = f"{counts.get(table)}, as {MANIFEST} says"
        problems.append(Problem(file, f"{len(lines)} rows", needed))
    rows = []
    for number, line in enumerate(lines, start=1):
        if len(line) != len(names):
            needed = f"{len(names)}, as in the headings"
            problems.append(Problem(f"{file}, row {number}", f"{len(line)} cells", needed))
            continue
        row, found = _row(f"{file}, row {number}", columns, line)
        problems += found
        rows += [row] if "id" in row else []
    return rows, problems


def _row(
    where: str, columns: Sequence[sqlite3.Row], line: Sequence[str]
) -> tuple[dict[str, Stored], list[Problem]]:
    row: dict[str, Stored] = {}
    problems = []
    for column, cell in zip(columns, line, strict=True):
        try:
            row[column["name"]] = _value(column, cell)
        except ValueError:
            place = f"{where}, column {column['name']}"
            problems.append(Problem(place, quoted(cell), _NEEDED[column["type"]]))
    return row, problems


_NEEDED = {"TEXT": "an id of an export", "INTEGER": "a whole number", "REAL": "a finite number"}


def _lines(text: str) -> list[list[str]]:
    longest = csv.field_size_limit(MOST_BYTES)
    try:
        return list(csv.reader(io.StringIO(text, newline=""), strict=True))
    finally:
        csv.field_size_limit(longest)


def _value(column: sqlite3.Row, cell: str) -> Stored:
    if not cell and not column["notnull"]:
        return None
    if column["type"] == "TEXT":
        if column["name"] == "id" and not _ID.fullmatch(cell):
            raise ValueError(cell)
        return undefused(cell)
    if column["type"] == "INTEGER":
        number = int(cell)
        if abs(number) > MOST_COUNT:
            raise ValueError(cell)
        return number
    figure = float(cell)
    if not math.isfinite(figure):
        raise ValueError(cell)
    return figure


def _insert(
    connection: sqlite3.Connection, table: str, rows: Sequence[Mapping[str, Stored]]
) -> Iterator[Problem]:
    """Put rows in, those first that others correct."""
    for row in sorted(rows, key=lambda row: (row["turn"], row["id"])):
        try:
            put_row(connection, table, row)
        except sqlite3.IntegrityError as error:
            where = f"{table}.csv, the row {row['id']}"
            yield Problem(where, str(error), "a row that keeps the journal's rules")


# --- the journal in memory, into the maker's -----------------------------------------------


def _content_problems(scratch: sqlite3.Connection) -> Iterator[Problem]:
    for kind in KINDS:
        for row in scratch.execute(f"SELECT * FROM {kind.TABLE} ORDER BY turn, id"):
            try:
                read(kind, dict(row))
            except (ValueError, RecursionError) as error:
                where = f"{kind.TABLE}.csv, the row {row['id']}"
                yield Problem(where, str(error), "what an export writes")


def _merge(journal: Journal, scratch: sqlite3.Connection) -> dict[str, int]:
    added = {}
    problems: list[Problem] = []
    with journal.transaction() as connection:
        # A row may refer to one that comes later; all are there at the end
        connection.execute("PRAGMA defer_foreign_keys=ON")
        for kind in KINDS:
            table = kind.TABLE
            there = {row["id"]: row for row in connection.execute(f"SELECT * FROM {table}")}
            new = []
            for row in scratch.execute(f"SELECT * FROM {table}"):
                if row["id"] not in there:
                    new.append(dict(row))
                elif tuple(row) != tuple(there[row["id"]]):
                    where = f"{table}.csv, the row {row['id']}"
                    needed = "what the journal has under this id, which is never overwritten"
                    problems.append(Problem(where, "something else", needed))
            problems += _insert(connection, table, new)
            added[table] = len(new)
        _refuse(problems)
    return added
