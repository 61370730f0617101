"""Keys pressed in a panel, and whether the notebook around it heard them."""

from __future__ import annotations

# Every control in sight takes every key that is a command of a notebook: change the kind of a
# cell, cut, add, delete, move on, run. The page is asked after each control.
PRESS_EVERYWHERE = """async () => {
  const letters = [...'mrxaddby'].map(key => ({ key, keyCode: key.toUpperCase().charCodeAt() }));
  const others = { ArrowUp: 38, ArrowDown: 40, ArrowLeft: 37, ArrowRight: 39, Delete: 46,
                   Enter: 13 };
  const named = Object.entries(others).map(([key, keyCode]) => ({ key, keyCode }));
  const run = [{ key: 'Enter', keyCode: 13, shiftKey: true },
               { key: 'Enter', keyCode: 13, ctrlKey: true },
               { key: 'Backspace', keyCode: 8, ctrlKey: true }];
  // JupyterLab carries a command out a moment later
  const pause = () => new Promise(go => setTimeout(go, 10));
  const kinds = 'a[href], button, input, select, textarea, summary, [tabindex]';
  const state = () => [...document.querySelectorAll('.jp-Notebook .jp-Cell')].map(cell =>
    [...cell.classList].filter(name => /-(Code|Markdown|Raw)Cell$|-mod-active$/.test(name)) +
    cell.querySelectorAll('.bk-panel').length).join();
  for (const control of document.querySelectorAll(`.bk-panel, .bk-panel :is(${kinds})`)) {
    control.focus();
    if (document.activeElement !== control) continue;
    await pause();
    const before = state();
    for (const key of [...letters, ...named, ...run]) {
      control.focus();
      const press = { ...key, bubbles: true, cancelable: true };
      control.dispatchEvent(new KeyboardEvent('keydown', press));
      control.dispatchEvent(new KeyboardEvent('keyup', press));
    }
    await pause();
    globalThis.controlsPressed = (globalThis.controlsPressed ?? 0) + 1;
    if (state() !== before)
      return `${control.outerHTML.slice(0, 160)}: ${before} became ${state()}`;
  }
  return '';
}"""
CELLS = """() => [...document.querySelectorAll('.jp-Notebook .jp-Cell')].map(cell =>
  [...cell.classList].find(name => /-(Code|Markdown|Raw)Cell$/.test(name))
  + cell.querySelectorAll('.bk-panel').length)"""
# One of each kind, for keys pressed as a person does
KINDS = ("select", "button.jupyter-button", "input[type=checkbox]", ".noUi-handle",
         "input[type=text]", "textarea", ".jupyter-widget-Collapse-header", ".lm-TabBar-tab",
         ".widget-toggle-button", "a[href]", ".bk-grid select", ".bk-grid input")  # fmt: skip


def heard_by_the_notebook(page) -> str:
    """The first control in sight whose keys changed the notebook; empty where none did."""
    return page.evaluate(PRESS_EVERYWHERE)


def type_in_each_kind(page) -> dict[str, list[str]]:
    """The cells after real keys in the first control of each kind, by kind."""
    after = {}
    for kind in KINDS:
        control = page.locator(f".bk-panel {kind}").first
        if not control.is_visible() or not control.is_enabled():
            continue
        control.focus()
        page.keyboard.type("mrxaddb")
        for key in ("ArrowDown", "ArrowUp", "Delete"):
            page.keyboard.press(key)
        after[kind] = page.evaluate(CELLS)
    return after
