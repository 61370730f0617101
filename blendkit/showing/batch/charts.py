"""Altair charts of a batch, each built once; afterwards only the rows of its data change."""

from __future__ import annotations

from typing import Any

import altair as alt

from blendkit.foundation.schema import NOTES
from blendkit.showing.batch.rows import ENOUGH, LACKS, MOST_SHOWN
from blendkit.showing.kit.charts import (
    AS_GIVEN,
    FIT_WIDTH,
    ROOM_FOR_WORDS,
    TOP_LEGEND,
    dressed,
    named_rows,
    note_colour,
    short_names,
)
from blendkit.showing.kit.look import ACCENT, ALERT, INK, NOTE_COLOURS, PAPER, RULE

# written out: the cache of `panels.chart_view` looks at the texts of charts and rows alone
_KINDS = ["oil", "carrier", "packaging", "labour"]
_NAMES = short_names(labelLimit=220)


def _base(axis: alt.Axis | None = _NAMES) -> alt.Chart:
    return named_rows().encode(y=alt.Y("name:N", sort=AS_GIVEN, title=None, axis=axis))


def _finished(chart: alt.LayerChart, title: alt.TitleParams, **more: Any) -> alt.LayerChart:
    look = {"height": alt.Step(30)} | more
    sized: alt.LayerChart = chart.properties(width=520, autosize=FIT_WIDTH, title=title, **look)
    return dressed(sized)


def weighing_chart() -> alt.LayerChart:
    """What to count and weigh, from the top down; give it the rows of `weighing_rows`."""
    base = _base()
    bars = base.mark_bar(height={"band": 0.7}, stroke=INK, strokeWidth=0.6).encode(
        x=alt.X(
            "grams:Q",
            title=["g", "(small amounts drawn longer", "than their share)"],
            scale=alt.Scale(type="sqrt"),
            axis=alt.Axis(tickCount=6),
        ),
        color=note_colour(notes=(*NOTES, "carrier")),
        tooltip=[
            alt.Tooltip("name:N"),
            alt.Tooltip("words:N", title="measure out"),
            alt.Tooltip("grams:Q", title="g", format=".3f"),
            alt.Tooltip("error:Q", title="rounding, % of it", format="+.2f"),
        ],
    )
    words = base.mark_text(align="left", dx=8, fontSize=15, fontWeight=600, color=INK).encode(
        x="grams:Q", text="words:N"
    )
    room = base.mark_point(opacity=0).encode(x="reach:Q")
    title = alt.TitleParams(
        "Measure out, smallest first", subtitle="few drops are counted, many are weighed"
    )
    return _finished(room + bars + words, title)


def shelf_chart() -> alt.LayerChart:
    """How much of what the batch needs is there; give it the rows of `shelf_rows`."""
    base = _base(axis=None)
    scale = alt.Scale(domain=[ENOUGH, LACKS], range=[ACCENT, ALERT])
    bars = base.mark_bar(height=13, yOffset=10).encode(
        x=alt.X(
            "drawn:Q",
            title="share of what the batch needs",
            scale=alt.Scale(domain=[0, MOST_SHOWN], nice=False),
            axis=alt.Axis(values=[0, 0.5, 1, 1.5, 2], format="%", grid=False),
        ),
        color=alt.Color("verdict:N", title=None, scale=scale, legend=TOP_LEGEND),
        tooltip=[
            alt.Tooltip("name:N"),
            alt.Tooltip("share:Q", title="of what is needed", format=".0%"),
            alt.Tooltip("words:N", title="shelf"),
        ],
    )
    # above its bar, where a narrow page has room for both
    words = (
        base.transform_calculate(told="datum.name + ': ' + datum.words")
        .mark_text(align="left", dy=-8, fontSize=13, color=INK)
        .encode(x=alt.datum(0), text="told:N")
    )
    line = base.mark_tick(thickness=2, size=19, yOffset=10, color=INK).encode(x=alt.datum(1))
    title = alt.TitleParams(
        "What the shelf has", subtitle="up to the stroke at 100 % is enough"
    )
    return _finished(bars + line + words, title, height=alt.Step(42))


def cost_chart() -> alt.LayerChart:
    """Which material carries the cost; give it the rows of `cost_rows`."""
    base = _base()
    bars = base.mark_bar(height={"band": 0.7}, stroke=INK, strokeWidth=0.6).encode(
        x=alt.X("cost:Q", title="cost of the batch", axis=alt.Axis(tickCount=6)),
        color=alt.Color(
            "kind:N",
            title=None,
            scale=alt.Scale(
                domain=_KINDS, range=[ACCENT, NOTE_COLOURS["carrier"], RULE, PAPER]
            ),
            legend=alt.Legend(orient="top", columns=2),
        ),
        tooltip=[
            alt.Tooltip("name:N"),
            alt.Tooltip("words:N", title="cost"),
            alt.Tooltip("arithmetic:N", title="worked out"),
        ],
    )
    words = base.mark_text(align="left", dx=6, fontSize=13, color=INK).encode(
        x="cost:Q", text="words:N"
    )
    room = base.mark_point(opacity=0).encode(x="reach:Q")
    title = alt.TitleParams("What carries the cost", subtitle="dearest first")
    return _finished(room + bars + words, title, padding=ROOM_FOR_WORDS)
