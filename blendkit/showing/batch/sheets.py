"""Printed pages of a batch: its weighing list and its shopping list, under the verdict."""

from __future__ import annotations

from blendkit.batch.bottles import bottles_in_words
from blendkit.batch.packs import ShoppingList
from blendkit.batch.scaling import Batch
from blendkit.foundation.units import show_ml
from blendkit.showing.batch.fragments import pour_list, shopping_table, weighing_list
from blendkit.showing.kit.rendering import render
from blendkit.showing.skin.fragments import NO_NAME
from blendkit.skin.verdict import Verdict


def weighing_page(batch: Batch, judged: Verdict) -> str:
    """The weighing list as a page: amounts to tick, smallest first, and the filling."""
    tables = [weighing_list(batch, "Measure out"), pour_list(batch)]
    return _page("Weighing list", batch, judged, tables, batch.sentences)


def shopping_page(batch: Batch, judged: Verdict, found: ShoppingList) -> str:
    """The shopping list as a page: packs to tick."""
    return _page("Shopping list", batch, judged, [shopping_table(found)], found.sentences[-1:])


def _page(
    title: str, batch: Batch, judged: Verdict, tables: list[str], sentences: tuple[str, ...]
) -> str:
    amounts = (bottles_in_words(batch.bottles), f"{show_ml(batch.volume_m3)} in all")
    return render(
        "batch_sheet",
        title=title,
        judged=judged,
        name=batch.blend.name or NO_NAME,
        amount=", ".join(filter(None, amounts)),
        tables=tables,
        sentences=sentences,
    )
