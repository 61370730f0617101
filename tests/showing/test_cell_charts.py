"""Charts from a cell: whole, drawn without a network, and what the panels show."""

from __future__ import annotations

import re
import subprocess
import sys
from datetime import time

import altair as alt
import pytest
import vl_convert

import blendkit as bk
from blendkit.panels import first_bottle, skin_check

MAKERS = {
    "drops": bk.chart_drops,
    "limits": bk.chart_limits,
    "fade": bk.chart_fade,
}


@pytest.fixture(scope="module")
def blend():
    return bk.as_blend(bk.example_document())


@pytest.fixture(autouse=True)
def renderer():
    alt.renderers.enable("default")
    yield
    alt.renderers.enable("default")


def rows_of(chart: alt.LayerChart) -> list[dict]:
    return chart.to_dict()["datasets"]["rows"]


@pytest.mark.parametrize("name", MAKERS)
def test_a_chart_of_a_blend_has_its_data_and_draws_them(name, blend):
    chart = MAKERS[name](blend)
    assert isinstance(chart, alt.LayerChart)
    drawn = vl_convert.vegalite_to_svg(chart.to_dict(validate=True))
    row = rows_of(chart)[0]
    assert re.search(row.get("note") or row["limit"].split(" (")[0], drawn)


def test_the_rows_are_those_of_the_panels(blend):
    bottle = first_bottle(blend.to_dict())
    bottle.folds[0].selected_index = 0
    assert rows_of(bk.chart_drops(blend)) == bottle.chart.rows
    assert rows_of(bk.chart_limits(blend)) == skin_check(blend.to_dict()).chart.rows


def test_a_document_is_as_good_and_its_market_decides(blend):
    sold = blend.to_dict() | {"market": {"region": "US", "use": "perfume oil"}}
    assert rows_of(bk.chart_drops(sold)) == rows_of(bk.chart_drops(blend))
    assert rows_of(bk.chart_limits(sold)) == rows_of(bk.chart_limits(blend, region="US"))
    assert rows_of(bk.chart_limits(sold)) != rows_of(bk.chart_limits(blend))


def test_another_use_is_another_limit(blend):
    usual, other = (rows_of(bk.chart_limits(blend, use=u)) for u in ("perfume oil", "body oil"))
    assert usual != other


def test_the_day_begins_where_it_is_applied_and_wind_shortens_it(blend):
    still, windy = (
        bk.chart_fade(blend, 1, applied_at=time(21, 30)),
        bk.chart_fade(blend, 1, air_speed="1 m/s"),
    )
    assert rows_of(still)[0]["clock"] == 21.5
    left = [
        next(row["strength"] for row in rows_of(chart) if row["last"] and row["note"] == "top")
        for chart in (still, windy)
    ]
    assert left[0] > left[1]
    with pytest.raises(bk.BadNumber, match="air"):
        bk.chart_fade(blend, air_speed="1")


def test_oils_are_drawn_in_the_order_given_and_an_unknown_one_is_refused():
    rows = rows_of(bk.chart_volatility(["patchouli", "bergamot"]))
    assert list(dict.fromkeys(row["oil"] for row in rows)) == ["Patchouli", "Bergamot"]
    with pytest.raises(bk.UnknownMaterial):
        bk.chart_volatility(["patchoulli"])


def test_a_chart_shows_without_the_network_unless_a_renderer_was_chosen(blend):
    shown = bk.chart_drops(blend)._repr_mimebundle_()
    assert list(shown) == ["application/vnd.vegalite.v5+json"]
    alt.renderers.enable("json")
    bk.chart_drops(blend)
    assert alt.renderers.active == "json"


def test_the_package_imports_without_altair_and_a_chart_brings_it():
    program = (
        "import sys, blendkit as bk; print('altair' in sys.modules); "
        "bk.chart_volatility(['lavender']); print('altair' in sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert done.stdout.split() == ["False", "True"]
