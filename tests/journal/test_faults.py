"""Kills, full disks, damaged and foreign files, two writers: nothing acknowledged is lost.

What SQLite documents is relied on here, not built again: a transaction is there wholly or not
at all after a crash (https://www.sqlite.org/atomiccommit.html), and with
synchronous=EXTRA what was committed stays
(https://www.sqlite.org/pragma.html#pragma_synchronous). Killed processes are tried here;
`test_power_cut` plays power cuts through, and for a disk that lies there is nothing to try.
"""

from __future__ import annotations

import itertools
import json
import random
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from blendkit.journal import backups, connect, ledger, migrations
from blendkit.journal.backups import FILE
from blendkit.journal.errors import CannotJournal, JournalDamaged, JournalNewer
from blendkit.journal.records import EventRow, Session, Version
from blendkit.journal.restore import SET_ASIDE, recover_journal
from blendkit.journal.store import open_journal
from tests.tools.journal_file import value
from tests.tools.kill_harness import Child, needs_fork, run

KILLS = 60  # more: python -m tests.tools.kill_harness 500


@pytest.fixture(scope="module")
def child():
    child = Child()
    yield child
    child.end()


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "home"


def filled(folder, events=3):
    """A closed journal with events, and a daily copy of them."""
    with open_journal(folder) as journal:
        session = journal.start_session("invented")
        journal.add(
            *(
                EventRow(session_id=session.id, kind="added", happened_at=session.started_at,
                      details={"number": number})
                for number in range(events)
            )
        )  # fmt: skip
    shutil.rmtree(folder / backups.FOLDER)
    open_journal(folder).close()
    assert len(backups.list_backups(folder)) == 1
    return folder / FILE


def numbers(journal):
    return [event.details["number"] for event in journal.all(EventRow)]


# --- killed -------------------------------------------------------------------------------


@needs_fork
def test_no_kill_loses_an_acknowledged_row(tmp_path, capsys):
    found = run(KILLS, tmp_path)
    report = "\n" + "\n".join(f"{name}: {count}" for name, count in found.items()) + "\n"
    with capsys.disabled():
        sys.stdout.write(report)
    assert found["lost"] == found["lost in the one file copied alone"] == 0, report
    assert found["files not sound afterwards"] == found["unreadable rows"] == 0, report
    assert found["rows acknowledged"] > 2 * KILLS, report
    assert found["before a first row"] > KILLS / 20, report


# --- no room, no rights -------------------------------------------------------------------


def test_a_full_disk_is_said_and_the_event_can_be_logged_again(folder):
    filled(folder)
    with open_journal(folder) as journal:
        session = journal.all(Session)[0]
        pages = value(journal.path, "PRAGMA page_count")
        # https://www.sqlite.org/pragma.html#pragma_max_page_count: SQLITE_FULL beyond
        set_on(journal, f"max_page_count={pages}")
        with pytest.raises(CannotJournal, match=r"full disk.*Free some space") as caught:
            journal.log(session, "added", {"number": 3, "long": "x" * 100_000})
        assert "Nothing was changed" in str(caught.value)
        assert numbers(journal) == [0, 1, 2]
        set_on(journal, "max_page_count=100000")
        journal.log(session, "added", {"number": 3, "long": "x" * 100_000})
    with open_journal(folder) as journal:
        assert numbers(journal) == [0, 1, 2, 3]


def set_on(journal, pragma):
    """Set something on the journal's own connection."""
    with journal.snapshot() as connection:
        connection.execute(f"PRAGMA {pragma}")


