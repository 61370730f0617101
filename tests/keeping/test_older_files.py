"""Files of an older folder come into the store once, and stay where they are."""

from __future__ import annotations

import json
import os
from datetime import date, timedelta, timezone

import pytest

from blendkit.batch.stock import stock
from blendkit.foundation import keep
from blendkit.journal.records import (
    BlendRow,
    ClassRow,
    CountRow,
    Impression,
    LotRow,
    PurchaseRow,
    Version,
)
from blendkit.journal.store import open_journal
from blendkit.keeping.details import kept_classes, kept_maker, kept_packs
from blendkit.keeping.nose_logs import kept_logs
from blendkit.keeping.older_files import read_in
from blendkit.keeping.open_store import let_go, the_journal
from blendkit.keeping.stock_entries import counts, drop_sizes, opening_days, purchases
from blendkit.materials import catalogue

LOT = {
    "oil": "lavender", "lot": "A12", "percents": {"78-70-6": [30, 36, 40]},
    "unmatched": {"Unobtainium": 1.2},
}  # fmt: skip
BLEND = {
    "name": "Dusk", "bottle": "10 mL", "strength": "20 %", "note_parts": {"middle": 1},
    "oils": [{"id": "lavender@A12"}], "carriers": [{"id": "jojoba"}],
}  # fmt: skip
LOG = {"blend": BLEND, "smells": [{"group": "whole", "minutes": 90, "what": 4.5}]}
BOTTLE = {"oil": "lavender", "written": "2026-02-01T10:00:00+00:00", "bottle_ml": 10,
          "bottles": 2, "price": 8.5, "currency": "EUR", "opened_on": "2026-02-03"}  # fmt: skip
COUNT = {"oil": "jojoba", "written": "2026-02-05T10:00:00+00:00", "left_ml": 40,
         "counted_on": "2026-02-04"}  # fmt: skip
SLIP = {"oil": "jojoba", "written": "2026-02-06T10:00:00+00:00", "bottle_ml": 999}
BACK = {"oil": "jojoba", "written": "2026-02-07T10:00:00+00:00",
        "takes_back": SLIP["written"]}  # fmt: skip
DROPS = {"oil": "lavender", "written": "2026-02-08T10:00:00+00:00", "drops_per_ml": 26.5,
         "how_measured": "drops weighed on a scale"}  # fmt: skip

pytestmark = pytest.mark.usefixtures("own_folder")


def older_folder():
    """Everything that an older program kept as files, invented."""
    keep.save("lots", "lavender A12", LOT)
    keep.save("blends", "Dusk", BLEND)
    keep.save("nose logs", "Dusk", LOG)
    for entry in (BOTTLE, COUNT, SLIP, BACK, DROPS):
        keep.save("shelf", entry["oil"], entry)
    keep.save("packs", "packs", {"packs": [{"material": "lavender", "size": "30 mL", "x": 1}]})
    keep.save("makers", "maker", {"maker": "A maker (invented)", "contact": "nowhere"})
    keep.save("classes", "Evening", {"name": "Evening", "people": []})


def files_in(folder):
    return {file: file.read_bytes() for file in folder.rglob("*.json")}


def test_everything_comes_in_once_and_the_files_stay(own_folder):
    older_folder()
    before = files_in(own_folder)
    for _again in range(2):
        journal = the_journal()
        assert catalogue.oil("lavender@A12").composition[0].typical == 0.36
        (row,) = journal.all(LotRow)
        assert row.analysis["unmatched"] == {"Unobtainium": 1.2}
        assert [blend.name for blend in journal.all(BlendRow)] == ["Dusk"]
        assert [version.document for version in journal.all(Version)] == [BLEND]
        assert len(kept_logs(journal)) == 1
        (bottle,) = purchases(journal)
        assert (bottle.volume_m3, bottle.price) == (pytest.approx(20e-6), 8.5)
        assert opening_days(journal) == {"lavender": date(2026, 2, 3)}
        assert counts(journal)["jojoba"].volume_m3 == pytest.approx(40e-6)
        assert drop_sizes(journal) == {"lavender": 26.5}
        assert kept_packs(journal, ("material", "size")) == [
            {"material": "lavender", "size": "30 mL"}
        ]
        assert kept_maker(journal) == ("A maker (invented)", "nowhere")
        assert [row.name for row in kept_classes(journal)] == ["Evening"]
        assert files_in(own_folder) == before
        let_go()


