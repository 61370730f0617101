"""The charts of a class: what to buy, and the card."""

import altair as alt

from blendkit.showing.kit import chart_parts as parts
from blendkit.showing.kit.look import INK

_NAMES = parts.name_axis(labelLimit=240)


def _by_oil() -> alt.Chart:
    return parts.named_rows().encode(y=parts.names_down("oil", _NAMES))


def _bars(of: str, axis_title: str) -> list[alt.Chart]:
    """Bars by oil in the colours of the notes, with words behind them."""
    base = _by_oil()
    bars = parts.outlined_bars(base).encode(
        x=alt.X(f"{of}:Q", title=axis_title, axis=alt.Axis(tickMinStep=1, tickCount=6)),
        color=parts.note_colour(),
        tooltip=[alt.Tooltip("oil:N"), alt.Tooltip("note:N"), alt.Tooltip("words:N")],
    )
    return [bars, parts.words_after(base, f"{of}:Q")]


def demand_chart() -> alt.LayerChart:
    """Drops to have of each oil; the upright stroke is what a class uses on average."""
    strokes = _by_oil().mark_tick(thickness=3, size=24, color=INK).encode(x="expected:Q")
    return parts.assemble(
        *_bars("to_have", "drops"),
        strokes,
        title="Drops to have of each oil",
        subtitle=[
            "bar: enough for whatever the class chooses",
            "upright stroke: used on average",
        ],
        height=alt.Step(30),
        padding=parts.ROOM_FOR_WORDS,
    )


def card_chart() -> alt.LayerChart:
    """The most drops of each oil in one bottle."""
    return parts.assemble(
        *_bars("cap", "drops in one bottle"),
        title="Never more drops of an oil than this",
        subtitle="and never more drops in all, nor more suns, than shown above",
        height=alt.Step(30),
        padding=parts.ROOM_FOR_WORDS,
    )
