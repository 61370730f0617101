"""What a batch costs, from what was really paid for the bottles that it empties.

The oldest bottle is used up first and every millilitre costs what was paid for it. What the
shelf lacks is counted at the newest price, because it will be bought again. A material without
a price makes the total one that is "at least": nothing is never taken for free.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta

from blendkit.batch.bottles import Bottles
from blendkit.batch.master import Master
from blendkit.batch.scaling import Batch, pours
from blendkit.batch.stock import Layer, OnShelf, needed_m3, split, uses_of
from blendkit.foundation.errors import BadNumber, Problem, attempt, quoted
from blendkit.foundation.money import NO_EXCHANGE, Money, read_currency, read_money
from blendkit.foundation.units import (
    ML_PER_M3,
    SECONDS_PER_HOUR,
    is_positive_number,
    show,
    to_si,
)
from blendkit.materials.amounts import material
from blendkit.materials.catalogue import Carrier

NO_PRICE = "no price on record"
KINDS = ("oil", "carrier", "packaging", "labour")


@dataclass(frozen=True)
class Extra:
    """Packaging or labour: so much of it at a price each.

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


@dataclass(frozen=True)
class CostLine:
    """What one thing adds to the cost of a batch.

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
        How the cost comes about, such as "3.42 mL × 1.25 EUR/mL".
    remark : str
        What of it has no price or is not on the shelf; empty where all is plain.
    """

    kind: str
    material: str
    name: str
    amount: str
    cost: float | None
    arithmetic: str
    remark: str


@dataclass(frozen=True)
class Cost:
    """What a batch costs.

    Attributes
    ----------
    currency : str
    lines : tuple of CostLine
        Dearest first; those without a price last.
    bottles : tuple of Bottles
        Among which it is shared.
    liquid_shares : tuple of float
        Share of the liquid that goes into one bottle of each size. [-]
    """

    currency: str
    lines: tuple[CostLine, ...]
    bottles: tuple[Bottles, ...]
    liquid_shares: tuple[float, ...]

    @property
    def total(self) -> float:
        """Of all that has a price."""
        return sum(line.cost or 0.0 for line in self.lines)

    @property
    def no_price(self) -> tuple[str, ...]:
        """Names of all that has no price, or has one only for a part."""
        return tuple(line.name for line in self.lines if NO_PRICE in line.remark)

    @property
    def is_at_least(self) -> bool:
        """Whether the total is only a lower bound."""
        return bool(self.no_price)

    @property
    def per_bottle(self) -> tuple[tuple[Bottles, float], ...]:
        """What one bottle of each size costs.

        Oils and carriers by what the bottle holds of the liquid; what is left over or lost is
        borne by the bottles filled. Packaging and labour by bottle, each size alike.
        """
        liquid = sum(line.cost or 0.0 for line in self.lines if line.material)
        rest = self.total - liquid
        count = sum(some.count for some in self.bottles)
        return tuple(
            (some, liquid * share + rest / count)
            for some, share in zip(self.bottles, self.liquid_shares, strict=True)
        )

    def share(self, line: CostLine) -> float:
        """A line's part of the total. [-]"""
        return (line.cost or 0.0) / self.total if self.total else 0.0

    @property
    def sentences(self) -> tuple[str, ...]:
        """What it comes to, for people."""
        lead = "At least " if self.is_at_least else ""
        told = ["Nothing in it has a price on record, so there is no cost to show."]
        if self.total or not self.is_at_least:
            told = [f"{lead}{Money(self.total, self.currency)} for the batch."]
            told += [
                f"{lead}{Money(each, self.currency)} for a bottle of "
                f"{show(some.bottle_m3 * ML_PER_M3)} mL."
                for some, each in self.per_bottle
            ]
        if self.total:
            dearest = self.lines[0]
            part = show(self.share(dearest) * 100, 2)
            told.append(f"{dearest.name} carries {part} % of the cost.")
        if self.no_price:
            told.append(f"{NO_PRICE.capitalize()}: {', '.join(self.no_price)}.")
        return tuple(told)


