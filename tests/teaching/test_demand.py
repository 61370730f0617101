"""How much to buy: against scipy, a printed table, plain summing and a seeded simulation."""

from __future__ import annotations

import csv
import itertools
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binom, multinomial

from blendkit.batch.packs import cheapest_cover
from blendkit.foundation.data import example_class, example_document
from blendkit.foundation.errors import BadNumber
from blendkit.teaching.choice_chances import ChoiceGroup, choice_groups
from blendkit.teaching.class_document import BadClass, ClassPlan
from blendkit.teaching.class_reader import read_class
from blendkit.teaching.demand import (
    _Stock,
    chance_in_words,
    demand_of,
    to_buy,
)
from blendkit.teaching.free_choice import card_of
from blendkit.teaching.shopping import kit_of, shopping_list

TABLE = Path(__file__).parents[1] / "published" / "binomial_tables.csv"
PRINTED = list(csv.DictReader(TABLE.read_text(encoding="utf-8").splitlines()))


def a_class(**fields: object) -> ClassPlan:
    return read_class({**example_class(), **fields})


def two_oils(popularity: float, seats: int) -> ClassPlan:
    oils = [
        {"id": "lavender", "popularity": popularity},
        {"id": "geranium", "popularity": 1 - popularity},
    ]
    return a_class(oils=oils, note_parts={"middle": 1}, seats=seats)


def simulated(plan: ClassPlan, groups, draws: int, seed: int) -> dict[str, np.ndarray]:
    """Drops of each oil in many made-up classes, seat by seat."""
    chance = np.random.default_rng(seed)
    found = {}
    for group in groups:
        total = np.zeros((draws, len(group.oils)))
        for outcomes in group.seats:
            picks = chance.choice(len(outcomes), size=draws, p=[each for _, each in outcomes])
            total += np.array([drops for drops, _ in outcomes])[picks]
        found |= dict(zip(group.oils, total.T, strict=True))
    return found


@pytest.mark.parametrize("row", PRINTED, ids=lambda r: f"{r['seats']}-{r['popularity']}")
def test_the_chance_of_a_stock_is_the_printed_binomial(row, beside_published):
    plan = two_oils(float(row["popularity"]), int(row["seats"]))
    (group,) = choice_groups(plan)
    per_seat = plan.total_drops
    reached = np.cumsum(group.totals(group.oils.index("lavender")))
    found = reached[min(int(row["at_most"]) * per_seat, len(reached) - 1)]
    printed, places = float(row["printed"]), int(row["places"])
    off = 0.6 * 10**-places  # tables round the last place either way
    beside_published(
        f"at most {row['at_most']} of {row['seats']} seats pick an oil of {row['popularity']}",
        found,
        printed,
        printed - off,
        printed + off,
        source=f"{row['source']} ({row['grade']})",
    )


@pytest.mark.parametrize("seats", [1, 2, 12, 40, 200])
@pytest.mark.parametrize("popularity", [0.05, 0.3, 0.5, 0.9])
@pytest.mark.parametrize("chance", [0.5, 0.9, 0.95, 0.999])
def test_per_oil_it_is_the_quantile_that_scipy_gives(seats, popularity, chance):
    plan = two_oils(popularity, seats)
    stock = _Stock(choice_groups(plan))
    drops = dict(zip(stock.oils, stock.caps_at(chance), strict=True))
    found = {each.oil: each for each in demand_of(plan, chance=chance).oils}
    for name, share in (("lavender", popularity), ("geranium", 1 - popularity)):
        count = binom.ppf(chance, seats, share)
        assert drops[name] == count * plan.total_drops
        seats_enough = found[name].drops // plan.total_drops
        assert found[name].chance == pytest.approx(binom.cdf(seats_enough, seats, share))
        mean = seats * share * plan.total_drops
        assert found[name].expected_drops == pytest.approx(mean)


