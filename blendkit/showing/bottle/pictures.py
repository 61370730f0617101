"""The bottle as a picture: an SVG drawn from a filling.

Drawn by hand rather than by a charting library because it is a drawing, and because it must
be redrawn at every move of a slider.
"""

from typing import NamedTuple

from blendkit.blend.filling import Filling
from blendkit.foundation.units import show_ml
from blendkit.showing.kit.rendering import render

WIDTH, HEIGHT = 356, 430
_LEFT, _RIGHT, _TOP, _BOTTOM = 26, 108, 76, 418
_LABEL_STEP = 21
_LONGEST = 30  # characters that a label has room for, in a wide font too


class _Layer(NamedTuple):
    """A band of the drawing: its words and where it lies."""

    name: str
    amount: str
    note: str
    top: float
    bottom: float


def bottle_picture(filling: Filling, held: Filling | None = None) -> str:
    """The bottle filled by material, base note at the bottom, with a label for each.

    The layers show amounts; in the real bottle they mix.

    Parameters
    ----------
    filling : Filling
    held : Filling, optional
        Another one to compare it with, drawn thinner to its left.

    Returns
    -------
    str
        An SVG element with a text alternative; names in it are escaped.
    """
    layers = _layers(filling)
    heights = _spread([(layer.top + layer.bottom) / 2 for layer in layers])
    return render(
        "bottle_picture", width=WIDTH, height=HEIGHT, left=_LEFT, right=_RIGHT, top=_TOP,
        bottom=_BOTTOM, neck=(_LEFT + _RIGHT) / 2, layers=layers, short=_short, count=_count,
        labels=list(zip(layers, heights, strict=True)), held=_layers(held) if held else [],
    )  # fmt: skip


def _layers(filling: Filling) -> list[_Layer]:
    fields = filling.fields
    per_m3 = (_BOTTOM - _TOP) / fields.bottle_m3
    herbs_m3 = fields.botanicals_m3
    parts = [("Dried botanicals", show_ml(herbs_m3), "botanicals", herbs_m3)]
    for each in filling.portions:
        poured = each.drops is None
        amount = show_ml(each.volume_m3) if poured else fields.count_in_words(each.drops or 0)
        parts.append((each.name, amount, each.note, each.volume_m3))
    level, layers = float(_BOTTOM), []
    for name, amount, note, volume_m3 in parts:
        if volume_m3:
            layers.append(_Layer(name, amount, note, level - volume_m3 * per_m3, level))
            level = layers[-1].top
    if level < _TOP - 0.5:
        over = show_ml((_TOP - level) / per_m3)
        layers.append(_Layer("above the mark", over, "", level, level))
    return layers


def _spread(middles: list[float]) -> list[float]:
    """Heights for labels, lowest first: near their layers but never on top of each other."""
    heights = [min(middles[0], _BOTTOM - 6.0)] if middles else []
    for height in middles[1:]:
        heights.append(min(height, heights[-1] - _LABEL_STEP))
    highest = _TOP - 66.0
    if heights and heights[-1] < highest:
        step = (heights[0] - highest) / max(len(heights) - 1, 1)
        heights = [heights[0] - step * place for place in range(len(heights))]
    return heights


def _count(layer: _Layer) -> str:
    return layer.amount.partition(" drop")[0]


def _short(layer: _Layer) -> str:
    """Its name, cut to the room that its amount leaves."""
    name, room = layer.name, _LONGEST - len(_count(layer))
    name = name if len(name) <= room else name.partition(" (")[0]
    return name if len(name) <= room else name[: room - 1].rstrip(" /(") + "…"
