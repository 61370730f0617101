"""Pieces of HTML for the panel of a class."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

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
    carriers = {each.id: each.name for each in plan.carriers}
    heads = _short([oil.name for oil in oils])
    seats = seat_plans(plan)
    return render("class_seats", oils=oils, heads=heads, seats=seats, carriers=carriers)


def _short(names: list[str]) -> list[str]:
    """Names without the part in brackets, where they stay different."""
    short = [name.partition(" (")[0] for name in names]
    return [s if short.count(s) == 1 else n for s, n in zip(short, names, strict=True)]


def demand_list(demand: Demand) -> str:
    """Amounts to buy, oil by oil and carrier by carrier, as a small HTML table."""
    return render("class_demand", demand=demand)


def run_list(sheet: RunSheet) -> str:
    """The run sheet, line by line; the oils of a tray are at its first turn."""
    rows = []
    last: dict[int | None, tuple[str, ...]] = {}
    for entry in sheet.entries:
        again = last.get(entry.table) == entry.oils
        rows.append((entry, "" if again else names_of(entry.oils)))
        last[entry.table] = entry.oils
    return render("class_run", rows=rows)


def gathered_list(seats: Sequence[HandedIn]) -> str:
    """Blends handed in, by seat, with the limits each is over."""
    return render("class_gathered", seats=seats, limits_over=limits_over, drops=_drops_in_words)


def _drops_in_words(drops: Mapping[str, int]) -> str:
    return ", ".join(
        f"{count} {catalogue.oil(name).name}" for name, count in drops.items() if count
    )
