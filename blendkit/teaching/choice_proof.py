"""The proof behind a card for free choosers, in exact whole numbers.

Filled up, a bottle's mass is linear in its drops, and every limit on record is a weighted sum
of mass fractions (`blendkit.skin.limits.Rule`). A limit therefore holds for every bottle of the
card exactly if one linear form, at its largest over all whole-drop mixes of the card, does not
pass its right side. That maximum is found by dynamic programming over drops and suns, so it is
a proof for all mixes, sums over several oils among them, and no sample.

It counts with one drop size per oil and with the lightest carrier allowed, which makes the
oils' share of the mass largest.
"""

import math
import operator
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any, NamedTuple

from blendkit.foundation.units import ML_PER_M3, show
from blendkit.materials.catalogue import fold
from blendkit.skin.check import rules_for
from blendkit.skin.limits import Rule
from blendkit.skin.rules import NO_RULE
from blendkit.teaching.class_document import ClassPlan

PHOTOTOXIC = "phototoxic sum"
States = dict[tuple[int, int], tuple[Any, tuple[int, ...]]]
_SUN_BUDGETS = range(4, 25)  # suns that can still be counted on two hands, more or less


class Proof(NamedTuple):
    """One limit over every mix that the card allows.

    Attributes
    ----------
    rule : Rule
    worst_share : Fraction
        The largest share of the limit that any mix of the card uses; exact, at most the
        margin of the class. [-]
    worst_mix : dict of str to int
        Drops of a mix that uses it.
    """

    rule: Rule
    worst_share: Fraction
    worst_mix: dict[str, int]


class Form(NamedTuple):
    """One rule as exact numbers: a mix n keeps it where ``sum gains_i n_i <= right``.

    The ceiling is the class's margin of the rule's own.

    `counted` is what a drop of each oil adds to the weighted sum [kg]; `gains` and `right` are
    whole numbers in the rule's own unit, so that adding them up is exact and quick.
    """

    rule: Rule
    counted: tuple[Fraction, ...]
    ceiling: Fraction
    gains: tuple[int, ...]
    right: int


