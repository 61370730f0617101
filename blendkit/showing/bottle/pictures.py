"""The bottle as a picture: an SVG drawn from a filling.

Drawn by hand rather than by a charting library because it is a drawing, and because it must
be redrawn at every move of a slider.
"""

from __future__ import annotations

from dataclasses import dataclass
from html import escape

from blendkit.blend.filling import Filling, Portion
from blendkit.foundation.units import ML_PER_M3, counted, show, show_g
from blendkit.showing.kit.look import (
    FAINT_INK,
    FONT,
    INK,
    NOTE_COLOURS,
    NOTE_WORDS,
    PAPER,
    RULE,
)

WIDTH, HEIGHT = 520, 400
_LEFT, _RIGHT, _TOP, _BOTTOM = 24, 144, 96, 384
_LABEL_X, _LABEL_STEP = 178, 21


@dataclass(frozen=True)
class _Layer:
    """A band of the drawing: its words and where it lies."""

    words: str
    note: str
    top: float
    bottom: float

    @property
    def middle(self) -> float:
        return (self.top + self.bottom) / 2


def bottle_picture(filling: Filling) -> str:
    """The bottle filled by material, base note at the bottom, with a label for each.

    The layers show amounts; in the real bottle they mix.

    Parameters
    ----------
    filling : Filling

    Returns
    -------
    str
        An SVG element with a text alternative; names in it are escaped.
    """
    layers = list(_layers(filling))
    drawn = [_outline(), *(_band(layer) for layer in layers)]
    for layer, label_y in zip(layers, _spread([layer.middle for layer in layers]), strict=True):
        drawn.append(_label(layer, label_y))
    drawn.append(_glass())
    words = escape("; ".join(layer.words for layer in reversed(layers)))
    return (
        f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}" height="{HEIGHT}" role="img" '
        f'style="max-width:100%;font-family:{FONT}" aria-label="Bottle, from the top: {words}">'
        f"{''.join(drawn)}</svg>"
    )


def _layers(filling: Filling) -> list[_Layer]:
    per_m3 = (_BOTTOM - _TOP) / filling.fields.bottle_m3
    level, layers = float(_BOTTOM), []
    botanicals_m3 = filling.fields.botanicals_m3
    if botanicals_m3:
        words = f"Dried botanicals · {show(botanicals_m3 * ML_PER_M3)} mL"
        layers.append(_Layer(words, "botanicals", level - botanicals_m3 * per_m3, level))
        level = layers[-1].top
    for portion in filling.portions:
        if portion.volume_m3:
            top = level - portion.volume_m3 * per_m3
            layers.append(_Layer(_words(portion), portion.note, top, level))
            level = top
    return layers


def _words(portion: Portion) -> str:
    if portion.drops is None:
        return f"{portion.name} · {show(portion.volume_m3 * ML_PER_M3)} mL"
    amount = show_g(portion.mass_kg) if portion.is_weighed else counted(portion.drops, "drop")
    return f"{portion.name} · {amount}"


def _spread(middles: list[float]) -> list[float]:
    """Heights for labels, lowest first: near their layers but never on top of each other."""
    heights = [min(middles[0], _BOTTOM - 6.0)] if middles else []
    for height in middles[1:]:
        heights.append(min(height, heights[-1] - _LABEL_STEP))
    highest = _TOP - 76.0
    if heights and heights[-1] < highest:
        step = (heights[0] - highest) / max(len(heights) - 1, 1)
        heights = [heights[0] - step * place for place in range(len(heights))]
    return heights


def _outline() -> str:
    neck = (_LEFT + _RIGHT) / 2
    return (
        f'<circle cx="{neck}" cy="38" r="20" fill="{PAPER}" stroke="{RULE}" stroke-width="2"/>'
        f'<rect x="{neck - 26}" y="46" width="52" height="26" rx="4" fill="{RULE}"/>'
        f'<path d="M{neck - 24} 72 L{neck - 24} 80 Q{_LEFT} 84 {_LEFT} {_TOP} L{_RIGHT} {_TOP} '
        f'Q{_RIGHT} 84 {neck + 24} 80 L{neck + 24} 72 Z" fill="{PAPER}" stroke="none"/>'
        f'<clipPath id="glass"><rect x="{_LEFT}" y="{_TOP - 8}" width="{_RIGHT - _LEFT}" '
        f'height="{_BOTTOM - _TOP + 8}" rx="12"/></clipPath>'
    )


def _band(layer: _Layer) -> str:
    colour = NOTE_COLOURS.get(layer.note, "#8a9a6b")
    return (
        f'<rect x="{_LEFT}" y="{layer.top:.2f}" width="{_RIGHT - _LEFT}" '
        f'height="{layer.bottom - layer.top:.2f}" fill="{colour}" stroke="{PAPER}" '
        'stroke-width="1" clip-path="url(#glass)"/>'
    )


def _label(layer: _Layer, label_y: float) -> str:
    note = NOTE_WORDS.get(layer.note, "")
    return (
        f'<polyline points="{_RIGHT},{layer.middle:.1f} {_RIGHT + 12},{layer.middle:.1f} '
        f'{_LABEL_X - 10},{label_y:.1f} {_LABEL_X - 4},{label_y:.1f}" fill="none" '
        f'stroke="{FAINT_INK}" stroke-width="1"/>'
        f'<text x="{_LABEL_X}" y="{label_y + 5:.1f}" font-size="14" fill="{INK}">'
        f"{escape(layer.words)}<title>{escape(note)}</title></text>"
    )


def _glass() -> str:
    neck = (_LEFT + _RIGHT) / 2
    return (
        f'<path d="M{neck - 24} 72 L{neck - 24} 80 Q{_LEFT} 84 {_LEFT} {_TOP} '
        f"L{_LEFT} {_BOTTOM - 12} Q{_LEFT} {_BOTTOM} {_LEFT + 12} {_BOTTOM} "
        f"L{_RIGHT - 12} {_BOTTOM} Q{_RIGHT} {_BOTTOM} {_RIGHT} {_BOTTOM - 12} "
        f'L{_RIGHT} {_TOP} Q{_RIGHT} 84 {neck + 24} 80 L{neck + 24} 72" '
        f'fill="none" stroke="{INK}" stroke-width="2.5"/>'
    )
