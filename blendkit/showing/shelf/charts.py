"""The chart of volatility, built once; afterwards only the rows of its data change."""

from __future__ import annotations

import altair as alt

from blendkit.showing.kit.charts import (
    AS_GIVEN,
    FIT_WIDTH,
    dressed,
    named_rows,
    note_colour,
    short_names,
)
from blendkit.showing.kit.look import INK
from blendkit.showing.shelf.rows import EVAPORATES, STAYS, UNDESCRIBED


def volatility_chart() -> alt.Chart:
    """Each oil as the spread of its constituents over vapour pressure.

    One circle a constituent, its area the share of the oil; what leaves first stands on the
    left. An oil is not one point. Give it the rows of `volatility_rows`.
    """
    base = named_rows().encode(
        x=alt.X(
            "pressure:Q",
            title="vapour pressure at 25 °C, Pa",
            scale=alt.Scale(type="log", domain=[1e-4, 1e3], reverse=True, clamp=True),
            axis=alt.Axis(
                values=[1e3, 100, 10, 1, 0.1, 0.01, 1e-3, 1e-4], format="~g", labelSeparation=8
            ),
        ),
        y=alt.Y("oil:N", sort=AS_GIVEN, title=None, axis=short_names(grid=True)),
        tooltip=[
            alt.Tooltip("oil:N"),
            alt.Tooltip("constituent:N"),
            alt.Tooltip("percent:Q", title="% of the oil", format=".1f"),
            alt.Tooltip("pressure:Q", title="vapour pressure, Pa", format=".2~g"),
            alt.Tooltip("factor:Q", title="may be off by ×/÷", format=".2~g"),
            alt.Tooltip("basis:N", title="figure"),
        ],
    )
    circles = base.mark_point(filled=True, opacity=0.75, stroke=INK, strokeWidth=0.8).encode(
        size=alt.Size(
            "percent:Q",
            title="% of the oil",
            scale=alt.Scale(type="linear", domain=[0, 100], range=[6, 900]),
            legend=None,
        ),
        color=note_colour(),
        shape=alt.Shape(
            "state:N",
            title=None,
            scale=alt.Scale(
                domain=[EVAPORATES, STAYS, UNDESCRIBED], range=["circle", "square", "cross"]
            ),
            legend=alt.Legend(orient="bottom", direction="vertical"),
        ),
    )
    title = alt.TitleParams(
        "An oil is not one point",
        subtitle=[
            "left: leaves the skin first · right: stays longest",
            "area: share of the oil",
        ],
    )
    chart: alt.Chart = circles.properties(
        width=560, height=alt.Step(32), autosize=FIT_WIDTH, title=title
    )
    return dressed(chart)
