"""Price to the shelf: where the price of a bottle goes, break-even, and the cost of a gift."""

import ipywidgets as widgets

from blendkit.batch.cost import Extra, labour, packaging
from blendkit.batch.scaling import scale
from blendkit.blend.blend import Blend, BlendLike
from blendkit.keeping.batch_cost import cost
from blendkit.keeping.stock_entries import SHELF
from blendkit.panels.bottle.blend_panel import BlendPanel
from blendkit.panels.kit import parts
from blendkit.selling.price import Price, bottle_cost, price_for, read_amount, read_terms
from blendkit.showing.selling.price_bar import price_bar

_WIDTH, _MONEY = "300px", "money"
_BOXES = {  # label, unit, and what it opens with
    "target": ("Target margin", "%", "30 %"),
    "shelf": ("Shelf price", _MONEY, ""),
    "currency": ("Currency", "", "EUR"),
    "bottles": ("Made at once", "× {}", "12 × {}"),
    "bottle": ("Empty bottle", _MONEY, ""),
    "label": ("Label and box", _MONEY, ""),
    "hours": ("Work, for all", "h", ""),
    "rate": ("Pay for an hour", _MONEY, ""),
    "shop": ("Shop's share", "%", ""),
    "payment": ("Payment fee", "%", ""),
    "each": ("Payment, each", _MONEY, ""),
    "market": ("Market fee", "%", ""),
    "market_each": ("Market, each", _MONEY, ""),
    "vat": ("VAT", "%", ""),
    "fixed": ("Fixed costs", _MONEY, ""),
}
_NO_COST = "Enter prices paid in the stock, or type a shelf price."
_COUNTED = (
    "The shop's share is of the price before VAT, fees are of what the customer pays: common "
    "practice, no published source; your contract decides. No rate is filled in for you."
)


class PricePanel(BlendPanel):
    """Price of a bottle of the blend in hand.

    Attributes
    ----------
    found : Price
        The last good one.
    boxes : dict of str to Text
    """

    notebook = "10_sell_with_a_file"
    found: Price

    def __init__(self, blend: BlendLike | None = None) -> None:
        super().__init__(blend)
        size = self.editor.bottle.quantity
        self.boxes: dict[str, parts.QuantityBox] = {}
        for name, (label, unit, value) in _BOXES.items():
            of = (lambda: self.boxes["currency"].value) if unit == _MONEY else unit.format(size)
            box = parts.unit_box(label, of, value.format(size), _WIDTH, placeholder=unit)
            box.observe(self.refresh, "value")
            self.boxes[name] = self.hand.settings["price", name] = box
        boxes = [*self.boxes.values()]
        self.hand.watch.follow(self.refresh, *SHELF)
        self.bar, self.words = widgets.HTML(), parts.Findings(_NO_COST)
        self.results = parts.results(self.bar, self.words.view)
        made = parts.fold("What a bottle costs you", *boxes[2:8])
        sold = parts.fold("Shop, fees, VAT", *boxes[8:], parts.hint(_COUNTED))
        controls = (*boxes[:2], made, sold)
        self.lay_out(self.side_by_side(self.results, *controls), stale=(self.results,))

    def calculate(self, blend: Blend) -> None:
        """Show where the price goes."""
        self.blend = blend
        self.defer(lambda: None)  # the verdict
        typed = {name: box.quantity for name, box in self.boxes.items()}
        code = typed["currency"]
        fees = (typed["payment"], typed["each"]), (typed["market"], typed["market_each"])
        terms = read_terms(code, typed["shop"], typed["vat"], fees)
        batch = scale(blend, typed["bottles"])
        count = sum(some.count for some in batch.bottles)
        each = bottle_cost(cost(batch, currency=code, extras=_extras(typed, count)))
        if typed["shelf"]:
            found = Price(read_amount(typed["shelf"], code, "shelf price"), each, terms)
        else:
            found = price_for(typed["target"], each, terms)
        fixed = read_amount(typed["fixed"], code, "fixed costs")
        self.found = found
        self.bar.value = price_bar(found) if found.shelf else ""
        self.words.show(found.sentences(fixed) if found.shelf else [])


def _extras(typed: dict[str, str], count: int) -> list[Extra]:
    pieces = [packaging(_BOXES[x][0], typed[x], count) for x in ("bottle", "label") if typed[x]]
    is_paid = typed["hours"] or typed["rate"]
    return [*pieces, labour(typed["hours"], typed["rate"])] if is_paid else pieces
