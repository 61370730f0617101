// A JupyterLab extension without a build step. It runs all cells of a notebook when it opens,
// but only if Jupyter trusts it and its source is, by SHA-256, one that blendkit ships. Above
// any other notebook in the place of a shipped one it offers to put that back. And it makes
// room for the panels; View, Appearance brings everything back.
(() => {
  // A widget whose script takes over two seconds to load, as on a slow laptop, would get none of
  // the kernel's messages ever after, and its chart stay empty. Nothing else on the page waits so.
  const wait = AbortSignal.timeout.bind(AbortSignal);
  AbortSignal.timeout = ms => wait(ms === 2000 ? 120_000 : ms);

  const config = JSON.parse(document.getElementById("jupyter-config-data").textContent);
  const shipped = new Map(Object.entries(JSON.parse(config.blendkitShipped || "{}")));
  const marks = new Set(shipped.values());
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
    if (answer?.content?.user_expressions?.live?.data?.["text/plain"] !== "True") return false;
    // on a busy machine Jupyter gives up fetching it, and would leave an error in its place
    for (const until = Date.now() + 120_000; Date.now() < until && !panel.isDisposed;) {
      if (panel.content.node.textContent.includes("Error displaying widget")) return false;
      if (panel.content.node.querySelector(".bk-panel")) break;
      await new Promise(go => setTimeout(go, 200));
    }
    return true;
  }

  async function open(app, panel) {
    if (!panel?.sessionContext || !panel.content?.model || seen.has(panel)) return;
    seen.add(panel);
    await panel.context.ready;
    if (panel.isDisposed) return;  // a maker may close it at any of these waits
    if (!trusted(panel.content) || !marks.has(await fingerprint(panel.content)))
      return offerShipped(app, panel);
    trim(panel, true);
    await panel.sessionContext.ready;
    const kernel = panel.sessionContext.session?.kernel;
    if (!kernel || (await isLive(panel, kernel)) || panel.isDisposed) return;
    // by its id: meanwhile another notebook may be in front, and that one was not looked at
    await app.commands.execute("notebook:run-all-cells", {
      semanticWidget: panel.id, activate: false,
    });
    if (panel.isDisposed) return;
    panel.content.activeCellIndex = 0;
    (panel.content.outerNode ?? panel.content.node).scrollTop = 0;
    await panel.context.save();  // so that a page opened again finds its panel
  }

  async function putBack(app, panel) {
    if (panel.context.model.dirty) await panel.context.save();  // the copy is of all there is
    const { fetch, Request, baseUrl, init, token } = app.serviceManager.serverSettings;
    const headers = { "Content-Type": "application/json" };
    if (token) headers.Authorization = `token ${token}`;
    const xsrf = document.cookie.match(/(?:^|; )_xsrf=([^;]*)/)?.[1];
    if (xsrf) headers["X-XSRFToken"] = xsrf;
    const notebook = panel.context.path.split("/").pop();
    const post = { ...init, method: "POST", headers, body: JSON.stringify({ notebook }) };
    const answer = await fetch(new Request(`${baseUrl}blendkit/put-back`, post));
    if (!answer.ok) throw new Error((await answer.json()).message);
    await panel.context.revert();
  }

  // Words and button are outside the notebook, so nothing in it can change them.
  function offerShipped(app, panel) {
    if (panel.isDisposed || !shipped.has(panel.context.path)) return;
    const Panel = Object.getPrototypeOf(panel.contentHeader.constructor);
    const bar = new (Object.getPrototypeOf(Panel))();  // Lumino's Widget
    bar.node.className += " blendkit-bar";
    bar.node.setAttribute("role", "status");
    const words = bar.node.appendChild(document.createElement("span"));
    words.textContent = "This notebook was changed, so its panels do not open by themselves.";
    const button = bar.node.appendChild(document.createElement("button"));
    button.textContent = "Put the shipped notebook back (this one stays as a copy)";
    button.onclick = async () => {
      button.disabled = true;
      try {
        await putBack(app, panel);
        bar.dispose();
        seen.delete(panel);
        await open(app, panel);
      } catch (error) {
        words.textContent = `Not put back: ${error.message}`;
        button.disabled = false;
      }
    };
    panel.contentHeader.addWidget(bar);
  }

  const LOOK = `
    .blendkit-bar { min-height: 44px; overflow: auto; padding: 6px 12px; line-height: 32px;
      background: #fff4d6; color: #2a2521; font-family: var(--jp-ui-font-family); }
    @media (max-width: 720px) { .blendkit-bar { min-height: 108px; } }
    .blendkit-bar button { margin-left: 12px; padding: 0 12px; font: inherit; color: #fff;
      background: #2f5d62; border: 0; border-radius: 6px; cursor: pointer; }
    .blendkit-trim { --jp-notebook-padding: 6px; --jp-cell-padding: 2px; }
    .blendkit-trim :is(.jp-InputPrompt, .jp-OutputPrompt, .jp-OutputArea-promptOverlay,
      .jp-Collapser, .jp-cell-toolbar),
    .blendkit-trim .jp-CodeCell:has(.bk-panel) .jp-InputPlaceholder,
    .blendkit-trim .jp-Notebook:has(.bk-panel) [data-windowed-list-index="0"]
      p:has(> em:only-child) { display: none; }
    .blendkit-trim [data-windowed-list-index="0"] :is(h1, h1 + p) { display: inline;
      margin: 0 10px 0 0; font-size: 14px; line-height: 1.4; }
    .blendkit-trim [data-windowed-list-index="0"] h1 { font-size: 17px; font-weight: 600; }
    .blendkit-trim .jp-Notebook .jp-Cell { border: 0; }`;

  function trim(panel, on) {
    panel.node.classList.toggle("blendkit-trim", on);
    panel.toolbar.setHidden(on);
  }

  function makeRoom(app) {
    const style = document.head.appendChild(document.createElement("style"));
    style.textContent = LOOK;
    const { shell } = app;
    if (shell.mode !== "single-document" && innerWidth > 640) return;
    shell.collapseLeft?.();
    shell.collapseRight?.();
    for (const side of ["left", "right"])
      if (shell.isSideTabBarVisible?.(side)) shell.toggleSideTabBarVisibility(side);
    if (shell.isTopInSimpleModeVisible?.()) shell.toggleTopInSimpleModeVisibility();
  }

  const plugin = {
    id: "blendkit-open:plugin",
    autoStart: true,
    activate: app => {
      const trimmed = () => app.shell.currentWidget?.node.classList.contains("blendkit-trim");
      app.commands.addCommand("blendkit:whole-notebook", {
        label: "Show Notebook Toolbar and Cell Marks",
        isToggled: () => !trimmed(),
        isEnabled: () => !!app.shell.currentWidget?.sessionContext,
        execute: () => trim(app.shell.currentWidget, !trimmed()),
      });
      app.shell.currentChanged?.connect((_, change) => open(app, change.newValue));
      app.restored.then(() => {
        makeRoom(app);
        return open(app, app.shell.currentWidget);
      });
    },
  };

  window._JUPYTERLAB = window._JUPYTERLAB || {};
  window._JUPYTERLAB["blendkit-open"] = {
    init: () => {},
    get: () => Promise.resolve(() => ({ __esModule: true, default: plugin })),
  };
})();
