"""Opening, following and waiting pages, in headless Chromium.

Run by hand: ``python -m tests.benchmarks.page_benchmark [ROUNDS]``. Opening runs from the
command to the live screen, by turns with a bare JupyterLab whose notebook has one cell with a
slider. Following is from Enter in notebook 01 until notebook 03 shows it, on a page next to it,
and from a link that is pressed until the chart of the next notebook is drawn, its kernel
running. The load of waiting is that of the server and of its kernels, with three notebooks in
sight and then with none.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.benchmarks.latency_benchmark import BASELINE, CHART
from tests.browser.conftest import (
    CHROMIUM,
    FLAGS,
    _free_port,
    _wait_for,
    open_notebook,
    running_workbook,
)

FIRST, SKIN, DAY = "01_first_bottle.ipynb", "03_skin_check.ipynb", "04_the_day.ipynb"
STRENGTH = "input[title='Strength']"
RUN_ALL = "() => { jupyterapp.commands.execute('notebook:run-all-cells'); }"  # not awaited
WAITING_SECONDS = 20
TICKS = os.sysconf("SC_CLK_TCK")


def seconds_to_open(browser, folder: Path, *, bare: bool) -> float:
    """From the command to the live slider or screen. [s]"""
    port, began = _free_port(), time.monotonic()
    if bare:
        (folder / "one.ipynb").write_text(json.dumps(BASELINE), encoding="utf-8")
        command = [*("jupyterlab", "--allow-root"), f"--ServerApp.root_dir={folder}"]
        command.append("--LabApp.expose_app_in_browser=True")
    else:
        command = ["blendkit", "--allow-root"]
    command += ["--no-browser", f"--ServerApp.port={port}", "--IdentityProvider.token=t"]
    environment = os.environ | {
        "BLENDKIT_HOME": str(folder / "maker"),
        "JUPYTER_CONFIG_DIR": str(folder / "jupyter"),
    }
    with (folder / "log").open("w") as log:
        server = subprocess.Popen(
            [sys.executable, "-m", *command], env=environment, stdout=log, stderr=log
        )
    page = browser.new_page(viewport={"width": 1280, "height": 800})
    try:
        _wait_for(f"http://127.0.0.1:{port}/api?token=t")
        place = "doc/tree/one.ipynb" if bare else f"doc/tree/notebooks/{FIRST}"
        page.goto(f"http://127.0.0.1:{port}/{place}?token=t")
        if bare:
            idle = ".jp-Notebook-ExecutionIndicator[data-status='idle']"
            page.wait_for_selector(idle, state="attached", timeout=90_000)
            # the indicator may be idle before the kernel is there, and would then run nothing
            while not page.locator(".baseline").count():
                page.evaluate(RUN_ALL)
                page.wait_for_timeout(500)
        page.wait_for_selector(".baseline" if bare else CHART, timeout=90_000)
        return time.monotonic() - began
    finally:
        page.close()
        server.terminate()
        server.wait()


def opening(browser, rounds: int) -> None:
    """Print the times to open, and their ratio."""
    times: dict[bool, list[float]] = {True: [], False: []}
    for _ in range(rounds):
        for bare, taken in times.items():
            with tempfile.TemporaryDirectory() as folder:
                taken.append(seconds_to_open(browser, Path(folder), bare=bare))
    bare, ours = (statistics.median(times[each]) for each in (True, False))
    report("bare JupyterLab, one cell with a slider", times[True])
    report("the one screen", times[False])
    print(f"{'ratio':44} {ours / bare:6.2f}")


def following(page, other, rounds: int) -> None:
    """Print how long notebook 03 takes to follow 01 side by side, and by link."""
    taken = []
    for number in range(3 * rounds):
        percent = (25, 30, 35, 20)[number % 4]
        page.bring_to_front()
        page.locator(STRENGTH).fill(f"{percent} %")
        began = time.monotonic()
        page.locator(STRENGTH).press("Enter")
        other.wait_for_function(
            f"""() => document.querySelector("{STRENGTH}").value === '{percent} %'"""
        )
        taken.append(time.monotonic() - began)
    report("03 shows what 01 set, side by side", taken)
    taken = []
    for number in range(2 * rounds):
        to = (SKIN, FIRST)[number % 2]
        began = time.monotonic()
        page.locator(f".bk-notebooks a[href='{to}']").click()
        page.wait_for_url(f"**/{to}*")
        page.wait_for_selector(CHART, state="attached", timeout=90_000)
        taken.append(time.monotonic() - began)
    report("by link, to a notebook whose kernel runs", taken)


def report(name: str, seconds: list[float]) -> None:
    """One row of times."""
    print(f"{name:44} {statistics.median(seconds):6.2f} {max(seconds):6.2f} of {len(seconds)}")


def processor_seconds() -> dict[str, float]:
    """Of each descendant of this process that is a server or a kernel. [s]"""
    found = {}
    for place in Path("/proc").glob("[0-9]*"):
        try:
            words = (place / "cmdline").read_bytes().decode().replace("\0", " ")
            fields = (place / "stat").read_text().rpartition(")")[2].split()
            parent = (Path("/proc") / fields[1] / "stat").read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if "ipykernel" in words and int(parent[1]) == os.getpid():
            found[f"kernel {place.name}"] = (int(fields[11]) + int(fields[12])) / TICKS
        elif "blendkit" in words and int(fields[1]) == os.getpid():
            found["server"] = (int(fields[11]) + int(fields[12])) / TICKS
    return found


def waiting(page, words: str) -> None:
    """Print the load while nobody does anything."""
    page.wait_for_timeout(5000)
    before = processor_seconds()
    page.wait_for_timeout(WAITING_SECONDS * 1000)
    after = processor_seconds()
    shares = {
        name: 100 * (after[name] - start) / WAITING_SECONDS for name, start in before.items()
    }
    kernels = [share for name, share in shares.items() if name != "server"]
    listed = ", ".join(f"{share:.1f}" for share in sorted(kernels))
    print(f"{words:44} server {shares['server']:.1f} %, kernels {listed} %")


def main(rounds: int) -> None:
    """Print the table."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        load = "{:.1f} {:.1f} {:.1f}".format(*os.getloadavg())
        print(f"{f's; load {load}':44} median  worst", flush=True)
        opening(browser, rounds)
        with tempfile.TemporaryDirectory() as place, running_workbook(Path(place)) as workbook:
            context = browser.new_context(viewport={"width": 1280, "height": 800})
            pages = [context.new_page() for _ in range(3)]
            for page, name in zip(pages, (FIRST, SKIN, DAY), strict=True):
                open_notebook(page, workbook, name, CHART)
            waiting(pages[0], "three notebooks in sight, left alone")
            following(*pages[:2], rounds)
            for page in pages[1:]:
                page.close()
            pages[0].goto("about:blank")
            waiting(pages[0], "no notebook in sight")
        browser.close()


if __name__ == "__main__":
    main(int(sys.argv[1]) if sys.argv[1:] else 3)
