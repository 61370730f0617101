"""The journal beside raw sqlite3: time per event, and to open a journal of some years.

Run by hand: ``python -m tests.benchmarks.journal_benchmark [FOLDER]``. The same rows go into
the same tables each way, in turns of 100, so that a disk that is slow for a while is slow for
all; raw sqlite3 writes in the same mode, with the same flushes after every event, and in two
others: DELETE makes and removes a rollback journal for each event, WAL keeps what was written
last in a file of its own. Opening is the median of several, with the daily copy made already.
"""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from datetime import UTC, date, datetime
from pathlib import Path

from blendkit.journal import migrations
from blendkit.journal.backups import back_up_if_due
from blendkit.journal.exchange import export_journal
from blendkit.journal.merge import import_journal
from blendkit.journal.records import BatchBottles, BatchMaterial, BatchRow, EventRow
from blendkit.journal.store import Journal, open_journal
from tests.tools.journal_file import ask

EVENTS, BATCHES, IN_TURN = 10_000, 500, 100
OPENINGS = 15
DETAILS = {"material": "lavender", "drops": 2, "by": "drops"}
AT, DAY = datetime(2026, 11, 25, 18, 30, tzinfo=UTC), date(2026, 11, 25)


def timed(work: Callable[[], object]) -> float:
    """Seconds that a piece of work takes."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


MODES = ("PERSIST", "DELETE", "WAL")


def raw(path: Path, mode: str) -> sqlite3.Connection:
    """The same tables without the journal's code."""
    connection = sqlite3.connect(path, isolation_level=None)
    migrations.take_steps(connection)
    for pragma in (
        f"journal_mode={mode}",
        f"synchronous={'FULL' if mode == 'WAL' else 'EXTRA'}",
    ):
        connection.execute(f"PRAGMA {pragma}")
    return connection


class Each:
    """Writes the same events with and without the journal's code."""

    def __init__(self, journal: Journal, raws: Sequence[sqlite3.Connection]) -> None:
        self.journal = journal
        version = journal.new_blend("Quay at Dusk (invented)", {"oils": []})
        self.version_id = version.id
        self.session = journal.start_session("invented", version_id=version.id)
        for table in ("blends", "versions", "sessions"):
            rows = ask(journal.path, f"SELECT * FROM {table}")
            places = ", ".join("?" for _ in rows[0])
            for connection in raws:
                connection.executemany(
                    f"INSERT INTO {table} VALUES ({places})", [tuple(row) for row in rows]
                )
        self.rows: list[tuple[object, ...]] = []

    def log(self) -> None:
        """Some events through the journal."""
        kept = [self.journal.log(self.session, "added", DETAILS, AT) for _ in range(IN_TURN)]
        select = f"SELECT * FROM events WHERE turn BETWEEN {kept[0].turn} AND {kept[-1].turn}"
        self.rows = [tuple(row) for row in ask(self.journal.path, select)]

    def insert(self, connection: sqlite3.Connection) -> None:
        """The same rows by one INSERT each, each its own transaction."""
        for row in self.rows:
            connection.execute("INSERT INTO events VALUES (?,?,?,?,?,?,?,?,?)", row)

    def batches(self) -> None:
        """Some years of batches."""
        for number in range(BATCHES):
            batch = BatchRow(version_id=self.version_id, lot=f"invented {number}", made_on=DAY)
            materials = [
                BatchMaterial(batch_id="", material=f"oil {each}", volume_ml=1.5)
                for each in range(6)
            ]
            self.journal.make_batch(batch, [(12, 10.0), (4, 30.0)], materials)


def open_both(folder: Path, path: Path) -> tuple[list[float], list[float]]:
    """Seconds to open: the journal, and raw sqlite3 with the same integrity check."""

    def raw_opening() -> None:
        with contextlib.closing(sqlite3.connect(path)) as connection:
            connection.execute("PRAGMA integrity_check").fetchall()
            connection.execute("SELECT count(*) FROM events").fetchone()

    ours, raws = [], []
    for _ in range(OPENINGS):
        ours.append(timed(lambda: open_journal(folder).close()))
        raws.append(timed(raw_opening))
    return ours, raws


def report(name: str, ours: float, theirs: float, unit: str) -> None:
    """One row of the table."""
    print(f"{name:44} {ours:9.2f} {theirs:9.2f} {ours / theirs:6.2f}  {unit}")


def main(folder: Path) -> None:
    """Print the table."""
    path = folder / "raw.sqlite3"
    print(f"{'':44} {'journal':>9} {'raw':>9} {'ratio':>6}")
    with contextlib.ExitStack() as closing:
        journal = closing.enter_context(open_journal(folder))
        raws = {
            mode: closing.enter_context(contextlib.closing(raw(folder / f"{mode}.db", mode)))
            for mode in MODES
        }
        each = Each(journal, list(raws.values()))
        ours: list[float] = []
        theirs: dict[str, list[float]] = {mode: [] for mode in MODES}
        for _ in range(EVENTS // IN_TURN):
            ours.append(timed(each.log) / IN_TURN)
            for mode, one in raws.items():
                theirs[mode].append(timed(lambda one=one: each.insert(one)) / IN_TURN)
        each.batches()
        for mode, times in theirs.items():
            medians = (statistics.median(t) * 1e3 for t in (ours, times))
            report(f"one event, median; raw in {mode}", *medians, "ms")
            report(
                f"one event, slowest hundred; {mode}", max(ours) * 1e3, max(times) * 1e3, "ms"
            )
    # the same file, so that both open the same rows
    shutil.copy(folder / "journal.sqlite3", path)
    opening, raw_opening = open_both(folder, path)
    report(
        f"open, {EVENTS} events and {BATCHES} batches, median",
        *(statistics.median(t) * 1e3 for t in (opening, raw_opening)), "ms",
    )  # fmt: skip
    with open_journal(folder) as journal:
        select = "SELECT * FROM events"
        report(
            f"read {EVENTS} events",
            timed(lambda: journal.all(EventRow)) * 1e3,
            timed(lambda: ask(journal.path, select)) * 1e3,
            "ms",
        )
        parts = journal.count(BatchBottles) + journal.count(BatchMaterial)
        print(f"{BATCHES} batches with {parts} rows of bottles and materials; "
              f"file {journal.path.stat().st_size / 1e6:.1f} MB")  # fmt: skip
        another_day = date(2001, 2, 3)
        with journal.snapshot() as connection:
            copying = timed(lambda: back_up_if_due(connection, folder, another_day))
        print(f"a daily copy: {copying:.2f} s")
        exported = folder / "all.zip"
        print(f"export: {timed(lambda: export_journal(journal, exported)):.2f} s, "
              f"{exported.stat().st_size / 1e6:.1f} MB")  # fmt: skip
        with open_journal(folder / "another") as other:
            print(f"import into an empty journal: "
                  f"{timed(lambda: import_journal(other, exported)):.2f} s")  # fmt: skip


if __name__ == "__main__":
    if len(sys.argv) > 1:
        main(Path(sys.argv[1]))
    else:
        with tempfile.TemporaryDirectory() as temporary:
            main(Path(temporary))
