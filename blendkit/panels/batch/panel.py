"""Panel 07: make more — batch size, weighing, stock, cost, shopping, label, selling."""

from dataclasses import replace
from datetime import date

import ipywidgets as widgets

from blendkit.batch.stock import OnShelf
from blendkit.batch.weighing import check_skin
from blendkit.blend.blend import Blend, BlendLike
from blendkit.foundation.errors import Refused
from blendkit.foundation.units import ML_PER_M3, show_ml
from blendkit.journal.records import BatchRow, PacksRow
from blendkit.keeping.makings import batch_materials
from blendkit.keeping.open_store import read_or, the_journal
from blendkit.keeping.stock_entries import SHELF, current_stock
from blendkit.materials.amounts import shelf_id
from blendkit.panels.batch.controls import BatchControls
from blendkit.panels.batch.label import LabelSection, SellerSection
from blendkit.panels.batch.money import BuySection, CostSection
from blendkit.panels.batch.sections import (
    BatchSection,
    Making,
    MasterSection,
    ShelfSection,
    WeighSection,
)
from blendkit.panels.bottle.blend_panel import BlendPanel
from blendkit.panels.kit import parts
from blendkit.skin.verdict import judge


class MakeMorePanel(BlendPanel):
    """Scaling one bottle to a batch, from stock to label.

    Attributes
    ----------
    making : Making
        The last valid batch, with the stock and its skin check.
    """

    notebook = "07_make_more"
    making: Making

    def __init__(self, blend: BlendLike | None = None) -> None:
        super().__init__(blend)
        self.amount = BatchControls(f"12 × {self.editor.bottle.quantity}", self.refresh)
        self.weigh = WeighSection()
        self.master = MasterSection()
        self.shelf = ShelfSection(self.refresh)
        self.cost = CostSection(self.show)
        self.buy = BuySection()
        self.label = LabelSection()
        self.seller = SellerSection()
        self.hand.settings["label", "page"] = self.label.typing["page"]
        self.label.typing["page"].observe(self.refresh, "value")
        self.hand.watch.follow(self.refresh, *SHELF)
        self.hand.watch.follow(self.message.guard(self.buy.follow), PacksRow)
        self.tabs = widgets.Tab([section.view for section in self.sections().values()])
        self.tabs.titles = tuple(self.sections())
        self._made: BatchRow | None = None
        write = parts.button("Record batch as made", self.message.guard(self.write_down))
        self.unmake = parts.button("Undo this batch", self.message.guard(self.undo))
        self.unmake.layout.display = "none"
        market = self.editor.market.controls
        controls = (self.amount.view, *market, parts.row(write, self.unmake))
        self.results = parts.results(self.tabs)
        # below the controls rather than too narrow next to them
        self.results.layout.min_width = "min(600px, 100%)"
        self.lay_out(self.side_by_side(self.results, *controls), stale=(self.results,))

    def sections(self) -> dict[str, BatchSection]:
        """The sections by their titles."""
        return {
            "Weigh": self.weigh,
            "Oil concentrate": self.master,
            "Stock": self.shelf,
            "Cost": self.cost,
            "Buy": self.buy,
            "Label": self.label,
            "Selling": self.seller,
        }

    def calculate(self, blend: Blend) -> None:
        """Scale the blend and show the batch."""
        batch = self.amount.batch(blend)
        self.blend = blend
        refused, on_shelf = None, dict[str, OnShelf]()
        try:  # without a journal, the line of the kept blends shows why
            on_shelf = read_or(current_stock, {})
        except Refused as error:
            refused = error
        skin = check_skin(batch.weighings, batch.blend)
        self.making = Making(batch, on_shelf, skin)
        self.weigh.offer(self.making)
        self.defer(lambda: self._rest(refused))

    def write_down(self) -> None:
        """Record the batch in the journal under its lot; it is taken from stock."""
        journal, batch = the_journal(), self.making.batch
        kept, _ = self.saved.keep_version(journal, self.blend)
        made_on = date.today()
        lot = self.label.typing["lot"].value.strip() or journal.next_lot(made_on)
        amounts = ((each.material, each.volume_m3, each.mass_kg) for each in batch.weighings)
        materials = batch_materials(journal, amounts)
        bottles = [(some.count, some.bottle_m3 * ML_PER_M3) for some in batch.bottles]
        record = BatchRow(version_id=kept.version.id, lot=lot, made_on=made_on)
        self._made = journal.make_batch(record, bottles, materials)
        self.unmake.layout.display = None
        self.update()
        self._afterwards.finish()
        held = [self.making.on_shelf.get(shelf_id(each.material)) for each in batch.weighings]
        known = [one for one in held if one and one.left_m3 >= 0]
        left = ", ".join(f"{one.name} {show_ml(one.left_m3)}" for one in known)
        text = f"Batch made, {kept.label}, lot {lot}. Left: {left or 'nothing on record'}."
        self.message.say(text)

    def undo(self) -> None:
        """Withdraw the batch that was recorded last; what it took is in stock again."""
        if self._made is not None:
            the_journal().withdraw(self._made)
            lot, self._made = self._made.lot, None
            self.unmake.layout.display = "none"
            self.update()
            self.message.say(f"Undone: lot {lot} was not made.")

    def _rest(self, refused: Refused | None) -> None:
        judged = self.judged
        if not judged.warning:  # as weighed, the last digit of the scale may tip it
            judged = judge(self.blend, self.making.skin, in_drops=False)
        self.making = replace(self.making, judged=judged)
        for section in self.sections().values():
            section.offer(self.making)
        if refused:
            self.shelf.message.refuse(refused)
