"""Export and import: everything comes back, nothing is overwritten, no zip is trusted."""

from __future__ import annotations

import contextlib
import csv
import io
import json
import os
import re
import sqlite3
import struct
import tempfile
import zipfile
from pathlib import Path

import pytest
from blendkit.journal.zip_import import BadExchange, import_journal
from hypothesis import given, settings
from hypothesis import strategies as st

from blendkit.journal import exchange, migrations, zip_import
from blendkit.journal.backups import FILE
from blendkit.journal.errors import CannotJournal
from blendkit.journal.exchange import export_journal
from blendkit.journal.records import (
    KINDS,
    BatchMaterial,
    BatchRow,
    BlendRow,
    EventRow,
    Photo,
    Session,
    Version,
)
from blendkit.journal.store import open_journal
from tests.journal.test_journal import AT, DAY, DOCUMENT, HOSTILE, any_text, one_of_each
from tests.journal.test_migrations import VERSIONS, released

FORMULAS = tuple("=+-@\t\r＝＋－＠")


@pytest.fixture
def journal(tmp_path):
    with open_journal(tmp_path / "home") as journal:
        yield journal


@pytest.fixture
def other(tmp_path):
    with open_journal(tmp_path / "another home") as other:
        yield other


def everything(journal):
    """Every row, corrections and corrected ones, by table."""
    return {
        kind.TABLE: {
            row["id"]: tuple(row)
            for row in journal._connection.execute(f"SELECT * FROM {kind.TABLE}")
        }
        for kind in KINDS
    }


def cells_of(file):
    with zipfile.ZipFile(file) as files:
        for name in files.namelist():
            if name.endswith(".csv"):
                text = files.read(name).decode("utf-8-sig")
                yield from (
                    cell for row in csv.reader(io.StringIO(text, newline="")) for cell in row
                )


# --- there and back -----------------------------------------------------------------------


def test_an_export_fills_an_empty_journal(journal, other):
    rows = one_of_each(journal)
    journal.correct(rows[BlendRow][0], name="Quay at Dawn")
    journal.withdraw(rows[EventRow][0])
    added = import_journal(other, export_journal(journal))
    assert added == {table: len(rows) for table, rows in everything(journal).items()}
    assert everything(other) == everything(journal)
    for kind in KINDS:
        assert other.all(kind) == journal.all(kind)


def test_reading_it_twice_adds_nothing(journal):
    one_of_each(journal)
    file = export_journal(journal)
    before = everything(journal)
    assert set(import_journal(journal, file).values()) == {0}
    assert everything(journal) == before


def test_two_journals_become_one(journal, other):
    one_of_each(journal)
    import_journal(other, export_journal(journal))
    (version,) = other.all(Version)
    mine = journal.new_version(version, DOCUMENT, why="here")
    theirs = other.new_version(version, DOCUMENT, why="there")
    other.correct(other.all(BatchMaterial)[0], volume_ml=2)
    import_journal(other, export_journal(journal))
    import_journal(journal, export_journal(other))
    assert everything(journal) == everything(other)
    assert {v.id for v in journal.all(Version)} == {version.id, mine.id, theirs.id}
    assert [material.volume_ml for material in journal.all(BatchMaterial)] == [2]
    # a row written now comes after all that is known now
    assert journal.new_version(mine, DOCUMENT).turn > max(mine.turn, theirs.turn)


@settings(max_examples=15)
@given(
    st.lists(any_text, min_size=1, max_size=8), st.dictionaries(any_text, any_text, max_size=4)
)
def test_any_text_goes_out_harmless_and_comes_back(texts, details):
    with tempfile.TemporaryDirectory() as folder:
        first, second = Path(folder) / "1", Path(folder) / "2"
        with open_journal(first) as journal, open_journal(second) as other:
            session = journal.start_session(texts[0])
            journal.new_blend(texts[0], details, why=texts[-1])
            journal.add(
                *(Photo(path="x", taken_at=AT, caption=text, session_id=session.id)
                  for text in texts),
                *(EventRow(session_id=session.id, kind="k" + text, details=details, happened_at=AT)
                  for text in texts),
            )  # fmt: skip
            file = export_journal(journal)
            import_journal(other, file)
            assert everything(other) == everything(journal)
            assert [photo.caption for photo in other.all(Photo)] == texts
        assert not [cell for cell in cells_of(file) if cell.lstrip(" ").startswith(FORMULAS)]


