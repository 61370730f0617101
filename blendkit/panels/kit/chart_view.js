// Draws a chart with Vega, which comes once a page from the one widget that holds it.
const PATIENCE = 60; // seconds that a busy kernel may take to hand the holder over

async function holderOf(model) {
  for (let left = PATIENCE; ; left -= 1) {
    try {
      return await model.widget_manager.get_model(model.get("vega_id"));
    } catch (fault) {
      if (!left) throw fault;
      await new Promise((later) => setTimeout(later, 1000));
    }
  }
}

async function load(model) {
  const script = (await holderOf(model)).get("script");
  return import(URL.createObjectURL(new Blob([script], { type: "text/javascript" })));
}

async function loadOnce(model) {
  const loaded = (globalThis.blendkitVega ??= {});
  const version = model.get("vega_lite");
  try {
    return await (loaded[version] ??= load(model));
  } catch (fault) {
    delete loaded[version]; // the next chart tries again
    throw fault;
  }
}

// Words over a chart, in as many lines as its room asks for, each letter `per` pixels wide.
const folded = (words, per) => ({
  expr: `split(trim(replace(${JSON.stringify([words].flat().join("\n"))}, regexp('(.{1,' +
    floor(room / ${per}) + '})(?: |$)', 'gm'), '$1\\n')), regexp('\\n+'))`,
});

const longest = rows => rows.flatMap(Object.values)
  .reduce((most, value) => Math.max(most, typeof value === "string" ? value.length : 0), 0);

async function render({ model, el }) {
  const { vegaEmbed } = await loadOnce(model);
  const figure = document.createElement("div");
  figure.className = "bk-chart";
  const host = document.createElement("div");
  host.style.width = "100%";
  host.setAttribute("role", "img");
  const relabel = () => host.setAttribute("aria-label", model.get("label"));
  relabel();
  // Vega takes axes without rows for a mistake, so nothing is drawn before there are some
  const nothing = document.createElement("p");
  nothing.className = "bk-faint";
  nothing.textContent = "Nothing to draw yet.";
  figure.append(host, nothing);
  el.append(figure);

  const [name] = Object.keys(model.get("spec").datasets);
  let width = 0, room = 0;  // of the chart in pixels; of its longest words in letters
  let drawing;  // begun with the first rows; legends need them from the start
  const send = view => {
    for (const [key, value] of Object.entries(model.get("signals"))) view.signal(key, value);
    return view.runAsync();
  };
  const resend = async () => drawing && send((await drawing).view);
  const draw = async rows => {
    const spec = structuredClone(model.get("spec"));
    spec.datasets = { [name]: rows };
    const { text, subtitle } = spec.title;
    Object.assign(spec.title, { text: folded(text, 9.5), subtitle: folded(subtitle, 7.7) });
    const shown = await vegaEmbed(host, spec, {
      actions: false,
      renderer: "svg",
      tooltip: { theme: "light" },
    });
    await send(shown.view);
    relabel();  // Vega calls every chart "Vega visualization"
    nothing.before(keeper(shown.view, text));
    return shown;
  };
  const redraw = async () => {
    const rows = model.get("rows");
    figure.classList.toggle("bk-empty", !rows.length);
    if (!rows.length) return;
    const first = !drawing;
    const shown = await (drawing ??= draw(rows));
    const now = model.get("rows");
    const words = longest(now);
    if (now.length && !(first && now === rows)) {
      shown.view.data(name, now);
      if (words > room) shown.view.resize();  // longer names need more room left of the bars
      await shown.view.runAsync();
    }
    room = Math.max(room, words);
    await fit();
  };
  // Vega's own "container" width is 0 when a cell draws before it is laid out
  const fit = async () => {
    if (drawing && host.clientWidth && host.clientWidth !== width) {
      width = host.clientWidth;
      await (await drawing).view.signal("room", width).width(width).runAsync();
    }
  };
  const watcher = new ResizeObserver(fit);
  watcher.observe(host);
  model.on("change:rows", redraw);
  model.on("change:label", relabel);
  model.on("change:signals", resend);
  if (model.get("spec").usermeta?.picks) takePicks(host, model);
  await redraw();
  return async () => {
    model.off("change:rows", redraw);
    model.off("change:label", relabel);
    model.off("change:signals", resend);
    watcher.disconnect();
    (await drawing)?.finalize();
  };
}

// Tells the kernel the mark under a press or a drag, by the `pick` of its row. What is drawn over
// it is passed by, and a finger is followed wherever it goes.
function takePicks(host, model) {
  host.style.touchAction = "none";
  const pick = ({ buttons, clientX, clientY }) => {
    if (!buttons) return;
    const under = document.elementsFromPoint(clientX, clientY);
    const found = under.map(e => e.__data__?.datum?.pick).find(one => one !== undefined);
    if (found === undefined || found === model.get("picked")) return;
    model.set("picked", found);
    model.save_changes();
  };
  for (const kind of ["pointerdown", "pointermove"]) host.addEventListener(kind, pick);
}

// Buttons that put the picture among the downloads, drawn here and without the network.
function keeper(view, title) {
  const line = document.createElement("div");
  line.className = "bk-keep-picture";
  for (const kind of ["png", "svg"]) {
    const button = document.createElement("button");
    button.textContent = kind === "png" ? "Keep this picture" : "as a drawing (SVG)";
    button.title = `${title}: into your downloads, as ${kind.toUpperCase()}`;
    button.addEventListener("click", async () => {
      const link = document.createElement("a");
      link.href = await view.toImageURL(kind, 2);
      link.download = `${title.toLowerCase().replace(/[^a-z0-9]+/g, "-")}.${kind}`;
      link.click();
    });
    line.append(button);
  }
  return line;
}

export default { render };
