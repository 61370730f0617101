"""Stock: purchases and counts, less the amounts used by batches.

The newest count decides: later purchases are added to it and later uses subtracted. Oldest
bottles are used up first, so that every millilitre keeps the price that was really paid for it.
Own lots of an oil are counted with the oil.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping
from datetime import UTC, date, datetime, time
from typing import NamedTuple

from blendkit.batch.master import Master
from blendkit.batch.scaling import Batch
from blendkit.foundation.errors import Problem, quoted, refuse_any
from blendkit.foundation.units import ML_PER_M3
from blendkit.materials.amounts import add_up, material, shelf_id
from blendkit.materials.catalogue import MixedMaterial

MORE_USED = "Stock is negative; recount."
NEVER_BOUGHT = "Used, but never bought; recount."
_NOTHING_M3 = 1e-15
_NOON = time(12)


class Purchase(NamedTuple):
    """Purchase of bottles of one size.

    Attributes
    ----------
    entry : str
        Id of the entry.
    material : str
        Id; own lots are counted with their oil.
    bottle_m3 : float
        Size of one bottle. [m3]
    bottles : int
    price : float or None
        Paid for one bottle, in `currency`.
    currency : str or None
    at : datetime
        Day of purchase; where not given, that of the entry or opening.
    opened_on : date or None
    """

    entry: str
    material: str
    bottle_m3: float
    bottles: int
    price: float | None
    currency: str | None
    at: datetime
    opened_on: date | None

    @property
    def volume_m3(self) -> float:
        """Total volume of the bottles. [m3]"""
        return self.bottle_m3 * self.bottles


class Count(NamedTuple):
    """Count of the amount left of a material.

    Attributes
    ----------
    entry, material : str
        As for `Purchase`.
    volume_m3 : float
        0 where the bottle was empty. [m3]
    at : datetime
        The end of the day, where only the day was given.
    """

    entry: str
    material: str
    volume_m3: float
    at: datetime


class Use(NamedTuple):
    """Amount of one material that a batch used.

    Attributes
    ----------
    material : str
        Id; own lots count with their oil.
    volume_m3 : float
    at : datetime or date
        A day counts at noon: before a count of that day's evening.
    batch : str
        Name of the batch.
    """

    material: str
    volume_m3: float
    at: datetime | date
    batch: str = ""


class Layer(NamedTuple):
    """Volume left of bottles with one price; a price of None is not on record."""

    volume_m3: float
    price_per_m3: float | None
    currency: str | None


class OnShelf(NamedTuple):
    """Stock of one material.

    Attributes
    ----------
    material, name : str
    left_m3 : float
        Below 0 where more was used than was bought. [m3]
    bought_m3, used_m3 : float
        Since the newest count, or ever where there is none. [m3]
    counted : Count or None
    bottle_m3 : float or None
        Bottle size bought last. [m3]
    layers : tuple of Layer
        Stock, oldest first; their volumes sum to `left_m3` where it is above 0.
    newest_price : Layer or None
        Purchase with the newest price, all of it.
    remark : str
        Problem with the stock; empty where there is none.
    """

    material: str
    name: str
    left_m3: float
    bought_m3: float
    used_m3: float
    counted: Count | None
    bottle_m3: float | None
    layers: tuple[Layer, ...]
    newest_price: Layer | None
    remark: str


def uses_of(batch: Batch | Master) -> list[Use]:
    """List the uses of a batch now; a master uses its dilutions' carriers too."""
    at = moment(datetime.now())
    rows = [Use(each.material, each.volume_m3, at) for each in batch.weighings]
    if isinstance(batch, Master):
        rows += [
            Use(each.material, each.volume_m3 * dilution.bottles.count, at)
            for dilution in batch.dilutions
            for each in dilution.carriers
        ]
    return rows


def stock(
    uses: Iterable[Use],
    purchases: Iterable[Purchase],
    counts: Mapping[str, Count],
) -> dict[str, OnShelf]:
    """Calculate the stock of each material that was ever bought, counted or used.

    Parameters
    ----------
    uses : iterable of Use
        Amounts used by batches.
    purchases : iterable of Purchase
    counts : mapping of str to Count
        The newest of each material.

    Returns
    -------
    dict of str to OnShelf
        By shelf id.

    Raises
    ------
    BadNumber
        Lists every amount below 0: bought, counted or used.
    """
    purchases = list(purchases)
    kept = {*counts, *(row.material for row in purchases)}
    uses = [use._replace(material=shelf_id(use.material)) for use in taken(uses, kept)]
    bought = sorted(purchases, key=lambda row: row.at)
    amounts = [(f"{row.material}, {kind}", row.volume_m3) for kind, rows in (
        ("bought", bought), ("counted", counts.values()), ("used", uses)
    ) for row in rows]  # fmt: skip
    problems = [
        Problem(where, f"{quoted(volume_m3 * ML_PER_M3)} mL", "0 mL or more")
        for where, volume_m3 in amounts
        if not volume_m3 >= 0
    ]
    refuse_any(problems)
    names = [*(row.material for row in bought), *counts, *(use.material for use in uses)]
    return {
        name: _on_shelf(
            name,
            [row for row in bought if row.material == name],
            counts.get(name),
            [use for use in uses if use.material == name],
        )
        for name in dict.fromkeys(names)
    }


