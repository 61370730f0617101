// `vegaEmbed` is put in scope by the bundler; `chart_loader.js` calls `render`.
async function render({ model, el }) {
  const figure = document.createElement("div");
  figure.className = "bk-chart";
  const host = document.createElement("div");
  host.style.width = "100%";
  host.setAttribute("role", "img");
  host.setAttribute("aria-label", model.get("label"));
  figure.append(host);
  el.append(figure);

  const name = model.get("data_name");
  const spec = structuredClone(model.get("spec"));
  spec.datasets = { [name]: model.get("rows") };  // legends need rows from the start
  const shown = await vegaEmbed(host, spec, {
    actions: false,
    renderer: "svg",
    tooltip: { theme: "light" },
  });
  figure.append(keeper(shown.view, spec.title?.text ?? "chart"));

  // Vega's own "container" width is 0 when a cell draws before it is laid out
  let width = 0;
  const fit = () => {
    if (host.clientWidth && host.clientWidth !== width) {
      width = host.clientWidth;
      shown.view.width(width).runAsync();
    }
  };
  const watcher = new ResizeObserver(fit);
  watcher.observe(host);

  const redraw = () => shown.view.data(name, model.get("rows")).runAsync();
  const relabel = () => host.setAttribute("aria-label", model.get("label"));
  model.on("change:rows", redraw);
  model.on("change:label", relabel);
  return () => {
    model.off("change:rows", redraw);
    model.off("change:label", relabel);
    watcher.disconnect();
    shown.finalize();
  };
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

export { render };
