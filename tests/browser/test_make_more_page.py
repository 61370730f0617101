"""Notebook 07 on a real page: every section opens live, a refusal is said, labels print."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import show_tab

NOTEBOOK = "07_make_more.ipynb"
CHART = ".bk-panel .vega-embed svg.marks"


@pytest.fixture(scope="module")
def page(opened_once):
    return opened_once(NOTEBOOK, CHART)


def test_every_section_opens_without_network_or_errors(page, picture):
    picture(page, "07_make_more_weigh")
    for name, sign in (
        ("Oil concentrate", "text=not for skin as it is"),
        ("Stock", "svg.marks >> text=Stock for this batch"),
        ("Cost", "text=no cost to show"),
        ("Buy", "text=no pack typed"),
        ("Label", "svg.bk-label-proof"),
        ("Selling", "text=This workbook is no assessment"),
    ):
        show_tab(page, name)
        page.wait_for_selector(f".bk-panel >> {sign} >> visible=true")
        picture(page, f"07_make_more_{name.lower()}")
    assert page.refused == []
    assert page.errors == []


def test_printing_hands_the_browser_twelve_labels_set_in_their_own_font(page):
    show_tab(page, "Label")
    page.get_by_role("button", name="Print the label sheets").click()
    sheet = page.frame_locator("iframe[title='Print the label sheets']")
    sheet.locator("svg.sheet").first.wait_for(state="attached")
    expect(sheet.locator("g.sticker")).to_have_count(12)
    assert sheet.locator("body").evaluate(
        "() => document.fonts.ready.then(all => all.check('10px \"blendkit label\"'))"
    )


def test_bottles_typed_change_the_picture_and_nonsense_is_said(page):
    show_tab(page, "Weigh")
    box = page.get_by_label("Bottles", exact=True).first
    box.fill("3 × 30 mL")
    box.press("Enter")
    page.wait_for_selector(".bk-panel >> text=Fills 3 × 30 mL")
    box.fill("three")
    box.press("Enter")
    page.wait_for_selector(".bk-refusal >> text=three")
    expect(page.locator(".bk-stale")).to_have_count(1)
    assert box.input_value() == "three"