class ClassBottle:
    """The class's bottle, filled up with its lightest carrier, in exact fractions.

    Parameters
    ----------
    plan : ClassPlan
    advice_binds : bool
    drop, fill : Fraction, optional
        Size of a drop and of what is in the bottle, relative to the plan's. [-]
    """

    def __init__(
        self,
        plan: ClassPlan,
        advice_binds: bool,
        drop: Fraction = Fraction(1),
        fill: Fraction = Fraction(1),
    ) -> None:
        self.plan, self.advice_binds, fields = plan, advice_binds, plan.fields
        self.margin = Fraction(plan.margin).limit_denominator(10_000)
        oils = [each.oil for each in plan.oils]
        self.names = {oil.id: oil.name for oil in oils}
        self.ids = list(self.names)
        self.total = plan.total_drops
        self.bottle_ml = fields.liquid_m3 * ML_PER_M3
        self.drop_m3 = drop_m3 = [
            drop / (Fraction(fields.drops_per_ml_of(name)) * int(ML_PER_M3))
            for name in self.ids
        ]
        density = [Fraction(oil.density_kg_per_m3) for oil in oils]
        self.drop_kg = [size * rho for size, rho in zip(drop_m3, density, strict=True)]
        self.carrier = min(plan.carriers, key=lambda each: each.density_kg_per_m3)
        self.carrier_density = rho = Fraction(self.carrier.density_kg_per_m3)
        self.empty_kg = Fraction(fields.liquid_m3) * fill * rho
        # what one drop adds to the bottle's mass, the carrier it pushes out taken off
        self.gain_kg = [kg - m3 * rho for kg, m3 in zip(self.drop_kg, drop_m3, strict=True)]
        rules = rules_for(self.ids, plan.market)
        self.rules = [rule for rule in rules if rule.decides or advice_binds]
        self.forms = [self._form(rule) for rule in self.rules if rule.ceiling is not None]
        self.suns, self.most_suns = self._suns()

    def _form(self, rule: Rule) -> Form:
        weights = [Fraction(fold(rule.weights, name)) for name in self.ids]
        counted = tuple(w * kg for w, kg in zip(weights, self.drop_kg, strict=True))
        ceiling = Fraction(rule.ceiling or 0.0) * self.margin
        exact = [*self._gains(counted, ceiling), ceiling * self.empty_kg]
        unit = math.lcm(*(number.denominator for number in exact))
        *gains, right = (int(number * unit) for number in exact)
        return Form(rule, counted, ceiling, tuple(gains), right)

    def _gains(self, counted: Sequence[Fraction], allowed: Fraction) -> list[Fraction]:
        """Weighted mass of a drop beyond what its own mass allows. [kg]"""
        return [mass - allowed * gain for mass, gain in zip(counted, self.gain_kg, strict=True)]

    def _suns(self) -> tuple[dict[str, int], int]:
        """Cost of a drop of each phototoxic oil in suns, and the budget.

        A drop costs at least its share of the sum in the lightest bottle there can be, rounded
        up to whole suns; the budget is the smallest that allows the most drops in all.
        """
        form = next((each for each in self.forms if each.rule.kind == PHOTOTOXIC), None)
        if form is None:
            return {}, 0
        lightest = self.empty_kg + self.total * min(Fraction(0), *self.gain_kg)
        share = {
            name: mass / (form.ceiling * lightest)
            for name, mass in zip(self.ids, form.counted, strict=True)
            if mass > 0
        }
        if len(share) < 2:  # alone, an oil has its cap, and a second rule for it says no more
            return {}, 0
        costs = {
            budget: {name: math.ceil(part * budget) for name, part in share.items()}
            for budget in _SUN_BUDGETS
        }
        budget = max(costs, key=lambda each: sum(each // cost for cost in costs[each].values()))
        return costs[budget], budget

    def raise_caps(self) -> dict[str, int]:
        """Every oil's cap, raised in turn until a drop more would let some mix be over.

        Where of all oils with suns only one is left with a drop, the suns are dropped.
        """
        caps = self._raise_caps()
        if self.suns and sum(bool(caps[name]) for name in self.suns) < 2:
            self.suns, self.most_suns = {}, 0
            return self._raise_caps()
        return caps

    def _raise_caps(self) -> dict[str, int]:
        places = range(len(self.ids))
        alone = [self._alone(place) for place in places]
        caps = [0 for _ in places]
        waiting = sorted(places, key=lambda place: -alone[place])
        while waiting:
            for place in tuple(waiting):
                raised = [cap + (each == place) for each, cap in enumerate(caps)]
                if raised[place] <= alone[place] and self._holds(raised, place):
                    caps = raised
                else:
                    waiting.remove(place)
        return dict(zip(self.ids, caps, strict=True))

    def _alone(self, place: int) -> int:
        """Most drops of one oil with nothing else in the bottle."""
        cost = self.suns.get(self.ids[place])
        most = min(self.total, self.most_suns // cost) if cost else self.total
        fit = [form.right // form.gains[place] for form in self.forms if form.gains[place] > 0]
        return min([most, *fit])

    def _holds(self, caps: Sequence[int], raised: int) -> bool:
        """True where every limit still holds for every mix after one cap was raised."""
        touched = (form for form in self.forms if form.gains[raised] > 0)
        return all(self._worst(form.gains, caps)[0] <= form.right for form in touched)

    def proof(self, form: Form, caps: Mapping[str, int]) -> Proof:
        """The largest share of a limit over all mixes: Dinkelbach's method for quotients.

        References
        ----------
        W. Dinkelbach, On nonlinear fractional programming, Management Science 13 (1967) 492
        (grade: memory).
        """
        most = [caps[name] for name in self.ids]
        share, mix = Fraction(0), [0 for _ in self.ids]
        while form.ceiling > 0:
            allowed = share * form.ceiling
            value, mix_found = self._worst(self._gains(form.counted, allowed), most)
            if value <= allowed * self.empty_kg:
                break
            mix = mix_found
            amount = sum(map(operator.mul, form.counted, mix))
            mass = self.empty_kg + sum(map(operator.mul, self.gain_kg, mix))
            share = amount / (form.ceiling * mass)
        used = {name: count for name, count in zip(self.ids, mix, strict=True) if count}
        return Proof(form.rule, share * self.margin, used)

    def _worst(self, gains: Sequence[Any], caps: Sequence[int]) -> tuple[Any, list[int]]:
        """The largest ``sum gains_i n_i`` over all mixes of the card, and a mix that has it.

        Oils without suns take one drop's room each, so the most gainful go first. Those with
        suns are few drops; every number of drops and suns of them is looked at.
        """
        useful = [place for place, gain in enumerate(gains) if gain > 0 and caps[place]]
        free = sorted(
            (each for each in useful if not self.suns.get(self.ids[each])),
            key=lambda each: -gains[each],
        )
        best, found = None, [0 for _ in gains]
        for (drops, _), (value, sunny) in self._sunny(useful, gains, caps).items():
            mix, room = [*sunny], self.total - drops
            for place in free:
                mix[place] = min(caps[place], room)
                room -= mix[place]
            whole = value + sum(gains[place] * mix[place] for place in free)
            if best is None or whole > best:
                best, found = whole, mix
        return best, found

    def _sunny(self, useful: list[int], gains: Sequence[Any], caps: Sequence[int]) -> States:
        """By drops and suns used: the most that oils with suns can bring, and how."""
        states: States = {(0, 0): (0, (0,) * len(gains))}
        for place in useful:
            cost = self.suns.get(self.ids[place])
            if not cost:
                continue
            after = dict(states)
            for (drops, suns), (value, mix) in states.items():
                room = min(caps[place], self.total - drops, (self.most_suns - suns) // cost)
                for count in range(1, room + 1):
                    key = drops + count, suns + count * cost
                    more = value + gains[place] * count
                    if key not in after or more > after[key][0]:
                        after[key] = more, (*mix[:place], count, *mix[place + 1 :])
            states = after
        return states

    def without_figure(self) -> tuple[str, ...]:
        """Oils that some rule without a ceiling names as not judged."""
        named = {
            name for rule in self.rules if rule.rule_set == NO_RULE for name in rule.weights
        }
        return tuple(name for name in self.ids if fold(dict.fromkeys(named, 1.0), name))

    def why_left_out(self, oil_id: str) -> str:
        """The limit that even one drop of an oil passes, in words."""
        place = self.ids.index(oil_id)
        name, size = self.names[oil_id], show(self.bottle_ml)
        over = [form for form in self.forms if form.gains[place] > form.right]
        if any(form.ceiling == 0 for form in over):
            return f"{name}: prohibited by a rule on record."
        if over:
            subjects = ", ".join(dict.fromkeys(form.rule.subject for form in over))
            return f"{name}: one drop in {size} mL is over the limit ({subjects})."
        if self.suns.get(oil_id, 0) > self.most_suns:
            return f"{name}: one drop in {size} mL is over the limit for oils and sunlight."
        return f"{name}: with the other oils of the palette there is no room for one drop."
