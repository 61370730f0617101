"""An import in pieces: killed, left off, from an earlier version, of one older folder twice."""

from __future__ import annotations

import contextlib
import itertools
import os
import random
import shutil
import signal
import sqlite3
import time
import zipfile

import pytest

from blendkit.foundation import keep
from blendkit.journal import merge, migrations, people_table
from blendkit.journal.backups import FILE
from blendkit.journal.exchange import STORE, export_journal, plain_table
from blendkit.journal.merge import Import, import_journal
from blendkit.journal.records import (
    KINDS,
    BatchMaterial,
    BatchRow,
    BlendRow,
    EventRow,
    Impression,
    OlderFileRow,
    Version,
)
from blendkit.journal.rows import columns_of
from blendkit.journal.store import open_journal
from blendkit.journal.unpacking import added_in
from blendkit.keeping.open_store import let_go, the_journal
from tests.journal.test_journal import DAY, DOCUMENT
from tests.journal.test_migrations import VERSIONS, released
from tests.keeping.test_older_files import older_folder
from tests.tools.journal_file import ask, rows_of
from tests.tools.kill_harness import Child, needs_fork, wait_for


def fill(journal, times=16):
    """Blends with corrections and withdrawals, batches with parts, sessions with events."""
    for number in range(times):
        version = journal.new_blend(f"Quay {number} (invented)", DOCUMENT)
        journal.new_version(version, DOCUMENT)
        if number % 4 == 0:
            journal.withdraw(journal.get(BlendRow, version.blend_id))
        row = BatchRow(version_id=version.id, lot=f"{number}", made_on=DAY)
        oil = BatchMaterial(batch_id="", material="lavender", volume_ml=1.0)
        batch = journal.make_batch(row, [(1, 10.0), (2, 30.0)], [oil, oil, oil])
        session = journal.start_session("invented", version_id=version.id, batch_id=batch.id)
        one = EventRow(
            session_id=session.id, kind="added", details={}, happened_at=version.made_at
        )
        first, *_more = journal.add(*[one] * 15)
        journal.withdraw(first)


@pytest.fixture(scope="module")
def full(tmp_path_factory):
    """An export of some hundred rows, and every row of it."""
    folder = tmp_path_factory.mktemp("full")
    with open_journal(folder) as journal:
        fill(journal)
        return export_journal(journal).path, rows_of(journal.path)


def is_whole(there, everything):
    """Nothing but rows of the export, and each thing with all that belongs to it."""
    assert there.items() <= everything.items()

    def belonging(rows):
        found = {}
        for (table, id), row in rows.items():
            owner = row["corrects"] or id
            thing = (table, owner)
            if table in ("batch_bottles", "batch_materials"):
                thing = ("batches", row["batch_id"])
            elif table == "events":
                thing = ("sessions", row["session_id"])
            found.setdefault(thing, set()).add(id)
        return found

    all_of = belonging(everything)
    assert all(ids == all_of[thing] for thing, ids in belonging(there).items())


def test_an_import_left_off_has_added_whole_things_and_goes_on(full, tmp_path, monkeypatch):
    monkeypatch.setattr(merge, "PIECE_ROWS", 20)
    file, everything = full
    with open_journal(tmp_path / "there") as there:
        counts = []
        for stop in itertools.count(1):
            one = Import(there, file)
            with contextlib.closing(one.steps()) as steps:
                shares = list(itertools.islice(steps, stop))
                counts.append(sum(one.added.values()))
            assert shares == sorted(shares)
            assert all(0 <= share <= 1 for share in shares)
            is_whole(rows_of(there.path), everything)
            if len(shares) < stop:
                break
        assert rows_of(there.path) == everything
        assert sum(map(bool, counts)) > 5  # it was left off in the middle of writing, often
        assert sum(counts) == len(everything)


def test_others_write_between_the_pieces(full, tmp_path, monkeypatch):
    monkeypatch.setattr(merge, "PIECE_ROWS", 20)
    file, everything = full
    mine = set()
    with open_journal(tmp_path / "there") as there, open_journal(tmp_path / "there") as other:
        session = other.start_session("mine")
        one = Import(there, file)
        for _ in one.steps():
            begun = time.perf_counter()
            mine.add(other.log(session, "added", {}).id)
            mine.add(there.log(session, "added", {}).id)
            assert time.perf_counter() - begun < 5
        assert sum(one.added.values()) == len(everything)
        assert mine <= {event.id for event in there.all(EventRow)}


