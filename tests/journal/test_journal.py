"""The journal: rows come back as they went in, and nothing is ever rewritten."""

from __future__ import annotations

import contextlib
import dataclasses
import gc
import json
import os
import sqlite3
import subprocess
import sys
import threading
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendkit.foundation.errors import BlendkitError, Refused
from blendkit.foundation.whole_files import give_name
from blendkit.journal import backups, connect, insertion, ledger, records
from blendkit.journal.backups import journal_path
from blendkit.journal.errors import CannotJournal
from blendkit.journal.exchange import defused
from blendkit.journal.ledger import UnknownRecord
from blendkit.journal.records import (
    KINDS,
    AnswerRow,
    BatchBottles,
    BatchMaterial,
    BatchPaperRow,
    BatchRow,
    BlendRow,
    ClassRow,
    CountRow,
    DropperRow,
    EventRow,
    HandoverRow,
    Impression,
    Like,
    LotRow,
    MakerRow,
    MakingRow,
    OlderFileRow,
    OwnMaterialRow,
    PacksRow,
    Photo,
    PurchaseRow,
    Session,
    StoringRow,
    Version,
    WeighingRow,
)
from blendkit.journal.rows import BadRecord, as_typed, contents, read, storable, written
from blendkit.journal.store import open_journal

AT = datetime(2026, 11, 25, 18, 30, tzinfo=timezone(timedelta(hours=1)))
DAY = date(2026, 11, 25)
DOCUMENT = {"name": "Quay at Dusk", "oils": [{"id": "lavender", "parts": 1}], "strength": 0.1}
HOSTILE = [
    "quoted \"twice\" and 'once'",
    "'; DROP TABLE events; --",
    "💧🌿 👩‍🔬",
    "ريحان \u202eright to left\u202c",
    "half a pair \ud83d",
    "two halves \ud83d\udca7",
    "a NUL \0 inside",
    "\0",
    "<script>alert(1)</script>",
    '=HYPERLINK("http://example.org","lavender")',
    "+1",
    "-1",
    "@SUM(A1)",
    "\t=1+1",
    "'=1+1",
    "''",
    " =1+1",
    "＝1+1",
    "a;=1+1",
    "a\n=1+1",
    "\r\n",
    "\n\n-",
    "\ufdd0",
    "\ufeff=1+1",
    "\\ud800 \\",
    "",
    " ",
    "x" * 200_000,
]
any_text = st.one_of(  # the longest is tried by itself
    st.sampled_from(HOSTILE[:-1]),
    st.text(st.characters()),
    st.text(st.sampled_from("=+-@'; |\t\r\n\"a\ufdd0\0\ud83d\udca7＝")),
)


@pytest.fixture
def journal(tmp_path, monkeypatch):
    monkeypatch.setenv("BLENDKIT_HOME", str(tmp_path / "home"))
    with open_journal() as journal:
        yield journal


