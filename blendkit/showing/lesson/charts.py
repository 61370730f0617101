"""The charts of the ten lessons of "Why it fades".

Axes do not move while someone drags, so that what moves is the answer. Each
chart is of the rows of the function of the same name in `showing.lesson.rows`. Marks stay
inside by clamped scales and never by ``clip``: with several charts on a page their clips go by
the same names, and each chart would be cut to the frame of the first.
"""

from typing import Any

import altair as alt

from blendkit.foundation.schema import NOTES
from blendkit.showing.kit import chart_parts as parts
from blendkit.showing.kit.look import ACCENT, INK, NOTE_COLOURS, RULE
from blendkit.showing.lesson import rows

_BAR = 46
_NAMES = parts.long_name_axis(labelLimit=300)
_THICK_LEGEND = alt.Legend(orient="top", symbolSize=900, symbolStrokeWidth=4)
_QUARTERS = [0, 0.25, 0.5, 0.75, 1]
_STROKE: dict[str, Any] = {"thickness": 3, "color": INK}
_DOT: dict[str, Any] = {"filled": True, "opacity": 1}
_TIME = alt.X(
    "hours:Q",
    title="hours after putting it on",
    scale=alt.Scale(domain=[0, rows.LONGEST_SHOWN_HOURS], nice=False),
    axis=alt.Axis(tickMinStep=1),
)


def _named(field: str, *more: str, **titles: str | tuple[str, str]) -> alt.Chart:
    """A row for each name, without marks; at the pointer the words of `parts.tooltips`."""
    return parts.named_rows().encode(
        y=parts.names_down(field, _NAMES), tooltip=parts.tooltips(field, *more, **titles)
    )


def _along(field: str, title: str, scale: dict[str, Any], **axis: Any) -> alt.X:
    return alt.X(f"{field}:Q", title=title, scale=alt.Scale(**scale), axis=alt.Axis(**axis))


def pressures_chart() -> alt.LayerChart:
    """Three molecules of one oil over vapour pressure, each with its range."""
    base = _named(
        "molecule",
        words="vapour pressure",
        factor=("may be off by ×/÷", ".2~g"),
        basis="figure",
    )
    low = _along(
        "low",
        "vapour pressure at 25 °C, Pa",
        {"type": "log", "domain": [1e-4, 1e3], "reverse": True, "clamp": True},
        values=[1e3, 100, 10, 1, 0.1, 0.01, 1e-3, 1e-4],
        format="~g",
        **parts.TITLE_AT_THE_RIGHT,
    )
    likely = base.encode(x="pressure:Q")
    return parts.assemble(
        base.mark_bar(height=14, opacity=0.3, color=ACCENT).encode(x=low, x2="high:Q"),
        likely.mark_point(size=190, color=ACCENT, **_DOT),
        likely.mark_text(dy=-17, fontSize=13, color=INK).encode(text="words:N"),
        title="How hard each molecule pulls into the air",
        subtitle="left: leaves first · pale bar: how far the figure may be off",
        height=alt.Step(_BAR + 6),
    )


def warmth_chart() -> alt.LayerChart:
    """Vapour at the skin's warmth, in multiples of that at 25 °C."""
    base = _named(
        "molecule",
        times=("times the vapour at 25 °C", ".2f"),
        pressure=("vapour pressure now, Pa", ".2~g"),
    )
    times = _along(
        "times",
        "times as much vapour as at 25 °C",
        {"domain": [0, 5.5], "nice": False, "clamp": True},
        values=[0, 1, 2, 3, 4, 5],
        format="~g",
        titleAnchor="end",
    )
    return parts.assemble(
        parts.outlined_bars(base, 0.6).encode(x=times, color=parts.note_colour()),
        parts.words_after(base, "times:Q", dx=7),
        base.mark_tick(size=_BAR - 8, **_STROKE).encode(x=alt.datum(1)),
        title="Warm skin speeds them all, heavy ones most",
        subtitle="upright stroke: 25 °C",
        height=alt.Step(_BAR),
    )


