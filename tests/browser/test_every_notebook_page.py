"""Every notebook opens live by itself, asks nothing of the network and raises nothing.

Each is opened once, and everything is looked at on that page: what this notebook alone
promises; names, roles and contrast in both themes; keys; and the widths of a desk, a small
laptop, a page zoomed to twice its size (which leaves 640 of 1280 pixels) and a phone.
"""

from __future__ import annotations

import contextlib
import json
from pathlib import Path

import pytest

from tests.browser.conftest import (
    every_view,
    nameless_controls,
    open_notebook,
    page_alone,
    settle,
)
from tests.browser.keys import cells, heard_by_the_notebook, type_in_each_kind
from tests.browser.looks import against_the_rules, choose_theme, ready_for_axe, too_faint

NOTEBOOKS = sorted((Path(__file__).resolve().parents[2] / "notebooks").glob("*.ipynb"))
STATUS = ".jp-Notebook-ExecutionIndicator"
CHART = ".bk-panel .vega-embed svg.marks"
# every script of a widget ends three seconds after it would
LATE_SCRIPTS = """globalThis.Blob = class extends Blob {
  constructor(parts, options) {
    const late = "\\nawait new Promise(go => setTimeout(go, 3000));";
    super(options?.type === "text/javascript" ? [...parts, late] : parts, options);
  }
};"""
NO_CHART = ("06_make_and_keep", "10_sell_with_a_file")  # on opening, with nothing kept
LIVE = ".bk-panel .vega-embed, .bk-panel button.bk-tap, .bk-panel .widget-upload"
WIDTHS = {"desk": 1280, "laptop": 1024, "zoomed": 640, "phone": 390}
ALL_IN_SIGHT = 9000  # high enough for every panel, since only what is in sight is laid out [px]
# What reaches out of its panel sideways, or out of its own picture; lists that scroll may.
STICKS_OUT = """() => {
  const found = [];
  const seen = e => {
    const box = e.getBoundingClientRect();
    return box.width && box.height ? box : null;
  };
  const tell = (e, by) => found.push(
    `${e.tagName} ${e.className.baseVal ?? e.className} "${(e.textContent || e.value || '')
      .slice(0, 40)}" by ${by.toFixed(0)}`);
  for (const panel of document.querySelectorAll('.bk-panel')) {
    const right = panel.getBoundingClientRect().right;
    for (const e of panel.querySelectorAll('*')) {
      if (e.closest(
        '.bk-scroll, .bk-sideways, .bk-grid-box, .bk-notebooks, svg, .bk-chart')) continue;
      const box = seen(e);
      if (box && box.right > right + 1) tell(e, box.right - right);
    }
    for (const picture of panel.querySelectorAll('svg.marks, svg[role=img]')) {
      const frame = seen(picture);
      if (!frame) continue;
      if (frame.right > right + 1) tell(picture, frame.right - right);
      for (const e of picture.querySelectorAll('text')) {
        const box = seen(e);
        if (box && box.right > frame.right + 1) tell(e, box.right - frame.right);
        if (box && box.left < frame.left - 1) tell(e, frame.left - box.left);
      }
    }
  }
  return found;
}"""


def opens_live_without_network_or_errors(page, picture):
    if page.name not in NO_CHART:
        page.wait_for_selector(CHART, state="attached")
    picture(page, page.name)


def can_be_read_and_keeps_its_keys(page, picture):
    ready_for_axe(page)
    nameless, faults, heard, before = [], [], [], cells(page)
    for cell in every_view(page):
        nameless += nameless_controls(page)
        faults += against_the_rules(cell)
        heard += heard_by_the_notebook(cell)  # last: a slider moves
    choose_theme(page, "Dark")
    picture(page, f"{page.name}_dark")
    faint = [control for cell in every_view(page, again=True) for control in too_faint(cell)]
    choose_theme(page, "Light")
    assert (nameless, sorted(set(faults)), sorted(set(faint))) == ([], [], [])
    assert heard == []
    assert cells(page) == before


def keeps_keys_typed_by_hand(page, picture):
    page.locator(".bk-panel").first.scroll_into_view_if_needed()
    settle(page)
    before = cells(page)
    after = type_in_each_kind(page)
    assert len(after) >= 4
    assert after == dict.fromkeys(after, before)
    edge = page.locator(".bk-panel").first
    edge.click(position={"x": 4, "y": 4})  # between two controls
    page.keyboard.type("mrxaddb")
    assert cells(page) == before


def nothing_sticks_out_at_any_width(page, picture):
    stuck = {}
    for size, width in WIDTHS.items():
        page.set_viewport_size({"width": width, "height": ALL_IN_SIGHT})
        settle(page)
        stuck[size] = page.evaluate(STICKS_OUT)
        if width > WIDTHS["zoomed"]:
            continue
        for tab in page.locator(".bk-panel .lm-TabBar-tab").all():
            tab.click()
            settle(page)
            stuck[size] += page.evaluate(STICKS_OUT)
    page.set_viewport_size({"width": 1280, "height": 1500})
    page.add_style_tag(content="html { filter: grayscale(1); }")
    picture(page, f"{page.name}_grey")
    assert stuck == {size: [] for size in stuck}


