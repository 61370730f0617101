"""DataFrames about a batch for people: one row a thing, the unit in every heading."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from blendkit.batch.cost import Cost
from blendkit.batch.master import Master
from blendkit.batch.packs import ShoppingList
from blendkit.batch.scaling import Batch, pours
from blendkit.batch.stock import OnShelf
from blendkit.foundation.units import G_PER_KG, ML_PER_M3
from blendkit.materials.amounts import material


def weighing_table(batch: Batch | Master) -> pd.DataFrame:
    """What to count and weigh, smallest first.

    Returns
    -------
    DataFrame
        Columns ``name, note, measure_out, way, wanted_drops, wanted_g, measured_g,
        volume_ml, rounding_percent, half_step_percent, standard_uncertainty_g,
        standard_uncertainty_percent``. `wanted_drops` is empty for carriers; what is counted
        in drops has no uncertainty of the scale.
    """
    rows = [
        {
            "name": each.name,
            "note": each.note,
            "measure_out": each.reading,
            "way": each.way,
            "wanted_drops": each.exact_drops,
            "wanted_g": each.exact_mass_kg * G_PER_KG,
            "measured_g": each.mass_kg * G_PER_KG,
            "volume_ml": each.volume_m3 * ML_PER_M3,
            "rounding_percent": each.error_percent,
            "half_step_percent": each.half_step_percent,
            "standard_uncertainty_g": each.standard_uncertainty_kg * G_PER_KG,
            "standard_uncertainty_percent": each.standard_uncertainty_percent,
        }
        for each in batch.weighings
    ]
    return pd.DataFrame(rows).astype({"wanted_drops": "Float64"})


def pour_table(batch: Batch) -> pd.DataFrame:
    """How much of the batch goes into each bottle; columns ``bottles, bottle_ml, ml, g``."""
    rows = [
        (
            each.count,
            each.bottle_m3 * ML_PER_M3,
            each.volume_m3 * ML_PER_M3,
            each.mass_kg * G_PER_KG,
        )
        for each in pours(batch)
    ]
    return pd.DataFrame(rows, columns=["bottles", "bottle_ml", "pour_ml", "pour_g"])


def dilution_table(master: Master) -> pd.DataFrame:
    """How much master and carrier each bottle takes, and how it stands to the skin limits.

    Returns
    -------
    DataFrame
        Columns ``bottles, bottle_ml, strength_percent, basis, material, measure_out, grams,
        strength_by_mass_percent, largest_share_of_limit, in_the_worst_case``: one row for
        each material of each dilution. The last two are NaN where no limit is on record.
    """
    rows = [
        {
            "bottles": dilution.bottles.count,
            "bottle_ml": dilution.bottles.bottle_m3 * ML_PER_M3,
            "strength_percent": dilution.strength_fraction * 100,
            "basis": dilution.basis,
            "material": each.name,
            "measure_out": each.reading,
            "grams": each.mass_kg * G_PER_KG,
            "strength_by_mass_percent": dilution.strength_by_mass * 100,
            "largest_share_of_limit": dilution.findings[0].share,
            "in_the_worst_case": dilution.worst[0].share,
        }
        for dilution in master.dilutions
        for each in dilution.weighings
    ]
    return pd.DataFrame(rows)


def stock_table(there: Mapping[str, OnShelf]) -> pd.DataFrame:
    """What is on the shelf, by name.

    Returns
    -------
    DataFrame
        Columns ``name, left_ml, bought_ml, used_ml, counted_on, bottle_ml, price_per_ml,
        currency, opened_on, remark``; bought and used since the newest count, the price the
        newest one.
    """
    rows = []
    for row in sorted(there.values(), key=lambda row: row.name):
        newest = row.newest_price
        per_m3 = newest.price_per_m3 if newest else None
        rows.append(
            {
                "name": row.name,
                "left_ml": row.left_m3 * ML_PER_M3,
                "bought_ml": row.bought_m3 * ML_PER_M3,
                "used_ml": row.used_m3 * ML_PER_M3,
                "counted_on": row.counted.at.astimezone().date() if row.counted else None,
                "bottle_ml": None if row.bottle_m3 is None else row.bottle_m3 * ML_PER_M3,
                "price_per_ml": None if per_m3 is None else per_m3 / ML_PER_M3,
                "currency": newest.currency if newest else "",
                "opened_on": row.opened_on,
                "remark": row.remark,
            }
        )
    numbers = {"bottle_ml": "Float64", "price_per_ml": "Float64"}
    return pd.DataFrame(rows, columns=_STOCK).astype(numbers)


_STOCK = [
    "name", "left_ml", "bought_ml", "used_ml", "counted_on", "bottle_ml", "price_per_ml",
    "currency", "opened_on", "remark",
]  # fmt: skip


def cost_table(cost: Cost) -> pd.DataFrame:
    """What each thing adds to the cost, dearest first.

    Returns
    -------
    DataFrame
        Columns ``kind, name, amount, arithmetic, cost, currency, percent_of_total, remark``;
        `cost` and `percent_of_total` are empty where no price is on record.
    """
    rows = [
        {
            "kind": line.kind,
            "name": line.name,
            "amount": line.amount,
            "arithmetic": line.arithmetic,
            "cost": line.cost,
            "currency": cost.currency,
            "percent_of_total": None if line.cost is None else cost.share(line) * 100,
            "remark": line.remark,
        }
        for line in cost.lines
    ]
    return pd.DataFrame(rows).astype({"cost": "Float64", "percent_of_total": "Float64"})


def shopping_table(found: ShoppingList) -> pd.DataFrame:
    """What to buy, one row a pack size.

    Returns
    -------
    DataFrame
        Columns ``name, needed_ml, packs, pack, supplier, pack_price, cost, currency,
        left_over_ml``; what nobody sells has 0 packs and nothing behind.
    """
    rows = [
        {
            "name": line.name,
            "needed_ml": line.needed_m3 * ML_PER_M3,
            "packs": count,
            "pack": pack.size,
            "supplier": pack.supplier,
            "pack_price": pack.price,
            "cost": pack.price * count,
            "currency": pack.currency,
            "left_over_ml": line.left_over_m3 * ML_PER_M3,
        }
        for line in found.lines
        for pack, count in line.picks
    ]
    rows += [
        {"name": material(name).name, "needed_ml": needed_m3 * ML_PER_M3, "packs": 0}
        for name, needed_m3 in found.not_sold
    ]
    return pd.DataFrame(rows, columns=_SHOPPING)


_SHOPPING = [
    "name", "needed_ml", "packs", "pack", "supplier", "pack_price", "cost", "currency",
    "left_over_ml",
]  # fmt: skip
