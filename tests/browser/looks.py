"""Names, roles and contrast of what is in sight, in both themes of JupyterLab."""

from __future__ import annotations

from importlib.resources import files

# axe-core (MPL-2.0) judges the page; charts are pictures with a name of their own, and the
# third row of a grid is like the second
_AXE = """async cell => {
  const options = { resultTypes: ['violations'], runOnly: ['wcag2a', 'wcag2aa', 'wcag21a',
    'wcag21aa', 'wcag22aa', 'best-practice'] };
  const exclude = ['svg', '.bk-grid tbody tr:nth-child(n+3)'];
  const include = [...cell.querySelectorAll('.bk-panel')];
  const { violations } = await axe.run({ include, exclude }, options);
  return violations.flatMap(({ id, nodes }) =>
    nodes.map(node => `${id}: ${node.html.slice(0, 140)}`));
}"""
# What axe leaves out: edges of boxes and handles, pressed relative to not pressed, and the text
# of controls, by relative luminance (WCAG 2.2, 1.4.3: 4.5 to 1; 1.4.11: 3 to 1)
_CONTRAST = """cell => {
  const rgb = text => (text.match(/[\\d.]+/g) ?? [0, 0, 0, 0]).map(Number);
  const linear = v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
  const light = c => [0.2126, 0.7152, 0.0722]
    .reduce((sum, weight, at) => sum + weight * linear(c[at] / 255), 0);
  const ratio = (a, b) => {
    const [low, high] = [light(a), light(b)].sort((one, other) => one - other);
    return (high + 0.05) / (low + 0.05);
  };
  const ground = e => {
    for (; e; e = e.parentElement) {
      const colour = rgb(getComputedStyle(e).backgroundColor);
      if (colour.length < 4 || colour[3] === 1) return colour;
    }
    return [255, 255, 255];
  };
  const found = [];
  const told = (e, what, got) => found.push(`${what} ${got.toFixed(2)}: ${e.tagName} ` +
    `${e.className} "${(e.title || e.textContent || e.getAttribute('aria-label') || '')
      .slice(0, 50)}"`);
  const within = kinds => [...cell.querySelectorAll('.bk-panel')]
    .flatMap(panel => [...panel.querySelectorAll(kinds)])
    .filter(e => e.getClientRects().length && !e.disabled && !e.closest('.bk-stale, svg'));
  for (const e of within('input, select, textarea, button, [role=button], .lm-TabBar-tab')) {
    if (e.matches('[type=checkbox], [type=range], [type=file]')) continue;
    const words = ratio(rgb(getComputedStyle(e).color), ground(e));
    if (words < 4.5) told(e, 'words', words);
  }
  for (const e of within('input, select, textarea, .noUi-handle')) {
    if (e.matches('[type=checkbox], [type=range], [type=file]')) continue;
    const around = ground(e.parentElement);
    const edge = ratio(rgb(getComputedStyle(e).borderBottomColor), around);
    if (edge < 3) told(e, 'edge', edge);
  }
  for (const e of within('.widget-toggle-buttons .mod-active')) {
    const other = e.parentElement.querySelector('button:not(.mod-active)');
    if (other && ratio(ground(e), ground(other)) < 3)
      told(e, 'pressed', ratio(ground(e), ground(other)));
  }
  return found;
}"""


def ready_for_axe(page) -> None:
    """Bring the judge onto a page."""
    page.evaluate((files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8"))


def against_the_rules(cell) -> list[str]:
    """What axe-core finds fault with in a cell, and what has too little contrast."""
    return [*cell.evaluate(_AXE), *cell.evaluate(_CONTRAST)]


def too_faint(cell) -> list[str]:
    """Controls in sight in a cell with too little contrast."""
    return cell.evaluate(_CONTRAST)


def choose_theme(page, name: str) -> None:
    """Change JupyterLab's theme from its menu, as a person does."""
    page.get_by_role("menuitem", name="Settings", exact=True).click()
    page.locator(".lm-Menu-item", has_text="Theme").first.hover()
    page.locator(".lm-Menu-item").get_by_text(f"JupyterLab {name}", exact=True).click()
    light = "true" if name == "Light" else "false"
    page.wait_for_selector(f"body[data-jp-theme-light={light}]", state="attached")
