"""Cheaper blends with a similar fade.

The cost of a bottle is linear in its whole drops, as every skin limit is. So the fewest drops
to move until both are kept is an integer programme; from there a bounded search looks for the
drops whose fade is nearest. The search reports how near it came and proves nothing.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from blendkit.batch.stock import OnShelf
from blendkit.blend.blend import Blend
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.design import Design, design, with_more_oils
from blendkit.evaporation.targets import SameFade
from blendkit.foundation.errors import BadNumber, Problem, attempt, quoted, refuse_any
from blendkit.foundation.money import NO_EXCHANGE, Money, read_currency, read_money
from blendkit.foundation.units import ML_PER_M3, is_positive_number, show, to_si
from blendkit.materials.amounts import material, shelf_id
from blendkit.materials.catalogue import MixedMaterial
from blendkit.skin.counted_bottle import LEEWAYS, CountedBottle
from blendkit.skin.limits import Rule
from blendkit.skin.nearest import Task, nearest_drops

_ROUNDING = 1e-9


class Cheaper(NamedTuple):
    """A cheaper blend, compared with the original.

    Attributes
    ----------
    blend : Blend
        Every count fixed by ``drops``.
    design : Design
        Nearness of its fade.
    cost_before, cost_after : float
        Of the liquid in one bottle.
    sentences : tuple of str
        Saving, and change of the fade.
    """

    blend: Blend
    design: Design
    cost_before: float
    cost_after: float
    sentences: tuple[str, ...]


def prices_of(on_shelf: Mapping[str, OnShelf], currency: str) -> dict[str, float]:
    """Newest price of a millilitre of each material. [1/mL]

    Raises
    ------
    BadNumber
        No currency code; or lists every newest price that is in another currency.
    """
    read_currency(currency)
    prices, problems = {}, []
    for name, row in on_shelf.items():
        newest = row.newest_price
        if newest is None or newest.price_per_m3 is None:
            continue
        if newest.currency != currency:
            got, needed = f"a price in {newest.currency}", f"a price in {currency}"
            problems.append(Problem(row.name, got, needed, NO_EXCHANGE))
        prices[name] = newest.price_per_m3 / ML_PER_M3
    refuse_any(problems)
    return prices


def cheaper(
    blend: Blend,
    prices: Mapping[str, float],
    ceiling: str,
    *,
    currency: str,
    rules: Sequence[Rule] = (),
    more_oils: Sequence[str] = (),
) -> Cheaper:
    """Search for the blend under a cost ceiling with the nearest fade.

    At least one drop is kept of every oil that has one.

    Parameters
    ----------
    blend : Blend
        Its total of drops stays.
    prices : mapping of str to float
        Price of one millilitre, by material; see `prices_of`. [1/mL]
    ceiling : str
        Maximum cost of the liquid of one bottle: "4.50 EUR", or a share of its present cost,
        "80 %".
    currency : str
        Of all prices.
    rules : sequence of Rule, optional
        Limits to keep, for all its possible oils: `blendkit.skin.check.rules_in`.
    more_oils : sequence of str, optional
        Oils to add where useful, each in its usual note.

    Returns
    -------
    Cheaper

    Raises
    ------
    BadNumber
        No ceiling, an oil without a price, or no whole drops that keep ceiling and rules.
    """
    start = with_more_oils(blend, more_oils)
    per_ml = _prices(start, prices)
    bottle = CountedBottle(start, rules, {})
    before = bottle_cost(blend, per_ml)
    most = _read_ceiling(ceiling, before, currency)
    first = _fewest_moved(bottle, per_ml, most)
    if first is None:
        needed = "a ceiling that these oils can keep within the skin limits"
        fix = "Raise it, or name cheaper oils to add."
        raise BadNumber([Problem("ceiling", quoted(ceiling), needed, fix)])

    def allowed(tried: Blend) -> bool:
        if bottle_cost(tried, per_ml) > most * (1 + _ROUNDING):
            return False
        fractions = tried.bottle.mass_fractions()
        return not any(rule.is_broken_by(fractions) for rule in rules)

    target = SameFade.like(blend, Conditions())
    found = design(start.with_(drops=first), [target], allowed=allowed)
    after = bottle_cost(found.blend, per_ml)
    drops, made = Counter(blend.oil_drops), Counter(found.blend.oil_drops)
    moved = (drops - made).total()  # the total of drops stays
    saved, percent = before - after, show((before - after) / before * 100, 2)
    sentences = [
        f"The liquid of one bottle costs {Money(after, currency)} instead of "
        f"{Money(before, currency)}: {Money(saved, currency)} less, {percent} %."
    ]
    if after > most * (1 + _ROUNDING):
        sentences.append(f"That is over the ceiling of {Money(most, currency)}.")
    # the search counts from where it began; people count from their own blend
    sentences += [f"{blend.count_in_words(moved)} changed for another oil's."]
    sentences += found.sentences[1:]
    unpriced = [p.carrier.name for p in blend.carriers if p.carrier.id not in per_ml]
    if unpriced:
        sentences.append(f"Not counted, no price on record: {', '.join(unpriced)}.")
    return Cheaper(found.blend, found, before, after, tuple(sentences))


def _fewest_moved(
    bottle: CountedBottle, per_ml: Mapping[str, float], most: float
) -> dict[str, int] | None:
    """Find the nearest drops that keep a cost and all limits; None where there are none.

    A drop costs its price less that of the carrier it replaces.
    """
    carrier = _carrier_price(bottle.blend, per_ml)
    beyond_carrier = np.array([per_ml[name] for name in bottle.ids]) - carrier
    costs = beyond_carrier * bottle.drop_m3 * ML_PER_M3
    left = most - carrier * bottle.blend.liquid_m3 * ML_PER_M3
    limits, right = bottle.inequalities(LEEWAYS[1])
    task = Task(
        bottle.drops,
        np.vstack([limits, costs / most]),
        np.append(right, left / most),
        bottle.notes,
        keep="total",
        at_least=1,
    )
    found = nearest_drops(task)
    return None if found is None else dict(zip(bottle.ids, found[0].tolist(), strict=True))


def bottle_cost(blend: Blend, per_ml: Mapping[str, float]) -> float:
    """Cost of the liquid of one bottle; materials without a price count as 0."""
    return sum(
        portion.volume_m3 * ML_PER_M3 * per_ml.get(portion.material, 0.0)
        for portion in blend.bottle.portions
    )


def _prices(blend: Blend, prices: Mapping[str, float]) -> dict[str, float]:
    """Look up prices by the ids of the blend; every oil must have one."""
    found, problems = {}, []
    for name in (*blend.oil_drops, *(part.carrier.id for part in blend.carriers)):
        price, where = _price(name, prices), f"price of {material(name).name}"
        if is_positive_number(price):
            found[name] = float(price)
        elif price is not None:
            problems.append(Problem(where, quoted(price), "a price of 1 mL, above 0"))
        elif name in blend.oil_drops:
            problems.append(Problem(where, "no price on record", "a price of 1 mL"))
    refuse_any(problems)
    return found


def _price(name: str, prices: Mapping[str, float]) -> float | None:
    """Price of a millilitre; of a mixture without one, the sum over its parts."""
    item, found = material(name), prices.get(name, prices.get(shelf_id(name)))
    if found is not None or not isinstance(item, MixedMaterial):
        return found
    density = item.density_kg_per_m3
    each = [(_price(p.id, prices), s * density / p.density_kg_per_m3) for p, s in item.made_of]
    priced = [price * share for price, share in each if price is not None]
    return sum(priced) if len(priced) == len(each) else None


def _carrier_price(blend: Blend, per_ml: Mapping[str, float]) -> float:
    """Price of a millilitre of the carrier mixture. [1/mL]"""
    whole = sum(part.parts for part in blend.carriers)
    each = [part.parts * per_ml.get(part.carrier.id, 0.0) for part in blend.carriers]
    return sum(each) / whole if whole else 0.0


def _read_ceiling(ceiling: str, before: float, currency: str) -> float:
    needed = f'money or a share of the present cost: "4.50 {currency}" or "80 %"'
    problems: list[Problem] = []
    if str(ceiling).strip().endswith("%"):
        share = attempt(problems, to_si, ceiling, "dimensionless", name="ceiling")
        most = None if share is None else share * before
    else:
        money = attempt(problems, read_money, ceiling, name="ceiling")
        most = money.amount if money else None
        if money and money.currency != currency:
            problems.append(Problem("ceiling", quoted(ceiling), needed, NO_EXCHANGE))
    if most is not None and most <= 0:
        problems.append(Problem("ceiling", quoted(ceiling), needed))
    refuse_any(problems)
    return most or 0.0
