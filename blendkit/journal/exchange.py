"""Export of the store as one zip: a plain SQLite file to read back, and CSV tables for people.

Two kinds, which differ in what they hold:

- *Move* holds every row, corrected ones and corrections, with people and what they reported,
  the photos' files, and the blend in hand.
- *Share* holds blends with their versions, own lots and own materials: no people, no health, no
  stock and no prices. Blends that learners made in a class and blends that were withdrawn are
  left out, and the words of `WORDS`, in which somebody may be named, are left empty.

The SQLite file has our tables alone, without types, triggers or indexes, so that whoever reads
it can refuse everything else.

A spreadsheet takes a cell that begins with ``= + - @``, a tab or a line break for a formula
(https://owasp.org/www-community/attacks/CSV_Injection), also where it splits a cell at a
semicolon or a line break that it should not have split at. In the CSV files an apostrophe is
put before.
"""

import contextlib
import csv
import io
import json
import re
import sqlite3
import tempfile
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from blendkit.foundation.errors import Problem
from blendkit.foundation.whole_files import give_name, numbered, put_on_disk, temporary_file
from blendkit.journal import migrations, people_table, records
from blendkit.journal.errors import CannotJournal, in_words
from blendkit.journal.forgetting import EXPORTS
from blendkit.journal.hand_table import document_in
from blendkit.journal.photos import FOLDER, photo_file, picture_kind
from blendkit.journal.records import KINDS, Photo
from blendkit.journal.rows import columns_of
from blendkit.journal.store import Journal, now

READ_ME, STORE = "README.txt", "store.sqlite3"
SHARED = (records.BlendRow, records.Version, records.LotRow, records.OwnMaterialRow)
WORDS = {"blends": ("note",), "versions": ("why", "computer")}  # left empty in a Share
HAND = 'CREATE TABLE hand ("document")'  # of a Move: the blend in hand, without its steps
# At the start or after what may split a cell: blanks, apostrophes, then what starts a formula
_TO_DEFUSE = re.compile("(?:^|(?<=[;|\t\r\n]))( *)('*)(?=[=+\\-@\t\r\n＝＋－＠])")
_WORDS_TO_ALL = """A blendkit store. {kind}

store.sqlite3 is what blendkit reads back; that adds what is missing and overwrites nothing.

The .csv files hold the same, one table each, for people. A row is never changed: a correction
is a row of its own whose column "corrects" names the id of the row it corrects; the one with
the highest "turn" holds. "withdrawn" 1 says that it did not happen. Where a text begins with
= + - or @, an apostrophe is put before it, so that no spreadsheet takes it for a formula. Where
a text has characters that no file can hold, it is spelled out behind the character U+FDD0.
"""
_MOVE = "Everything: blends, bench, stock, prices, people, classes, and the photos in photos/."
_SHARE = "Blends and own materials to share: no people, no health, no stock, no prices."


class Exported(NamedTuple):
    """An export.

    Attributes
    ----------
    path : Path
        The file written.
    missing : tuple of str
        Paths of photos that are in no file on this computer, or in none that is a picture.
    """

    path: Path
    missing: tuple[str, ...]


def export_journal(
    journal: Journal, target: Path | None = None, *, people: bool = True
) -> Exported:
    """Write the store to a new zip file.

    Parameters
    ----------
    journal : Journal
    target : Path, optional
        Instead of a file named by the day in the maker's folder.
    people : bool, optional
        A Move with everything; else a Share. See the module.

    Raises
    ------
    CannotJournal
        The name is taken or the file cannot be written.
    """
    folder = target.parent if target else journal.path.parent / EXPORTS
    stem = f"{'move' if people else 'share'} {now().date().isoformat()}"
    names = [target] if target else numbered(folder, stem, ".zip")
    with in_words(folder):
        folder.mkdir(parents=True, exist_ok=True)
        with temporary_file(folder) as part:
            missing = _write(journal, part, people=people)
            put_on_disk(part)
            for name in names:
                if give_name(part, name):
                    return Exported(name, missing)
    raise CannotJournal([Problem(str(target), "a file that is there already", "a new name")])