def shares_chart() -> alt.LayerChart:
    """Composition of the film, by number of molecules and by mass."""
    base = _named(
        "part",
        count=("share of the molecules", ".1%"),
        mass=("share of the mass", ".1%"),
        speed=("of its speed alone", ".1%"),
    )
    colours = {note: NOTE_COLOURS[note] for note in NOTES}
    colours |= {rows.REST: RULE, rows.CARRIER_NOTE: NOTE_COLOURS["carrier"]}
    share = {"domain": [0, 1.25], "nice": False}
    bars = parts.outlined_bars(base, 0.62).encode(
        x=_along("count", "share of the film", share, values=_QUARTERS, format="%"),
        color=parts.colour_of("note", colours, legend=None),
    )
    return parts.assemble(
        bars,
        base.mark_tick(size=26, **_STROKE).encode(x="mass:Q"),
        parts.words_after(base, "furthest:Q", dx=9),
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
        strokeDash=parts.dashes(solid, dashed, title=None, legend=parts.STROKE_LEGEND),
        tooltip=parts.tooltips(
            "oil", hours=("hours after", ".2~f"), value=("relative to its start", ".0%")
        ),
    )
    return parts.assemble(*parts.outlined_curves(curves), **words, height=270)


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
    base = _named("carrier", "kind", "oil", words="half gone after about")
    hours = _along(
        "hours",
        "time until half of the oil has gone",
        {"type": "log", "domain": [1 / 60, 48], "clamp": True},
        values=[1 / 60, 0.1, 0.5, 1, 2, 4, 8, 24],
        labelExpr="datum.value < 0.99 ? round(datum.value * 60) + ' min' : datum.value + ' h'",
        titleAnchor="end",
    )
    dots = base.mark_point(size=210, stroke=INK, strokeWidth=0.8, **_DOT)
    return parts.assemble(
        dots.encode(x=hours, color=parts.note_colour()),
        title="The same oils in one carrier of each kind",
        subtitle="the same grams of oil on the skin in every row · right: lasts longer",
        height=alt.Step(32),
    )


def skin_chart() -> alt.LayerChart:
    """Shares of each molecule that go into the air and into the skin."""
    base = _named("molecule", "way", share=("", ".1%"))
    whole = {"domain": [0, 1.22], "nice": False}
    colours = {rows.AIR: ACCENT, rows.SKIN: "#d9b48f"}
    bars = parts.outlined_bars(base, 0.62).encode(
        x=_along("share", "share of what was put on", whole, format="%", values=_QUARTERS),
        color=parts.colour_of("way", colours, legend=parts.TOP_LEGEND, title=None),
        order="order:Q",
    )
    to_skin = base.transform_filter(alt.datum.way == rows.SKIN)
    return parts.assemble(
        bars,
        parts.words_after(to_skin, alt.datum(1), dx=7),
        title="The skin drinks some",
        subtitle="where each molecule ends, in the long run",
        height=alt.Step(36),
        padding=parts.ROOM_FOR_WORDS,
    )


def draws_chart() -> alt.LayerChart:
    """One note drawn many times over."""
    strength = alt.Y(
        "value:Q",
        title="strength relative to its start",
        scale=alt.Scale(domain=[0, 1.6], clamp=True),
        axis=alt.Axis(values=[*_QUARTERS, 1.25, 1.5], format="%"),
    )
    base = parts.named_rows().encode(x=_TIME, y=strength, detail="line:N")
    thin, plain = (
        base.transform_filter(alt.datum.kind == kind) for kind in (rows.DRAW, rows.PLAIN)
    )
    tooltip = parts.tooltips(hours=("hours after", ".2~f"), value=("strength", ".0%"))
    return parts.assemble(
        thin.mark_line(strokeWidth=1.2, opacity=0.5).encode(
            color=parts.note_colour(legend=None)
        ),
        plain.mark_line(strokeWidth=4, color=INK).encode(tooltip=tooltip),
        title="Every thin line could be the true one",
        subtitle="thick: the plain forecast, one guess of many",
        height=300,
    )
