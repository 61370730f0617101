// Gives every control of the panel around it a name that a screen reader says. Jupyter's
// widgets put a tooltip on a control, or a caption next to it, but tie neither to it. And a fold
// opens at a click only, so it is made a button here, for the keyboard too.
//
// No key pressed in a panel reaches the notebook, where one letter cuts a cell. JupyterLab looks
// for its commands from the focused element upwards, so the mark must be on that very element.
const FOLD = ".jupyter-widget-Collapse-header";

function render({ el }) {
  const own = control => control.title || control.closest("[title]")?.title || "";
  // a caption within the control's own widget: that of a box of many belongs to another one
  const caption = control => {
    const widget = control.closest(".widget-inline-hbox, .jupyter-widgets");
    if (!widget || widget.matches(".widget-box")) return "";
    return widget.querySelector(".widget-label")?.textContent.trim() || "";
  };

  function name(panel) {
    for (const control of panel.querySelectorAll("input, select, textarea, .noUi-handle")) {
      if (control.labels?.length && [...control.labels].some(l => l.textContent.trim())) continue;
      const words = caption(control) || own(control) || control.placeholder || "";
      if (words) control.setAttribute("aria-label", words);
    }
    for (const button of panel.querySelectorAll("button")) {
      const words = button.textContent.trim();
      if (!own(button)) continue;
      if (words.length < 2) button.setAttribute("aria-label", own(button));
      else if (button.closest(".bk-row")) // many rows say the same
        button.setAttribute("aria-label", `${words}: ${own(button)}`);
    }
    for (const fold of panel.querySelectorAll(FOLD)) {
      const open = fold.parentElement.classList.contains("jupyter-widget-Collapse-open");
      fold.setAttribute("role", "button");
      fold.setAttribute("aria-expanded", open);
      fold.tabIndex = 0;
    }
  }

  function press(event) {
    if (!event.target.matches(FOLD) || !["Enter", " "].includes(event.key)) return;
    event.preventDefault();
    event.target.click();
  }

  const keepKeys = ({ target }) => { target.dataset.lmSuppressShortcuts = "true"; };

  let watcher, waiting;
  const frame = requestAnimationFrame(() => {
    const panel = el.closest(".bk-panel");
    if (!panel) return;
    name(panel);
    panel.onkeydown = press;
    panel.tabIndex = -1;  // a click between two controls stays in the panel too
    panel.addEventListener("focusin", keepKeys);
    watcher = new MutationObserver(() => {
      clearTimeout(waiting);
      waiting = setTimeout(() => name(panel), 400);  // never while someone drags
    });
    const said = ["title", "placeholder", "class"];  // a name changes with what it names
    watcher.observe(panel, { subtree: true, childList: true, attributeFilter: said });
  });
  return () => {
    cancelAnimationFrame(frame);
    clearTimeout(waiting);
    watcher?.disconnect();
  };
}

export default { render };
