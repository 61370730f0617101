"""Notebook 01 on a real page, network cut off: open, drag, type nonsense, keep, reopen.

It is opened once; each test takes it as the one before left it.
"""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

CHART = ".bk-panel .vega-embed svg.marks"
NAME = "Kept <b>blend</b> & co (invented)"
BOTTLE = ".bk-panel svg[aria-label^='Bottle']"


@pytest.fixture(scope="module")
def page(opened_once):
    return opened_once("01_first_bottle.ipynb", CHART)


def bottle_words(page) -> str:
    return page.locator(BOTTLE).get_attribute("aria-label")


def handle_of(page, label: str):
    row = page.locator(".widget-hslider", has_text=label)
    return row.locator(".noUi-handle")


def box_of(page, label: str):
    return page.locator(f"input[title='{label}']")


def test_opens_live_and_asks_nothing_of_the_network(page, picture):
    assert "Cedarwood Atlas" in bottle_words(page)
    picture(page, "01_first_bottle_opened")
    assert page.refused == []


def test_a_screen_reader_hears_a_name_for_every_control(page):
    page.wait_for_selector(".bk-panel .noUi-handle[aria-label='Strength']")
    session = page.context.new_cdp_session(page)
    panel = session.send(
        "Runtime.evaluate", {"expression": "document.querySelector('.bk-panel')"}
    )["result"]["objectId"]
    heard = {"slider": [], "textbox": [], "combobox": [], "button": []}
    for role, names in heard.items():
        asked = {"objectId": panel, "role": role}
        for node in session.send("Accessibility.queryAXTree", asked)["nodes"]:
            names.append(node["name"]["value"])
    assert {"Strength", "Top parts", "Middle parts", "Base parts"} <= set(heard["slider"])
    assert "take out Lavender" in heard["button"]
    assert "parts of Lavender" in heard["textbox"]
    assert [role for role, names in heard.items() if "" in names] == []
    assert re.search(r"Bottle, from the top: .*; Cedarwood Atlas", bottle_words(page))


def test_printing_hands_the_browser_the_page_of_this_very_blend(page):
    page.get_by_role("button", name="Print the bench sheet").click()
    sheet = page.frame_locator("iframe[title='Print the bench sheet']")
    sheet.locator("h1").wait_for(state="attached")
    assert sheet.locator("h1").text_content() == "Garden gate (invented example)"
    sheet.locator("tbody tr").nth(9).wait_for(state="attached")  # ten or more


def test_every_stop_of_the_tab_key_can_be_seen(page):
    box_of(page, "Strength").focus()
    for _ in range(12):
        page.keyboard.press("Tab")
        width = page.evaluate(
            """() => { const style = getComputedStyle(document.activeElement);
            return style.outlineStyle === 'solid' ? style.outlineWidth : 'none'; }"""
        )
        assert width == "3px"


def test_dragging_the_ratio_redraws_bottle_and_chart(page, picture):
    before = bottle_words(page)
    drawn = page.locator(CHART).first.inner_html()
    handle_of(page, "Top parts").focus()
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    expect(box_of(page, "Top parts")).to_have_value("4")
    page.wait_for_selector(".bk-panel svg[aria-label*='(furocoumarin-free) · 15 drops']")
    assert bottle_words(page) != before
    page.wait_for_function(
        "([chart, drawn]) => document.querySelector(chart).innerHTML !== drawn",
        arg=[CHART, drawn],
    )
    picture(page, "01_first_bottle_dragged")


def test_a_bad_number_is_said_greys_the_result_and_is_not_changed(page, picture):
    box = box_of(page, "Strength")
    box.fill("110 %")
    box.press("Enter")
    page.wait_for_selector(".bk-refusal >> text=110 %")
    expect(page.locator(".bk-stale")).to_have_count(2)  # the bottle; verdict and day
    assert box.input_value() == "110 %"
    picture(page, "01_first_bottle_refused")
    box.fill("12 %")
    box.press("Enter")
    page.wait_for_selector(".bk-stale", state="detached")


def test_a_kept_blend_can_be_opened_after_the_page_was_loaded_anew(page):
    name = page.get_by_label("Name", exact=True)
    name.fill(NAME)
    name.press("Enter")
    page.get_by_role("button", name="Keep as version").click()
    page.wait_for_selector(".bk-message >> text=Kept as")
    page.reload()
    page.wait_for_selector(CHART)
    # the page came back on a living kernel: what was typed is still there
    expect(page.get_by_label("Name", exact=True)).to_have_value(NAME)
    box_of(page, "Strength").fill("9 %")
    box_of(page, "Strength").press("Enter")
    page.wait_for_selector(".bk-hand >> text=/9 % · .* changed since/")
    chooser = page.locator("select", has_text="Open a kept blend")
    label = chooser.locator("option", has_text="Kept <b>blend</b> & co").first.text_content()
    chooser.select_option(label=label)
    page.wait_for_selector(".bk-message >> text=Opened")
    expect(page.get_by_label("Name", exact=True)).to_have_value(NAME)


def test_no_error_was_raised_on_the_page(page):
    handle_of(page, "Strength").focus()
    page.keyboard.press("ArrowRight")
    page.wait_for_selector(".bk-hand >> text=/13 % · .* changed since/")
    assert page.errors == []
    assert page.refused == []