@pytest.mark.parametrize("caps", [(3, 3, 3), (5, 2, 1), (2, 2, 2), (0, 6, 6), (6, 6, 6)])
def test_the_joint_chance_is_the_multinomial_summed_by_hand(caps):
    chances, seats, drops = (0.5, 0.3, 0.2), 6, 4
    outcomes = tuple(
        (tuple(drops * (place == oil) for oil in range(3)), p)
        for place, p in enumerate(chances)
    )
    group = ChoiceGroup(("a", "b", "c"), (outcomes,) * seats)
    counts = [
        n for n in itertools.product(range(seats + 1), repeat=3)
        if sum(n) == seats and all(a <= b for a, b in zip(n, caps, strict=True))
    ]  # fmt: skip
    by_hand = sum(multinomial.pmf(n, seats, chances) for n in counts)
    found = group.all_suffice([drops * cap for cap in caps], [])
    assert found == pytest.approx(by_hand, abs=1e-12)


@pytest.mark.parametrize("chance", [0.8, 0.95, 0.99])
def test_for_the_whole_class_no_oil_can_be_cut(chance):
    plan = a_class(seats=12)
    found = demand_of(plan, chance=chance)
    assert found.chance >= chance
    assert "exactly" in found.method
    groups = choice_groups(plan)
    caps = {each.oil: each.drops for each in found.oils}
    for name, most in caps.items():
        fewer = {**caps, name: most - 1}
        reached = np.prod(
            [group.all_suffice([fewer[n] for n in group.oils], []) for group in groups]
        )
        assert reached < chance


def test_the_whole_class_needs_no_less_than_each_oil_by_itself():
    plan = a_class(seats=12)
    stock = _Stock(choice_groups(plan))
    single = dict(zip(stock.oils, stock.caps_at(0.95), strict=True))
    whole = {each.oil: each.drops for each in demand_of(plan).oils}
    assert all(whole[name] >= drops for name, drops in single.items())
    assert sum(whole.values()) > sum(single.values())


@pytest.mark.parametrize("with_card", [False, True])
@pytest.mark.parametrize("seats", [12, example_class()["seats"]], ids=["alike", "mixed"])
def test_a_seeded_simulation_runs_out_no_more_often_than_told(seats, with_card):
    plan = a_class(seats=seats)
    card = card_of(plan) if with_card else None
    found = demand_of(plan, card)
    draws = 20_000
    used = simulated(plan, choice_groups(plan, card), draws, seed=5)
    enough = np.ones(draws, bool)
    for each in found.oils:
        suffices = used[each.oil] <= each.drops
        # four standard errors of a share in 20 000 draws
        error = 4 * np.sqrt(each.chance * (1 - each.chance) / draws) + 1e-9
        assert suffices.mean() == pytest.approx(each.chance, abs=error)
        spread = 4 * used[each.oil].std() / np.sqrt(draws)
        assert used[each.oil].mean() == pytest.approx(each.expected_drops, abs=spread + 1e-9)
        enough &= suffices
    error = 4 * np.sqrt(0.05 * 0.95 / draws)
    assert enough.mean() >= found.chance - error
    if "exactly" in found.method:
        assert enough.mean() == pytest.approx(found.chance, abs=error)


def test_nobody_takes_more_than_the_card_allows_and_every_chance_sums_to_one():
    plan = a_class()
    card = card_of(plan)
    for group in choice_groups(plan, card):
        for outcomes in group.seats:
            assert sum(chance for _, chance in outcomes) == pytest.approx(1)
            for drops, _ in outcomes:
                assert card.check_mix(dict(zip(group.oils, drops, strict=True))) == []


def test_who_leaves_an_oil_out_takes_none_of_it():
    plan = a_class(seats=[{"dislikes": ["patchouli"]}] * 1 + [{}])
    base = next(g for g in choice_groups(plan) if "patchouli" in g.oils)
    place = base.oils.index("patchouli")
    assert all(drops[place] == 0 for drops, _ in base.seats[0])
    assert any(drops[place] > 0 for drops, _ in base.seats[1])


def test_set_blends_are_counted_by_their_own_drops():
    blend = example_document()
    plan = a_class(blends=[{"blend": blend}], bottle=blend["bottle"], seats=5, oils=[])
    found = demand_of(plan)
    counts = plan.blends[0].blend.oil_drops
    assert {each.oil: each.drops for each in found.oils} == {
        n: 5 * k for n, k in counts.items()
    }
    assert found.chance == pytest.approx(1)