def _write(journal: Journal, file: Path, *, people: bool) -> tuple[str, ...]:
    with (
        tempfile.TemporaryDirectory() as folder,
        zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, strict_timestamps=False) as out,
    ):
        plain = Path(folder) / STORE
        tables = [(kind.TABLE, columns_of(kind)) for kind in (KINDS if people else SHARED)]
        tables += [("people", people_table.COLUMNS)] if people else []
        with contextlib.closing(sqlite3.connect(plain, isolation_level=None)) as target:
            target.execute(f"PRAGMA application_id = {migrations.APPLICATION_ID}")
            target.execute(f"PRAGMA user_version = {migrations.NEWEST}")
            target.execute("BEGIN")
            with journal.snapshot() as source:
                for table, names in tables:
                    _copy_rows(table, names, source, target, everything=people)
                if people and (document := document_in(source)) is not None:
                    target.execute(HAND)
                    target.execute("INSERT INTO hand VALUES (?)", (json.dumps(document),))
                photos = journal.all(Photo) if people else []
            target.execute("COMMIT")
            for table, names in tables:
                _write_csv(table, names, target, out)
        out.write(plain, STORE)
        out.writestr(READ_ME, _WORDS_TO_ALL.format(kind=_MOVE if people else _SHARE))
        return tuple(_missing_photos(journal, photos, out))


def _copy_rows(
    table: str,
    names: Sequence[str],
    source: sqlite3.Connection,
    target: sqlite3.Connection,
    *,
    everything: bool,
) -> None:
    target.execute(plain_table(table, names))
    emptied = () if everything else WORDS.get(table, ())
    read = [f"'' AS \"{name}\"" if name in emptied else f'"{name}"' for name in names]
    which = "" if everything else _WITHOUT_PEOPLE.get(table, "")
    order = "rowid" if table == "people" else "turn, id"
    rows = source.execute(f"SELECT {', '.join(read)} FROM {table} {which} ORDER BY {order}")
    places = ", ".join("?" * len(names))
    target.executemany(f"INSERT INTO {table} VALUES ({places})", map(tuple, rows))


_LEFT_OUT = f"""(
  SELECT blend_id FROM versions WHERE why LIKE '%{records.MADE_IN_CLASS}%'
  UNION SELECT coalesce(this.corrects, this.id) FROM blends AS this WHERE this.withdrawn
  AND NOT EXISTS (SELECT 1 FROM blends AS later WHERE (later.turn, later.id) >
  (this.turn, this.id) AND later.corrects = coalesce(this.corrects, this.id)))"""
_WITHOUT_PEOPLE = {
    "blends": f"WHERE coalesce(corrects, id) NOT IN {_LEFT_OUT}",
    "versions": f"WHERE blend_id NOT IN {_LEFT_OUT}",
}


def plain_table(table: str, names: Sequence[str]) -> str:
    """The statement that makes a table of an export: names of columns and nothing else."""
    quoted = ", ".join(f'"{name}"' for name in names)
    return f"CREATE TABLE {table} ({quoted})"


def _write_csv(
    table: str, columns: Sequence[str], source: sqlite3.Connection, out: zipfile.ZipFile
) -> None:
    """Write a table as CSV, in UTF-8 that a spreadsheet recognises."""
    with (
        out.open(f"{table}.csv", "w") as member,
        io.TextIOWrapper(member, "utf-8-sig", newline="") as text,
    ):
        writer = csv.writer(text, quoting=csv.QUOTE_ALL)
        writer.writerow(columns)
        for row in source.execute(f"SELECT * FROM {table}"):
            writer.writerow([defused(c) if isinstance(c, str) else c for c in row])


def defused(text: str) -> str:
    """A text as a cell that no spreadsheet takes for a formula.

    Examples
    --------
    >>> defused("=1+1"), defused("'=1+1"), defused("'tis 2-1"), defused("a;=1+1")
    ("'=1+1", "''=1+1", "'tis 2-1", "a;'=1+1")
    """
    return _TO_DEFUSE.sub(r"\1'\2", text)


def _missing_photos(
    journal: Journal, photos: Iterable[Photo], out: zipfile.ZipFile
) -> Iterator[str]:
    """Put the photos' files in; the paths of those that cannot be."""
    for photo in photos:
        file, ending = photo_file(photo, journal.path.parent), ""
        if file is not None:
            with contextlib.suppress(OSError), file.open("rb") as content:
                # a path may come from elsewhere, and point at what is nobody's business
                ending = (picture_kind(content.read(16)) or ("", ""))[1]
        if file is not None and ending:
            out.write(file, f"{FOLDER}/{photo.id}{ending}", zipfile.ZIP_STORED)
        else:
            yield photo.path