def taken(uses: Iterable[Use], kept: Collection[str]) -> Iterator[Use]:
    """Uses with each mixture that was never made or bought replaced by its parts.

    Parameters
    ----------
    uses : iterable of Use
    kept : collection of str
        Shelf ids of what was ever made, bought or counted.
    """
    for use in uses:
        used = material(use.material)
        if isinstance(used, MixedMaterial) and shelf_id(use.material) not in kept:
            mass_kg = use.volume_m3 * used.density_kg_per_m3
            parts = [
                use._replace(material=p.id, volume_m3=mass_kg * share / p.density_kg_per_m3)
                for p, share in used.made_of
            ]
            yield from taken(parts, kept)
        else:
            yield use


def needed_m3(uses: Iterable[Use], kept: Collection[str] = ()) -> dict[str, float]:
    """Sum uses by shelf id, own lots with their oil; `kept` as for `taken`. [m3]"""
    return add_up((shelf_id(use.material), use.volume_m3) for use in taken(uses, kept))


def missing(uses: Iterable[Use], on_shelf: Mapping[str, OnShelf]) -> dict[str, float]:
    """List the volumes needed beyond the stock, by shelf id. [m3]"""
    left = {name: max(row.left_m3, 0.0) for name, row in on_shelf.items()}
    wanted = needed_m3(uses, on_shelf).items()
    short = {name: volume_m3 - left.get(name, 0.0) for name, volume_m3 in wanted}
    return {name: volume_m3 for name, volume_m3 in short.items() if volume_m3 > _NOTHING_M3}


def split(layers: Iterable[Layer], volume_m3: float) -> tuple[list[Layer], list[Layer]]:
    """Split layers at a volume, oldest first."""
    first, rest = [], []
    for layer in layers:
        part_m3 = min(layer.volume_m3, volume_m3)
        volume_m3 -= part_m3
        if part_m3 > _NOTHING_M3:
            first.append(layer._replace(volume_m3=part_m3))
        if layer.volume_m3 - part_m3 > _NOTHING_M3:
            rest.append(layer._replace(volume_m3=layer.volume_m3 - part_m3))
    return first, rest


def _on_shelf(
    name: str, bought: list[Purchase], counted: Count | None, uses: list[Use]
) -> OnShelf:
    since = counted.at if counted else None
    later = [row for row in bought if since is None or row.at > since]
    used_m3 = sum(u.volume_m3 for u in uses if since is None or moment(u.at, _NOON) > since)
    layers = [_layer(row) for row in later]
    if counted:
        before = [_layer(row) for row in bought if row.at <= counted.at]
        layers = [*_newest(before, counted.volume_m3), *layers]
    bought_m3 = sum(row.volume_m3 for row in later)
    left_m3 = (counted.volume_m3 if counted else 0.0) + bought_m3 - used_m3
    priced = [layer for layer in map(_layer, bought) if layer.price_per_m3 is not None]
    remark = MORE_USED if left_m3 < -_NOTHING_M3 else ""
    return OnShelf(
        material=name,
        name=material(name).name,
        left_m3=left_m3,
        bought_m3=bought_m3,
        used_m3=used_m3,
        counted=counted,
        bottle_m3=bought[-1].bottle_m3 if bought else None,
        layers=tuple(split(layers, used_m3)[1]),
        newest_price=priced[-1] if priced else None,
        remark=NEVER_BOUGHT if remark and not bought and not counted else remark,
    )


def _layer(row: Purchase) -> Layer:
    per_m3 = row.price / row.bottle_m3 if row.price and row.currency else None
    return Layer(row.volume_m3, per_m3, row.currency if per_m3 else None)


def _newest(layers: list[Layer], volume_m3: float) -> list[Layer]:
    """Select the newest layers up to a volume; a volume beyond them has no price."""
    newest, _ = split(reversed(layers), volume_m3)
    beyond_m3 = volume_m3 - sum(layer.volume_m3 for layer in newest)
    beyond = [Layer(beyond_m3, None, None)] if beyond_m3 > _NOTHING_M3 else []
    return [*beyond, *reversed(newest)]


def moment(day: date | datetime, at: time = time.min) -> datetime:
    """Convert a day, at a time of the maker's clock, or a moment to universal time."""
    if not isinstance(day, datetime):
        day = datetime.combine(day, at)
    return day.astimezone(UTC)
