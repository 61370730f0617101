"""The shelf price as one bar: where it goes."""

from __future__ import annotations

import itertools

from blendkit.foundation.money import Money
from blendkit.selling.price import FEES, MATERIALS, PACKAGING, SHOP, VAT, WORK, YOURS, Price
from blendkit.showing.kit.look import ACCENT, EDGE, NOTE_COLOURS, RULE
from blendkit.showing.kit.rendering import render

HEIGHT, _STEP, _TOP = 250.0, 22.0, 30.0
_COLOURS = {
    MATERIALS: NOTE_COLOURS["base"],
    WORK: NOTE_COLOURS["middle"],
    PACKAGING: NOTE_COLOURS["top"],
    FEES: RULE,
    SHOP: EDGE,
    VAT: NOTE_COLOURS["carrier"],
    YOURS: ACCENT,
}


def price_bar(price: Price) -> str:
    """A picture of the parts of a price, what is yours on top, each with its amount."""
    parts = {name: part for name, part in reversed(price.parts.items()) if part > 0}
    whole = sum(parts.values())
    heights = [part / whole * HEIGHT for part in parts.values()]
    tops = list(itertools.accumulate(heights, initial=_TOP))
    places = [top + height / 2 for top, height in zip(tops, heights, strict=False)]
    for i in range(1, len(places)):  # downward, so that no two words overlap
        places[i] = max(places[i], places[i - 1] + _STEP)
    for i, room in enumerate(reversed(range(len(places)))):  # and up from the lower edge
        places[i] = min(places[i], _TOP + HEIGHT - room * _STEP)
    leads = {MATERIALS: "at least ", YOURS: "at most "} if price.cost.no_price else {}
    rows = [
        {
            "name": name,
            "y": top,
            "height": height,
            "label": place,
            "words": f"{leads.get(name, '')}{Money(part, price.terms.currency)}",
            "percent": part / price.shelf * 100,
            "colour": _COLOURS[name],
        }
        for (name, part), top, height, place in zip(
            parts.items(), tops, heights, places, strict=False
        )
    ]
    return render(
        "price_bar",
        rows=rows,
        shelf=Money(price.shelf, price.terms.currency),
        top=_TOP + HEIGHT * (1 - price.shelf / whole),
        is_loss=price.yours < 0,
        height=_TOP + HEIGHT,
    )
