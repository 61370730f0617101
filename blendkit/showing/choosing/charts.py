"""The charts of what next: what a replacement keeps, the map of a blend, what one oil adds."""

from __future__ import annotations

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


def smell_chart() -> alt.LayerChart:
    """Shares of the smell that stay, go and come at each hour, of the rows of `smell_rows`."""
    kinds = alt.Scale(domain=[KEPT, LOST, GAINED], range=[ACCENT, PAPER, CAUTION])
    bars = (
        parts.named_rows()
        .mark_bar(stroke=INK, strokeWidth=0.8)
        .encode(
            x=alt.X(
                "hour:N",
                sort=alt.EncodingSortField(field="rank", op="min"),
                title="since it was put on",
                axis=alt.Axis(labelAngle=0, labelOverlap="greedy", ticks=False),
            ),
            y=alt.Y(
                "drawn:Q",
                title="of the smell",
                scale=alt.Scale(domain=[-1, 1.25], nice=False, clamp=True),
                axis=alt.Axis(
                    values=[-1, -0.5, 0, 0.5, 1], labelExpr="abs(datum.value) * 100 + ' %'"
                ),
            ),
            color=alt.Color("kind:N", title=None, scale=kinds, legend=parts.TOP_LEGEND),
            tooltip=[
                alt.Tooltip("hour:N"),
                alt.Tooltip("kind:N"),
                alt.Tooltip("share:Q", title="of the smell", format=".0%"),
            ],
        )
    )
    zero = parts.named_rows().mark_rule(color=INK).encode(y=alt.datum(0))
    return parts.assemble(
        bars,
        zero,
        title="What stays of the smell",
        subtitle="by constituents, hour by hour · below the line: lost",
        height=220,
    )


def map_chart() -> alt.LayerChart:
    """Recipes between three corners and who leads there, of the rows of `map_rows`.

    A panel sends `hour`, the place of the hour shown, and `here`, the dot in hand.
    """
    colours = [*(NOTE_COLOURS[note] for note in NOTES), RULE]
    leader = alt.Color(
        "lead:N", scale=alt.Scale(domain=list(range(4)), range=colours), legend=None
    )
    base = (
        parts.named_rows()
        .transform_calculate(
            px="width / 2 + (datum.x - 0.5) * side",
            py=f"{_MARGIN} + (1 - datum.y) * side * 0.866",
            lead="datum['lead' + hour]",
            sure="datum.barred ? 0.06 : 0.12 + 0.88 * datum['sure' + hour]",
            area="pow(side / max(datum.along, 1) * 0.88, 2)",
        )
        .encode(x=alt.X("px:Q", scale=None), y=alt.Y("py:Q", scale=None))
    )
    recipes = base.transform_filter("isValid(datum.pick)")
    words = alt.Tooltip("words:N", title="drops")
    dots = recipes.mark_circle(
        stroke=INK, strokeWidth=0.5, strokeOpacity=0.5, opacity=1, cursor="grab"
    ).encode(
        color=leader,
        fillOpacity=alt.Opacity("sure:Q", scale=None),
        size=alt.Size("area:Q", scale=None),
        tooltip=words,
    )
    barred = (
        recipes.transform_filter("datum.barred")
        .transform_calculate(cross="max(datum.area * 0.7, 14)")
        .mark_point(shape="cross", angle=45, filled=True, color=ALERT, opacity=1)
        .encode(size=alt.Size("cross:Q", scale=None))
    )
    kept = (
        recipes.transform_filter("isValid(datum.kept)")
        .mark_point(
            shape="diamond",
            size=150,
            filled=True,
            fill=PAPER,
            stroke=INK,
            strokeWidth=2,
            opacity=1,
        )
        .encode(tooltip=[alt.Tooltip("kept:N"), words])
    )
    here = recipes.transform_filter("datum.pick === here")
    ring = here.mark_point(size=420, stroke=PAPER, strokeWidth=6, opacity=1)
    core = here.mark_point(size=420, stroke=INK, strokeWidth=3, opacity=1)
    names = [
        base.transform_filter(f"datum.place === {place}")
        .mark_text(fontSize=14, fontWeight=600, color=INK, **style)
        .encode(text="corner:N")
        for place, style in enumerate(_CORNER_WORDS)
    ]
    chart = parts.assemble(
        dots,
        barred,
        kept,
        ring,
        core,
        *names,
        title="Who leads where",
        subtitle=[
            "each dot: a recipe · pale: nearly equal chances",
            "✕: over a skin limit · ◆: kept · ring: in hand",
        ],
        height=_HEIGHT,
        usermeta={"picks": True},
    )
    own: list[Any] = [alt.VariableParameter(name=name, value=-1) for name in ("hour", "here")]
    side = alt.VariableParameter(name="side", expr=_SIDE)
    chart["params"] = [*chart["params"], *own, side]
    return chart


def more_chart() -> alt.LayerChart:
    """Oils by what each would add, of the rows of `more_rows`."""
    base = parts.named_rows().encode(y=parts.names_down("label", None))
    scale = alt.Scale(domain=["within the limits", "over a limit"], range=[ACCENT, PAPER])
    bars = base.mark_bar(height=12, yOffset=10, stroke=INK, strokeWidth=0.8).encode(
        x=alt.X("drawn:Q", axis=None, scale=alt.Scale(domain=[0, 1], nice=False)),
        color=alt.Color("allowed:N", scale=scale, legend=None),
    )
    words = parts.words_after(
        base.transform_calculate(
            line="room < 480 ? [datum.label, datum.words] : datum.label + ' · ' + datum.words"
        ),
        alt.datum(0), "line:N", dx=0, dy=alt.ExprRef("room < 480 ? -22 : -8"),
        limit=alt.ExprRef("width"), lineHeight=15,
    )  # fmt: skip
    return parts.assemble(
        bars,
        words,
        title="What one more oil would add",
        subtitle="most first · hollow: over a skin limit",
        height=alt.Step(54),
    )
