"""From a key press on a slider to the repainted chart, in headless Chromium.

Run by hand: ``python -m tests.benchmarks.latency_benchmark``. Each panel stands beside a slider
that only sets a label, in a page of its own; presses on the one and on the other take turns,
so that both meet the same machine. 24 presses of each count, after 4 that warm up. Time runs
in the page, from the keydown to the task after the frame in which the label or the last of the
panel's pictures changed: on the one screen bottle, verdict and day.
"""

from __future__ import annotations

import os
import secrets
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.browser.conftest import CHROMIUM, FLAGS, Workbook, _free_port, _wait_for

PRESSES, WARM_UP = 28, 4
CHART = ".bk-panel .vega-embed svg.marks"
SCREEN = [".bk-bottle", ".bk-verdict-place", CHART]
# Resolves on the first frame after something below each of the targets has changed.
WATCH = """([slider, targets]) => {
  const handle = [...document.querySelectorAll('.widget-hslider')]
    .find(row => row.textContent.trim().startsWith(slider)).querySelector('.noUi-handle');
  handle.focus();
  window.blendkitPainted = new Promise(done => {
    let start = 0;
    handle.addEventListener('keydown', () => { start = performance.now(); },
                            {once: true, capture: true});
    let left = targets.length;
    const every = {subtree: true, childList: true, attributes: true, characterData: true};
    for (const target of targets) {
      const watcher = new MutationObserver(() => {
        watcher.disconnect();
        if (--left) return;
        requestAnimationFrame(() => setTimeout(() => done(performance.now() - start), 0));
      });
      watcher.observe(document.querySelector(target), every);
    }
  });
}"""
BASELINE = {
    "cells": [
        {
            "cell_type": "code",
            "id": "baseline",
            "metadata": {},
            "execution_count": None,
            "outputs": [],
            "source": [
                "import ipywidgets as w\n",
                "s, t = w.IntSlider(description='Baseline', readout=False), w.Label('0')\n",
                "t.add_class('baseline')\n",
                "s.observe(lambda c: setattr(t, 'value', str(c['new'])), 'value')\n",
                "w.VBox([s, t])",
            ],
        }
    ],
    "metadata": {"kernelspec": {"name": "python3", "display_name": "Python 3"}},
    "nbformat": 4,
    "nbformat_minor": 5,
}


def press(page, slider: str, targets: list[str], number: int) -> float:
    """Milliseconds of one press."""
    page.bring_to_front()
    page.wait_for_timeout(300)
    page.evaluate(WATCH, [slider, targets])
    # to and fro, so that the slider never reaches an end
    page.keyboard.press("ArrowRight" if number % 4 < 2 else "ArrowLeft")
    return page.evaluate("window.blendkitPainted")


def measure(plain, page, slider: str, targets: list[str]) -> tuple[list[float], list[float]]:
    """Milliseconds of each press but the first few: of the plain slider, and of the panel."""
    pairs = [
        (
            press(plain, "Baseline", [".baseline"], number),
            press(page, slider, targets, number),
        )
        for number in range(PRESSES)
    ]
    return tuple(zip(*pairs[WARM_UP:], strict=True))


def report(name: str, times: list[float]) -> None:
    """One row of the table."""
    ordered = sorted(times)
    p95 = ordered[round(0.95 * (len(ordered) - 1))]
    print(f"{name:38} {statistics.median(ordered):7.0f} {p95:7.0f} {ordered[-1]:5.0f}")


def main() -> None:
    """Print the table."""
    folder = Path(tempfile.mkdtemp())
    port, token = _free_port(), secrets.token_hex(16)
    command = [sys.executable, "-m", "blendkit", "--no-browser", "--allow-root"]
    command += [f"--ServerApp.port={port}", f"--IdentityProvider.token={token}"]
    environment = os.environ | {"BLENDKIT_HOME": str(folder)}
    with (folder / "lab.log").open("w") as log, sync_playwright() as playwright:
        server = subprocess.Popen(command, env=environment, stdout=log, stderr=log)
        try:
            _wait_for(f"http://127.0.0.1:{port}/api?token={token}")
            workbook = Workbook(f"http://127.0.0.1:{port}", token, folder)
            workbook.write("notebooks/baseline.ipynb", BASELINE)
            browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
            size = {"width": 1280, "height": 1400}
            plain, page = browser.new_page(viewport=size), browser.new_page(viewport=size)
            load = "{:.1f} {:.1f} {:.1f}".format(*os.getloadavg())
            print(
                f"{f'key press to repaint, ms; load {load}':38} {'median':>7} {'p95':>7} worst"
            )
            plain.goto(workbook.page_of("baseline.ipynb"))
            plain.wait_for_selector(".jp-CodeCell")
            plain.wait_for_timeout(6000)
            plain.locator(".jp-CodeCell").first.click()
            plain.keyboard.press("Shift+Enter")
            plain.wait_for_selector(".baseline", timeout=30_000)
            for name, targets in (
                ("01_first_bottle", SCREEN),
                ("03_skin_check", [CHART]),
                ("04_the_day", [CHART]),
            ):
                page.goto(workbook.page_of(f"{name}.ipynb"))
                page.wait_for_selector(CHART, timeout=90_000)
                page.wait_for_timeout(3000)
                if targets != SCREEN:
                    page.get_by_text("Change the blend", exact=True).click()
                baseline, panel = measure(plain, page, "Strength", targets)
                report("slider to a label, nothing else", baseline)
                report(f"{name}, Strength", panel)
            browser.close()
        finally:
            server.terminate()


if __name__ == "__main__":
    main()
