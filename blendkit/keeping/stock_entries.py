"""Purchases, counts, drop sizes and what batches used: the entries of the shelf in the store.

Nothing is overwritten: a further entry corrects what is known, and a wrong one is undone.
`blendkit.batch.stock` calculates from them what is left.
"""

import contextlib
from collections.abc import Iterator
from datetime import date, time
from typing import Any

from blendkit.batch.stock import Count, OnShelf, Purchase, Use, moment, stock
from blendkit.foundation import units
from blendkit.foundation.errors import BadNumber, Problem, attempt, quoted, refuse_any
from blendkit.foundation.money import currency_problem
from blendkit.foundation.units import ML_PER_M3, is_positive_number, is_whole_number
from blendkit.journal import records
from blendkit.journal.store import Journal, now
from blendkit.materials.amounts import as_volume, material, read_amount, shelf_id
from blendkit.materials.catalogue import OWN_MARK, known_ids

MOST_BOTTLES = 1_000_000
# all that stock and costs go by
SHELF = (
    records.PurchaseRow, records.CountRow, records.BatchRow, records.BatchMaterial,
    records.MakingRow, records.StoringRow,
)  # fmt: skip


def buy(
    journal: Journal,
    material_id: str,
    size: str,
    *,
    price: float | None = None,
    currency: str | None = None,
    bottles: int = 1,
    bought_on: date | str | None = None,
    opened_on: date | str | None = None,
) -> records.PurchaseRow:
    """Enter bottles that were bought.

    Parameters
    ----------
    journal : Journal
    material_id : str
        Shipped or own.
    size : str
        Of one bottle, with its unit: "10 mL" or "100 g".
    price : float, optional
        Of one bottle. Left out for a gift: no price is then on record.
    currency : str, optional
        Needed where a price is given, as a plain code such as "EUR".
    bottles : int, optional
    bought_on, opened_on : date or str, optional
        Dates, or "YYYY-MM-DD".

    Raises
    ------
    BadNumber
        Lists everything that cannot be used, and a price without a currency.
    UnknownMaterial
        No such oil or carrier.
    CannotJournal
    """
    problems = list(_price_problems(price, currency))
    bought = _typed_day(problems, bought_on, "bought_on")
    opened = _typed_day(problems, opened_on, "opened_on")
    if not is_whole_number(bottles, 1, MOST_BOTTLES):
        needed = "a whole number of bottles, 1 or more"
        problems.append(Problem("bottles", quoted(bottles), needed))
    volume_m3 = attempt(problems, read_amount, size, material_id, name="bottle") or 0.0
    refuse_any(problems)
    row = records.PurchaseRow(
        material=material(material_id).id,
        bottle_ml=volume_m3 * ML_PER_M3,
        bottles=bottles,
        price=price,
        currency=currency,
        bought_on=bought,
        opened_on=opened,
        entered_at=now(),
    )
    return journal.add(row)[0]


def count(
    journal: Journal, material_id: str, left: str, *, counted_on: date | str | None = None
) -> records.CountRow:
    """Enter how much is left; from here on, only later batches are taken off.

    Parameters
    ----------
    journal : Journal
    material_id : str
        Shipped or own.
    left : str
        All that there is of it, such as "6.5 mL" or "40 g"; "0 mL" where it is used up.
    counted_on : date or str, optional
        The day, at whose end the count holds; now where left out.

    Raises
    ------
    BadNumber
        Negative, no volume or mass, or no date.
    UnknownMaterial, CannotJournal
        As `buy`.
    """
    held = material(material_id)
    problems: list[Problem] = []
    day, density = _typed_day(problems, counted_on, "counted_on"), held.density_kg_per_m3
    volume_m3 = attempt(problems, as_volume, left, density, name="left") or 0.0
    if volume_m3 < 0:
        fix = "A bottle cannot hold less than nothing; an empty one is 0 mL."
        problems.append(Problem("left", quoted(left), "0 mL or more", fix))
    refuse_any(problems)
    row = records.CountRow(
        material=held.id,
        left_ml=volume_m3 * ML_PER_M3,
        counted_on=day,
        entered_at=now(),
    )
    return journal.add(row)[0]


def keep_drop_size(
    journal: Journal, material_id: str, drops_per_ml: float, how_measured: str
) -> records.DropperRow:
    """Keep the drop size of a material with the dropper it is used with.

    Raises
    ------
    BadNumber
        No number above 0.
    UnknownMaterial, CannotJournal
        As `buy`.
    """
    if not is_positive_number(drops_per_ml):
        raise BadNumber([Problem("drops_per_ml", quoted(drops_per_ml), "a number above 0")])
    row = records.DropperRow(
        material=material(material_id).id,
        drops_per_ml=drops_per_ml,
        how_measured=how_measured,
        entered_at=now(),
    )
    return journal.add(row)[0]


