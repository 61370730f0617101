"""The charts of the ten lessons of "Why it fades", each built once.

Axes stand still while someone drags, so that what moves is the answer. Give each chart the
rows of the function of the same name in `showing.lesson_rows`. Marks are held inside by
clamped scales and never by ``clip``: with several charts on a page their clips go by the same
names, and each chart would be cut to the frame of the first.
"""

from __future__ import annotations

import altair as alt

from blendkit.foundation.schema import NOTES
from blendkit.showing.kit.charts import (
    AS_GIVEN,
    FIT_WIDTH,
    STROKE_LEGEND,
    TOP_LEGEND,
    AnyChart,
    dressed,
    edged,
    named_rows,
    note_colour,
)
from blendkit.showing.kit.look import ACCENT, INK, NOTE_COLOURS, RULE
from blendkit.showing.lesson.rows import (
    AIR,
    AS_SET,
    AS_USUAL,
    CARRIER_NOTE,
    DRAW,
    LONGEST_SHOWN_HOURS,
    NOTICED,
    OWN_AMOUNT,
    PLAIN,
    REST,
    SHARE_LEFT,
    SKIN,
    VAPOUR,
)

_WIDTH, _HEIGHT = 640, 270
_BAR = 46
_THICK_LEGEND = alt.Legend(orient="top", symbolSize=900, symbolStrokeWidth=4)
_TIME = alt.X(
    "hours:Q",
    title="hours after putting it on",
    scale=alt.Scale(domain=[0, LONGEST_SHOWN_HOURS], nice=False),
    axis=alt.Axis(tickMinStep=1),
)


def _names(field: str) -> alt.Y:
    axis = alt.Axis(ticks=False, domain=False, labelLimit=300)
    return alt.Y(f"{field}:N", sort=AS_GIVEN, title=None, axis=axis)


def _finished(
    chart: AnyChart, title: alt.TitleParams, height: float | alt.Step = _HEIGHT
) -> AnyChart:
    chart = chart.properties(width=_WIDTH, height=height, autosize=FIT_WIDTH, title=title)
    return dressed(chart)


def pressures_chart() -> alt.LayerChart:
    """Three molecules of one oil over vapour pressure, each with its range."""
    scale = alt.Scale(type="log", domain=[1e-4, 1e3], reverse=True, clamp=True)
    axis = alt.Axis(values=[1e3, 100, 10, 1, 0.1, 0.01, 1e-3, 1e-4], format="~g")
    base = named_rows().encode(
        y=_names("molecule"),
        tooltip=[
            alt.Tooltip("molecule:N"),
            alt.Tooltip("words:N", title="vapour pressure"),
            alt.Tooltip("factor:Q", title="may be off by ×/÷", format=".2~g"),
            alt.Tooltip("basis:N", title="figure"),
        ],
    )
    ranges = base.mark_bar(height=14, opacity=0.3, color=ACCENT).encode(
        x=alt.X("low:Q", title="vapour pressure at 25 °C, Pa", scale=scale, axis=axis),
        x2="high:Q",
    )
    dots = base.mark_point(filled=True, size=190, opacity=1, color=ACCENT).encode(
        x="pressure:Q"
    )
    words = base.mark_text(dy=-17, fontSize=13, color=INK).encode(
        x="pressure:Q", text="words:N"
    )
    title = alt.TitleParams(
        "How hard each molecule pulls into the air",
        subtitle="left: leaves first · pale bar: how far the figure may be off",
    )
    chart: alt.LayerChart = ranges + dots + words
    return _finished(chart, title, alt.Step(_BAR + 6))


