"""An export of the store as it comes in: a zip from anybody, and the SQLite file in it.

Only names that an export has are read, and sizes are limited before anything is unpacked. The
SQLite file is opened read-only with `trusted_schema` off
(https://www.sqlite.org/security.html). It is refused unless it holds plain tables alone, so
that no view, trigger or expression of somebody else is ever run. Its pages may name one another
so that reading never ends (https://www.sqlite.org/fileformat2.html, section 1.6): its list of
tables is read in so many steps at most, and its rows while they hold no more than the file.
"""

import io
import re
import shutil
import sqlite3
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import NoReturn

from blendkit.foundation.errors import Problem, Refused, near_miss, quoted
from blendkit.journal import migrations, people_table
from blendkit.journal.exchange import HAND, READ_ME, STORE, plain_table
from blendkit.journal.photos import FOLDER
from blendkit.journal.records import KINDS, Record
from blendkit.journal.rows import LONGEST_TEXT, Stored, columns_of

MOST_EXPANSION = 50  # as many bytes as that from each byte of the zip
LEAST_ROOM = 4_000_000  # bytes that any export may unpack to: small stores pack well
# bytes at once; a zip's directory is read whole, and some 10,000 photos fit
MOST_READ = 1 << 20
PHOTO = re.compile(rf"{FOLDER}/([0-9a-f]{{32}})\.(?:png|jpg)")
UNREADABLE = (
    zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, UnicodeError,
)  # fmt: skip
PEOPLE = people_table.TABLE
_LONGEST_SCHEMA = 100_000  # steps of SQLite's machine; ours takes some hundreds
_PACKED = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)


class BadExchange(Refused):
    """An export that cannot be read back. Nothing was added."""

    heading = "This file cannot be read into the store"


def refuse(where: str, got: str, needed: str, fix: str = "") -> NoReturn:
    """Refuse an export for one reason."""
    raise BadExchange([Problem(where, got, needed, fix)])


class ZipOfBoundedPieces(io.BufferedReader):
    """A file for `zipfile`, which would take a directory of any length into memory."""

    def __init__(self, file: Path) -> None:
        super().__init__(io.FileIO(file))

    def read(self, size: int | None = -1, /) -> bytes:
        """Bytes of the file."""
        if size is not None and size > MOST_READ:
            raise zipfile.BadZipFile("a directory of very many files")
        return super().read(size)


def refuse_strangers(source: Path, files: zipfile.ZipFile, folder: Path) -> None:
    """Refuse a zip that has other files than an export, or more than there is room for.

    Raises
    ------
    BadExchange
    """
    infos, zip_name = files.infolist(), source.name
    names = [info.filename for info in infos]
    if any(info.compress_type not in _PACKED for info in infos):
        refuse(zip_name, "a file packed in another way", "what an export writes")
    known = {READ_ME, STORE, "people.csv", *(f"{kind.TABLE}.csv" for kind in KINDS)}
    for name in names:
        if name not in known and not PHOTO.fullmatch(name):
            needed = "only files that an export has"
            refuse(zip_name, quoted(name), needed, near_miss(name, known))
    if len(set(names)) < len(names):
        refuse(zip_name, "two files of one name", "each file once")
    if STORE not in names:
        refuse(zip_name, f"no {STORE}", "an export of the store")
    size = sum(info.file_size for info in infos if not info.filename.endswith(".csv"))
    room = max(MOST_EXPANSION * source.stat().st_size, LEAST_ROOM)
    most = min(room, shutil.disk_usage(folder).free)
    if size > most:
        got = f"files that unpack to {size / 1e6:.0f} MB"
        refuse(zip_name, got, f"at most {most / 1e6:.0f} MB")


def unpack(files: zipfile.ZipFile, name: str, target: Path) -> Iterator[float]:
    """Unpack a file, never more of it than the zip's directory promised; how much is done."""
    size = files.getinfo(name).file_size
    with files.open(name) as packed, target.open("wb") as plain:
        while piece := packed.read(MOST_READ):
            plain.write(piece)
            yield plain.tell() / size


def opened(plain: Path) -> sqlite3.Connection:
    """A connection to the SQLite file of an export, which nobody writes to."""
    connection = sqlite3.connect(f"{plain.absolute().as_uri()}?mode=ro&immutable=1", uri=True)
    connection.row_factory = sqlite3.Row
    connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, 4 * LONGEST_TEXT)  # UTF-8
    connection.set_progress_handler(lambda: 1, _LONGEST_SCHEMA)
    connection.execute("PRAGMA trusted_schema=OFF")
    connection.execute("PRAGMA cell_size_check=ON")
    return connection


def plain_tables(source: sqlite3.Connection) -> tuple[list[type[Record]], int]:
    """The kinds that an export has a table of, where it has nothing but such; its version."""
    application, version = (
        source.execute(f"PRAGMA {name}").fetchone()[0]
        for name in ("application_id", "user_version")
    )
    if application != migrations.APPLICATION_ID:
        refuse(STORE, "a database of another program", "an export of the store")
    if version > migrations.NEWEST:
        needed = f"version {migrations.NEWEST} or older"
        refuse(STORE, f"version {version}", needed, "Update blendkit.")
    plain = {
        plain_table(kind.TABLE, [name for name in columns_of(kind)
                                 if name not in added_in(kind.TABLE, version)]): kind
        for kind in KINDS
    }  # fmt: skip
    schema = source.execute("SELECT type, name, sql FROM sqlite_schema").fetchall()
    for each, name, sql in schema:
        if (each, name, sql) in (("table", "hand", HAND), ("table", "people", PEOPLE)):
            continue
        if each != "table" or sql not in plain or name != plain[sql].TABLE:
            refuse(STORE, quoted(f"{each} {name}"), "only plain tables of an export")
    source.set_progress_handler(None, 0)
    found = {sql for _, _, sql in schema}
    return [kind for sql, kind in plain.items() if sql in found], version


def added_in(table: str, version: int) -> dict[str, Stored]:
    """What tables of an earlier version lack, as a migration fills it in."""
    return {"computer": ""} if version < 7 and table in ("versions", "batches") else {}
