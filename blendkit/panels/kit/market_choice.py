"""Choosers of the market: where the product is sold or worn, and as what."""

from collections.abc import Callable

from blendkit.blend.market import Market, regions
from blendkit.panels.kit.parts import choice, observe
from blendkit.skin.uses import use_options


class MarketChoice:
    """Two choosers that together give a `Market`.

    Parameters
    ----------
    changed : callable
        Called whenever another region or use is chosen.
    """

    def __init__(self, changed: Callable[..., None]) -> None:
        self.region = choice("Sold or worn in", [(Market(key).place, key) for key in regions()])
        self.use = choice("As", use_options(), "420px")
        self.controls = (self.region, self.use)
        observe(changed, *self.controls)

    @property
    def document(self) -> dict[str, str]:
        """What is chosen, good or bad."""
        return {"region": self.region.value, "use": self.use.value}

    @property
    def market(self) -> Market:
        """The market chosen; `BadNumber` with the reason for a use that is not offered."""
        return Market(**self.document)

    def show(self, market: Market) -> None:
        """Choose a market."""
        self.region.value, self.use.value = market.region, market.use
