"""A journal of every earlier version opens, with every row it had.

`journal_versions` holds one journal of each version as it was released, written down as SQL:
an old step that is edited afterwards no longer makes what is written there.
"""

from __future__ import annotations

import contextlib
import sqlite3
from pathlib import Path

import pytest

from blendkit.journal import migrations
from blendkit.journal.backups import FILE, copies
from blendkit.journal.errors import CannotJournal
from blendkit.journal.records import KINDS, BlendRow, EventRow, Impression, Version
from blendkit.journal.store import open_journal

RELEASED = Path(__file__).parent / "versions"
VERSIONS = range(1, migrations.NEWEST + 1)


def released(path, version):
    path.parent.mkdir(parents=True)
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.executescript((RELEASED / f"{version}.sql").read_text(encoding="utf-8"))


def schema_of(connection):
    select = "SELECT type, name, sql FROM sqlite_schema WHERE sql IS NOT NULL"
    # SQLite versions differ in how they space what ALTER TABLE added
    return {
        (kind, name, " ".join(sql.split())) for kind, name, sql in connection.execute(select)
    }


def rows_of(path):
    """Every cell of every table, by table and id."""
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.row_factory = sqlite3.Row
        tables = connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")
        return {
            (table, row["id"]): dict(row)
            for (table,) in tables.fetchall()
            for row in connection.execute(f"SELECT * FROM {table}")
        }


def test_every_version_is_on_record():
    assert {int(file.stem) for file in RELEASED.glob("*.sql")} == set(VERSIONS)


@pytest.mark.parametrize("version", VERSIONS)
def test_a_released_step_was_not_edited(tmp_path, version):
    path = tmp_path / "home" / FILE
    released(path, version)
    with (
        contextlib.closing(sqlite3.connect(":memory:", isolation_level=None)) as made,
        contextlib.closing(sqlite3.connect(path)) as recorded,
    ):
        migrations.take_steps(made, version)
        assert schema_of(made) == schema_of(recorded)
        assert migrations.version_of(made) == version


@pytest.mark.parametrize("version", VERSIONS)
def test_an_earlier_journal_opens_with_every_row(tmp_path, version):
    path = tmp_path / "home" / FILE
    released(path, version)
    before = rows_of(path)
    assert before
    with open_journal(path.parent) as journal, open_journal(tmp_path / "new") as fresh:
        assert schema_of(journal._connection) == schema_of(fresh._connection)
        assert migrations.version_of(journal._connection) == migrations.NEWEST
        assert journal._connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        assert not journal._connection.execute("PRAGMA foreign_key_check").fetchall()
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
    (copy,) = copies(path.parent)
    assert rows_of(copy) == before
    with contextlib.closing(sqlite3.connect(copy)) as connection:
        assert migrations.version_of(connection) == version


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
    with contextlib.closing(sqlite3.connect(path)) as connection:
        assert migrations.version_of(connection) == version
    if version:
        assert rows_of(path) == before
    with open_journal(path.parent) as journal:
        assert migrations.version_of(journal._connection) == migrations.NEWEST


def test_steps_are_taken_once(tmp_path):
    with open_journal(tmp_path) as journal:
        before = schema_of(journal._connection)
        migrations.take_steps(journal._connection)
        assert schema_of(journal._connection) == before
