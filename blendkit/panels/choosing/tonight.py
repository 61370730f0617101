"""What the shelf answers: what can be made tonight, and what one more oil would add."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import ipywidgets as widgets

from blendkit.blend.blend import Blend
from blendkit.choosing.same_smell import Replacement, replace_oil
from blendkit.choosing.tonight import BRING, LENGTHEN, Kept, MoreOils, Tonight, tonight
from blendkit.foundation.errors import BadNumber, BlendkitError, Problem, quoted
from blendkit.foundation.units import counted, is_whole_number, show_ml
from blendkit.journal.records import BlendRow, Version
from blendkit.keeping import hand
from blendkit.keeping.details import kept_packs
from blendkit.keeping.open_store import read_or, the_journal
from blendkit.keeping.replacement import oils_left, shelf_left
from blendkit.keeping.stock_entries import SHELF, current_stock
from blendkit.keeping.versions import KeptVersion, kept_versions
from blendkit.materials import catalogue
from blendkit.materials.amounts import shelf_id
from blendkit.panels.bottle.blend_panel import BlendPanel
from blendkit.panels.kit import parts
from blendkit.panels.kit.chart_view import ChartView
from blendkit.panels.kit.deferred import Aside, Deferred
from blendkit.showing.choosing.fragments import tonight_table
from blendkit.showing.choosing.rows import more_rows
from blendkit.showing.skin.fragments import note
from blendkit.skin.cautions import excluded_for
from blendkit.skin.check import not_for_skin
from blendkit.skin.counted_bottle import in_its_own_ratio

_MOST_BLENDS = 40  # looked through, newest first
_NOTHING = "No kept blend yet: keep one in notebook 01."
_MINE, _ALL = "my shelf", "every oil on record"


class TonightPanel(BlendPanel):
    """Kept blends against the shelf, and oils that might join the blend in hand."""

    notebook = ""
    _left_out = 0

    def __init__(self) -> None:
        super().__init__()
        guard, self._search, self._looking = self.message.guard, Aside(), Aside()
        self._later, self._more_for = Deferred(), list[object]()
        self._more: MoreOils | None = None
        self._rows: list[tuple[KeptVersion, Tonight]] = []
        self.list = widgets.HTML()
        self.kept = parts.choice("Kept blend", [])
        take = parts.button("Take it in hand", guard(self.take))
        swap = parts.button("Replace the oil that is short", guard(self.swap))
        self.by = parts.choice(
            "Ranked by", [("how much longer it lasts", LENGTHEN), ("what is new", BRING)]
        )
        self.among = parts.choice("From", [_MINE, _ALL])
        self.count = parts.SlidingNumber("Drops of it", "2", 1, 12, 1)
        self.chart = ChartView("choosing", "more_chart", "What one more oil would add")
        self.none = parts.hint("None of these oils would add to the blend.")
        hint = parts.hint("Prices are of the pack bought last; no figure: none on record.")
        controls = (self.by, self.among, self.count.view)
        for each in (self.by, self.among):
            each.observe(self.refresh, "value")
        self.count.on_change(self.refresh)
        self.ranking = parts.results(*controls, self.none, self.chart, hint)
        self.swapped = parts.Findings("")
        self.choosing = parts.column(self.kept, parts.row(take, swap), self.swapped.view)
        answers = (self.list, self.choosing)
        self.hand.watch.follow(guard(self.look), BlendRow, Version, *SHELF)
        self.lay_out(self.side_by_side(self.ranking, *answers), stale=(self.ranking,))
        self._later.ask(guard(self.look))

    def calculate(self, blend: Blend) -> None:
        """Rank the oils that might join the blend."""
        count = parts.number_of(self.count.value)
        if not is_whole_number(count, 1, 999):
            raise BadNumber([Problem("drops of it", quoted(count), "a whole number from 1")])
        self.blend = blend
        self.defer(lambda: self._rank(int(count)))

    def _rank(self, count: int) -> None:
        blend, left = self.blend, read_or(lambda _: oils_left(), None)
        barred = {*excluded_for(self._wearers()), *not_for_skin()}
        from_shelf = left if self.among.value == _MINE else None
        among = [n for n in from_shelf or catalogue.oil_ids() if n not in barred]
        document = blend.to_dict()
        made_for: list[object] = [
            among,
            [part.oil.id for part in blend.oils],
            *(document.get(key) for key in ("bottle", "carriers", "drops_per_ml", "market")),
        ]
        if made_for != self._more_for or self._more is None:
            self._more_for, self._more = made_for, MoreOils(blend, among)
        ranked = self._more.ranked(blend.oil_drops, count, self.by.value)
        self.chart.rows = more_rows(ranked, self.by.value, read_or(_prices, {}))
        self.none.layout.display = "none" if self.chart.rows else None

    def look(self) -> None:
        """Hold kept blends against the shelf, in a thread."""
        newest: dict[str, KeptVersion] = {}
        for one in kept_versions(the_journal()):
            newest.setdefault(one.version.blend_id, one)
        shelf, barred = shelf_left(), excluded_for(self._wearers())
        pairs = [*_blends([*newest.values()][:_MOST_BLENDS])][::-1]
        self._left_out = max(len(newest) - _MOST_BLENDS, 0)

        def work() -> list[tuple[KeptVersion, Tonight]]:
            found = tonight([kept for _, kept in pairs], shelf, excluded=barred)
            return [(one, row) for row in found for one, kept in pairs if kept is row.kept]

        self._looking.run(work, lambda found: self.message.guard(lambda: self._list(found))())

    def _list(self, result: Callable[[], list[tuple[KeptVersion, Tonight]]]) -> None:
        self._rows = result()
        named = [(one.label, row) for one, row in self._rows]
        more = (
            f"{counted(self._left_out, 'older blend')} not looked at." if self._left_out else ""
        )
        self.list.value = tonight_table(named, _NOTHING) + note(more)
        self.choosing.layout.display = None if named else "none"
        parts.set_options(self.kept, [(name, at) for at, (name, _) in enumerate(named)])

    def take(self) -> None:
        """Take the chosen blend in hand."""
        if self.kept.value is not None:
            one, _ = self._rows[self.kept.value]
            self.hand.use(hand.open_version(one))
            self.swapped.show([])
            self.message.say(f"{one.label} is in hand.")

    def swap(self) -> None:
        """Search for the chosen blend without the oil that is short."""
        one, chosen = self._rows[self.kept.value or 0] if self._rows else (None, None)
        if one is None or chosen is None or not chosen.relative:
            self.message.say("Choose a blend that is one oil short and has a near relative.")
            return
        blend, left = chosen.kept.blend, oils_left()
        missing = next(name for name in blend.oil_drops if shelf_id(name) in chosen.short)
        barred = excluded_for(self._wearers())
        self.message.work("Searching, two seconds at most …")
        self._search.run(
            lambda: replace_oil(blend, missing, left, excluded=barred),
            lambda found: self.message.guard(lambda: self._use(one, found))(),
        )

    def _use(self, one: KeptVersion, result: Callable[[], Replacement]) -> None:
        found = result()
        self.hand.use(hand.open_version(one))
        self.show(in_its_own_ratio(found.blend))
        self.swapped.show(found.sentences)
        self.message.say("The blend without it is in hand now. Undo takes it back.")

    def _wearers(self) -> Any:
        return self.hand.present.document.get("wearers", ())


def _blends(kept: list[KeptVersion]) -> Any:
    for one in kept:
        try:
            yield one, Kept(one.blend(), one.version.made_at.astimezone().date())
        except BlendkitError:
            continue  # it names a material that is no longer on record


def _prices(journal: Any) -> dict[str, str]:
    """Price of the pack bought last; else of one that was kept as on sale."""
    packs = kept_packs(journal, ("material", "size", "price"))
    found = {p["material"]: f"{p['price']} for {p['size']}" for p in packs if p["price"]}
    for name, row in current_stock(journal).items():
        paid = row.newest_price
        if paid and paid.price_per_m3 and row.bottle_m3:
            price = f"{paid.price_per_m3 * row.bottle_m3:.2f} {paid.currency}"
            found[name] = f"{price} for {show_ml(row.bottle_m3)}"
    return found