def test_nothing_comes_back_that_was_corrected_or_withdrawn():
    older_folder()
    journal = the_journal()
    for kind in (LotRow, PurchaseRow, CountRow, ClassRow, Impression, Version):
        journal.withdraw(journal.all(kind)[0])
    journal.correct(journal.all(BlendRow)[0], name="Dawn")
    let_go()
    journal = the_journal()
    assert read_in(journal) == 0
    for kind in (LotRow, PurchaseRow, CountRow, ClassRow, Impression, Version):
        assert journal.all(kind) == []
    assert [blend.name for blend in journal.all(BlendRow)] == ["Dawn"]


def test_what_an_earlier_program_read_in_without_a_mark_is_known():
    """A journal of version 5 marks a blend in its reason and a log in its details."""
    older_folder()
    with open_journal() as journal:
        journal.new_blend("Dusk", BLEND, "kept as Dusk.json")
        version = journal.all(Version)[0]
        details = {"file": "Dusk", "wearing": "w", "conditions": {}}
        journal.add(
            Impression(kind="wear", happened_at=version.made_at, minutes=90, strength=4.5,
                       version_id=version.id, details=details)
        )  # fmt: skip
    journal = the_journal()
    assert journal.count(Version) == journal.count(Impression) == 1


def test_a_file_that_comes_later_is_read_in_too():
    """Where the store cannot be opened a blend is kept as a file."""
    older_folder()
    the_journal()
    keep.save("blends", "Dawn", {"name": "Dawn"})
    keep.save("blends", "half \ud83d", {"name": "half \ud83d"})
    assert read_in(the_journal()) == 2
    assert {blend.name for blend in the_journal().all(BlendRow)} == {
        "Dusk",
        "Dawn",
        "half \ud83d",
    }


def test_damaged_files_are_passed_by(own_folder):
    for kind in ("lots", "blends", "nose logs", "shelf", "packs", "makers", "classes"):
        for number, text in enumerate(("{", "[1]", '{"a": NaN, "name": NaN}', "\0")):
            file = own_folder / kind / f"{number}.json"
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(text, encoding="utf-8")
    keep.save("lots", "good", LOT)
    assert "lavender@A12" in catalogue.oil_ids()


@pytest.mark.parametrize(
    "broken",
    [
        {"left_ml": -3}, {"left_ml": "much"}, {"left_ml": True}, {"bottle_ml": "10"},
        {"bottle_ml": 10, "bottles": -1}, {"bottle_ml": 10, "bottles": "two"},
        {"takes_back": 7}, {"price": "much", "opened_on": 7},
    ],
)  # fmt: skip
def test_a_hand_edited_entry_cannot_break_the_shelf(broken):
    keep.save("shelf", "x", {"oil": "lavender", "written": "once upon a time", **broken})
    keep.save("shelf", "y", {"oil": ["lavender"], **broken})
    keep.save("shelf", "z", {"oil": "moonbeam", "bottle_ml": 10})
    journal = the_journal()
    assert counts(journal) == {}
    assert purchases(journal) == []


@pytest.mark.parametrize("day", ["0001-01-01", "9999-12-31", "1968-12-31"])
def test_a_day_that_no_clock_reaches_is_passed_by(day):
    edited = {"oil": "lavender", "written": f"{day}T00:00:00+14:00"}
    bottle = {"bottle_ml": 10, "opened_on": day, "bought_on": day}
    keep.save("shelf", "a", {**edited, **bottle})
    keep.save("shelf", "b", {**edited, "left_ml": 3, "counted_on": day})
    journal = the_journal()
    (bottle,) = purchases(journal)
    assert bottle.opened_on is None
    for at in (bottle.at, counts(journal)["lavender"].at):
        assert at.astimezone(timezone(timedelta(hours=-12)))  # as panels show it
    assert stock([], purchases(journal), counts(journal))


def test_a_full_disk_does_not_stand_in_the_way(own_folder, monkeypatch):
    from blendkit.journal.errors import CannotJournal
    from blendkit.journal.store import Journal

    def full(*_arguments):
        raise CannotJournal([])

    older_folder()
    with monkeypatch.context() as patched:
        patched.setattr(Journal, "add_under", full)
        assert "not read in" in the_journal().warnings[-1]
    let_go()
    assert "lavender@A12" in catalogue.oil_ids()


def test_the_order_is_that_of_writing_and_not_of_copying(own_folder):
    """Copying a folder gives its files the times of the copy."""
    later = {**DROPS, "written": "2026-03-01T10:00:00+00:00", "drops_per_ml": 30}
    files = [keep.save("shelf", "a", later), keep.save("shelf", "b", DROPS)]
    for number, file in enumerate(files):
        os.utime(file, (1_700_000_000 + number,) * 2)
        assert json.loads(file.read_text())["oil"] == "lavender"
    assert drop_sizes(the_journal()) == {"lavender": 30}
