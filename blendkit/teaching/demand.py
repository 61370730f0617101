"""Demand of a class whose people choose freely, and the chance that nobody runs out.

**The chance** is that every oil suffices. Notes are chosen apart, so their chances multiply;
inside a note the chance is the exact multinomial one where all seats choose alike and take one
oil, and else the sum of the single risks, never more favourable than the truth (Bonferroni).
"""

import math
from bisect import bisect_left
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.units import ML_PER_M3, FloatArray, show
from blendkit.materials import catalogue
from blendkit.teaching.choice_chances import ChoiceGroup, choice_groups
from blendkit.teaching.class_document import ClassPlan
from blendkit.teaching.free_choice import ChoiceCard
from blendkit.teaching.plan import seat_plans

_ROUNDING = 1e-12


class OilDemand(NamedTuple):
    """Demand for one oil.

    Attributes
    ----------
    oil, name, note : str
    expected_drops : float
        Mean of what the class uses.
    drops : int
        What suffices with `chance`.
    chance : float
        That this oil, looked at by itself, suffices. [-]
    to_have_drops : int
        With spillage and blotters on top.
    volume_m3 : float
        Of those.
    """

    oil: str
    name: str
    note: str
    expected_drops: float
    drops: int
    chance: float
    to_have_drops: int
    volume_m3: float


class CarrierDemand(NamedTuple):
    """Demand for one carrier: a whole bottle for each seat, spillage on top. [m3]"""

    carrier: str
    seats: int
    volume_m3: float


@dataclass(frozen=True)
class Demand:
    """Demand of a class for oils and carriers.

    Attributes
    ----------
    oils : tuple of OilDemand
        In the palette's order.
    carriers : tuple of CarrierDemand
    chance : float
        That every oil suffices: exact, or a lower bound (see `method`). [-]
    chance_copying : float
        That every oil suffices where every second seat that has the same choice takes what
        the seat before it takes; a lower bound. [-]
    method, model : str
        How the chance was calculated, and how a seat is taken to choose, in sentences.
    """

    oils: tuple[OilDemand, ...]
    carriers: tuple[CarrierDemand, ...]
    chance: float
    chance_copying: float
    method: str
    model: str


def demand_of(plan: ClassPlan, card: ChoiceCard | None = None, chance: float = 0.95) -> Demand:
    """Calculate what a class needs of each oil and carrier.

    Parameters
    ----------
    plan : ClassPlan
    card : ChoiceCard, optional
        Nobody takes more drops than it allows.
    chance : float, optional
        That nobody runs out of any oil, from 0.5 to 0.9999. [-]

    Returns
    -------
    Demand
        All oils are given one common chance, the least that will do; then each oil, the most
        needed first, is cut back as far as the chance allows. So no oil can be cut by itself.

    Raises
    ------
    BadNumber
        The chance cannot be used.
    BadClass
        Nobody can mix anything.
    """
    if isinstance(chance, bool | str) or not 0.5 <= chance <= 0.9999:
        raise BadNumber([Problem("chance", quoted(chance), "a number from 0.5 to 0.9999")])
    groups = choice_groups(plan, card)
    stock = _Stock(groups)
    caps = stock.caps_for_all(chance)
    by_oil = dict(zip(stock.oils, zip(caps, stock.totals, strict=True), strict=True))
    return Demand(
        oils=tuple(
            _oil_demand(plan, each.oil, each.note, *by_oil[each.oil.id]) for each in plan.oils
        ),
        carriers=_carrier_demand(plan),
        chance=min(1.0, stock.all_suffice(caps)),
        chance_copying=min(1.0, _Stock([each.copied for each in groups]).all_suffice(caps)),
        method=_method(groups),
        model=_model(plan, card),
    )


