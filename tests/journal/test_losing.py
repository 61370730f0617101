"""One file is the whole journal; a replaced one is noticed, a recovered one is whole."""

from __future__ import annotations

import contextlib
import os
import random
import shutil
import sqlite3
import stat
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from blendkit import example_document
from blendkit.foundation import keep
from blendkit.foundation.whole_files import temporary_file
from blendkit.journal import backups, ledger
from blendkit.journal.backups import FILE, list_backups
from blendkit.journal.errors import CannotJournal, JournalMoved
from blendkit.journal.records import EventRow, Session
from blendkit.journal.restore import SET_ASIDE, recover_journal, restore_backup
from blendkit.journal.store import open_journal
from blendkit.keeping.bench_sessions import BenchRecord
from blendkit.keeping.open_store import let_go, the_journal
from blendkit.making.bench_events import Drops, Undo
from blendkit.making.bench_log import UNDONE
from tests.tools.journal_file import ask, rows_of
from tests.tools.salvage import damage_pages, plain_rows

ROLLBACK = f"{FILE}-journal"


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "home"


def tapped(count, folder=None):
    """A bench session of so many taps in a maker's folder."""
    record = BenchRecord(example_document())
    for _ in range(count):
        record.add(Drops("lavender", 1))
    assert record.trouble == ""
    return record


def held(path):
    return [row["id"] for row in ask(path, "SELECT id FROM events ORDER BY turn")]


def ids(record):
    return [one.id for one in record.timed]


# --- the one file -------------------------------------------------------------------------


def test_the_one_file_copied_alone_while_open_holds_every_event(own_folder, tmp_path):
    record = tapped(40)
    alone = tmp_path / "alone" / FILE
    alone.parent.mkdir()
    shutil.copyfile(own_folder / FILE, alone)
    assert held(alone) == ids(record)
    with open_journal(alone.parent) as journal:
        assert journal.count(EventRow) == 41
    beside = {file.name for file in own_folder.iterdir() if file.is_file()}
    assert beside == {FILE, ROLLBACK}
    assert not any((own_folder / ROLLBACK).read_bytes()[:28])  # nothing to take back


def test_a_backup_copied_by_hand_over_the_journal_is_what_opens_then(folder):
    with open_journal(folder) as journal:
        session = journal.start_session("invented")
        backup = journal.back_up_now()
        for number in range(40):
            journal.log(session, "added", {"number": number})
    assert (folder / ROLLBACK).exists()
    shutil.copyfile(backup, folder / FILE)
    with open_journal(folder) as journal:
        assert journal.all(Session) == [session]
        assert journal.count(EventRow) == 0
        journal.log(session, "added", {})
    assert len(held(folder / FILE)) == 1


def test_a_log_that_an_earlier_program_left_is_brought_in(folder):
    with open_journal(folder) as journal:
        session = journal.start_session("invented")
        journal.log(session, "added", {"number": 0})
    older = sqlite3.connect(folder / FILE, isolation_level=None)
    older.execute("PRAGMA journal_mode=WAL")
    older.execute(
        "INSERT INTO events SELECT lower(hex(randomblob(16))), turn + 1, recorded_at, NULL, 0, "
        "session_id, kind, details, happened_at FROM events"
    )
    # as a killed process leaves it: the log beside the file
    for ending in ("", "-wal"):
        shutil.copyfile(f"{folder / FILE}{ending}", folder / f"left{ending}")
    older.close()
    for ending in ("", "-wal"):
        (folder / f"left{ending}").rename(f"{folder / FILE}{ending}")
    with open_journal(folder) as journal:
        assert journal.count(EventRow) == 2
        assert not (folder / f"{FILE}-wal").exists()


def test_a_journal_that_is_gone_is_begun_anew_and_its_copies_are_named(tmp_path):
    with open_journal(tmp_path / "new") as journal:
        assert journal.warnings == ()  # there was none before
    with open_journal(tmp_path) as journal:
        journal.start_session("first try")
        copy = journal.back_up_now()
    (tmp_path / FILE).unlink()
    with open_journal(tmp_path) as journal:
        (warning,) = journal.warnings
        assert journal.count(Session) == 0
    assert str(copy.parent) in warning
    assert "a new journal was begun" in warning
    assert copy.exists()