def test_hostile_texts_are_harmless_however_the_file_is_split(journal):
    session = journal.start_session("a")
    for text in HOSTILE[:-1]:
        journal.add(Photo(path="x" + text, taken_at=AT, caption=text, session_id=session.id))
    with zipfile.ZipFile(export_journal(journal)) as files:
        text = files.read("photos.csv").decode("utf-8-sig")
    assert "\0" not in text
    # a spreadsheet may be set to semicolons or tabs, and then splits inside our quotation marks
    for delimiter in ",;\t|":
        for row in csv.reader(io.StringIO(text, newline=""), delimiter=delimiter):
            assert not [
                cell for cell in row if cell.lstrip(" ").startswith(tuple("=+-@＝＋－＠"))
            ]


def test_the_files_are_plain(journal):
    rows = one_of_each(journal)
    file = export_journal(journal)
    with zipfile.ZipFile(file) as files:
        names = set(files.namelist())
        version = rows[Version][0]
        assert json.loads(files.read(f"documents/{version.id}.json")) == DOCUMENT
        manifest = json.loads(files.read("manifest.json"))
        material = files.read("batch_materials.csv").decode("utf-8-sig")
    assert {f"{kind.TABLE}.csv" for kind in KINDS} < names
    assert manifest["version"] == migrations.NEWEST
    assert manifest["rows"]["batch_materials"] == 1
    (row,) = csv.DictReader(io.StringIO(material))
    assert (row["material"], row["volume_ml"], row["mass_g"]) == ("lavender", "3.5", "")
    assert (row["supplier_lot"], row["opened_on"]) == ("A12", DAY.isoformat())


def test_an_export_overwrites_nothing(journal, tmp_path):
    first, second = export_journal(journal), export_journal(journal)
    assert first != second
    assert first.exists()
    taken = tmp_path / "taken.zip"
    taken.write_text("not ours", encoding="utf-8")
    with pytest.raises(CannotJournal, match="a new name"):
        export_journal(journal, taken)
    assert taken.read_text(encoding="utf-8") == "not ours"
    assert export_journal(journal, tmp_path / "free.zip") == tmp_path / "free.zip"
    assert not list(tmp_path.glob("*.part"))


def test_an_export_on_a_full_disk_leaves_nothing(journal, monkeypatch, tmp_path):
    def full(*_arguments):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(CannotJournal, match="No space left"):
        export_journal(journal, tmp_path / "out" / "all.zip")
    assert list((tmp_path / "out").iterdir()) == []


@pytest.mark.parametrize("version", VERSIONS)
def test_an_export_of_an_earlier_version_is_brought_up_to_date(tmp_path, other, version):
    """An export as that version would have written it: its tables, its columns."""
    path = tmp_path / "earlier" / FILE
    released(path, version)
    file = tmp_path / "earlier.zip"
    counts = {}
    with contextlib.closing(sqlite3.connect(path)) as old, zipfile.ZipFile(file, "w") as out:
        for kind in KINDS:
            columns = [column["name"] for column in exchange.table_columns(old, kind.TABLE)]
            if columns:
                names = ", ".join(f'"{name}"' for name in columns)
                rows = old.execute(f"SELECT {names} FROM {kind.TABLE}").fetchall()
                text = io.StringIO(newline="")
                exchange.write_table(text, columns, rows)
                counts[kind.TABLE] = len(rows)
                out.writestr(f"{kind.TABLE}.csv", text.getvalue())
        for row in old.execute("SELECT id, document FROM versions"):
            out.writestr(f"documents/{row['id']}.json", row["document"])
        manifest = {"format": exchange.FORMAT, "version": version, "rows": counts}
        out.writestr("manifest.json", json.dumps(manifest))
    import_journal(other, file)
    with open_journal(path.parent) as journal:
        assert everything(other) == everything(journal)


# --- what is refused ----------------------------------------------------------------------