def keeps_a_picture_without_the_network(page, picture):
    for kind, start in (("png", b"\x89PNG"), ("svg", b"<svg")):
        title = f"Through the day: into your downloads, as {kind.upper()}"
        with page.expect_download() as started:
            page.locator(f".bk-keep-picture button[title='{title}']").click()
        kept = started.value
        assert kept.suggested_filename == f"through-the-day.{kind}"
        data = Path(kept.path()).read_bytes()
        assert data.startswith(start)
        assert len(data) > 4000
    assert page.refused == []


def says_over_in_words_and_offers_the_nearest_blend(page, picture):
    page.get_by_role("button", name="Change the blend").click()
    page.locator("select[title='add a top note']").select_option(label="Lime, expressed")
    page.wait_for_selector(f"{CHART} >> text=/times, over/")
    page.get_by_role("button", name="Show the nearest blend").click()
    page.wait_for_selector(".bk-findings >> text=Drops of oil in all")
    picture(page, "03_skin_check_nearest")
    # typed, and then the button at once: the box is left by that very press, and the button
    # must not move under it when the answer comes, or the press is lost
    find = page.get_by_role("button", name="Show the nearest blend")
    before = find.bounding_box()
    page.locator("input[title='Strength']").fill("14 %")
    find.click()
    page.wait_for_selector(".bk-findings >> text=Drops of oil in all: 28")
    assert find.bounding_box() == before
    page.get_by_role("button", name="Use this blend").click()
    page.wait_for_selector(".bk-message >> text=The nearest blend is on the panel now")
    page.wait_for_selector(".bk-verdict strong >> text=Within")
    assert page.get_by_role("button", name="Fix it").is_hidden()


def draws_all_ten_charts(page, picture):
    cells = page.locator(".jp-Cell")
    for place in range(cells.count()):  # the page draws what is scrolled to
        cells.nth(place).scroll_into_view_if_needed()
    page.wait_for_function(
        "() => document.querySelectorAll('.bk-panel .vega-embed svg.marks').length === 10"
    )
    # every one has marks in it, and not only a frame
    empty = page.evaluate(
        """() => [...document.querySelectorAll('.bk-panel .vega-embed svg.marks')]
        .filter(svg => svg.querySelectorAll('[role=graphics-symbol]').length < 3).length"""
    )
    assert empty == 0
    # Vega was read once
    assert page.evaluate("() => Object.keys(globalThis.blendkitVega).length") == 1


def makes_room_for_longer_names(page, picture):
    page.locator(".bk-panel select").first.select_option(label="Myrrh")
    page.wait_for_selector(".bk-panel svg.marks >> text=/oxygenated sesquiterpenes/")
    settle(page)
    assert page.evaluate(STICKS_OUT) == []


PROMISES = {
    "01_first_bottle": [keeps_a_picture_without_the_network],
    "03_skin_check": [says_over_in_words_and_offers_the_nearest_blend],
    "05_why_it_fades": [draws_all_ten_charts, makes_room_for_longer_names],
}
CHECKS = [
    (name, check)
    for name in (file.stem for file in NOTEBOOKS)
    for check in (
        opens_live_without_network_or_errors,
        *PROMISES.get(name, ()),
        can_be_read_and_keeps_its_keys,
        keeps_keys_typed_by_hand,
        nothing_sticks_out_at_any_width,
    )
]


@pytest.fixture(scope="module")
def page_of(browser, workbook):
    """The page of a notebook: opened for its first check, closed for the next notebook's."""
    with contextlib.ExitStack() as open_one:
        pages = {}

        def page_of(name):
            if name not in pages:
                open_one.close()
                pages.clear()
                workbook.begin_anew()
                pages[name] = open_one.enter_context(page_alone(browser))
                pages[name].name = name
                open_notebook(pages[name], workbook, f"{name}.ipynb", LIVE)
                settle(pages[name])
            return pages[name]

        yield page_of


@pytest.mark.parametrize(
    ("name", "check"), CHECKS, ids=[f"{name}-{check.__name__}" for name, check in CHECKS]
)
def test_a_notebook(name, check, page_of, picture):
    page = page_of(name)
    check(page, picture)
    assert page.refused == []
    assert page.errors == []


def test_a_notebook_that_was_changed_does_not_run_by_itself(workbook, page):
    workbook.end_kernels()
    document = json.loads(NOTEBOOKS[0].read_text(encoding="utf-8"))
    document["cells"][-1]["source"] = ["print('changed')"]
    workbook.write("notebooks/changed.ipynb", document)
    page.goto(workbook.page_of("changed.ipynb"))
    page.wait_for_selector(".jp-Notebook .jp-CodeCell", timeout=60_000)
    page.wait_for_selector(f"{STATUS}[data-status=idle]", state="attached")  # kernel is there
    page.wait_for_timeout(2000)
    assert page.locator(".bk-panel").count() == 0


def test_the_token_is_asked_for(workbook, page):
    answer = page.goto(f"{workbook.address}/api/contents")
    assert answer.status == 403


def test_a_widget_that_is_late_is_not_deaf(opened, page):
    page.add_init_script(LATE_SCRIPTS)
    opened("01_first_bottle.ipynb", CHART)
    drawn = page.locator(CHART).first.inner_html()
    page.locator("input[title='Strength']").fill("5 %")
    page.locator("input[title='Strength']").press("Enter")
    page.wait_for_function(
        "([chart, drawn]) => document.querySelector(chart).innerHTML !== drawn",
        arg=[CHART, drawn],
    )
    assert page.errors == []
