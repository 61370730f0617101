"""Altair charts, each built once; afterwards only the rows of its data change.

A chart function returns an `altair.Chart` whose data is named, so that a live view can swap
the rows without building anything anew. `blendkit.showing.kit.chart_rows` makes the rows.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeVar

import altair as alt

from blendkit.foundation.schema import NOTES
from blendkit.showing.kit.chart_rows import (
    ADVICE,
    DATA,
    EVAPORATES,
    LAW,
    MOST_SHOWN,
    STAYS,
    UNDESCRIBED,
)
from blendkit.showing.kit.look import (
    ACCENT,
    ALERT,
    FAINT_INK,
    FONT,
    INK,
    NOTE_COLOURS,
    PAPER,
    RULE,
)

_PALE_ACCENT = "#8fb5b3"  # far from the alert in a greyscale print too
# by a rank in the rows: Vega would keep the order of the first rows it ever saw
AS_GIVEN = alt.EncodingSortField(field="rank", op="min", order="ascending")
TOP_LEGEND = alt.Legend(orient="top")
# long and thick enough to tell a broken stroke from a whole one
STROKE_LEGEND = alt.Legend(
    orient="bottom", direction="horizontal", symbolSize=900, symbolStrokeWidth=2.5
)
# keeps words behind the longest bar inside a narrow page too
ROOM_FOR_WORDS = {"left": 5, "top": 5, "bottom": 5, "right": 60}
FIT_WIDTH = alt.AutoSizeParams(type="fit-x", contains="padding")


AnyChart = TypeVar("AnyChart", alt.Chart, alt.LayerChart)


def dressed(chart: AnyChart) -> AnyChart:
    """The house's fonts, inks and paper."""
    dressed: AnyChart = (
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
        .configure_legend(
            labelFontSize=13,
            titleFontSize=13,
            labelColor=INK,
            titleColor=INK,
        )
        .configure_title(
            fontSize=15,
            anchor="start",
            color=INK,
            fontWeight=600,
            offset=10,
            subtitleColor=FAINT_INK,
            subtitleFontSize=13,
        )
        .configure_view(stroke=None)
    )
    return dressed


def named_rows() -> alt.Chart:
    """A chart without marks, of the rows that a live view swaps."""
    return alt.Chart(alt.NamedData(name=DATA))


def note_colour(
    legend: alt.Legend | None = TOP_LEGEND, notes: Sequence[str] = NOTES
) -> alt.Color:
    """The notes in their colours, told by a legend."""
    scale = alt.Scale(domain=list(notes), range=[NOTE_COLOURS[note] for note in notes])
    return alt.Color("note:N", title=None, scale=scale, legend=legend)


def short_names(**more: Any) -> alt.Axis:
    """An axis of names; what stands in brackets gets a line of its own, which leaves room."""
    lines = "split(replace(datum.label, ' (', '\\n('), '\\n')"
    centred = alt.ExprRef("indexof(datum.label, ' (') < 0 ? 0 : -6.5")
    return alt.Axis(
        ticks=False,
        domain=False,
        labelExpr=lines,
        labelLineHeight=13,
        labelOffset=centred,
        **more,
    )


def edged(curves: alt.Chart) -> tuple[alt.Chart, alt.Chart]:
    """A dark edge, and the curves as lines over it: so the pale ones show in grey too."""
    # without a colour to part them, a line would run from note to note
    edge = curves.mark_line(strokeWidth=4.6).encode(
        color=alt.value(INK), detail=["note:N", "series:N"]
    )
    return edge, curves.mark_line(strokeWidth=3)


def ratio_chart() -> alt.LayerChart:
    """The ratio wished beside the ratio got, oil by oil.

    Bars are the whole drops got, upright strokes the drops the ratio asked for; a count fixed
    by hand has none. Give it the rows of `ratio_rows`.
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


def _verdict_scale(within: str) -> alt.Scale:
    return alt.Scale(domain=["over", "within"], range=[ALERT, within])


def limits_chart() -> alt.LayerChart:
    """How much of each limit is used, the worst first, with the line at 100 %.

    How much it is stands above the bar, before the name of the limit, which may be cut short
    on a narrow page; what is over says so in words, and advice is hollow. Give it the rows of
    `limits_rows`.
    """
    base = named_rows().encode(
        y=alt.Y("limit:N", sort=AS_GIVEN, title=None, axis=None),
        tooltip=[
            alt.Tooltip("limit:N"),
            alt.Tooltip("share:Q", title="times its limit", format=".3~g"),
            alt.Tooltip("amount:N", title="amount"),
            alt.Tooltip("ceiling:N", title="limit"),
            alt.Tooltip("basis:N", title="weakest figure"),
            alt.Tooltip("oils:N", title="from"),
            alt.Tooltip("source:N"),
        ],
    )
    bars = _limit_bars(base)
    words = (
        base.transform_calculate(told="datum.words + ' · ' + datum.limit")
        .mark_text(align="left", dy=-8, fontSize=13, color=INK, limit=alt.ExprRef("width"))
        .encode(x=alt.datum(0), text="told:N")
    )
    line = base.mark_tick(thickness=2, size=19, yOffset=10, color=INK).encode(x=alt.datum(1))
    title = alt.TitleParams(
        "How much of each limit is used",
        subtitle=[
            "worst first · past the stroke at 100 % is over",
            "pale bars are advice, not law",
        ],
    )
    chart: alt.LayerChart = (bars + words + line).properties(
        width=560, height=alt.Step(42), autosize=FIT_WIDTH, title=title
    )
    return dressed(chart)


def _limit_bars(base: alt.Chart) -> alt.Chart:
    """Bars as long as the share used; what decides is filled, advice is hollow."""
    bars: alt.Chart = base.mark_bar(height=13, yOffset=10, strokeWidth=1.4).encode(
        x=alt.X(
            "drawn:Q",
            title="of the limit",
            scale=alt.Scale(domain=[0, MOST_SHOWN * 1.1], nice=False),
            axis=alt.Axis(
                values=[0, 0.5, 1, 2, 3], labelExpr="datum.value * 100 + ' %'", grid=False
            ),
        ),
        fill=alt.Fill(
            "verdict:N", title=None, scale=_verdict_scale(_PALE_ACCENT), legend=TOP_LEGEND
        ),
        stroke=alt.Stroke("verdict:N", scale=_verdict_scale(ACCENT), legend=None),
        fillOpacity=alt.FillOpacity(
            "decides:N",
            sort=[LAW, ADVICE],
            scale=alt.Scale(domain=[LAW, ADVICE], range=[0.9, 0.08]),
            legend=None,
        ),
    )
    return bars


def live_spec(chart: alt.Chart | alt.LayerChart) -> dict[str, Any]:
    """A chart as a plain Vega-Lite document, its data empty and named."""
    spec: dict[str, Any] = chart.to_dict(validate=True)
    spec["datasets"] = {DATA: []}
    return spec
