"""The charts of the ten lessons of "Why it fades".

Axes do not move while someone drags, so that what moves is the answer. Each
chart is of the rows of the function of the same name in `showing.lesson.rows`. Marks stay
inside by clamped scales and never by ``clip``: with several charts on a page their clips go by
the same names, and each chart would be cut to the frame of the first.
"""

from __future__ import annotations

import altair as alt

from blendkit.foundation.schema import NOTES
from blendkit.showing.kit import chart_parts as parts
from blendkit.showing.kit.look import ACCENT, INK, NOTE_COLOURS, RULE
from blendkit.showing.lesson import rows

_HEIGHT = 270
_BAR = 46
_NAMES = parts.long_name_axis(labelLimit=300)
_THICK_LEGEND = alt.Legend(orient="top", symbolSize=900, symbolStrokeWidth=4)
_TIME = alt.X(
    "hours:Q",
    title="hours after putting it on",
    scale=alt.Scale(domain=[0, rows.LONGEST_SHOWN_HOURS], nice=False),
    axis=alt.Axis(tickMinStep=1),
)


def pressures_chart() -> alt.LayerChart:
    """Three molecules of one oil over vapour pressure, each with its range."""
    scale = alt.Scale(type="log", domain=[1e-4, 1e3], reverse=True, clamp=True)
    axis = alt.Axis(
        values=[1e3, 100, 10, 1, 0.1, 0.01, 1e-3, 1e-4], format="~g", **parts.TITLE_AT_THE_RIGHT
    )
    base = parts.named_rows().encode(
        y=parts.names_down("molecule", _NAMES),
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
    return parts.assemble(
        ranges,
        dots,
        words,
        title="How hard each molecule pulls into the air",
        subtitle="left: leaves first · pale bar: how far the figure may be off",
        height=alt.Step(_BAR + 6),
    )


def warmth_chart() -> alt.LayerChart:
    """Vapour at the skin's warmth, in multiples of that at 25 °C."""
    base = parts.named_rows().encode(
        y=parts.names_down("molecule", _NAMES),
        tooltip=[
            alt.Tooltip("molecule:N"),
            alt.Tooltip("times:Q", title="times the vapour at 25 °C", format=".2f"),
            alt.Tooltip("pressure:Q", title="vapour pressure now, Pa", format=".2~g"),
        ],
    )
    bars = parts.outlined_bars(base, 0.6).encode(
        x=alt.X(
            "times:Q",
            title="times as much vapour as at 25 °C",
            scale=alt.Scale(domain=[0, 5.5], nice=False, clamp=True),
            axis=alt.Axis(values=[0, 1, 2, 3, 4, 5], format="~g", titleAnchor="end"),
        ),
        color=parts.note_colour(),
    )
    words = parts.words_after(base, "times:Q", dx=7)
    line = base.mark_tick(thickness=3, size=_BAR - 8, color=INK).encode(x=alt.datum(1))
    return parts.assemble(
        bars,
        words,
        line,
        title="Warm skin speeds them all, heavy ones most",
        subtitle="upright stroke: 25 °C",
        height=alt.Step(_BAR),
    )


def shares_chart() -> alt.LayerChart:
    """Composition of the film, by number of molecules and by mass."""
    colours = [NOTE_COLOURS[note] for note in NOTES]
    base = parts.named_rows().encode(
        y=parts.names_down("part", _NAMES),
        tooltip=[
            alt.Tooltip("part:N"),
            alt.Tooltip("count:Q", title="share of the molecules", format=".1%"),
            alt.Tooltip("mass:Q", title="share of the mass", format=".1%"),
            alt.Tooltip("speed:Q", title="of its speed alone", format=".1%"),
        ],
    )
    bars = parts.outlined_bars(base, 0.62).encode(
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
                domain=[*NOTES, rows.REST, rows.CARRIER_NOTE],
                range=[*colours, RULE, NOTE_COLOURS["carrier"]],
            ),
        ),
    )
    words = parts.words_after(base, "furthest:Q", dx=9)
    strokes = base.mark_tick(thickness=3, size=26, color=INK).encode(x="mass:Q")
    return parts.assemble(
        bars,
        strokes,
        words,
        title="A crowd: each leaves by its share of the molecules",
        subtitle=[
            "bar: share by count, which decides · upright stroke: share by mass",
            "after the arrow: its speed, of what it has alone",
        ],
        height=alt.Step(36),
    )


