"""A notebook without its panel says so when it opens, and is put back at a press.

All are opened in one page, as the file browser does: a notebook of the maker's own first, then
the damaged ones, and at last the page itself again.
"""

from __future__ import annotations

import json
from contextlib import suppress
from urllib.error import HTTPError
from urllib.request import Request, urlopen

import pytest

from tests.browser.conftest import (
    REPOSITORY,
    empty_page,
    open_in_same_page,
    open_notebook,
)

NOTEBOOKS = REPOSITORY / "notebooks"
SHELF = "02_the_shelf.ipynb"
WHOLE = "[!.]*.ipynb"  # Jupyter writes into .~name first
BAR = ".blendkit-bar"
PATH = "/blendkit/put-back"


def shipped() -> dict:
    return json.loads((NOTEBOOKS / SHELF).read_text(encoding="utf-8"))


def damaged(kind: str) -> dict:
    document = shipped()
    place = next(n for n, cell in enumerate(document["cells"]) if cell["cell_type"] == "code")
    if kind == "cut":
        del document["cells"][place]
    elif kind == "raw":
        cell = document["cells"][place]
        document["cells"][place] = {
            "cell_type": "raw", "metadata": {}, "source": cell["source"],
        }  # fmt: skip
    else:
        document["cells"][place]["source"] = "print('changed')"
    return document


def placed(workbook) -> dict[str, bytes]:
    folder = workbook.maker / "notebooks"
    return {file.name: file.read_bytes() for file in folder.glob("*.ipynb")}


@pytest.fixture(scope="module")
def lab(browser, workbook):
    """A page that shows a notebook of the maker's own, with nothing above it."""
    workbook.begin_anew()
    workbook.write("notebooks/friend.ipynb", damaged("changed"))
    with empty_page(browser, workbook) as page:
        open_in_same_page(page, "notebooks/friend.ipynb")
        yield page


@pytest.mark.parametrize("kind", ["cut", "raw", "changed"])
def test_a_damaged_notebook_offers_the_shipped_one_and_keeps_what_was_there(
    workbook, lab, picture, kind
):
    workbook.write(f"notebooks/{SHELF}", damaged(kind))
    open_in_same_page(lab, f"notebooks/{SHELF}")
    bar = lab.locator(BAR)  # one: the maker's own notebook behind it is offered nothing
    bar.wait_for(timeout=60_000)
    assert "was changed" in bar.inner_text()
    assert lab.locator(".bk-panel").count() == 0
    picture(lab, f"healing_{kind}")
    before = set((workbook.maker / "notebooks").glob(WHOLE))
    bar.get_by_role("button", name="Put the shipped notebook back").click()
    lab.wait_for_selector(".bk-panel", timeout=90_000)
    assert bar.count() == 0
    (copy,) = set((workbook.maker / "notebooks").glob(WHOLE)) - before
    kept = json.loads(copy.read_text(encoding="utf-8"))
    assert [c["cell_type"] for c in kept["cells"]] == [
        c["cell_type"] for c in damaged(kind)["cells"]
    ]
    copy.unlink()
    now = wait_until_saved(lab, workbook.maker / "notebooks" / SHELF)
    assert ["".join(c["source"]) for c in now["cells"]] == [
        "".join(c["source"]) for c in shipped()["cells"]
    ]
    close(lab)
    open_in_same_page(lab, f"notebooks/{SHELF}")  # and once more from the start
    lab.wait_for_selector(".bk-panel", timeout=90_000)
    assert bar.count() == 0
    assert lab.errors == []
    close(lab)


def wait_until_saved(lab, file) -> dict:
    """Wait until the page has written what ran by itself; closed before, it would complain.

    While it is written, the file is empty or cut short.
    """
    for _ in range(600):
        text = file.read_text(encoding="utf-8")
        with suppress(json.JSONDecodeError):
            if "widget-view" in text:
                return json.loads(text)
        lab.wait_for_timeout(100)
    pytest.fail(f"{file.name} was not saved")


def close(lab) -> None:
    """Close the notebook in front; its kernel lives on, as with a closed page."""
    lab.evaluate("() => window.jupyterapp.shell.currentWidget.dispose()")
    lab.wait_for_selector(".bk-panel", state="detached")


def test_a_notebook_closed_while_it_is_saved_leaves_no_fault(workbook, lab):
    """Its cells ran by themselves, and the page goes on to what it does after that."""
    workbook.write(f"notebooks/{SHELF}", shipped())
    saving = []

    def hold(route):
        if route.request.method == "PUT":
            saving.append(route)
        else:
            route.continue_()

    lab.route("**/api/contents/**", hold)
    open_in_same_page(lab, f"notebooks/{SHELF}")
    for _ in range(900):
        if saving:
            break
        lab.wait_for_timeout(100)
    close(lab)
    lab.unroute("**/api/contents/**")  # which lets go of what was held
    lab.wait_for_timeout(2000)
    assert saving
    assert lab.errors == []


@pytest.mark.parametrize(
    ("body", "token", "status"),
    [
        (b'{"notebook": "02"}', False, 403),
        (b'{"notebook": "../../02_the_shelf.ipynb"}', True, 400),
        (b'{"notebook": ["02"]}', True, 400),
        (b"[]", True, 400),
        (b"", True, 400),
        (b"{", True, 400),
    ],
)
def test_the_page_can_ask_for_nothing_else(workbook, body, token, status):
    before = placed(workbook)
    headers = {"Authorization": f"token {workbook.token}"} if token else {}
    with pytest.raises(HTTPError) as refused:
        urlopen(Request(workbook.address + PATH, data=body, method="POST", headers=headers))
    with refused.value as answer:
        assert answer.code == status
        told = answer.read().decode()
    if status == 400 and body.startswith(b'{"'):
        assert "needs a number from 01 to 10" in told
    assert placed(workbook) == before


def test_another_page_cannot_ask_with_the_makers_cookie(workbook, lab):
    answer = lab.request.post(workbook.address + PATH, data={"notebook": "02"})
    assert answer.status == 403
    assert "_xsrf" in answer.text()


def test_a_notebook_put_back_is_opened_by_its_address(workbook, lab):
    workbook.write(f"notebooks/{SHELF}", damaged("raw"))
    before = set((workbook.maker / "notebooks").glob(WHOLE))
    workbook._ask("POST", PATH, b'{"notebook": "02"}')
    (copy,) = set((workbook.maker / "notebooks").glob(WHOLE)) - before
    open_notebook(lab, workbook, SHELF, ".bk-panel")
    assert lab.locator(BAR).count() == 0
    assert lab.errors == []
    copy.unlink()


def test_a_panel_that_the_living_kernel_does_not_know_is_made_again(workbook, page):
    workbook.begin_anew()
    open_notebook(page, workbook, SHELF, ".bk-panel")
    page.wait_for_function("() => !document.querySelector('.jp-mod-dirty')")
    page.goto("about:blank")
    stored = json.loads(workbook._ask("GET", f"/api/contents/notebooks/{SHELF}"))["content"]
    [panel] = [
        output["data"]["application/vnd.jupyter.widget-view+json"]
        for cell in stored["cells"]
        for output in cell.get("outputs", ())
        if "application/vnd.jupyter.widget-view+json" in output.get("data", {})
    ]
    panel["model_id"] = "0" * 32
    workbook.write(f"notebooks/{SHELF}", stored)
    open_notebook(page, workbook, SHELF, ".bk-panel")
    assert page.get_by_text("Error displaying widget").count() == 0
