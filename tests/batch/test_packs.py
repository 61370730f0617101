"""The shopping list, against every combination of packs there is."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blendkit.batch.packs import cheapest_cover, read_packs, shopping_list
from blendkit.foundation.errors import BadNumber

ML = 1e-6
HUNDREDS = settings(max_examples=150, deadline=None)


def row(size="10 mL", price=8.0, material="lavender", currency="EUR", supplier=""):
    return {
        "material": material,
        "size": size,
        "price": price,
        "currency": currency,
        "supplier": supplier,
    }


def rank(counts, sizes, prices):
    """Price, packs, amount: what is made least of, in that order."""
    return (
        sum(count * price for count, price in zip(counts, prices, strict=True)),
        sum(counts),
        sum(count * size for count, size in zip(counts, sizes, strict=True)),
    )


def best_of_all(sizes, prices, need):
    reaches = [range(-(-need // size) + 1) for size in sizes]
    covers = (
        counts
        for counts in itertools.product(*reaches)
        if sum(count * size for count, size in zip(counts, sizes, strict=True)) >= need
    )
    return min(rank(counts, sizes, prices) for counts in covers)


@HUNDREDS
@given(
    st.lists(st.tuples(st.integers(1, 30), st.integers(1, 60)), min_size=1, max_size=4),
    st.integers(1, 60),
    st.sampled_from([1, 1000, 5000]),
    st.sampled_from([1, 10, 500]),
)
def test_no_other_packs_are_cheaper_fewer_or_leave_less(packs, need, unit, coin):
    smallest = min(size for size, _ in packs)
    need = min(need, smallest * 10)  # few enough combinations to try them all
    sizes = [size * unit for size, _ in packs]
    prices = [price * coin for _, price in packs]
    counts = cheapest_cover(sizes, prices, need * unit)
    assert min(counts) >= 0
    assert rank(counts, sizes, prices) == best_of_all(sizes, prices, need * unit)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.integers(50, 3000), st.integers(50, 3000)), min_size=2, max_size=5),
    st.integers(1, 12_000),
)
def test_uneven_sizes_and_large_needs_against_every_amount_there_is(packs, need):
    sizes, prices = [size for size, _ in packs], [price for _, price in packs]
    # the least price and packs for each amount in turn; the amount itself breaks the last tie
    best: list[tuple[int, int] | None] = [(0, 0)]
    for amount in range(1, need + max(sizes)):
        ways = [
            (best[amount - size][0] + price, best[amount - size][1] + 1)
            for size, price in packs
            if amount >= size and best[amount - size]
        ]
        best.append(min(ways, default=None))
    covers = [(*best[amount], amount) for amount in range(need, len(best)) if best[amount]]
    counts = cheapest_cover(sizes, prices, need)
    assert rank(counts, sizes, prices) == min(covers)


def test_at_one_price_the_fewest_packs_then_the_least_left_over():
    assert cheapest_cover([5, 10], [4, 8], 10) == [0, 1]
    assert cheapest_cover([10, 12, 15], [8, 8, 8], 10) == [1, 0, 0]


class TestShoppingList:
    def test_a_list_by_hand(self):
        # 22 mL of lavender: 10 mL at 8.00, 30 mL at 21.00, 5 mL at 4.50
        # 30 -> 21.00; 10+10+5 -> 20.50; 10+10+10 -> 24.00; 5x5 -> 22.50: the second is least
        packs = read_packs([row(), row("30 mL", 21), row("5 mL", 4.5)])
        found = shopping_list({"lavender": 22 * ML}, packs)
        line = found.lines[0]
        assert [(pack.size, count) for pack, count in line.picks] == [("10 mL", 2), ("5 mL", 1)]
        assert found.total == pytest.approx(20.50)
        assert line.left_over_m3 == pytest.approx(3 * ML)
        assert "3 mL left over" in found.sentences[0]
        assert found.sentences[-1] == "In all 20.50 EUR, without delivery."
        paid = sum(pack.price * count for pack, count in line.picks)
        assert paid == pytest.approx(20.50)

    def test_what_fits_exactly_leaves_nothing(self):
        found = shopping_list({"lavender": 3 * 10 * ML}, read_packs([row()]))
        assert found.lines[0].picks[0][1] == 3
        assert found.lines[0].left_over_m3 == pytest.approx(0, abs=1e-15)

    def test_a_rounding_error_of_the_arithmetic_buys_no_pack(self):
        found = shopping_list({"lavender": (0.1 + 0.2) * 100 * ML}, read_packs([row()]))
        assert found.lines[0].picks[0][1] == 3

    def test_several_suppliers_and_packs_by_mass(self):
        # jojoba 0.868 g/mL: 86.8 g are 100 mL
        packs = read_packs(
            [
                row("86.8 g", 9, "jojoba", supplier="first"),
                row("100 mL", 8.5, "jojoba", supplier="second"),
            ]
        )
        line = shopping_list({"jojoba": 90 * ML}, packs).lines[0]
        assert [(pack.supplier, count) for pack, count in line.picks] == [("second", 1)]

    def test_what_nobody_sells_is_said_and_the_total_is_at_least(self):
        packs = read_packs([row()])
        found = shopping_list({"lavender": 5 * ML, "patchouli": 2 * ML}, packs)
        assert found.not_sold == (("patchouli", 2 * ML),)
        assert "There is no pack on record for Patchouli (2 mL)." in found.sentences
        assert "at least 8.00 EUR" in found.sentences[-1]
        assert [line.name for line in found.lines] == ["Lavender"]

    def test_nothing_missing_buys_nothing(self):
        found = shopping_list({}, [])
        assert found.sentences == ("Nothing is missing.",)
        assert found.total == 0
        assert shopping_list({"lavender": 0.0}, read_packs([row()])).lines == ()
        assert (found.lines, found.not_sold) == ((), ())

    @pytest.mark.parametrize("amount", [-1.0, float("nan"), float("inf")])
    def test_an_amount_that_is_none_is_refused(self, amount):
        with pytest.raises(BadNumber):
            shopping_list({"lavender": amount}, read_packs([row()]))

    def test_more_packs_than_anybody_buys_are_refused(self):
        with pytest.raises(BadNumber, match="pack large enough"):
            shopping_list({"lavender": 10.0}, read_packs([row("1 mL")]))


class TestReadingPacks:
    def test_everything_wrong_is_said_at_once_by_its_row(self):
        rows = [
            row("0 mL"),
            row("10", 0),
            row("1 oz", None),
            row(material="lavendar"),
            row(currency="€"),
            {},
        ]
        with pytest.raises(BadNumber) as caught:
            read_packs(rows)
        told = str(caught.value)
        for place in ("0 mL, size", "10, size", "10, price", "1 oz, size", "1 oz, price"):
            assert f"pack of Lavender {place}" in told
        assert 'Did you mean "lavender"?' in told
        assert "Did you mean EUR?" in told
        assert "pack 6, material" in told

    def test_two_currencies_are_refused(self):
        with pytest.raises(BadNumber, match=r"EUR and GBP.*No exchange rate is guessed"):
            read_packs([row(), row(currency="GBP")])

    @pytest.mark.parametrize("price", ["8", True, float("nan"), float("inf"), -1, 1e9, 1e-4])
    def test_a_price_that_is_none_is_refused(self, price):
        with pytest.raises(BadNumber, match="price"):
            read_packs([row(price=price)])

    def test_a_pack_too_small_to_see_is_refused(self):
        with pytest.raises(BadNumber, match=r"0\.001 mL"):
            read_packs([row("1e-6 mL")])