def one_of_each(journal):
    """A journal with a row of every kind; the rows by kind."""
    version = journal.new_blend("Quay at Dusk", DOCUMENT, why="invented")
    batch = journal.make_batch(
        BatchRow(version_id=version.id, lot="20261125-1", made_on=DAY),
        [(12, 10)],
        [BatchMaterial(batch_id="", material="lavender", volume_ml=3.5, supplier_lot="A12",
                       opened_on=DAY)],
    )  # fmt: skip
    session = journal.start_session("first try", version_id=version.id)
    journal.log(session, "added", {"oil": "lavender", "drops": 2})
    journal.add(
        Impression(kind="sniff", happened_at=AT, strength=7.5, version_id=version.id),
        Impression(
            kind="wear",
            happened_at=AT,
            minutes=90,
            smell="gone",
            batch_id=batch.id,
            details={"room": 21.5},
        ),
    )
    journal.add(Like(version_id=version.id, person="A guest", liked=True, happened_at=AT))
    journal.add(Photo(path="photos/quay.jpg", taken_at=AT, session_id=session.id))
    journal.add(
        LotRow(oil="lavender", lot="A12", analysis={"percents": {"78-70-6": [30, 36, 40]}},
               kept_at=AT),
        OwnMaterialRow(name="Rose", document={"kind": "mixture", "parts": {"jojoba": 97}},
                       kept_at=AT),
        MakingRow(material="my-rose@0123456789", lot="L1", made_on=DAY, volume_ml=10,
                  taken_ml={"jojoba": 9.7}, price=4.5, currency="EUR"),
        PurchaseRow(material="lavender", bottle_ml=10, price=8.5, currency="EUR",
                    bought_on=DAY, entered_at=AT),
        CountRow(material="jojoba", left_ml=40.5, counted_on=DAY, entered_at=AT),
        DropperRow(material="lavender", drops_per_ml=26.5, how_measured="weighed",
                   entered_at=AT),
        PacksRow(document={"packs": [{"material": "lavender", "size": "30 mL"}]}, kept_at=AT),
        MakerRow(maker="A maker (invented)", contact="nowhere", kept_at=AT),
        ClassRow(name="Evening", document={"name": "Evening"}, kept_at=AT),
        OlderFileRow(file="blends/Dusk.json", digest="0" * 64),
        WeighingRow(kind="strokes", document={"kind": "strokes"}, weighed_at=AT),
        AnswerRow(kind="duel", nose="me", document={"won": "first"}, answered_at=AT),
        BatchPaperRow(batch_id=batch.id, kind="record", document={"tare": "1 g"}, dated_on=DAY),
        StoringRow(material="lavender", document={"place": "fridge"}, kept_at=AT),
        HandoverRow(batch_id=batch.id, person="p1", way="gift", handed_on=DAY),
    )  # fmt: skip
    rows = {kind: journal.all(kind) for kind in KINDS}
    assert all(rows.values())
    return rows


def test_a_photo_of_no_known_day_can_be_kept(journal):
    """A stick or a zip may leave a file dated at the beginning of computers' time."""
    taken_at = datetime.fromtimestamp(0, timezone(timedelta(hours=-8)))
    session = journal.start_session("first try")
    journal.add(Photo(path="photos/quay.jpg", taken_at=taken_at, session_id=session.id))
    assert journal.all(Photo)[0].taken_at == taken_at


# --- rows come back exactly ---------------------------------------------------------------


def test_every_kind_of_row_comes_back(journal):
    rows = one_of_each(journal)
    journal.close()
    with open_journal() as again:
        assert {kind: again.all(kind) for kind in KINDS} == rows
    assert rows[Version][0].document == DOCUMENT
    assert rows[BatchBottles][0].size_ml == 10
    assert rows[BatchMaterial][0].opened_on == DAY
    assert rows[Impression][0].happened_at == AT
    assert rows[Impression][0].happened_at.utcoffset() == timedelta(hours=1)
    assert [each.details for each in rows[Impression]] == [{}, {"room": 21.5}]


@pytest.mark.parametrize("text", HOSTILE)
def test_any_text_is_kept_exactly(journal, text):
    session = journal.start_session(text)
    journal.log(session, "added", {"note": text, "list": [text]})
    (photo,) = journal.add(
        Photo(path="x" + text, taken_at=AT, caption=text, session_id=session.id)
    )
    journal.close()
    with open_journal() as again:
        assert again.all(Session, title=text) == [session]
        assert again.all(Photo) == [photo]
        assert photo.caption == text
        # two halves side by side are one character in JSON (RFC 8259, section 7)
        assert again.all(EventRow)[0].details["note"] == json.loads(json.dumps(text))


@given(any_text)
def test_texts_that_cannot_be_stored_are_spelled_out_and_come_back(text):
    stored = storable(text)
    stored.encode("utf-8")
    assert "\0" not in stored
    assert as_typed(stored) == text


@given(any_text)
def test_a_defused_cell_starts_no_formula(text):
    cell = defused(text)
    for piece in cell.replace("\t", ";").replace("\r", ";").replace("\n", ";").split(";"):
        assert not piece.lstrip(" ").startswith(("=", "+", "-", "@", "＝", "＋", "－", "＠"))


json_values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)


