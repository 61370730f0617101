"""The door through which money comes in: an amount with a plain currency code.

No exchange rate is on record here and none is guessed: two currencies are never added.
"""

import math
import re
from typing import NamedTuple

from blendkit.foundation.errors import BadNumber, Problem, quoted

NEEDED_CODE = "a currency as its three-letter code, such as EUR"
NO_EXCHANGE = "No exchange rate is guessed: enter the price in one currency."
_CODE = re.compile(r"[A-Z]{3}")  # the shape that ISO 4217 gives its alphabetic codes
_MONEY = re.compile(r"(?P<amount>[+-]?\d*[.,]?\d+)\s*(?P<code>\S+)")
_SIGNS = {"€": "EUR", "£": "GBP", "¥": "JPY or CNY", "$": "USD, CAD, AUD or whose dollar it is"}


class Money(NamedTuple):
    """An amount of one currency.

    Attributes
    ----------
    amount : float
        In whole units of the currency, 12.5 for twelve and a half.
    currency : str
        Three capital letters, as in ISO 4217.
    """

    amount: float
    currency: str

    def __str__(self) -> str:
        return f"{self.amount:.2f} {self.currency}"


def currency_problem(value: object, name: str = "currency") -> Problem | None:
    """Problem of a currency code, or None; only its shape is judged."""
    if isinstance(value, str) and _CODE.fullmatch(value):
        return None
    text = str(value).strip()
    meant = _SIGNS.get(text) or (text.upper() if _CODE.fullmatch(text.upper()) else "")
    return Problem(name, quoted(value), NEEDED_CODE, f"Did you mean {meant}?" if meant else "")


def read_currency(value: object, *, name: str = "currency") -> str:
    """A currency code, unchanged.

    Raises
    ------
    BadNumber
        Not three capital letters; a sign such as € is answered with its code.
    """
    if problem := currency_problem(value, name):
        raise BadNumber([problem])
    return str(value)


def read_money(value: object, *, name: str) -> Money:
    """An amount with its currency, such as ``"12.50 EUR"``.

    Raises
    ------
    BadNumber
        No currency, no number, or below zero.

    Examples
    --------
    >>> read_money("12,50 EUR", name="bottle")
    Money(amount=12.5, currency='EUR')
    """
    needed = 'an amount with its currency, such as "12.50 EUR"'
    found = _MONEY.fullmatch(value.strip()) if isinstance(value, str) else None
    if found is None:
        raise BadNumber([Problem(name, quoted(value), needed)])
    currency = read_currency(found["code"], name=f"{name}, currency")
    amount = float(found["amount"].replace(",", "."))
    if not math.isfinite(amount) or amount < 0:
        raise BadNumber([Problem(name, quoted(value), f"{needed}, 0 or more")])
    return Money(amount, currency)
