"""The charts of the panels: built beforehand, fresh, and each shown by its own document."""

from __future__ import annotations

import json
import re

import pytest
import vl_convert

from blendkit.panels.kit import chart_view
from blendkit.panels.kit.chart_view import ChartView
from tests.tools import renew_charts

RENEW = "run python -m tests.tools.renew_charts and commit its diff with the charts"


def committed(room: str) -> dict:
    return json.loads(renew_charts.built(room).read_text(encoding="utf-8"))


@pytest.mark.parametrize("room", renew_charts.ROOMS)
def test_the_built_charts_are_fresh(room):
    assert committed(room) == renew_charts.documents_of(room), RENEW


def test_each_room_with_charts_has_its_file_and_none_is_left_behind():
    files = set(renew_charts.PACKAGE.glob("showing/*/charts.json"))
    assert files == {renew_charts.built(room) for room in renew_charts.ROOMS}


def test_the_vega_bundle_is_what_its_maker_makes():
    shipped = renew_charts.BUNDLE.read_text(encoding="utf-8")
    maker = re.match(r"// Bundled by vl-convert-python ([\w.]+);", shipped)[1]
    if maker != vl_convert.__version__:
        pytest.skip(f"built by vl-convert-python {maker}, here is {vl_convert.__version__}")
    assert shipped == renew_charts.bundle(), RENEW


def test_a_chart_that_was_changed_and_not_renewed_is_found(monkeypatch):
    changed = renew_charts.import_module("blendkit.showing.skin.charts")
    monkeypatch.setattr(changed, "INK", "#000000")
    assert committed("skin") != renew_charts.documents_of("skin")


def test_a_view_takes_the_document_of_its_room_and_shares_one_vega():
    one, other = ChartView("skin", "limits_chart", "a"), ChartView("day", "fade_chart", "b")
    assert one.spec == committed("skin")["limits_chart"]
    assert other.spec == committed("day")["fade_chart"]
    assert one.vega_id == other.vega_id == chart_view._holder().model_id
    assert "vegaEmbed" in chart_view._holder().script
    with pytest.raises(KeyError):
        ChartView("skin", "no_such_chart", "c")
