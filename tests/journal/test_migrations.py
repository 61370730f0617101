"""A journal of every earlier version opens, with every row it had.

`versions` holds one journal of each version as it was then, written down as SQL: an old step
that is edited afterwards no longer makes what is written there.
"""

from __future__ import annotations

import contextlib
import sqlite3
from pathlib import Path

import pytest

from blendkit.journal import backups, migrations
from blendkit.journal.backups import FILE, list_backups
from blendkit.journal.errors import CannotJournal
from blendkit.journal.records import KINDS, BlendRow, EventRow, Impression, Version
from blendkit.journal.store import open_journal
from tests.tools.journal_file import ask, rows_of, schema_of, value

RELEASED = Path(__file__).parent / "versions"
VERSIONS = range(1, migrations.NEWEST + 1)


def released(path, version):
    path.parent.mkdir(parents=True)
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.executescript((RELEASED / f"{version}.sql").read_text(encoding="utf-8"))


def test_every_version_is_on_record():
    assert {int(file.stem) for file in RELEASED.glob("*.sql")} == set(VERSIONS)


@pytest.mark.parametrize("version", VERSIONS)
def test_a_released_step_was_not_edited(tmp_path, version):
    path = tmp_path / "home" / FILE
    released(path, version)
    made = tmp_path / "made"
    with contextlib.closing(sqlite3.connect(made, isolation_level=None)) as connection:
        migrations.take_steps(connection, version)
        assert migrations.version_of(connection) == version
    assert schema_of(made) == schema_of(path)


@pytest.mark.parametrize("version", VERSIONS)
def test_an_earlier_journal_opens_with_every_row(tmp_path, version):
    path = tmp_path / "home" / FILE
    released(path, version)
    before = rows_of(path)
    assert before
    with open_journal(path.parent) as journal, open_journal(tmp_path / "new") as fresh:
        assert schema_of(journal.path) == schema_of(fresh.path)
        assert value(path, "PRAGMA user_version") == migrations.NEWEST
        assert value(path, "PRAGMA integrity_check") == "ok"
        assert not ask(path, "PRAGMA foreign_key_check")
        for kind in KINDS:
            journal.all(kind)
        (blend,) = journal.all(BlendRow)
        assert (blend.name, blend.row != blend.id) == ("Quay at Dawn (invented)", True)
        _first, second = journal.all(Version)
        assert second.document == {"name": "=Quay 💧", "oils": [1.5]}
        assert second.why == 'it\'s "sharper"'
        assert journal.all(EventRow) == []  # the only one was withdrawn
    after = rows_of(path)
    assert after.keys() == before.keys()
    for key, row in before.items():
        assert row.items() <= after[key].items()


def test_what_a_step_adds_is_filled_in(tmp_path):
    path = tmp_path / "home" / FILE
    released(path, 4)
    with open_journal(path.parent) as journal:
        (impression,) = journal.all(Impression)
    assert (impression.strength, impression.words) == (7.5, "bright")
    assert (impression.minutes, impression.smell, impression.details) == (None, "", {})


@pytest.mark.parametrize("version", VERSIONS[:-1])
def test_the_journal_is_copied_before_it_is_brought_up_to_date(tmp_path, version):
    path = tmp_path / "home" / FILE
    released(path, version)
    before = rows_of(path)
    open_journal(path.parent).close()
    (copy,) = list_backups(path.parent)
    assert rows_of(copy) == before
    assert value(copy, "PRAGMA user_version") == version


@pytest.mark.parametrize("version", [VERSIONS[0], 5, VERSIONS[-2]])
def test_a_backup_that_cannot_be_made_or_differs_stops_the_migration(
    tmp_path, monkeypatch, version
):
    path = tmp_path / "home" / FILE
    released(path, version)
    before = rows_of(path)

    def full(*_arguments):
        raise OSError(28, "No space left on device")

    def of_something_else(_connection, part):
        with contextlib.closing(sqlite3.connect(part)) as other:
            other.execute(f"PRAGMA user_version={version}")

    for name, broken, words in (
        ("put_on_disk", full, "No space left"),
        ("copy_store", of_something_else, "differs from the journal"),
    ):
        with monkeypatch.context() as patched:
            patched.setattr(backups, name, broken)
            with pytest.raises(CannotJournal, match=words):
                open_journal(path.parent)
        assert list_backups(path.parent) == []
        assert value(path, "PRAGMA user_version") == version
        assert rows_of(path) == before
    open_journal(path.parent).close()
    assert value(path, "PRAGMA user_version") == migrations.NEWEST


def test_a_migration_cut_short_takes_its_backup_again_and_goes_on(tmp_path, monkeypatch):
    path = tmp_path / "home" / FILE
    released(path, 5)
    before = rows_of(path)

    def killed(*_arguments):
        raise KeyboardInterrupt

    for _attempt in range(2):
        with monkeypatch.context() as patched:
            patched.setattr(migrations, "take_steps", killed)
            with pytest.raises(KeyboardInterrupt):
                open_journal(path.parent)
    open_journal(path.parent).close()
    assert value(path, "PRAGMA user_version") == migrations.NEWEST
    (copy,) = list_backups(path.parent)
    assert rows_of(copy) == before


@pytest.mark.parametrize("version", [0, *VERSIONS[:-1]])
def test_a_step_that_fails_leaves_the_journal_at_its_version(tmp_path, version, monkeypatch):
    path = tmp_path / "home" / FILE
    if version:
        released(path, version)
        before = rows_of(path)
    broken = [*migrations.STEPS[:-1], [*migrations.STEPS[-1], "INSERT INTO nowhere VALUES (1)"]]
    with monkeypatch.context() as patched:
        patched.setattr(migrations, "STEPS", broken)
        with pytest.raises(CannotJournal, match="nowhere"):
            open_journal(path.parent)
    assert value(path, "PRAGMA user_version") == version
    if version:
        assert rows_of(path) == before
    open_journal(path.parent).close()
    assert value(path, "PRAGMA user_version") == migrations.NEWEST


def test_steps_are_taken_once(tmp_path):
    with open_journal(tmp_path) as journal:
        before = schema_of(journal.path)
        with contextlib.closing(sqlite3.connect(journal.path)) as connection:
            migrations.take_steps(connection)
        assert schema_of(journal.path) == before
