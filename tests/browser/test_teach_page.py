"""Notebook 08 on a real page, network cut off: plan, tabs, type into the grid, hand-outs.

It is opened once; each test takes it as the one before left it.
"""

from __future__ import annotations

import pytest

from tests.browser.conftest import settle, show_tab

NOTEBOOK = "08_teach_a_class.ipynb"
SEATS = ".bk-seats >> visible=true"  # it stands below two tabs
MARKUP = "<img src=x onerror=window.hurt=1>"


def cell(page, label: str, row: int):
    return page.get_by_label(f"{label}, row {row}", exact=True).locator("visible=true")


@pytest.fixture(scope="module")
def class_page(opened_once):
    return opened_once(NOTEBOOK, SEATS)


def test_the_plan_shows_and_nothing_is_asked_of_the_network(class_page, picture):
    page = class_page
    assert page.locator(SEATS).locator("tbody tr").count() == 12
    # with the reason to read, not only to see: sun afterwards, at two oils
    assert page.locator(SEATS).locator("td[aria-label='left out: sun afterwards']").count() == 2
    picture(page, "08_plan")
    for name, wanted in (
        ("What to buy", "svg.marks >> text=/[0-9]+ drops · /"),
        ("The card", "svg.marks >> text=/suns? each/"),
        ("Run sheet", "td >> text=/table 2/"),
    ):
        show_tab(page, name)
        page.locator(wanted).first.wait_for()
        picture(page, f"08_{name.replace(' ', '_').lower()}")
    assert page.refused == []


def test_names_typed_into_the_grid_never_become_markup(class_page):
    page = class_page
    show_tab(page, "Seats")
    cell(page, "Name, if you like", 1).fill(MARKUP)
    cell(page, "Name, if you like", 1).press("Enter")
    # Enter goes to the seat below, as in a spreadsheet
    focused = page.evaluate("document.activeElement.getAttribute('aria-label')")
    assert focused == "Name, if you like, row 2"
    page.locator(SEATS).locator("tbody th", has_text=MARKUP).first.wait_for()
    for name, shown in (
        ("Plan", page.locator(SEATS).locator("tbody th", has_text=MARKUP).first),
        ("Run sheet", page.locator("td:visible", has_text="table 2").first),
        ("Results", cell(page, "Cedarwood Atlas", 1)),
    ):
        show_tab(page, name)
        shown.wait_for()
    assert page.evaluate("window.hurt") is None
    assert page.locator(".bk-panel img").count() == 0


def test_a_number_of_seats_out_of_reach_greys_and_comes_back(class_page, picture):
    page = class_page
    show_tab(page, "Plan")
    box = page.get_by_label("Seats", exact=True)
    box.fill("500")
    box.press("Enter")
    page.locator(".bk-refusal", has_text="500").wait_for()
    page.wait_for_selector(".bk-stale")
    assert box.input_value() == "500"
    picture(page, "08_refused")
    box.fill("12")
    box.press("Enter")
    page.wait_for_selector(".bk-stale", state="detached")


def test_a_block_pasted_into_the_grid_is_checked_and_kept(class_page, picture):
    page = class_page
    show_tab(page, "Results")
    first = cell(page, "Cedarwood Atlas", 1)
    first.focus()
    page.evaluate(
        """() => {
          const data = new DataTransfer();
          data.setData("text", "12\\t3\\n9\\t4\\n");
          document.activeElement.dispatchEvent(
            new ClipboardEvent("paste", {
              clipboardData: data, bubbles: true, cancelable: true }));
        }"""
    )
    assert cell(page, "Patchouli", 2).input_value() == "4"
    cell(page, "Lavender", 1).fill("x")
    cell(page, "Lavender", 1).press("Tab")
    settle(page)
    page.get_by_role("button", name="Keep all in the journal").click()
    page.locator(".bk-answer .bk-refusal", has_text="Lavender").wait_for()
    cell(page, "Lavender", 1).fill("5")
    cell(page, "Lavender", 1).press("Tab")
    settle(page)
    page.get_by_role("button", name="Keep all in the journal").click()
    page.locator(".bk-answer", has_text="2 bottles kept").wait_for()
    picture(page, "08_results")


def test_hand_outs_open_from_the_panel(class_page, picture):
    page = class_page
    show_tab(page, "Hand-outs")
    settle(page)
    page.get_by_role("button", name="Make the hand-outs").click()
    page.locator(".bk-answer", has_text="hand-outs made in").wait_for()
    links = page.locator("a[href*='/files/handouts/']")
    assert links.count() >= 4
    with page.context.expect_page() as opening:
        links.filter(has_text="card").first.click()
    opened_page = opening.value
    opened_page.wait_for_load_state()
    assert opened_page.locator("h1").count() >= 1
    assert page.refused == []
