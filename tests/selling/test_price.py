"""Where a price goes: its parts sum to it, and the way back leads to the same price."""

from __future__ import annotations

import math
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from blendkit.batch.bottles import Bottles
from blendkit.batch.cost import Cost, CostLine
from blendkit.foundation.errors import BadNumber
from blendkit.selling.price import (
    BottleCost,
    Price,
    Terms,
    bottle_cost,
    price_for,
    read_amount,
    read_terms,
)
from blendkit.showing.selling.price_bar import price_bar

SHARES = st.floats(0, 0.6)
MONEY = st.floats(0, 1e4)
COSTS = st.builds(BottleCost, st.floats(0.01, 1e4), MONEY, MONEY)
TERMS = st.builds(
    Terms, st.just("EUR"), SHARES, st.floats(0, 0.2), MONEY, st.none() | st.floats(0, 0.3)
)
PUBLISHED = Path(__file__).parents[1] / "published" / "break_even.csv"
PRINTED = pd.read_csv(PUBLISHED).to_dict("records")


def like(value):
    return pytest.approx(value, rel=1e-9, abs=1e-6)


# --- laws -----------------------------------------------------------------------------------


def room(terms):
    """Share of the price before VAT that shop and fees leave."""
    return 1 - terms.shop - terms.fee_share * (1 + (terms.vat or 0))


@given(COSTS, TERMS, st.floats(0, 90))
def test_a_margin_is_what_is_left_of_the_price_before_vat(cost, terms, percent):
    share = float(f"{percent:.3f}") / 100
    assume(room(terms) - share > 0.01)
    price = price_for(f"{percent:.3f} %", cost, terms)
    assert price.yours / price.before_vat == pytest.approx(share, abs=1e-9)
    assert sum(price.parts.values()) == like(price.shelf)


@given(COSTS, TERMS, st.floats(0.01, 1e5), MONEY)
def test_parts_of_any_price_sum_to_it_and_lead_back_to_it(cost, terms, shelf, more):
    assume(room(terms) > 0.01)
    price = Price(shelf, cost, terms)
    assert sum(price.parts.values()) == like(shelf)
    assert min(part for name, part in price.parts.items() if name != "yours") >= -1e-9
    assert Price(shelf + more, cost, terms).yours >= price.yours - 1e-6
    margin = price.yours / price.before_vat
    if margin >= 0 and room(terms) - margin > 0.001:
        back = price_for(f"{margin * 100:.10f} %", cost, terms)
        assert back.shelf == pytest.approx(shelf, rel=1e-6)


@given(COSTS, TERMS, st.floats(0.01, 1e4), st.floats(0.01, 1e5))
def test_at_break_even_the_bottles_bring_the_fixed_costs(cost, terms, shelf, fixed):
    price = Price(shelf, cost, terms)
    bottles = price.break_even(fixed)
    if math.isfinite(bottles):
        assert bottles * price.yours == pytest.approx(fixed)
    else:
        assert price.yours <= 0


# --- against the world ------------------------------------------------------------------------


def _ours(row):
    """The figure a textbook prints, by this module."""
    cost, terms = BottleCost(row["cost"]), Terms("USD")
    rate = row["rate_percent"] / 100
    price = Price(row["price"], cost, terms)
    return {
        "break-even": lambda: price.break_even(row["fixed_costs"]),
        "profit of 3429 more": lambda: price.yours * 3429,
        "left of each": lambda: price.yours,
        "shop pays": lambda: Price(row["price"], BottleCost(0), Terms("USD", rate)).yours,
        "price with VAT": lambda: price_for(
            "0 %", BottleCost(row["price"]), Terms("USD", vat=rate)
        ).shelf,
        "mark-up at margin": lambda: (
            price_for(f"{row['rate_percent']} %", BottleCost(1), terms).shelf - 1
        ) * 100,
    }[row["quantity"]]()  # fmt: skip


@pytest.mark.parametrize("row", PRINTED)
def test_prices_are_those_that_textbooks_print(row, beside_published):
    low, high = (row["printed"] + way * row["printed_step"] / 2 for way in (-1, 1))
    beside_published(
        f"{row['quantity']}, price {row['price']:g}", _ours(row), row["printed"], low, high,
        source=f"{row['source']} ({row['grade']})",
    )  # fmt: skip


