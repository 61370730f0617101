"""Altair charts, each built once; afterwards only the rows of its data change.

A chart function returns an `altair.Chart` whose data is named, so that a live view can swap
the rows without building anything anew. The matching `..._rows` function makes the rows.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, TypeVar

import altair as alt

from blendkit.constituents import constituent
from blendkit.drops import Filling
from blendkit.limits import Finding
from blendkit.look import ACCENT, ALERT, FAINT_INK, FONT, INK, NOTE_COLOURS, PAPER, RULE
from blendkit.materials import Oil, mean_vapour_pressure_pa, oil
from blendkit.units import show
from blendkit.words import share_in_words

DATA = "rows"
_NOTES = ["top", "middle", "base"]
EVAPORATES, STAYS, UNDESCRIBED = "evaporates", "does not evaporate", "not described"
LAW, ADVICE = "law or standard", "advice"
MOST_SHOWN = 3.0  # longer bars are drawn to here; their words say how long they are
_SHORT = {
    "IFRA standards": "IFRA",
    "EU Cosmetics Regulation": "EU law",
    "UK Cosmetics Regulation": "UK law",
    "handbook dermal maximum": "handbook",
}
# by a rank in the rows: Vega would keep the order of the first rows it ever saw
AS_GIVEN = alt.EncodingSortField(field="rank", op="min", order="ascending")
TOP_LEGEND = alt.Legend(orient="top")
FIT_WIDTH = alt.AutoSizeParams(type="fit-x", contains="padding")
_AXIS_ENDS = (10, 20, 30, 50, 80, 120, 200, 300, 500, 1000)


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
        .configure_legend(labelFontSize=13, titleFontSize=13, labelColor=INK, titleColor=INK)
        .configure_title(fontSize=15, anchor="start", color=INK, fontWeight=600, offset=10)
        .configure_view(stroke=None)
    )
    return dressed


def note_scale() -> alt.Scale:
    """The notes in their colours."""
    return alt.Scale(domain=_NOTES, range=[NOTE_COLOURS[note] for note in _NOTES])


def ratio_chart() -> alt.LayerChart:
    """The ratio wished beside the ratio got, oil by oil.

    Bars are the whole drops got, upright strokes the drops the ratio asked for. Give it the
    rows of `ratio_rows`.
    """
    base = alt.Chart(alt.NamedData(name=DATA)).encode(
        y=alt.Y(
            "label:N", sort=AS_GIVEN, title=None, axis=alt.Axis(ticks=False, domain=False)
        ),
        tooltip=[
            alt.Tooltip("label:N", title="oil"),
            alt.Tooltip("note:N"),
            alt.Tooltip("drops:Q", title="drops got"),
            alt.Tooltip("wished:Q", title="drops wished", format=".2f"),
            alt.Tooltip("percent:Q", title="% of the oils", format=".1f"),
        ],
    )
    bars = base.mark_bar(height={"band": 0.72}, stroke=INK, strokeWidth=0.6).encode(
        x=alt.X("drops:Q", title="drops", axis=alt.Axis(tickMinStep=1, tickCount=6)),
        color=alt.Color(
            "note:N",
            title=None,
            scale=note_scale(),
            legend=TOP_LEGEND,
        ),
    )
    strokes = base.mark_tick(thickness=3, size=26, color=INK).encode(x="wished:Q")
    counts = base.mark_text(align="left", dx=8, fontSize=13, color=INK).encode(
        x="furthest:Q", text="count:N"
    )
    room = base.mark_point(opacity=0).encode(x="reach:Q")
    title = alt.TitleParams(
        "Drops got, and the ratio wished",
        subtitle="bar: whole drops · upright stroke: what the ratio asks for",
        subtitleColor=FAINT_INK,
        subtitleFontSize=13,
    )
    chart: alt.LayerChart = (room + bars + strokes + counts).properties(
        width=460,
        height=alt.Step(30),
        autosize=FIT_WIDTH,
        title=title,
    )
    return dressed(chart)


def ratio_rows(filling: Filling) -> list[dict[str, Any]]:
    """Rows for `ratio_chart`, top note first.

    `reach` is where the axis ends: a round number that seldom changes, so that the bars move
    and not the axis while someone drags.
    """
    rows = []
    longest = max(max(p.drops or 0, p.wished_drops or 0) for p in filling.oils)
    reach = next((step for step in _AXIS_ENDS if step >= longest * 1.2), longest * 1.2)
    top_first = sorted(filling.oils, key=lambda portion: _NOTES.index(portion.note))
    for rank, portion in enumerate(top_first):
        drops = portion.drops or 0
        wished = drops if portion.wished_drops is None else portion.wished_drops
        rows.append(
            {
                "rank": rank,
                "label": portion.name,
                "note": portion.note,
                "drops": drops,
                "wished": wished,
                "furthest": max(drops, wished),
                "reach": reach,
                "count": f"{drops}"
                if abs(drops - wished) < 0.005
                else f"{drops} for {wished:.2f}",
                "percent": drops / filling.oil_drops * 100,
            }
        )
    return rows


def volatility_chart() -> alt.Chart:
    """Each oil as the spread of its constituents over vapour pressure.

    One circle a constituent, its area the share of the oil; what leaves first stands on the
    left. An oil is not one point. Give it the rows of `volatility_rows`.
    """
    base = alt.Chart(alt.NamedData(name=DATA)).encode(
        x=alt.X(
            "pressure:Q",
            title="vapour pressure at 25 °C, Pa",
            scale=alt.Scale(type="log", domain=[1e-4, 1e3], reverse=True, clamp=True),
            axis=alt.Axis(values=[1e3, 100, 10, 1, 0.1, 0.01, 1e-3, 1e-4], format="~g"),
        ),
        y=alt.Y("oil:N", sort=AS_GIVEN, title=None, axis=alt.Axis(grid=True, ticks=False)),
        tooltip=[
            alt.Tooltip("oil:N"),
            alt.Tooltip("constituent:N"),
            alt.Tooltip("percent:Q", title="% of the oil", format=".1f"),
            alt.Tooltip("pressure:Q", title="vapour pressure, Pa", format=".2~g"),
            alt.Tooltip("factor:Q", title="may be off by ×/÷", format=".2~g"),
            alt.Tooltip("basis:N", title="figure"),
        ],
    )
    circles = base.mark_point(filled=True, opacity=0.75, stroke=INK, strokeWidth=0.8).encode(
        size=alt.Size(
            "percent:Q",
            title="% of the oil",
            scale=alt.Scale(type="linear", domain=[0, 100], range=[6, 900]),
            legend=alt.Legend(orient="top", values=[1, 10, 50], symbolFillColor=PAPER),
        ),
        color=alt.Color("note:N", title="usual note", scale=note_scale(), legend=TOP_LEGEND),
        shape=alt.Shape(
            "state:N",
            title=None,
            scale=alt.Scale(
                domain=[EVAPORATES, STAYS, UNDESCRIBED], range=["circle", "square", "cross"]
            ),
            legend=alt.Legend(orient="bottom", direction="horizontal"),
        ),
    )
    title = alt.TitleParams(
        "An oil is not one point",
        subtitle="left: leaves the skin first · right: stays longest",
        subtitleColor=FAINT_INK,
        subtitleFontSize=13,
    )
    chart: alt.Chart = circles.properties(
        width=560, height=alt.Step(26), autosize=FIT_WIDTH, title=title
    )
    return dressed(chart)


def volatility_rows(oils: Iterable[Oil], smallest_percent: float = 0.5) -> list[dict[str, Any]]:
    """Rows for `volatility_chart`: the oils in the order given, each by its constituents."""
    return [
        {"rank": rank} | row
        for rank, oil in enumerate(oils)
        for row in _volatility_of(oil, smallest_percent / 100)
    ]


def _volatility_of(oil: Oil, smallest: float) -> Iterator[dict[str, Any]]:
    own = {"oil": oil.name, "note": oil.note}
    for share in oil.composition:
        known = constituent(share.constituent)
        if share.typical >= smallest:
            yield own | {
                "constituent": known.name,
                "percent": share.typical * 100,
                "pressure": known.vapour_pressure_pa if known.is_volatile else 1e-4,
                "factor": known.uncertainty_factor,
                "basis": known.vapour_pressure_basis or "does not evaporate in a day",
                "state": EVAPORATES if known.is_volatile else STAYS,
            }
    if oil.unidentified_fraction >= smallest:
        yield own | {
            "constituent": "not described by the analyses on record",
            "percent": oil.unidentified_fraction * 100,
            "pressure": mean_vapour_pressure_pa(oil),
            "factor": 10.0,
            "basis": "taken as the oil's own mean",
            "state": UNDESCRIBED,
        }


def _verdict_scale() -> alt.Scale:
    return alt.Scale(domain=["over", "within"], range=[ALERT, ACCENT])


def limits_chart() -> alt.LayerChart:
    """How much of each limit is used, the worst first, with the line at 1.

    What is over says so in words behind its bar; advice is hollow. Give it the rows of
    `limits_rows`.
    """
    base = alt.Chart(alt.NamedData(name=DATA)).encode(
        y=alt.Y(
            "limit:N", sort=AS_GIVEN, title=None, axis=alt.Axis(ticks=False, labelLimit=340)
        ),
        tooltip=[
            alt.Tooltip("limit:N"),
            alt.Tooltip("share:Q", title="times its limit", format=".3~g"),
            alt.Tooltip("amount:N", title="amount"),
            alt.Tooltip("ceiling:N", title="limit"),
            alt.Tooltip("basis:N", title="weakest figure"),
            alt.Tooltip("oils:N", title="from"),
            alt.Tooltip("source:N"),
        ],
    )
    bars = base.mark_bar(height={"band": 0.7}, strokeWidth=1.4).encode(
        x=alt.X(
            "drawn:Q",
            title="share of the limit",
            scale=alt.Scale(domain=[0, MOST_SHOWN * 1.5], nice=False),
            axis=alt.Axis(values=[0, 0.5, 1, 1.5, 2, 2.5, 3], format="~g"),
        ),
        fill=alt.Fill("verdict:N", title=None, scale=_verdict_scale(), legend=TOP_LEGEND),
        stroke=alt.Stroke("verdict:N", scale=_verdict_scale(), legend=None),
        fillOpacity=alt.FillOpacity(
            "decides:N",
            sort=[LAW, ADVICE],
            scale=alt.Scale(domain=[LAW, ADVICE], range=[0.9, 0.08]),
            legend=None,
        ),
    )
    words = base.mark_text(align="left", dx=6, fontSize=13, color=INK).encode(
        x="drawn:Q", text="words:N"
    )
    line = base.mark_tick(thickness=2, size=20, color=INK).encode(x=alt.datum(1))
    title = alt.TitleParams(
        "How much of each limit is used, worst first",
        subtitle="past the stroke at 1 is over · pale bars are advice, not law",
        subtitleColor=FAINT_INK,
        subtitleFontSize=13,
    )
    chart: alt.LayerChart = (bars + words + line).properties(
        width=560, height=alt.Step(27), autosize=FIT_WIDTH, title=title
    )
    return dressed(chart)


def limits_rows(findings: Iterable[Finding], most: int = 24) -> list[dict[str, Any]]:
    """Rows for `limits_chart`: limits that have a figure, in the order given."""
    rows: list[dict[str, Any]] = []
    for finding in findings:
        rule, ceiling = finding.rule, finding.rule.ceiling
        if ceiling is None or finding.amount == 0:
            continue
        if len(rows) == most:
            break
        rows.append(
            {
                "rank": len(rows),
                "limit": f"{rule.subject} · {_SHORT.get(rule.rule_set, rule.rule_set)}",
                "share": min(finding.share, 1e6),
                "drawn": min(finding.share, MOST_SHOWN),
                "amount": f"{show(finding.amount * 100)} %",
                "ceiling": f"{show(ceiling * 100)} %",
                "basis": rule.figure_basis,
                "oils": ", ".join(oil(name).name for name, _ in finding.from_oils),
                "source": rule.source,
                "verdict": finding.verdict,
                "decides": LAW if rule.decides else ADVICE,
                "words": share_in_words(finding),
            }
        )
    return rows


def live_spec(chart: alt.Chart | alt.LayerChart) -> dict[str, Any]:
    """A chart as a plain Vega-Lite document, its data empty and named."""
    spec: dict[str, Any] = chart.to_dict(validate=True)
    spec["datasets"] = {DATA: []}
    return spec