@given(st.dictionaries(st.text(), json_values, max_size=5))
def test_documents_come_back_exactly(document):
    event = EventRow(session_id="s", kind="added", details=document, happened_at=AT)
    row = {
        "id": "e",
        "corrects": None,
        "turn": 1,
        "recorded_at": AT.isoformat(),
        "withdrawn": 0,
    }
    back = read(EventRow, row | written(event))
    assert back.details == document
    assert json.dumps(back.details) == json.dumps(document)  # 1 is not 1.0, -0.0 is not 0.0


@given(st.floats(0, 10))
def test_figures_come_back_to_the_last_digit(strength):
    with contextlib.closing(sqlite3.connect(":memory:")) as connection:
        back = connection.execute("SELECT CAST(? AS REAL)", (strength,)).fetchone()[0]
    assert back == strength


def test_ten_thousand_events(journal):
    session = journal.start_session("long")
    events = [
        EventRow(
            session_id=session.id, kind="added", details={"number": number}, happened_at=AT
        )
        for number in range(10_000)
    ]
    journal.add(*events)
    kept = journal.all(EventRow, session_id=session.id)
    assert [event.details["number"] for event in kept] == list(range(10_000))
    assert journal.count(EventRow) == 10_000
    assert len({event.id for event in kept}) == 10_000


# --- corrections --------------------------------------------------------------------------


def test_a_correction_is_a_row_of_its_own(journal):
    session = journal.start_session("first try")
    first, second, third = (journal.log(session, "added", {"drops": n}) for n in (1, 2, 3))
    mended = journal.correct(second, details={"drops": 20})
    again = journal.correct(mended, details={"drops": 21})
    assert (mended.id, again.id) == (second.id, second.id)
    assert len({second.row, mended.row, again.row}) == 3
    assert again.row != again.id
    assert journal.all(EventRow) == [first, again, third]  # in the place of what it corrects
    assert journal.get(EventRow, second.id) == again
    assert journal.history(EventRow, second.id) == [second, mended, again]


def test_what_did_not_happen_can_be_withdrawn_and_restored(journal):
    session = journal.start_session("first try")
    first, second = (journal.log(session, "added", {"drops": n}) for n in (1, 2))
    gone = journal.withdraw(first)
    assert gone.withdrawn
    assert journal.all(EventRow) == [second]
    assert journal.count(EventRow) == 1
    assert journal.get(EventRow, first.id).withdrawn
    back = journal.restore(gone)
    assert [event.details for event in journal.all(EventRow)] == [{"drops": 1}, {"drops": 2}]
    assert journal.history(EventRow, first.id) == [first, gone, back]


def test_looking_for_a_field_looks_at_what_holds(journal):
    first, second = (journal.start_session(title) for title in ("first", "second"))
    event = journal.log(first, "added", {})
    journal.correct(event, session_id=second.id)
    assert journal.all(EventRow, session_id=first.id) == []
    assert journal.count(EventRow, session_id=second.id) == 1
    with pytest.raises(TypeError, match="no field smell"):
        journal.all(EventRow, smell="gone")
    assert journal.all(Impression, kind="wear") == []


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    "rewriting",
    [
        "UPDATE {table} SET turn = 99",
        "DELETE FROM {table}",
        "INSERT OR REPLACE INTO {table} SELECT * FROM {table}",
        "INSERT OR IGNORE INTO {table} SELECT * FROM {table}",
    ],
)
def test_no_row_is_rewritten_by_anybody(journal, kind, rewriting):
    one_of_each(journal)
    before = journal.all(kind)
    # not through this package, with every guard of a connection at its weakest
    with contextlib.closing(sqlite3.connect(journal.path)) as connection:
        connection.execute("PRAGMA foreign_keys=OFF")
        connection.execute("PRAGMA recursive_triggers=OFF")
        with pytest.raises(sqlite3.IntegrityError, match="is never"):
            connection.execute(rewriting.format(table=kind.TABLE))
    assert journal.all(kind) == before


def test_order_does_not_hang_on_the_clock(journal, monkeypatch):
    session = journal.start_session("first try")
    first = journal.log(session, "added", {"drops": 1})

    class SetBack(datetime):
        @classmethod
        def now(cls, tz=None):
            return datetime(2001, 1, 1, tzinfo=UTC)

    monkeypatch.setattr(insertion, "datetime", SetBack)
    mended = journal.correct(first, details={"drops": 2})
    last = journal.log(session, "added", {"drops": 3})
    assert mended.recorded_at < first.recorded_at
    assert journal.all(EventRow) == [mended, last]


