"""What Windows and macOS do differently, by fakes: neither system was at hand.

Read in Microsoft's documentation: "Naming Files, Paths, and Namespaces" (reserved names, UNC
paths), "FlushFileBuffers function" (a folder opened as a file cannot be flushed without backup
semantics), "MoveFileExA function" (a file that is open without FILE_SHARE_DELETE is not
replaced); in the C runtime, "gmtime" (no time before 1970). Apple's manual page fsync(2) asks
for F_FULLFSYNC to get past the disk's own cache, which SQLite's pragma fullfsync does.
"""

from __future__ import annotations

import os
from datetime import datetime
from pathlib import Path, PurePosixPath, PureWindowsPath

import pytest

from blendkit.foundation import keep
from blendkit.foundation.whole_files import give_name, temporary_file
from blendkit.journal import backups
from blendkit.journal.backups import list_backups
from blendkit.journal.connect import connected
from blendkit.journal.errors import CannotJournal
from blendkit.journal.records import EventRow, Version
from blendkit.journal.restore import restore_backup
from blendkit.journal.store import open_journal
from blendkit.keeping import older_files
from blendkit.keeping.open_store import the_journal


def test_a_folder_that_cannot_be_flushed_stops_no_save(own_folder, monkeypatch):
    real = os.open

    def as_on_windows(path, flags, *more, **options):
        if Path(path).is_dir():
            raise PermissionError(13, "Permission denied")
        return real(path, flags, *more, **options)

    monkeypatch.setattr(os, "open", as_on_windows)
    assert keep.load(keep.save("blends", "invented", {"name": "x"})) == {"name": "x"}


def test_a_journal_that_another_notebook_has_open_is_not_replaced(tmp_path, monkeypatch):
    with open_journal(tmp_path) as journal:
        session = journal.start_session("invented")
        journal.log(session, "added", {})
        journal.back_up_now()
    with open_journal(tmp_path) as journal:
        journal.log(session, "added", {})

    def in_use(self, target):
        raise PermissionError(13, "The process cannot access the file: it is used")

    with monkeypatch.context() as patched:
        patched.setattr(Path, "replace", in_use)
        with pytest.raises(CannotJournal, match="used"):
            restore_backup(list_backups(tmp_path)[0], tmp_path)
    with open_journal(tmp_path) as journal:
        assert journal.count(EventRow) == 2


@pytest.mark.parametrize("name", ["CON", "con", "nul", "COM1", "com¹", "LPT9", "aux", "PRN"])
def test_no_file_is_called_as_a_device(own_folder, name):
    assert keep.save("blends", name, {}).stem == f"{name}_"


def test_a_network_share_is_refused_in_words(monkeypatch):
    for path in ("//server/oils", r"\\server\oils"):
        with pytest.raises(CannotJournal, match="another computer"):
            open_journal(Path(path))


def test_a_drive_letter_makes_an_address_that_sqlite_takes():
    """https://www.sqlite.org/uri.html, section 3.1: a drive letter follows the third slash."""
    assert (
        PureWindowsPath("C:/Users/a b/x.sqlite3").as_uri() == "file:///C:/Users/a%20b/x.sqlite3"
    )
    assert PurePosixPath("/a b#?/x").as_uri() == "file:///a%20b%23%3F/x"


def test_a_folder_with_odd_letters_opens(tmp_path):
    with open_journal(tmp_path / "a b#? ü 💧 %41") as journal:
        assert journal.start_session("invented")


def test_a_time_before_1970_is_long_ago(own_folder, monkeypatch):
    file = keep.save("blends", "invented", {"name": "Old (invented)"})
    os.utime(file, (-631_152_000, -631_152_000))  # 1950

    class AsOnWindows(datetime):
        @classmethod
        def fromtimestamp(cls, seconds, tz=None):
            if seconds < 0:
                raise OSError(22, "Invalid argument")
            return datetime.fromtimestamp(seconds, tz)

    with monkeypatch.context() as patched:
        patched.setattr(older_files, "datetime", AsOnWindows)
        (version,) = the_journal().all(Version)
    assert version.made_at.year == 1970


def test_a_system_without_owners_and_modes(own_folder, monkeypatch):
    for name in ("getuid", "geteuid", "fchmod"):
        monkeypatch.delattr(os, name, raising=False)

    def no_modes(self, mode):
        raise OSError(1, "Operation not permitted")

    monkeypatch.setattr(Path, "chmod", no_modes)
    with open_journal(own_folder) as journal:
        assert journal.start_session("invented")


def test_the_disks_own_cache_is_passed_where_the_system_can(tmp_path):
    with open_journal(tmp_path):
        pass
    connection = connected(backups.journal_path(tmp_path), "rw")
    assert connection.execute("PRAGMA fullfsync").fetchone()[0] == 1
    connection.close()


def test_a_name_without_hard_links_is_still_given_once(tmp_path, monkeypatch):
    def no_links(*_names):
        raise OSError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", no_links)
    with temporary_file(tmp_path) as part:
        assert give_name(part, tmp_path / "a")
    with temporary_file(tmp_path) as part:
        assert not give_name(part, tmp_path / "a")
