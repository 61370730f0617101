"""The fade through the day as a chart, and a lower one for the bottle on the bench."""

from __future__ import annotations

import altair as alt

from blendkit.showing.chart_rows import HELD, NOW
from blendkit.showing.charts import (
    FIT_WIDTH,
    STROKE_LEGEND,
    dressed,
    edged,
    named_rows,
    note_colour,
)
from blendkit.showing.look import INK

_ROOM = {"left": 5, "top": 5, "bottom": 5, "right": 10}  # for the longest name of a note [px]
_HIGHEST = 1.6  # times its own start; what is stronger is drawn at the edge
_CLOCK = alt.X(
    "clock:Q",
    title="time of day",
    scale=alt.Scale(zero=False, nice=False),
    axis=alt.Axis(
        tickMinStep=1,
        labelOverlap="greedy",
        labelSeparation=8,
        labelExpr="(floor(datum.value) % 24) + ':' + (datum.value % 1 ? '30' : '00')",
    ),
)
_STRENGTH = alt.Y(
    "strength:Q",
    title="strength beside its own start",
    scale=alt.Scale(domain=[0, _HIGHEST], clamp=True),
    axis=alt.Axis(values=[0, 0.25, 0.5, 0.75, 1, 1.25, 1.5], format="%"),
)


def _fading(base: alt.Chart, compared: bool) -> alt.Chart:
    """The strength of each note, dashed where it is held for comparison."""
    curves: alt.Chart = base.encode(
        y=_STRENGTH,
        strokeDash=alt.StrokeDash(
            "series:N",
            title=None,
            sort=[NOW, HELD],
            scale=alt.Scale(domain=[NOW, HELD], range=[[1, 0], [6, 4]]),
            legend=STROKE_LEGEND if compared else None,
        ),
        tooltip=[
            alt.Tooltip("note:N"),
            alt.Tooltip("hours:Q", title="hours after", format=".2~f"),
            alt.Tooltip("strength:Q", format=".0%"),
            alt.Tooltip("low:Q", title="2 in 3: from", format=".0%"),
            alt.Tooltip("high:Q", title="to", format=".0%"),
            alt.Tooltip("lowest:Q", title="9 in 10: from", format=".0%"),
            alt.Tooltip("highest:Q", title="to", format=".0%"),
        ],
    )
    return curves


def day_chart(*, compared: bool = True) -> alt.LayerChart:
    """Strength of each note through the day; give it the rows of `day_rows`.

    Parameters
    ----------
    compared : bool, optional
        Whether a fade held for comparison may be among the rows, and stands in the legend.
    """
    base = named_rows().encode(
        x=_CLOCK,
        color=note_colour(alt.Legend(orient="top", symbolOpacity=1)),
        detail="series:N",
    )
    now = base.transform_filter(alt.datum.series == NOW)
    wide = now.mark_area(opacity=0.13).encode(y=alt.Y("lowest:Q"), y2="highest:Q")
    narrow = now.mark_area(opacity=0.25).encode(y=alt.Y("low:Q"), y2="high:Q")
    edge, lines = edged(_fading(base, compared))
    names = (
        now.transform_filter("datum.last")
        .mark_text(align="left", dx=6, fontSize=13, color=INK)
        .encode(y="named_at:Q", text="note:N", color=alt.value(INK))
    )
    title = alt.TitleParams(
        "How each note fades",
        subtitle=["beside its own start", "dark band: 2 in 3 · pale band: 9 in 10"],
    )
    chart: alt.LayerChart = (wide + narrow + edge + lines + names).properties(
        width=560, height=330, padding=_ROOM, autosize=FIT_WIDTH, title=title
    )
    return dressed(chart)


def small_day_chart() -> alt.LayerChart:
    """As `day_chart`, lower, with nothing held beside it."""
    return day_chart(compared=False).properties(height=190)
