"""The price of a bottle on the shelf: where it goes, break-even, and the cost of a gift.

The shop's share is counted from the price before VAT and fees from what the customer pays:
common practice, no published source; a contract decides. No rate is guessed: what is not typed
is not in the price.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import NamedTuple

from blendkit.batch.cost import Cost
from blendkit.foundation.errors import BadNumber, Problem, attempt, quoted, text_of
from blendkit.foundation.money import NO_EXCHANGE, Money, read_currency, read_money
from blendkit.foundation.units import counted, show, to_si

MATERIALS, WORK, PACKAGING, FEES = "materials", "work", "packaging", "fees"
SHOP, VAT, YOURS = "shop", "VAT", "yours"
_KIND_OF_PART = {"packaging": PACKAGING, "labour": WORK}


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

    @property
    def kept(self) -> float:
        """Share of the shelf price that VAT, shop and fees leave; 0 or less where none. [-]"""
        return (1 - self.shop) / (1 + (self.vat or 0.0)) - self.fee_share


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
        """Parts by name; they sum to the shelf price, and `YOURS` may be negative."""
        terms = self.terms
        paid = {
            MATERIALS: self.cost.materials,
            WORK: self.cost.work,
            PACKAGING: self.cost.packaging,
            FEES: terms.fee_share * self.shelf + terms.fee_fixed,
            SHOP: terms.shop * self.before_vat,
            VAT: self.shelf - self.before_vat,
        }
        return {**paid, YOURS: self.shelf - sum(paid.values())}

    @property
    def yours(self) -> float:
        """Amount of each bottle sold that is left for fixed costs and profit."""
        return self.parts[YOURS]

    def break_even(self, fixed_costs: float) -> float:
        """Bottles to sell until fixed costs are met; infinite where a bottle leaves nothing."""
        if not fixed_costs:
            return 0.0
        return fixed_costs / self.yours if self.yours > 0 else math.inf

    def sentences(self, fixed_costs: float = 0.0) -> tuple[str, ...]:
        """What is left, break-even and a gift, in words."""
        code, cost, yours = self.terms.currency, self.cost, self.yours
        least, most = ("at least ", "at most ") if cost.no_price else ("", "")
        loss = f"{least}{Money(-yours, code)}"
        found = [f"Each bottle sold costs you {loss} more than it brings."]
        if yours >= 0:
            margin = f"{show(yours / self.before_vat * 100)} % of the price before VAT"
            found = [f"Yours: {most}{Money(yours, code)} a bottle, {margin}."]
        if self.terms.vat is None:
            found.append("No VAT rate is typed, so none is in the price.")
        bottles = self.break_even(fixed_costs)
        if fixed_costs and math.isfinite(bottles):
            number = counted(math.ceil(round(bottles, 9)), "bottle")
            found.append(f"Break-even: {least}{number} for {Money(fixed_costs, code)}.")
        elif fixed_costs:
            found.append("Break-even: never at this price.")
        gift = f"A gift costs you {least}{Money(cost.total, code)}"
        if yours > 0:
            number = counted(max(math.ceil(round(cost.total / yours, 9)), 1), "bottle")
            gift += f": {least}{number} to sell to pay for it"
        found.append(f"{gift}.")
        if cost.no_price:
            found.append(f"No price on record: {', '.join(cost.no_price)}.")
        return tuple(found)


def bottle_cost(cost: Cost) -> BottleCost:
    """Cost of one bottle of the first size of a batch."""
    count = sum(some.count for some in cost.bottles)
    parts = dict.fromkeys((MATERIALS, WORK, PACKAGING), 0.0)
    for line in cost.lines:
        share = cost.liquid_shares[0] if line.material else 1 / count
        parts[_KIND_OF_PART.get(line.kind, MATERIALS)] += (line.cost or 0.0) * share
    return BottleCost(parts[MATERIALS], parts[WORK], parts[PACKAGING], cost.no_price)


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
        Lists everything that cannot be used; or that nothing of the price is left.
    """
    problems: list[Problem] = []
    attempt(problems, read_currency, currency)
    shares, fixed = [], 0.0
    for share, each in fees:
        shares.append(attempt(problems, _share, share, "fee") or 0.0)
        fixed += attempt(problems, amount, each, currency, "fee") or 0.0
    shop_share = attempt(problems, _share, shop, "shop's share") or 0.0
    vat_rate = attempt(problems, _share, vat, "VAT") if vat != "" else None
    terms = Terms(currency, shop_share, sum(shares), fixed, vat_rate)
    if not problems and terms.kept <= 0:
        fix = "Shop, fees and VAT take all of it."
        problems.append(Problem("price", "nothing left for you", "a part that stays", fix))
    if problems:
        raise BadNumber(problems)
    return terms


def amount(text: str, currency: str, name: str) -> float:
    """An amount in this currency; 0 for an empty text.

    Raises
    ------
    BadNumber
        No amount of 0 or more, or another currency.
    """
    money = read_money(text, name=name) if text != "" else Money(0.0, currency)
    if money.currency != currency:
        got, needed = f"a price in {money.currency}", f"a price in {currency}"
        raise BadNumber([Problem(name, got, needed, NO_EXCHANGE)])
    return money.amount


def price_for(target: str, cost: BottleCost, terms: Terms) -> Price:
    """The price that leaves a target: money for each bottle, or a share before VAT.

    Parameters
    ----------
    target : str
        Such as "12 EUR" for each bottle, or the margin "30 %" of the price before VAT.
    cost : BottleCost
    terms : Terms

    Raises
    ------
    BadNumber
        Neither, or a share that shop and fees leave no room for.

    Examples
    --------
    >>> price_for("60 %", BottleCost(8.0), Terms("EUR")).shelf
    20.0
    """
    share, yours = 0.0, 0.0
    if "%" in text_of(target):
        share = _share(target, "margin") / (1 + (terms.vat or 0.0))
    else:
        yours = amount(target, terms.currency, "target")
    kept = terms.kept - share
    if kept <= 1e-9:
        most = terms.kept * (1 + (terms.vat or 0.0)) * 100
        needed = f"less than the {show(most)} % that shop and fees leave"
        raise BadNumber([Problem("margin", quoted(target), needed)])
    if not (paid := cost.total + terms.fee_fixed + yours):
        fix = "Enter prices paid in the stock, or type a shelf price."
        raise BadNumber([Problem("cost", "no price on record", "a cost above 0", fix)])
    return Price(paid / kept, cost, terms)


def _share(text: str, name: str) -> float:
    """A share from 0 % to 100 %; 0 for an empty text. [-]"""
    share = to_si(text, "dimensionless", name=name) if text != "" else 0.0
    if not 0 <= share <= 1:
        raise BadNumber([Problem(name, quoted(text), "a share from 0 % to 100 %")])
    return share