def warmth_chart() -> alt.LayerChart:
    """Vapour at the skin's warmth, in multiples of that at 25 °C."""
    base = named_rows().encode(
        y=_names("molecule"),
        tooltip=[
            alt.Tooltip("molecule:N"),
            alt.Tooltip("times:Q", title="times the vapour at 25 °C", format=".2f"),
            alt.Tooltip("pressure:Q", title="vapour pressure now, Pa", format=".2~g"),
        ],
    )
    bars = base.mark_bar(height={"band": 0.6}, stroke=INK, strokeWidth=0.6).encode(
        x=alt.X(
            "times:Q",
            title="times as much vapour as at 25 °C",
            scale=alt.Scale(domain=[0, 5.5], nice=False, clamp=True),
            axis=alt.Axis(values=[0, 1, 2, 3, 4, 5], format="~g"),
        ),
        color=note_colour(),
    )
    words = base.mark_text(align="left", dx=7, fontSize=13, color=INK).encode(
        x="times:Q", text="words:N"
    )
    line = base.mark_tick(thickness=3, size=_BAR - 8, color=INK).encode(x=alt.datum(1))
    title = alt.TitleParams(
        "Warm skin speeds them all, heavy ones most", subtitle="upright stroke: 25 °C"
    )
    chart: alt.LayerChart = bars + words + line
    return _finished(chart, title, alt.Step(_BAR))


def shares_chart() -> alt.LayerChart:
    """What the film is made of, counted molecule by molecule, and weighed."""
    colours = [NOTE_COLOURS[note] for note in NOTES]
    base = named_rows().encode(
        y=_names("part"),
        tooltip=[
            alt.Tooltip("part:N"),
            alt.Tooltip("count:Q", title="share of the molecules", format=".1%"),
            alt.Tooltip("mass:Q", title="share of the mass", format=".1%"),
            alt.Tooltip("speed:Q", title="of its speed alone", format=".1%"),
        ],
    )
    bars = base.mark_bar(height={"band": 0.62}, stroke=INK, strokeWidth=0.6).encode(
        x=alt.X(
            "count:Q",
            title="share of the film",
            scale=alt.Scale(domain=[0, 1.25], nice=False),
            axis=alt.Axis(values=[0, 0.25, 0.5, 0.75, 1], format="%"),
        ),
        color=alt.Color(
            "note:N",
            legend=None,
            scale=alt.Scale(
                domain=[*NOTES, REST, CARRIER_NOTE],
                range=[*colours, RULE, NOTE_COLOURS["carrier"]],
            ),
        ),
    )
    words = base.mark_text(align="left", dx=9, fontSize=13, color=INK).encode(
        x="furthest:Q", text="words:N"
    )
    strokes = base.mark_tick(thickness=3, size=26, color=INK).encode(x="mass:Q")
    title = alt.TitleParams(
        "A crowd: each leaves by its share of the molecules",
        subtitle="bar: share by count, which decides · upright stroke: share by mass",
    )
    chart: alt.LayerChart = bars + strokes + words
    return _finished(chart, title, alt.Step(36))


def _curves(
    axis: str, highest: float, solid: str, dashed: str, title: alt.TitleParams
) -> alt.LayerChart:
    """A line for each note, solid and dashed."""
    curves = named_rows().encode(
        x=_TIME,
        y=alt.Y(
            "value:Q",
            title=axis,
            scale=alt.Scale(domain=[0, highest], nice=False, clamp=True),
            axis=alt.Axis(format="%", tickCount=5),
        ),
        color=note_colour(_THICK_LEGEND),
        strokeDash=alt.StrokeDash(
            "series:N",
            title=None,
            scale=alt.Scale(domain=[solid, dashed], range=[[1, 0], [6, 4]]),
            legend=STROKE_LEGEND,
        ),
        tooltip=[
            alt.Tooltip("oil:N"),
            alt.Tooltip("hours:Q", title="hours after", format=".2~f"),
            alt.Tooltip("value:Q", title="beside its start", format=".0%"),
        ],
    )
    return _finished(alt.LayerChart(layer=list(edged(curves))), title)


def lift_chart() -> alt.LayerChart:
    """Share of what is left, and amount, beside their starts."""
    title = alt.TitleParams(
        "The light ones leave room for the heavy",
        subtitle="three oils, each line beside its own start",
    )
    return _curves("beside its start", 2.0, SHARE_LEFT, OWN_AMOUNT, title)


def amounts_chart() -> alt.LayerChart:
    """What is left of each oil, now and as usual."""
    title = alt.TitleParams(
        "What is left on the skin", subtitle="three oils, each line beside its own start"
    )
    return _curves("left of the oil", 1.0, AS_SET, AS_USUAL, title)


