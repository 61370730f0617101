"""Rows of the charts of a batch: amounts, stock and cost."""

from collections.abc import Iterable, Mapping
from typing import Any

from blendkit.batch.cost import NO_PRICE, Cost
from blendkit.batch.scaling import Batch
from blendkit.batch.stock import OnShelf, Use, needed_m3
from blendkit.foundation.money import Money
from blendkit.foundation.units import G_PER_KG, show, show_ml
from blendkit.skin.check import marked_name

MOST_SHOWN = 2.0
ENOUGH, LACKS = "enough", "lacks"


def weighing_rows(batch: Batch) -> list[dict[str, Any]]:
    """Rows for `weighing_chart`: amounts to measure out, smallest first."""
    most = max((each.mass_kg for each in batch.weighings), default=0.0) * G_PER_KG
    return [
        {
            "rank": rank,
            "name": marked_name(each.material),
            "note": each.note,
            "grams": each.mass_kg * G_PER_KG,
            "words": each.reading,
            "error": each.error_percent,
            "reach": most * 3.2,  # room for the words, on a scale of square roots
        }
        for rank, each in enumerate(batch.weighings)
    ]


def shelf_rows(uses: Iterable[Use], on_shelf: Mapping[str, OnShelf]) -> list[dict[str, Any]]:
    """Rows for `shelf_chart`: stock as a share of what a batch needs, least first."""
    rows: list[dict[str, Any]] = []
    for name, wanted_m3 in needed_m3(uses, on_shelf).items():
        left_m3 = on_shelf[name].left_m3 if name in on_shelf else 0.0
        short_m3 = wanted_m3 - max(left_m3, 0.0)
        share = max(left_m3, 0.0) / wanted_m3 if wanted_m3 else MOST_SHOWN
        rows.append(
            {
                "name": marked_name(name),
                "share": share,
                "drawn": min(share, MOST_SHOWN),
                "verdict": LACKS if short_m3 > 1e-12 else ENOUGH,
                "words": _shelf_words(left_m3, wanted_m3, short_m3),
            }
        )
    rows.sort(key=lambda row: row["share"])
    return [{"rank": rank, **row} for rank, row in enumerate(rows)]


def _shelf_words(left_m3: float, wanted_m3: float, short_m3: float) -> str:
    needed = f"needs {show_ml(wanted_m3)}"
    if left_m3 < 0:
        return f"{needed}; stock is negative, recount"
    if short_m3 > 1e-12:
        return f"{needed}, {show_ml(short_m3)} missing"
    return f"{needed}, has {show_ml(left_m3)}"


def cost_rows(cost: Cost) -> list[dict[str, Any]]:
    """Rows for `cost_chart`: cost by material, highest first."""
    most = max((line.cost or 0.0 for line in cost.lines), default=0.0)
    return [
        {
            "rank": rank,
            "name": marked_name(line.material) if line.material else line.name,
            "kind": line.kind,
            "cost": line.cost or 0.0,
            "words": NO_PRICE
            if line.cost is None
            else f"{Money(line.cost, cost.currency)} · {show(cost.share(line) * 100, 2)} %",
            "arithmetic": line.arithmetic,
            "reach": most or 1.0,
        }
        for rank, line in enumerate(cost.lines)
    ]