# --- replaced while open --------------------------------------------------------------------


@pytest.mark.parametrize("way", ["replaced", "folder moved", "removed", "recovered elsewhere"])
def test_a_page_writes_into_the_file_that_is_there_now(own_folder, tmp_path, way):
    the_journal()
    before = tmp_path / "before.sqlite3"
    shutil.copyfile(own_folder / FILE, before)
    record = tapped(5)
    if way == "replaced":
        before.replace(own_folder / FILE)
    elif way == "folder moved":
        own_folder.rename(tmp_path / "moved")
        shutil.copytree(tmp_path / "moved", own_folder)
        before.replace(own_folder / FILE)
    elif way == "removed":
        (own_folder / FILE).unlink()
    else:
        restore_backup(list_backups(own_folder)[-1], own_folder).close()
    record.add(Drops("lavender", 1))
    assert record.trouble == ""
    assert held(own_folder / FILE) == ids(record)
    assert "moved or replaced" in " ".join(the_journal().warnings)


def test_an_event_kept_in_a_file_that_is_moved_in_that_moment_is_not_acknowledged(folder):
    with open_journal(folder) as journal:
        session = journal.start_session("invented")
        with pytest.raises(JournalMoved, match="Try again"), journal.transaction():
            (folder / FILE).rename(folder / "elsewhere")
        (folder / FILE).write_bytes((folder / "elsewhere").read_bytes())
        with pytest.raises(JournalMoved):
            journal.log(session, "added", {})
    assert held(folder / FILE) == []


def test_two_journals_whose_files_change_places_both_notice(tmp_path):
    with open_journal(tmp_path / "a") as one, open_journal(tmp_path / "b") as other:
        assert one.is_current()
        assert other.is_current()
        one.path.rename(tmp_path / "between")
        assert not one.is_current()
        other.path.rename(one.path)
        (tmp_path / "between").rename(other.path)
        assert not one.is_current()
        assert not other.is_current()


def test_a_take_back_finds_its_event_though_another_notebook_wrote_meanwhile(own_folder):
    record = tapped(1)
    with open_journal(own_folder) as other:
        record.add(Drops("patchouli", 2))
        mine = record.timed[-1].id
        last = record.bench.last.number
        session = other.all(Session)[0]
        with other.transaction():  # in the way of the take-back, which has to wait
            record.write = lambda: None
            record.add(Undo(last))
            del record.write
        other.log(session, "drops", {"material": "geranium", "count": 1})
    record.write()
    again = BenchRecord.resumed(the_journal().all(Session)[0])
    for each in (record, again):
        each.catch_up()
        undone = [line.number - 1 for line in each.bench.lines if line.message == UNDONE]
        assert [each.timed[place].id for place in undone] == [mine]
        assert each.bench.mixture.drops_now("geranium") == 1


# --- recovered ------------------------------------------------------------------------------


def filled(folder, events=400):
    with open_journal(folder) as journal:
        session = journal.start_session("invented")
        first = journal.new_blend("Quay (invented)", {"name": "Quay (invented)", "oils": []})
        for _ in range(20):
            journal.new_version(first, {"name": "Quay (invented)", "oils": ["x" * 300]})
        one = EventRow(
            session_id=session.id, kind="added", details={}, happened_at=session.started_at
        )
        journal.add(*(replace(one, details={"number": number}) for number in range(events)))


@pytest.mark.parametrize("seed", range(12))
def test_recovering_keeps_every_row_that_plain_sqlite_reads(folder, seed):
    filled(folder, 200)
    shutil.rmtree(folder / backups.FOLDER)
    open_journal(folder).close()  # the day's backup
    filled(folder, 200)  # and what came after it
    everything = rows_of(folder / FILE)
    damage_pages(folder / FILE, random.Random(seed))
    readable = {row for row in plain_rows(folder / FILE) if row in everything}
    try:
        open_journal(folder).close()
    except CannotJournal:
        with recover_journal(folder) as journal:
            said = journal.warnings[0]
        assert "read from the damaged file" in said
        assert str(list_backups(folder)[-1]) in said
        kept = rows_of(folder / FILE)
        assert readable <= kept.keys()
        backup = rows_of(list_backups(folder)[-1])
        assert backup.keys() <= kept.keys()


