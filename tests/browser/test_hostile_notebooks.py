"""Somebody else's notebooks and modules on a real page: nothing of them runs when opened.

Every script below would leave its number on the page, every cell be counted by its kernel and
every module leave a file. All are invented. All are opened in one page: after a shipped
notebook that is still waiting for its kernel, and before another, whose panel shows that there
was time for what must not run.
"""

from __future__ import annotations

import contextlib
import json
from pathlib import Path

import pytest
from anywidget import AnyWidget
from playwright.sync_api import TimeoutError

from tests.browser.conftest import empty_page, open_in_same_page

NOTEBOOKS = Path(__file__).resolve().parents[2] / "notebooks"
SHIPPED = ["01_first_bottle.ipynb", "02_the_shelf.ipynb"]
FIRST = json.loads((NOTEBOOKS / SHIPPED[0]).read_text(encoding="utf-8"))
NUMBER = "0 /* number */"
RAN = f"(window.top.scriptsRun ??= []).push({NUMBER})"
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
    "<img src=x onerror=scriptsRun=[`a name`]>": notebook(text_cell("a name of markup")),
}  # fmt: skip
MODULES = (
    "blendkit", "pandas", "numpy", "altair", "ipywidgets", "anywidget", "pint", "json",
    "ipykernel", "ipykernel_launcher", "sitecustomize", "usercustomize", "ipython_config",
    "ipython_kernel_config", "jupyter_config", "conftest", "friend",
)  # fmt: skip
# The kernel answers after all that it was asked before. Its count is 1 where no cell ran.
COUNTS = """async () => {
  const panels = [...window.jupyterapp.shell.widgets("main")].filter(one => one.sessionContext);
  return Promise.all(panels.map(async panel => {
    await panel.sessionContext.ready;
    const asked = panel.sessionContext.session?.kernel?.requestExecute({
      code: "", silent: true, user_expressions: { count: "get_ipython().execution_count" },
    });
    const answer = await asked?.done;
    const count = answer?.content.user_expressions.count.data["text/plain"];
    return [panel.context.path.split("/").pop(), Number(count ?? -1)];
  }));
}"""
# leaves its mark, then gives way to the real one, so that nothing else shows that it ran
MODULE = """
open({marker!r}, 'w').close()
import importlib, os, runpy, sys
sys.path[:] = [way for way in sys.path if not os.path.exists(os.path.join(way, 'friend.py'))]
sys.modules.pop({name!r}, None)
try:
    if __name__ == '__main__':
        runpy.run_module({name!r}, run_name='__main__', alter_sys=True)
    else:
        importlib.import_module({name!r})
except ImportError:
    sys.modules[{name!r}] = sys
"""


class Opened:
    """What ran of all that was opened: names of notebooks and of modules."""

    def __init__(self, scripts: set[str], counts: dict[str, int], modules: set[str]) -> None:
        self.scripts = scripts
        self.counts = counts
        self.modules = modules


@pytest.fixture(scope="module")
def opened(browser, workbook, tmp_path_factory):
    workbook.begin_anew()
    folder, markers = workbook.maker / "notebooks", tmp_path_factory.mktemp("markers")
    files = {f"{number} {name}.ipynb": name for number, name in enumerate(HOSTILE)}
    for number, (file, name) in enumerate(files.items()):
        # straight onto the disk, as a friend's file comes in
        text = json.dumps(HOSTILE[name]).replace(NUMBER, str(number))
        (folder / file).write_text(text, encoding="utf-8")
    for name in MODULES:
        text = MODULE.format(marker=str(markers / name), name=name)
        (folder / f"{name}.py").write_text(text, encoding="utf-8")
    try:
        with empty_page(browser, workbook) as page:
            scripts, counts = open_all(page, [SHIPPED[0], *files, SHIPPED[1]])
    finally:
        workbook.end_kernels()
        for name in [*files, *(f"{name}.py" for name in MODULES)]:
            (folder / name).unlink()
    names = list(files)
    ran = {names[script] if isinstance(script, int) else script for script in scripts}
    return Opened(ran, counts, {file.name for file in markers.iterdir()})


def open_all(page, files: list[str]) -> tuple[list, dict[str, int]]:
    """Open each in one page, the last of them with its panel."""
    for file in files[:-1]:
        open_in_same_page(page, f"notebooks/{file}")
    page.evaluate(COUNTS)  # now every kernel is there, and what waits for it begins
    open_in_same_page(page, f"notebooks/{files[-1]}")
    with contextlib.suppress(TimeoutError):  # the counts say which notebook did not run
        page.wait_for_selector(".bk-panel:visible", timeout=180_000)
    return page.evaluate("() => window.scriptsRun ?? []"), dict(page.evaluate(COUNTS))


def test_no_script_in_a_notebook_from_elsewhere_runs(opened):
    assert opened.scripts == set()


def test_no_cell_of_a_notebook_from_elsewhere_runs(opened, workbook):
    counts = dict(opened.counts)
    # a count shows that cells ran; all of them in the notebook that was looked at
    assert [file for file in SHIPPED if counts.pop(file) == 1] == []
    assert [name for name, count in counts.items() if count != 1] == []
    assert len(counts) == len(HOSTILE) >= 20
    assert not list(workbook.maker.rglob("ran*"))


def test_no_module_beside_the_notebooks_runs(opened):
    assert opened.modules == set()


@pytest.mark.parametrize("written", [{"widgets": saved(ANY)}, {}])
def test_what_is_read_has_no_widget_state(workbook, written):
    document = notebook(text_cell("hello"), **written)
    workbook.write("notebooks/friend.ipynb", document)
    model = json.loads(workbook._ask("GET", "/api/contents/notebooks/friend.ipynb"))
    assert "widgets" not in model["content"]["metadata"]
    assert model["content"]["cells"][0]["source"] == "hello"
