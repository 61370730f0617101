"""Notebook 06 on a real page, network cut off: tap, take back, keep, and open again."""

from __future__ import annotations

import itertools
import json

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import settle

NOTEBOOK = "06_make_and_keep.ipynb"
READY = ".bk-panel button.bk-tap"
BOTTLE = ".bk-panel svg[aria-label^='Bottle']"
TEN = (("Cedarwood", 3), ("Patchouli", 2), ("Lavender", 2), ("Petitgrain", 1), ("Bergamot", 2))


@pytest.fixture(scope="module")
def bench(opened_once):
    """The notebook with an empty bottle, opened once; each test goes on from the one before."""
    return opened_once(NOTEBOOK, READY)


def tap(page, name: str) -> None:
    page.locator(f"button[title^='one drop of {name}']").first.click()


def wait_for_lines(page, count: int) -> None:
    page.wait_for_selector(f".bk-panel >> text=/^{count} lines in the journal/")


def keep(page) -> None:
    page.get_by_role("button", name="Keep as a new version").click()
    page.wait_for_selector(".bk-message >> text=Kept as")


def ten_additions(page) -> None:
    for name, count in TEN:
        for _ in range(count):
            tap(page, name)
    wait_for_lines(page, 11)


def test_ten_taps_fill_the_bottle_and_survive_the_end_of_the_kernel(opened, workbook, picture):
    page = opened(NOTEBOOK, READY)
    page.wait_for_selector(".bk-panel >> text=Nothing to draw yet.")
    ten_additions(page)
    page.wait_for_selector(f"{BOTTLE}[aria-label*='Cedarwood Atlas · 3 drops']")
    page.wait_for_selector(".bk-panel svg.marks")
    picture(page, "06_make_and_keep_ten")
    page.get_by_role("button", name="Take back: + 1 drop of Bergamot").click()
    wait_for_lines(page, 12)
    page.wait_for_selector(
        f"{BOTTLE}[aria-label*='Bergamot FCF (furocoumarin-free) · 1 drop;']"
    )
    why = page.get_by_label("Why", exact=True)
    why.fill("<b>softer</b> (invented)")
    why.press("Enter")
    keep(page)
    picture(page, "06_make_and_keep_kept")
    wait_for_lines(page, 13)
    tap(page, "Lavender")  # it goes on after what was kept
    wait_for_lines(page, 14)
    workbook.end_kernels()
    page = opened(NOTEBOOK, READY)
    page.wait_for_selector(".bk-message >> text=Resumed your last session")
    wait_for_lines(page, 14)
    expect(page.locator(".bk-log li.bk-gone")).to_have_count(1)
    page.get_by_role("button", name="Take back: + 1 drop of Lavender").click()
    wait_for_lines(page, 15)
    expect(page.locator(".bk-log li.bk-gone")).to_have_count(2)
    chooser = page.locator("select[title='mix a kept blend']")
    label = chooser.locator("option", has_text="version").first.text_content()
    chooser.select_option(label=label)
    page.wait_for_selector(".bk-panel >> text=0 of 3 drops")
    page.get_by_text("Versions side by side", exact=True).first.click()
    page.wait_for_selector(".bk-panel >> text=“<b>softer</b> (invented)”")
    assert page.refused == []
    assert page.errors == []


def test_a_limit_is_said_before_the_drop(bench):
    page = bench
    fetch = page.locator("select[title^='+ add another']")
    fetch.select_option(label="Bergamot — top")
    button = page.locator("button[title^='one drop of Bergamot.']")
    tap(page, "Lavender")
    page.wait_for_selector("button.bk-warned")
    button.click()
    page.wait_for_selector(".bk-message >> text=Not recorded yet")
    button.click()
    page.wait_for_selector(".bk-panel >> text=times its limit")
    page.get_by_role("button", name="Take back").click()
    page.wait_for_selector("button.bk-warned")


@pytest.mark.parametrize("width", [1280, 1024])
def test_no_button_moves_under_a_finger(bench, width):
    page = bench
    page.set_viewport_size({"width": width, "height": 1600})
    page.wait_for_selector("button.bk-warned")
    settle(page)  # the header may wrap at this width
    places = """() => [...document.querySelectorAll('.bk-panel button.bk-tap')]
        .map(e => e.getBoundingClientRect()).map(b => [b.x, b.y].map(Math.round))"""
    before = page.evaluate(places)
    assert len({x for x, _ in before}) == 1
    page.locator("button[title^='one drop of Bergamot.']").click()
    page.wait_for_selector(".bk-row .bk-message >> text=Not recorded yet")
    asked = page.locator("button.bk-tap").evaluate_all(
        "all => all.findIndex(e => e.title.startsWith('one drop of Bergamot.'))"
    )
    # the question is below its row: the button to tap again stays, and all above it
    assert page.evaluate(places)[: asked + 1] == before[: asked + 1]
    rest = page.locator("button[title^='add the remaining']:visible")
    left = rest.count()
    assert left
    rest.first.click()  # and that button is gone
    expect(rest).to_have_count(left - 1)
    page.wait_for_selector(".bk-row.bk-done")
    assert {x for x, _ in page.evaluate(places)} == {x for x, _ in before}


@pytest.mark.parametrize("width", [1280, 1024])
def test_nothing_lies_on_top_of_anything_and_targets_are_large(bench, picture, width):
    page = bench
    page.set_viewport_size({"width": width, "height": 1600})
    tap(page, "Lavender")
    page.wait_for_selector("button[title^='one drop of Lavender']")
    picture(page, f"06_make_and_keep_{width}")
    boxes = page.evaluate(
        """() => [...document.querySelectorAll('.bk-panel button.bk-tap')]
        .map(e => e.getBoundingClientRect()).map(b => [b.x, b.y, b.width, b.height])"""
    )
    # at least 44 px, as touch guidelines ask (WCAG 2.2, 2.5.5); and no two overlap
    assert all(w >= 44 and h >= 44 for _, _, w, h in boxes), json.dumps(boxes)
    tops = sorted(y for _, y, _, _ in boxes)
    assert all(low + 44 <= high for low, high in itertools.pairwise(tops))
    log_place, bottle_place = page.locator(".bk-log"), page.locator(BOTTLE).first
    for place in (log_place, bottle_place):
        place.wait_for()  # both are drawn again after the tap
    log, drawn = log_place.bounding_box(), bottle_place.bounding_box()
    beside = drawn["x"] >= log["x"] + log["width"] - 1
    below = drawn["y"] >= log["y"] + min(log["height"], 300) - 1
    assert beside or below
