"""A cheaper blend: the ceiling and the limits are kept, and the report is true."""

from __future__ import annotations

import itertools
from datetime import UTC, datetime

import pytest

from blendkit import example_document
from blendkit.batch.cheaper import bottle_cost, cheaper, prices_of
from blendkit.batch.stock import Purchase, stock
from blendkit.blend.blend import Blend
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.targets import SameFade, Trial
from blendkit.evaporation.wear import film_of
from blendkit.foundation.errors import BadNumber
from tests.tools.skin import rules_for

INVENTED = Blend.from_dict(example_document())
PRICES = {
    "bergamot-fcf": 0.8,
    "petitgrain": 1.6,
    "lavender": 1.1,
    "geranium": 4.9,
    "cedarwood-atlas": 0.5,
    "patchouli": 0.9,
    "jojoba": 0.09,
    "mct-fractionated-coconut": 0.05,
}
SMALL = Blend.from_dict(
    {
        "bottle": "4 mL",
        "strength": "15 %",
        "note_parts": {"top": 1, "middle": 1, "base": 1},
        "oils": [{"id": "lavender", "note": "top"}, {"id": "geranium"}, {"id": "vetiver"}],
        "carriers": [{"id": "jojoba"}],
    }
)
SMALL_PRICES = {"lavender": 1.0, "geranium": 4.0, "vetiver": 2.5, "jojoba": 0.1}


def miss(blend, like):
    wish = SameFade.like(like)
    return wish.miss(Trial(film_of(blend.bottle, Conditions()), wish.hours))


@pytest.mark.parametrize("share", [95, 80])
def test_ceiling_limits_and_total_are_kept_and_the_saving_is_true(share):
    rules = rules_for(INVENTED.oil_drops)
    found = cheaper(INVENTED, PRICES, f"{share} %", currency="EUR", rules=rules)
    before, after = (bottle_cost(blend, PRICES) for blend in (INVENTED, found.blend))
    assert found.cost_before == pytest.approx(before)
    assert found.cost_after == pytest.approx(after)
    assert after <= before * share / 100 * (1 + 1e-9)
    assert sum(found.blend.oil_drops.values()) == sum(INVENTED.oil_drops.values())
    assert min(found.blend.oil_drops.values()) >= 1
    fractions = found.blend.bottle.mass_fractions()
    assert not any(rule.is_broken_by(fractions) for rule in rules)
    assert found.design.allowed
    assert found.design.misses[0] == pytest.approx(miss(found.blend, INVENTED))
    assert f"{before - after:.2f} EUR less" in found.sentences[0]


def test_a_bottle_costs_what_its_drops_cost():
    # 4 drops of each at 20 to the millilitre are 0.2 mL: 0.2 x (1 + 4 + 2.5) + 3.4 x 0.1
    assert SMALL.oil_drops == {"lavender": 4, "geranium": 4, "vetiver": 4}
    assert bottle_cost(SMALL, SMALL_PRICES) == pytest.approx(0.2 * 7.5 + 3.4 * 0.1)


def test_beside_every_blend_there_is_it_comes_near_the_nearest():
    found = cheaper(SMALL, SMALL_PRICES, "85 %", currency="EUR")
    most = 0.85 * bottle_cost(SMALL, SMALL_PRICES)
    misses = []
    for counts in itertools.product(range(1, 11), repeat=2):
        drops = dict(zip(SMALL.oil_drops, (*counts, 12 - sum(counts)), strict=True))
        if min(drops.values()) < 1:
            continue
        document = SMALL.to_dict()
        document["oils"] = [{**row, "drops": drops[row["id"]]} for row in document["oils"]]
        tried = Blend.from_dict(document)
        if bottle_cost(tried, SMALL_PRICES) <= most * (1 + 1e-9):
            misses.append(miss(tried, SMALL))
    # the search pays a little, 0.02, for each drop it moves
    assert found.design.misses[0] <= min(misses) + 0.02


def test_a_ceiling_that_is_kept_already_moves_nothing():
    found = cheaper(SMALL, SMALL_PRICES, "9 EUR", currency="EUR")
    assert found.blend.oil_drops == SMALL.oil_drops
    assert found.cost_after == pytest.approx(found.cost_before)


def test_a_cheaper_oil_may_come_in():
    prices = {**SMALL_PRICES, "palmarosa": 0.5}
    found = cheaper(
        SMALL,
        prices,
        "65 %",
        currency="EUR",
        rules=rules_for([*SMALL.oil_drops, "palmarosa"]),
        more_oils=["palmarosa"],
    )
    assert found.design.allowed
    assert found.blend.oil_drops["palmarosa"] > 0


def test_carriers_without_a_price_are_named_and_oils_without_one_refused():
    prices = {name: price for name, price in SMALL_PRICES.items() if name != "jojoba"}
    found = cheaper(SMALL, prices, "90 %", currency="EUR")
    assert "Not counted, no price on record: Jojoba" in found.sentences[-1]
    with pytest.raises(BadNumber, match="no price on record") as caught:
        cheaper(SMALL, {"lavender": 1.0, "geranium": -1}, "90 %", currency="EUR")
    assert len(caught.value.problems) == 2


def test_a_ceiling_that_cannot_be_kept_is_refused_with_a_way_out():
    with pytest.raises(BadNumber, match="Raise it"):
        cheaper(SMALL, SMALL_PRICES, "0.10 EUR", currency="EUR")


@pytest.mark.parametrize("ceiling", ["0 %", "0 EUR", "4", "4 GBP", "much", "-5 %", None])
def test_a_ceiling_that_is_none_is_refused(ceiling):
    with pytest.raises(BadNumber, match="ceiling"):
        cheaper(SMALL, SMALL_PRICES, ceiling, currency="EUR")


def test_prices_are_the_newest_and_of_one_currency():
    def bought(day, price, currency="EUR"):
        at = datetime(2026, 5, day, tzinfo=UTC)
        return Purchase("", "lavender", 10e-6, 1, price, currency, at, None)

    on_shelf = stock([], [bought(1, 8.0), bought(2, 9.5), bought(3, None)], {})
    assert prices_of(on_shelf, "EUR") == {"lavender": pytest.approx(0.95)}
    with pytest.raises(BadNumber, match="No exchange rate"):
        prices_of(stock([], [bought(1, 8.0, "GBP")], {}), "EUR")