def packaging(name: str, each: str | None, count: int) -> Extra:
    """So many pieces of packaging, each at such as "0.85 EUR"; None where it is not known.

    Raises
    ------
    BadNumber
        No count above 0, or no amount of money.
    """
    problems: list[Problem] = []
    if not is_positive_number(count):
        problems.append(Problem(f"{name}, count", quoted(count), "a number above 0"))
    money = attempt(problems, read_money, each, name=name) if each else None
    if problems:
        raise BadNumber(problems)
    return Extra("packaging", name, float(count), money if money and money.amount else None)


def labour(hours: str | timedelta, rate: str) -> Extra:
    """Time at an hourly rate: `labour("2 h", "15 EUR")`.

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
    there: Mapping[str, OnShelf],
    *,
    currency: str,
    extras: Sequence[Extra] = (),
) -> Cost:
    """What a batch costs, by material, packaging and labour.

    Parameters
    ----------
    batch : Batch or Master
        Not yet taken off the shelf.
    there : mapping of str to OnShelf
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
        _material_line(name, volume_m3, there.get(name), currency, problems)
        for name, volume_m3 in needed_m3(uses_of(batch)).items()
    ]
    lines += [_extra_line(extra, currency, problems) for extra in extras]
    if problems:
        raise BadNumber(problems)
    dearest_first = sorted(lines, key=lambda line: (line.cost is None, -(line.cost or 0.0)))
    bottles, shares = _shares(batch)
    return Cost(currency, tuple(dearest_first), bottles, shares)


def _shares(batch: Batch | Master) -> tuple[tuple[Bottles, ...], tuple[float, ...]]:
    if isinstance(batch, Master):
        sized = [(row.bottles, row.bottles.bottle_m3) for row in batch.dilutions]
    else:
        sized = [
            (some, pour.volume_m3)
            for some, pour in zip(batch.bottles, pours(batch), strict=True)
        ]
    whole = sum(some.count * size for some, size in sized)
    return tuple(some for some, _ in sized), tuple(size / whole for _, size in sized)


def _material_line(
    name: str,
    volume_m3: float,
    there: OnShelf | None,
    currency: str,
    problems: list[Problem],
) -> CostLine:
    held = material(name)
    layers, _ = split(there.layers if there else (), volume_m3)
    lacking_m3 = volume_m3 - sum(layer.volume_m3 for layer in layers)
    remarks = []
    if lacking_m3 > 1e-12:
        newest = there.newest_price if there else None
        layers.append((newest or Layer(0.0, None, None))._replace(volume_m3=lacking_m3))
        at_newest = ", counted at the newest price" if newest else ""
        remarks.append(f"{_ml(lacking_m3)} is not on the shelf{at_newest}")
    foreign = {layer.currency for layer in layers if layer.currency} - {currency}
    if foreign:
        got = f"a price in {', '.join(sorted(foreign))}"
        problems.append(Problem(held.name, got, f"a price in {currency}", NO_EXCHANGE))
    priced = [layer for layer in layers if layer.price_per_m3 is not None]
    unpriced_m3 = sum(layer.volume_m3 for layer in layers if layer.price_per_m3 is None)
    if unpriced_m3:
        part = f" for {_ml(unpriced_m3)}" if priced else ""
        remarks.insert(0, f"{NO_PRICE}{part}")
    return CostLine(
        kind="carrier" if isinstance(held, Carrier) else "oil",
        material=name,
        name=held.name,
        amount=_ml(volume_m3),
        cost=sum(_cost_of(layer) for layer in priced) if priced else None,
        arithmetic=" + ".join(_arithmetic(layer) for layer in _joined(priced)),
        remark="; ".join(remarks),
    )


def _cost_of(layer: Layer) -> float:
    return layer.volume_m3 * (layer.price_per_m3 or 0.0)


def _arithmetic(layer: Layer) -> str:
    per_ml = (layer.price_per_m3 or 0.0) / ML_PER_M3
    return f"{_ml(layer.volume_m3)} × {show(per_ml, 4)} {layer.currency}/mL"


def _joined(layers: Iterable[Layer]) -> list[Layer]:
    """Neighbouring layers of one price as one."""
    joined: list[Layer] = []
    for layer in layers:
        same = bool(joined) and joined[-1][1:] == layer[1:]
        before_m3 = joined.pop().volume_m3 if same else 0.0
        joined.append(layer._replace(volume_m3=before_m3 + layer.volume_m3))
    return joined


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


def _ml(volume_m3: float) -> str:
    return f"{show(volume_m3 * ML_PER_M3, 4)} mL"
