"""Rows of the chart of a bottle's drops, of the bench sheet and of the sniff test."""

import math
from typing import Any

from blendkit.blend.filling import Filling
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import G_PER_KG, ML_PER_M3
from blendkit.making.mixing_order import mixing_steps, sniff_test
from blendkit.skin.check import marked_name

_AXIS_ENDS = (10, 20, 30, 50, 80, 120, 200, 300, 500, 1000)


def drops_rows(filling: Filling) -> list[dict[str, Any]]:
    """Rows for `drops_chart`, top note first.

    `reach` is where the axis ends: a round number that seldom changes, so that the bars move
    and not the axis while someone drags. A count fixed by hand is outside the ratio, which
    asks for none of that oil: `target` is None there. A blend by mass counts in grams.
    """
    rows, step_kg = [], filling.fields.step_kg
    unit = 1 if step_kg is None else step_kg * G_PER_KG
    longest = max(max(p.drops or 0, p.target_drops or 0) for p in filling.oils) * unit
    ends = _AXIS_ENDS if step_kg is None else (1, 2, 5, *_AXIS_ENDS)
    reach = next((step for step in ends if step >= longest * 1.2), longest * 1.2)
    top_first = sorted(filling.oils, key=lambda portion: NOTES.index(portion.note))
    for rank, portion in enumerate(top_first):
        drops, target = (portion.drops or 0) * unit, portion.target_drops
        target = target if target is None else target * unit
        rows.append(
            {
                "rank": rank,
                "label": marked_name(portion.material),
                "note": portion.note,
                "drops": drops,
                "target": target,
                "asked": "nothing: fixed" if target is None else f"{target:.2f}",
                "furthest": max(drops, target or 0),
                "reach": reach,
                "count": _count_in_words(drops, target, "" if step_kg is None else " g"),
                "percent": (portion.drops or 0) / filling.oil_drops * 100,
            }
        )
    return rows


def _count_in_words(drops: float, target: float | None, unit: str) -> str:
    count = f"{drops:.6g}{unit}"
    if target is None:
        return f"{count}, fixed"
    is_near = abs(drops - target) < 0.005
    return count if is_near else f"{count} for {target:.2f}"


def step_rows(filling: Filling) -> list[dict[str, Any]]:
    """Rows of the bench sheet: the steps of mixing, with the amounts where a step has any.

    `scale_g` is what a scale shows that was set to zero with the empty bottle on it.
    """
    rows, scale_g = [], 0.0
    for number, step in enumerate(mixing_steps(filling), start=1):
        portion = step.portion
        scale_g += portion.mass_kg * G_PER_KG if portion else 0.0
        rows.append(
            {
                "step": number,
                "action": step.action,
                "name": marked_name(portion.material) if portion else "",
                "drops": portion.whole_drops if portion else None,
                "scale_g": scale_g if portion else math.nan,
                "volume_ml": portion.volume_m3 * ML_PER_M3 if portion else math.nan,
                "mass_g": portion.mass_kg * G_PER_KG if portion else math.nan,
            }
        )
    return rows


def sniff_rows(filling: Filling) -> list[dict[str, Any]]:
    """Rows of the sniff test: the drops of each oil; none where no small number will do."""
    miniature = sniff_test(filling)
    return [
        {
            "name": marked_name(oil.material),
            "note": oil.note,
            "drops": miniature.drops[oil.material],
        }
        for oil in filling.oils
        if miniature is not None and oil.drops
    ]
