"""Keys pressed in a panel, and whether the notebook around it heard them."""

from __future__ import annotations

# Every control in sight takes every key that is a command of a notebook: change the kind of a
# cell, cut, add, delete, move on, run. The page is asked after a few controls at a time.
PRESS_EVERYWHERE = """async cell => {
  const code = key => key.toUpperCase().charCodeAt();
  const letters = [...'mrxaddby'].map(key => ({ key, keyCode: code(key) }));
  const others = { ArrowUp: 38, ArrowDown: 40, ArrowLeft: 37, ArrowRight: 39, Delete: 46,
                   Enter: 13 };
  const named = Object.entries(others).map(([key, keyCode]) => ({ key, keyCode }));
  const run = [{ key: 'Enter', keyCode: 13, shiftKey: true },
               { key: 'Enter', keyCode: 13, ctrlKey: true },
               { key: 'Enter', keyCode: 13, altKey: true },  // a fold is as it was again
               { key: 'Backspace', keyCode: 8, ctrlKey: true }];
  // JupyterLab carries a command out a moment later
  const pause = () => new Promise(go => setTimeout(go, 20));
  const kinds = 'a[href], button, input, select, textarea, summary, [tabindex]';
  const state = () => [...document.querySelectorAll('.jp-Notebook .jp-Cell')].map(cell =>
    [...cell.classList].filter(name => /-(Code|Markdown|Raw)Cell$|-mod-active$/.test(name)) +
    cell.querySelectorAll('.bk-panel').length).join();
  // arrows on a tab may show another one
  const last = control => control.matches('.lm-TabBar-tab');
  const pressed = (globalThis.controlsPressed ??= new WeakSet());  // in another view
  const controls = [...cell.querySelectorAll(`.bk-panel, .bk-panel :is(${kinds})`)]
    .filter(control => !control.closest('.bk-grid tbody tr:nth-child(n+3)'))  // like the second
    .filter(control => !pressed.has(control))
    .sort((one, other) => last(one) - last(other));
  while (controls.length) {
    const some = controls.splice(0, 8).filter(control => {
      control.focus();
      return document.activeElement === control;
    });
    await pause();
    const before = state();
    for (const control of some) {
      // an arrow moves a slider, which the kernel answers; one slider is pressed by real keys
      const all = control.matches('.noUi-handle') ? letters : [...letters, ...named, ...run];
      for (const key of all) {
        control.focus();
        const press = { ...key, bubbles: true, cancelable: true };
        control.dispatchEvent(new KeyboardEvent('keydown', press));
        control.dispatchEvent(new KeyboardEvent('keyup', press));
      }
      pressed.add(control);
    }
    await pause();
    if (state() !== before)
      return [`one of ${some.map(control => control.outerHTML.slice(0, 80))}: ` +
        `${before} became ${state()}`];
  }
  return [];
}"""
CELLS = """() => [...document.querySelectorAll('.jp-Notebook .jp-Cell')].map(cell =>
  [...cell.classList].find(name => /-(Code|Markdown|Raw)Cell$/.test(name))
  + cell.querySelectorAll('.bk-panel').length)"""
# One of each kind, for keys pressed as a person does
KINDS = ("select", "button.jupyter-button", "input[type=checkbox]", ".noUi-handle",
         "input[type=text]", "textarea", ".jupyter-widget-Collapse-header", ".lm-TabBar-tab",
         ".widget-toggle-button", "a[href]", ".bk-grid select", ".bk-grid input")  # fmt: skip


def cells(page) -> list[str]:
    """The kind of each cell of the notebook, and its number of panels."""
    return page.evaluate(CELLS)


def heard_by_the_notebook(cell) -> list[str]:
    """The first controls in sight in a cell whose keys changed the notebook, if any did."""
    return cell.evaluate(PRESS_EVERYWHERE)


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
        page.wait_for_timeout(50)
        after[kind] = cells(page)
    return after
