"""The shelf price as one bar: where it goes."""

from blendkit.foundation.money import Money
from blendkit.selling.price import Price
from blendkit.showing.kit.look import ACCENT, EDGE, NOTE_COLOURS, RULE
from blendkit.showing.kit.rendering import render

_BASE, _MIDDLE, _TOP, _LIGHT = NOTE_COLOURS.values()
_COLOURS = (_BASE, _MIDDLE, _TOP, RULE, EDGE, _LIGHT, ACCENT)  # in the order of the parts


def price_bar(price: Price) -> str:
    """A picture of the parts of a price, what is yours on top, each with its amount."""
    code = price.terms.currency
    leads = {"materials": "at least ", "yours": "at most "} if price.cost.no_price else {}
    rows = [
        (name, part, colour, f"{name} · {leads.get(name, '')}{Money(part, code)}")
        for (name, part), colour in zip(price.parts.items(), _COLOURS, strict=True)
        if part > 0
    ]
    return render(
        "price_bar", rows=rows[::-1], price=price.shelf, shelf=Money(price.shelf, code)
    )
