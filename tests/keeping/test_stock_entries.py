"""Entries of the shelf: bought, counted, measured, taken back, and used by batches."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from blendkit import keep_lot, read_analysis
from blendkit.batch.stock import Use, stock
from blendkit.foundation.errors import BadNumber, UnknownMaterial
from blendkit.journal.records import BatchMaterial, BatchRow, PurchaseRow
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.stock_entries import (
    batch_uses,
    buy,
    count,
    counts,
    current_stock,
    drop_sizes,
    keep_drop_size,
    opening_days,
    purchases,
    take_back,
)


@pytest.fixture
def journal(own_folder):
    return the_journal()


def left_ml(journal, *uses):
    return stock(uses, purchases(journal), counts(journal))["lavender"].left_m3 * 1e6


def test_a_purchase_carries_its_price_and_day(journal):
    more = {"price": 9, "currency": "EUR", "bottles": 2, "bought_on": "2026-03-01"}
    buy(journal, "jojoba", "86.8 g", **more)
    (row,) = purchases(journal)
    assert row.volume_m3 == pytest.approx(200e-6)  # 0.868 g/mL in data/carriers.csv
    assert (row.price, row.currency, row.bottles) == (9, "EUR", 2)
    assert row.at.astimezone().date() == date(2026, 3, 1)


def test_the_newest_drop_size_and_opening_day_count(journal):
    for size, day in ((22, "2026-01-05"), (26.5, "2026-02-01")):
        keep_drop_size(journal, "lavender", size, "drops weighed on a scale")
        buy(journal, "lavender", "10 mL", opened_on=day)
    buy(journal, "lavender", "10 mL")
    assert drop_sizes(journal) == {"lavender": 26.5}
    assert opening_days(journal) == {"lavender": date(2026, 2, 1)}
    with pytest.raises(BadNumber, match="drops_per_ml"):
        keep_drop_size(journal, "lavender", 0, "")


def test_a_moment_counts_as_its_day(journal):
    buy(journal, "lavender", "10 mL", opened_on=datetime(2026, 2, 1, 9, tzinfo=UTC))
    assert opening_days(journal) == {"lavender": date(2026, 2, 1)}


def test_an_entry_is_taken_back_and_its_rows_stay(journal):
    row = buy(journal, "lavender", "10 mL", price=1250, currency="EUR", opened_on="2026-02-01")
    counted = count(journal, "lavender", "4 mL")
    take_back(journal, row.id)
    take_back(journal, counted.id)
    assert purchases(journal) == []
    assert counts(journal) == {}
    assert opening_days(journal) == {}
    assert len(journal.history(PurchaseRow, row.id)) == 2
    with pytest.raises(BadNumber, match="entry"):
        take_back(journal, row.id)


def test_everything_wrong_is_listed_at_once(journal):
    bad = {"price": 0, "currency": "€", "bottles": 0, "opened_on": "soon"}
    with pytest.raises(BadNumber) as caught:
        buy(journal, "jojoba", "1 oz", **bad)
    assert len(caught.value.problems) == 5
    assert "Did you mean EUR?" in str(caught.value)
    with pytest.raises(BadNumber, match="currency"):
        buy(journal, "jojoba", "100 mL", price=9)
    with pytest.raises(UnknownMaterial, match="jojoba"):
        buy(journal, "jojobaa", "100 mL")
    assert purchases(journal) == []


@pytest.mark.parametrize("day", ["0001-01-01", "9999-12-31", "1968-12-31", "soon"])
def test_a_day_that_no_clock_reaches_is_refused(journal, day):
    for matter in ("opened_on", "bought_on"):
        with pytest.raises(BadNumber, match="a date from 1969 on"):
            buy(journal, "lavender", "10 mL", **{matter: day})
    with pytest.raises(BadNumber, match="a date from 1969 on"):
        count(journal, "lavender", "1 mL", counted_on=day)


def test_a_count_below_nothing_is_refused_and_nothing_is_a_count(journal):
    with pytest.raises(BadNumber, match="0 mL or more"):
        count(journal, "lavender", "-0.5 mL")
    count(journal, "lavender", "0 mL")
    assert counts(journal)["lavender"].volume_m3 == 0


def test_the_newest_count_wins_by_its_day_and_not_by_when_it_was_entered(journal):
    count(journal, "lavender", "4 mL", counted_on="2026-06-01")
    count(journal, "lavender", "9 mL", counted_on="2026-01-01")
    assert counts(journal)["lavender"].volume_m3 == pytest.approx(4e-6)


def test_a_day_counts_before_the_count_of_its_evening(journal):
    buy(journal, "lavender", "10 mL", bought_on="2026-05-01")
    count(journal, "lavender", "7 mL", counted_on="2026-05-02")
    same, next_day = (Use("lavender", 1e-6, date(2026, 5, day), "") for day in (2, 3))
    assert left_ml(journal, same) == pytest.approx(7)
    assert left_ml(journal, next_day) == pytest.approx(6)


def test_own_lots_are_counted_with_their_oil(journal):
    lot = keep_lot("lavender", "A12", read_analysis("Linalool 36.1"))
    buy(journal, lot.id, "10 mL")
    buy(journal, "lavender", "5 mL")
    assert left_ml(journal, Use(lot.id, 3e-6, date(2030, 1, 1))) == pytest.approx(12)


def test_rows_of_materials_that_are_not_here_are_passed_by(journal):
    """An export may come from a store whose lots are not all known here."""
    now = datetime.now(UTC)
    journal.add(PurchaseRow(material="moonbeam", bottle_ml=10, entered_at=now))
    assert current_stock(journal) == {}


def test_batches_take_the_stock_down(journal):
    buy(journal, "lavender", "10 mL", price=8, currency="EUR", bought_on="2026-03-01")
    buy(journal, "jojoba", "86.8 g", bought_on="2026-03-01")
    version = journal.new_blend("invented", {})
    rows = [
        BatchMaterial(batch_id="", material="lavender", volume_ml=3.0),
        BatchMaterial(batch_id="", material="lavender@gone", volume_ml=1.0),
        BatchMaterial(batch_id="", material="jojoba", mass_g=43.4),
        BatchMaterial(batch_id="", material="moonbeam", volume_ml=1.0),
    ]
    batch = BatchRow(version_id=version.id, lot="20260501-1", made_on=date(2026, 5, 1))
    made = journal.make_batch(batch, [(2, 10.0)], rows)
    found = current_stock(journal)
    assert found["lavender"].left_m3 == pytest.approx(6e-6)
    assert found["jojoba"].left_m3 == pytest.approx(50e-6)
    assert len(batch_uses(journal)) == 3
    journal.withdraw(made)
    assert current_stock(journal)["lavender"].left_m3 == pytest.approx(10e-6)
