// A JupyterLab extension without a build step. It runs all cells of a notebook when it opens,
// but only if Jupyter trusts it and its source is, by SHA-256, one that blendkit ships.
(() => {
  // A widget whose script takes over two seconds to load, as on a slow laptop, would get none of
  // the kernel's messages ever after, and its chart stay empty. Nothing else on the page waits so.
  const wait = AbortSignal.timeout.bind(AbortSignal);
  AbortSignal.timeout = ms => wait(ms === 2000 ? 120_000 : ms);

  const config = JSON.parse(document.getElementById("jupyter-config-data").textContent);
  const shipped = new Set((config.blendkitShipped || "").split(" ").filter(Boolean));
  const seen = new WeakSet();

  async function fingerprint(notebook) {
    const cells = notebook.model.sharedModel.cells.map(cell => [cell.cell_type, cell.getSource()]);
    const bytes = new TextEncoder().encode(JSON.stringify(cells));
    const digest = await crypto.subtle.digest("SHA-256", bytes);
    return [...new Uint8Array(digest)].map(byte => byte.toString(16).padStart(2, "0")).join("");
  }

  const trusted = notebook =>
    notebook.widgets.every(cell => cell.model.type !== "code" || cell.model.trusted);

  // a worked number that ships with the notebook is an output too, but no panel
  function showsPanel(cell) {
    const outputs = cell.model.outputs;
    for (let place = 0; place < (outputs?.length ?? 0); place++) {
      if ("application/vnd.jupyter.widget-view+json" in outputs.get(place).data) return true;
    }
    return false;
  }

  // A page opened again on a living kernel still shows its panel, with what the maker had typed:
  // running the cells anew would throw that away.
  async function isLive(panel, kernel) {
    if (!panel.content.widgets.some(showsPanel)) return false;
    const expression = "'blendkit.panels' in __import__('sys').modules";
    const asked = kernel.requestExecute({
      code: "", silent: true, store_history: false, user_expressions: { live: expression },
    });
    const answer = await asked.done;
    return answer?.content?.user_expressions?.live?.data?.["text/plain"] === "True";
  }

  async function open(app, panel) {
    if (!panel?.sessionContext || !panel.content?.model || seen.has(panel)) return;
    seen.add(panel);
    await panel.context.ready;
    if (!trusted(panel.content) || !shipped.has(await fingerprint(panel.content))) return;
    app.shell.collapseLeft?.();
    await panel.sessionContext.ready;
    const kernel = panel.sessionContext.session?.kernel;
    if (!kernel || (await isLive(panel, kernel))) return;
    await app.commands.execute("notebook:run-all-cells");
    await panel.context.save();  // so that a page opened again finds its panel
    panel.content.activeCellIndex = 0;
    (panel.content.outerNode ?? panel.content.node).scrollTop = 0;
  }

  const plugin = {
    id: "blendkit-open:plugin",
    autoStart: true,
    activate: app => {
      app.shell.currentChanged?.connect((_, change) => open(app, change.newValue));
      app.restored.then(() => open(app, app.shell.currentWidget));
    },
  };

  window._JUPYTERLAB = window._JUPYTERLAB || {};
  window._JUPYTERLAB["blendkit-open"] = {
    init: () => {},
    get: () => Promise.resolve(() => ({ __esModule: true, default: plugin })),
  };
})();
