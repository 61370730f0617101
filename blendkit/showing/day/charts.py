"""The chart of the fade through the day, and a lower one for the bottle on the bench."""

from typing import Any

import altair as alt

from blendkit.evaporation.forecast import LAST_HOUR
from blendkit.showing.day.rows import HELD, NOW, SHORTEST_HOURS, STRIP
from blendkit.showing.kit import chart_parts as parts
from blendkit.showing.kit.look import INK, PAPER

_ROOM = {"left": 5, "top": 5, "bottom": 5, "right": 10}  # for the longest name of a note [px]
_TOP_OF_CURVES = 1.6  # times its own start
_STRIP_MIDDLE = sum(STRIP) / 2
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
    title="strength relative to its start",
    scale=alt.Scale(domain=[0, STRIP[1]], nice=False, clamp=True),
    axis=alt.Axis(
        values=[0, 0.25, 0.5, 1, 1.5, _STRIP_MIDDLE],
        labelExpr="datum.value == 0 ? 'gone' : "
        f"datum.value == {_STRIP_MIDDLE} ? 'leading' : format(datum.value, '.0%')",
    ),
)
_FEW = alt.Axis(
    values=[0, 0.5, 1], labelExpr="datum.value ? format(datum.value, '.0%') : 'gone'"
)
_DASH = parts.dashes(NOW, HELD, sort=[NOW, HELD], legend=None)
_STRENGTHS = parts.tooltips(
    "note",
    hours=("hours after", ".2~f"),
    strength=("", ".0%"),
    low=("2 in 3: from", ".0%"),
    high=("to", ".0%"),
    lowest=("9 in 10: from", ".0%"),
    highest=("to", ".0%"),
)


def fade_chart() -> alt.LayerChart:
    """Strength of each note through the day, with a strip of the leading note above.

    Give it the rows of `fade_rows`.
    """
    base = parts.named_rows().encode(x=_CLOCK, color=parts.note_colour(), detail="series:N")
    now = base.transform_filter(alt.datum.series == NOW)
    wide = now.mark_area(opacity=0.13).encode(y=alt.Y("lowest:Q"), y2="highest:Q")
    narrow = now.mark_area(opacity=0.25).encode(y=alt.Y("low:Q"), y2="high:Q")
    front = now.mark_area(opacity=1, stroke=PAPER, strokeWidth=1.5).encode(
        y=alt.Y("front_foot:Q"), y2="front_head:Q"
    )
    curves = base.encode(y=_STRENGTH, strokeDash=_DASH, tooltip=_STRENGTHS)
    names = (
        now.transform_filter("datum.last")
        .mark_text(align="left", dx=6, fontSize=13, color=INK)
        .encode(y="named_at:Q", text="note:N", color=alt.value(INK))
    )
    # there only while something is held
    dashed = (
        parts.named_rows()
        .transform_filter(alt.datum.series == HELD)
        .transform_aggregate(end="max(clock)")
        .mark_text(align="right", dx=-4, dy=9, fontSize=13, color=INK)
        .encode(x="end:Q", y=alt.datum(_TOP_OF_CURVES), text=alt.value(f"dashed: {HELD}"))
    )
    return parts.assemble(
        wide,
        narrow,
        front,
        *parts.outlined_curves(curves),
        names,
        dashed,
        title="How each note fades",
        subtitle=[
            "strip: how likely each note leads",
            "lines: each relative to its own start",
            "dark band: 2 in 3 · pale band: 9 in 10",
        ],
        height=310,
        padding=_ROOM,
    )


def day_chart() -> alt.LayerChart:
    """Strength of each note through the day, and when it is gone; small.

    Give it the rows of `day_rows`.
    """
    strength = alt.Scale(domain=[0, _TOP_OF_CURVES], nice=False, clamp=True)
    base = parts.named_rows().encode(x=_CLOCK, color=parts.note_colour(None), detail="series:N")
    bands = base.transform_filter(alt.datum.series == NOW).mark_area(opacity=0.3)
    lines = base.encode(
        y=alt.Y("strength:Q", title="strength, of its start", scale=strength, axis=_FEW),
        strokeDash=_DASH,
        tooltip=parts.tooltips("note", strength=("", ".0%")),
    )
    words = base.transform_filter("isValid(datum.words)").encode(
        y=alt.Y("named_at:Q"), text="words:N", color=alt.value(INK)
    )
    style: dict[str, Any] = {"align": "right", "dx": -4, "dy": -9, "fontSize": 13}
    return parts.assemble(
        bands.encode(y=alt.Y("low:Q"), y2="high:Q"),
        *parts.outlined_curves(lines),
        words.mark_text(stroke=PAPER, strokeWidth=3, strokeOpacity=0.8, **style),
        words.mark_text(**style),
        title="Through the day",
        subtitle="a forecast · band: 2 chances in 3",
        height=215,
        padding=_ROOM,
    )


def lasting_chart() -> alt.LayerChart:
    """Bar chart of the time each oil is perceived, inside its note, with its band.

    Give it the rows of `lasting_rows`.
    """
    hours = alt.Scale(type="log", domain=[SHORTEST_HOURS, LAST_HOUR], nice=False, clamp=True)
    axis = alt.Axis(
        values=[0.25, 1, 4, 12, 24, 72, LAST_HOUR],
        labelExpr="datum.value < 1 ? '15 min' : datum.value < 24 ? datum.value + ' h' : "
        "datum.value / 24 + ' d'",
    )
    base = parts.named_rows().encode(
        y=parts.names_down("label", parts.name_axis()),
        tooltip=parts.tooltips(label="oil", note="", words="gone"),
    )
    bars = parts.outlined_bars(base).encode(
        x=alt.X("low:Q", title="gone after", scale=hours, axis=axis),
        x2="high:Q",
        color=parts.note_colour(),
    )
    likely = base.mark_tick(color=INK, thickness=3).encode(x=alt.X("likely:Q", scale=hours))
    return parts.assemble(
        bars,
        likely,
        title="How long each oil is perceived",
        subtitle=[
            "bar: 2 chances in 3 · stroke: plain forecast",
            "a note lasts as long as the last of its oils",
        ],
        height=alt.Step(26),
        padding=_ROOM,
    )


def small_fade_chart() -> alt.LayerChart:
    """As `fade_chart`, lower."""
    return fade_chart().properties(height=190)
