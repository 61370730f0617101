"""Shopping list of a class: stock and packs in one grid, the kit in another, and the list."""

from collections.abc import Mapping
from typing import Any

from blendkit.panels.kit import parts
from blendkit.panels.kit.entry_grid import EntryGrid, GridColumn, cell_text, is_typed
from blendkit.panels.kit.section import Section
from blendkit.skin.check import options
from blendkit.teaching.class_document import ClassPlan
from blendkit.teaching.demand import Demand
from blendkit.teaching.shopping import ClassShopping, kit_of, shopping_list

_HINT = (
    'Type what you have, such as "12 mL" (one bottle) or "2 × 6 mL", and a pack that is sold '
    "with its price. With both left empty the list says how much is needed. All of it is kept "
    "with the class."
)
_PACK = ("size", "price", "supplier")
_TYPED = ("on_hand", *_PACK)
_KIT = ("on_hand", "pieces", "price")


class ShoppingSection(Section):
    """Rows for the oils, carriers and kit of a class, and the list that follows.

    A mistake in them leaves what to have as it is.

    Attributes
    ----------
    listed : ClassShopping or None
        The last good list.
    """

    def __init__(self) -> None:
        self.grid = EntryGrid("What is on hand and what is sold", [])
        self.kit = EntryGrid("The kit: what is on hand, and a pack with its price", [])
        self.words = parts.Findings("")
        self.listed: ClassShopping | None = None
        self._offered: tuple[ClassPlan, Demand] | None = None
        super().__init__(parts.heading("Shopping list"), self.words.view)
        self.view.children = (*self.view.children, parts.hint(_HINT), self.grid, self.kit)
        parts.observe(self.message.guard(self.again), self.grid, self.kit, of="rows")

    @property
    def document(self) -> dict[str, list[dict[str, str]]]:
        """What was typed, for the document of the class."""
        keys = {"shopping": (self.grid, _TYPED), "kit": (self.kit, _KIT)}
        typed = {
            key: [dict(row) for row in grid.rows if is_typed(row, names)]
            for key, (grid, names) in keys.items()
        }
        return {key: rows for key, rows in typed.items() if rows}

    def show(self, document: Mapping[str, Any]) -> None:
        """Put back what was typed for a class."""
        for key, grid in (("shopping", self.grid), ("kit", self.kit)):
            given = document.get(key, ())
            rows = given if isinstance(given, list) else ()
            grid.rows = [dict(row) for row in rows if isinstance(row, dict)]

    def offer(self, plan: ClassPlan, demand: Demand) -> None:
        """Show what is to be bought."""
        self._offered = plan, demand
        self.again()

    def again(self) -> None:
        """List again, from what was typed; every cell that cannot be used is said."""
        if self._offered is not None:
            plan, demand = self._offered
            self.attempt(lambda: self._list(plan, demand))

    def _list(self, plan: ClassPlan, demand: Demand) -> None:
        ids = list(plan.materials)
        _fit(self.grid, "material", ids, _TYPED)
        _fit(self.kit, "item", list(kit_of(plan)), _KIT)
        known = {cell_text(row, "material") for row in self.grid.rows}
        needed = [(f"{name}: {count}", name) for name, count in kit_of(plan).items()]
        self.grid.use_columns(
            [
                GridColumn("material", "Oil or carrier", "240px", sorted(options(known))),
                GridColumn("on_hand", "On hand", "80px"),
                GridColumn("size", "Pack", "80px"),
                GridColumn("price", "Price", "70px"),
                GridColumn("supplier", "From", "130px"),
            ]
        )
        self.kit.use_columns(
            [
                GridColumn("item", "Needed", "240px", needed),
                GridColumn("on_hand", "On hand", "80px", number=True),
                GridColumn("pieces", "In a pack", "80px", number=True),
                GridColumn("price", "Price of a pack", "70px"),
            ]
        )
        rows = [row for row in self.grid.rows if cell_text(row, "material") in ids]
        typed = {cell_text(row, "material"): cell_text(row, "on_hand") for row in rows}
        stock = {name: _on_hand(amount) for name, amount in typed.items() if amount}
        sold = [_pack(row, plan.currency) for row in rows if is_typed(row, _PACK)]
        self.listed = shopping_list(plan, demand, sold, stock, map(_kit_row, self.kit.rows))
        self.words.show(self.listed.words)


def _fit(grid: EntryGrid, key: str, ids: list[str], typed: tuple[str, ...]) -> None:
    """A row for each; what was typed for one stays with it."""
    there = {cell_text(row, key) for row in grid.rows}
    absent = [{key: name} for name in ids if name not in there]
    kept = [row for row in grid.rows if cell_text(row, key) in ids or is_typed(row, typed)]
    if [*kept, *absent] != grid.rows:
        grid.rows = [*kept, *absent]


def _on_hand(typed: str) -> str:
    """An amount, or a number of bottles and the amount in each: "2 x 10" is "2 x 10 mL"."""
    times, mark, size = typed.replace("x", "×").rpartition("×")
    return f"{times}{mark}{parts.with_unit(size, 'mL')}"


def _kit_row(row: Mapping[str, Any]) -> dict[str, Any]:
    numbers = {key: cell_text(row, key) for key in _KIT}
    typed = {key: parts.number_of(text) if text else "" for key, text in numbers.items()}
    return {"item": cell_text(row, "item"), **typed}


def _pack(row: Mapping[str, Any], currency: str) -> dict[str, Any]:
    return {
        "material": cell_text(row, "material"),
        "size": parts.with_unit(cell_text(row, "size"), "mL"),
        "price": parts.number_of(cell_text(row, "price")),
        "currency": currency or "EUR",
        "supplier": cell_text(row, "supplier"),
    }
