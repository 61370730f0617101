"""Damaged journals: rows that plain SQLite still reads against rows that the recovery keeps.

    python tests/benchmarks/damage_benchmark.py 300

Each file has a backup of half its rows, since what came later only the file can give back.
"""

from __future__ import annotations

import random
import shutil
import sys
import tempfile
from collections import Counter
from dataclasses import replace
from pathlib import Path

from blendkit.journal import backups
from blendkit.journal.backups import FILE
from blendkit.journal.errors import CannotJournal
from blendkit.journal.records import EventRow
from blendkit.journal.restore import recover_journal
from blendkit.journal.store import open_journal
from tests.tools.journal_file import rows_of
from tests.tools.salvage import damage_pages, plain_rows


def fill(folder: Path, events: int = 300) -> None:
    with open_journal(folder) as journal:
        session = journal.start_session("invented")
        first = journal.new_blend("Quay (invented)", {"name": "Quay (invented)", "oils": []})
        for _ in range(15):
            journal.new_version(first, {"name": "Quay (invented)", "oils": ["x" * 300]})
        one = EventRow(
            session_id=session.id, kind="added", details={}, happened_at=session.started_at
        )
        journal.add(*(replace(one, details={"number": number}) for number in range(events)))


def main(files: int) -> None:
    found: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as scratch:
        good = Path(scratch) / "good"
        fill(good)
        shutil.rmtree(good / backups.FOLDER)
        open_journal(good).close()  # the day's backup, of the first half
        fill(good)
        everything = rows_of(good / FILE)
        for seed in range(files):
            folder = Path(scratch) / f"{seed}"
            shutil.copytree(good, folder)
            damage_pages(folder / FILE, random.Random(seed))
            readable = {row for row in plain_rows(folder / FILE) if row in everything}
            try:
                with open_journal(folder) as journal:
                    odd = len(journal.find_unreadable())
                found["sound though damaged: a cell's text, or a free place"] += not odd
                found["opened, with rows named and passed by"] += bool(odd)
            except CannotJournal:
                with recover_journal(folder):
                    pass
                kept = set(rows_of(folder / FILE))
                found["recovered"] += 1
                found["rows in them, in all"] += len(everything)
                found["of these read by plain SQLite"] += len(readable)
                found["of these kept by the recovery"] += len(kept & everything.keys())
                found["readable and not kept"] += len(readable - kept)
                found["files with fewer rows kept than readable"] += len(kept) < len(readable)
            shutil.rmtree(folder)
    for name, count in found.items():
        print(f"{name}: {count}")


if __name__ == "__main__":
    main(int(sys.argv[1]))