@pytest.fixture
def small_disk(tmp_path):
    """A real file system of two megabytes, where the system lets one be made."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", str(disk)]
    is_mounted = (
        shutil.which("mount")
        and not subprocess.run(mount, capture_output=True, check=False).returncode
    )
    if not is_mounted:
        pytest.skip("may not mount a small disk here: a really full one was not tried")
    yield disk
    subprocess.run(["umount", str(disk)], check=True)


def test_a_disk_that_really_fills_up(small_disk):
    acknowledged = 0

    def log_for_ever():
        nonlocal acknowledged
        for number in itertools.count():
            journal.log(session, "added", {"number": number, "long": "x" * 3000})
            acknowledged += 1

    with open_journal(small_disk) as journal:
        session = journal.start_session("invented")
        with pytest.raises(CannotJournal, match=r"full disk.*Nothing was changed"):
            log_for_ever()
        assert numbers(journal) == list(range(acknowledged))
    assert acknowledged > 10
    with open_journal(small_disk) as journal:
        assert numbers(journal) == list(range(acknowledged))


@needs_fork
@pytest.mark.parametrize("begun", [True, False])
def test_a_read_only_folder_is_said_in_words(child, begun):
    # not below tmp_path, where a user without rights may not even look
    folder = Path(tempfile.mkdtemp())
    try:
        if begun:
            filled(folder)
        before = contents(folder)
        for path in (folder, *folder.rglob("*")):
            path.chmod(0o555 if path.is_dir() else 0o444)
        name, message = json.loads(child.order("nobody", folder))
        child.order("wait")
        assert name == "CannotJournal"
        assert "a file and a folder that can be written" in message
        assert "BLENDKIT_HOME" in message
        assert contents(folder) == before
    finally:
        for path in (folder, *folder.rglob("*")):
            path.chmod(0o755)
        shutil.rmtree(folder)


def test_a_folder_that_cannot_be_made_is_said_in_words(tmp_path):
    (tmp_path / "a file").write_text("in the way", encoding="utf-8")
    with pytest.raises(CannotJournal, match="BLENDKIT_HOME"):
        open_journal(tmp_path / "a file" / "home")
    assert (tmp_path / "a file").read_text(encoding="utf-8") == "in the way"


# --- not a sound journal ------------------------------------------------------------------


def contents(folder):
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and not path.name.endswith(("-shm", "-wal"))
    }


def garbage_inside(path):
    data = bytearray(path.read_bytes())
    data[4096:-4096] = random.Random(3).randbytes(len(data) - 8192)
    path.write_bytes(data)


def cut_short(path):
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2 + 100])


def no_database(path):
    path.write_text("A shopping list: lavender, lemon.", encoding="utf-8")


def emptied(path):
    path.write_bytes(b"")


def of_another_program(path):
    path.unlink()
    with sqlite3.connect(path) as connection:
        connection.execute("CREATE TABLE songs (title TEXT)")
    connection.close()


def without_an_index_entry(path):
    """A file whose pages are all readable, but whose index does not agree with its table."""
    connection = sqlite3.connect(path)
    connection.execute("PRAGMA writable_schema=ON")
    connection.execute(
        "UPDATE sqlite_schema SET rootpage = "
        "(SELECT rootpage FROM sqlite_schema WHERE name = 'blends_turn') "
        "WHERE name = 'events_turn'"
    )
    connection.commit()
    connection.close()


DAMAGES = [
    garbage_inside,
    cut_short,
    no_database,
    emptied,
    of_another_program,
    without_an_index_entry,
]


@pytest.mark.parametrize("damage", DAMAGES)
def test_a_damaged_file_is_left_as_it_is_and_a_copy_is_the_way_on(folder, damage):
    path = filled(folder)
    damage(path)
    before = contents(folder)
    with pytest.raises(JournalDamaged) as caught:
        open_journal(folder)
    assert contents(folder) == before
    assert "left as it is" in str(caught.value)
    with recover_journal(folder) as journal:
        assert numbers(journal) == [0, 1, 2]
        journal.log(journal.all(Session)[0], "added", {"number": 3})
        assert SET_ASIDE in journal.warnings[-1]
    (aside,) = (folder / SET_ASIDE).glob(f"*/{FILE}")
    assert aside.read_bytes() == before[FILE]
    with open_journal(folder) as journal:
        assert numbers(journal) == [0, 1, 2, 3]


def test_the_log_beside_a_damaged_file_is_set_aside_with_it(folder):
    path = filled(folder)
    no_database(path)
    path.with_name(FILE + "-wal").write_bytes(b"what was written last")
    with recover_journal(folder) as journal:
        assert numbers(journal) == [0, 1, 2]
    (wal,) = (folder / SET_ASIDE).glob(f"*/{FILE}-wal")
    assert wal.read_bytes() == b"what was written last"


def test_a_damaged_copy_is_passed_by(folder):
    path = filled(folder)
    older = folder / backups.FOLDER / "journal 2026-01-02.sqlite3"
    shutil.copy(backups.list_backups(folder)[0], older)
    no_database(backups.list_backups(folder)[0])
    no_database(path)
    with recover_journal(folder) as journal:
        assert numbers(journal) == [0, 1, 2]
        assert str(older) in " ".join(journal.warnings)


def test_without_a_backup_a_journal_is_begun_and_the_file_is_kept(folder):
    path = filled(folder)
    no_database(path)
    shutil.rmtree(folder / backups.FOLDER)
    before = path.read_bytes()
    with recover_journal(folder) as journal:
        assert numbers(journal) == []
        assert "no sound backup" in journal.warnings[0]
    (aside,) = (folder / SET_ASIDE).glob(f"*/{FILE}")
    assert aside.read_bytes() == before


def test_a_sound_journal_is_not_put_aside(folder):
    filled(folder)
    with pytest.raises(CannotJournal, match="a sound journal"):
        recover_journal(folder)
    assert not (folder / SET_ASIDE).exists()


def test_a_journal_that_went_missing_is_told_of(folder):
    path = filled(folder)
    path.unlink()
    with open_journal(folder) as journal:
        assert "can be restored" in journal.warnings[0]
        assert numbers(journal) == []


def test_a_full_disk_while_reopening_moves_nothing(folder, monkeypatch):
    path = filled(folder)
    no_database(path)
    before = contents(folder)

    def full(*_arguments):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("blendkit.journal.recovery.put_on_disk", full)
    with pytest.raises(CannotJournal, match="No space left"):
        recover_journal(folder)
    assert contents(folder) == before


def test_a_file_from_a_newer_version_is_left_as_it_is(folder):
    path = filled(folder)
    connection = sqlite3.connect(path)
    connection.execute(f"PRAGMA user_version={migrations.NEWEST + 1}")
    connection.close()
    before = contents(folder)
    with pytest.raises(
        JournalNewer, match=rf"version {migrations.NEWEST} or older.*Update"
    ) as caught:
        open_journal(folder)
    assert "Nothing was changed" in str(caught.value)
    assert contents(folder) == before


def test_damage_found_while_it_is_open_is_said(folder):
    path = filled(folder, events=2000)
    with open_journal(folder) as journal:
        garbage_inside(path)
        with pytest.raises(JournalDamaged, match="Recover the journal"):
            journal.all(EventRow)


def test_an_old_sqlite_is_refused_in_words(folder, monkeypatch):
    monkeypatch.setattr(sqlite3, "sqlite_version_info", (3, 31, 0))
    with pytest.raises(CannotJournal, match="Install a newer Python"):
        open_journal(folder)
    assert not folder.exists()


# --- two notebooks ------------------------------------------------------------------------


@needs_fork
def test_writers_at_once_on_a_new_journal_lose_nothing(folder):
    children = [Child() for _ in range(3)]
    for number, child in enumerate(children):
        child.order("count", folder, f"notebook {number}", 60)
    for child in children:
        child.order("wait")
        child.end()
    with open_journal(folder) as journal:
        events = journal.all(EventRow)
    for number in range(3):
        mine = [e.details["number"] for e in events if e.details["by"] == f"notebook {number}"]
        assert mine == list(range(60))
    assert [event.turn for event in events] == list(range(1, 181))


def test_one_notebook_sees_what_the_other_wrote(folder):
    with open_journal(folder) as one, open_journal(folder) as other:
        seen = other.seen()
        assert other.seen() == seen
        first = one.new_blend("Quay at Dusk", {"strength": "20 %"})
        assert other.seen() != seen
        assert other.all(Version) == [first]
        second = other.new_version(first, {"strength": "15 %"})
        third = one.new_version(first, {"strength": "10 %"})
        assert (second.number, third.number) == (2, 3)


def test_a_notebook_that_writes_for_long_is_said(folder, monkeypatch):
    monkeypatch.setattr(connect, "PATIENCE_S", 0.1)
    with open_journal(folder) as one, open_journal(folder) as other:
        session = one.start_session("invented")
        with other.transaction():
            with pytest.raises(CannotJournal, match="another notebook") as caught:
                one.log(session, "added", {})
            assert "Try again in a moment" in str(caught.value)
            assert one.all(EventRow) == []  # reading goes on
        one.log(session, "added", {})
        assert other.count(EventRow) == 1


def test_what_durability_rests_on_is_set(folder):
    with open_journal(folder) as journal, journal.snapshot() as connection:
        asked = {
            name: connection.execute(f"PRAGMA {name}").fetchone()[0]
            for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
        }
    extra = 3  # https://www.sqlite.org/pragma.html#pragma_synchronous
    assert asked == {
        "journal_mode": "persist",
        "synchronous": extra,
        "foreign_keys": 1,
        "busy_timeout": connect.PATIENCE_S * 1000,
    }


def test_a_failing_daily_copy_does_not_stand_in_the_way(folder, monkeypatch):
    def full(*_arguments):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(ledger, "back_up_if_due", full)
    with open_journal(folder) as journal:
        journal.start_session("invented")
        assert journal.count(Session) == 1
        (warning,) = journal.warnings
    assert "backup of the journal could not be made" in warning
    assert "No space left on device" in warning
