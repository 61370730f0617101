"""Somebody else's notebooks and modules on a real page: nothing of them runs when opened.

Every script below would leave its name on the page, every module a file. All are invented.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from anywidget import AnyWidget

NOTEBOOKS = Path(__file__).resolve().parents[2] / "notebooks"
FIRST = json.loads((NOTEBOOKS / "01_first_bottle.ipynb").read_text(encoding="utf-8"))
RAN = "(window.top.scriptsRun ??= []).push(document.title)"
IMG = f'<img src="x:y" onerror="{RAN}">'
SCRIPT = f"<script>{RAN}</script>"
VIEW = "application/vnd.jupyter.widget-view+json"
STATE = "application/vnd.jupyter.widget-state+json"
# the page restores a saved widget only where it knows this very version of its module
ANYWIDGET = AnyWidget.class_traits()["_model_module_version"].default_value


def code(source: str = "1 + 1", *outputs: dict, **metadata: object) -> dict:
    return {
        "cell_type": "code",
        "execution_count": 1,
        "metadata": metadata,
        "source": source,
        "outputs": list(outputs),
    }


def shows(**data: object) -> dict:
    """An output; slashes and dots of its type are written out by the caller."""
    return {"output_type": "display_data", "metadata": {}, "data": data}


def shows_type(mime: str, value: object) -> dict:
    return shows(**{mime: value})


def text_cell(source: str, **more: object) -> dict:
    return {"cell_type": "markdown", "metadata": {}, "source": source, **more}


def notebook(*cells: dict, **metadata: object) -> dict:
    # without a kernel of that name the page would only ask for one
    metadata = FIRST["metadata"] | metadata
    return {"cells": list(cells), "metadata": metadata, "nbformat": 4, "nbformat_minor": 4}


def widget(module: str, name: str, **state: object) -> dict:
    """One saved widget, as a notebook's metadata keeps it."""
    return {
        "model_module": module,
        "model_module_version": ANYWIDGET if module == "anywidget" else "2.0.0",
        "model_name": name,
        "state": {"_model_module": module, "_model_name": name, **state},
    }


ESM = f"{RAN}; export default {{ render() {{ {RAN} }}, initialize() {{ {RAN} }} }}"
ANY = {
    "a" * 32: widget(
        "anywidget", "AnyModel", _esm=ESM, _anywidget_id="x", _model_module_version=ANYWIDGET
    )
}  # fmt: skip
ANY_SHOWN = {
    "a" * 32: widget(
        "anywidget", "AnyModel", _esm=ESM, _view_module="anywidget", _view_name="AnyView",
        _anywidget_id="x", _model_module_version=ANYWIDGET, _view_module_version=ANYWIDGET,
    )
}  # fmt: skip
HTML = {
    "b" * 32: widget(
        "@jupyter-widgets/controls", "HTMLModel", value=IMG + SCRIPT, _view_name="HTMLView",
        _view_module="@jupyter-widgets/controls", _model_module_version="2.0.0",
        _view_module_version="2.0.0",
    )
}  # fmt: skip


def saved(state: dict) -> dict:
    return {STATE: {"version_major": 2, "version_minor": 0, "state": state}}


def with_outputs(*outputs: dict) -> dict:
    """The shipped notebook, cell by cell, with something more to show."""
    document = json.loads(json.dumps(FIRST))
    cell = next(cell for cell in document["cells"] if cell["cell_type"] == "code")
    cell["outputs"] = list(outputs)
    return document


