"""People can be forgotten: no byte of them stays in the store or in a copy that is in reach.

Bytes are looked for in the files themselves, with nothing of SQLite or of the package between.
"""

from __future__ import annotations

import contextlib
import json
import os
import random
import signal
import sqlite3
import time
import zipfile
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendkit.journal import migrations, people_table
from blendkit.journal.backups import FILE, list_backups
from blendkit.journal.exchange import STORE, export_journal
from blendkit.journal.merge import import_journal
from blendkit.journal.people_table import put_person, read_people, take_people
from blendkit.journal.records import BatchBottles, BatchRow, HandoverRow
from blendkit.journal.restore import SET_ASIDE, recover_journal, restore_backup
from blendkit.journal.second_place import backups_there, choose_second_place, takes_people
from blendkit.journal.store import open_journal
from blendkit.keeping.handing import forget_person
from tests.tools.journal_file import ask, value
from tests.tools.kill_harness import Child, needs_fork

ID, OTHER = "a" * 32, "b" * 32
NAME, HEALTH, OLD_NOTE = "Quillfeather-Invented", "welts-up-to-the-elbow", "met-at-the-old-pier"
SECRETS = (NAME, HEALTH, OLD_NOTE)
KEPT = "Somebodyelse-Invented"
KILLS = 16
AT = [
    f"blendkit.journal.{name}"
    for name in ("backups.write_copy", "forgetting.put_in_place", "forgetting._rebuild")
]


def document(name=NAME, note="", **reactions):
    return {"name": name, "contact": "", "note": note, "reactions": reactions}


def write(journal, id=ID, content=None):
    with journal.transaction() as store:
        put_person(store, id, content or document())


def live(journal):
    with journal.snapshot() as store:
        return {each.id: each.document for each in read_people(store) if not each.forgotten}


def begin(folder, backups=2):
    """A journal with a batch, a handover, and a person whose document was written often."""
    journal = open_journal(folder)
    version = journal.new_blend("Quay at Dusk (invented)", {"oils": []})
    batch = journal.make_batch(
        BatchRow(version_id=version.id, lot="L1", made_on=date(2026, 12, 1)), [(12, 10.0)], []
    )
    journal.add(
        HandoverRow(batch_id=batch.id, person=ID, way="gift", bottles=2,
                    handed_on=date(2026, 12, 2))
    )  # fmt: skip
    for number in range(40):  # enough to fill pages, and to leave rows of other lengths
        write(journal, f"{number:032x}", document(f"{KEPT} {number}", "x" * 90 * number))
    write(journal, ID, document(note=OLD_NOTE * 60))
    for _ in range(backups):
        journal.back_up_now()
    write(journal, ID, document(r1={"what": HEALTH}))
    journal.back_up_now()
    return journal


def places(*folders):
    """Files of the folders that hold any secret as bytes."""
    return {
        str(file.relative_to(folder)): [each for each in SECRETS if each.encode() in content]
        for folder in folders for file in folder.rglob("*")
        if file.is_file() and any(each.encode() in (content := file.read_bytes())
                                  for each in SECRETS)
    }  # fmt: skip


class Careless(sqlite3.Connection):
    """SQLite as it is built by default: what is deleted stays in the file, in free space."""

    def __init__(self, *arguments, **options):
        super().__init__(*arguments, **options)
        with contextlib.suppress(sqlite3.Error):
            self.execute("PRAGMA secure_delete=OFF")


@pytest.fixture(autouse=True)
def careless(monkeypatch):
    """Some systems ship an SQLite that overwrites what it deletes; that must not be needed."""
    connect = sqlite3.connect
    monkeypatch.setattr(
        sqlite3,
        "connect",
        lambda *names, **options: connect(*names, factory=Careless, **options),
    )


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "home"


@pytest.fixture
def stick(tmp_path):
    (tmp_path / "stick").mkdir()
    return tmp_path / "stick"


# --- forgetting ---------------------------------------------------------------------------


def test_no_byte_of_a_person_stays_in_the_store_its_log_and_its_copies(folder, stick):
    journal = begin(folder)
    choose_second_place(folder, str(stick), people=True)
    journal.back_up_now()
    journal.close()
    with restore_backup(list_backups(folder)[0], folder) as journal:  # sets the journal aside
        kept = {file for file in places(folder, stick) if not file.endswith("-journal")}
        assert {file.split("/")[0] for file in kept} > {FILE, SET_ASIDE, "journal copies"}
        assert any(file.startswith("blendkit backups of") for file in kept)
        done = journal.forget(ID)
        assert places(folder, stick) == {}
        assert len(done.cleaned) == len(kept) - 1  # all but the store itself
        assert not (folder / f"{FILE}-journal").exists()  # which holds pages as they were
        assert done.not_reached == ()
        assert len(live(journal)) == 40
        (row,) = journal.all(HandoverRow)  # the trail of the lot
        assert (row.person, row.bottles, row.way) == (ID, 2, "gift")
    newest = list_backups(folder)[0]
    assert value(newest, "SELECT count(*) FROM people WHERE NOT forgotten") == 40
    assert value(newest, "SELECT count(*) FROM handovers") == 1
    for copy in (*list_backups(folder), *backups_there(folder)):
        assert value(copy, "PRAGMA integrity_check") == "ok"
        assert ask(copy, f"SELECT 1 FROM people WHERE id = '{ID}' AND NOT forgotten") == []
        assert copy.stat().st_mode & 0o777 == 0o600


