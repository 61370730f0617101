"""The chart of a bottle's drops, built once; afterwards only the rows of its data change."""

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
from blendkit.showing.kit.look import INK


def drops_chart() -> alt.LayerChart:
    """The ratio wished beside the ratio got, oil by oil.

    Bars are the whole drops got, upright strokes the drops the ratio asked for; a count fixed
    by hand has none. Give it the rows of `drops_rows`.
    """
    base = named_rows().encode(
        y=alt.Y("label:N", sort=AS_GIVEN, title=None, axis=short_names()),
        tooltip=[
            alt.Tooltip("label:N", title="oil"),
            alt.Tooltip("note:N"),
            alt.Tooltip("drops:Q", title="drops got"),
            alt.Tooltip("asked:N", title="drops wished"),
            alt.Tooltip("percent:Q", title="% of the oils", format=".1f"),
        ],
    )
    bars = base.mark_bar(height={"band": 0.72}, stroke=INK, strokeWidth=0.6).encode(
        x=alt.X("drops:Q", title="drops", axis=alt.Axis(tickMinStep=1, tickCount=6)),
        color=note_colour(),
    )
    # no stroke where nothing is wished: a null is left out
    strokes = base.mark_tick(thickness=3, size=26, color=INK).encode(x="wished:Q")
    counts = base.mark_text(align="left", dx=8, fontSize=13, color=INK).encode(
        x="furthest:Q", text="count:N"
    )
    room = base.mark_point(opacity=0).encode(x="reach:Q")
    title = alt.TitleParams(
        "Drops got, and the ratio wished",
        subtitle=["bar: whole drops · stroke: what the ratio asks for"],
    )
    chart: alt.LayerChart = (room + bars + strokes + counts).properties(
        width=460,
        height=alt.Step(33),
        padding=ROOM_FOR_WORDS,
        autosize=FIT_WIDTH,
        title=title,
    )
    return dressed(chart)
