"""The bottle as a picture: an SVG drawn from a filling.

Drawn by hand rather than by a charting library because it is a drawing, and because it must
be redrawn at every move of a slider.
"""

from __future__ import annotations

from dataclasses import dataclass
from html import escape

from blendkit.blend.filling import Filling, Portion
from blendkit.foundation.units import ML_PER_M3, show
from blendkit.showing.kit.look import (
    FAINT_INK,
    FONT,
    INK,
    NOTE_COLOURS,
    NOTE_WORDS,
    PAPER,
    RULE,
)

WIDTH, HEIGHT = 356, 430
_LEFT, _RIGHT, _TOP, _BOTTOM = 26, 108, 76, 418
_HELD_LEFT, _HELD_RIGHT = 2, 16  # the bottle held for comparison, thinner
_LABEL_X, _LABEL_STEP = 126, 21
_LONGEST = 30  # characters that a label has room for, in a wide font too
_NECK = (_LEFT + _RIGHT) / 2
_GLASS = (
    f"M{_NECK - 22} 52 L{_NECK - 22} 60 Q{_LEFT} 64 {_LEFT} {_TOP} "
    f"L{_LEFT} {_BOTTOM - 12} Q{_LEFT} {_BOTTOM} {_LEFT + 12} {_BOTTOM} "
    f"L{_RIGHT - 12} {_BOTTOM} Q{_RIGHT} {_BOTTOM} {_RIGHT} {_BOTTOM - 12} "
    f"L{_RIGHT} {_TOP} Q{_RIGHT} 64 {_NECK + 22} 60 L{_NECK + 22} 52"
)
_INSIDE = 'clip-path="url(#glass)"'


@dataclass(frozen=True)
class _Layer:
    """A band of the drawing: its words and where it lies."""

    name: str
    amount: str
    note: str
    top: float
    bottom: float

    @property
    def middle(self) -> float:
        return (self.top + self.bottom) / 2


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
    layers = list(_layers(filling))
    drawn = [_outline(), *(_band(layer, _LEFT, _RIGHT, _INSIDE) for layer in layers)]
    for layer, label_y in zip(layers, _spread([layer.middle for layer in layers]), strict=True):
        drawn.append(_label(layer, label_y))
    drawn.append(_glass())
    words = _in_words(layers)
    if held is not None:
        before = list(_layers(held))
        drawn += [_band(layer, _HELD_LEFT, _HELD_RIGHT) for layer in before]
        words += f". Held: {_in_words(before)}"
    return (
        f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}" height="{HEIGHT}" role="img" '
        f'style="max-width:100%;font-family:{FONT}" aria-label="Bottle, from the top: {words}">'
        f"{''.join(drawn)}</svg>"
    )


def _in_words(layers: list[_Layer]) -> str:
    return escape("; ".join(f"{layer.name} · {layer.amount}" for layer in reversed(layers)))


def _layers(filling: Filling) -> list[_Layer]:
    per_m3 = (_BOTTOM - _TOP) / filling.fields.bottle_m3
    level, layers = float(_BOTTOM), []
    botanicals_m3 = filling.fields.botanicals_m3
    if botanicals_m3:
        amount = f"{show(botanicals_m3 * ML_PER_M3)} mL"
        top = level - botanicals_m3 * per_m3
        layers.append(_Layer("Dried botanicals", amount, "botanicals", top, level))
        level = layers[-1].top
    for portion in filling.portions:
        if portion.volume_m3:
            top = level - portion.volume_m3 * per_m3
            amount = _amount(filling, portion)
            layers.append(_Layer(portion.name, amount, portion.note, top, level))
            level = top
    if level < _TOP - 0.5:
        over = show((_TOP - level) / per_m3 * ML_PER_M3)
        layers.append(_Layer("above the mark", f"{over} mL", "", level, level))
    return layers


def _amount(filling: Filling, portion: Portion) -> str:
    if portion.drops is None:
        return f"{show(portion.volume_m3 * ML_PER_M3)} mL"
    return filling.fields.count_in_words(portion.drops)


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


def _outline() -> str:
    return (
        f'<circle cx="{_NECK}" cy="22" r="18" fill="{PAPER}" stroke="{RULE}" stroke-width="2"/>'
        f'<rect x="{_NECK - 25}" y="28" width="50" height="24" rx="4" fill="{RULE}"/>'
        f'<path d="M{_NECK - 22} 52 L{_NECK - 22} 60 Q{_LEFT} 64 {_LEFT} {_TOP} '
        f"L{_RIGHT} {_TOP} "
        f'Q{_RIGHT} 64 {_NECK + 22} 60 L{_NECK + 22} 52 Z" fill="{PAPER}" stroke="none"/>'
        f'<clipPath id="glass"><path d="{_GLASS}"/></clipPath>'
    )


def _band(layer: _Layer, left: int, right: int, inside: str = "") -> str:
    colour = NOTE_COLOURS.get(layer.note, "#8a9a6b")
    return (
        f'<rect x="{left}" y="{layer.top:.2f}" width="{right - left}" '
        f'height="{layer.bottom - layer.top:.2f}" fill="{colour}" stroke="{PAPER}" '
        f'stroke-width="1" {inside}/>'
    )


def _label(layer: _Layer, label_y: float) -> str:
    note = NOTE_WORDS.get(layer.note, "")
    amount = layer.amount.partition(" drop")[0]
    name, room = layer.name, _LONGEST - len(amount)
    name = name if len(name) <= room else name.partition(" (")[0]
    name = name if len(name) <= room else name[: room - 1].rstrip(" /(") + "…"
    return (
        f'<polyline points="{_RIGHT},{layer.middle:.1f} {_RIGHT + 5},{layer.middle:.1f} '
        f'{_LABEL_X - 8},{label_y:.1f} {_LABEL_X - 4},{label_y:.1f}" fill="none" '
        f'stroke="{FAINT_INK}" stroke-width="1"/>'
        f'<text x="{_LABEL_X}" y="{label_y + 5:.1f}" font-size="13" fill="{INK}">'
        f"{escape(name)} · "
        f'<tspan font-weight="600">{escape(amount)}</tspan>'
        f"<title>{escape(layer.name)}, {escape(note)}</title></text>"
    )


def _glass() -> str:
    return f'<path d="{_GLASS}" fill="none" stroke="{INK}" stroke-width="2.5"/>'