# --- words and refusals -----------------------------------------------------------------------


def test_by_hand_with_everything_in_it():
    # 24.00 with 20 % VAT is 20.00 before; the shop takes 8.00; fees 0.72 + 0.28 = 1.00
    terms = read_terms("EUR", "40 %", "20 %", [("2 %", "0.08 EUR"), ("1 %", "0.20 EUR")])
    price = Price(24.0, BottleCost(2.0, 3.0, 1.0), terms)
    assert price.parts == pytest.approx({
        "materials": 2, "work": 3, "packaging": 1, "fees": 1, "shop": 8, "VAT": 4, "yours": 5,
    })  # fmt: skip
    words = price.sentences(101.0)
    assert words == (
        "Yours: 5.00 EUR a bottle, 25 % of the price before VAT.",
        "Break-even on 101.00 EUR of fixed costs: 21 bottles to sell.",  # 20.2
        "A gift costs you 6.00 EUR: 2 bottles to sell.",  # 1.2
    )
    assert "No VAT rate is typed" in " ".join(price._replace(terms=Terms("EUR")).sentences())


def test_a_material_without_a_price_makes_it_at_least():
    price = Price(20.0, BottleCost(2.0, no_price=("Rose <i>",)), Terms("EUR", vat=0.0))
    words = " ".join(price.sentences(100.0))
    assert "at most 18.00 EUR" in words
    assert "at least 6 bottles" in words
    assert "at least 2.00 EUR" in words
    assert "No price on record: Rose <i>." in words
    assert "materials · at least 2.00 EUR" in price_bar(price)


def test_a_price_below_the_cost_is_a_loss_and_never_breaks_even():
    price = Price(5.0, BottleCost(4.0), Terms("EUR", shop=0.4, vat=0.0))
    assert "costs you 1.00 EUR on top" in price.sentences()[0]
    assert "no number of bottles" in price.sentences(10.0)[1]
    assert "stroke-dasharray" in price_bar(price)


def test_liquid_is_shared_by_volume_and_packaging_and_work_by_bottle():
    lines = [
        CostLine("oil", "lavender", "Lavender", "", 8.0, "", ""),
        CostLine("carrier", "jojoba", "Jojoba", "", 4.0, "", ""),
        CostLine("packaging", "", "Bottle", "", 6.0, "", ""),
        CostLine("labour", "", "Labour", "", 30.0, "", ""),
    ]
    bottles = (Bottles(2, 10e-6), Bottles(1, 20e-6))
    cost = Cost("EUR", tuple(lines), bottles)
    assert bottle_cost(cost) == BottleCost(3.0, 10.0, 2.0, ())
    assert bottle_cost(cost).total == pytest.approx(cost.per_bottle[0][1])


@pytest.mark.parametrize(
    ("refused", "words"),
    [
        (lambda: read_terms("€", "140 %", "twenty", [("x", "1 USD")]), "shop's share"),
        (lambda: price_for("0 %", BottleCost(1), Terms("EUR", 0.7, 0.6)), "the 0 % that shop"),
        (lambda: read_terms("EUR", fees=[("", "1 USD")]), "No exchange rate is guessed"),
        (lambda: price_for("60 %", BottleCost(1), Terms("EUR", shop=0.4)), "60 %"),
        (lambda: price_for("12 EUR", BottleCost(1), Terms("EUR")), "margin"),
        (lambda: price_for("-5 %", BottleCost(1), Terms("EUR")), "margin"),
        (lambda: read_amount("-3 EUR", "EUR", "fixed costs"), "fixed costs"),
    ],
)
def test_terms_that_cannot_be_are_named(refused, words):
    with pytest.raises(BadNumber, match=words):
        refused()


def test_all_problems_of_terms_come_at_once():
    with pytest.raises(BadNumber) as caught:
        read_terms("€", "140 %", "twenty", [("x", "1 USD")])
    assert len(caught.value.problems) == 5
