"""Cost of a batch from the prices paid.

The oldest bottle is used up first and every millilitre costs what was paid for it. What the
shelf lacks is counted at the newest price, because it will be bought again. A material without
a price makes the total one that is "at least": nothing is never taken for free.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from itertools import groupby
from typing import NamedTuple

from blendkit.batch.bottles import Bottles
from blendkit.batch.master import Master
from blendkit.batch.scaling import Batch
from blendkit.batch.stock import Layer, OnShelf, needed_m3, split, uses_of
from blendkit.foundation.errors import BadNumber, Problem, attempt, quoted, refuse_any
from blendkit.foundation.money import NO_EXCHANGE, Money, read_currency, read_money
from blendkit.foundation.units import (
    ML_PER_M3,
    SECONDS_PER_HOUR,
    is_positive_number,
    show,
    show_ml,
    to_si,
)
from blendkit.materials.amounts import material
from blendkit.materials.catalogue import Oil

NO_PRICE = "no price on record"
KINDS = ("oil", "carrier", "packaging", "labour")


@dataclass(frozen=True)
class Extra:
    """Packaging or labour, with its price.

    Attributes
    ----------
    kind : str
        "packaging" or "labour".
    name : str
    count : float
        Pieces, or hours. [-] or [h]
    each : Money or None
        For one piece or hour; None where no price is on record.
    """

    kind: str
    name: str
    count: float
    each: Money | None


class CostLine(NamedTuple):
    """One line of the cost of a batch.

    Attributes
    ----------
    kind : str
        One of `KINDS`.
    material : str
        Id; empty for packaging and labour.
    name : str
    amount : str
        Such as "3.42 mL", "12 pieces" or "2 h".
    cost : float or None
        None where no price is on record.
    arithmetic : str
        Calculation of the cost, such as "3.42 mL × 1.25 EUR/mL".
    remark : str
        Part without a price or not in stock; empty where there is none.
    """

    kind: str
    material: str
    name: str
    amount: str
    cost: float | None
    arithmetic: str
    remark: str


class Cost(NamedTuple):
    """Cost of a batch.

    Attributes
    ----------
    currency : str
    lines : tuple of CostLine
        Highest cost first; those without a price last.
    bottles : tuple of Bottles
        Those that share the cost.
    """

    currency: str
    lines: tuple[CostLine, ...]
    bottles: tuple[Bottles, ...]

    @property
    def total(self) -> float:
        """Sum of all lines that have a price."""
        return sum(line.cost or 0.0 for line in self.lines)

    @property
    def no_price(self) -> tuple[str, ...]:
        """Names of all lines without a price, or with one only for a part."""
        return tuple(line.name for line in self.lines if NO_PRICE in line.remark)

    @property
    def per_bottle(self) -> tuple[tuple[Bottles, float], ...]:
        """Cost of one bottle of each size.

        Oils and carriers are shared by liquid, leftovers and losses included; packaging and
        labour by bottle, each size alike.
        """
        liquid = sum(line.cost or 0.0 for line in self.lines if line.material)
        rest = (self.total - liquid) / (sum(some.count for some in self.bottles) or 1)
        return tuple((some, liquid * self.liquid_share(some) + rest) for some in self.bottles)

    def liquid_share(self, one: Bottles) -> float:
        """Share of the liquid in one bottle of a size; all are filled to one level. [-]"""
        return one.bottle_m3 / sum(some.count * some.bottle_m3 for some in self.bottles)

    def share(self, line: CostLine) -> float:
        """A line's part of the total. [-]"""
        return (line.cost or 0.0) / self.total if self.total else 0.0

    @property
    def sentences(self) -> tuple[str, ...]:
        """Summary of the cost."""
        lead = "At least " if self.no_price else ""
        sentences = ["Nothing in it has a price on record, so there is no cost to show."]
        if self.total or not self.no_price:
            sentences = [f"{lead}{Money(self.total, self.currency)} for the batch."]
            sentences += [
                f"{lead}{Money(each, self.currency)} for a bottle of {show_ml(some.bottle_m3)}."
                for some, each in self.per_bottle
            ]
        if self.no_price:
            sentences.append(f"{NO_PRICE.capitalize()}: {', '.join(self.no_price)}.")
        return tuple(sentences)


def packaging(name: str, each: str | None, count: int) -> Extra:
    """Count packaging, each piece at such as "0.85 EUR"; None where it is not known.

    Raises
    ------
    BadNumber
        No count above 0, or no amount of money.
    """
    problems: list[Problem] = []
    if not is_positive_number(count):
        problems.append(Problem(f"{name}, count", quoted(count), "a number above 0"))
    money = attempt(problems, read_money, each, name=name) if each else None
    refuse_any(problems)
    return Extra("packaging", name, float(count), money if money and money.amount else None)


