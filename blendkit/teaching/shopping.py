"""Shopping list of a class: packs of oils and carriers, the kit, and the cost a head."""

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

from blendkit.batch import packs as sold
from blendkit.foundation.errors import BadNumber, Problem, attempt, quoted
from blendkit.foundation.money import Money
from blendkit.foundation.units import counted, is_positive_number, is_whole_number, show
from blendkit.materials import catalogue
from blendkit.materials.amounts import read_amount
from blendkit.teaching.class_document import ClassPlan
from blendkit.teaching.demand import Demand, to_buy
from blendkit.teaching.plan import seat_plans

_BOTTLES = re.compile(r"(?:(\d{1,3})\s*[x×*]\s*)?(.*)", re.DOTALL)  # "2 × 10 mL"


def kit_of(plan: ClassPlan) -> dict[str, int]:
    """Pieces that a class needs besides oils and carriers, by name.

    All of it is judgement, no published source: a spare bottle and label for every ten, a
    pipette for every bottle on the tables and every carrier of a table, a blotter for every
    drop of an oil that is sniffed and one for each blend, two pairs of gloves a table.
    """
    bottles = math.ceil(sum(each.can_mix for each in seat_plans(plan)) * 1.1)
    on_tables = sum(each.bottles for each in plan.oils)
    return {
        "roll-on bottles with ball and cap": bottles,
        "pipettes": on_tables + plan.tables * len(plan.carriers),
        "blotters": len(plan.oils) * plan.sniffing_drops + len(plan.seats),
        "labels": bottles,
        "packs of tissues": plan.tables,
        "pairs of gloves": 2 * plan.tables,
    }


class KitLine(NamedTuple):
    """Pieces of one kind to buy; cost None where no price is on record."""

    name: str
    needed: int
    packs: int
    pieces: int
    cost: float | None


@dataclass(frozen=True)
class ClassShopping:
    """Shopping list of a class.

    Attributes
    ----------
    listed : blendkit.batch.packs.ShoppingList
    kit : tuple of KitLine
    words : tuple of str
        The list, the cost and the budget, for people.
    """

    listed: sold.ShoppingList
    kit: tuple[KitLine, ...]
    words: tuple[str, ...]

    @property
    def total(self) -> float:
        """Sum of what has a price."""
        return self.listed.total + sum(line.cost or 0 for line in self.kit)


def shopping_list(
    plan: ClassPlan,
    demand: Demand,
    packs: Iterable[Mapping[str, Any]] = (),
    stock: Mapping[str, str] | None = None,
    kit: Iterable[Mapping[str, Any]] | None = None,
) -> ClassShopping:
    """The cheapest packs that hold what a class needs, with enough bottles for its tables.

    Parameters
    ----------
    plan : ClassPlan
    demand : Demand
        From `blendkit.teaching.demand.demand_of`.
    packs : iterable of mapping
        As `blendkit.batch.packs.read_packs` takes them.
    stock : mapping of str to str, optional
        What is on hand, by id of an oil or carrier, such as ``{"lavender": "2 × 10 mL"}``.
    kit : iterable of mapping, optional
        Rows of the kit: "item" of `kit_of`, and "on_hand", "pieces" (of a pack), "price".

    Raises
    ------
    BadNumber
        Lists every pack and every amount that cannot be used.
    UnknownMaterial
        Stock of something that is not on record.
    """
    problems: list[Problem] = []
    on_hand, bottles = {}, {each.oil.id: each.bottles for each in plan.oils}
    for name, amount in (stock or {}).items():
        times, size = _BOTTLES.fullmatch(amount.strip()).groups()  # type: ignore[union-attr]
        found = attempt(problems, read_amount, size, name, name=f"stock, {name}")
        count = int(times or 1)
        if found is not None:
            on_hand[name] = found * count
            bottles[name] = bottles.get(name, 0) - count
    offered = attempt(problems, sold.read_packs, packs)
    lines = tuple(_kit_lines(plan, kit or (), problems))
    if problems or offered is None:
        raise BadNumber(problems)
    listed = sold.shopping_list(to_buy(demand, on_hand), offered, bottles)
    bought = {line.material: sum(n for _, n in line.picks) for line in listed.lines}
    more = [
        f"{count} of {catalogue.oil(name).name}"
        for name, count in bottles.items()
        if count > 0 and name not in bought
    ]
    small = [f"Small bottles for the tables, to buy or to fill: {', '.join(more)}."] * bool(
        more
    )
    words = (*listed.sentences, *small, *_kit_in_words(lines, plan.currency))
    made = ClassShopping(listed, lines, words)
    return replace(made, words=(*words, *_cost_in_words(plan, made)))


def _kit_lines(
    plan: ClassPlan, rows: Iterable[Mapping[str, Any]], problems: list[Problem]
) -> Iterable[KitLine]:
    typed = {str(row.get("item", "")): row for row in rows}
    for name, needed in kit_of(plan).items():
        row = {key: value for key, value in typed.get(name, {}).items() if value != ""}
        on_hand, pieces, price = row.get("on_hand", 0), row.get("pieces", 1), row.get("price")
        price_is_good = price is None or is_positive_number(price)
        checks = (
            ("on hand", on_hand, is_whole_number(on_hand), "a whole number of pieces"),
            ("in a pack", pieces, is_whole_number(pieces, 1), "a whole number from 1"),
            ("price", price, price_is_good, "the price of one pack"),
        )
        wrong = [
            Problem(f"{name}, {what}", quoted(got), needs)
            for what, got, is_good, needs in checks
            if not is_good
        ]
        problems += wrong
        if not wrong and (missing := max(needed - on_hand, 0)):
            packs = math.ceil(missing / pieces)
            cost = None if price is None else packs * price
            yield KitLine(name, missing, packs, pieces, cost)


def _kit_in_words(lines: Iterable[KitLine], currency: str) -> list[str]:
    sentences, unpriced = [], []
    for line in lines:
        packs = f", {counted(line.packs, 'pack')} of {line.pieces}" if line.pieces > 1 else ""
        what = f"{line.needed} {line.name}{packs}"
        if line.cost is None:
            unpriced.append(what)
        else:
            sentences.append(f"{what}; {Money(line.cost, currency)}.")
    return [*sentences, *[f"Without a price: {'; '.join(unpriced)}."] * bool(unpriced)]


def _cost_in_words(plan: ClassPlan, found: ClassShopping) -> list[str]:
    listed, total = found.listed, found.total
    budget = f"the budget of {show(plan.budget or 0, 6)} {plan.currency}".rstrip()
    if listed.lines and listed.currency != plan.currency and (plan.currency or plan.budget):
        return [f"Not compared with {budget}: the packs are in {listed.currency}."]
    if not total:
        return []
    seats = sum(each.can_mix for each in seat_plans(plan))
    currency = plan.currency or listed.currency
    is_open = bool(listed.not_sold) or any(line.cost is None for line in found.kit)
    least = "at least " if is_open else ""
    a_head = f"{Money(total / seats, currency)} a head for {counted(seats, 'bottle')}"
    sentences = [f"Oils, carriers and kit: {least}{Money(total, currency)}, {least}{a_head}."]
    if plan.budget is None:
        return sentences
    if total > plan.budget:
        verdict = f"That is {show(total - plan.budget, 3)} {plan.currency} over {budget}."
    elif is_open:
        verdict = f"Whether it keeps to {budget} is open: some have no pack or price on record."
    else:
        verdict = f"That keeps to {budget}."
    return [*sentences, verdict]
