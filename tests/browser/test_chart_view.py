"""How a chart finds Vega, on a page of its own."""

from importlib.resources import files

import pytest
from playwright.sync_api import expect

VIEW = files("blendkit.panels.kit").joinpath("chart_view.js").read_text(encoding="utf-8")

# a holder that cannot be had the first so many times, and a Vega that leaves a mark
ASK = """async ([view, failures]) => {
    const module = (text) => import(URL.createObjectURL(
        new Blob([text], { type: "text/javascript" })));
    let asked = 0;
    const script = "export const vegaEmbed = (host) => { host.textContent += 'drawn'; "
        + "const view = { runAsync: async () => {} };"
        + "for (const step of ['data', 'resize', 'signal', 'width']) view[step] = () => view;"
        + "return { view }; };";
    const holder = { get: () => script };
    const values = { spec: { datasets: { rows: [] }, title: {} }, rows: [{}] };
    const model = {
        get: (name) => values[name] ?? name,
        on: () => {},
        widget_manager: { get_model: async () => {
            asked += 1;
            if (asked <= failures) throw new Error("widget model not found");
            return holder;
        } },
    };
    const chart = (await module(view)).default;
    const el = document.createElement("p");
    const faults = [];
    for (let turn = 0; turn < 2; turn += 1)
        await chart.render({ model, el }).catch((fault) => faults.push(fault.message));
    const drawn = [...el.querySelectorAll("[role=img]")].map((host) => host.textContent);
    return [drawn.join(""), asked, faults];
}"""


@pytest.mark.parametrize("failures", [0, 2])
def test_a_chart_waits_for_vega_and_asks_for_it_once_a_page(page, failures):
    page.goto("about:blank")
    assert page.evaluate(ASK, [VIEW, failures]) == ["drawndrawn", failures + 1, []]


def test_vega_that_never_came_is_asked_for_again_by_the_next_chart(page):
    page.goto("about:blank")
    impatient = VIEW.replace("PATIENCE = 60", "PATIENCE = 0")
    assert impatient != VIEW
    assert page.evaluate(ASK, [impatient, 1]) == ["drawn", 2, ["widget model not found"]]


CELL = """\
import blendkit as bk

blend = bk.Blend.from_dict(bk.example_document())
display(bk.chart_drops(blend), bk.chart_limits(blend), bk.chart_fade(blend))
bk.chart_volatility(["bergamot", "lavender", "patchouli"])
"""
NOTEBOOK = {
    "cells": [
        {
            "cell_type": "code",
            "id": "charts",
            "metadata": {},
            "execution_count": None,
            "outputs": [],
            "source": CELL,
        }
    ],
    "metadata": {"kernelspec": {"name": "python3", "display_name": "Python 3"}},
    "nbformat": 4,
    "nbformat_minor": 5,
}


def test_charts_of_a_cell_are_drawn_without_the_network(page, workbook, picture):
    workbook.begin_anew()
    workbook.write("notebooks/charts.ipynb", NOTEBOOK)
    page.goto(workbook.page_of("charts.ipynb"))
    page.locator(".jp-CodeCell").first.click(timeout=60_000)
    page.get_by_text("| Idle").wait_for(state="attached", timeout=60_000)
    page.keyboard.press("Shift+Enter")
    drawn = page.locator(".jp-OutputArea .vega-embed").locator("canvas, svg.marks")
    expect(drawn).to_have_count(4, timeout=60_000)
    for chart in drawn.all():
        box = chart.bounding_box()
        assert box["width"] > 300
        assert box["height"] > 100
    picture(page, "charts_of_a_cell")
    assert page.locator(".jp-RenderedText[data-mime-type*=stderr]").count() == 0
    assert page.refused == []
