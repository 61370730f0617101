"""Hostile zips, one of each structure or hundreds: bombs, lies, damage, other people's tables.

Each is small, and pretends to be an export of the store. All are invented.
"""

from __future__ import annotations

import contextlib
import io
import json
import random
import sqlite3
import struct
import tempfile
import warnings
import zipfile
from collections.abc import Callable
from pathlib import Path

from blendkit.journal.exchange import READ_ME, STORE, plain_table
from blendkit.journal.migrations import APPLICATION_ID, NEWEST
from blendkit.journal.records import KINDS
from blendkit.journal.rows import columns_of

PAGE = 4096
AT = "2026-11-25T10:00+00:00"


def store(*statements: str, rows: int = 0, text: str = "{}", where: int = 1) -> bytes:
    """The SQLite file of an export with so many events, and what somebody did to it."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / STORE
        with contextlib.closing(sqlite3.connect(file, isolation_level=None)) as plain:
            plain.execute("PRAGMA journal_mode=OFF")
            plain.execute(f"PRAGMA page_size={PAGE}")
            plain.execute(f"PRAGMA application_id={APPLICATION_ID}")
            plain.execute(f"PRAGMA user_version={NEWEST}")
            plain.execute("BEGIN")
            for kind in KINDS:
                plain.execute(plain_table(kind.TABLE, columns_of(kind)))
            session = ("f" * 32, 1, AT, None, 0, "Quay (invented)", AT, None, None)
            plain.execute("INSERT INTO sessions VALUES (?,?,?,?,?,?,?,?,?)", session)
            for number in range(rows):
                mark = (f"{number:032x}", where + number, AT, None, 0)
                row = (*mark, "f" * 32, "added", text, AT)
                plain.execute("INSERT INTO events VALUES (?,?,?,?,?,?,?,?,?)", row)
            plain.execute("COMMIT")
            for statement in statements:
                plain.execute(statement)
        return file.read_bytes()


def packed(content: bytes, **more: bytes) -> bytes:
    raw = io.BytesIO()
    with zipfile.ZipFile(raw, "w", zipfile.ZIP_DEFLATED) as out:
        out.writestr(STORE, content)
        for name, other in more.items():
            out.writestr(name.replace("__", "/").replace("_txt", ".txt"), other)
    return raw.getvalue()


def rows_of_nothing(chance: random.Random) -> bytes:
    """Many rows that are no records."""
    return packed(store(rows=chance.choice((300, 8000, 25_000)), text=chance.choice("{x")))


def deep_documents(chance: random.Random) -> bytes:
    piece = chance.choice(("[]", '{"a":1}', "0", '"x"', "1e308"))
    text = '{"a":[' + ",".join([piece] * (990_000 // (len(piece) + 1))) + "]}"
    deep = '{"a":' * 160_000
    return packed(store(rows=chance.choice((1, 4, 50)), text=chance.choice((text, deep))))


def long_texts(chance: random.Random) -> bytes:
    text = json.dumps({"a": chance.choice("x9 ") * chance.choice((900_000, 3_000_000))})
    return packed(store(rows=chance.choice((1, 3, 15)), text=text))


def no_references(chance: random.Random) -> bytes:
    change = "DELETE FROM sessions"
    return packed(store(change, rows=chance.choice((30, 8000)), text="{}"))


def nothing_but_zeros(chance: random.Random) -> bytes:
    return packed(bytes(chance.choice((100, 4_000_000, 100_000_000))))


def bombs_of_photos(chance: random.Random) -> bytes:
    photo = b"\x89PNG\r\n\x1a\n" + bytes(chance.choice((1000, 3_000_000, 50_000_000)))
    return packed(store(), **{f"photos__{'a' * 32}.png": photo})


def wrong_sum(chance: random.Random) -> bytes:
    content = bytearray(packed(store(rows=300, text=f'{{"a": "{chance.random()}"}}')))
    for _ in range(chance.choice((1, 3, 300))):
        content[chance.randrange(len(content))] ^= 1 << chance.randrange(8)
    return bytes(content)


def truncated(chance: random.Random) -> bytes:
    content = packed(store(rows=100))
    return content[: chance.randrange(len(content))]


def nested(chance: random.Random) -> bytes:
    content = store(rows=10)
    for _ in range(chance.choice((2, 3, 40))):
        content = packed(content)
    return content


ODD = ("../../escape.csv", "/etc/passwd", "C:\\boot.ini", "..\\up.csv", "run.sh", "a\0b",
       "", "photos/../x.png", "con", "events.csv/x", "x" * 60_000, "~")  # fmt: skip


def odd_names(chance: random.Random) -> bytes:
    return packed(store(), **{chance.choice(ODD): b"x"})


def links(chance: random.Random) -> bytes:
    raw = io.BytesIO()
    with zipfile.ZipFile(raw, "w") as out:
        info = zipfile.ZipInfo(chance.choice((STORE, READ_ME, f"photos/{'a' * 32}.png")))
        info.create_system, info.external_attr = 3, 0o120777 << 16
        out.writestr(info, chance.choice(("/etc/passwd", "../journal.sqlite3", "/dev/zero")))
        if info.filename != STORE:
            out.writestr(STORE, store())
    return raw.getvalue()


def twice(chance: random.Random) -> bytes:
    raw = io.BytesIO()
    with warnings.catch_warnings(), zipfile.ZipFile(raw, "w") as out:
        warnings.simplefilter("ignore")
        for _ in range(chance.choice((2, 300))):
            out.writestr(chance.choice((STORE, "events.csv")), b"x")
        out.writestr(STORE, store())
    return raw.getvalue()


def many_entries(chance: random.Random) -> bytes:
    """A directory of up to a million files, each of no bytes, written by hand for speed."""
    count = chance.choice((1000, 70_000, 400_000))
    begin = struct.pack("<4s4B4HL2L5H2L", b"PK\1\2", 20, 3, 20, 0, 0, 0, 0, 33, 0, 0, 0, 39, 0,
                        0, 0, 0, 0, 0)  # fmt: skip
    entries = b"".join(begin + b"photos/%032x" % number for number in range(count))
    end = struct.pack("<4s4H2LH", b"PK\5\6", 0, 0, count & 0xFFFF, count & 0xFFFF,
                      len(entries), 0, 0)  # fmt: skip
    return entries + end


def newer_or_foreign(chance: random.Random) -> bytes:
    version = chance.choice((NEWEST + 1, 2**31 - 1, -1, 0))
    change = (f"PRAGMA user_version={version}", "PRAGMA application_id=7")
    return packed(store(chance.choice(change), rows=chance.choice((3, 8000))))


def no_store(chance: random.Random) -> bytes:
    noise = chance.randbytes(chance.choice((0, 1, 99, 40_000)))
    content = chance.choice((noise, b"SQLite format 3\0" + noise, b"text " * 999))
    return chance.choice((content, packed(content), packed(store())[22:]))


TAMPERED = (
    "CREATE TRIGGER t AFTER INSERT ON events BEGIN DELETE FROM events; END",
    "CREATE VIEW songs AS SELECT * FROM events a, events b, events c, events d",
    "CREATE INDEX i ON events(kind)",
    "CREATE TABLE songs (title)",
    "CREATE VIRTUAL TABLE songs USING fts5(title)",
    "ALTER TABLE events ADD COLUMN more AS (length(kind))",
    "CREATE TABLE songs (a PRIMARY KEY, b UNIQUE) WITHOUT ROWID",
    "PRAGMA encoding='UTF-16'",
    "DROP TABLE events",
    "UPDATE events SET details = zeroblob(900000) WHERE turn < 9",
    "UPDATE events SET turn = 9223372036854775807",
    "UPDATE events SET corrects = id",
)


def tampered(chance: random.Random) -> bytes:
    return packed(store(chance.choice(TAMPERED), rows=chance.choice((3, 3000))))


def lies(chance: random.Random) -> bytes:
    """A directory that promises other sizes than there are."""
    content = store(rows=3000, text='{"a": "' + "x" * 300 + '"}')
    told = struct.pack("<L", chance.choice((0, 100, 2**31, 2**32 - 1)))
    return packed(content).replace(struct.pack("<L", len(content)), told)


def damaged(chance: random.Random) -> bytes:
    content = bytearray(store(rows=3000, text='{"a": "' + "x" * 300 + '"}'))
    for _ in range(chance.choice((1, 9, 90))):
        place = chance.randrange(len(content))
        content[place : place + 40] = chance.randbytes(len(content[place : place + 40]))
    return packed(bytes(content))


def _page(kind: int, cells: list[bytes], right: int = 0) -> bytes:
    """A b-tree page: https://www.sqlite.org/fileformat2.html, section 1.6."""
    head = struct.pack(">BHHHB", kind, 0, len(cells), PAGE - sum(map(len, cells)), 0)
    head += struct.pack(">L", right) if kind == 5 else b""
    places, at = b"", PAGE
    for cell in cells:
        at -= len(cell)
        places += struct.pack(">H", at)
    middle = head + places
    return middle + bytes(PAGE - len(middle) - sum(map(len, cells))) + b"".join(cells[::-1])