def _curves(axis: str, highest: float, solid: str, dashed: str, **words: str) -> alt.LayerChart:
    """A line for each note, solid and dashed."""
    curves = parts.named_rows().encode(
        x=_TIME,
        y=alt.Y(
            "value:Q",
            title=axis,
            scale=alt.Scale(domain=[0, highest], nice=False, clamp=True),
            axis=alt.Axis(format="%", tickCount=5),
        ),
        color=parts.note_colour(_THICK_LEGEND),
        strokeDash=alt.StrokeDash(
            "series:N",
            title=None,
            scale=alt.Scale(domain=[solid, dashed], range=[[1, 0], [6, 4]]),
            legend=parts.STROKE_LEGEND,
        ),
        tooltip=[
            alt.Tooltip("oil:N"),
            alt.Tooltip("hours:Q", title="hours after", format=".2~f"),
            alt.Tooltip("value:Q", title="relative to its start", format=".0%"),
        ],
    )
    return parts.assemble(*parts.outlined_curves(curves), **words, height=_HEIGHT)


def lift_chart() -> alt.LayerChart:
    """Share of what is left, and amount, relative to their starts."""
    return _curves(
        "relative to its start",
        2.0,
        rows.SHARE_LEFT,
        rows.OWN_AMOUNT,
        title="The light ones leave room for the heavy",
        subtitle="three oils, each line relative to its own start",
    )


def amounts_chart() -> alt.LayerChart:
    """Share left of each oil, as set and as usual."""
    return _curves(
        "left of the oil",
        1.0,
        rows.AS_SET,
        rows.AS_USUAL,
        title="What is left on the skin",
        subtitle="three oils, each line relative to its own start",
    )


def nose_chart() -> alt.LayerChart:
    """Vapour, and the strength that a nose perceives."""
    return _curves(
        "relative to its start",
        1.5,
        rows.NOTICED,
        rows.VAPOUR,
        title="A nose notices ratios",
        subtitle="three notes, each line relative to its own start, no band drawn",
    )


def carriers_chart() -> alt.LayerChart:
    """Half-times of the same oils in different carriers."""
    dots = (
        parts.named_rows()
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
                    titleAnchor="end",
                ),
            ),
            y=parts.names_down("carrier", _NAMES),
            color=parts.note_colour(),
            tooltip=[
                alt.Tooltip("carrier:N"),
                alt.Tooltip("kind:N"),
                alt.Tooltip("oil:N"),
                alt.Tooltip("words:N", title="half gone after about"),
            ],
        )
    )
    return parts.assemble(
        dots,
        title="The same oils in one carrier of each kind",
        subtitle="the same grams of oil on the skin in every row · right: lasts longer",
        height=alt.Step(32),
    )


def skin_chart() -> alt.LayerChart:
    """Shares of each molecule that go into the air and into the skin."""
    ways = alt.Scale(domain=[rows.AIR, rows.SKIN], range=[ACCENT, "#d9b48f"])
    base = parts.named_rows().encode(
        y=parts.names_down("molecule", _NAMES),
        tooltip=[
            alt.Tooltip("molecule:N"),
            alt.Tooltip("way:N"),
            alt.Tooltip("share:Q", format=".1%"),
        ],
    )
    bars = parts.outlined_bars(base, 0.62).encode(
        x=alt.X(
            "share:Q",
            title="share of what was put on",
            scale=alt.Scale(domain=[0, 1.22], nice=False),
            axis=alt.Axis(format="%", values=[0, 0.25, 0.5, 0.75, 1]),
        ),
        color=alt.Color("way:N", title=None, scale=ways, legend=parts.TOP_LEGEND),
        order="order:Q",
    )
    words = parts.words_after(
        base.transform_filter(alt.datum.way == rows.SKIN), alt.datum(1), dx=7
    )
    return parts.assemble(
        bars,
        words,
        title="The skin drinks some",
        subtitle="where each molecule ends, in the long run",
        height=alt.Step(36),
        padding=parts.ROOM_FOR_WORDS,
    )


def draws_chart() -> alt.LayerChart:
    """One note drawn many times over."""
    base = parts.named_rows().encode(
        x=_TIME,
        y=alt.Y(
            "value:Q",
            title="strength relative to its start",
            scale=alt.Scale(domain=[0, 1.6], clamp=True),
            axis=alt.Axis(values=[0, 0.25, 0.5, 0.75, 1, 1.25, 1.5], format="%"),
        ),
        detail="line:N",
    )
    thin = (
        base.transform_filter(alt.datum.kind == rows.DRAW)
        .mark_line(strokeWidth=1.2, opacity=0.5)
        .encode(color=parts.note_colour(legend=None))
    )
    plain = (
        base.transform_filter(alt.datum.kind == rows.PLAIN)
        .mark_line(strokeWidth=4, color=INK)
        .encode(
            tooltip=[
                alt.Tooltip("hours:Q", title="hours after", format=".2~f"),
                alt.Tooltip("value:Q", title="strength", format=".0%"),
            ]
        )
    )
    return parts.assemble(
        thin,
        plain,
        title="Every thin line could be the true one",
        subtitle="thick: the plain forecast, one guess of many",
        height=300,
    )
