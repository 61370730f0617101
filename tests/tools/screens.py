"""Pictures of all notebooks, in both themes and at several widths, to be looked at.

python -m tests.tools.screens FOLDER [WIDTH ...]
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from blendkit.workbook.notebooks import shipped_notebooks
from tests.browser.conftest import CHROMIUM, FLAGS, open_notebook, page_alone, running_workbook
from tests.browser.looks import choose_theme

WIDTHS = (390, 640, 1024, 1280, 1920)
HEIGHTS = {390: 844, 1280: 800, 1920: 1080}


def main(folder: Path, widths: tuple[int, ...]) -> None:
    """Save NOTEBOOK_THEME_WIDTH.png of each notebook as it opens."""
    folder.mkdir(parents=True, exist_ok=True)
    with (
        tempfile.TemporaryDirectory() as place,
        running_workbook(Path(place)) as workbook,
        sync_playwright() as playwright,
    ):
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        for name in shipped_notebooks():
            with page_alone(browser) as page:
                open_notebook(page, workbook, name, ".bk-panel")
                page.wait_for_timeout(3000)  # what comes after the chart
                save(page, folder / Path(name).stem, widths)
            workbook.end_kernels()
        browser.close()


def save(page, file: Path, widths: tuple[int, ...]) -> None:
    """Save the pictures of an opened notebook."""
    for theme in ("Light", "Dark"):
        page.set_viewport_size({"width": 1280, "height": 1000})
        if theme == "Dark":
            choose_theme(page, theme)
        for width in widths:
            page.set_viewport_size({"width": width, "height": HEIGHTS.get(width, 1000)})
            page.wait_for_timeout(1000)
            page.screenshot(path=f"{file}_{theme.lower()}_{width}.png")
    choose_theme(page, "Light")


if __name__ == "__main__":
    main(Path(sys.argv[1]), tuple(map(int, sys.argv[2:])) or WIDTHS)
