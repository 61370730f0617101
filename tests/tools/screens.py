"""Pictures of all notebooks, in both themes and at several widths, to be looked at.

`python -m tests.tools.screens FOLDER [WIDTH ...]` also makes a sheet of each theme and width,
one of them in grey. `python -m tests.tools.screens --readme` renews the picture in the README.
"""

from __future__ import annotations

import io
import sys
import tempfile
from pathlib import Path

from PIL import Image
from playwright.sync_api import sync_playwright

from blendkit.workbook.notebooks import shipped_notebooks
from tests.browser.conftest import (
    CHROMIUM,
    FLAGS,
    REPOSITORY,
    open_notebook,
    page_alone,
    running_workbook,
)
from tests.browser.looks import choose_theme

WIDTHS = (390, 640, 1024, 1280, 1920)
HEIGHTS = {390: 844, 1280: 800, 1920: 1080}
README = REPOSITORY / ".pictures" / "one_screen.png"


def main(folder: Path, widths: tuple[int, ...]) -> None:
    """Save NOTEBOOK_THEME_WIDTH.png of each notebook as it opens, and the sheets."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, page in opened(shipped_notebooks()):
        save(page, folder / Path(name).stem, widths)
    for width in widths:
        for theme in ("light", "dark"):
            tile(sorted(folder.glob(f"[0-9]*_{theme}_{width}.png"))).save(
                folder / f"sheet_{theme}_{width}.png"
            )
    tile(sorted(folder.glob(f"[0-9]*_light_{max(widths)}.png"))).convert("L").save(
        folder / "sheet_grey.png"
    )


def opened(names):
    """Each notebook on a page of its own."""
    with (
        tempfile.TemporaryDirectory() as place,
        running_workbook(Path(place)) as workbook,
        sync_playwright() as playwright,
    ):
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        for name in names:
            with page_alone(browser) as page:
                open_notebook(page, workbook, name, ".bk-panel")
                page.wait_for_timeout(3000)  # what comes after the chart
                yield name, page
            workbook.end_kernels()
        browser.close()


def tile(files: list[Path], across: int = 5, width: int = 640) -> Image.Image:
    """All pictures on one sheet, in rows."""
    pictures = [Image.open(file).convert("RGB") for file in files]
    small = [one.resize((width, one.height * width // one.width)) for one in pictures]
    height = max(one.height for one in small)
    rows = -(-len(small) // across)
    sheet = Image.new("RGB", (across * width, rows * height), "white")
    for place, one in enumerate(small):
        sheet.paste(one, (place % across * width, place // across * height))
    return sheet


def renew_readme() -> None:
    """Take the one screen anew, small and in few colours."""
    for _, page in opened(["01_first_bottle.ipynb"]):
        page.set_viewport_size({"width": 1280, "height": 1000})
        page.wait_for_timeout(1000)
        taken = Image.open(io.BytesIO(page.locator(".bk-panel").first.screenshot()))
    README.parent.mkdir(exist_ok=True)
    small = taken.convert("RGB").resize((900, taken.height * 900 // taken.width), Image.LANCZOS)
    small.quantize(200, dither=Image.Dither.NONE).save(README, optimize=True)


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
    if sys.argv[1:] == ["--readme"]:
        renew_readme()
    else:
        main(Path(sys.argv[1]), tuple(map(int, sys.argv[2:])) or WIDTHS)