def test_one_damaged_document_hides_nothing_else(folder):
    filled(folder, 5)
    raw = (folder / FILE).read_bytes()
    place = raw.index(b'{"name": "Quay (invented)", "oils": ["')
    (folder / FILE).write_bytes(raw[:place] + b"x" + raw[place + 1 :])
    with open_journal(folder) as journal:
        (problem,) = journal.find_unreadable()
        assert "versions" in str(problem)
        assert journal.count(EventRow) == 5
    # the backup of the day is older than the row; the row is kept as it is
    with recover_journal(folder) as journal:
        assert journal.count(EventRow) == 5
        journal.find_unreadable()
        ((table, row),) = journal.unreadable
        journal.withdraw_unreadable(table, row)
        assert journal.find_unreadable() == ()


def test_a_kill_inside_the_recovery_is_no_dead_end(folder, monkeypatch):
    filled(folder, 5)
    path = folder / FILE
    path.write_bytes(b"no database at all")
    for step in ("_new_folder", "_move_neighbours", "put_in_place", "open_journal"):

        def killed(*_arguments):
            raise KeyboardInterrupt

        with monkeypatch.context() as patched:
            patched.setattr(f"blendkit.journal.restore.{step}", killed)
            with pytest.raises(KeyboardInterrupt):
                recover_journal(folder)
        assert path.exists()
    with open_journal(folder) as journal:  # the last kill came after the new file had its name
        assert journal.count(EventRow) == 0
    assert len(list((folder / SET_ASIDE).glob(f"*/{FILE}"))) == 3


# --- restored -------------------------------------------------------------------------------


@pytest.mark.parametrize("left", ["-wal", "-journal", "-shm", ""])
def test_a_backup_is_restored_over_a_sound_journal_and_whatever_lies_beside_it(folder, left):
    with open_journal(folder) as journal:
        journal.start_session("in no backup: the day's was made before")
    with open_journal(folder) as journal:
        with journal.snapshot() as connection:
            backups.back_up(connection, folder, datetime.now(UTC).date())
        session = journal.start_session("after the backup")
        journal.log(session, "added", {})
    if left:
        (folder / f"{FILE}{left}").write_bytes(b"left by a program that was killed" * 99)
    with restore_backup(list_backups(folder)[0], folder) as journal:
        assert [s.title for s in journal.all(Session)] == [
            "in no backup: the day's was made before"
        ]
        assert "Restored from" in journal.warnings[0]
    (aside,) = (folder / SET_ASIDE).glob(f"*/{FILE}")
    assert len(held(aside)) == 1 or left == "-wal"


def test_what_is_no_backup_is_not_restored(folder, tmp_path):
    filled(folder, 2)
    before = (folder / FILE).read_bytes()
    bad = tmp_path / "bad.sqlite3"
    bad.write_bytes(b"no journal")
    for file in (bad, tmp_path, tmp_path / "nothing"):
        with pytest.raises(CannotJournal):
            restore_backup(file, folder)
    assert (folder / FILE).read_bytes() == before


# --- a wrong clock ----------------------------------------------------------------------------


def on(monkeypatch, day):
    class Clock(datetime):
        @classmethod
        def now(cls, tz=None):
            return datetime(*day, 12, tzinfo=UTC)

    monkeypatch.setattr(ledger, "datetime", Clock)


def test_a_clock_two_years_ahead_for_an_evening_does_not_count(folder, monkeypatch):
    days = [(2026, 10, day) for day in range(1, 11)]
    days[3] = (2028, 10, 4)
    for number, day in enumerate(days):
        on(monkeypatch, day)
        with open_journal(folder) as journal:
            journal.start_session(f"session {number}")
    newest = list_backups(folder)[0]
    assert backups.day_of_backup(newest) == "2026-10-10"
    (folder / FILE).write_bytes(b"damaged")
    with recover_journal(folder) as journal:
        assert journal.count(Session) == 9  # the last one came after the backup of its day


