"""Pieces of HTML for the panel of a class."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from blendkit.foundation.units import ML_PER_M3, counted, show
from blendkit.materials import catalogue
from blendkit.materials.search import names_of
from blendkit.showing.kit.rendering import render
from blendkit.showing.teach.rows import limits_over
from blendkit.teaching.class_document import ClassPlan
from blendkit.teaching.demand import Demand
from blendkit.teaching.hand_in import HandedIn
from blendkit.teaching.plan import seat_plans
from blendkit.teaching.run_sheet import RunSheet


def seat_picture(plan: ClassPlan) -> str:
    """Oils that each seat may use, as a field of dots, with its carrier."""
    oils = [each.oil for each in plan.oils]
    rows = []
    for found in seat_plans(plan):
        why = {each.oil: each.because for each in found.leaves_out}
        rows.append(
            {
                "seat": found.seat.label,
                "cells": [why.get(oil.id, "") for oil in oils],
                "carrier": catalogue.carrier(found.carrier).name if found.carrier else "none",
                "other": found.needs_other_carrier,
            }
        )
    names = [oil.name for oil in oils]
    return render("class_seats", oils=names, heads=_short(names), rows=rows)


def _short(names: list[str]) -> list[str]:
    """Names without the part in brackets, where they stay different."""
    short = [name.partition(" (")[0] for name in names]
    return [s if short.count(s) == 1 else n for s, n in zip(short, names, strict=True)]


def demand_list(demand: Demand) -> str:
    """Amounts to buy, oil by oil and carrier by carrier, as a small HTML table."""
    oils = [
        {
            "name": oil.name,
            "expected": show(oil.expected_drops),
            "drops": oil.to_have_drops,
            "volume_ml": show(oil.volume_m3 * ML_PER_M3, 2),
            "chance": show(oil.chance * 100, 3),
        }
        for oil in demand.oils
    ]
    carriers = [
        {
            "name": carrier.name,
            "seats": counted(carrier.seats, "seat"),
            "volume_ml": show(carrier.volume_m3 * ML_PER_M3, 3),
        }
        for carrier in demand.carriers
    ]
    return render("class_demand", oils=oils, carriers=carriers)


def run_list(sheet: RunSheet) -> str:
    """The run sheet, line by line; the oils of a tray are at its first turn."""
    rows = []
    last: dict[int | None, tuple[str, ...]] = {}
    for entry in sheet.entries:
        rows.append(
            {
                "start": f"{entry.start // 60}:{entry.start % 60:02d}",
                "minutes": entry.minutes,
                "table": f"table {entry.table}" if entry.table else "all",
                "seats": ", ".join(entry.seats),
                "what": entry.what,
                "oils": "" if last.get(entry.table) == entry.oils else names_of(entry.oils),
            }
        )
        last[entry.table] = entry.oils
    return render("class_run", rows=rows)


def gathered_list(seats: Sequence[HandedIn]) -> str:
    """Blends handed in, by seat, with the limits each is over."""
    rows: list[dict[str, Any]] = []
    for one in seats:
        blend = one.blend
        rows.append(
            {
                "seat": one.seat,
                "when": f"{one.when.astimezone():%H:%M}",
                "count": counted(one.count, "time"),
                "problem": one.problem,
                "name": blend.name if blend else "",
                "drops": _drops_in_words(blend.oil_drops) if blend else "",
                "over": limits_over(blend),
            }
        )
    return render("class_gathered", rows=rows)


def _drops_in_words(drops: Mapping[str, int]) -> str:
    return ", ".join(
        f"{count} {catalogue.oil(name).name}" for name, count in drops.items() if count
    )