@needs_fork
def test_a_kill_in_the_middle_leaves_whole_things_and_the_rest_comes_in(full, tmp_path):
    file, everything = full
    child, chance, partly = Child(), random.Random(3), 0
    for kill in range(6):
        home, receipts = tmp_path / f"{kill}", tmp_path / f"pieces {kill}"
        receipts.touch()
        worker = int(child.order("import", home, receipts, file))
        wait_for(receipts, chance.randrange(1, 9))  # so many pieces
        time.sleep(chance.uniform(0, 0.01))
        os.kill(worker, signal.SIGKILL)
        child.order("wait")
        with open_journal(home) as journal:
            rows = rows_of(journal.path)
            is_whole(rows, everything)
            partly += 0 < len(rows) < len(everything)
            added = import_journal(journal, file)
            assert sum(added.values()) == len(everything) - len(rows)
            assert added.passed_by == ()
            assert rows_of(journal.path) == everything
    child.end()
    assert partly > 2


# --- earlier versions -----------------------------------------------------------------------


def export_as_of(version, folder):
    """An export as a program of an earlier version wrote it: its plain tables, in a zip."""
    path = folder / f"{version}" / FILE
    released(path, version)
    plain = folder / f"{version}" / STORE
    with contextlib.closing(sqlite3.connect(plain, isolation_level=None)) as target:
        target.execute(f"PRAGMA application_id = {migrations.APPLICATION_ID}")
        target.execute(f"PRAGMA user_version = {version}")
        target.execute("ATTACH ? AS journal", (str(path),))
        there = {row["name"] for row in ask(path, "SELECT name FROM sqlite_schema")}
        for kind in KINDS:
            if kind.TABLE in there:
                lacking = added_in(kind.TABLE, version)
                names = [name for name in columns_of(kind) if name not in lacking]
                held = {row["name"] for row in ask(path, f"PRAGMA table_info({kind.TABLE})")}
                if set(names) <= held:
                    target.execute(plain_table(kind.TABLE, names))
                    quoted = ", ".join(f'"{name}"' for name in names)
                    target.execute(
                        f"INSERT INTO {kind.TABLE} SELECT {quoted} FROM journal.{kind.TABLE} "
                        "ORDER BY turn, id"
                    )
        if "people" in there:
            target.execute(people_table.TABLE)
            target.execute("INSERT INTO people SELECT * FROM journal.people")
    zipped = folder / f"{version}.zip"
    with zipfile.ZipFile(zipped, "w") as out:
        out.write(plain, STORE)
    return zipped, path


_IN_HAND = ("hand", "hand_steps")


@pytest.mark.parametrize("version", [v for v in VERSIONS if v >= 6])
def test_an_export_of_every_version_that_wrote_one_comes_in_whole(tmp_path, version):
    """Exports hold a plain store since version 6."""
    zipped, path = export_as_of(version, tmp_path)
    # the blend in hand is no row of the journal; tests/keeping/test_hand.py moves it
    before = {key: row for key, row in rows_of(path).items() if key[0] not in _IN_HAND}
    with open_journal(tmp_path / "new") as journal:
        added = import_journal(journal, zipped)
        assert added.passed_by == ()
        assert sum(added.values()) == len(before)
        rows = rows_of(journal.path)
        assert {key for key in rows if key[0] not in _IN_HAND} == before.keys()
        for key, row in before.items():
            assert row.items() <= rows[key].items()
        for kind in KINDS:
            journal.all(kind)
        assert journal.find_unreadable() == ()
        assert not any(import_journal(journal, zipped).values())
    # and into the same journal, brought up to date since
    with open_journal(path.parent) as journal:
        added = import_journal(journal, zipped)
        assert (sum(added.values()), added.passed_by) == (0, ())


# --- one older folder on two computers --------------------------------------------------------


def test_one_older_folder_read_in_on_two_computers_is_there_once(tmp_path, monkeypatch):
    homes = [tmp_path / "first", tmp_path / "second"]
    monkeypatch.setenv("BLENDKIT_HOME", str(homes[0]))
    let_go()
    older_folder()
    shutil.copytree(homes[0], homes[1], copy_function=shutil.copyfile)  # with other times
    exports = []
    for home in homes:
        let_go()
        monkeypatch.setenv("BLENDKIT_HOME", str(home))
        journal = the_journal()
        exports.append(export_journal(journal).path)
        single = {kind: len(journal.all(kind)) for kind in KINDS}
    assert single[Version] == single[BlendRow] == single[Impression] == 1
    assert single[OlderFileRow] > 5
    for home, other in zip(homes, reversed(exports), strict=True):
        let_go()
        monkeypatch.setenv("BLENDKIT_HOME", str(home))
        added = import_journal(the_journal(), other)
        assert added.passed_by == ()
        assert {kind: len(the_journal().all(kind)) for kind in KINDS} == single
    both = []
    for home in homes:
        let_go()
        both.append(set(rows_of(home / FILE)))
    assert both[0] == both[1]
    let_go()
    assert keep.saved("blends")