def labour(hours: str | timedelta, rate: str) -> Extra:
    """Count working time at an hourly rate: `labour("2 h", "15 EUR")`.

    Raises
    ------
    BadNumber
        No time of 0 or more, or no amount of money.
    """
    problems: list[Problem] = []
    seconds = attempt(problems, to_si, hours, "s", name="Labour, time")
    if seconds is not None and seconds < 0:
        problems.append(Problem("Labour, time", quoted(hours), "0 h or more"))
    money = attempt(problems, read_money, rate, name="Labour, for an hour")
    if problems or seconds is None:
        raise BadNumber(problems)
    return Extra("labour", "Labour", seconds / SECONDS_PER_HOUR, money)


def cost(
    batch: Batch | Master,
    on_shelf: Mapping[str, OnShelf],
    *,
    currency: str,
    extras: Sequence[Extra] = (),
) -> Cost:
    """Cost of a batch by material, packaging and labour.

    Parameters
    ----------
    batch : Batch or Master
        Not yet taken from stock.
    on_shelf : mapping of str to OnShelf
        From `blendkit.batch.stock.stock`.
    currency : str
        The maker's, as a three-letter code.
    extras : sequence of Extra, optional
        From `packaging` and `labour`.

    Raises
    ------
    BadNumber
        No currency code; or lists everything that was paid in another currency.
    """
    read_currency(currency)
    problems: list[Problem] = []
    lines = [
        _material_line(name, volume_m3, on_shelf.get(name), currency, problems)
        for name, volume_m3 in needed_m3(uses_of(batch), on_shelf).items()
    ]
    lines += [_extra_line(extra, currency, problems) for extra in extras]
    refuse_any(problems)
    lines.sort(key=lambda line: (line.cost is None, -(line.cost or 0.0)))
    return Cost(currency, tuple(lines), batch.bottles)


def _material_line(
    name: str,
    volume_m3: float,
    on_shelf: OnShelf | None,
    currency: str,
    problems: list[Problem],
) -> CostLine:
    used, (layers, missing_m3) = material(name), paid_for(volume_m3, on_shelf)
    remarks = []
    if missing_m3:
        at_newest = ""
        if on_shelf and on_shelf.newest_price:
            at_newest = ", counted at the newest price"
        remarks.append(f"{show_ml(missing_m3, 4)} is not in stock{at_newest}")
    foreign = {layer.currency for layer in layers if layer.currency} - {currency}
    if foreign:
        got = f"a price in {', '.join(sorted(foreign))}"
        problems.append(Problem(used.name, got, f"a price in {currency}", NO_EXCHANGE))
    priced = [layer for layer in layers if layer.price_per_m3 is not None]
    unpriced_m3 = sum(layer.volume_m3 for layer in layers if layer.price_per_m3 is None)
    if unpriced_m3:
        part = f" for {show_ml(unpriced_m3, 4)}" if priced else ""
        remarks.insert(0, f"{NO_PRICE}{part}")
    return CostLine(
        kind="oil" if isinstance(used, Oil) else "carrier",
        material=name,
        name=used.name,
        amount=show_ml(volume_m3, 4),
        cost=sum(x.volume_m3 * (x.price_per_m3 or 0.0) for x in priced) if priced else None,
        arithmetic=" + ".join(_arithmetic(layer) for layer in _merge(priced)),
        remark="; ".join(remarks),
    )


def paid_for(volume_m3: float, on_shelf: OnShelf | None) -> tuple[list[Layer], float]:
    """Layers that a volume is taken from, and how much of it is still to buy. [m3]

    That part comes last, at the newest price.
    """
    layers, _ = split(on_shelf.layers if on_shelf else (), volume_m3)
    missing_m3 = volume_m3 - sum(layer.volume_m3 for layer in layers)
    if missing_m3 <= 1e-12:
        return layers, 0.0
    newest = (on_shelf and on_shelf.newest_price) or Layer(0.0, None, None)
    return [*layers, newest._replace(volume_m3=missing_m3)], missing_m3


def _arithmetic(layer: Layer) -> str:
    per_ml = (layer.price_per_m3 or 0.0) / ML_PER_M3
    return f"{show_ml(layer.volume_m3, 4)} × {show(per_ml, 4)} {layer.currency}/mL"


def _merge(layers: Iterable[Layer]) -> list[Layer]:
    """Merge neighbouring layers of one price."""
    runs = groupby(layers, key=lambda layer: layer[1:])
    return [Layer(sum(each.volume_m3 for each in run), *price) for price, run in runs]


def _extra_line(extra: Extra, currency: str, problems: list[Problem]) -> CostLine:
    unit = "h" if extra.kind == "labour" else "pieces"
    amount = f"{show(extra.count)} {unit}"
    if extra.each is None:
        return CostLine(extra.kind, "", extra.name, amount, None, "", NO_PRICE)
    if extra.each.currency != currency:
        got = f"a price in {extra.each.currency}"
        problems.append(Problem(extra.name, got, f"a price in {currency}", NO_EXCHANGE))
    arithmetic = f"{amount} × {extra.each}"
    value = extra.count * extra.each.amount
    return CostLine(extra.kind, "", extra.name, amount, value, arithmetic, "")
