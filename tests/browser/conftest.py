"""A real JupyterLab and a real page, with the network cut off."""

from __future__ import annotations

import contextlib
import json
import os
import secrets
import shutil
import socket
import subprocess
import sys
import time
from pathlib import Path
from urllib.request import Request, urlopen

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
REPOSITORY = Path(__file__).resolve().parents[2]
ARTEFACTS = REPOSITORY / ".artefacts"
READY = ".bk-panel svg.marks"
FLAGS = ["--no-sandbox", "--disable-quic", "--disable-background-networking"]


def pytest_collection_modifyitems(items):
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker(pytest.mark.browser)
            if CHROMIUM is None:
                reason = "NO CHROMIUM: page tests did not run; apt-get install chromium"
                item.add_marker(pytest.mark.skip(reason=reason))


@pytest.fixture(scope="session")
def browser():
    from playwright.sync_api import expect, sync_playwright

    expect.set_options(timeout=30_000)  # as long as the page waits for all else
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()


@contextlib.contextmanager
def page_alone(browser):
    """A page that reaches this machine only; requests elsewhere are refused and listed."""
    context = browser.new_context(viewport={"width": 1280, "height": 1600})
    refused = []

    def only_here(route):
        if route.request.url.startswith(("http://127.0.0.1", "data:", "blob:", "about:")):
            route.continue_()
        else:
            refused.append(route.request.url)
            route.abort()

    context.route("**/*", only_here)
    page = context.new_page()
    page.refused = refused
    page.errors = []
    page.on("pageerror", lambda error: page.errors.append(str(error)))
    yield page
    context.close()


@pytest.fixture
def page(browser):
    """A page of its own for one test."""
    with page_alone(browser) as page:
        yield page


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


OPEN = """async path => {
  await window.jupyterapp.restored;
  const panel = await window.jupyterapp.commands.execute("docmanager:open", { path });
  await panel.revealed;
  const cells = panel.content.widgets;
  const code = cells.findIndex(cell => cell.model.type === "code");
  // those further down are drawn when they are scrolled to
  await Promise.all(cells.slice(0, code + 1 || cells.length).map(cell => cell.ready));
}"""


@contextlib.contextmanager
def empty_page(browser, workbook):
    """A page of the workbook with no notebook open yet."""
    with page_alone(browser) as page:
        page.goto(f"{workbook.address}/doc?token={workbook.token}", wait_until="commit")
        page.wait_for_function("() => window.jupyterapp", timeout=180_000)
        yield page


def open_in_same_page(page, path: str) -> None:
    """Open a notebook as the file browser does, and wait until its first cells are drawn."""
    page.evaluate(OPEN, path)


class Workbook:
    """A running workbook."""

    def __init__(self, address: str, token: str, maker: Path) -> None:
        self.address = address
        self.token = token
        self.maker = maker

    def page_of(self, notebook: str) -> str:
        """The address of a notebook."""
        return f"{self.address}/doc/tree/notebooks/{notebook}?token={self.token}"

    def end_kernels(self) -> None:
        """End every kernel, so that the next page starts from nothing."""
        for session in json.loads(self._ask("GET", "/api/sessions")):
            self._ask("DELETE", f"/api/sessions/{session['id']}")

    def begin_anew(self) -> None:
        """End every kernel and empty the journal, so that no test sees what another kept."""
        self.end_kernels()
        for file in self.maker.glob("journal.sqlite3*"):
            file.unlink()

    def write(self, path: str, notebook: dict) -> None:
        """Put a notebook into the maker's folder, as an upload does."""
        content = {"type": "notebook", "format": "json", "content": notebook}
        self._ask("PUT", f"/api/contents/{path}", json.dumps(content).encode())

    def _ask(self, method: str, path: str, body: bytes | None = None) -> bytes:
        headers = {"Authorization": f"token {self.token}"}
        request = Request(self.address + path, data=body, method=method, headers=headers)
        with urlopen(request) as answer:
            return answer.read()


@pytest.fixture(scope="session")
def workbook(tmp_path_factory):
    """The workbook, opened by its own command."""
    with running_workbook(tmp_path_factory.mktemp("workbook")) as workbook:
        yield workbook


@contextlib.contextmanager
def running_workbook(folder: Path):
    """A workbook of its own, with its own settings of JupyterLab."""
    port, token = _free_port(), secrets.token_hex(16)
    log = (folder / "lab.log").open("w")
    command = [
        *(sys.executable, "-m", "blendkit", "--no-browser", "--allow-root"),
        f"--ServerApp.port={port}",
        f"--IdentityProvider.token={token}",
        "--LabApp.expose_app_in_browser=True",  # lets a test open one notebook after another
    ]
    environment = os.environ | {
        "BLENDKIT_HOME": str(folder / "maker"),
        "JUPYTER_CONFIG_DIR": str(folder / "jupyter"),  # a theme chosen here stays here
    }
    server = subprocess.Popen(command, env=environment, stdout=log, stderr=log)
    try:
        _wait_for(f"http://127.0.0.1:{port}/api?token={token}")
        yield Workbook(f"http://127.0.0.1:{port}", token, folder / "maker")
    finally:
        server.terminate()
        server.wait(timeout=120)  # it ends its kernels first, of which there may be dozens
        log.close()


