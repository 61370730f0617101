"""From the cost of a bottle to its price, and what that leaves."""

from __future__ import annotations

from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.money import Money
from blendkit.foundation.units import is_positive_number, show, to_si


def price_at_margin(cost_of_one: float, margin: str) -> float:
    """The price of which a share is left once the cost is paid: cost / (1 - margin).

    Raises
    ------
    BadNumber
        A margin that is no share from 0 % to below 100 %.

    Examples
    --------
    >>> price_at_margin(8.0, "60 %")
    20.0
    """
    share = to_si(margin, "dimensionless", name="margin")
    if not 0 <= share < 1:
        needed = "a share of the price, from 0 % to below 100 %"
        fix = "So much on top of the cost is a mark-up." if share >= 1 else ""
        raise BadNumber([Problem("margin", quoted(margin), needed, fix)])
    return cost_of_one / (1 - share)


def margin_in_words(cost_of_one: float, price: float, currency: str) -> str:
    """A price with its margin and its mark-up, which are the same thing seen from two sides.

    Raises
    ------
    BadNumber
        Cost or price is nothing or less.
    """
    for name, amount in (("cost", cost_of_one), ("price", price)):
        if not is_positive_number(amount):
            raise BadNumber([Problem(name, quoted(amount), "more than nothing")])
    over = price - cost_of_one
    margin, markup = over / price * 100, over / cost_of_one * 100
    return (
        f"At {Money(price, currency)} there are {Money(over, currency)} over the cost of "
        f"{Money(cost_of_one, currency)}: a margin of {show(margin)} % of the price, which is "
        f"a mark-up of {show(markup)} % on the cost. Taxes and fees are not in it."
    )