def test_a_row_that_another_program_wrote_badly_is_named(journal):
    session = journal.start_session("first try")
    row = ("e" * 32, 1, AT.isoformat(), None, 0, session.id, "added", "no JSON", AT.isoformat())
    with contextlib.closing(sqlite3.connect(journal.path)) as connection, connection:
        connection.execute("INSERT INTO events VALUES (?,?,?,?,?,?,?,?,?)", row)
    event = journal.log(session, "added", {"sound": True})
    assert journal.all(EventRow) == [event]
    assert journal.all(Session) == [session]
    (problem,) = journal.find_unreadable()
    assert "e" * 32 in str(problem)
    with pytest.raises(CannotJournal, match="e" * 32):
        journal.get(EventRow, "e" * 32)
    with pytest.raises(UnknownRecord):  # of another kind nothing goes by this id
        journal.get(BatchRow, "e" * 32)
    for table, row_id in (("no such table", "e" * 32), ("events", "f" * 32)):
        with pytest.raises(UnknownRecord):
            journal.withdraw_unreadable(table, row_id)
    table = str(b"events", "ascii")  # equal, as a page may send it, and not the very same
    journal.withdraw_unreadable(table, "e" * 32)
    assert journal.find_unreadable() == ()
    assert journal.all(EventRow) == [event]


# --- what cannot be kept ------------------------------------------------------------------

BAD = [
    (BatchMaterial(batch_id="b", material=" ", volume_ml=1), "material"),
    (BatchMaterial(batch_id="b", material="lavender", volume_ml=-1), "0 or more"),
    (BatchMaterial(batch_id="b", material="lavender", mass_g=float("nan")), "finite number"),
    (BatchBottles(batch_id="b", count=1, size_ml=float("nan")), "finite number"),
    (BatchBottles(batch_id="b", count=1, size_ml=float("inf")), "finite number"),
    (BatchBottles(batch_id="b", count=1, size_ml=10**400), "finite number"),
    (BatchBottles(batch_id="b", count=1, size_ml=True), "finite number"),
    (BatchBottles(batch_id="b", count=1, size_ml="10 mL"), "finite number"),
    (Photo(path="a.jpg", taken_at=datetime(2026, 1, 1), session_id="s"), "offset"),
    (BatchMaterial(batch_id="b", material=5, volume_ml=1), "text"),
    (EventRow(session_id="s", kind="k", happened_at=AT, details={1, 2}), "JSON"),
    (EventRow(session_id="s", kind="k", happened_at=AT, details={"a": {1}}), "JSON"),
    (EventRow(session_id="s", kind="k", happened_at=AT, details={"a": float("nan")}), "JSON"),
    (BatchBottles(batch_id="b", count=0, size_ml=10), "1 or more"),
    (BatchBottles(batch_id="b", count=2.5, size_ml=10), "whole number"),
    (BatchBottles(batch_id="b", count=2**63, size_ml=10), "whole number"),  # SQLite's: 64 bits
    (BatchBottles(batch_id="b", count=1, size_ml=0), "above 0"),
    (BatchMaterial(batch_id="b", material="lavender"), "at least one of volume_ml, mass_g"),
    (BatchRow(version_id="v", lot="", made_on=DAY), "lot"),
    (BatchRow(version_id="v", lot="1", made_on=AT), "a date"),
    (Impression(kind="snif", happened_at=AT, version_id="v"), 'Did you mean "sniff"?'),
    (Impression(kind="sniff", happened_at=AT, strength=11, version_id="v"), "from 0 to 10"),
    (Impression(kind="wear", happened_at=AT), "at least one of version_id"),
    (BlendRow(name="x" * 1_000_001, made_at=AT), "at most 1000000"),
]  # fmt: skip


@pytest.mark.parametrize(("record", "needed"), BAD)
def test_what_cannot_be_kept_is_refused_in_words(journal, record, needed):
    before = journal.seen()
    with pytest.raises(BadRecord) as caught:
        journal.add(record)
    assert needed in str(caught.value)
    assert journal.seen() == before


