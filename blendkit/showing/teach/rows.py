"""The rows of a class's charts: what to buy, and the card."""

from typing import Any

from blendkit.foundation.units import counted, show_ml
from blendkit.teaching.class_document import ClassPlan
from blendkit.teaching.demand import Demand
from blendkit.teaching.free_choice import ChoiceCard


def demand_rows(demand: Demand) -> list[dict[str, Any]]:
    """Rows for `demand_chart`: the drops to have of each oil, and those expected."""
    return [
        {
            "rank": rank,
            "oil": oil.name,
            "note": oil.note,
            "to_have": oil.to_have_drops,
            "expected": oil.expected_drops,
            "words": f"{oil.to_have_drops} drops · {show_ml(oil.volume_m3, 2)}",
        }
        for rank, oil in enumerate(demand.oils)
    ]


def card_rows(plan: ClassPlan, card: ChoiceCard) -> list[dict[str, Any]]:
    """Rows for `card_chart`: the most drops of each oil, and what one of them costs."""
    rows = []
    for rank, each in enumerate(plan.oils):
        cap, suns = card.caps[each.oil.id], card.suns.get(each.oil.id, 0)
        words = counted(cap, "drop") if cap else "leave out"
        rows.append(
            {
                "rank": rank,
                "oil": each.oil.name,
                "note": each.note,
                "cap": cap,
                "words": f"{words} · {counted(suns, 'sun')} each" if suns and cap else words,
            }
        )
    return rows
