"""One blend in hand on two pages: they follow each other, and undo outlives the kernel."""

from __future__ import annotations

import time

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import open_notebook

FIRST, SECOND = "01_first_bottle.ipynb", "03_skin_check.ipynb"
UNDO = "↶ Undo"
STRENGTH = "input[title='Strength']"


@pytest.fixture(scope="module")
def page(opened_once):
    """Notebook 01, opened once: the second test goes on where the first one ended."""
    return opened_once(FIRST)


def type_strength(page, text: str) -> None:
    box = page.locator(STRENGTH)
    box.fill(text)
    box.press("Enter")


def test_one_press_to_its_release_is_one_step(page):
    handle = page.locator(".widget-hslider", has_text="Strength").locator(".noUi-handle")
    box = handle.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    for step in range(1, 9):
        page.mouse.move(x + 6 * step, y)
        page.wait_for_timeout(40)  # as a hand does; some values come while it is held
    page.mouse.up()
    # the last move comes to the box after the release, and is of the same press
    dragged = f"{float(handle.get_attribute('aria-valuenow')):g} %"
    assert dragged != "20 %"
    expect(page.locator(STRENGTH)).to_have_value(dragged)
    undo = page.get_by_role("button", name=UNDO)
    expect(undo).to_have_attribute("title", f"undo: strength 20 % → {dragged}")
    undo.click()
    expect(page.locator(STRENGTH)).to_have_value("20 %")
    expect(undo).to_be_disabled()


def test_two_notebooks_follow_each_other_and_undo_outlives_the_kernel(page, workbook, picture):
    other = page.context.new_page()
    open_notebook(other, workbook, SECOND)
    took = []
    for percent in (25, 30, 35, 20, 25):
        began = time.monotonic()
        type_strength(page, f"{percent} %")
        expect(other.locator(STRENGTH)).to_have_value(f"{percent} %")
        took.append(time.monotonic() - began)
    print("03 shows what 01 set after", ", ".join(f"{seconds:.2f} s" for seconds in took))  # noqa: T201
    picture(other, "hand_03_follows")

    # a refused input is its box's own, and what the other notebook sets goes on
    type_strength(page, "110 %")
    page.wait_for_selector(".bk-refusal >> text=110 %")
    other.get_by_label("Name", exact=True).fill("Other (invented)")
    other.get_by_label("Name", exact=True).press("Enter")
    expect(page.get_by_label("Name", exact=True)).to_have_value("Other (invented)")
    expect(page.locator(STRENGTH)).to_have_value("110 %")
    expect(other.locator(STRENGTH)).to_have_value("25 %")
    type_strength(page, "25 %")

    # letters not yet sent belong to their box, and so does Ctrl+Z; after that it is a step
    box = page.locator(STRENGTH)
    box.focus()
    box.press("End")
    box.press_sequentially("9")
    box.press("Control+z")
    type_strength(page, "28 %")
    expect(other.locator(STRENGTH)).to_have_value("28 %")
    # had that been an undo, it would have come first
    expect(other.get_by_label("Name", exact=True)).to_have_value("Other (invented)")
    box.press("Control+z")
    expect(box).to_have_value("25 %")
    page.wait_for_selector(".bk-message >> text=Undid: strength 28 % → 25 %")
    box.press("Control+Shift+z")
    expect(box).to_have_value("28 %")

    other.close()
    workbook.end_kernels()
    page.reload()
    page.wait_for_selector(".bk-panel svg.marks", state="attached", timeout=90_000)
    expect(page.locator(STRENGTH)).to_have_value("28 %")
    page.get_by_role("button", name=UNDO).click()
    expect(page.locator(STRENGTH)).to_have_value("25 %")
    picture(page, "hand_01_after_restart")
