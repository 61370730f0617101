"""The charts of what next: what a replacement keeps, the map of a blend, what one oil adds."""

from typing import Any

import altair as alt

from blendkit.foundation.schema import NOTES
from blendkit.showing.choosing.rows import GAINED, KEPT, LOST
from blendkit.showing.kit import chart_parts as parts
from blendkit.showing.kit.look import ACCENT, ALERT, CAUTION, INK, NOTE_COLOURS, PAPER, RULE

_HEIGHT, _MARGIN = 372, 22  # of the map and around its triangle [px]
_SIDE = f"min(room - {2 * _MARGIN + 8}, {_HEIGHT - 2 * _MARGIN} / 0.866)"
_CORNER_WORDS: tuple[dict[str, Any], ...] = (
    {"align": "center", "dy": -12},
    {"align": "left", "dy": 18, "dx": -_MARGIN},
    {"align": "right", "dy": 18, "dx": _MARGIN},
)
_OUTLINE: dict[str, Any] = {"stroke": INK, "strokeWidth": 0.8}


def smell_chart() -> alt.LayerChart:
    """Shares of the smell that stay, go and come at each hour, of the rows of `smell_rows`."""
    kinds = alt.Scale(domain=[KEPT, LOST, GAINED], range=[ACCENT, PAPER, CAUTION])
    shares = alt.Scale(domain=[-1, 1.25], nice=False, clamp=True)
    by_hour = alt.EncodingSortField(field="rank", op="min")
    flat = alt.Axis(labelAngle=0, labelOverlap="greedy", ticks=False)
    percent = alt.Axis(values=[-1, -0.5, 0, 0.5, 1], labelExpr="abs(datum.value) * 100 + ' %'")
    bars = parts.named_rows().mark_bar(**_OUTLINE).encode(
        x=alt.X("hour:N", sort=by_hour, title="since it was put on", axis=flat),
        y=alt.Y("drawn:Q", title="of the smell", scale=shares, axis=percent),
        color=alt.Color("kind:N", title=None, scale=kinds, legend=parts.TOP_LEGEND),
        tooltip=["hour:N", "kind:N", alt.Tooltip("share:Q", format=".0%")],
    )  # fmt: skip
    zero = parts.named_rows().mark_rule(color=INK).encode(y=alt.datum(0))
    subtitle = "by constituents, hour by hour · below the line: lost"
    title = "What stays of the smell"
    return parts.assemble(bars, zero, title=title, subtitle=subtitle, height=220)


def map_chart() -> alt.LayerChart:
    """Recipes between three corners and who leads there, of the rows of `map_rows`.

    A panel sends `hour`, the place of the hour shown, and `here`, the dot in hand.
    """
    colours = [*(NOTE_COLOURS[note] for note in NOTES), RULE]
    scale = alt.Scale(domain=list(range(len(colours))), range=colours)
    base = parts.named_rows().transform_calculate(
        px="width / 2 + (datum.x - 0.5) * side",
        py=f"{_MARGIN} + (1 - datum.y) * side * 0.866",
        lead="isValid(datum.pick) && hour >= 0 ? datum.leads[hour] : 0",
        sure="!isValid(datum.pick) || datum.barred ? 0.06 : 0.12 + 0.88 * datum.sures[hour]",
        area="pow(side / max(datum.along, 1) * 0.88, 2)",
        cross="max(datum.area * 0.7, 14)",
    )  # fmt: skip
    base = base.encode(x=alt.X("px:Q", scale=None), y=alt.Y("py:Q", scale=None))
    recipes = base.transform_filter("isValid(datum.pick)").encode(tooltip="words:N")
    dots = recipes.mark_circle(**_OUTLINE, strokeOpacity=0.3, opacity=1, cursor="grab").encode(
        color=alt.Color("lead:N", scale=scale, legend=None),
        fillOpacity=alt.Opacity("sure:Q", scale=None),
        size=alt.Size("area:Q", scale=None),
    )  # fmt: skip
    barred = recipes.transform_filter("datum.barred").mark_point(
        shape="cross", angle=45, filled=True, color=ALERT, opacity=1
    )
    kept = recipes.transform_filter("isValid(datum.kept)").mark_point(
        shape="diamond", size=150, filled=True, fill=PAPER, opacity=1, stroke=INK, strokeWidth=2
    )
    here = recipes.transform_filter("datum.pick === here")
    rings = [
        here.mark_point(size=420, stroke=colour, strokeWidth=width, opacity=1)
        for colour, width in ((PAPER, 6), (INK, 3))
    ]
    names = [
        base.transform_filter(f"datum.place === {place}").encode(text="corner:N")
        .mark_text(fontSize=14, fontWeight=600, color=INK, **style)
        for place, style in enumerate(_CORNER_WORDS)
    ]  # fmt: skip
    chart = parts.assemble(
        dots, barred.encode(size=alt.Size("cross:Q", scale=None)), kept, *rings, *names,
        title="Who leads where",
        subtitle=[
            "each dot: a recipe · pale: nearly equal chances",
            "✕: over a skin limit · ◆: kept · ring: in hand",
        ],
        height=_HEIGHT,
        usermeta={"picks": True},
    )  # fmt: skip
    own: list[Any] = [alt.VariableParameter(name=name, value=-1) for name in ("hour", "here")]
    chart["params"] = [*chart["params"], *own, alt.VariableParameter(name="side", expr=_SIDE)]
    return chart


def more_chart() -> alt.LayerChart:
    """Oils by what each would add, of the rows of `more_rows`."""
    line = "room < 480 ? [datum.label, datum.words] : datum.label + ' · ' + datum.words"
    base = parts.named_rows().encode(y=parts.names_down("label", None))
    allowed = alt.Scale(domain=["within the limits", "over a limit"], range=[ACCENT, PAPER])
    bars = base.mark_bar(height=12, yOffset=10, **_OUTLINE).encode(
        x=alt.X("drawn:Q", axis=None, scale=alt.Scale(domain=[0, 1], nice=False)),
        color=alt.Color("allowed:N", scale=allowed, legend=None),
    )  # fmt: skip
    words = parts.words_after(
        base.transform_calculate(line=line), alt.datum(0), "line:N", dx=0, lineHeight=15,
        dy=alt.ExprRef("room < 480 ? -22 : -8"), limit=alt.ExprRef("width"),
    )  # fmt: skip
    title, subtitle = "What one more oil would add", "most first · hollow: over a skin limit"
    return parts.assemble(bars, words, title=title, subtitle=subtitle, height=alt.Step(54))