def test_all_problems_are_said_at_once_and_nothing_is_kept(journal):
    session = journal.start_session("a")
    good = Impression(kind="wear", happened_at=AT, minutes=1, session_id=session.id)
    bad = Impression(kind="wear", happened_at=AT, minutes=-1, group="", session_id=session.id)
    with pytest.raises(BadRecord) as caught:
        journal.add(good, bad, bad)
    assert len(caught.value.problems) == 4
    assert journal.all(Impression) == []


def test_a_document_nested_beyond_reading_is_refused(journal):
    nested: dict = {}
    for _ in range(100_000):
        nested = {"deeper": nested}
    with pytest.raises(BadRecord, match="JSON"):
        journal.new_blend("Quay", nested)
    assert journal.all(BlendRow) == []


def test_a_row_about_nothing_is_refused(journal):
    event = EventRow(session_id="f" * 32, kind="added", details={}, happened_at=AT)
    with pytest.raises(BadRecord, match="something that is not there"):
        journal.add(event)
    with pytest.raises(UnknownRecord):
        journal.withdraw(dataclasses.replace(event, id="f" * 32))
    assert journal.count(EventRow) == 0


def test_what_is_there_is_not_added_twice(journal):
    session = journal.start_session("first try")
    with pytest.raises(BadRecord, match="correct it"):
        journal.add(session)


def test_refusals_are_of_the_package():
    assert issubclass(BadRecord, Refused)
    assert issubclass(UnknownRecord, BlendkitError)


# --- blends, batches ----------------------------------------------------------------------


def test_versions_are_counted_and_know_their_parent(journal):
    first = journal.new_blend("Quay at Dusk", DOCUMENT)
    other = journal.new_blend("Another", DOCUMENT)
    second = journal.new_version(first, {**DOCUMENT, "strength": 0.2}, why="too quiet")
    third = journal.new_version(first, DOCUMENT)
    assert [v.number for v in (first, other, second, third)] == [1, 1, 2, 3]
    assert second.parent_id == third.parent_id == first.id
    assert journal.all(Version, blend_id=first.blend_id) == [first, second, third]
    journal.withdraw(third)
    assert journal.new_version(first, DOCUMENT).number == 4  # v3 may stand on a bottle


def test_a_lot_number_is_proposed_once(journal):
    version = journal.new_blend("Quay at Dusk", DOCUMENT)
    assert journal.next_lot(DAY) == "20261125-1"
    batch = journal.make_batch(
        BatchRow(version_id=version.id, lot="20261125-1", made_on=DAY), [], []
    )
    journal.withdraw(batch)
    assert journal.next_lot(DAY) == "20261125-2"
    assert journal.next_lot(date(2026, 11, 26)) == "20261126-1"
    with pytest.raises(BadRecord, match=r"taken.*20261125-2"):
        journal.make_batch(
            BatchRow(version_id=version.id, lot="20261125-1", made_on=DAY), [], []
        )


def test_a_batch_is_kept_whole_or_not_at_all(journal):
    version = journal.new_blend("Quay at Dusk", DOCUMENT)
    batch = BatchRow(version_id=version.id, lot="1", made_on=DAY)
    with pytest.raises(BadRecord, match="material"):
        journal.make_batch(
            batch, [(1, 10)], [BatchMaterial(batch_id="", material="", mass_g=1)]
        )
    assert not any(journal.count(kind) for kind in (BatchRow, BatchBottles, BatchMaterial))


# --- where it is, who may use it ----------------------------------------------------------


def test_the_folder_can_be_moved(tmp_path, monkeypatch):
    monkeypatch.setenv("BLENDKIT_HOME", str(tmp_path / "a #folder? with % signs"))
    with open_journal() as journal:
        journal.start_session("first try")
        assert journal.path == journal_path()
        assert journal.path.parent.name == "a #folder? with % signs"
        assert journal.path.exists()


def test_a_computer_is_told_by_the_first_forty_characters_of_its_name(journal, monkeypatch):
    monkeypatch.setattr("platform.node", lambda: "a" * 39 + "bc")
    version = journal.new_blend("Quay at Dusk", DOCUMENT)
    assert version.computer == "a" * 39 + "b"