def changed(source, target, **changes):
    """A copy of an export in which some files are other ones, more, or gone (None)."""
    with zipfile.ZipFile(source) as files, zipfile.ZipFile(target, "w") as out:
        for name in files.namelist():
            if name not in changes:
                out.writestr(name, files.read(name))
        for name, content in changes.items():
            if content is not None:
                out.writestr(name, content)
    return target


@pytest.fixture
def export(journal):
    one_of_each(journal)
    return export_journal(journal)


def replaced(file, name, *swaps):
    with zipfile.ZipFile(file) as files:
        text = files.read(name).decode("utf-8")
    for before, after in swaps:
        assert before in text
        text = text.replace(before, after)
    return text


STRANGE = ["../../escape.csv", "/etc/passwd", "C:\\boot.ini", "..\\up.csv", "songs.csv",
           "documents/../x.json", "documents/short.json", "events.csv/x", "run.sh"]  # fmt: skip


@pytest.mark.parametrize("name", STRANGE)
def test_a_file_that_no_export_has_is_refused(export, other, tmp_path, name):
    bad = changed(export, tmp_path / "bad.zip", **{name: "x"})
    before = sorted(path for path in tmp_path.rglob("*") if path != bad)
    with pytest.raises(BadExchange, match="only files that an export has"):
        import_journal(other, bad)
    assert sorted(path for path in tmp_path.rglob("*") if path != bad) == before
    assert not any(everything(other).values())


@pytest.mark.parametrize(
    ("name", "swap", "said"),
    [
        ("events.csv", ('"kind"', '"sort"'), "events.csv, headings"),
        ("events.csv", ('"kind",', ""), "events.csv, headings"),
        ("batch_materials.csv", ('"3.5"', '"lots"'), "a finite number"),
        ("batch_materials.csv", ('"3.5"', '"inf"'), "a finite number"),
        ("batch_materials.csv", ('"3.5"', '"nan"'), "a finite number"),
        ("batch_materials.csv", ('"3.5"', '"-3.5"'), "CHECK constraint"),
        ("batch_materials.csv", ('"3.5"', '"3.5","more"'), "cells"),
        ("batch_materials.csv", ('"lavender"', '"lavender'), "a zip file that"),
        ("batch_bottles.csv", ('"10.0"', '"lots"'), "a finite number"),
        ("batch_bottles.csv", ('"12"', '"1.5"'), "a whole number"),
        ("batch_bottles.csv", ('"12"', '"99999999999999999999"'), "a whole number"),
        ("impressions.csv", ('"sniff"', '"listen"'), "CHECK constraint"),
        ("impressions.csv", ('"gone"', '"\ufdd0\\ud"'), "what an export writes"),
        ("impressions.csv", ("2026-11-25T18:30:00+01:00", "yesterday"), "yesterday"),
        ("impressions.csv", ("2026-11-25T18:30:00+01:00", "2026-11-25"), "offset from UTC"),
        ("events.csv", ('{""oil""', '{oil'), "what an export writes"),
        ("manifest.json", ("blendkit journal", "songs"), "what an export of"),
        ("manifest.json", ('"version": 5', '"version": 6'), "Update blendkit"),
        ("manifest.json", ('"version": 5', '"version": 0'), "what an export of"),
        ("manifest.json", ('"version": 5', '"version": 4'), "impressions.csv, headings"),
        ("manifest.json", ('"version": 5', '"version": 3'), "version 3 did not have"),
        ("manifest.json", ('"events": 1', '"events": 2'), "2, as manifest.json says"),
        ("manifest.json", ('"events": 1', '"events": 1e999'), "what an export of"),
        # the journal counts on from the largest turn
        ("photos.csv", ('"1"', '"9223372036854775807"'), "a whole number"),
        # as far as no clock reaches in every time zone
        ("impressions.csv", ("2026-11-25T18:30", "0001-01-01T00:00"), "year 1"),
        ("batches.csv", ("2026-11-25", "9999-12-31"), "year 9999"),
        ("manifest.json", ('"rows"', '"lines"'), "what an export of"),
    ],
)  # fmt: skip
def test_a_changed_table_is_refused_whole(export, other, tmp_path, name, swap, said):
    text = replaced(export, name, swap)
    bad = changed(export, tmp_path / "bad.zip", **{name: text})
    with pytest.raises(BadExchange, match=re.escape(said)):
        import_journal(other, bad)
    assert not any(everything(other).values())


