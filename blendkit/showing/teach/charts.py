"""The charts of a class, each built once; `blendkit.showing.teach.rows` makes their rows."""

from __future__ import annotations

import altair as alt

from blendkit.showing.kit.charts import (
    AS_GIVEN,
    FIT_WIDTH,
    ROOM_FOR_WORDS,
    dressed,
    named_rows,
    note_colour,
    short_names,
)
from blendkit.showing.kit.look import ALERT, INK, NOTE_COLOURS, PAPER, RULE
from blendkit.showing.teach.rows import EVERYBODY, EXERCISES

_WIDTH = 620
_NO_LINES = short_names(labelLimit=240)


def _bars(of: str, axis_title: str) -> tuple[alt.Chart, alt.LayerChart]:
    """Bars by oil in the colours of the notes, with words behind them."""
    base = named_rows().encode(y=alt.Y("oil:N", sort=AS_GIVEN, title=None, axis=_NO_LINES))
    bars = base.mark_bar(height={"band": 0.7}, stroke=INK, strokeWidth=0.6).encode(
        x=alt.X(f"{of}:Q", title=axis_title, axis=alt.Axis(tickMinStep=1, tickCount=6)),
        color=note_colour(),
        tooltip=[alt.Tooltip("oil:N"), alt.Tooltip("note:N"), alt.Tooltip("words:N")],
    )
    words = base.mark_text(align="left", dx=8, fontSize=13, color=INK).encode(
        x=f"{of}:Q", text="words:N"
    )
    chart: alt.LayerChart = (bars + words).properties(
        width=_WIDTH, height=alt.Step(30), autosize=FIT_WIDTH, padding=ROOM_FOR_WORDS
    )
    return base, chart


def demand_chart() -> alt.LayerChart:
    """Drops to have of each oil; the upright stroke is what a class uses on average."""
    base, bars = _bars("to_have", "drops")
    strokes = base.mark_tick(thickness=3, size=24, color=INK).encode(x="expected:Q")
    title = alt.TitleParams(
        "Drops to have of each oil",
        subtitle=[
            "bar: enough for whatever the class chooses",
            "upright stroke: used on average",
        ],
    )
    chart: alt.LayerChart = (bars + strokes).properties(title=title)
    return dressed(chart)


def card_chart() -> alt.LayerChart:
    """The most drops of each oil in one bottle."""
    _, bars = _bars("cap", "drops in one bottle")
    title = alt.TitleParams(
        "Never more drops of an oil than this",
        subtitle="and never more drops in all, nor more suns, than stands above",
    )
    chart: alt.LayerChart = bars.properties(title=title)
    return dressed(chart)


def run_chart() -> alt.LayerChart:
    """The class by the minute: which tray stands at which table."""
    kinds = ["base", "middle", "top", EXERCISES, EVERYBODY]
    colours = [*(NOTE_COLOURS[note] for note in kinds[:3]), PAPER, RULE]
    base = named_rows().encode(
        y=alt.Y("table:N", title=None, axis=_NO_LINES),
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
    title = alt.TitleParams(
        "Who has which bottles, minute by minute", subtitle="point at a bar for its oils"
    )
    chart: alt.LayerChart = (bars + words).properties(
        width=_WIDTH, height=alt.Step(44), autosize=FIT_WIDTH, title=title
    )
    return dressed(chart)


def gathered_chart() -> alt.LayerChart:
    """What each seat handed in: its drops by note, and who is over a limit."""
    base = named_rows().encode(y=alt.Y("seat:N", sort=AS_GIVEN, title=None, axis=_NO_LINES))
    bars = base.mark_bar(height={"band": 0.7}, stroke=INK, strokeWidth=0.6).encode(
        x=alt.X("drops:Q", title="drops of oil", axis=alt.Axis(tickMinStep=1)),
        color=note_colour(),
        order="order:Q",
        tooltip=[alt.Tooltip("seat:N"), alt.Tooltip("note:N"), alt.Tooltip("drops:Q")],
    )
    over = base.mark_text(align="left", dx=8, fontSize=13, color=ALERT, fontWeight=600).encode(
        x="max(total):Q", text="words:N"
    )
    title = alt.TitleParams(
        "What was handed in", subtitle="each bar a seat's drops, base note first"
    )
    chart: alt.LayerChart = (bars + over).properties(
        width=_WIDTH, height=alt.Step(28), autosize=FIT_WIDTH, title=title
    )
    return dressed(chart)
