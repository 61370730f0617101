"""The chart of volatility."""

import altair as alt

from blendkit.showing.kit import chart_parts as parts
from blendkit.showing.kit.look import INK
from blendkit.showing.shelf.rows import EVAPORATES, STAYS, UNDESCRIBED


def volatility_chart() -> alt.LayerChart:
    """Each oil as the spread of its constituents over vapour pressure.

    One circle a constituent, its area the share of the oil; what leaves first is on the left.
    An oil is not one point. Of the rows of `volatility_rows`.
    """
    base = parts.named_rows().encode(
        x=alt.X(
            "pressure:Q",
            title="vapour pressure at 25 °C, Pa",
            scale=alt.Scale(type="log", domain=[1e-4, 1e3], reverse=True, clamp=True),
            axis=alt.Axis(
                values=[1e3, 100, 10, 1, 0.1, 0.01, 1e-3, 1e-4],
                format="~g",
                labelSeparation=8,
                **parts.TITLE_AT_THE_RIGHT,
            ),
        ),
        y=parts.names_down("oil", parts.name_axis(grid=True)),
        tooltip=parts.tooltips(
            *("oil", "constituent"),
            percent=("% of the oil", ".1f"),
            pressure=("vapour pressure, Pa", ".2~g"),
            factor=("may be off by ×/÷", ".2~g"),
            basis="figure",
        ),
    )
    states = alt.Scale(
        domain=[EVAPORATES, STAYS, UNDESCRIBED], range=["circle", "square", "cross"]
    )
    circles = base.mark_point(filled=True, opacity=0.75, stroke=INK, strokeWidth=0.8).encode(
        size=alt.Size(
            "percent:Q",
            title="% of the oil",
            scale=alt.Scale(type="linear", domain=[0, 100], range=[6, 900]),
            legend=None,
        ),
        color=parts.note_colour(),
        shape=alt.Shape(
            "state:N",
            title=None,
            scale=states,
            legend=alt.Legend(orient="bottom", direction="vertical"),
        ),
    )
    return parts.assemble(
        circles,
        title="An oil is not one point",
        subtitle=[
            "left: leaves the skin first · right: stays longest",
            "area: share of the oil",
        ],
        height=alt.Step(32),
    )
