"""The rows of a class's charts: what to buy, the card, the run sheet."""

from __future__ import annotations

from typing import Any

from blendkit.foundation.units import counted, show_ml
from blendkit.materials.search import names_of
from blendkit.teaching.class_document import ClassPlan
from blendkit.teaching.demand import Demand
from blendkit.teaching.free_choice import ChoiceCard
from blendkit.teaching.run_sheet import RunSheet

EVERYBODY, EXERCISES = "everybody", "exercises"
ROOM_FOR_A_WORD = 12  # minutes


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


def run_rows(sheet: RunSheet) -> list[dict[str, Any]]:
    """Rows for `run_chart`: the oils at each table, minute by minute.

    The turns of one table with one tray are drawn as one bar.
    """
    rows: list[dict[str, Any]] = []
    last: dict[int | None, dict[str, Any]] = {}
    tables = len(sheet.seats_at)
    for entry in sheet.entries:
        before = last.get(entry.table)
        note = entry.what.removesuffix(" note") if entry.oils else entry.what
        end = entry.start + entry.minutes
        if entry.oils and before and before["what"] == note and before["end"] == entry.start:
            before["end"] = end
            before["middle"] = (before["start"] + end) / 2
            before["label"] = note  # turns alone are too short for a word
            continue
        where = [entry.table] if entry.table else list(range(1, tables + 1))
        for table in where:
            row = {
                "table": f"table {table}",
                "start": entry.start,
                "end": end,
                "middle": (entry.start + end) / 2,
                "what": note,
                "label": note if entry.table and entry.minutes >= ROOM_FOR_A_WORD else "",
                "kind": _kind(entry.table, bool(entry.oils), note),
                "oils": names_of(entry.oils),
            }
            rows.append(row)
            last[entry.table] = row
    return rows


def _kind(table: int | None, has_oils: bool, note: str) -> str:
    if has_oils:
        return note
    return EXERCISES if table else EVERYBODY
