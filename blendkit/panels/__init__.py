"""The panels of the notebooks; the only part of blendkit that talks to Jupyter.

Each function makes one panel, ready to be the last line of a cell. A panel is a plain object:
`panel.blend` is the blend on it and `panel.show(blend)` puts another one there; a blend, its
document, or the path of a kept one. A panel is
imported when it is asked for, so that a page waits for its own one only.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from blendkit.blend.blend import BlendLike
    from blendkit.panels.batch.panel import MakeMorePanel
    from blendkit.panels.bench.panel import MakeAndKeepPanel
    from blendkit.panels.bottle.panel import FirstBottlePanel
    from blendkit.panels.choosing.blind import BlindPanel
    from blendkit.panels.choosing.duels import DuelsPanel
    from blendkit.panels.choosing.loudness import LoudnessPanel
    from blendkit.panels.choosing.map import MapPanel
    from blendkit.panels.choosing.replace import ReplacePanel
    from blendkit.panels.choosing.tonight import TonightPanel
    from blendkit.panels.day.lesson import LessonPanel
    from blendkit.panels.day.panel import FadePanel
    from blendkit.panels.materials.panel import ShelfPanel
    from blendkit.panels.selling.batch_record import BatchRecordPanel
    from blendkit.panels.selling.handed_out import HandedOutPanel
    from blendkit.panels.selling.price import PricePanel
    from blendkit.panels.selling.product_file import ProductFilePanel
    from blendkit.panels.skin.panel import SkinPanel
    from blendkit.panels.teaching.panel import TeachPanel


def first_bottle(blend: BlendLike | None = None) -> FirstBottlePanel:
    """From a ratio to a bottle: drops, picture, bench sheet, sniff test."""
    from blendkit.panels.bottle.panel import FirstBottlePanel

    return FirstBottlePanel(blend)


def shelf() -> ShelfPanel:
    """Look along the shelf: search, volatility, sources, own lots."""
    from blendkit.panels.materials.panel import ShelfPanel

    return ShelfPanel()


def skin_check(blend: BlendLike | None = None) -> SkinPanel:
    """A blend against the skin limits on record, and the nearest one within them."""
    from blendkit.panels.skin.panel import SkinPanel

    return SkinPanel(blend)


def fade(blend: BlendLike | None = None) -> FadePanel:
    """A blend through the day: each note as a share of its start, with its band."""
    from blendkit.panels.day.panel import FadePanel

    return FadePanel(blend)


def make_and_keep(blend: BlendLike | None = None) -> MakeAndKeepPanel:
    """The bench: tap what goes in, keep versions, sniff on time; all of it in the journal."""
    from blendkit.panels.bench.panel import MakeAndKeepPanel

    return MakeAndKeepPanel(blend)


def make_more(blend: BlendLike | None = None) -> MakeMorePanel:
    """One good bottle made many: weigh, shelf, cost, shopping list, label."""
    from blendkit.panels.batch.panel import MakeMorePanel

    return MakeMorePanel(blend)


def price(blend: BlendLike | None = None) -> PricePanel:
    """Where the price of a bottle goes: shop, fees, VAT, break-even, a gift."""
    from blendkit.panels.selling.price import PricePanel

    return PricePanel(blend)


def lesson(step: int) -> LessonPanel:
    """One of the ten small steps that teach why a blend fades, with something to drag."""
    from blendkit.panels.day.lesson import LessonPanel

    return LessonPanel(step)


def teach(document: Mapping[str, Any] | None = None) -> TeachPanel:
    """A class: plan, what to buy, the card, run sheet, hand-outs, the journal afterwards."""
    from blendkit.panels.teaching.panel import TeachPanel

    return TeachPanel(document)


def batch_record() -> BatchRecordPanel:
    """Record of a batch: amounts, checks, deviations, release, and looks at the kept sample."""
    from blendkit.panels.selling.batch_record import BatchRecordPanel

    return BatchRecordPanel()


def product_file() -> ProductFilePanel:
    """Facts of a version for one market, in one zip for an assessor."""
    from blendkit.panels.selling.product_file import ProductFilePanel

    return ProductFilePanel()


def handed_out() -> HandedOutPanel:
    """Who got which bottle: handovers, gift tags, reactions, recalls, forgetting somebody."""
    from blendkit.panels.selling.handed_out import HandedOutPanel

    return HandedOutPanel()


def replace_oil(blend: BlendLike | None = None) -> ReplacePanel:
    """The nearest blend without an oil that ran out, from what is in stock."""
    from blendkit.panels.choosing.replace import ReplacePanel

    return ReplacePanel(blend)


def blend_map(blend: BlendLike | None = None) -> MapPanel:
    """A blend on a map between three corners: who leads, what is over a limit; drag it."""
    from blendkit.panels.choosing.map import MapPanel

    return MapPanel(blend)


def tonight() -> TonightPanel:
    """What the shelf answers: what can be made tonight, and what one more oil would add."""
    from blendkit.panels.choosing.tonight import TonightPanel

    return TonightPanel()


def loudness_match() -> LoudnessPanel:
    """How loud each oil of the blend in hand is to a nose, and a ratio that lets all speak."""
    from blendkit.panels.choosing.loudness import LoudnessPanel

    return LoudnessPanel()


def sniff_duels(blend: BlendLike | None = None) -> DuelsPanel:
    """Which miniature to make next: this one or that one, until one is liked best."""
    from blendkit.panels.choosing.duels import DuelsPanel

    return DuelsPanel(blend)


def blind_test() -> BlindPanel:
    """Two bottles by code: is one better, or different at all?"""
    from blendkit.panels.choosing.blind import BlindPanel

    return BlindPanel()


def get_ready() -> None:
    """Calculate once what most panels calculate, in a kernel that waits for its notebook."""
    from blendkit.blend.blend import Blend
    from blendkit.evaporation.conditions import Conditions
    from blendkit.evaporation.wear import film_of
    from blendkit.foundation.data import example_document
    from blendkit.panels.bottle import ingredient_rows, panel

    blend = Blend(example_document())
    panel.state_of(blend, film_of(blend.bottle, Conditions()), put_on_at=9)
    ingredient_rows.oil_options("top")


__all__ = [
    "batch_record", "blend_map", "blind_test", "fade", "first_bottle", "handed_out", "lesson",
    "loudness_match", "make_and_keep", "make_more", "price", "product_file", "replace_oil",
    "shelf", "skin_check", "sniff_duels", "teach", "tonight",
]  # fmt: skip
