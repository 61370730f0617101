"""The chart of skin limits."""

import altair as alt

from blendkit.showing.kit import chart_parts as parts
from blendkit.showing.kit.look import ACCENT, ALERT, CAUTION, INK
from blendkit.showing.skin.rows import ADVICE, LAW, MOST_SHOWN
from blendkit.skin.limits import NOT_SETTLED, OVER, WITHIN

_PALE_ACCENT = "#8fb5b3"  # far from the alert in a greyscale print too


def _verdict_scale(within: str) -> alt.Scale:
    return alt.Scale(domain=[OVER, NOT_SETTLED, WITHIN], range=[ALERT, CAUTION, within])


def limits_chart() -> alt.LayerChart:
    """Share of each limit used, worst first, of the rows of `limits_rows`; a stroke at 100 %.

    The bar goes to the high end, the dot marks typical figures. The share is above its bar,
    before the name of the limit, which may be cut short on a narrow page; what is over or not
    settled says so in words, and advice is hollow.
    """
    base = parts.named_rows().encode(
        y=parts.names_down("limit", None),
        tooltip=parts.tooltips(
            "limit",
            share=("times its limit", ".3~g"),
            typical=("typically", ".3~g"),
            amount="amount",
            ceiling="limit",
            basis="weakest figure",
            oils="from",
            source="",
        ),
    )
    bars = _limit_bars(base)
    words = parts.words_after(
        base.transform_calculate(line="datum.words + ' · ' + datum.limit"),
        alt.datum(0), "line:N", dx=0, dy=-8, limit=alt.ExprRef("width"),
    )  # fmt: skip
    stroke = base.mark_tick(thickness=2, size=19, yOffset=10, color=INK).encode(x=alt.datum(1))
    dot = base.mark_point(filled=True, size=46, yOffset=10, opacity=1, color=INK)
    return parts.assemble(
        bars,
        words,
        stroke,
        dot.encode(x="typical:Q"),
        title="How much of each limit is used",
        subtitle=[
            "worst first · bar: high end · dot: typical · stroke: the limit",
            "pale bars are advice, not law",
        ],
        height=alt.Step(42),
    )


def _limit_bars(base: alt.Chart) -> alt.Chart:
    """Bars as long as the share used; what decides is filled, advice is hollow."""
    bars: alt.Chart = base.mark_bar(height=13, yOffset=10, strokeWidth=1.4).encode(
        x=alt.X(
            "drawn:Q",
            title="of the limit",
            scale=alt.Scale(domain=[0, MOST_SHOWN * 1.1], nice=False),
            axis=alt.Axis(
                values=[0, 0.5, 1, 2, 3], labelExpr="datum.value * 100 + ' %'", grid=False
            ),
        ),
        fill=alt.Fill(
            "verdict:N", title=None, scale=_verdict_scale(_PALE_ACCENT), legend=parts.TOP_LEGEND
        ),
        stroke=alt.Stroke("verdict:N", scale=_verdict_scale(ACCENT), legend=None),
        fillOpacity=alt.FillOpacity(
            "decides:N",
            sort=[LAW, ADVICE],
            scale=alt.Scale(domain=[LAW, ADVICE], range=[0.9, 0.08]),
            legend=None,
        ),
    )
    return bars