def nose_chart() -> alt.LayerChart:
    """Vapour, and what a nose makes of it."""
    title = alt.TitleParams(
        "A nose notices ratios",
        subtitle="three notes, each line beside its own start, no band drawn",
    )
    return _curves("beside its start", 1.5, NOTICED, VAPOUR, title)


def carriers_chart() -> alt.Chart:
    """Half-times of the same oils in different carriers."""
    dots = (
        named_rows()
        .mark_point(filled=True, size=210, opacity=1, stroke=INK, strokeWidth=0.8)
        .encode(
            x=alt.X(
                "hours:Q",
                title="time until half of the oil has gone",
                scale=alt.Scale(type="log", domain=[1 / 60, 48], clamp=True),
                axis=alt.Axis(
                    values=[1 / 60, 0.1, 0.5, 1, 2, 4, 8, 24],
                    labelExpr="datum.value < 0.99 ? round(datum.value * 60) + ' min' : "
                    "datum.value + ' h'",
                ),
            ),
            y=_names("carrier"),
            color=note_colour(),
            tooltip=[
                alt.Tooltip("carrier:N"),
                alt.Tooltip("kind:N"),
                alt.Tooltip("oil:N"),
                alt.Tooltip("words:N", title="half gone after about"),
            ],
        )
    )
    title = alt.TitleParams(
        "The same oils in one carrier of each kind",
        subtitle="the same grams of oil on the skin in every row · right: lasts longer",
    )
    chart: alt.Chart = dots
    return _finished(chart, title, alt.Step(32))


def skin_chart() -> alt.LayerChart:
    """Which share of each molecule goes which way."""
    ways = alt.Scale(domain=[AIR, SKIN], range=[ACCENT, "#d9b48f"])
    base = named_rows().encode(
        y=_names("molecule"),
        tooltip=[
            alt.Tooltip("molecule:N"),
            alt.Tooltip("way:N"),
            alt.Tooltip("share:Q", format=".1%"),
        ],
    )
    bars = base.mark_bar(height={"band": 0.62}, stroke=INK, strokeWidth=0.6).encode(
        x=alt.X(
            "share:Q",
            title="share of what was put on",
            scale=alt.Scale(domain=[0, 1.35], nice=False),
            axis=alt.Axis(format="%", values=[0, 0.25, 0.5, 0.75, 1]),
        ),
        color=alt.Color("way:N", title=None, scale=ways, legend=TOP_LEGEND),
        order="order:Q",
    )
    words = (
        base.transform_filter(alt.datum.way == SKIN)
        .mark_text(align="left", dx=7, fontSize=13, color=INK)
        .encode(x=alt.datum(1), text="words:N")
    )
    title = alt.TitleParams(
        "The skin drinks some", subtitle="where each molecule ends, in the long run"
    )
    chart: alt.LayerChart = bars + words
    return _finished(chart, title, alt.Step(36))


def draws_chart() -> alt.LayerChart:
    """One note drawn many times over."""
    base = named_rows().encode(
        x=_TIME,
        y=alt.Y(
            "value:Q",
            title="strength beside its own start",
            scale=alt.Scale(domain=[0, 1.6], clamp=True),
            axis=alt.Axis(values=[0, 0.25, 0.5, 0.75, 1, 1.25, 1.5], format="%"),
        ),
        detail="line:N",
    )
    thin = (
        base.transform_filter(alt.datum.kind == DRAW)
        .mark_line(strokeWidth=1.2, opacity=0.5)
        .encode(color=note_colour(legend=None))
    )
    plain = (
        base.transform_filter(alt.datum.kind == PLAIN)
        .mark_line(strokeWidth=4, color=INK)
        .encode(
            tooltip=[
                alt.Tooltip("hours:Q", title="hours after", format=".2~f"),
                alt.Tooltip("value:Q", title="strength", format=".0%"),
            ]
        )
    )
    title = alt.TitleParams(
        "Every thin line could be the true one",
        subtitle="thick: the plain forecast, one guess of many",
    )
    chart: alt.LayerChart = thin + plain
    return _finished(chart, title, 300)
