"""The day as a picture: each note's strength over the hours, with its band.

Two in three draws of the uncertain figures lie in the darker band, nine in ten in the paler
one. Dashed lines are a blend held for comparison.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import altair as alt

from blendkit.charts import DATA, FIT_WIDTH, TOP_LEGEND, dressed, note_scale
from blendkit.fade import Forecast
from blendkit.look import FAINT_INK, INK

NOW, HELD = "now", "held for comparison"
TOP_OF_PICTURE = 1.6


def day_chart() -> alt.LayerChart:
    """Strength of each note through the day; give it the rows of `day_rows`."""
    base = alt.Chart(alt.NamedData(name=DATA)).encode(
        x=alt.X(
            "clock:Q",
            title="time of day",
            scale=alt.Scale(zero=False, nice=False),
            axis=alt.Axis(
                tickMinStep=1,
                labelExpr="(floor(datum.value) % 24) + ':' + (datum.value % 1 ? '30' : '00')",
            ),
        ),
        color=alt.Color("note:N", title=None, scale=note_scale(), legend=TOP_LEGEND),
        detail="series:N",
    )
    now = base.transform_filter(alt.datum.series == NOW)
    strength = alt.Y(
        "strength:Q",
        title="strength beside its own start",
        scale=alt.Scale(domain=[0, TOP_OF_PICTURE], clamp=True),
        axis=alt.Axis(values=[0, 0.25, 0.5, 0.75, 1, 1.25, 1.5], format="%"),
    )
    wide = now.mark_area(opacity=0.13).encode(y=alt.Y("lowest:Q"), y2="highest:Q")
    narrow = now.mark_area(opacity=0.25).encode(y=alt.Y("low:Q"), y2="high:Q")
    lines = base.mark_line(strokeWidth=3, clip=True).encode(
        y=strength,
        strokeDash=alt.StrokeDash(
            "series:N",
            title=None,
            sort=[NOW, HELD],
            scale=alt.Scale(domain=[NOW, HELD], range=[[1, 0], [6, 4]]),
            legend=TOP_LEGEND,
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
    names = (
        now.transform_filter("datum.last")
        .mark_text(align="left", dx=6, fontSize=13, color=INK)
        .encode(y=strength, text="note:N", color=alt.value(INK))
    )
    title = alt.TitleParams(
        "How each note fades",
        subtitle="beside its own start · dark band: 2 in 3 · pale band: 9 in 10",
        subtitleColor=FAINT_INK,
        subtitleFontSize=13,
    )
    chart: alt.LayerChart = (wide + narrow + lines + names).properties(
        width=560, height=330, autosize=FIT_WIDTH, title=title
    )
    return dressed(chart)


def day_rows(found: Forecast, put_on_at: float, series: str = NOW) -> Iterator[dict[str, Any]]:
    """Rows for `day_chart`: the notes of one forecast, from the hour it was put on."""
    strength, (lowest, low, high, highest) = found.strength, found.band()
    for place in range(len(found.groups))[found.rows("note")]:
        for moment, hours in enumerate(found.hours):
            yield {
                "note": found.groups[place],
                "series": series,
                "hours": float(hours),
                "clock": put_on_at + float(hours),
                "strength": round(float(strength[place, moment]), 4),
                "lowest": round(float(lowest[place, moment]), 4),
                "low": round(float(low[place, moment]), 4),
                "high": round(float(high[place, moment]), 4),
                "highest": round(float(highest[place, moment]), 4),
                "last": moment == len(found.hours) - 1,
            }