VEGA = {
    "$schema": "https://vega.github.io/schema/vega/v6.json",
    "signals": [{"name": "s", "init": f"''.constructor.constructor({json.dumps(RAN)})()"}],
}
HOSTILE = {
    "a saved widget with a script": notebook(text_cell("hello"), widgets=saved(ANY)),
    "a saved widget, shown": notebook(
        code("", shows_type(VIEW, {"model_id": "a" * 32, "version_major": 2})),
        widgets=saved(ANY_SHOWN),
    ),
    "a saved widget of markup": notebook(
        code("", shows_type(VIEW, {"model_id": "b" * 32, "version_major": 2})),
        widgets=saved(HTML),
    ),
    "saved widgets with our own cells": {
        **FIRST, "metadata": {**FIRST["metadata"], "widgets": saved(ANY | HTML)},
    },
    "our own cells with a script": with_outputs(shows_type("text/html", SCRIPT + IMG)),
    "our own cells with a widget": with_outputs(
        shows_type(VIEW, {"model_id": "a" * 32, "version_major": 2})
    ),
    "markup": notebook(code("", shows_type("text/html", IMG))),
    "a script": notebook(code("", shows_type("text/html", SCRIPT))),
    "JavaScript": notebook(code("", shows_type("application/javascript", RAN))),
    "text as JavaScript": notebook(code("", shows_type("text/javascript", RAN))),
    "a drawing": notebook(
        code("", shows_type("image/svg+xml", f'<svg xmlns="http://www.w3.org/2000/svg" '
                                             f'onload="{RAN}"></svg>'))
    ),
    "markdown shown": notebook(code("", shows_type("text/markdown", IMG + SCRIPT))),
    "markdown": notebook(text_cell(f"# Hello\n\n{IMG}\n\n{SCRIPT}\n\n[x](javascript:{RAN})")),
    "mathematics": notebook(
        text_cell(rf"$\href{{javascript:{RAN}}}{{x}}$ $\unicode{{<{IMG}>}}$"),
        code("", shows_type("text/latex", rf"$\href{{javascript:{RAN}}}{{x}}$")),
    ),
    "a frame": notebook(
        code("", shows_type("text/html", f"<iframe srcdoc='{SCRIPT}'></iframe>"))
    ),
    "a chart's formula": notebook(code("", shows_type("application/vnd.vega.v6+json", VEGA))),
    "a cell that says it is trusted": notebook(
        code("", shows_type("text/html", SCRIPT), trusted=True), trusted=True
    ),
    "a notebook that says it is signed": notebook(
        code("", shows_type("text/html", SCRIPT)), signature="sha256:" + "0" * 64
    ),
    "a kernel of its own": notebook(
        code("import os"),
        kernelspec={"name": "python3", "argv": ["sh", "-c", "touch ran"], "env": {"X": IMG}},
    ),
    "an attachment": notebook(
        text_cell(
            "![x](attachment:x.svg)",
            attachments={"x.svg": {"image/svg+xml": f"<svg onload='{RAN}'/>"}},
        )
    ),
    "a raw cell": notebook({"cell_type": "raw", "metadata": {}, "source": IMG + SCRIPT}),
    "an error": notebook(
        code("", {"output_type": "error", "ename": IMG, "evalue": SCRIPT,
                  "traceback": [IMG, f"\x1b]8;;javascript:{RAN}\x07x\x1b]8;;\x07"]})
    ),
    "a stream": notebook(code("", {"output_type": "stream", "name": "stderr", "text": IMG})),
    "<img src=x onerror=scriptsRun=1>": notebook(text_cell("a name of markup")),
}  # fmt: skip
MODULES = (
    "blendkit", "pandas", "numpy", "altair", "ipywidgets", "anywidget", "pint", "json",
    "ipykernel", "ipykernel_launcher", "sitecustomize", "usercustomize", "ipython_config",
    "ipython_kernel_config", "jupyter_config", "conftest",
)  # fmt: skip
AT_ONCE = 6


def opened_without_running(page) -> None:
    """Wait for a notebook to be drawn, and for whatever a script would have done by then."""
    page.wait_for_selector(".jp-Notebook .jp-Cell", timeout=60_000)
    page.wait_for_selector(".jp-Notebook-ExecutionIndicator[data-status='idle']")
    page.wait_for_timeout(1500)


def test_nothing_in_a_notebook_from_elsewhere_runs(workbook, page):
    workbook.begin_anew()
    names = {f"{number} {name}.ipynb": name for number, name in enumerate(HOSTILE)}
    for file, name in names.items():
        # straight onto the disk, as a friend's file comes in
        text = json.dumps(HOSTILE[name])
        (workbook.maker / "notebooks" / file).write_text(text, encoding="utf-8")
    waiting, ran = list(names), {}
    while waiting:
        batch, waiting = waiting[:AT_ONCE], waiting[AT_ONCE:]
        pages = {file: page.context.new_page() for file in batch}
        for file, one in pages.items():
            one.goto(workbook.page_of(file), wait_until="commit")
        for file, one in pages.items():
            opened_without_running(one)
            if one.evaluate("() => window.scriptsRun"):
                ran[file] = "a script"
            if one.locator(".bk-panel").count():
                ran[file] = "a cell"
            one.close()
        workbook.end_kernels()
    for file in names:
        (workbook.maker / "notebooks" / file).unlink()
    assert ran == {}
    assert len(names) >= 20
    assert not list(workbook.maker.rglob("ran*"))


def test_no_module_beside_the_notebooks_runs(workbook, page, opened, tmp_path):
    folder = workbook.maker / "notebooks"
    files = [folder / f"{name}.py" for name in MODULES]
    try:
        for file in files:
            marker = str(tmp_path / file.stem)
            file.write_text(f"open({marker!r}, 'w').close()\n", encoding="utf-8")
        opened("01_first_bottle.ipynb")
    finally:
        for file in files:
            file.unlink()
    assert [file.name for file in tmp_path.iterdir()] == []


@pytest.mark.parametrize("written", [{"widgets": saved(ANY)}, {}])
def test_what_is_read_has_no_widget_state(workbook, written):
    document = notebook(text_cell("hello"), **written)
    workbook.write("notebooks/friend.ipynb", document)
    model = json.loads(workbook._ask("GET", "/api/contents/notebooks/friend.ipynb"))
    assert "widgets" not in model["content"]["metadata"]
    assert model["content"]["cells"][0]["source"] == "hello"
