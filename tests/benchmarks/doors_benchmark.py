"""Worst time, memory and words of each door, over hostile documents and zips.

    python -m tests.benchmarks.doors_benchmark 10000 500

Each door runs in a process of its own, so that its memory beyond the start can be told. Zips
are made by another process, one at a time; told is the time until the answer, no or what was
added, and the longest that the page had to wait within it. Times are of the processor, so that
they say the same on a busy machine; the clock's time is beside them.
"""

from __future__ import annotations

import json
import multiprocessing
import random
import resource
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import blendkit as bk
from blendkit.batch.packs import read_packs
from blendkit.foundation import data
from blendkit.foundation.errors import BlendkitError
from blendkit.foundation.keep import parse_document
from blendkit.journal.merge import Import
from blendkit.journal.store import open_journal
from blendkit.teaching.class_reader import read_class
from blendkit.teaching.hand_in import gather
from tests.tools.hostile_zips import hostile_zip

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
}


def knock(name: str, times: int, answers: Any) -> None:
    door = DOORS[name]
    door(random.Random(0))  # whatever is loaded once is no cost of the input
    start_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    worst_s, clock_s, most_words, slowest = 0.0, 0.0, 0, 0
    for seed in range(1, times + 1):
        chance = random.Random(seed)
        begun, at = time.process_time(), time.perf_counter()
        said = door(chance)
        seconds = time.process_time() - begun
        clock_s = max(clock_s, time.perf_counter() - at)
        if seconds > worst_s:
            worst_s, slowest = seconds, seed
        most_words = max(most_words, len(said))
    beyond_mb = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - start_kb) / 1024
    answers.put((worst_s, clock_s, beyond_mb, most_words, slowest))


def made(seed: int, file: Path) -> str:
    name, content = hostile_zip(seed)
    file.write_bytes(content)
    return name


class Answer(NamedTuple):
    """Of one zip."""

    is_no: bool
    seconds: float
    clock_s: float
    longest_step_s: float
    characters: int
    beyond_mb: float


def asked_to_import(file: Path, answers: Any) -> None:
    with tempfile.TemporaryDirectory() as folder, open_journal(Path(folder)) as journal:
        start_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        at = time.perf_counter()
        begun = before = time.process_time()
        longest_s, is_no = 0.0, False
        try:
            one = Import(journal, file)
            for _share_done in one.steps():
                longest_s = max(longest_s, time.process_time() - before)
                before = time.process_time()
            said = "\n".join(one.added.passed_by)
        except BlendkitError as error:
            said, is_no = str(error), True
        longest_s = max(longest_s, time.process_time() - before)
        beyond_mb = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - start_kb) / 1024
        seconds, clock_s = time.process_time() - begun, time.perf_counter() - at
        answers.put(Answer(is_no, seconds, clock_s, longest_s, len(said), beyond_mb))


def zips(files: int) -> None:
    """A row for each structure of zip; every one is asked of a process of its own."""
    found: dict[str, list[Answer]] = {}
    fork = multiprocessing.get_context("fork")  # the making's memory stays in its own process
    made_s = 0.0
    with tempfile.TemporaryDirectory() as folder, fork.Pool(1, maxtasksperchild=1) as maker:
        for seed in range(files):
            file, begun = Path(folder) / "bad.zip", time.perf_counter()
            name = maker.apply(made, (seed, file))
            made_s += time.perf_counter() - begun
            answers = fork.Queue()
            process = fork.Process(target=asked_to_import, args=(file, answers))
            process.start()
            found.setdefault(name, []).append(answers.get(timeout=120))
            process.join()
    print(f"\n{files} zips, made in {made_s:.0f} s")
    print("structure           zips   no  slowest no s  slowest s  by clock  longest step s  "
          "MB beyond  characters")  # fmt: skip
    for name, all_of in found.items():
        no = [one.seconds for one in all_of if one.is_no]
        worst = Answer(*(max(column) for column in zip(*all_of, strict=True)))
        print(f"{name:18s} {len(all_of):5d} {len(no):4d} {max(no, default=0):13.2f} "
              f"{worst.seconds:10.2f} {worst.clock_s:9.2f} {worst.longest_step_s:15.2f} "
              f"{worst.beyond_mb:10.0f} {worst.characters:11d}")  # fmt: skip


def main(inputs: int, zip_files: int) -> None:
    print("door                    tried  worst s  by clock  MB beyond start  "
          "most characters  seed")  # fmt: skip
    for name in DOORS:
        times = inputs // len(DOORS)
        times = max(1, times // 20) if name == "twenty hand-ins" else times
        fresh = multiprocessing.get_context("spawn")
        answers = fresh.Queue()
        process = fresh.Process(target=knock, args=(name, times, answers))
        process.start()
        worst_s, clock_s, beyond_mb, words, seed = answers.get()
        process.join()
        print(f"{name:22s} {times:6d} {worst_s:8.2f} {clock_s:9.2f} {beyond_mb:16.0f} "
              f"{words:16d} {seed:5d}", flush=True)  # fmt: skip
    zips(zip_files)


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