def shared_pages(chance: random.Random) -> bytes:
    """Twenty levels of pages that each name one and the same page below 400 times."""
    text = "x" * chance.choice((3, 900, 3000, 900_000))
    content = store(rows=chance.choice((1, 3)), text=json.dumps({"a": text}))
    with contextlib.closing(sqlite3.connect(":memory:")) as read:
        read.deserialize(content)
        root = read.execute(
            "SELECT rootpage FROM sqlite_schema WHERE name='events'"
        ).fetchone()[0]
    return packed(_entangled(content, root, chance.choice((1, 3, 15))))


def _entangled(content: bytes, root: int, levels: int) -> bytes:
    pages = [content[at : at + PAGE] for at in range(0, len(content), PAGE)]
    below = len(pages) + 1
    pages.append(pages[root - 1])  # the leaf
    for level in range(levels):
        cells = [struct.pack(">LB", below, 0x7F)] * 400
        pages.append(_page(5, cells, below))
        below = len(pages)
        if level == levels - 1:
            pages[root - 1] = pages.pop()
    first = bytearray(pages[0])
    first[28:32] = struct.pack(">L", len(pages))  # so many pages,
    first[92:96] = first[24:28]  # says the one who wrote last
    return bytes(first) + b"".join(pages[1:])


def endless_schema(chance: random.Random) -> bytes:
    """A list of tables whose pages name each other; SQLite reads all of it before anything."""
    content = store("CREATE TABLE songs (a UNIQUE)")
    with contextlib.closing(sqlite3.connect(":memory:")) as read:
        read.deserialize(content)
        row = read.execute("SELECT * FROM sqlite_schema WHERE type='index'").fetchone()
    body = b"".join(str(cell).encode() for cell in row[:3])
    kinds = [13 + 2 * len(str(cell)) for cell in row[:3]]
    record = bytes([6, *kinds, 1, 0]) + body + bytes([row[3]])
    cells = [bytes([len(record), number + 1]) + record for number in range(40)]
    pages = [content[at : at + PAGE] for at in range(0, len(content), PAGE)]
    old = pages[0]
    # the tables themselves move to a page of their own, the first child of the first page
    header = struct.unpack(">BHHHB", old[100:108])
    places = struct.unpack(f">{header[2]}H", old[108 : 108 + 2 * header[2]])
    tables = [old[at : at + 600] for at in places]
    leaf = _page(13, [_cell(one) for one in tables])
    pages += [leaf, _page(13, cells)]
    below = len(pages)
    for _ in range(chance.choice((1, 4, 12))):
        pages.append(_page(5, [struct.pack(">LB", below, 0x7F)] * 400, below))
        below = len(pages)
    root = _page(5, [struct.pack(">LB", len(content) // PAGE + 1, 0x7F)], below)
    first = bytearray(old[:100] + root[:14] + bytes(PAGE - 119) + root[-5:])
    first[105:107] = struct.pack(">H", PAGE - 5)
    first[28:32] = struct.pack(">L", len(pages))
    first[92:96] = first[24:28]
    return packed(bytes(first) + b"".join(pages[1:]))


def _cell(raw: bytes) -> bytes:
    size, at = raw[0], 1
    if size & 0x80:
        size, at = (size & 0x7F) << 7 | raw[1], 2
    return raw[: at + 1 + size]


def packed_otherwise(chance: random.Random) -> bytes:
    raw = io.BytesIO()
    with zipfile.ZipFile(raw, "w", chance.choice((zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA))) as out:
        out.writestr(STORE, store(rows=100))
    return raw.getvalue()


def locked(chance: random.Random) -> bytes:
    """A file that says it needs a password, or one of several disks."""
    content = bytearray(packed(store()))
    directory = content.rindex(b"PK\1\2")
    content[directory + chance.choice((8, 34))] |= 1
    return bytes(content)


def words_behind(chance: random.Random) -> bytes:
    raw = io.BytesIO(packed(store(rows=10)))
    with zipfile.ZipFile(raw, "a") as out:
        out.comment = chance.choice((b"x" * 65_535, b"PK\5\6" * 16_000, b"PK\5\6" + bytes(18)))
    return raw.getvalue()


KINDS_OF_ZIP: dict[str, Callable[[random.Random], bytes]] = {
    make.__name__.replace("_", " "): make
    for make in (
        rows_of_nothing, deep_documents, long_texts, no_references, nothing_but_zeros,
        bombs_of_photos, wrong_sum, truncated, nested, odd_names, links, twice, many_entries,
        newer_or_foreign, no_store, tampered, lies, damaged, shared_pages, endless_schema,
        packed_otherwise, locked, words_behind,
    )
}  # fmt: skip


def hostile_zip(seed: int) -> tuple[str, bytes]:
    """A zip of the structure that is next in turn, and the structure's name."""
    name = [*KINDS_OF_ZIP][seed % len(KINDS_OF_ZIP)]
    return name, KINDS_OF_ZIP[name](random.Random(seed))
