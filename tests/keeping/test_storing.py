"""How bottles are stored and what was tested, in the store and undone again."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from blendkit.foundation.errors import BadNumber
from blendkit.journal.records import StoringRow
from blendkit.journal.store import open_journal
from blendkit.keeping.stock_entries import buy, count, opening_days, take_back
from blendkit.keeping.storing import freshness, keep_peroxide_test, keep_storing, storings
from blendkit.skin.freshness import Storing, places

TODAY = date.today()
COLD = Storing(places()[0])


@pytest.fixture
def journal(tmp_path):
    with open_journal(tmp_path) as journal:
        yield journal


def ago(days):
    return f"{TODAY - timedelta(days=days)}"


def test_headspace_comes_from_the_stock_and_the_rest_from_the_newest_entry(journal):
    buy(journal, "lavender", "10 mL", bottles=2, opened_on=ago(30))
    keep_storing(journal, "lavender", Storing(places()[2], True))
    keep_storing(journal, "lavender", Storing(places()[1], False, True))
    count(journal, "lavender", "14 mL")
    assert storings(journal)["lavender"] == Storing(places()[1], False, True, 0.6)


def test_the_day_it_was_opened_can_come_with_how_it_is_stored(journal):
    buy(journal, "lavender", "10 mL", opened_on=ago(300))
    row = keep_storing(journal, "lavender", COLD, ago(3))
    assert opening_days(journal) == {"lavender": TODAY - timedelta(days=3)}
    assert storings(journal)["lavender"] == Storing(COLD.place, headspace=0.0)
    take_back(journal, row.id)
    assert storings(journal)["lavender"].place == ""


def test_what_ends_first_is_first_and_air_makes_lemon_end_sooner(journal):
    buy(journal, "vetiver", "10 mL", opened_on=ago(40))
    buy(journal, "lemon", "10 mL", opened_on=ago(20))
    full = freshness(journal).use_by
    assert list(full) == ["lemon", "vetiver"]
    count(journal, "lemon", "2 mL")
    assert freshness(journal).use_by["lemon"].use_by < full["lemon"].use_by


def test_the_newest_peroxide_test_is_shown_with_its_lot(journal):
    keep_peroxide_test(journal, "lemon", "25 mmol/L", ago(9), "A12")
    newest = keep_peroxide_test(journal, "lemon", "5 mmol/L", ago(1), "B7")
    test = freshness(journal).tests["lemon"]
    assert test.over is False
    assert "lot B7" in test.words
    assert freshness(journal).spoilt == set()
    take_back(journal, newest.id)
    assert freshness(journal).spoilt == {"lemon"}
    assert freshness(journal).tests["lemon"].words.endswith(f"Tested {ago(9)}, lot A12.")


@pytest.mark.parametrize(
    ("enter", "words"),
    [
        (lambda j: keep_storing(j, "lemon", Storing("attic")), "place"),
        (lambda j: keep_storing(j, "lemon", COLD, "soon"), "opened on"),
        (lambda j: keep_storing(j, "lemon", COLD, ago(-2)), "up to today"),
        (lambda j: keep_peroxide_test(j, "lemon", "5", ago(0)), "12 mmol/L"),
        (lambda j: keep_peroxide_test(j, "lemon", "5 meq/kg", ago(0)), "12 mmol/L"),
        (lambda j: keep_peroxide_test(j, "lemon", "-5 mmol/L", ""), "tested on"),
    ],
)
def test_what_cannot_be_kept_is_named_and_nothing_is_written(journal, enter, words):
    with pytest.raises(BadNumber, match=words):
        enter(journal)
    assert list(journal.all(StoringRow)) == []


def test_an_odd_document_of_another_version_is_passed_by(journal):
    at = keep_storing(journal, "lemon", COLD).kept_at
    for document in (
        {},
        {"place": "attic"},
        {"peroxides_mmol_per_l": "many"},
        {"tested_on": 7},
    ):
        journal.add(StoringRow(material="lemon", document=document, kept_at=at))
    assert storings(journal)["lemon"].place == places()[0]
    assert freshness(journal).tests == {}
