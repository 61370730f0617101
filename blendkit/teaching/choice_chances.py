"""Chances of each number of drops that a class takes of an oil when seats choose freely.

**Model of a seat.** It chooses by itself; for each note it picks one oil, by popularity
among the oils that it may use, and takes all the drops of the note from it. Where the card of
`free_choice` allows fewer drops of that oil, it takes those and picks again among the rest. Or,
where the class mixes set blends, it picks one blend by popularity.

So the drops of one oil are a sum over seats, and its distribution is their convolution: for
equal seats and one oil a note, drops a note times a binomial count. Nothing is simulated.
"""

from __future__ import annotations

import functools
import itertools
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from blendkit.foundation.errors import Problem
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import FloatArray
from blendkit.teaching.class_document import BadClass, ClassPlan
from blendkit.teaching.free_choice import ChoiceCard
from blendkit.teaching.plan import SeatPlan, seat_plans

Outcomes = tuple[tuple[tuple[int, ...], float], ...]  # drops of each oil of a group, chance


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
            drops = [drops[place] for drops, _ in outcomes]
            one = np.bincount(drops, [chance for _, chance in outcomes])
            total = functools.reduce(np.convolve, [one] * count, total)
        return total

    @property
    def is_multinomial(self) -> bool:
        """True where all seats choose alike, each taking drops of one oil only."""
        alike = len(set(self.seats)) == 1
        return alike and all(sum(n > 0 for n in drops) == 1 for drops, _ in self.seats[0])

    @property
    def copied(self) -> ChoiceGroup:
        """The group where every second seat takes what an equal one before it takes."""
        seats: list[Outcomes] = []
        for one, equal in itertools.groupby(self.seats):
            pairs, rest = divmod(len(tuple(equal)), 2)
            twice = tuple((tuple(2 * n for n in drops), chance) for drops, chance in one)
            seats += [twice] * pairs + [one] * rest
        return ChoiceGroup(self.oils, tuple(seats))

    def all_suffice(self, caps: Sequence[int], totals: Sequence[FloatArray]) -> float:
        """Chance that no oil of the group runs short of its cap; exact or a lower bound. [-]"""
        if self.is_multinomial:
            return self._multinomial(caps)
        short = sum(
            float(each[cap + 1 :].sum()) for each, cap in zip(totals, caps, strict=True)
        )
        return max(0.0, 1.0 - short)

    def _multinomial(self, caps: Sequence[int]) -> float:
        """Poisson counts of the oils, given that they sum to the seats.

        References
        ----------
        B. Levin, A representation for multinomial cumulative distribution functions, Annals
        of Statistics 9 (1981) 1123 (grade: memory).
        """
        from scipy.stats import poisson

        seats = len(self.seats)
        counted = np.ones(1)
        for drops, chance in self.seats[0]:
            place = next(each for each, count in enumerate(drops) if count)
            most = min(seats, caps[place] // drops[place])
            picks = poisson.pmf(np.arange(most + 1), seats * chance)
            counted = np.convolve(counted, picks)
        reached = counted[seats] if len(counted) > seats else 0.0
        return float(reached / poisson.pmf(seats, seats))


def choice_groups(plan: ClassPlan, card: ChoiceCard | None = None) -> tuple[ChoiceGroup, ...]:
    """Groups of oils that are chosen together, with the chances of each seat.

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
    Suns are counted note by note, so a class whose phototoxic oils are in two notes is
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
            seats = tuple(_of_note(plan, card, note, each) for each in mixing)
            groups.append(ChoiceGroup(oils, seats))
    return tuple(groups)


def _blend_group(plan: ClassPlan, mixing: Sequence[SeatPlan]) -> ChoiceGroup:
    oils = tuple(each.oil.id for each in plan.oils)
    drops = [tuple(e.blend.oil_drops.get(name, 0) for name in oils) for e in plan.blends]
    seats = []
    for seat in mixing:
        whole = sum(plan.blends[place].popularity for place in seat.blends)
        chances: dict[tuple[int, ...], float] = defaultdict(float)
        for place in seat.blends:
            chances[drops[place]] += plan.blends[place].popularity / whole
        seats.append(tuple(chances.items()))
    return ChoiceGroup(oils, tuple(seats))


def _of_note(plan: ClassPlan, card: ChoiceCard | None, note: str, seat: SeatPlan) -> Outcomes:
    """Outcomes of one seat and note: picks in turn until the note's drops are filled."""
    oils = plan.of_note(note)
    wanted = plan.drops_by_note(seat.most_drops)[note]
    caps = [card.caps[each.oil.id] if card else wanted for each in oils]
    suns = [card.suns.get(each.oil.id, 0) if card else 0 for each in oils]
    budget = card.most_suns if card else 0
    waiting = {(0,) * len(oils): 1.0}
    done: dict[tuple[int, ...], float] = defaultdict(float)
    while waiting:
        after: dict[tuple[int, ...], float] = defaultdict(float)
        for taken, chance in waiting.items():
            room = wanted - sum(taken)
            bright = budget - sum(map(int.__mul__, suns, taken))
            fits = {}
            for place, each in enumerate(oils):
                most = min(caps[place], room, bright // suns[place] if suns[place] else room)
                if taken[place] == 0 and most > 0 and each.oil.id in seat.may_use:
                    fits[place] = most
            if not fits:
                done[taken] += chance
                continue
            whole = sum(oils[place].popularity for place in fits)
            for place, most in fits.items():
                more = (*taken[:place], most, *taken[place + 1 :])
                after[more] += chance * oils[place].popularity / whole
        waiting = after
    return tuple(done.items())
