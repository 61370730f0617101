"""Parts and theme of every Altair chart.

A chart is written once, in `charts.py` of its room, over data that is named and empty; the
function of the same name in `rows.py` makes its rows. Panels show the documents built from
these functions and swap the rows; a cell gets the chart with its rows from
`blendkit.showing.charts`.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import altair as alt

from blendkit.foundation.schema import NOTES
from blendkit.showing.kit.look import FAINT_INK, FONT, INK, NOTE_COLOURS, PAPER, RULE

DATA = "rows"
# by a rank in the rows: Vega would keep the order of the first rows it ever saw
_AS_GIVEN = alt.EncodingSortField(field="rank", op="min", order="ascending")
_WIDTH = 560  # before a panel fits the chart to its own [px]
# The whole chart's width; panels keep it up to date. What is laid out by it is right at once,
# where the width inside the axes is known only after their labels are drawn
_ROOM = alt.VariableParameter(name="room", value=_WIDTH)
_COLUMNS = alt.ExprRef("room < 380 ? 1 : 0")  # one below the other on a phone
TOP_LEGEND = alt.Legend(orient="top", columns=_COLUMNS, symbolOpacity=1)
# long and thick enough to tell a broken stroke from a whole one
STROKE_LEGEND = alt.Legend(
    orient="bottom",
    direction="horizontal",
    columns=_COLUMNS,
    symbolSize=900,
    symbolStrokeWidth=2.5,
)
# of a reversed axis, whose start is at the right: a long title then reaches to the left
TITLE_AT_THE_RIGHT: dict[str, Any] = {"titleAnchor": "start", "titleAlign": "right"}
# keeps words behind the longest bar inside a narrow page too
ROOM_FOR_WORDS = {"left": 5, "top": 5, "bottom": 5, "right": 60}
_SIZE = 13  # of every letter but a title's [px]
_LABELS = {"labelFontSize": _SIZE, "labelColor": INK}
_TITLES = {"titleFontSize": _SIZE, "titleColor": INK}
_LINES = {"gridColor": RULE, "gridOpacity": 0.5, "domainColor": RULE, "tickColor": RULE}


def assemble(
    *layers: alt.Chart, title: str, subtitle: str | list[str], **more: Any
) -> alt.LayerChart:
    """A chart of layers, with its title and size, in the house's fonts, inks and paper."""
    words = alt.TitleParams(title, subtitle=subtitle)
    fit = alt.AutoSizeParams(type="fit-x", contains="padding")
    chart: alt.LayerChart = (
        alt.layer(*layers)
        .properties(width=_WIDTH, autosize=fit, title=words, params=[_ROOM], **more)
        .configure(background=PAPER, font=FONT)
        .configure_axis(
            titleFontWeight="normal", labelLimit=240, **_LABELS, **_TITLES, **_LINES
        )
        .configure_legend(**_LABELS, **_TITLES)
        .configure_title(
            fontSize=15,
            anchor="start",
            color=INK,
            fontWeight=600,
            offset=10,
            subtitleColor=FAINT_INK,
            subtitleFontSize=_SIZE,
        )
        .configure_view(stroke=None)
    )
    return chart


def named_rows() -> alt.Chart:
    """A chart without marks, of the rows that a live view swaps."""
    return alt.Chart(alt.NamedData(name=DATA))


def colour_of(field: str, colours: Mapping[str, str], **more: Any) -> alt.Color:
    """A colour for each value of a field."""
    scale = alt.Scale(domain=list(colours), range=list(colours.values()))
    return alt.Color(f"{field}:N", scale=scale, **more)


def note_colour(
    legend: alt.Legend | None = TOP_LEGEND, notes: Sequence[str] = NOTES
) -> alt.Color:
    """The notes in their colours, with a legend."""
    colours = {note: NOTE_COLOURS[note] for note in notes}
    return colour_of("note", colours, title=None, legend=legend)


def dashes(solid: str, dashed: str, **more: Any) -> alt.StrokeDash:
    """Two series of lines, the first one solid and the second one dashed."""
    scale = alt.Scale(domain=[solid, dashed], range=[[1, 0], [6, 4]])
    return alt.StrokeDash("series:N", scale=scale, **more)


def names_down(field: str, axis: alt.Axis | None) -> alt.Y:
    """A row for each name, in the order of their ranks."""
    return alt.Y(f"{field}:N", sort=_AS_GIVEN, title=None, axis=axis)


def tooltips(*names: str, **more: str | tuple[str, str]) -> list[alt.Tooltip]:
    """Words at the pointer: names, then words by their title, and numbers by their format too.

    What has an empty title goes by the name of its field.
    """
    made = []
    for field, words in (dict.fromkeys(names, "") | more).items():
        title, form = (words, None) if isinstance(words, str) else words
        given: dict[str, Any] = {"title": title} if title else {}
        given |= {"type": "quantitative", "format": form} if form else {"type": "nominal"}
        made.append(alt.Tooltip(field, **given))
    return made


def name_axis(**more: Any) -> alt.Axis:
    """An axis of names; a part in brackets gets a line of its own, which leaves room."""
    return _lines_axis("replace(datum.label, ' (', '\\n(')", **more)


def long_name_axis(**more: Any) -> alt.Axis:
    """An axis of long names, folded on a phone."""
    folded = "trim(replace(datum.label, regexp('(.{1,20})(?: |$)', 'g'), '$1\\n'))"
    return _lines_axis(f"room < 480 ? {folded} : datum.label", **more)


def _lines_axis(words: str, **more: Any) -> alt.Axis:
    lines = f"split({words}, '\\n')"
    centred = alt.ExprRef(f"6.5 * (1 - length({lines}))")
    return alt.Axis(
        ticks=False,
        domain=False,
        labelExpr=lines,
        labelLineHeight=13,
        labelOffset=centred,
        **more,
    )


def outlined_bars(base: alt.Chart, band: float = 0.7) -> alt.Chart:
    """Bars with a dark edge, which the pale colours need."""
    bars: alt.Chart = base.mark_bar(height={"band": band}, stroke=INK, strokeWidth=0.6)
    return bars


def words_after(
    base: alt.Chart, end: Any, words: str = "words:N", dx: int = 8, **more: Any
) -> alt.Chart:
    """Words to the right of a bar's end."""
    style: dict[str, Any] = {"align": "left", "dx": dx, "fontSize": _SIZE, "color": INK} | more
    text: alt.Chart = base.mark_text(**style).encode(x=end, text=words)
    return text


def outlined_curves(curves: alt.Chart) -> tuple[alt.Chart, alt.Chart]:
    """A dark edge, and the curves as lines over it: so the pale ones show in grey too."""
    # without a colour to part them, a line would run from note to note
    edge = curves.mark_line(strokeWidth=4.6).encode(
        color=alt.value(INK), detail=["note:N", "series:N"]
    )
    return edge, curves.mark_line(strokeWidth=3)


def draw_offline() -> None:
    """Let JupyterLab draw charts with the Vega-Lite it ships, unless somebody chose a renderer.

    Altair's own default asks the network for Vega, and shows an error where there is none.
    """
    if alt.renderers.active == "default":
        alt.renderers.register("blendkit", _as_lab_draws)
        alt.renderers.enable("blendkit")


def _as_lab_draws(document: dict[str, Any], **_: Any) -> dict[str, Any]:
    # what the charts here use means the same in the version before Altair's
    schema = "https://vega.github.io/schema/vega-lite/v5.json"
    return {"application/vnd.vegalite.v5+json": document | {"$schema": schema}}
