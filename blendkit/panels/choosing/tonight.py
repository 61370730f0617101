"""What the shelf answers: what can be made tonight, and what one more oil would add."""

from collections.abc import Iterator
from typing import Any

import ipywidgets as widgets

from blendkit.blend.blend import Blend
from blendkit.choosing.tonight import BRING, LENGTHEN, Kept, MoreOils, Tonight, tonight
from blendkit.foundation.errors import BlendkitError
from blendkit.foundation.units import show_ml
from blendkit.journal.records import BlendRow, Version
from blendkit.journal.store import Journal
from blendkit.keeping.open_store import read_or, the_journal
from blendkit.keeping.replacement import oils_left, shelf_left
from blendkit.keeping.stock_entries import SHELF, current_stock
from blendkit.keeping.versions import KeptVersion, kept_versions
from blendkit.materials import catalogue
from blendkit.panels.bottle.blend_panel import BlendPanel
from blendkit.panels.kit import parts
from blendkit.panels.kit.chart_view import ChartView
from blendkit.panels.kit.deferred import Aside
from blendkit.showing.choosing.rows import more_rows, tonight_table
from blendkit.skin.cautions import excluded_for
from blendkit.skin.check import not_for_skin

_NO_STOCK = "No stock is on record: enter what you have in notebook 02."
_NOTHING = "No kept blend yet: keep one in notebook 01."
_MINE, _ALL = "my shelf", "every oil on record"
_BY = [("how much longer it lasts", LENGTHEN), ("what is new", BRING)]


class TonightPanel(BlendPanel):
    """Kept blends against the shelf, and oils that might join the blend in hand."""

    notebook = ""
    _more: tuple[object, MoreOils] | None = None

    def __init__(self) -> None:
        super().__init__()
        look = self.message.guard(self.look)
        self._looking = Aside(self.message.guard)
        self.list = widgets.HTML()
        self.by = parts.choice("Ranked by", _BY)
        self.among = parts.choice("From", [_MINE, _ALL])
        self.count = parts.choice("Drops of it", range(1, 9), "200px", value=2)
        self.chart = ChartView("choosing", "more_chart", "What one more oil would add")
        hint = parts.hint("Prices are of the pack bought last; no figure: none on record.")
        controls = (self.by, self.among, self.count)
        parts.observe(self.refresh, *controls)
        self.ranking = parts.results(*controls, self.chart, hint)
        self.hand.watch.follow(look, BlendRow, Version)
        self.hand.watch.follow(look, *SHELF)
        self.hand.watch.follow(self.refresh, *SHELF)
        self.lay_out(self.side_by_side(self.ranking, self.list), stale=(self.ranking,))
        look()

    def calculate(self, blend: Blend) -> None:
        """Rank the oils that might join the blend."""
        self.blend = blend
        self.defer(self._rank)

    def _rank(self) -> None:
        left: Any = read_or(lambda _: oils_left(), None) if self.among.value == _MINE else None
        barred = {*self._barred(), *not_for_skin()}
        among = [name for name in left or catalogue.oil_ids() if name not in barred]
        document = self.blend.to_dict()
        oils = {entry["id"] for entry in document.pop("oils")}
        same = {key: document[key] for key in document.keys() - {"name", "note_parts"}}
        if self._more is None or self._more[0] != (among, oils, same):
            self._more = (among, oils, same), MoreOils(self.blend, among)
        ranked = self._more[1].ranked(self.blend.oil_drops, self.count.value, self.by.value)
        self.chart.rows = more_rows(ranked, self.by.value, read_or(_prices, {}))

    def look(self) -> None:
        """Hold the newest version of each kept blend against the shelf, in a thread."""
        newest = {one.version.blend_id: one for one in kept_versions(the_journal())[::-1]}
        shelf, barred = shelf_left(), self._barred()
        if newest and not shelf:
            self.list.value = tonight_table([], _NO_STOCK)
            return

        def work() -> list[tuple[str, Tonight]]:
            pairs = sorted(_blends(newest.values()), key=lambda pair: pair[0].version.turn)
            found = tonight([kept for _, kept in pairs], shelf, excluded=barred)
            return [
                (one.label, row) for row in found for one, kept in pairs if kept is row.kept
            ]

        self._looking.run(work, self._list)

    def _list(self, rows: list[tuple[str, Tonight]]) -> None:
        self.list.value = tonight_table(rows, _NOTHING)

    def _barred(self) -> tuple[str, ...]:
        return excluded_for(self.hand.present.document.get("wearers", ()))


def _blends(kept: Any) -> Iterator[tuple[KeptVersion, Kept]]:
    for one in kept:
        try:
            yield one, Kept(one.blend(), one.version.made_at.astimezone().date())
        except BlendkitError:
            continue  # it names a material that is no longer on record


def _prices(journal: Journal) -> dict[str, str]:
    """Price of the pack bought last, by oil."""
    return {
        name: f"{paid.price_per_m3 * row.bottle_m3:.2f} {paid.currency} "
        f"for {show_ml(row.bottle_m3)}"
        for name, row in current_stock(journal).items()
        if (paid := row.newest_price) and paid.price_per_m3 and row.bottle_m3
    }
