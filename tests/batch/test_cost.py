"""What a batch costs: a sum worked on paper, missing prices, and no exchange rate guessed."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blendkit import example_document
from blendkit.batch.cost import (
    NO_PRICE,
    Extra,
    cost,
    labour,
    packaging,
)
from blendkit.batch.master import master
from blendkit.batch.scaling import scale
from blendkit.batch.stock import Count, Purchase, stock
from blendkit.blend.blend import Blend
from blendkit.foundation.errors import BadNumber
from blendkit.foundation.money import Money, read_currency, read_money

INVENTED = Blend.from_dict(example_document())
NOW = datetime(2026, 5, 1, tzinfo=UTC)
few = settings(deadline=None, max_examples=25)

# Invented: 8 bottles of 10 mL with 10 drops of lavender and 10 of patchouli at 20 drops to the
# millilitre, filled up with jojoba: 80 drops = 4 mL of each oil, and 8 x 9 mL of jojoba.
PLAIN = Blend.from_dict(
    {
        "bottle": "10 mL",
        "strength": "10 %",
        "note_parts": {"middle": 1, "base": 1},
        "oils": [{"id": "lavender", "drops": 10}, {"id": "patchouli", "drops": 10}],
        "carriers": [{"id": "jojoba"}],
    }
)
BATCH = scale(PLAIN, "8 × 10 mL", scale_step="0.001 g")


def bought(material, ml, price, currency="EUR", day=1):
    at = NOW.replace(day=day)
    return Purchase(material, material, ml * 1e-6, 1, price, currency, at, None)


SHELF = [
    bought("lavender", 10, 8.0),
    bought("patchouli", 10, 12.5),
    bought("jojoba", 100, 9.0),
]
EXTRAS = [packaging("Roller bottle", "0.85 EUR", 8), labour("90 min", "15 EUR")]


def test_a_sum_worked_on_paper():
    # 4.00 mL x 0.80 EUR/mL  =  3.20
    # 4.00 mL x 1.25 EUR/mL  =  5.00
    # 72.0 mL x 0.09 EUR/mL  =  6.48
    # 8 bottles x 0.85 EUR   =  6.80
    # 1.5 h x 15.00 EUR      = 22.50
    #                          43.98, for one of eight bottles 5.4975
    found = cost(BATCH, stock([], SHELF, {}), currency="EUR", extras=EXTRAS)
    by_name = {line.material or line.name: line.cost for line in found.lines}
    assert by_name["lavender"] == pytest.approx(3.20)
    assert by_name["patchouli"] == pytest.approx(5.00)
    assert by_name["jojoba"] == pytest.approx(6.48, abs=0.0005)  # weighed, to 0.001 g
    assert by_name["Roller bottle"] == pytest.approx(6.80)
    assert by_name["Labour"] == pytest.approx(22.50)
    assert found.total == pytest.approx(43.98, abs=0.0005)
    assert [each for _, each in found.per_bottle] == [pytest.approx(5.4975, abs=0.0005)]
    assert not found.no_price
    lavender = next(line for line in found.lines if line.material == "lavender")
    assert (lavender.amount, lavender.arithmetic) == ("4 mL", "4 mL × 0.8 EUR/mL")
    assert found.sentences[:2] == (
        "43.98 EUR for the batch.",
        "5.50 EUR for a bottle of 10 mL.",
    )


def test_the_dearest_stands_first_and_the_shares_add_up():
    found = cost(BATCH, stock([], SHELF, {}), currency="EUR", extras=EXTRAS)
    costs = [line.cost for line in found.lines]
    assert costs == sorted(costs, reverse=True)
    assert sum(found.share(line) for line in found.lines) == pytest.approx(1)
    assert (found.lines[0].name, round(found.share(found.lines[0]), 2)) == ("Labour", 0.51)


def test_a_batch_over_two_bottles_pays_both_prices_the_older_first():
    # 3 mL are left of the bottle at 0.80 and 1 mL comes from the one at 1.50: 2.40 + 1.50
    shelf = [bought("lavender", 3, 2.4), bought("lavender", 10, 15.0, day=2), *SHELF[1:]]
    found = cost(BATCH, stock([], shelf, {}), currency="EUR")
    line = next(line for line in found.lines if line.material == "lavender")
    assert line.cost == pytest.approx(3.90)
    assert line.arithmetic == "3 mL × 0.8 EUR/mL + 1 mL × 1.5 EUR/mL"


def test_what_the_shelf_lacks_is_counted_at_the_newest_price_and_said():
    # 1 mL at 0.80 is there; 3 mL more at the newest price, 0.80 as well
    shelf = [bought("lavender", 1, 0.8), *SHELF[1:]]
    line = next(
        line
        for line in cost(BATCH, stock([], shelf, {}), currency="EUR").lines
        if line.material == "lavender"
    )
    assert line.cost == pytest.approx(3.20)
    assert line.remark == "3 mL is not in stock, counted at the newest price"


@pytest.mark.parametrize("price", [None, 0.0])
def test_a_missing_or_zero_price_makes_the_total_at_least(price):
    shelf = [bought("lavender", 10, price), *SHELF[1:]]
    extras = [Extra("packaging", "Box", 8, None)]
    found = cost(BATCH, stock([], shelf, {}), currency="EUR", extras=extras)
    assert found.no_price
    assert set(found.no_price) == {"Lavender", "Box"}
    assert found.total == pytest.approx(11.48, abs=0.0005)
    assert "At least 11.48 EUR" in found.sentences[0]
    assert found.lines[-1].cost is None
    lavender = next(line for line in found.lines if line.material == "lavender")
    assert lavender.remark.startswith(NO_PRICE)


def test_where_nothing_has_a_price_no_figure_is_printed():
    found = cost(BATCH, stock([], [], {}), currency="EUR")
    assert not any("EUR" in sentence for sentence in found.sentences)
    assert found.sentences[0].startswith("Nothing in it has a price on record")
    assert "Lavender" in found.sentences[-1]


def test_a_part_without_a_price_is_named_as_a_part():
    counts = {"lavender": Count("", "lavender", 12e-6, NOW.replace(day=9))}
    found = cost(BATCH, stock([], SHELF, counts), currency="EUR")  # 2 mL were never bought
    line = next(line for line in found.lines if line.material == "lavender")
    assert line.cost == pytest.approx(1.60)
    assert line.remark == "no price on record for 2 mL"
    assert found.no_price


def test_two_currencies_are_refused_and_each_is_named():
    shelf = [bought("lavender", 10, 8.0, "GBP"), *SHELF[1:]]
    extras = [packaging("Roller bottle", "0.85 USD", 8)]
    with pytest.raises(BadNumber, match="No exchange rate is guessed") as caught:
        cost(BATCH, stock([], shelf, {}), currency="EUR", extras=extras)
    assert len(caught.value.problems) == 2


@few
@given(st.integers(1, 30), st.integers(1, 30), st.floats(0.1, 99))
def test_the_bottles_together_cost_what_the_batch_costs(small, large, price):
    batch = scale(INVENTED, f"{small} × 10 mL + {large} × 30 mL", loss="3 %")
    shelf = [bought(each.material, 100, price) for each in batch.weighings]
    extras = [packaging("bottle", "0.85 EUR", small + large)]
    found = cost(batch, stock([], shelf, {}), currency="EUR", extras=extras)
    together = sum(some.count * each for some, each in found.per_bottle)
    assert together == pytest.approx(found.total)
    small_one, large_one = (each for _, each in found.per_bottle)
    assert large_one - 0.85 == pytest.approx(3 * (small_one - 0.85))


def test_a_master_costs_as_much_as_its_bottles():
    made = master(PLAIN, [("8 × 10 mL", "10 %")], basis="volume", scale_step="0.001 g")
    found = cost(made, stock([], SHELF, {}), currency="EUR", extras=EXTRAS)
    assert found.total == pytest.approx(43.98, abs=0.01)


def test_money_needs_its_currency():
    assert read_money("12,50 EUR", name="x") == Money(12.5, "EUR")
    shown = [str(Money(amount, "EUR")) for amount in (1.004, 1.006, 12.5, 0.0, 1234.5)]
    assert shown == ["1.00 EUR", "1.01 EUR", "12.50 EUR", "0.00 EUR", "1234.50 EUR"]
    for bad in ("12.50", "EUR", "-1 EUR", "12 €", "12 euro", "", None, 12, "1e400 EUR"):
        with pytest.raises(BadNumber):
            read_money(bad, name="x")
    with pytest.raises(BadNumber, match="Did you mean EUR"):
        read_currency("eur")
    with pytest.raises(BadNumber, match="Did you mean GBP"):
        read_currency("£")


def test_extras_say_everything_that_is_wrong():
    with pytest.raises(BadNumber) as caught:
        packaging("bottle", "cheap", 0)
    assert len(caught.value.problems) == 2
    with pytest.raises(BadNumber) as caught:
        labour("-2 h", "15")
    assert len(caught.value.problems) == 2
