"""The stock on the shelf panel: bottles go on, counts set right, slips come back off."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from blendkit.journal.records import BatchMaterial, BatchRow
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.stock_entries import opening_days, purchases
from blendkit.keeping.storing import freshness
from blendkit.panels import shelf
from blendkit.skin.freshness import places

pytestmark = pytest.mark.usefixtures("own_folder")


@pytest.fixture
def panel():
    made = shelf()
    made.stock.material.value = "lavender"
    return made


def put_on(panel, size="10", price="12,50"):
    panel.stock.size.value, panel.stock.price.value = size, price
    panel.message.guard(panel.stock.buy)()


def test_a_bottle_goes_on_the_shelf_with_price_and_dates(panel):
    panel.stock.opened.value = "2026-02-01"
    panel.stock.bottles.value = "2"
    put_on(panel)
    (entry,) = purchases(the_journal())
    assert (entry.price, entry.currency) == (12.5, "EUR")
    assert opening_days(the_journal()) == {"lavender": date(2026, 2, 1)}
    assert entry.volume_m3 == pytest.approx(20e-6)
    assert "20.0" in panel.stock_list.value
    assert "1.25 EUR" in panel.stock_list.value


def test_carriers_stand_on_the_shelf_too(panel):
    panel.stock.material.value = "jojoba"
    put_on(panel, "1 fl oz", "")
    assert "29.6" in panel.stock_list.value
    assert "no price on record" in panel.stock_list.value


def test_everything_wrong_is_said_and_the_list_stays(panel):
    put_on(panel)
    before = panel.stock_list.value
    panel.stock.currency.value = "€"
    panel.stock.bottles.value = "some"
    put_on(panel, "1 oz", "0")
    for said in ("price", "currency", "bottles", "fluid ounce"):
        assert said in panel.message.view.value
    assert panel.stock_list.value == before
    assert panel.stock.size.value == "1 oz"


def test_a_count_sets_it_right_and_one_below_nothing_is_refused(panel):
    put_on(panel)
    panel.stock.left.value = "-1"
    panel.message.guard(panel.stock.count)()
    assert "0 mL or more" in panel.message.view.value
    panel.stock.left.value = "6.5"
    panel.message.guard(panel.stock.count)()
    assert "6.5" in panel.stock_list.value


def test_a_slip_is_taken_back(panel):
    put_on(panel, price="1250")
    panel.stock.entry.value = panel.stock.entry.options[1][1]
    panel.message.guard(panel.stock.undo)()
    assert purchases(the_journal()) == []
    assert "Nothing is on your shelf" in panel.stock_list.value


def test_batches_of_the_journal_are_taken_off_and_too_much_is_said(panel):
    put_on(panel)
    journal = the_journal()
    version = journal.new_blend("invented", {"name": "invented"})
    rows = [BatchMaterial(batch_id="", material="lavender", volume_ml=12.0)]
    batch = BatchRow(version_id=version.id, lot="1", made_on=date(2030, 1, 1))
    journal.make_batch(batch, [(1, 10.0)], rows)
    panel.show_stock()
    assert "−2.0" in panel.stock_list.value
    assert "Stock is negative; recount." in panel.stock_list.value


# --- freshness ------------------------------------------------------------------------------


def test_how_it_is_stored_shortens_its_day_and_can_be_undone(panel):
    panel.stock.opened.value = f"{date.today() - timedelta(days=20)}"
    put_on(panel)
    assert "Use first:" in panel.stock_list.value
    before = freshness(the_journal()).use_by["lavender"].use_by
    panel.storing.place.value = places()[-1]
    panel.storing.daylight.value = True
    panel.message.guard(panel.storing.keep)()
    after = freshness(the_journal()).use_by["lavender"].use_by
    assert after < before
    assert f"use by {after}" in panel.stock_list.value
    assert f"{after}" in panel.label_page()
    panel.stock.entry.value = panel.stock.entry.options[1][1]
    assert "stored: warm" in panel.stock.entry.label
    panel.message.guard(panel.stock.undo)()
    assert freshness(the_journal()).use_by["lavender"].use_by == before


def test_a_peroxide_value_over_the_limit_is_marked_on_the_list_and_the_label(panel):
    panel.stock.opened.value = f"{date.today()}"
    put_on(panel)
    panel.storing.peroxides.value, panel.storing.lot.value = "24", "<b>A12"
    panel.message.guard(panel.storing.test)()
    assert "over the limit of 20 for linalool" in panel.message.view.value
    assert "Discard it." in panel.stock_list.value
    assert "Use first:" not in panel.stock_list.value
    for page in (panel.stock_list.value, panel.label_page()):
        assert "lot &lt;b&gt;A12" in page
    panel.storing.peroxides.value = "24 meq/kg"
    panel.message.guard(panel.storing.test)()
    assert "mmol/L" in panel.message.view.value
    assert panel.storing.peroxides.value == "24 meq/kg"