def test_threads_may_share_it(journal):
    session = journal.start_session("first try")

    def log():
        for _ in range(20):
            journal.log(session, "added", {})

    threads = [threading.Thread(target=log) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [event.turn for event in journal.all(EventRow)] == list(range(1, 81))


def test_a_rollback_journal_of_nothing_is_left_when_it_is_closed(tmp_path):
    journal = open_journal(tmp_path)
    session = journal.start_session("first try")
    journal.log(session, "added", {"words": ["x" * 900] * 900})
    journal.close()
    journal.close()
    rollback = f"{backups.FILE}-journal"
    left = {path.name: path for path in tmp_path.iterdir() if path.is_file()}
    assert set(left) == {backups.FILE, rollback}
    assert not any(left[rollback].read_bytes()[:28])  # its header: nothing is taken back
    assert left[rollback].stat().st_size <= connect.LONGEST_ROLLBACK


def test_a_forgotten_journal_closes_by_itself(tmp_path):
    open_journal(tmp_path).start_session("first try")
    gc.collect()
    assert not (tmp_path / f"{backups.FILE}-wal").exists()


def test_every_field_has_a_form():
    for kind in KINDS:
        assert contents(kind)
    assert {kind for kind in vars(records).values() if isinstance(kind, type)
            and issubclass(kind, records.Record)} == {records.Record, *KINDS}  # fmt: skip


def test_importing_it_loads_nothing_of_the_notebook():
    program = "import blendkit.journal.merge, sys; print('ipywidgets' in sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", program],
        cwd=Path(__file__).parents[2],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.strip() == "False"


# --- daily copies -------------------------------------------------------------------------


def on(monkeypatch, day):
    class Day(datetime):
        @classmethod
        def now(cls, tz=None):
            return datetime(day.year, day.month, day.day, 12, tzinfo=UTC)

    monkeypatch.setattr(ledger, "datetime", Day)


def test_a_copy_a_day_and_the_last_fourteen_stay(tmp_path, monkeypatch):
    folder = tmp_path / backups.FOLDER
    folder.mkdir()
    (folder / "journal of my cat.sqlite3").write_text("not ours", encoding="utf-8")
    days = [DAY + timedelta(days=number) for number in range(20)]
    for number, day in enumerate(days):
        on(monkeypatch, day)
        for _twice in range(2):
            with open_journal(tmp_path) as journal:
                if journal.count(Session) == number:
                    journal.start_session(f"session {number}")
    kept = backups.list_backups(tmp_path)
    assert [copy.name for copy in kept] == [
        f"journal {number + 1:04d} {day.isoformat()}.sqlite3"
        for number, day in reversed([*enumerate(days)][-14:])
    ]
    for copy, number in zip(reversed(kept), range(6, 20), strict=True):
        with contextlib.closing(sqlite3.connect(copy)) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
            # as the day began
            assert connection.execute("SELECT count(*) FROM sessions").fetchone()[0] == number
    others = {path.name for path in folder.iterdir()} - {copy.name for copy in kept}
    assert others == {"journal of my cat.sqlite3"}


def test_a_workbook_left_open_over_night_makes_its_copy(tmp_path, monkeypatch):
    with open_journal(tmp_path) as journal:
        for number in range(3):
            on(monkeypatch, DAY + timedelta(days=number))
            journal.start_session("late")
    assert len(backups.list_backups(tmp_path)) == 3


def test_a_copy_appears_whole_or_not_at_all(tmp_path, monkeypatch):
    with open_journal(tmp_path) as journal:

        def full(*_arguments):
            raise OSError(28, "No space left on device")

        monkeypatch.setattr(os, "fsync", full)
        journal.start_session("first try")
        assert "No space left" in journal.warnings[0]
    assert list((tmp_path / backups.FOLDER).iterdir()) == []


def test_a_copy_on_a_stick_without_hard_links(tmp_path, monkeypatch):
    def no_hard_links(*_names):
        raise OSError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", no_hard_links)
    with open_journal(tmp_path) as journal:
        journal.start_session("first try")
    (copy,) = backups.list_backups(tmp_path)
    content = copy.read_bytes()
    assert not give_name(copy, copy)
    assert copy.read_bytes() == content
