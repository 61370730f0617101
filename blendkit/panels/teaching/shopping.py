"""Shopping list of a class: stock and packs in one grid, and the list that follows."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from blendkit.panels.kit import parts
from blendkit.panels.kit.entry_grid import EntryGrid, GridColumn, cell_text
from blendkit.skin.check import options
from blendkit.teaching.class_document import ClassPlan
from blendkit.teaching.demand import Demand
from blendkit.teaching.shopping import shopping_list

_HINT = (
    'Type what you have, such as "12 mL", and a pack that is sold with its '
    "price. With both left empty the list says how much is needed."
)
_PACK = ("size", "price", "supplier")


class ShoppingGrid:
    """A row for every oil and carrier of the class, and the list that follows.

    Parameters
    ----------
    changed : callable
        Called when something was typed.
    """

    def __init__(self, changed: Callable[..., None]) -> None:
        self.grid = EntryGrid("What is on hand and what is sold", [])
        self.words = parts.Findings("")
        self.grid.observe(changed, "rows")
        self.view = parts.column(
            parts.heading("Shopping list"), self.words.view, parts.hint(_HINT), self.grid
        )

    def offer(self, plan: ClassPlan, demand: Demand) -> None:
        """Show what is to be bought; `BadNumber` lists every cell that cannot be used."""
        oils = [(each.oil.name, each.oil.id) for each in plan.oils]
        named = [*oils, *((each.name, each.id) for each in plan.carriers)]
        self._fit(dict(named))
        rows = [
            row for row in self.grid.rows if cell_text(row, "material") in dict(named).values()
        ]
        stock = {
            cell_text(row, "material"): parts.with_unit(cell_text(row, "on_hand"), "mL")
            for row in rows
            if cell_text(row, "on_hand")
        }
        found = shopping_list(
            plan, demand, [_pack(r, plan.currency) for r in _sold(rows)], stock
        )
        self.words.show(found.words)

    def _fit(self, named: dict[str, str]) -> None:
        """A row for each material; what was typed for one stays with it."""
        there = {cell_text(row, "material") for row in self.grid.rows}
        absent = [{"material": name} for name in named.values() if name not in there]
        kept = [
            row
            for row in self.grid.rows
            if cell_text(row, "material") in named.values()
            or any(cell_text(row, k) for k in _TYPED)
        ]
        known = {cell_text(row, "material") for row in kept} | set(named.values())
        choices = sorted(options(known))
        self.grid.use_columns(
            [
                GridColumn("material", "Oil or carrier", "240px", choices),
                GridColumn("on_hand", "On hand", "80px"),
                GridColumn("size", "Pack", "80px"),
                GridColumn("price", "Price", "70px"),
                GridColumn("supplier", "From", "130px"),
            ]
        )
        if [*kept, *absent] != self.grid.rows:
            self.grid.rows = [*kept, *absent]


_TYPED = ("on_hand", *_PACK)


def _sold(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [row for row in rows if any(cell_text(row, key) for key in _PACK)]


def _pack(row: dict[str, Any], currency: str) -> dict[str, Any]:
    return {
        "material": cell_text(row, "material"),
        "size": parts.with_unit(cell_text(row, "size"), "mL"),
        "price": parts.number_of(cell_text(row, "price")),
        "currency": currency or "EUR",
        "supplier": cell_text(row, "supplier"),
    }
