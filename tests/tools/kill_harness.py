"""Kills at random moments of all work on a journal; what was acknowledged has to be there.

    python -m tests.tools.kill_harness 500

After each kill the one file is copied alone and opened, then the journal itself, each recovered
where it has to be: the index that is damaged before a recovery is no fault of the kill. Plain
SQLite says what is in them.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
import zipfile
from collections import Counter
from pathlib import Path

import pytest

from blendkit.journal.backups import FILE, list_backups
from blendkit.journal.errors import CannotJournal
from blendkit.journal.exchange import export_journal
from blendkit.journal.records import EventRow, Version
from blendkit.journal.restore import recover_journal
from blendkit.journal.store import open_journal

WORK = ("tapping", "saving", "backing up", "recovering", "restoring", "merging")
FOLDERS_OF_EACH = 3
needs_fork = pytest.mark.skipif(
    not hasattr(os, "fork"), reason="no fork and no kill -9 here: not tried on this system"
)


class Child:
    """Talks to `journal_child`."""

    def __init__(self) -> None:
        command = [sys.executable, "-m", "tests.tools.journal_child"]
        root = Path(__file__).parents[2]
        self.process = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=root
        )

    def order(self, *words: object) -> str:
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write(json.dumps([str(word) for word in words]) + "\n")
        self.process.stdin.flush()
        return self.process.stdout.readline().strip()

    def end(self) -> None:
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.close()
        self.process.wait(timeout=30)
        self.process.stdout.close()


def run(kills: int, there: Path, seed: int = 7) -> Counter[str]:
    """Kill so often, spread over all work; figures by name, "lost" among them."""
    chance, child, found = random.Random(seed), Child(), Counter[str]()
    export = _export(there)
    for kill in range(kills):
        what = WORK[kill % len(WORK)]
        name = f"{what} {kill // len(WORK) % FOLDERS_OF_EACH}"
        folder, receipts = there / name, there / f"acknowledged {name}"
        receipts.touch()
        before = receipts.stat().st_size
        if what == "recovering" and (folder / FILE).exists():
            _break_an_index(folder / FILE)
        worker = int(child.order("work", folder, receipts, what, export))
        is_slow = what == "recovering"
        if chance.random() > (0.7 if is_slow else 0.25):  # or else killed while it is opened
            wait_for(receipts, before + 33 * chance.randrange(1, 6))
        time.sleep(chance.uniform(0, 0.3 if is_slow else 0.06))
        os.kill(worker, signal.SIGKILL)
        child.order("wait")
        found.update(_look(folder, receipts, there))
        found[f"kills while {what}"] += 1
        found["before a first row"] += receipts.stat().st_size == before
    child.end()
    found["rows acknowledged"] = sum(
        len(set(file.read_text().split())) for file in there.glob("acknowledged *")
    )
    return found


def wait_for(receipts: Path, size: int) -> None:
    until = time.monotonic() + 30
    while receipts.stat().st_size < size and time.monotonic() < until:
        time.sleep(0.001)


def _look(folder: Path, receipts: Path, there: Path) -> Counter[str]:
    found = Counter[str]()
    acknowledged = set(receipts.read_text().split())
    if (folder / FILE).exists():
        home = there / "alone"
        shutil.rmtree(home, ignore_errors=True)
        home.mkdir()
        shutil.copyfile(folder / FILE, home / FILE)
        try:
            open_journal(home).close()
        except CannotJournal:
            found["copied alone, damaged and recovered"] += 1
            recover_journal(home).close()
        found["lost in the one file copied alone"] = len(acknowledged - _ids(home / FILE))
    try:
        journal = open_journal(folder)
    except CannotJournal:
        journal = recover_journal(folder)
        found["recovered by the next opening"] += 1
    with journal:
        held = {row.id for kind in (EventRow, Version) for row in journal.all(kind)}
        found["unreadable rows"] = len(journal.find_unreadable())
    found["lost"] = len(acknowledged - held)
    found["files not sound afterwards"] = _check(folder / FILE) != "ok"
    for old in list_backups(folder)[5:]:
        old.unlink()
    return found


def _ids(file: Path) -> set[str]:
    connection = sqlite3.connect(file)
    try:
        select = "SELECT id FROM events UNION ALL SELECT id FROM versions"
        return {id for (id,) in connection.execute(select)}
    finally:
        connection.close()


def _check(file: Path) -> str:
    connection = sqlite3.connect(file)
    try:
        return str(connection.execute("PRAGMA integrity_check").fetchone()[0])
    finally:
        connection.close()


def _break_an_index(file: Path) -> None:
    """Damage that hides no row, so that a recovery has to bring all of them."""
    connection = sqlite3.connect(file)
    connection.execute("PRAGMA writable_schema=ON")
    connection.execute(
        "UPDATE sqlite_schema SET rootpage = (SELECT rootpage FROM sqlite_schema "
        "WHERE name = 'blends_turn') WHERE name = 'events_turn'"
    )
    connection.commit()
    connection.close()


def _export(there: Path) -> Path:
    """An export of another computer; its comment holds the ids of its rows."""
    with open_journal(there / "another computer") as journal:
        session = journal.start_session("elsewhere")
        ids = [journal.log(session, "added", {"number": number}).id for number in range(30)]
        export = export_journal(journal).path
    with zipfile.ZipFile(export, "a") as files:
        files.comment = " ".join(ids).encode()
    return export


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        for name, count in run(int(sys.argv[1]), Path(folder)).items():
            sys.stdout.write(f"{name}: {count}\n")