def test_spillage_and_blotters_come_on_top_and_stay_whole_drops():
    plan = a_class(spillage="10 %", sniffing_drops=5)
    for each in demand_of(plan).oils:
        assert each.to_have_drops - 5 >= each.drops * 1.1 - 1e-9
        assert each.to_have_drops - 5 < each.drops * 1.1 + 1
        assert each.volume_m3 == pytest.approx(each.to_have_drops / 20 * 1e-6)


def test_carriers_fill_every_bottle():
    found = {each.carrier: each for each in demand_of(a_class()).carriers}
    assert (found["sweet-almond"].seats, found["jojoba"].seats) == (11, 1)
    assert found["sweet-almond"].volume_m3 == pytest.approx(11 * 10e-6 * 1.1)


def test_stock_on_hand_is_taken_off():
    found = demand_of(a_class())
    lavender = next(each for each in found.oils if each.oil == "lavender")
    left = to_buy(found, {"lavender": 1e-6, "patchouli": 1.0, "geranium": -1.0})
    assert left["lavender"] == pytest.approx(lavender.volume_m3 - 1e-6)
    assert "patchouli" not in left
    geranium = next(each for each in found.oils if each.oil == "geranium")
    assert left["geranium"] == pytest.approx(geranium.volume_m3)


def test_a_palette_with_one_oil_needs_all_of_it():
    plan = a_class(oils=[{"id": "lavender"}], note_parts={"middle": 1}, seats=12)
    (only,) = demand_of(plan).oils
    assert (only.drops, only.chance) == (12 * 40, 1.0)


def test_a_class_in_which_nobody_can_mix_is_refused():
    plan = a_class(seats=[{"strength_cap": "0.1 %"}])  # not one drop
    with pytest.raises(BadClass, match="nobody who can mix"):
        demand_of(plan)


@pytest.mark.parametrize("chance", [0.0, 0.3, 1.0, 2, float("nan"), "95 %"])
def test_a_chance_that_cannot_be_used_is_refused(chance):
    with pytest.raises(BadNumber, match=r"from 0\.5 to 0\.9999"):
        demand_of(a_class(), chance=chance)


def test_it_says_how():
    found = demand_of(a_class())
    assert "at least" in f"{found.model} {found.method}"


# --- packs, stock and budget --------------------------------------------------------------

PACKS = [
    {"material": each["id"], "size": size, "price": price, "currency": "EUR"}
    for each in example_class()["oils"]
    for size, price in (("5 mL", 6.5), ("10 mL", 9.9))
] + [
    {"material": name, "size": "100 mL", "price": 7.0, "currency": "EUR"}
    for name in ("sweet-almond", "jojoba")
]  # invented prices


def test_packs_hold_what_the_class_needs():
    plan = a_class()
    found = demand_of(plan, card_of(plan))
    listed = shopping_list(plan, found, PACKS).listed
    needed = to_buy(found)
    assert {line.material for line in listed.lines} == set(needed)
    for line in listed.lines:
        held = sum(pack.size_m3 * count for pack, count in line.picks)
        assert held >= needed[line.material] * (1 - 1e-9)


KIT = [{"item": name, "on_hand": 0, "pieces": 10, "price": 2.5} for name in kit_of(a_class())]


def test_bottles_on_the_tables_are_bought_or_there():
    oils = [{"id": "lavender", "bottles": 3}, {"id": "lemon", "bottles": 3}]
    plan = a_class(oils=oils, note_parts={"top": 1, "middle": 1}, seats=2)
    stock = {"lavender": "200 mL", "lemon": "3 × 50 mL"}
    found = shopping_list(plan, demand_of(plan), PACKS, stock=stock)
    lines = {line.material: sum(n for _, n in line.picks) for line in found.listed.lines}
    assert lines["lavender"] == 2  # one is there, and three are on the tables
    assert "lemon" not in lines
    nothing = shopping_list(plan, demand_of(plan), PACKS)
    bought = {line.material: sum(n for _, n in line.picks) for line in nothing.listed.lines}
    assert min(bought["lavender"], bought["lemon"]) >= 3
    unpriced = shopping_list(plan, demand_of(plan), (), stock=stock)
    assert any(
        "Small bottles for the tables, to buy or to fill: " in one and "2 of Lavender" in one
        for one in unpriced.words
    )
    with pytest.raises(BadNumber, match="stock, lemon"):
        shopping_list(plan, demand_of(plan), (), stock={"lemon": "x × 5 mL"})


