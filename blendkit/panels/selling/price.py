"""Price to the shelf: where the price of a bottle goes, break-even, and the cost of a gift."""

from __future__ import annotations

import ipywidgets as widgets

from blendkit.batch.cost import Extra, cost, labour, packaging
from blendkit.batch.scaling import scale
from blendkit.batch.stock import OnShelf
from blendkit.blend.blend import Blend, BlendLike
from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.keeping.open_store import read_or
from blendkit.keeping.stock_entries import SHELF, current_stock
from blendkit.panels.bottle.blend_panel import BlendPanel
from blendkit.panels.kit import parts
from blendkit.selling.price import Price, amount, bottle_cost, price_for, read_terms
from blendkit.showing.selling.price_bar import price_bar


class PricePanel(BlendPanel):
    """Price of a bottle of the blend in hand.

    Attributes
    ----------
    found : Price
        The last good one.
    """

    notebook = "10_sell_with_a_file"
    found: Price

    def __init__(self, blend: BlendLike | None = None) -> None:
        super().__init__(blend)
        size = self.editor.bottle.quantity
        self.bottles = parts.unit_box("Made at once", f"× {size}", f"12 × {size}", "300px")
        self.currency = parts.text_box("Currency", "EUR", "300px")
        self.bottle, self.label = self._money("Empty bottle"), self._money("Label and box")
        self.hours = parts.unit_box("Work", "h", "", "300px", placeholder="2 h for all of them")
        self.rate = self._money("Pay for an hour")
        self.shop = self._share("Shop's share")
        self.payment, self.market = self._share("Payment fee"), self._share("Market fee")
        self.payment_each = self._money("Payment, each")
        self.market_each = self._money("Market, each")
        self.vat, self.fixed = self._share("VAT"), self._money("Fixed costs")
        self.target = parts.unit_box("Target margin", "%", "30 %", "300px")
        self.shelf = self._money("Shelf price", "from the margin")
        self.boxes = (
            self.bottles, self.currency, self.bottle, self.label, self.hours, self.rate,
            self.shop, self.payment, self.payment_each, self.market, self.market_each,
            self.vat, self.fixed, self.target, self.shelf,
        )  # fmt: skip
        for box in self.boxes:
            box.observe(self.refresh, "value")
        self.hand.watch.follow(self.refresh, *SHELF)
        self.bar, self.words = widgets.HTML(), parts.Findings("")
        self.results = parts.results(self.bar, self.words.view)
        made = parts.fold("What a bottle costs you", *self.boxes[:6])
        sold = parts.fold("Shop, fees, VAT", *self.boxes[6:13], parts.hint(_COUNTED))
        controls = (self.target, self.shelf, made, sold)
        self.lay_out(self.side_by_side(self.results, *controls), stale=(self.results,))

    def calculate(self, blend: Blend) -> None:
        """Show where the price goes."""
        code = self.currency.value.strip()
        fees = [
            (share.quantity, each.quantity)
            for share, each in (
                (self.payment, self.payment_each), (self.market, self.market_each),
            )
        ]  # fmt: skip
        terms = read_terms(code, self.shop.quantity, self.vat.quantity, fees)
        fixed = amount(self.fixed.quantity, code, "fixed costs")
        batch = scale(blend, self.bottles.quantity)
        count = sum(some.count for some in batch.bottles)
        there: dict[str, OnShelf] = read_or(current_stock, {})
        spent = cost(batch, there, currency=code, extras=self._extras(count))
        each = bottle_cost(spent)
        if self.shelf.value.strip():
            price = amount(self.shelf.quantity, code, "shelf price")
            if not price:
                needed = "an amount above 0"
                raise BadNumber([Problem("shelf price", quoted(self.shelf.value), needed)])
            found = Price(price, each, terms)
        else:
            found = price_for(self.target.quantity, each, terms)
        self.blend, self.found = blend, found
        self.bar.value = price_bar(found)
        self.words.show(found.sentences(fixed))
        self.defer(lambda: None)

    def _extras(self, count: int) -> list[Extra]:
        found = [
            packaging(box.description, box.quantity, count)
            for box in (self.bottle, self.label)
            if box.quantity
        ]
        if self.rate.quantity or self.hours.quantity:
            found.append(labour(self.hours.quantity, self.rate.quantity))
        return found

    def _money(self, label: str, placeholder: str = "none (money)") -> parts.QuantityBox:
        """A box for money, in the currency of this panel where none is typed."""
        return parts.unit_box(
            label, lambda: self.currency.value, width="300px", placeholder=placeholder
        )

    def _share(self, label: str) -> parts.QuantityBox:
        return parts.unit_box(label, "%", "", "300px", placeholder="none (%)")


_COUNTED = (
    "The shop's share is of the price before VAT, fees are of what the customer pays: common "
    "practice, no published source; your contract decides. No rate is filled in for you."
)
