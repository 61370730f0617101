"""The chart of a bottle's drops."""

import altair as alt

from blendkit.showing.kit import chart_parts as parts
from blendkit.showing.kit.look import INK


def drops_chart() -> alt.LayerChart:
    """Whole drops and target ratio, oil by oil, of the rows of `drops_rows`.

    Bars are the amounts, upright strokes what the ratio asks for; one fixed by hand has none.
    """
    base = parts.named_rows().encode(
        y=parts.names_down("label", parts.name_axis()),
        tooltip=[
            alt.Tooltip("label:N", title="oil"),
            alt.Tooltip("note:N"),
            alt.Tooltip("drops:Q", title="amount"),
            alt.Tooltip("asked:N", title="target"),
            alt.Tooltip("percent:Q", title="% of the oils", format=".1f"),
        ],
    )
    bars = parts.outlined_bars(base, 0.72).encode(
        x=alt.X(
            "drops:Q",
            title="drops (grams where weighed)",
            axis=alt.Axis(tickMinStep=1, tickCount=6),
        ),
        color=parts.note_colour(),
    )
    # no stroke where there is no target: a null is left out
    strokes = base.mark_tick(thickness=3, size=26, color=INK).encode(x="target:Q")
    counts = parts.words_after(base, "furthest:Q", "count:N")
    room = base.mark_point(opacity=0).encode(x="reach:Q")
    return parts.assemble(
        room,
        bars,
        strokes,
        counts,
        title="Amounts and target ratio",
        subtitle=["bar: whole drops or steps of the scale · stroke: what the ratio asks for"],
        height=alt.Step(33),
        padding=parts.ROOM_FOR_WORDS,
    )