def test_the_cheapest_cover_with_a_least_number_is_the_best_of_all_by_enumeration():
    for least, need in itertools.product((1, 2, 3, 5), (1, 9, 17, 31)):
        sizes, prices = [5, 10, 15], [4, 7, 9]
        found = cheapest_cover(sizes, prices, need, least)
        best = min(
            (sum(map(int.__mul__, prices, counts)), sum(counts))
            for counts in itertools.product(range(8), repeat=3)
            if sum(counts) >= least and sum(map(int.__mul__, sizes, counts)) >= need
        )
        assert (sum(map(int.__mul__, prices, found)), sum(found)) == best


def test_the_kit_has_its_prices_and_the_class_a_cost_a_head():
    plan = a_class()
    found = shopping_list(plan, demand_of(plan), PACKS, kit=KIT)
    # by hand: 14 bottles, 14 labels, 2 tissues, 4 gloves; 17 + 2 × 2 pipettes; 9 × 5 + 12
    assert {line.name: (line.needed, line.packs) for line in found.kit} == {
        "roll-on bottles with ball and cap": (14, 2),
        "pipettes": (21, 3),
        "blotters": (57, 6),
        "labels": (14, 2),
        "packs of tissues": (2, 1),
        "pairs of gloves": (4, 1),
    }
    total = found.listed.total + 15 * 2.5
    assert f"{total:.2f} EUR, {total / 12:.2f} EUR a head for 12 bottles" in found.words[-2]
    bad = [{"item": "labels", "on_hand": "x", "pieces": 0, "price": -1}]
    with pytest.raises(BadNumber) as caught:
        shopping_list(plan, demand_of(plan), kit=bad)
    assert str(caught.value).count("\n  - ") == 3


@pytest.mark.parametrize("with_card", [False, True])
def test_the_chance_of_a_class_that_copies_is_that_of_a_seeded_simulation(with_card):
    plan = a_class()
    card = card_of(plan) if with_card else None
    found, draws = demand_of(plan, card), 20_000
    groups = [group.copied for group in choice_groups(plan, card)]
    used = simulated(plan, groups, draws, seed=6)
    enough = np.all([used[each.oil] <= each.drops for each in found.oils], axis=0).mean()
    assert found.chance_copying <= enough + 4 * np.sqrt(enough * (1 - enough) / draws)
    assert found.chance_copying == pytest.approx(enough, abs=0.03)  # the bound is not idle
    assert found.chance_copying < found.chance - 0.1


def test_the_chance_is_said_for_all_oils_at_once():
    found = demand_of(a_class())
    one, other = chance_in_words(found)
    share = f"{int(found.chance * 1000) / 10:g}"
    assert one == f"In at least {share} of 100 such classes no oil at all runs out."
    assert f"{int(found.chance_copying * 1000) / 10:g}" in other


def test_stock_on_hand_makes_the_list_cheaper_and_a_budget_is_judged():
    plan = a_class(budget=1000)
    found = demand_of(plan, card_of(plan))
    whole, less = (
        shopping_list(plan, found, PACKS, stock=stock, kit=KIT)
        for stock in (None, {"lavender": "50 mL"})
    )
    assert less.listed.total < whole.listed.total
    assert whole.words[-1] == "That keeps to the budget of 1000 EUR."
    tight = shopping_list(a_class(budget=10), found, PACKS)
    assert "over the budget of 10 EUR" in tight.words[-1]


def test_what_no_pack_is_on_record_for_leaves_the_budget_open():
    plan = a_class(budget=1000)
    found = shopping_list(plan, demand_of(plan), PACKS[:2])
    assert "is open" in found.words[-1]


def test_packs_in_another_currency_are_not_set_beside_the_budget():
    plan = a_class(currency="CHF")
    assert "the packs are in EUR" in shopping_list(plan, demand_of(plan), PACKS).words[-1]


def test_every_bad_amount_of_stock_and_every_bad_pack_is_told():
    plan = a_class()
    bad = [{**PACKS[0], "price": 0}]
    with pytest.raises(BadNumber) as caught:
        shopping_list(plan, demand_of(plan), bad, stock={"lavender": "12", "geranium": "-1 mL"})
    assert str(caught.value).count("\n  - ") >= 2
