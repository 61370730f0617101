"""Shopping list: the packs that cover a need at the least cost.

An integer programme for each material, solved by HiGHS to proven optimality. Among the
cheapest ways the one with the fewest packs is taken, then the one that leaves least over.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from itertools import islice
from typing import Any, NamedTuple

import numpy as np

from blendkit.foundation.errors import (
    BadNumber,
    BlendkitError,
    Problem,
    UnknownMaterial,
    attempt,
    quoted,
    refuse_any,
)
from blendkit.foundation.money import NO_EXCHANGE, Money, currency_problem
from blendkit.foundation.units import ML_PER_M3, is_positive_number, show_ml
from blendkit.materials.amounts import add_up, material, read_amount, shelf_id
from blendkit.skin.nearest import whole_optimum

PACK_KEYS = ("material", "size", "price", "currency", "supplier")
MOST_PACKS = 100_000
MOST_ROWS = 1000  # of a price list
_PER_M3 = 1e9  # whole thousandths of a millilitre keep the programme in whole numbers
_PER_COIN = 1e3  # and so do thousandths of the currency, which some currencies have


class Pack(NamedTuple):
    """A pack on sale.

    Attributes
    ----------
    material : str
        Shelf id.
    size : str
        As typed, such as "30 mL" or "100 g".
    size_m3 : float
    price : float
        Of one pack.
    currency, supplier : str
    """

    material: str
    size: str
    size_m3: float
    price: float
    currency: str
    supplier: str = ""


class ShoppingLine(NamedTuple):
    """Packs to buy of one material.

    Attributes
    ----------
    material, name : str
    needed_m3 : float
    picks : tuple of (Pack, int)
        Packs and how many of each; largest first.
    """

    material: str
    name: str
    needed_m3: float
    picks: tuple[tuple[Pack, int], ...]

    @property
    def cost(self) -> float:
        """Total price of the packs."""
        return sum(pack.price * count for pack, count in self.picks)

    @property
    def bought_m3(self) -> float:
        """Total volume of the packs. [m3]"""
        return sum(pack.size_m3 * count for pack, count in self.picks)

    @property
    def left_over_m3(self) -> float:
        """Volume beyond the need. [m3]"""
        return max(self.bought_m3 - self.needed_m3, 0.0)

    def __str__(self) -> str:
        packs = ", ".join(
            f"{count} × {pack.size}{f' from {pack.supplier}' if pack.supplier else ''}"
            for pack, count in self.picks
        )
        need = show_ml(self.needed_m3) if self.needed_m3 else "a bottle at each table"
        return (
            f"{self.name}: {packs} for {need}; "
            f"{Money(self.cost, self.picks[0][0].currency)}, "
            f"{show_ml(self.left_over_m3)} left over."
        )


class ShoppingList(NamedTuple):
    """Packs to buy of all materials.

    Attributes
    ----------
    lines : tuple of ShoppingLine
        Highest cost first.
    not_sold : tuple of (str, float)
        Shelf ids without a pack on record, and the volume needed. [m3]
    currency : str
        Empty where there is nothing to buy.
    """

    lines: tuple[ShoppingLine, ...]
    not_sold: tuple[tuple[str, float], ...]
    currency: str

    @property
    def total(self) -> float:
        """Sum of all lines, without delivery."""
        return sum(line.cost for line in self.lines)

    @property
    def sentences(self) -> tuple[str, ...]:
        """The list in sentences."""
        sentences = [str(line) for line in self.lines]
        if self.not_sold:
            names = ", ".join(
                f"{material(name).name} ({show_ml(needed_m3)})"
                for name, needed_m3 in self.not_sold
            )
            sentences.append(f"There is no pack on record for {names}.")
        if self.lines:
            lead = "at least " if self.not_sold else ""
            sentences.append(
                f"In all {lead}{Money(self.total, self.currency)}, without delivery."
            )
        return tuple(sentences) or ("Nothing is missing.",)


def read_packs(rows: Iterable[Mapping[str, Any]]) -> tuple[Pack, ...]:
    """Read a table of packs as a maker types it.

    Parameters
    ----------
    rows : iterable of mapping
        Keys `PACK_KEYS`: an id, a size with its unit, a price as a number, a currency code and,
        optionally, the supplier.

    Raises
    ------
    BadNumber
        Lists every cell that cannot be used, by its row: unknown material, size 0 or without
        a unit, zero or missing price, more than one currency.
    """
    problems: list[Problem] = []
    listed = list(islice(rows, MOST_ROWS + 1))
    if len(listed) > MOST_ROWS:
        got = f"more than {MOST_ROWS} packs"
        raise BadNumber([Problem("price list", got, f"at most {MOST_ROWS} rows")])
    read = [_read_pack(row, f"pack {n}", problems) for n, row in enumerate(listed, start=1)]
    packs = tuple(filter(None, read))
    _currency_of(packs, problems)
    refuse_any(problems)
    return packs


def _currency_of(packs: Iterable[Pack], problems: list[Problem]) -> str:
    currencies = sorted({pack.currency for pack in packs})
    if len(currencies) > 1:
        got = " and ".join(currencies)
        problems.append(Problem("packs, currency", got, "one currency", NO_EXCHANGE))
    return "".join(currencies)


def _read_pack(row: Mapping[str, Any], where: str, problems: list[Problem]) -> Pack | None:
    given = {key: row.get(key) for key in PACK_KEYS}
    before, size_m3, owner = len(problems), None, ""
    try:
        owner = shelf_id(str(given["material"]))
    except UnknownMaterial as error:
        got, needed = quoted(given["material"]), "an id of an oil or a carrier on record"
        hint = str(error).rpartition(". ")[2]
        problems.append(Problem(f"{where}, material", got, needed, hint))
    if owner:
        where = f"pack of {material(owner).name} {given['size'] or ''}".strip()
    name = f"{where}, size"
    if owner:
        size_m3 = attempt(problems, read_amount, given["size"], owner, name=name)
    if size_m3 is not None and size_m3 * _PER_M3 < 1:
        problems.append(Problem(name, quoted(given["size"]), "at least 0.001 mL"))
    price: Any = given["price"]
    if not is_positive_number(price) or not 1 / _PER_COIN <= price <= 1e6:
        needed = "the price of one pack, a number from 0.001 to 1000000"
        problems.append(Problem(f"{where}, price", quoted(price), needed))
    if wrong := currency_problem(given["currency"], f"{where}, currency"):
        problems.append(wrong)
    if len(problems) > before or size_m3 is None:
        return None
    supplier = " ".join(str(given["supplier"] or "").split())
    typed = str(given["size"]).strip()
    return Pack(owner, typed, size_m3, float(price), str(given["currency"]), supplier)


def shopping_list(
    missing: Mapping[str, str | float],
    packs: Sequence[Pack],
    least: Mapping[str, int] | None = None,
) -> ShoppingList:
    """Find the cheapest packs that cover the missing volume of each material.

    Parameters
    ----------
    missing : mapping of str to str or float
        By material: text such as "75 mL" or "60 g"; or numbers as
        `blendkit.batch.stock.missing` gives them. [m3]
    packs : sequence of Pack
        Of one currency.
    least : mapping of str to int, optional
        Least number of packs by shelf id, such as a bottle for every table.

    Returns
    -------
    ShoppingList

    Raises
    ------
    BadNumber
        Packs of two currencies, a negative amount, or more packs than `MOST_PACKS`.
    """
    volumes_m3 = {
        name: read_amount(amount, name, name=name) if isinstance(amount, str) else amount
        for name, amount in missing.items()
    }
    problems = [
        Problem(name, f"{quoted(volume_m3 * ML_PER_M3)} mL", "0 mL or more")
        for name, volume_m3 in volumes_m3.items()
        if not 0 <= volume_m3 < math.inf
    ]
    currency = _currency_of(packs, problems)
    refuse_any(problems)
    needed, fewest = (
        add_up((shelf_id(name), amount) for name, amount in amounts.items() if amount > 0)
        for amounts in (volumes_m3, least or {})
    )
    lines, not_sold = [], []
    for name in dict.fromkeys((*needed, *fewest)):
        volume_m3, on_sale = needed.get(name, 0.0), [p for p in packs if p.material == name]
        if on_sale:
            lines.append(_line(name, volume_m3, on_sale, int(fewest.get(name, 1))))
        elif volume_m3:
            not_sold.append((name, volume_m3))
    lines.sort(key=lambda line: -line.cost)
    return ShoppingList(tuple(lines), tuple(not_sold), currency)


def _line(name: str, needed_m3: float, packs: Sequence[Pack], least: int) -> ShoppingLine:
    sizes = [round(pack.size_m3 * _PER_M3) for pack in packs]
    # a billionth of the amount is rounding in the arithmetic, not oil
    need = math.ceil(needed_m3 * _PER_M3 * (1 - 1e-9))
    if need > max(sizes) * MOST_PACKS:
        got = show_ml(needed_m3)
        raise BadNumber([Problem(material(name).name, got, "a pack large enough for that")])
    prices = [round(pack.price * _PER_COIN) for pack in packs]
    counts = cheapest_cover(sizes, prices, max(need, 1), least)
    bought = [(pack, count) for pack, count in zip(packs, counts, strict=True) if count]
    picks = sorted(bought, key=lambda pick: -pick[0].size_m3)
    return ShoppingLine(name, material(name).name, needed_m3, tuple(picks))


def cheapest_cover(
    sizes: Sequence[int], prices: Sequence[int], need: int, least: int = 1
) -> list[int]:
    """Count the packs of each size that cover a need at the least price.

    Parameters
    ----------
    sizes, prices : sequence of int, length n
        Of each pack, above 0.
    need : int
        Least sum of the sizes.
    least : int, optional
        Least number of packs.

    Returns
    -------
    list of int, length n

    Notes
    -----
    Three integer programmes in turn: the least price; at that price the fewest packs; among
    those the least left over. All figures are whole numbers, so each optimum is exact.
    """
    # small numbers are exact in the solver; common divisors change nothing
    unit, need = math.gcd(*sizes), -(-need // math.gcd(*sizes))
    size, cost = np.array(sizes) / unit, np.array(prices) / math.gcd(*prices)
    one = np.ones(len(size))
    rows, low, high = [size, one], [float(need), least], [math.inf, math.inf]
    most = np.maximum(np.ceil(need / size), least)  # more of one size never helps
    for objective in (cost, one, size):
        found = whole_optimum(objective, np.array(rows), (low, high), (0, most))
        counts = np.rint(size * 0 if found.x is None else found.x).astype(int)
        if int(size @ counts) < need:
            raise BlendkitError(f"The search for the cheapest packs stopped: {found.message}")
        rows.append(objective)
        low.append(-math.inf)
        high.append(float(objective @ counts) + 0.25)
    return [int(count) for count in counts]
