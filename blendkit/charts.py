"""Altair charts, each built once; afterwards only the rows of its data change.

A chart function returns an `altair.Chart` whose data is named, so that a live view can swap
the rows without building anything anew. The matching `..._rows` function makes the rows.
"""

from __future__ import annotations

from typing import Any

import altair as alt

from blendkit.drops import Filling
from blendkit.look import FAINT_INK, FONT, INK, NOTE_COLOURS, PAPER, RULE

DATA = "rows"
_NOTES = ["top", "middle", "base"]
_AXIS_ENDS = (10, 20, 30, 50, 80, 120, 200, 300, 500, 1000)


def _dressed(chart: alt.LayerChart) -> alt.LayerChart:
    """The house's fonts, inks and paper."""
    dressed: alt.LayerChart = (
        chart.configure(background=PAPER, font=FONT)
        .configure_axis(
            labelFontSize=13,
            titleFontSize=13,
            labelColor=INK,
            titleColor=INK,
            titleFontWeight="normal",
            gridColor=RULE,
            gridOpacity=0.5,
            domainColor=RULE,
            tickColor=RULE,
            labelLimit=240,
        )
        .configure_legend(labelFontSize=13, titleFontSize=13, labelColor=INK, titleColor=INK)
        .configure_title(fontSize=15, anchor="start", color=INK, fontWeight=600, offset=10)
        .configure_view(stroke=None)
    )
    return dressed


def ratio_chart() -> alt.LayerChart:
    """The ratio wished beside the ratio got, oil by oil.

    Bars are the whole drops got, upright strokes the drops the ratio asked for. Give it the
    rows of `ratio_rows`.
    """
    base = alt.Chart(alt.NamedData(name=DATA)).encode(
        y=alt.Y("label:N", sort=None, title=None, axis=alt.Axis(ticks=False, domain=False)),
        tooltip=[
            alt.Tooltip("label:N", title="oil"),
            alt.Tooltip("note:N"),
            alt.Tooltip("drops:Q", title="drops got"),
            alt.Tooltip("wished:Q", title="drops wished", format=".2f"),
            alt.Tooltip("percent:Q", title="% of the oils", format=".1f"),
        ],
    )
    bars = base.mark_bar(height={"band": 0.72}, stroke=INK, strokeWidth=0.6).encode(
        x=alt.X("drops:Q", title="drops", axis=alt.Axis(tickMinStep=1, tickCount=6)),
        color=alt.Color(
            "note:N",
            title=None,
            scale=alt.Scale(domain=_NOTES, range=[NOTE_COLOURS[note] for note in _NOTES]),
            legend=alt.Legend(orient="top"),
        ),
    )
    strokes = base.mark_tick(thickness=3, size=26, color=INK).encode(x="wished:Q")
    counts = base.mark_text(align="left", dx=8, fontSize=13, color=INK).encode(
        x="furthest:Q", text="count:N"
    )
    room = base.mark_point(opacity=0).encode(x="reach:Q")
    title = alt.TitleParams(
        "Drops got, and the ratio wished",
        subtitle="bar: whole drops · upright stroke: what the ratio asks for",
        subtitleColor=FAINT_INK,
        subtitleFontSize=13,
    )
    chart = (room + bars + strokes + counts).properties(
        width=460,
        height=alt.Step(30),
        autosize=alt.AutoSizeParams(type="fit-x", contains="padding"),
        title=title,
    )
    return _dressed(chart)


def ratio_rows(filling: Filling) -> list[dict[str, Any]]:
    """Rows for `ratio_chart`, top note first.

    `reach` is where the axis ends: a round number that seldom changes, so that the bars move
    and not the axis while someone drags.
    """
    rows = []
    longest = max(max(p.drops or 0, p.wished_drops or 0) for p in filling.oils)
    reach = next((step for step in _AXIS_ENDS if step >= longest * 1.2), longest * 1.2)
    for portion in sorted(filling.oils, key=lambda portion: _NOTES.index(portion.note)):
        drops = portion.drops or 0
        wished = drops if portion.wished_drops is None else portion.wished_drops
        rows.append(
            {
                "label": portion.name,
                "note": portion.note,
                "drops": drops,
                "wished": wished,
                "furthest": max(drops, wished),
                "reach": reach,
                "count": f"{drops}"
                if abs(drops - wished) < 0.005
                else f"{drops} for {wished:.2f}",
                "percent": drops / filling.oil_drops * 100,
            }
        )
    return rows


def live_spec(chart: alt.LayerChart) -> dict[str, Any]:
    """A chart as a plain Vega-Lite document, its data empty and named."""
    spec: dict[str, Any] = chart.to_dict(validate=True)
    spec["datasets"] = {DATA: []}
    return spec
