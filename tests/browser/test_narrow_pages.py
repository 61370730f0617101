"""Every panel fits: on a desk, on a small laptop, and on a page zoomed to twice its size.

A page at 200 % on a screen 1280 pixels wide has 640 of them left.
"""

from __future__ import annotations

from pathlib import Path

import pytest

NOTEBOOKS = sorted((Path(__file__).resolve().parents[2] / "notebooks").glob("*.ipynb"))
CHART = ".bk-panel .vega-embed svg.marks"
SIZES = {"desk": (1280, 1500), "laptop": (1024, 1300), "zoomed": (640, 1000)}
# What reaches out of its panel sideways, or out of its own picture; lists that scroll may.
STICKS_OUT = """cell => {
  const found = [];
  const seen = e => {
    const box = e.getBoundingClientRect();
    return box.width && box.height ? box : null;
  };
  const tell = (e, by) => found.push(
    `${e.tagName} ${e.className.baseVal ?? e.className} "${(e.textContent || e.value || '')
      .slice(0, 40)}" by ${by.toFixed(0)}`);
  for (const panel of cell.querySelectorAll('.bk-panel')) {
    const right = panel.getBoundingClientRect().right;
    for (const e of panel.querySelectorAll('*')) {
      if (e.closest('.bk-scroll, .bk-grid-box, svg, .bk-chart')) continue;
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


def sticking_out(page) -> list[str]:
    """Looked at cell by cell, since the page lays out only what is scrolled to."""
    cells, found = page.locator(".jp-Cell"), []
    for place in range(cells.count()):
        if cells.nth(place).locator(".bk-panel").count():
            cells.nth(place).scroll_into_view_if_needed()
            page.wait_for_timeout(300)
            found += cells.nth(place).evaluate(STICKS_OUT)
    return found


@pytest.mark.parametrize("name", [file.stem for file in NOTEBOOKS])
def test_nothing_sticks_out_at_any_width(opened, picture, name):
    page = opened(f"{name}.ipynb", ".bk-panel")
    page.wait_for_timeout(3000)
    stuck = {}
    for size, (width, height) in SIZES.items():
        page.set_viewport_size({"width": width, "height": height})
        page.wait_for_timeout(800)
        picture(page, f"{name}_{size}")
        stuck[size] = sticking_out(page)
    for tab in page.locator(".bk-panel .lm-TabBar-tab").all():  # still zoomed, the narrowest
        tab.click()
        page.wait_for_timeout(1000)
        stuck["zoomed"] += sticking_out(page)
    page.set_viewport_size({"width": 1280, "height": 1500})
    page.add_style_tag(content="html { filter: grayscale(1); }")
    picture(page, f"{name}_grey")
    assert stuck == {size: [] for size in SIZES}
    assert page.refused == []