def test_a_version_under_no_id_is_refused(export, journal, other, tmp_path):
    (version,) = journal.all(Version)
    text = replaced(export, "versions.csv", (f'"{version.id}"', '"x"'))
    bad = changed(export, tmp_path / "bad.zip", **{"versions.csv": text})
    with pytest.raises(BadExchange, match="an id of an export"):
        import_journal(other, bad)


@pytest.mark.parametrize("method", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_a_file_packed_as_no_export_packs_is_refused(export, other, tmp_path, method):
    """Their unpackers fail in ways of their own."""
    bad = tmp_path / "bad.zip"
    with zipfile.ZipFile(export) as files, zipfile.ZipFile(bad, "w", method) as out:
        for name in files.namelist():
            out.writestr(name, files.read(name))
    with pytest.raises(BadExchange, match="packed in another way"):
        import_journal(other, bad)


@pytest.mark.parametrize("name", ["events.csv", "manifest.json", "document"])
def test_a_missing_file_is_refused(export, journal, other, tmp_path, name):
    if name == "document":
        name = f"documents/{journal.all(Version)[0].id}.json"
    bad = changed(export, tmp_path / "bad.zip", **{name: None})
    with pytest.raises(BadExchange, match=f"no such file|no {name}"):
        import_journal(other, bad)
    assert not any(everything(other).values())


def test_a_document_of_no_version_is_refused(export, other, tmp_path):
    bad = changed(export, tmp_path / "bad.zip", **{f"documents/{'f' * 32}.json": "{}"})
    with pytest.raises(BadExchange, match="a document without a row"):
        import_journal(other, bad)


@pytest.mark.parametrize("document", ["[1]", "{", "NaN", "\ufeff{}", '{"a": ' * 50_000])
def test_a_document_that_is_none_is_refused(export, journal, other, tmp_path, document):
    name = f"documents/{journal.all(Version)[0].id}.json"
    bad = changed(export, tmp_path / "bad.zip", **{name: document})
    with pytest.raises(BadExchange, match="what an export writes"):
        import_journal(other, bad)
    assert not any(everything(other).values())


def test_a_row_about_nothing_is_refused(export, journal, other, tmp_path):
    text = replaced(export, "events.csv", (journal.all(Session)[0].id, "f" * 32))
    bad = changed(export, tmp_path / "bad.zip", **{"events.csv": text})
    with pytest.raises(BadExchange, match=re.escape("rows of sessions.csv")):
        import_journal(other, bad)


def test_a_row_that_was_changed_never_overwrites(export, journal, tmp_path):
    before = everything(journal)
    text = replaced(export, "batch_materials.csv", ('"3.5"', '"4.5"'))
    bad = changed(export, tmp_path / "bad.zip", **{"batch_materials.csv": text})
    journal.start_session("since then")
    with pytest.raises(BadExchange, match="never overwritten"):
        import_journal(journal, bad)
    assert everything(journal)["batch_materials"] == before["batch_materials"]


def test_a_correction_of_a_correction_is_refused(journal, other, tmp_path):
    session = journal.start_session("a")
    first = journal.correct(session, title="b")
    second = journal.correct(first, title="c")
    text = replaced(
        export_journal(journal), "sessions.csv",
        (f'"{second.row}","3","{second.recorded_at.isoformat()}","{session.id}"',
         f'"{second.row}","3","{second.recorded_at.isoformat()}","{first.row}"'),
    )  # fmt: skip
    bad = changed(export_journal(journal), tmp_path / "bad.zip", **{"sessions.csv": text})
    with pytest.raises(BadExchange, match="points at the first row"):
        import_journal(other, bad)


def test_many_problems_are_not_all_listed(journal, other, tmp_path):
    lavender = BatchMaterial(batch_id="", material="lavender", volume_ml=7.25)
    journal.make_batch(
        one_batch(journal.new_blend("Quay", DOCUMENT)), [(1, 10)], [lavender] * 50
    )
    name = "batch_materials.csv"
    text = replaced(export_journal(journal), name, ('"7.25"', '"much"'))
    bad = changed(export_journal(journal), tmp_path / "bad.zip", **{name: text})
    with pytest.raises(BadExchange, match="30 more") as caught:
        import_journal(other, bad)
    assert len(caught.value.problems) == zip_import.MOST_PROBLEMS + 1


def test_a_bomb_is_refused_before_it_is_unpacked(export, other, tmp_path, monkeypatch):
    bomb = tmp_path / "bomb.zip"
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as out:
        with out.open("events.csv", "w", force_zip64=True) as member:
            for _ in range(31):
                member.write(bytes(1_000_000))
        out.writestr("manifest.json", "{}")
    assert bomb.stat().st_size < 100_000

    def unpacked(*_arguments):
        raise AssertionError("something was unpacked")

    monkeypatch.setattr(zip_import, "MOST_BYTES", 30_000_000)
    monkeypatch.setattr(zipfile.ZipFile, "read", unpacked)
    with pytest.raises(BadExchange, match="unpack to 31 MB"):
        import_journal(other, bomb)


def test_a_bomb_that_lies_about_its_size_is_refused(export, other, tmp_path):
    """What the directory promises is all that is ever unpacked of a file."""
    bomb = tmp_path / "bomb.zip"
    with zipfile.ZipFile(export) as files, zipfile.ZipFile(bomb, "w") as out:
        for name in files.namelist():
            content = files.read(name)
            big = name == "events.csv"
            if big:
                content += b"\r\n" * 5_000_000
            out.writestr(name, content, zipfile.ZIP_DEFLATED if big else zipfile.ZIP_STORED)
        size = out.getinfo("events.csv").file_size
    data = bomb.read_bytes()
    lie = data.replace(struct.pack("<L", size), struct.pack("<L", 100))
    assert lie != data
    bomb.write_bytes(lie)
    with pytest.raises(BadExchange, match="a zip file that the journal's export wrote"):
        import_journal(other, bomb)


def test_too_many_files_are_refused(export, other, monkeypatch):
    monkeypatch.setattr(zip_import, "MOST_FILES", 5)
    with pytest.raises(BadExchange, match="at most 5 files"):
        import_journal(other, export)


def test_two_files_of_one_name_are_refused(export, other, tmp_path):
    bad = changed(export, tmp_path / "bad.zip")
    with pytest.warns(UserWarning, match="Duplicate"), zipfile.ZipFile(bad, "a") as out:
        out.writestr("events.csv", "")
    with pytest.raises(BadExchange, match="two files of one name"):
        import_journal(other, bad)


@pytest.mark.parametrize("content", [None, b"", b"no zip", "cut"])
def test_what_is_no_zip_is_refused(export, other, tmp_path, content):
    bad = tmp_path / "bad.zip"
    if content is not None:
        bad.write_bytes(export.read_bytes()[:-40] if content == "cut" else content)
    with pytest.raises(BadExchange, match="a zip file that the journal's export wrote"):
        import_journal(other, bad)


def test_a_damaged_file_inside_is_refused(export, other, tmp_path):
    with zipfile.ZipFile(export) as files:
        start = files.getinfo("events.csv").header_offset
    data = bytearray(export.read_bytes())
    data[start + 60 : start + 70] = bytes(10)
    bad = tmp_path / "bad.zip"
    bad.write_bytes(data)
    with pytest.raises(BadExchange):
        import_journal(other, bad)
    assert not any(everything(other).values())


def test_a_long_text_does_not_change_how_others_read_csv(journal, other):
    limit = csv.field_size_limit()
    journal.start_session("x" * 300_000)
    import_journal(other, export_journal(journal))
    assert other.all(Session) == journal.all(Session)
    assert csv.field_size_limit() == limit


def test_a_material_counted_by_weight_has_no_volume_after_the_journey(journal, other):
    version = journal.new_blend("Quay", DOCUMENT)
    batch = journal.make_batch(
        one_batch(version), [(1, 10)], [BatchMaterial(batch_id="", material="rose", mass_g=0)]
    )
    import_journal(other, export_journal(journal))
    (material,) = other.all(BatchMaterial, batch_id=batch.id)
    assert (material.volume_ml, material.mass_g, material.opened_on) == (None, 0.0, None)


def one_batch(version):
    return BatchRow(version_id=version.id, lot="1", made_on=DAY)
