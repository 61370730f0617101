"""The price of a bottle on the shelf: where it goes, break-even, and the cost of a gift.

The shop's share is counted from the price before VAT and fees from what the customer pays:
common practice, no published source; a contract decides. No rate is guessed: what is not typed
is not in the price.
"""

import math
from collections.abc import Iterable
from typing import NamedTuple

from blendkit.batch.cost import Cost
from blendkit.foundation.errors import BadNumber, Problem, attempt, quoted, refuse_any
from blendkit.foundation.money import NO_EXCHANGE, Money, read_currency, read_money
from blendkit.foundation.units import counted, show, to_si


class BottleCost(NamedTuple):
    """Cost of one bottle, in the currency of the terms.

    Attributes
    ----------
    materials, work, packaging : float
    no_price : tuple of str
        Names without a price on record, which make the cost "at least".
    """

    materials: float
    work: float = 0.0
    packaging: float = 0.0
    no_price: tuple[str, ...] = ()

    @property
    def total(self) -> float:
        """Sum of what has a price."""
        return self.materials + self.work + self.packaging


class Terms(NamedTuple):
    """Terms of sale.

    Attributes
    ----------
    currency : str
    shop : float
        The shop's share of the price before VAT. [-]
    fee_share : float
        Fees as a share of what the customer pays. [-]
    fee_fixed : float
        Fees for each bottle, in `currency`.
    vat : float or None
        Rate on the price before VAT; None where none was typed. [-]
    """

    currency: str
    shop: float = 0.0
    fee_share: float = 0.0
    fee_fixed: float = 0.0
    vat: float | None = None


class Price(NamedTuple):
    """A shelf price and where it goes.

    Attributes
    ----------
    shelf : float
        Paid by the customer, VAT included, in the currency of `terms`.
    cost : BottleCost
    terms : Terms
    """

    shelf: float
    cost: BottleCost
    terms: Terms

    @property
    def before_vat(self) -> float:
        """Price without VAT."""
        return self.shelf / (1 + (self.terms.vat or 0.0))

    @property
    def parts(self) -> dict[str, float]:
        """Parts by name; they sum to the shelf price, and "yours" may be negative."""
        terms = self.terms
        paid = {
            "materials": self.cost.materials,
            "work": self.cost.work,
            "packaging": self.cost.packaging,
            "fees": terms.fee_share * self.shelf + terms.fee_fixed,
            "shop": terms.shop * self.before_vat,
            "VAT": self.shelf - self.before_vat,
        }
        return {**paid, "yours": self.shelf - sum(paid.values())}

    @property
    def yours(self) -> float:
        """Amount of each bottle sold that is left for fixed costs and profit."""
        return self.parts["yours"]

    def break_even(self, fixed_costs: float) -> float:
        """Bottles to sell until fixed costs are met; infinite where a bottle leaves nothing."""
        return fixed_costs / self.yours if self.yours > 0 else math.inf

    def sentences(self, fixed_costs: float = 0.0) -> tuple[str, ...]:
        """What is left, break-even and a gift, in words."""
        code, cost, yours = self.terms.currency, self.cost, self.yours
        least, most = ("at least ", "at most ") if cost.no_price else ("", "")
        margin = f"{show(yours / self.before_vat * 100)} % of the price before VAT"
        found = [f"Yours: {most}{Money(yours, code)} a bottle, {margin}."]
        if yours < 0:
            found = [f"Each bottle sold costs you {least}{Money(-yours, code)} on top."]
        if self.terms.vat is None:
            found.append("No VAT rate is typed, so none is in the price.")
        if fixed_costs:
            met = self._to_sell(fixed_costs, least)
            found.append(f"Break-even on {Money(fixed_costs, code)} of fixed costs: {met}.")
        met = self._to_sell(cost.total, least)
        found.append(f"A gift costs you {least}{Money(cost.total, code)}: {met}.")
        missing = ", ".join(cost.no_price)
        return (*found, f"No price on record: {missing}.") if missing else tuple(found)

    def _to_sell(self, amount: float, least: str) -> str:
        bottles = math.ceil(round(min(self.break_even(amount), 1e9), 9))
        if bottles == 1e9:
            return "no number of bottles pays for it"
        return f"{least}{counted(bottles, 'bottle')} to sell"


def bottle_cost(cost: Cost) -> BottleCost:
    """Cost of one bottle of the first size of a batch."""
    count = sum(some.count for some in cost.bottles)
    liquid, work, packaging = (
        sum(line.cost or 0.0 for line in cost.lines if line.kind in kinds)
        for kinds in (("oil", "carrier"), ("labour",), ("packaging",))
    )
    shares = liquid * cost.liquid_share(cost.bottles[0]), work / count, packaging / count
    return BottleCost(*shares, cost.no_price)


def read_terms(
    currency: str, shop: str = "", vat: str = "", fees: Iterable[tuple[str, str]] = ()
) -> Terms:
    """Terms of sale as they are typed; an empty text is nothing.

    Parameters
    ----------
    currency : str
        Three-letter code.
    shop, vat : str, optional
        Shares such as "40 %".
    fees : iterable of (str, str), optional
        Of each fee its share, such as "3 %", and its fixed part, such as "0.25 EUR".

    Raises
    ------
    BadNumber
        Lists everything that cannot be used.
    """
    problems: list[Problem] = []
    attempt(problems, read_currency, currency)
    shares, fixed = 0.0, 0.0
    for share, each in fees:
        shares += attempt(problems, _share, share, "fee") or 0.0
        fixed += attempt(problems, read_amount, each, currency, "fee") or 0.0
    shop_share = attempt(problems, _share, shop, "shop's share") or 0.0
    rate = attempt(problems, _share, vat, "VAT")
    refuse_any(problems)
    return Terms(currency, shop_share, shares, fixed, None if vat == "" else rate)


def read_amount(text: str, currency: str, name: str) -> float:
    """An amount in this currency; 0 for an empty text.

    Raises
    ------
    BadNumber
        No amount of 0 or more, or another currency.
    """
    money = read_money(text, name=name) if text != "" else Money(0.0, currency)
    if money.currency != currency:
        raise BadNumber([Problem(name, f"{money}", f"a price in {currency}", NO_EXCHANGE)])
    return money.amount


def price_for(margin: str, cost: BottleCost, terms: Terms) -> Price:
    """The price that leaves a margin, a share of the price before VAT; 0 for no cost.

    Parameters
    ----------
    margin : str
        Such as "30 %".
    cost : BottleCost
    terms : Terms

    Raises
    ------
    BadNumber
        No share, or one that shop and fees leave no room for.

    Examples
    --------
    >>> price_for("60 %", BottleCost(8.0), Terms("EUR")).shelf
    20.0
    """
    vat, paid = 1 + (terms.vat or 0.0), cost.total + terms.fee_fixed
    kept = (1 - terms.shop - _share(margin, "margin")) / vat - terms.fee_share
    if kept <= 1e-9:
        most = max(1 - terms.shop - terms.fee_share * vat, 0.0) * 100
        needed = f"less than the {show(most)} % that shop and fees leave"
        raise BadNumber([Problem("margin", quoted(margin), needed)])
    return Price(paid / kept, cost, terms)


def _share(text: str, name: str) -> float:
    """A share from 0 % to 100 %; 0 for an empty text. [-]"""
    share = to_si(text, "dimensionless", name=name) if text != "" else 0.0
    if not 0 <= share <= 1:
        raise BadNumber([Problem(name, quoted(text), "a share from 0 % to 100 %")])
    return share
