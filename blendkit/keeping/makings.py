"""Mixtures made at the bench: a batch with a lot, a label and stock of its own.

A batch of a mixture is taken from the stock of its parts and put on the shelf under its own id.
What uses the mixture later takes from there; a mixture that was never made or bought is taken
from the stock of its parts.
"""

from collections.abc import Iterable, Mapping
from datetime import date

from blendkit.batch.cost import paid_for
from blendkit.batch.stock import OnShelf, Use, needed_m3
from blendkit.foundation.errors import BadNumber, Problem
from blendkit.foundation.units import G_PER_KG, ML_PER_M3, read_day
from blendkit.journal.records import BatchMaterial, BatchRow, MakingRow
from blendkit.journal.store import Journal
from blendkit.keeping.stock_entries import current_stock, opening_days
from blendkit.materials import catalogue
from blendkit.materials.amounts import material, read_amount
from blendkit.materials.catalogue import OWN, OWN_MARK, MixedMaterial
from blendkit.skin.keeping_times import old_stock


def make_mixture(
    journal: Journal,
    material_id: str,
    amount: str,
    *,
    made_on: date | str | None = None,
    lot: str = "",
    note: str = "",
) -> MakingRow:
    """Enter a batch of a mixture that was made to be kept.

    Parameters
    ----------
    journal : Journal
    material_id : str
        From `keep_mixture`; its present version is what was made.
    amount : str
        Such as "10 mL" or "9 g".
    made_on : date or str, optional
        Today where left out.
    lot : str, optional
        The next free lot of that day where left out.
    note : str, optional

    Returns
    -------
    MakingRow
        Its price is what its parts cost, where every part has a price in one currency.

    Raises
    ------
    BadNumber
        No mixture, amount or date; or a lot that is taken.
    UnknownMaterial
        No such material.
    CannotJournal
        Nothing was changed.
    """
    made = material(material_id)
    if not isinstance(made, MixedMaterial):
        raise BadNumber([Problem("made", made.name, "a mixture: keep its parts first")])
    day = read_day(date.today() if made_on is None else made_on, "made_on")
    volume_m3 = read_amount(amount, made.id, name="amount")
    lot, free = lot.strip(), journal.next_lot(day)
    lots = {row.lot for row in journal.all(BatchRow)}
    if lot in lots | {row.lot for row in journal.all(MakingRow)}:
        got, fix = f"{lot}, which is taken", f"Free: {free}."
        raise BadNumber([Problem("lot", got, "one of its own", fix)])
    kg = volume_m3 * made.density_kg_per_m3
    parts_m3 = {p.id: kg * share / p.density_kg_per_m3 for p, share in made.made_of}
    price, currency = _cost(parts_m3, current_stock(journal))
    row = MakingRow(
        material=catalogue.pinned(made.id),
        lot=lot or free,
        made_on=day,
        volume_ml=volume_m3 * ML_PER_M3,
        taken_ml={name: m3 * ML_PER_M3 for name, m3 in parts_m3.items()},
        price=price,
        currency=currency,
        note=note.strip(),
    )
    return journal.add(row)[0]


def _cost(
    parts_m3: Mapping[str, float], on_shelf: Mapping[str, OnShelf]
) -> tuple[float | None, str | None]:
    """Cost of some volumes as `blendkit.batch.cost` counts it; None where it is not known."""
    uses = [Use(name, m3, date.today()) for name, m3 in parts_m3.items()]
    volumes = needed_m3(uses, on_shelf).items()
    paid = [layer for name, m3 in volumes for layer in paid_for(m3, on_shelf.get(name))[0]]
    currencies = {layer.currency for layer in paid}
    if len(currencies) != 1 or None in currencies:
        return None, None
    return sum(x.volume_m3 * (x.price_per_m3 or 0.0) for x in paid), currencies.pop()


def making_label(row: MakingRow) -> str:
    """The words of a batch's label: name, day, best-before date and lot.

    Raises
    ------
    UnknownMaterial
        Its mixture is no longer on record.
    """
    (bottle,) = old_stock({row.material: row.made_on}, row.made_on)
    return (
        f"{bottle.name}, made {row.made_on}, best before {bottle.use_by}. Lot {row.lot}. "
        "For blending; not judged for skin."
    )


def batch_materials(
    journal: Journal, amounts: Iterable[tuple[str, float, float]]
) -> list[BatchMaterial]:
    """Materials of a batch, with the lots and opening days of the bottles in use.

    Parameters
    ----------
    journal : Journal
    amounts : iterable of (str, float, float)
        Id, volume [m3] and mass [kg]; nothing is kept of what has no mass.
    """
    opened = opening_days(journal)
    return [
        BatchMaterial(
            batch_id="",
            material=name,
            volume_ml=volume_m3 * ML_PER_M3,
            mass_g=mass_kg * G_PER_KG,
            supplier_lot=lot_of(journal, name),
            opened_on=opened.get(name, opened.get(name.partition(OWN_MARK)[0])),
        )
        for name, volume_m3, mass_kg in amounts
        if mass_kg > 0
    ]


def lot_of(journal: Journal, material_id: str) -> str:
    """The lot that a material in use comes from: an own lot's, or of the newest making."""
    if not material_id.startswith(OWN):
        return material_id.partition(OWN_MARK)[2]
    own = material_id.partition(OWN_MARK)[0]
    rows = [r for r in journal.all(MakingRow) if r.material.partition(OWN_MARK)[0] == own]
    return max(rows, key=lambda row: (row.made_on, row.turn)).lot if rows else ""
