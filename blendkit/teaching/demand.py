"""How much a class needs when people choose freely, and the chance that nobody runs out.

**How a seat is taken to choose.** By itself; for each note it picks one oil, by popularity
among the oils that it may use, and takes all the drops of the note from it. Where the card of
`free_choice` allows fewer drops of that oil, it takes those and picks again among the rest. Or,
where the class mixes set blends, it picks one blend by popularity.

So the drops of one oil are a sum over seats, and its distribution is their convolution: for
equal seats and one oil a note, drops a note times a binomial count. Nothing is simulated.

**Two guarantees.** "per oil": for each oil by itself the chance that it suffices. "whole
class": the chance that every oil suffices. Notes are chosen apart, so their chances multiply;
inside a note the chance is the exact multinomial one where all seats choose alike and take one
oil, and else the sum of the single risks, never more favourable than the truth (Bonferroni).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import ML_PER_M3
from blendkit.materials import catalogue
from blendkit.teaching.class_document import BadClass, ClassPlan
from blendkit.teaching.free_choice import ChoiceCard
from blendkit.teaching.plan import SeatPlan, seat_plans

FloatArray = npt.NDArray[np.float64]
PER_OIL, WHOLE_CLASS = "per oil", "whole class"
_ROUNDING = 1e-12

Outcomes = tuple[tuple[tuple[int, ...], float], ...]  # drops of each oil of a group, chance


class OilDemand(NamedTuple):
    """What a class needs of one oil.

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
    """What a class needs of one carrier: a whole bottle for each seat, spillage on top. [m3]"""

    carrier: str
    name: str
    seats: int
    volume_m3: float


@dataclass(frozen=True)
class Demand:
    """What a class needs.

    Attributes
    ----------
    oils : tuple of OilDemand
        In the palette's order.
    carriers : tuple of CarrierDemand
    guarantee : str
        "per oil" or "whole class".
    chance : float
        For "whole class", that every oil suffices: exact, or a lower bound (see `method`). For
        "per oil", the least of the single chances. [-]
    method, model : str
        How the chance was worked out, and how a seat is taken to choose, in words.
    """

    oils: tuple[OilDemand, ...]
    carriers: tuple[CarrierDemand, ...]
    guarantee: str
    chance: float
    method: str
    model: str