def test_backups_of_an_earlier_program_go_by_their_rows(folder, monkeypatch):
    there = folder / backups.FOLDER
    for number, day in enumerate([(2028, 1, 1), (2026, 1, 2), (2026, 1, 3)]):
        on(monkeypatch, day)
        with open_journal(folder) as journal:
            journal.start_session(f"session {number}")
    for backup in list_backups(folder):
        backup.rename(there / f"journal {backups.day_of_backup(backup)}.sqlite3")
    assert backups.day_of_backup(list_backups(folder)[0]) == "2026-01-03"


# --- whose files ------------------------------------------------------------------------------


@pytest.mark.skipif(os.name == "nt", reason="no such modes here")
def test_what_is_made_is_its_owners_alone(own_folder):
    tapped(1)
    keep.save("blends", "invented", {})
    modes = {path: stat.S_IMODE(path.stat().st_mode) for path in own_folder.rglob("*")}
    for path, mode in modes.items():
        assert mode == (0o700 if path.is_dir() else 0o600), path
    assert stat.S_IMODE(own_folder.stat().st_mode) == 0o700
    (own_folder / FILE).chmod(0o644)  # as an earlier program left it
    let_go()
    the_journal()
    assert stat.S_IMODE((own_folder / FILE).stat().st_mode) == 0o600


def test_a_relative_home_is_one_place_wherever_a_program_starts(tmp_path, monkeypatch):
    monkeypatch.setenv("BLENDKIT_HOME", "oils")
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("USERPROFILE", str(tmp_path))
    found = set()
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
        monkeypatch.chdir(tmp_path / name)
        found.add(keep.home())
    assert found == {tmp_path / "oils"}


def test_what_a_killed_process_left_is_removed_a_day_later(tmp_path):
    old, new = tmp_path / "tmpabcdefg1.part", tmp_path / "blendkit-abcdefg2.part"
    other = tmp_path / "somebody's download.part"
    for file in (old, new, other):
        file.write_text("x", encoding="utf-8")
    for file in (old, other):
        os.utime(file, (0, 0))
    with temporary_file(tmp_path):
        pass
    assert {file.name for file in tmp_path.iterdir()} == {new.name, other.name}


def test_the_folder_is_flushed_after_a_save(own_folder, monkeypatch):
    flushed = []
    monkeypatch.setattr("blendkit.foundation.whole_files.flush_folder", flushed.append)
    file = keep.save("blends", "invented", {})
    assert flushed == [file.parent]


def test_damage_before_the_first_page_is_said_in_words(folder):
    """A byte that is no text where SQLite quotes it: Python cannot decode the message."""
    filled(folder, 5)
    raw = bytearray((folder / FILE).read_bytes())
    raw[raw.index(b"CREATE TABLE events") + 14] = 0x88
    (folder / FILE).write_bytes(raw)
    with pytest.raises(CannotJournal):
        open_journal(folder)
    with recover_journal(folder) as journal:
        assert journal.warnings


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no such files here")
@pytest.mark.parametrize("kind", ["fifo", "dangling link", "link loop", "folder", "device"])
def test_what_is_no_file_is_said_in_words_and_set_aside(folder, kind):
    folder.mkdir()
    path = folder / FILE
    {
        "fifo": lambda: os.mkfifo(path),
        "dangling link": lambda: path.symlink_to(folder / "nowhere"),
        "link loop": lambda: path.symlink_to(path),
        "folder": path.mkdir,
        "device": lambda: path.symlink_to("/dev/zero"),
    }[kind]()
    with pytest.raises(CannotJournal, match="no plain file"):
        open_journal(folder)
    with recover_journal(folder) as journal:
        assert journal.start_session("invented")
    with contextlib.suppress(OSError):
        assert not (folder / "nowhere").exists()


def test_nothing_of_the_test_folder_is_relative():
    assert Path(keep.home()).is_absolute()
