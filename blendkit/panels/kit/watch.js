// Tells the kernel what happens to the panel around this: that it is looked at, so that it shows
// what other notebooks wrote; and each press and its release, so that all that one press changes
// is one step to undo. Listening comes before a control's own, so a press is known before what
// it changes. What was typed and not sent yet is its box's own, Ctrl+Z included.
const EVERY = 500, LOST = 5000;  // ms between two looks; after which no answer will come

function render({ model, el }) {
  const page = Math.random().toString(36).slice(2);
  const stop = new AbortController();
  const unsent = new WeakSet();
  let presses = 0, isHeld = false, isShown = false, asked = 0, timer;

  const tell = (kind, more = {}) => model.send({ kind, ...more });
  const press = () => {
    isHeld = true;
    tell("press", { press: `${page}-${++presses}` });
  };
  const release = () => {
    if (isHeld) tell("release");
    isHeld = false;
  };
  const stroke = () => {
    press();
    release();
  };

  function look() {
    clearTimeout(timer);
    if (stop.signal.aborted || !isShown || document.visibilityState !== "visible") return;
    timer = setTimeout(look, LOST);
    if (asked && Date.now() - asked < LOST) return;
    asked = Date.now();
    tell("look");
  }

  function key(event) {
    const isUndo = (event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "z";
    if (isUndo && !unsent.has(event.target)) {
      event.preventDefault();
      event.stopPropagation();
      tell(event.shiftKey ? "redo" : "undo");
    } else if (!event.repeat) press();
  }

  function typed({ target, type }) {
    if (!target.matches("input[type=text], input[type=number], textarea")) {
      if (target.matches("select") && type === "change") stroke();  // its list is no element
    } else if (type === "input") unsent.add(target);
    else {
      unsent.delete(target);
      if (type === "change") stroke();  // leaving a box is not what the same press does next
    }
  }

  model.on("msg:custom", message => {
    if (!message.looked || stop.signal.aborted) return;
    asked = 0;
    clearTimeout(timer);
    timer = setTimeout(look, EVERY);
  });
  const watcher = new IntersectionObserver(entries => {
    isShown = entries.at(-1).isIntersecting;
    look();
  });
  const frame = requestAnimationFrame(() => {
    const panel = el.closest(".bk-panel");
    if (!panel) return;
    const options = { capture: true, signal: stop.signal };
    panel.addEventListener("pointerdown", press, options);
    panel.addEventListener("click", e => e.target.closest("button") && stroke(), options);
    panel.addEventListener("keydown", key, options);
    for (const kind of ["input", "change", "focusout"]) panel.addEventListener(kind, typed, options);
    for (const kind of ["pointerup", "pointercancel", "keyup", "blur"])
      window.addEventListener(kind, release, options);
    document.addEventListener("visibilitychange", look, options);
    window.addEventListener("focus", look, options);
    watcher.observe(panel);
  });
  return () => {
    cancelAnimationFrame(frame);
    clearTimeout(timer);
    watcher.disconnect();
    stop.abort();
  };
}

export default { render };