@dataclass(frozen=True)
class ChoiceGroup:
    """Oils chosen in one act: a note of the palette, or the oils of all set blends.

    Attributes
    ----------
    oils : tuple of str
    seats : tuple of Outcomes
        For each seat that mixes: what it may take, with chances that sum to 1.
    """

    oils: tuple[str, ...]
    seats: tuple[Outcomes, ...]

    def totals(self, place: int) -> FloatArray:
        """Chance of each total of one oil over the class, from 0 drops up. [-]"""
        total = np.ones(1)
        for outcomes, count in Counter(self.seats).items():
            one = np.zeros(1 + max(drops[place] for drops, _ in outcomes))
            for drops, chance in outcomes:
                one[drops[place]] += chance
            total = np.convolve(total, _power(one, count))
        return total

    @property
    def is_multinomial(self) -> bool:
        """Whether all seats choose alike, each taking drops of one oil only."""
        alike = len(set(self.seats)) == 1
        return alike and all(sum(n > 0 for n in drops) == 1 for drops, _ in self.seats[0])

    def all_suffice(self, caps: Sequence[int], totals: Sequence[FloatArray]) -> float:
        """Chance that no oil of the group runs short of its cap; exact or a lower bound. [-]"""
        if self.is_multinomial:
            return self._multinomial(caps)
        short = sum(
            float(each[cap + 1 :].sum()) for each, cap in zip(totals, caps, strict=True)
        )
        return max(0.0, 1.0 - short)

    def _multinomial(self, caps: Sequence[int]) -> float:
        """One oil after another, given the seats that the oils before it have taken."""
        from scipy.stats import binom

        seats = len(self.seats)
        waiting = np.zeros(seats + 1)
        waiting[seats] = 1.0
        rest = 1.0
        for drops, chance in self.seats[0]:
            place = next(each for each, count in enumerate(drops) if count)
            most = min(seats, caps[place] // drops[place])
            counts, left = np.arange(most + 1), np.zeros(seats + 1)
            share = min(1.0, chance / rest) if rest > _ROUNDING else 1.0
            for before in np.flatnonzero(waiting):
                taken = counts[counts <= before]
                left[before - taken] += waiting[before] * binom.pmf(taken, before, share)
            waiting, rest = left, rest - chance
        return float(waiting[0])


def _power(one: FloatArray, count: int) -> FloatArray:
    """The sum of `count` independent numbers that are all distributed like one."""
    total, square = np.ones(1), one
    while count:
        if count % 2:
            total = np.convolve(total, square)
        count //= 2
        square = np.convolve(square, square) if count else square
    return total


def choice_groups(plan: ClassPlan, card: ChoiceCard | None = None) -> tuple[ChoiceGroup, ...]:
    """How the seats of a class choose, as chances.

    Parameters
    ----------
    plan : ClassPlan
    card : ChoiceCard, optional
        Without it every oil may be taken for all drops of its note.

    Raises
    ------
    BadClass
        Nobody can mix anything.

    Notes
    -----
    Suns are counted note by note, so a class whose phototoxic oils stand in two notes is
    planned for a little more of them than the card allows.
    """
    mixing = [each for each in seat_plans(plan) if each.can_mix]
    if not mixing:
        fix = "Change the oils or the carriers."
        raise BadClass([Problem("seats", "nobody who can mix", "at least one who can", fix)])
    if plan.blends:
        return (_blend_group(plan, mixing),)
    groups = []
    for note in NOTES:
        oils = tuple(each.oil.id for each in plan.of_note(note))
        if oils:
            seats = tuple(_of_note(plan, card, note, each.may_use) for each in mixing)
            groups.append(ChoiceGroup(oils, seats))
    return tuple(groups)


def _blend_group(plan: ClassPlan, mixing: Sequence[SeatPlan]) -> ChoiceGroup:
    oils = tuple(each.oil.id for each in plan.oils)
    drops = [tuple(e.blend.oil_drops.get(name, 0) for name in oils) for e in plan.blends]
    seats = []
    for seat in mixing:
        whole = sum(plan.blends[place].popularity for place in seat.blends)
        chances: Counter[tuple[int, ...]] = Counter()
        for place in seat.blends:
            chances[drops[place]] += plan.blends[place].popularity / whole  # type: ignore[assignment]
        seats.append(tuple(chances.items()))
    return ChoiceGroup(oils, tuple(seats))


def _of_note(
    plan: ClassPlan, card: ChoiceCard | None, note: str, may_use: Sequence[str]
) -> Outcomes:
    """What one seat may take of one note: picks in turn until the note's drops are filled."""
    oils = plan.of_note(note)
    wanted = plan.note_drops[note]
    caps = [card.caps[each.oil.id] if card else wanted for each in oils]
    suns = [card.suns.get(each.oil.id, 0) if card else 0 for each in oils]
    budget = card.most_suns if card else 0
    waiting = {(0,) * len(oils): 1.0}
    done: Counter[tuple[int, ...]] = Counter()
    while waiting:
        after: dict[tuple[int, ...], float] = {}
        for taken, chance in waiting.items():
            room = wanted - sum(taken)
            bright = budget - sum(map(int.__mul__, suns, taken))
            fits = {}
            for place, each in enumerate(oils):
                most = min(caps[place], room, bright // suns[place] if suns[place] else room)
                if taken[place] == 0 and most > 0 and each.oil.id in may_use:
                    fits[place] = most
            if not fits:
                done[taken] += chance  # type: ignore[assignment]
                continue
            whole = sum(oils[place].popularity for place in fits)
            for place, most in fits.items():
                more = (*taken[:place], most, *taken[place + 1 :])
                picked = chance * oils[place].popularity / whole
                after[more] = after.get(more, 0.0) + picked
        waiting = after
    return tuple(done.items())


def demand_of(
    plan: ClassPlan,
    card: ChoiceCard | None = None,
    chance: float = 0.95,
    guarantee: str = WHOLE_CLASS,
) -> Demand:
    """What a class needs of each oil and carrier.

    Parameters
    ----------
    plan : ClassPlan
    card : ChoiceCard, optional
        Nobody takes more drops than it allows.
    chance : float, optional
        That nobody runs out, from 0.5 to 0.9999. [-]
    guarantee : str, optional
        "whole class": that every oil suffices. "per oil": that each one does by itself.

    Returns
    -------
    Demand
        For the whole class, all oils are given one common chance, the least that will do; then
        each oil, the most needed first, is cut back as far as the chance allows. So no oil can
        be cut by itself.

    Raises
    ------
    BadNumber
        The chance or the guarantee cannot be used.
    BadClass
        Nobody can mix anything.
    """
    _check(chance, guarantee)
    groups = choice_groups(plan, card)
    stock = _Stock(groups)
    if guarantee == PER_OIL:
        caps = stock.caps_at(chance)
        reached = min(
            float(each[: cap + 1].sum()) for each, cap in zip(stock.totals, caps, strict=True)
        )
    else:
        caps = stock.caps_for_all(chance)
        reached = stock.all_suffice(caps)
    by_oil = dict(zip(stock.oils, zip(caps, stock.totals, strict=True), strict=True))
    return Demand(
        oils=tuple(
            _oil_demand(plan, each.oil, each.note, *by_oil[each.oil.id]) for each in plan.oils
        ),
        carriers=_carrier_demand(plan),
        guarantee=guarantee,
        chance=min(1.0, reached),
        method=_method(groups, guarantee),
        model=_model(plan, card),
    )


def _check(chance: object, guarantee: object) -> None:
    problems = []
    if isinstance(chance, bool | str) or not 0.5 <= chance <= 0.9999:  # type: ignore[operator]
        problems.append(Problem("chance", quoted(chance), "a number from 0.5 to 0.9999"))
    if guarantee not in (PER_OIL, WHOLE_CLASS):
        problems.append(
            Problem("guarantee", quoted(guarantee), f'"{PER_OIL}" or "{WHOLE_CLASS}"')
        )
    if problems:
        raise BadNumber(problems)


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
        low, high = 0, len(levels) - 1
        while low < high:
            middle = (low + high) // 2
            if self.all_suffice(self.caps_at(levels[middle])) >= chance:
                high = middle
            else:
                low = middle + 1
        caps = self.caps_at(levels[low])
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
        CarrierDemand(each.id, each.name, seats[each.id], seats[each.id] * bottle_m3)
        for each in plan.carriers
        if seats[each.id]
    )


def _method(groups: Sequence[ChoiceGroup], guarantee: str) -> str:
    if guarantee == PER_OIL:
        return "For each oil by itself, exactly; that one of several runs out is likelier."
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
    """What is missing, by id of oil or carrier, stock on hand taken off. [m3]

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