class _Stock:
    """All oils of a class with the distribution of what is used of each."""

    def __init__(self, groups: Sequence[ChoiceGroup]) -> None:
        self.groups = groups
        self.oils = [oil for group in groups for oil in group.oils]
        self.totals = [
            group.totals(place) for group in groups for place in range(len(group.oils))
        ]
        self.reached = [np.cumsum(each) for each in self.totals]

    def caps_at(self, chance: float) -> list[int]:
        """The least drops of each oil that suffice with a chance."""
        return [
            min(int(np.searchsorted(each, chance - _ROUNDING)), len(each) - 1)
            for each in self.reached
        ]

    def all_suffice(self, caps: Sequence[int]) -> float:
        """Chance that every oil suffices. [-]"""
        first, whole = 0, 1.0
        for group in self.groups:
            here = slice(first, first + len(group.oils))
            whole *= group.all_suffice(caps[here], self.totals[here])
            first = here.stop
        return whole

    def caps_for_all(self, chance: float) -> list[int]:
        """Caps at the least common level with which every oil suffices, then cut back."""
        levels = np.unique(np.concatenate(self.reached))
        levels = levels[levels >= chance - _ROUNDING]
        least = bisect_left(
            levels[:-1], True, key=lambda each: self.all_suffice(self.caps_at(each)) >= chance
        )
        caps = self.caps_at(levels[least])
        for place in sorted(range(len(caps)), key=lambda each: -caps[each]):
            while (fewer := self._one_less(caps, place)) and self.all_suffice(fewer) >= chance:
                caps = fewer
        return caps

    def _one_less(self, caps: Sequence[int], place: int) -> list[int] | None:
        """The next smaller total of one oil that can occur at all."""
        lower = np.flatnonzero(self.totals[place][: caps[place]] > 0)
        return [*caps[:place], int(lower[-1]), *caps[place + 1 :]] if lower.size else None


def _oil_demand(
    plan: ClassPlan, oil: catalogue.Oil, note: str, drops: int, totals: FloatArray
) -> OilDemand:
    to_have = math.ceil(drops * (1 + plan.spillage) - _ROUNDING) + plan.sniffing_drops
    return OilDemand(
        oil=oil.id,
        name=oil.name,
        note=note,
        expected_drops=float(totals @ np.arange(len(totals))),
        drops=drops,
        chance=min(1.0, float(totals[: drops + 1].sum())),
        to_have_drops=to_have,
        volume_m3=to_have / (plan.fields.drops_per_ml_of(oil.id) * ML_PER_M3),
    )


def _carrier_demand(plan: ClassPlan) -> tuple[CarrierDemand, ...]:
    seats = Counter(each.carrier for each in seat_plans(plan) if each.can_mix)
    bottle_m3 = plan.fields.liquid_m3 * (1 + plan.spillage)
    return tuple(
        CarrierDemand(each.id, seats[each.id], seats[each.id] * bottle_m3)
        for each in plan.carriers
        if seats[each.id]
    )


def chance_in_words(demand: Demand) -> list[str]:
    """The chance that nobody runs out, in one sentence, and that of a class that copies."""
    chance, copying = (
        math.floor(each * 1000 + _ROUNDING) / 10
        for each in (demand.chance, demand.chance_copying)
    )
    return [
        f"In at least {show(chance)} of 100 such classes no oil at all runs out.",
        f"Where every second seat copies its neighbour it is at least {show(copying)}: "
        "people who copy want the same oil, so have a bottle in reserve.",
    ]


def _method(groups: Sequence[ChoiceGroup]) -> str:
    exact = [group.is_multinomial for group in groups]
    if all(exact):
        return "For all oils together, exactly (multinomial counts, notes chosen apart)."
    how = "single risks added up in each note" if not any(exact) else (
        "exact where all seats choose alike, else single risks of a note added up"
    )  # fmt: skip
    return f"For all oils together; {how}, so the true chance is at least this."


def _model(plan: ClassPlan, card: ChoiceCard | None) -> str:
    if plan.blends:
        return "Each seat picks one of the set blends by itself, by popularity."
    again = ", picking again where the card allows fewer drops" if card else ""
    return (
        "Each seat picks one oil for each note by itself, by popularity among those it may "
        f"use{again}."
    )


def to_buy(demand: Demand, on_hand_m3: Mapping[str, float] | None = None) -> dict[str, float]:
    """Missing amounts by id of oil or carrier, stock on hand taken off. [m3]

    Parameters
    ----------
    demand : Demand
    on_hand_m3 : mapping of str to float, optional
        By id; below 0 counts as nothing.
    """
    have = on_hand_m3 or {}
    needed = {each.oil: each.volume_m3 for each in demand.oils}
    needed |= {each.carrier: each.volume_m3 for each in demand.carriers}
    missing = {name: volume - max(have.get(name, 0.0), 0.0) for name, volume in needed.items()}
    return {name: volume for name, volume in missing.items() if volume > _ROUNDING}