def test_a_file_that_was_forgotten_stays_so_whatever_is_written(folder):
    with begin(folder, backups=0) as journal:
        journal.forget(ID)
        for attempt in (
            f"UPDATE people SET forgotten = 0 WHERE id = '{ID}'",
            f"UPDATE people SET document = '{{\"name\": \"x\"}}' WHERE id = '{ID}'",
            f"UPDATE people SET id = '{'c' * 32}' WHERE id = '{ID}'",
            f"DELETE FROM people WHERE id = '{ID}'",
            f"INSERT OR REPLACE INTO people VALUES ('{ID}', 9, '{{}}', 0, '')",
        ):
            with (
                contextlib.closing(sqlite3.connect(journal.path)) as store,
                pytest.raises(sqlite3.IntegrityError),
            ):
                store.execute(attempt)
        assert ID not in live(journal)


@needs_fork
def test_a_kill_at_any_moment_leaves_the_person_whole_or_nothing_of_them(tmp_path):
    chance, child, seen = random.Random(11), Child(), {"whole": 0, "forgotten": 0}
    for number in range(KILLS):
        folder = tmp_path / f"{number}"
        begin(folder, backups=3).close()
        worker = int(child.order("forget", folder, ID))
        time.sleep(chance.uniform(0, 0.4) ** 2 * 3)
        os.kill(worker, signal.SIGKILL)
        child.order("wait")
        with open_journal(folder) as journal:
            is_whole = ID in live(journal)
            assert value(journal.path, "PRAGMA integrity_check") == "ok"
            assert len(live(journal)) == 40 + is_whole
        assert is_whole or places(folder) == {}
        seen["whole" if is_whole else "forgotten"] += 1
    child.end()
    assert seen["forgotten"] > 2, seen


@pytest.mark.parametrize("at", AT)
def test_what_was_cut_short_is_finished_at_the_next_opening(folder, at, monkeypatch):
    with begin(folder) as journal, monkeypatch.context() as patched:

        def killed(*_arguments):
            raise KeyboardInterrupt

        patched.setattr(at, killed)
        with pytest.raises(KeyboardInterrupt):
            journal.forget(ID)
    assert places(folder)
    with open_journal(folder) as journal:
        assert ID not in live(journal)
    assert places(folder) == {}


def test_copies_out_of_reach_and_exports_are_named_and_cleaned_when_they_are_back(
    folder, stick, tmp_path
):
    with begin(folder) as journal:
        choose_second_place(folder, str(stick), people=True)
        export = export_journal(journal).path
        other = export_journal(journal, tmp_path / "elsewhere.zip").path
        stick.rename(tmp_path / "unplugged")
        (folder / SET_ASIDE / "2026-01-01 1").mkdir(parents=True)
        damaged = folder / SET_ASIDE / "2026-01-01 1" / FILE
        damaged.write_bytes(b"no database")
        named = forget_person(journal, ID).not_reached
        assert [line.split(": ")[0] for line in named] == [
            str(damaged),
            str(stick),
            str(export),
        ]
        assert other not in named
        with zipfile.ZipFile(export) as files:  # the maker's own, and left as it is
            assert NAME.encode() in files.read(STORE)
        (tmp_path / "unplugged").rename(stick)
        assert places(stick)
        journal.back_up_now()
        assert places(folder, stick) == {}


# --- merging and going back -----------------------------------------------------------------


def test_an_older_move_a_backup_and_a_recovery_bring_nobody_back(folder, stick, tmp_path):
    with begin(folder) as journal:
        choose_second_place(folder, str(stick), people=True)
        move = export_journal(journal, tmp_path / "move.zip").path
        stick.rename(tmp_path / "unplugged")
        journal.forget(ID)
        assert import_journal(journal, move).get("people", 0) == 0
        assert places(folder) == {}
    (tmp_path / "unplugged").rename(stick)
    (there,) = backups_there(folder)
    assert value(there, f"SELECT forgotten FROM people WHERE id = '{ID}'") == 0
    with restore_backup(there, folder) as journal:
        assert ID not in live(journal)
        assert len(live(journal)) == 40
    assert places(folder) == {}
    path = folder / FILE
    content = bytearray(path.read_bytes())
    content[100:8192] = bytes(8092)
    path.write_bytes(content)
    with recover_journal(folder) as journal:
        assert ID not in live(journal)
        assert len(live(journal)) == 40
        assert journal.count(BatchBottles) == 1
    assert places(folder) == {}


