"""Charts of a batch: amounts, stock and cost."""

from typing import Any

import altair as alt

from blendkit.batch.cost import KINDS
from blendkit.foundation.schema import NOTES
from blendkit.showing.batch.rows import ENOUGH, LACKS, MOST_SHOWN
from blendkit.showing.kit import chart_parts as parts
from blendkit.showing.kit.look import ACCENT, ALERT, INK, NOTE_COLOURS, PAPER, RULE

_NAMES = parts.long_name_axis(labelLimit=220)
_SIX_TICKS = alt.Axis(tickCount=6)


def _base(axis: alt.Axis | None = _NAMES) -> alt.Chart:
    return parts.named_rows().encode(y=parts.names_down("name", axis))


def _with_room(base: alt.Chart, *layers: alt.Chart, **about: Any) -> alt.LayerChart:
    """Bars with their words, and room for those as far as `reach`."""
    room = base.mark_point(opacity=0).encode(x="reach:Q")
    return parts.assemble(room, *layers, height=alt.Step(30), **about)


def weighing_chart() -> alt.LayerChart:
    """Amounts to count and weigh, smallest first, of the rows of `weighing_rows`."""
    base = _base()
    bars = parts.outlined_bars(base).encode(
        x=alt.X("grams:Q", title="g", scale=alt.Scale(type="sqrt"), axis=_SIX_TICKS),
        color=parts.note_colour(notes=(*NOTES, "carrier")),
        tooltip=parts.tooltips(
            "name", words="measure out", grams=("g", ".3f"), error=("rounding, % of it", "+.2f")
        ),
    )
    words = parts.words_after(base, "grams:Q", fontSize=15, fontWeight=600)
    return _with_room(
        *(base, bars, words),
        title="Measure out, smallest first",
        subtitle=[
            "few drops are counted, many are weighed",
            "small amounts are drawn longer than their share",
        ],
    )


def shelf_chart() -> alt.LayerChart:
    """Stock as a share of what the batch needs, of the rows of `shelf_rows`."""
    base = _base(axis=None)
    colours = {ENOUGH: ACCENT, LACKS: ALERT}
    bars = base.mark_bar(height=13, yOffset=16).encode(
        x=alt.X(
            "drawn:Q",
            title="share of what the batch needs",
            scale=alt.Scale(domain=[0, MOST_SHOWN], nice=False),
            axis=alt.Axis(values=[0, 0.5, 1, 1.5, 2], format="%", grid=False),
        ),
        color=parts.colour_of("verdict", colours, title=None, legend=parts.TOP_LEGEND),
        tooltip=parts.tooltips("name", share=("of what is needed", ".0%"), words="stock"),
    )
    # above its bar in two lines, for which a narrow page has room
    named = base.transform_calculate(lines="[datum.name, datum.words]")
    words = parts.words_after(named, alt.datum(0), "lines:N", dx=0, dy=-15, lineHeight=15)
    stroke = base.mark_tick(thickness=2, size=19, yOffset=16, color=INK).encode(x=alt.datum(1))
    return parts.assemble(
        bars,
        stroke,
        words,
        title="Stock for this batch",
        subtitle="up to the stroke at 100 % is enough",
        height=alt.Step(56),
    )


def cost_chart() -> alt.LayerChart:
    """Cost by material, highest first, of the rows of `cost_rows`."""
    base, legend = _base(), alt.Legend(orient="top", columns=2)
    shades = (ACCENT, NOTE_COLOURS["carrier"], RULE, PAPER)
    colours = dict(zip(KINDS, shades, strict=True))
    bars = parts.outlined_bars(base).encode(
        x=alt.X("cost:Q", title="cost of the batch", axis=_SIX_TICKS),
        color=parts.colour_of("kind", colours, title=None, legend=legend),
        tooltip=parts.tooltips("name", words="cost", arithmetic="calculation"),
    )
    words = parts.words_after(base, "cost:Q", dx=6)
    return _with_room(
        *(base, bars, words),
        title="Cost by material",
        subtitle="highest first",
        padding=parts.ROOM_FOR_WORDS,
    )
