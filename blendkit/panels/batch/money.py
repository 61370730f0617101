"""Sections of the batch panel about money: cost of the liquid, a cheaper blend, shopping."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import ipywidgets as widgets

from blendkit.batch.cheaper import Cheaper, cheaper, prices_of
from blendkit.batch.cost import cost
from blendkit.batch.packs import ShoppingList, read_packs, shopping_list
from blendkit.batch.stock import OnShelf, missing, needed_m3, uses_of
from blendkit.blend.blend import Blend
from blendkit.foundation.units import show_ml
from blendkit.keeping.details import keep_packs, kept_packs
from blendkit.keeping.open_store import read_or, the_journal
from blendkit.panels.batch.sections import BatchSection, Making
from blendkit.panels.kit import parts
from blendkit.panels.kit.chart_view import ChartView
from blendkit.panels.kit.entry_grid import EntryGrid, GridColumn, cell_text, is_typed
from blendkit.showing.batch import fragments as batch_fragments
from blendkit.showing.batch.rows import cost_rows
from blendkit.skin.check import options, rules_in
from blendkit.skin.verdict import Verdict

_COLUMNS = (
    GridColumn("size", "Pack", "90px"),
    GridColumn("price", "Price", "80px"),
    GridColumn("supplier", "From", "120px"),
)
_KEYS = tuple(column.key for column in _COLUMNS)


class CostSection(BatchSection):
    """Cost of what is in the batch, and a cheaper blend.

    Parameters
    ----------
    take : callable
        Called with a cheaper blend to show on the panel.
    """

    def __init__(self, take: Callable[[Blend], None]) -> None:
        self.take_over = take
        self.cheaper: Cheaper | None = None
        self.currency = parts.text_box("Currency", "EUR", "180px")
        self.chart = ChartView("batch", "cost_chart", "Cost by material, highest first")
        self.words = parts.Findings("")
        self.sum = widgets.HTML()
        self.ceiling = parts.unit_box("Maximum cost", "%", "80 %")
        self.cheaper_words = parts.Findings("")
        self.pictures = parts.columns()
        details = parts.fold("Calculation", self.sum)
        super().__init__(self.chart, self.words.view, details, above=(self.currency,))
        guard = self.message.guard
        search = guard(self.find, "Searching for a cheaper blend …")
        find = parts.button("Find a cheaper blend with the nearest fade", search)
        self.take_button = parts.button("Use this blend", guard(self.take))
        self.take_button.disabled = True
        search_row = parts.row(self.ceiling, find, self.take_button)
        found = (self.cheaper_words.view, self.pictures)
        self.view.children += (parts.heading("Cheaper"), search_row, *found)
        self.watch(self.currency)

    def calculate(self, making: Making) -> None:
        """Show the cost."""
        self.cheaper = None
        self.take_button.disabled = True
        self.cheaper_words.show([])
        self.pictures.children = []
        found = cost(making.batch, making.on_shelf, currency=self.currency.value)
        self.chart.rows = cost_rows(found)
        self.chart.layout.display = None if found.total else "none"
        self.words.show(found.sentences if found.total else [found.sentences[0], _NO_PRICE_YET])
        self.sum.value = batch_fragments.cost_list(found)

    def find(self) -> None:
        """Search for the blend under the ceiling with the nearest fade."""
        if self.making is None:
            return
        blend, currency = self.making.batch.blend, self.currency.value
        prices, rules = prices_of(self.making.on_shelf, currency), rules_in(blend)
        found = cheaper(blend, prices, self.ceiling.quantity, currency=currency, rules=rules)
        self.cheaper = found
        self.cheaper_words.show(found.sentences)
        pair = {"Yours": blend.bottle, "Cheaper": found.blend.bottle}
        self.pictures.children = [parts.titled_bottle(*each) for each in pair.items()]
        self.take_button.disabled = False

    def take(self) -> None:
        """Show the cheaper blend on the panel."""
        if self.cheaper is not None:
            self.take_over(self.cheaper.blend)


class BuySection(BatchSection):
    """Missing materials, and the packs that cover them at the least cost."""

    def __init__(self) -> None:
        self.currency = parts.text_box("Currency", "EUR", "180px")
        self.grid = EntryGrid("Packs on sale", [])
        self.grid.rows = self._kept = _kept_packs()
        self._filled_in: set[str] = set()
        self.list = widgets.HTML()
        self.words = parts.Findings("")
        sheet = self.printer("Print the shopping list", self._page)
        super().__init__(self.list, self.words.view, above=(sheet,))
        guard = self.message.guard
        keep_packs = parts.button("Keep these packs", guard(self.keep))
        more = parts.button("Add rows", guard(self.more))
        hint = parts.hint(
            "Packs bought last are filled in. Type others your supplier sells: size and price "
            "of one. Rows without size and price are ignored."
        )
        boxes = (self.currency, self.grid, parts.row(keep_packs, more))
        self.view.children += (parts.heading("Packs on sale"), hint, *boxes)
        self.watch(self.currency)
        self.grid.observe(guard(self.again), "rows")

    def calculate(self, making: Making) -> None:
        """Show the shopping list."""
        uses = uses_of(making.batch)
        names = list(needed_m3(uses, making.on_shelf))
        choices = [("", ""), *options(names)]
        others = {cell_text(row, "material") for row in self.grid.rows} - {"", *names}
        choices += [(other, other) for other in others]
        self.grid.use_columns([GridColumn("material", "Material", "240px", choices), *_COLUMNS])
        self._fill_in(names, making.on_shelf)
        found = self._found(making)
        self.list.value = batch_fragments.shopping_table(found)
        self.words.show(found.sentences[-1:] if found.lines else [])  # the table has the rest

    def _found(self, making: Making) -> ShoppingList:
        needed = missing(uses_of(making.batch), making.on_shelf)
        return shopping_list(needed, read_packs(self._rows()))

    def _page(self, making: Making, judged: Verdict) -> str:
        found, title = self._found(making), "Shopping list"
        table = batch_fragments.shopping_table(found)
        return batch_fragments.page(title, making.batch, judged, [table], found.sentences[-1:])

    def _fill_in(self, names: Sequence[str], on_shelf: Mapping[str, OnShelf]) -> None:
        """A row for each material; once, the pack bought last where nothing is typed for it."""
        new = {name for name in names if name not in self._filled_in}
        last = {name: self._last_pack(on_shelf.get(name)) for name in new}
        self._filled_in |= {name for name, pack in last.items() if pack}
        listed = {cell_text(row, "material") for row in self.grid.rows}
        rows = []
        for row in (*self.grid.rows, *(_blank(name) for name in names if name not in listed)):
            name = cell_text(row, "material")
            if is_typed(row, _KEYS):
                rows.append(row)
            elif name in ("", *names):
                rows.append({**row, **last.get(name, {})})
        if rows != self.grid.rows:
            self.grid.rows = rows

    def _last_pack(self, held: OnShelf | None) -> dict[str, str]:
        """Size and price of the bottle bought last; nothing in another currency."""
        paid = held.newest_price if held else None
        if not (held and held.bottle_m3 and paid and paid.currency == self.currency.value):
            return {}
        price = (paid.price_per_m3 or 0.0) * held.bottle_m3
        return {"size": show_ml(held.bottle_m3), "price": f"{price:.2f}"}

    def more(self) -> None:
        """Add four empty rows."""
        self.grid.rows = [*self.grid.rows, *(_blank("") for _ in range(4))]

    def follow(self) -> None:
        """List the packs kept last, in whichever notebook, and what was typed here since."""
        before, self._kept = self._kept, _kept_packs()
        typed = [row for row in self._typed_rows() if row not in (*before, *self._kept)]
        self.grid.rows = [*self._kept, *typed]

    def keep(self) -> None:
        """Keep the packs for another day."""
        keep_packs(the_journal(), self._typed_rows())
        self.message.say("Packs kept.")

    def _typed_rows(self) -> list[dict[str, str]]:
        return [
            {key: cell_text(row, key) for key in ("material", *_KEYS)}
            for row in self.grid.rows
            if is_typed(row, _KEYS)
        ]

    def _rows(self) -> list[dict[str, Any]]:
        return [
            {
                **row,
                "size": parts.with_unit(row["size"], "mL"),
                **parts.price_of(row["price"], self.currency.value),
            }
            for row in self._typed_rows()
        ]


_NO_PRICE_YET = "Enter prices paid under Stock."


def _blank(name: str) -> dict[str, str]:
    return {"material": name, **dict.fromkeys(_KEYS, "")}


def _kept_packs() -> list[dict[str, str]]:
    """Load the packs kept last."""
    return read_or(lambda journal: kept_packs(journal, ("material", *_KEYS)), [])