def test_forgotten_on_one_computer_is_forgotten_on_the_other_with_its_backups(tmp_path):
    with begin(tmp_path / "one") as one, open_journal(tmp_path / "two") as two:
        import_journal(two, export_journal(one, tmp_path / "1.zip").path)
        two.back_up_now()
        write(two, ID, document(r2={"what": "dry skin"}))
        assert places(tmp_path / "two")
        assert import_journal(one, export_journal(two, tmp_path / "2.zip").path)["people"] == 1
        assert live(one)[ID]["reactions"].keys() == {"r1", "r2"}
        one.forget(ID)
        import_journal(two, export_journal(one, tmp_path / "3.zip").path)
        assert ID not in live(two)
        assert places(tmp_path / "one", tmp_path / "two") == {}


def test_a_share_holds_neither_people_nor_handovers(folder, tmp_path):
    with begin(folder, backups=0) as journal:
        share = export_journal(journal, tmp_path / "share.zip", people=False).path
    with zipfile.ZipFile(share) as files:
        names = files.namelist()
        store = files.extract(STORE, tmp_path)
        assert not any(each.encode() in files.read(name) for name in names for each in SECRETS)
    assert {"people.csv", "handovers.csv"}.isdisjoint(names)
    tables = {row[0] for row in ask(tmp_path / STORE, "SELECT name FROM sqlite_schema")}
    assert {"people", "handovers"}.isdisjoint(tables), store


@pytest.mark.parametrize(
    "row",
    [
        ("no id", 1, "{}", 0, ""), ("c" * 32, 0, "{}", 0, ""), ("c" * 32, 2**60, "{}", 0, ""),
        ("c" * 32, 1, "[]", 0, ""), ("c" * 32, 1, "{", 0, ""), ("c" * 32, 1, None, 0, ""),
        ("c" * 32, 1, '{"a":' * 2000, 0, ""), (b"c", "x", 1, 7, None),
        ("c" * 32, 1, '{"name": "' + "x" * 1_000_000 + '"}', 0, ""), ("c" * 32, 1, "{}", 2, ""),
    ],
)  # fmt: skip
def test_a_row_that_is_no_person_is_passed_by(folder, tmp_path, row):
    with begin(folder, backups=0) as journal:
        move = export_journal(journal, tmp_path / "move.zip").path
    with zipfile.ZipFile(move) as files:
        files.extract(STORE, tmp_path)
    with contextlib.closing(sqlite3.connect(tmp_path / STORE)) as store:
        store.execute("INSERT INTO people VALUES (?, ?, ?, ?, ?)", row)
        store.commit()
    with zipfile.ZipFile(tmp_path / "odd.zip", "w") as files:
        files.write(tmp_path / STORE, STORE)
    with open_journal(tmp_path / "other") as journal:
        added = import_journal(journal, tmp_path / "odd.zip")
        assert len(added.passed_by) == 1
        assert "people" in added.passed_by[0]
        assert len(live(journal)) == 41


ROWS = st.tuples(
    st.sampled_from([ID, OTHER]), st.integers(1, 4), st.sampled_from(["one", "two"]),
    st.booleans(), st.sampled_from(["r1", "r2", "r3"]),
)  # fmt: skip


def merged(rows):
    with contextlib.closing(sqlite3.connect(":memory:", isolation_level=None)) as store:
        store.row_factory = sqlite3.Row
        for statement in migrations.STEPS[12]:
            store.execute(statement)
        for id, turn, name, forgotten, reaction in rows:
            text = "{}" if forgotten else json.dumps(document(name, **{reaction: {}}))
            cells = dict(zip(people_table.COLUMNS, (id, turn, text, forgotten, "then"),
                             strict=True))  # fmt: skip
            take_people(store, [cells])
        return {each.id: each for each in read_people(store)}


@given(st.lists(ROWS, max_size=7), st.randoms(use_true_random=False))
def test_forgotten_anywhere_is_forgotten_in_whatever_order_rows_come(rows, chance):
    other = [*rows, *rows[:2]]
    chance.shuffle(other)
    one, two = merged(rows), merged(other)
    assert one.keys() == two.keys() == {row[0] for row in rows}
    for id, person in one.items():
        forgotten = any(row[0] == id and row[3] for row in rows)
        assert person.forgotten == two[id].forgotten == forgotten
        if not forgotten:
            reported = {row[4] for row in rows if row[0] == id}
            assert person.document["reactions"].keys() == reported
            assert two[id].document["reactions"].keys() == reported
            assert person.turn == two[id].turn


# --- the second place -----------------------------------------------------------------------


def test_the_second_place_has_no_people_unless_that_was_chosen(folder, stick):
    with begin(folder) as journal:
        choose_second_place(folder, str(stick))
        journal.back_up_now()
        assert not takes_people(folder)
        assert places(stick) == {}
        assert not any(KEPT.encode() in each.read_bytes() for each in backups_there(folder))
        count = len(backups_there(folder))
        choose_second_place(folder, str(stick))
        assert len(backups_there(folder)) == count  # the same backup is copied once
        newest = backups_there(folder)[0]
        choose_second_place(folder, str(stick), people=True)
        assert takes_people(folder)
        assert places(stick)
        choose_second_place(folder, str(stick))
        assert places(stick) == {}
    with restore_backup(newest, folder) as journal:
        assert live(journal) == {}
        assert journal.count(HandoverRow) == 1
        assert journal.count(BatchBottles) == 1
