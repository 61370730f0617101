"""Shopping list of a class: its demand, less stock, in the packs that are sold."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from blendkit.batch import packs as sold
from blendkit.foundation.errors import BadNumber, Problem, attempt
from blendkit.foundation.units import show
from blendkit.materials.amounts import read_amount
from blendkit.teaching.class_document import ClassPlan
from blendkit.teaching.demand import Demand, to_buy


@dataclass(frozen=True)
class ClassShopping:
    """Shopping list of a class.

    Attributes
    ----------
    listed : blendkit.batch.packs.ShoppingList
    words : tuple of str
        The list and the budget, for people.
    """

    listed: sold.ShoppingList
    words: tuple[str, ...]


def shopping_list(
    plan: ClassPlan,
    demand: Demand,
    packs: Iterable[Mapping[str, Any]] = (),
    stock: Mapping[str, str] | None = None,
) -> ClassShopping:
    """The cheapest packs that hold what a class needs.

    Parameters
    ----------
    plan : ClassPlan
    demand : Demand
        From `blendkit.teaching.demand.demand_of`.
    packs : iterable of mapping
        As `blendkit.batch.packs.read_packs` takes them.
    stock : mapping of str to str, optional
        What is on hand, by id of an oil or carrier, such as ``{"lavender": "12 mL"}``.

    Raises
    ------
    BadNumber
        Lists every pack and every amount that cannot be used.
    UnknownMaterial
        Stock of something that is not on record.
    """
    problems: list[Problem] = []
    on_hand = {}
    for name, amount in (stock or {}).items():
        found = attempt(problems, read_amount, amount, name, name=f"stock, {name}")
        if found is not None:
            on_hand[name] = found
    offered = attempt(problems, sold.read_packs, packs)
    if problems or offered is None:
        raise BadNumber(problems)
    listed = sold.shopping_list(to_buy(demand, on_hand), offered)
    return ClassShopping(listed, (*listed.sentences, *_budget_in_words(plan, listed)))


def _budget_in_words(plan: ClassPlan, listed: sold.ShoppingList) -> list[str]:
    if plan.budget is None:
        return []
    budget = f"the budget of {show(plan.budget, 6)} {plan.currency}".rstrip()
    if listed.lines and listed.currency != plan.currency:
        return [f"Not compared with {budget}: the packs are in {listed.currency}."]
    if listed.total > plan.budget:
        more = show(listed.total - plan.budget, 3)
        return [f"That is {more} {plan.currency} over {budget}."]
    if listed.not_sold:
        return [f"Whether it keeps to {budget} is open: some have no pack on record."]
    return [f"That keeps to {budget}."]