def take_back(journal: Journal, entry: str) -> None:
    """Withdraw a purchase, count, making or storing by its id; its rows stay in the store.

    Raises
    ------
    BadNumber
        No such entry, or taken back already.
    CannotJournal
    """
    of_batches = (records.BatchRow, records.BatchMaterial)
    kinds: list[type[records.Record]] = [kind for kind in SHELF if kind not in of_batches]
    known = {row.id: row for kind in kinds for row in journal.all(kind)}
    if entry not in known:
        raise BadNumber([Problem("entry", quoted(entry), "an entry that holds")])
    journal.withdraw(known[entry])


# --- reading ------------------------------------------------------------------------------


def purchases(journal: Journal) -> list[Purchase]:
    """All bottles bought and mixtures made, in the order in which they came."""
    known = known_ids()
    found = [
        Purchase(
            row.id, shelf_id(row.material), row.bottle_ml / ML_PER_M3, row.bottles, row.price,
            row.currency,
            min([row.entered_at, *map(moment, filter(None, (row.bought_on, row.opened_on)))]),
            row.opened_on,
        )
        for row in journal.all(records.PurchaseRow)
        if row.bottle_ml is not None and row.material in known
    ]  # fmt: skip
    found += [
        Purchase(
            row.id, shelf_id(row.material), row.volume_ml / ML_PER_M3, 1, row.price,
            row.currency, min(row.recorded_at, moment(row.made_on)), row.made_on,
        )
        for row in journal.all(records.MakingRow)
        if row.material in known
    ]  # fmt: skip
    return sorted(found, key=lambda row: row.at)


def counts(journal: Journal) -> dict[str, Count]:
    """The newest count of each material that was ever counted, by shelf id."""
    known = known_ids()
    found = []
    for row in journal.all(records.CountRow):
        if row.material in known:
            day, held = row.counted_on, shelf_id(row.material)
            at = moment(day, time.max) if day else row.entered_at
            found.append(Count(row.id, held, row.left_ml / ML_PER_M3, at))
    return {row.material: row for row in sorted(found, key=lambda row: row.at)}


def opening_days(journal: Journal) -> dict[str, date]:
    """The day each material's newest bottle was opened, or a mixture was made."""
    rows = journal.all(records.PurchaseRow)
    made = {
        r.material.partition(OWN_MARK)[0]: r.made_on for r in journal.all(records.MakingRow)
    }
    return made | {row.material: row.opened_on for row in rows if row.opened_on}


def drop_sizes(journal: Journal) -> dict[str, float]:
    """The newest drop size of each material that has one. [1/mL]"""
    return {row.material: row.drops_per_ml for row in journal.all(records.DropperRow)}


def batch_uses(journal: Journal) -> list[Use]:
    """Amounts that batches and mixtures made used; withdrawn ones used nothing."""
    known = known_ids()
    made = {batch.id: batch for batch in journal.all(records.BatchRow)}
    rows = []
    for taken in journal.all(records.BatchMaterial):
        batch = made.get(taken.batch_id)
        # a lot that is not in this store was still taken off its oil
        gone = taken.material not in known
        held = taken.material.partition(OWN_MARK)[0] if gone else taken.material
        if batch is None or held not in known:
            continue
        if taken.volume_ml is not None:
            volume_m3 = taken.volume_ml / ML_PER_M3
        else:
            density = material(held).density_kg_per_m3
            volume_m3 = (taken.mass_g or 0.0) / units.G_PER_KG / density
        # written down on the day it was made: then the moment is known, and not only the day
        same_day = batch.recorded_at.astimezone().date() == batch.made_on
        at = batch.recorded_at if same_day else batch.made_on
        rows.append(Use(held, volume_m3, at, batch.lot))
    for made_one in journal.all(records.MakingRow):
        for name, used_ml in made_one.taken_ml.items():
            if name in known and is_positive_number(used_ml):
                rows.append(Use(name, used_ml / ML_PER_M3, made_one.made_on, made_one.lot))
    return rows


def current_stock(journal: Journal) -> dict[str, OnShelf]:
    """Stock of each material, by shelf id; see `blendkit.batch.stock.stock`."""
    return stock(batch_uses(journal), purchases(journal), counts(journal))


# --- what was typed -----------------------------------------------------------------------


def day_of(value: object) -> date | None:
    """A date, typed or not, of a year that can be meant; None where it is none."""
    with contextlib.suppress(BadNumber):
        return units.read_day(value, "day")
    return None


def _typed_day(problems: list[Problem], value: object, name: str) -> date | None:
    return None if value is None else attempt(problems, units.read_day, value, name)


def _price_problems(price: Any, currency: Any) -> Iterator[Problem]:
    if price is not None and not is_positive_number(price):
        yield Problem("price", quoted(price), "a number above 0")
    if currency is not None and (problem := currency_problem(currency)):
        yield problem
    if price is not None and currency is None:
        yield Problem("currency", "nothing", "the currency of the price")
