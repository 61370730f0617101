"""Worst time, memory and words of each door, over hostile documents and zips.

    python tests/benchmarks/doors_benchmark.py 10000 500

Each door runs in a process of its own, so that its memory beyond the start can be told.
"""

from __future__ import annotations

import contextlib
import io
import json
import multiprocessing
import random
import resource
import sqlite3
import sys
import tempfile
import time
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import blendkit as bk
from blendkit.batch.packs import read_packs
from blendkit.foundation import data
from blendkit.foundation.errors import BlendkitError
from blendkit.foundation.keep import parse_document
from blendkit.journal.exchange import STORE, plain_table
from blendkit.journal.merge import import_journal
from blendkit.journal.migrations import APPLICATION_ID, NEWEST
from blendkit.journal.records import KINDS
from blendkit.journal.rows import columns_of
from blendkit.journal.store import open_journal
from blendkit.teaching.class_reader import read_class
from blendkit.teaching.hand_in import gather

BLEND = bk.example_document()
WORDS = ("lavendar", "x", "d ", "[", "-", "9", "٣", "\U0001f4a7", "<b>", "=1+1", "%", "\n")


def hostile(chance: random.Random) -> Any:
    """A value that is long, deep, wide or odd."""
    size = chance.choice((1, 20, 400, 3000, 30_000))
    word = chance.choice(WORDS)
    return chance.choice(
        (
            lambda: word * size,
            lambda: [{"id": f"{word}{number}"} for number in range(size)],
            lambda: {
                f"{word}{number}": chance.choice((1, -1, "x", None)) for number in range(size)
            },
            lambda: [word] * size,
            lambda: 10 ** min(size, 4000),
            lambda: nested(min(size, 900)),
            lambda: float("1e308"),
            lambda: None,
        )
    )()


def nested(depth: int) -> Any:
    value: Any = {}
    for _ in range(depth):
        value = [value]
    return value


def spoilt(document: dict[str, Any], chance: random.Random) -> dict[str, Any]:
    made = dict(document)
    for _ in range(chance.randint(1, 3)):
        made[chance.choice([*made, "more"])] = hostile(chance)
    return made


def blends(chance: random.Random) -> str:
    return answered(lambda: bk.drop_table(bk.Blend.from_dict(spoilt(BLEND, chance))))


def classes(chance: random.Random) -> str:
    return answered(lambda: read_class(spoilt(data.example_class(), chance)))


def documents(chance: random.Random) -> str:
    text = json.dumps(spoilt(BLEND, chance))
    try:
        return str(len(parse_document(text)))
    except (ValueError, RecursionError) as error:
        return str(error)


def pastes(chance: random.Random) -> str:
    line = chance.choice(("Linalool {} %", "97-53-0 Eugenol {}", "{}", "d d d d {}", "a\t{}\t"))
    count = chance.choice((1, 30, 2000, 20_000))
    text = "\n".join(line.format(hostile_text(chance)) for _ in range(min(count, 50)))
    return answered(lambda: bk.read_analysis((text + "\n") * (count // 50 + 1)))


def hostile_text(chance: random.Random) -> str:
    return chance.choice(WORDS) * chance.choice((1, 5, 100, 1000))


def price_lists(chance: random.Random) -> str:
    row = {"material": "lavender", "size": "10 mL", "price": 5, "currency": "EUR"}
    rows = [spoilt_row(row, chance) for _ in range(chance.choice((1, 30, 900, 30_000)))]
    return answered(lambda: read_packs(rows))


def spoilt_row(row: dict[str, Any], chance: random.Random) -> dict[str, Any]:
    return row | {chance.choice([*row]): chance.choice(WORDS) * chance.choice((1, 40))}


def hand_ins(chance: random.Random) -> str:
    with tempfile.TemporaryDirectory() as folder:
        for number in range(20):
            content = json.dumps({"seat": number, "blend": spoilt(BLEND, chance)})
            (Path(folder) / f"{number}.json").write_text(content, encoding="utf-8")
        found = gather(Path(folder))
        return max((each.problem for each in found.seats), key=len)


def zips(chance: random.Random) -> str:
    with tempfile.TemporaryDirectory() as folder, open_journal(Path(folder)) as journal:
        file = Path(folder) / "bad.zip"
        file.write_bytes(bomb(chance))
        try:
            added = import_journal(journal, file)
            return "\n".join(added.passed_by)
        except BlendkitError as error:
            return str(error)


def bomb(chance: random.Random) -> bytes:
    """A zip of at most some hundred kilobytes that unpacks to much, or is odd."""
    with tempfile.TemporaryDirectory() as folder:
        plain = Path(folder) / STORE
        with contextlib.closing(sqlite3.connect(plain)) as store:
            store.execute(f"PRAGMA application_id={APPLICATION_ID}")
            store.execute(f"PRAGMA user_version={NEWEST}")
            for kind in KINDS:
                store.execute(plain_table(kind.TABLE, columns_of(kind)))
            text = json.dumps({"a": hostile(chance)})[: chance.choice((100, 10_000, 990_000))]
            if chance.random() < 0.5:
                text = '{"a":' + "[]," * chance.choice((10, 30_000, 300_000))
            at = "2026-11-25T10:00+00:00"
            for number in range(chance.choice((1, 4, 300, 3000))):
                mark = (f"{number:032x}", number + 1, at, None, 0)
                row = (*mark, "x" * 32, "added", text, at)
                store.execute("INSERT INTO events VALUES (?,?,?,?,?,?,?,?,?)", row)
                if plain.stat().st_size > 60_000_000:
                    break
            store.commit()
        raw = io.BytesIO()
        with zipfile.ZipFile(raw, "w", zipfile.ZIP_DEFLATED) as out:
            out.write(plain, STORE)
        packed = bytearray(raw.getvalue())
        if chance.random() < 0.3:
            packed[chance.randrange(len(packed))] ^= 0xFF
        return bytes(packed)


def answered(ask: Callable[[], object]) -> str:
    try:
        return str(type(ask()))
    except BlendkitError as error:
        return str(error)


DOORS = {
    "blend documents": blends,
    "classes": classes,
    "documents at the store": documents,
    "pasted analyses": pastes,
    "price lists": price_lists,
    "twenty hand-ins": hand_ins,
    "zips": zips,
}


def knock(name: str, times: int, answers: Any) -> None:
    door = DOORS[name]
    door(random.Random(0))  # whatever is loaded once is no cost of the input
    start_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    worst_s, most_words, slowest = 0.0, 0, 0
    for seed in range(1, times + 1):
        chance = random.Random(seed)
        begun = time.perf_counter()
        said = door(chance)
        seconds = time.perf_counter() - begun
        if seconds > worst_s:
            worst_s, slowest = seconds, seed
        most_words = max(most_words, len(said))
    beyond_mb = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - start_kb) / 1024
    answers.put((worst_s, beyond_mb, most_words, slowest))


def main(inputs: int, zip_files: int) -> None:
    print("door                    tried  worst s  MB beyond start  most characters  seed")
    for name in DOORS:
        times = zip_files if name == "zips" else inputs // (len(DOORS) - 1)
        times = max(1, times // 20) if name == "twenty hand-ins" else times
        fresh = multiprocessing.get_context("spawn")
        answers = fresh.Queue()
        process = fresh.Process(target=knock, args=(name, times, answers))
        process.start()
        worst_s, beyond_mb, words, seed = answers.get()
        process.join()
        print(f"{name:22s} {times:6d} {worst_s:8.2f} {beyond_mb:16.0f} {words:16d} {seed:5d}")


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