def _wait_for(address: str, seconds: float = 180) -> None:
    deadline = time.monotonic() + seconds
    while True:
        try:
            with urlopen(address, timeout=2):
                return
        except OSError:
            if time.monotonic() > deadline:
                raise
            time.sleep(0.2)


@pytest.fixture
def opened(page, workbook):
    """Open a notebook and wait for its panel, with no further key press."""

    workbook.begin_anew()
    return lambda name, ready=READY: open_notebook(page, workbook, name, ready)


@pytest.fixture(scope="module")
def opened_once(browser, workbook):
    """The same, on one page for all tests of a module, each of which leaves it usable."""
    workbook.begin_anew()
    with page_alone(browser) as page:
        yield lambda name, ready=READY: open_notebook(page, workbook, name, ready)


def open_notebook(page, workbook, name: str, ready: str = READY):
    """Open a notebook on a page and wait for its panel."""
    page.goto(workbook.page_of(name))
    try:
        # drawn is enough: it may be behind another tab
        page.wait_for_selector(ready, state="attached", timeout=90_000)
        page.wait_for_selector(".bk-panel")
    except Exception:
        ARTEFACTS.mkdir(exist_ok=True)
        page.screenshot(path=ARTEFACTS / "not_opened.png")
        raise
    return page


@pytest.fixture
def picture(request):
    """Keep a screenshot as a test artefact, outside version control."""

    def take(page, name: str) -> Path:
        ARTEFACTS.mkdir(exist_ok=True)
        file = ARTEFACTS / f"{name}.png"
        page.screenshot(path=file)
        return file

    return take


def show_tab(page, name: str) -> None:
    page.get_by_role("tab", name=name, exact=True).click()


# Until the page was still for as long as names take to follow their controls, and the kernel
# has nothing to do; it is never so for long, as panels in sight ask it what other pages wrote
_STILL = """async () => {
  const now = () => performance.now(), end = now() + 20000;
  const works = () => document.querySelector(
    '.jp-Notebook-ExecutionIndicator:not([data-status=idle])');
  let last = now();
  const watch = new MutationObserver(() => { last = now(); });
  watch.observe(document.querySelector('.jp-Notebook'),
    { subtree: true, childList: true, attributes: true, characterData: true });
  while ((now() - last < 450 || works()) && now() < end)
    await new Promise(go => setTimeout(go, 10));
  watch.disconnect();
}"""


def settle(page) -> None:
    """Wait until the kernel has answered and the page has drawn."""
    page.evaluate(_STILL)


def every_view(page, *, again: bool = False):
    """Each panel with each of its tabs open, all folds there too: the cell it is in.

    `again` where all was open and drawn before: then only the tabs are shown in turn.
    """
    cells = page.locator(".jp-Cell:has(.bk-panel)")
    for place in range(cells.count()):
        cell = cells.nth(place)
        cell.scroll_into_view_if_needed()
        tabs = cell.locator(".lm-TabBar-tab")
        for tab in range(max(tabs.count(), 1)):
            if tabs.count():
                tabs.nth(tab).click()
            if not again:
                _open_folds(page, cell)
                settle(page)
            yield cell


# Of an accordion with several folds only one is open at a time, so each is pressed once
_SHUT = """e => e.getAttribute('aria-expanded') !== 'true' && e.getClientRects().length > 0
  && !e.dataset.pressed && (e.dataset.pressed = 'once')"""


def _open_folds(page, cell) -> None:
    folds = cell.locator(".jupyter-widget-Collapse-header")
    while shut := [fold for fold in folds.all() if fold.evaluate(_SHUT)]:
        for fold in shut:
            fold.press("Enter")
        settle(page)  # a fold may hold others
        assert shut[-1].get_attribute("aria-expanded") == "true"


_NAMELESS = """() => ['input', 'select', 'button', 'textarea', '.noUi-handle', '.vega-embed',
          '[role=img]', '[role=button]']
.flatMap(kind => [...document.querySelectorAll(`.bk-panel ${kind}`)])
.filter(e => e.getClientRects().length && !e.labels?.length && !e.title
             && !(e.matches('button, [role=button]') && e.textContent.trim())
             && [null, '', 'Vega visualization'].includes(e.getAttribute('aria-label')))
.map(e => e.outerHTML.slice(0, 160))"""


def nameless_controls(page) -> list[str]:
    """Controls and pictures in sight that say nothing to those who cannot see them.

    A name follows its control; on a busy machine it may take some seconds.
    """
    for _ in range(20):
        found = page.evaluate(_NAMELESS)
        if not found:
            break
        page.wait_for_timeout(500)
    return found
