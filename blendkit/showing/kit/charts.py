"""Altair charts, each built once; afterwards only the rows of its data change.

A chart function returns an `altair.Chart` whose data is named, so that a live view can swap
the rows without building anything anew. `blendkit.showing.kit.chart_rows` makes the rows.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeVar

import altair as alt

from blendkit.foundation.schema import NOTES
from blendkit.showing.kit.look import (
    FAINT_INK,
    FONT,
    INK,
    NOTE_COLOURS,
    PAPER,
    RULE,
)

DATA = "rows"
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
