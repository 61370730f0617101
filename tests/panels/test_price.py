"""The price panel without a browser: from the stock to the shelf price and back."""

from __future__ import annotations

from html import unescape

import pytest

from blendkit import Blend, example_document
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.stock_entries import buy
from blendkit.panels import price

pytestmark = pytest.mark.usefixtures("own_folder")


@pytest.fixture
def panel():
    """On a shelf with everything of the example at an invented price."""
    blend = Blend.from_dict(example_document())
    for name in (*blend.oil_drops, *(part.carrier.id for part in blend.carriers)):
        buy(the_journal(), name, "100 mL", price=20.0, currency="EUR")
    return price()


def said(panel):
    return unescape(panel.message.view.value)


def is_stale(panel):
    return "bk-stale" in panel.results._dom_classes


def test_the_liquid_costs_what_was_paid_and_the_margin_sets_the_price(panel):
    # everything is 0.20 EUR/mL, and 2 % are lost on tools
    level = panel.blend.bottle.volume_m3 * 1e6
    assert panel.found.cost.materials == pytest.approx(level * 0.2 * 1.02, rel=0.02)
    assert panel.found.shelf == pytest.approx(panel.found.cost.total / 0.7)
    assert "on the shelf" in panel.bar.value
    assert "No VAT rate is typed" in panel.words.view.value


def test_packaging_work_and_terms_go_into_the_price(panel):
    before = panel.found.cost
    typed = {
        "bottle": "0.85", "label": "0,30", "hours": "2", "rate": "15", "shop": "40",
        "vat": "20", "payment": "3", "each": "0.25", "fixed": "300", "shelf": "48",
    }  # fmt: skip
    for name, text in typed.items():
        panel.boxes[name].value = text
    found = panel.found
    assert found.cost.packaging == pytest.approx(1.15)  # 0.85 + 0.30
    assert found.cost.work == pytest.approx(2.5)  # 2 h at 15 for 12 bottles
    assert found.cost.materials == pytest.approx(before.materials)
    assert found.parts["shop"] == pytest.approx(16)  # 40 % of 48 / 1.2
    assert found.parts["VAT"] == pytest.approx(8)
    assert found.parts["fees"] == pytest.approx(1.69)  # 3 % of 48, and 0.25
    assert "Break-even on 300.00 EUR" in panel.words.view.value


def test_terms_are_there_again_on_another_day(panel):
    panel.boxes["shop"].value, panel.boxes["shelf"].value = "40", "30"
    panel.hand.write()
    again = price()
    assert (again.boxes["shop"].value, again.found.shelf) == ("40", 30)


@pytest.mark.parametrize(
    ("box", "text", "words"),
    [
        ("target", "100 %", "margin"),
        ("target", "much", "margin"),
        ("shop", "110", "shop's share"),
        ("vat", "-5 %", "VAT"),
        ("market_each", "1 USD", "No exchange rate is guessed"),
        ("bottles", "two", "bottles"),
        ("currency", "€", "EUR"),
        ("fixed", "some", "fixed costs"),
        ("shelf", "-3", "shelf price"),
        ("hours", "-2", "Labour"),
    ],
)
def test_what_cannot_be_used_is_named_and_the_last_price_is_greyed(panel, box, text, words):
    before = panel.bar.value
    panel.boxes[box].value = text
    assert words in said(panel)
    assert is_stale(panel)
    assert panel.bar.value == before
    assert panel.boxes[box].value == text


def test_without_prices_there_is_nothing_to_price_until_a_shelf_price_is_typed(own_folder):
    panel = price()
    assert "bk-refusal" not in said(panel)
    assert "Enter prices paid" in panel.words.view.value
    panel.boxes["shelf"].value = "30"
    assert "at most" in panel.bar.value
    assert "No price on record:" in panel.words.view.value
