"""The charts of a class: what to buy, the card, and the run sheet."""

from __future__ import annotations

import altair as alt

from blendkit.showing.kit import chart_parts as parts
from blendkit.showing.kit.look import INK, NOTE_COLOURS, PAPER, RULE
from blendkit.showing.teach.rows import EVERYBODY, EXERCISES

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


def run_chart() -> alt.LayerChart:
    """The class by the minute: the tray at each table."""
    kinds = ["base", "middle", "top", EXERCISES, EVERYBODY]
    colours = [*(NOTE_COLOURS[note] for note in kinds[:3]), PAPER, RULE]
    base = parts.named_rows().encode(
        y=alt.Y("table:N", title=None, axis=_NAMES),
        tooltip=[
            alt.Tooltip("what:N", title="what"),
            alt.Tooltip("start:Q", title="from minute"),
            alt.Tooltip("end:Q", title="to minute"),
            alt.Tooltip("oils:N", title="oils on the table"),
        ],
    )
    bars = base.mark_bar(height={"band": 0.78}, stroke=INK, strokeWidth=0.8).encode(
        x=alt.X("start:Q", title="minutes from the beginning", axis=alt.Axis(tickCount=10)),
        x2="end:Q",
        color=alt.Color(
            "kind:N",
            title=None,
            scale=alt.Scale(domain=kinds, range=colours),
            legend=alt.Legend(orient="top", symbolStrokeColor=INK, symbolStrokeWidth=0.8),
        ),
    )
    # in words as well: on paper some colours print as the same grey; the ink itself is too
    # faint on the middle note's colour
    room = alt.ExprRef("scale('x', datum.end) - scale('x', datum.start) - 4")
    words = base.mark_text(fontSize=13, limit=room).encode(
        x="middle:Q",
        text="label:N",
        color=alt.condition("datum.kind == 'base'", alt.value(PAPER), alt.value("black")),
    )
    return parts.assemble(
        bars,
        words,
        title="Who has which bottles, minute by minute",
        subtitle="point at a bar for its oils",
        height=alt.Step(44),
    )
