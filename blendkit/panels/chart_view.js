// `vegaEmbed` is put in scope by the bundler.
async function render({ model, el }) {
  const host = document.createElement("div");
  host.style.width = "100%";
  host.setAttribute("role", "img");
  host.setAttribute("aria-label", model.get("label"));
  el.appendChild(host);

  const name = model.get("data_name");
  const spec = structuredClone(model.get("spec"));
  spec.datasets = { [name]: model.get("rows") };  // legends need rows from the start
  const shown = await vegaEmbed(host, spec, {
    actions: { export: true, source: false, compiled: false, editor: false },
    renderer: "svg",
    tooltip: { theme: "light" },
  });

  // Vega's own "container" width is 0 when a cell draws before it is laid out
  const fit = () => host.clientWidth && shown.view.width(host.clientWidth).runAsync();
  const watcher = new ResizeObserver(fit);
  watcher.observe(host);

  const redraw = () => shown.view.data(name, model.get("rows")).runAsync();
  model.on("change:rows", redraw);
  model.on("change:label", () => host.setAttribute("aria-label", model.get("label")));
  return () => {
    model.off("change:rows", redraw);
    watcher.disconnect();
    shown.finalize();
  };
}

export default { render };
