"""How a chart finds the script that draws it, on a page of its own."""

from importlib.resources import files

import pytest

LOADER = files("blendkit.panels.kit").joinpath("chart_loader.js").read_text(encoding="utf-8")

# a holder that cannot be had the first so many times, and a script that leaves a mark
ASK = """async ([loader, failures]) => {
    const module = (text) => import(URL.createObjectURL(
        new Blob([text], { type: "text/javascript" })));
    let asked = 0;
    const script = "export function render(view) { view.el.textContent += 'drawn'; }";
    const holder = { get: () => script };
    const model = {
        get: (name) => name,
        widget_manager: { get_model: async () => {
            asked += 1;
            if (asked <= failures) throw new Error("widget model not found");
            return holder;
        } },
    };
    const chart = (await module(loader)).default;
    const el = document.createElement("p");
    const faults = [];
    for (let turn = 0; turn < 2; turn += 1)
        await chart.render({ model, el }).catch((fault) => faults.push(fault.message));
    return [el.textContent, asked, faults];
}"""


@pytest.mark.parametrize("failures", [0, 2])
def test_a_chart_waits_for_its_script_and_asks_for_it_once_a_page(page, failures):
    page.goto("about:blank")
    assert page.evaluate(ASK, [LOADER, failures]) == ["drawndrawn", failures + 1, []]


def test_a_script_that_never_came_is_asked_for_again_by_the_next_chart(page):
    page.goto("about:blank")
    impatient = LOADER.replace("PATIENCE = 60", "PATIENCE = 0")
    assert impatient != LOADER
    assert page.evaluate(ASK, [impatient, 1]) == ["drawn", 2, ["widget model not found"]]
