// Fetches the script that draws charts from the one widget that holds it, once a page.
const PATIENCE = 60; // seconds that a busy kernel may take to hand the holder over

async function holderOf(model) {
  for (let left = PATIENCE; ; left -= 1) {
    try {
      return await model.widget_manager.get_model(model.get("script_id"));
    } catch (fault) {
      if (!left) throw fault;
      await new Promise((later) => setTimeout(later, 1000));
    }
  }
}

async function fetched(model) {
  const script = (await holderOf(model)).get("script");
  return import(URL.createObjectURL(new Blob([script], { type: "text/javascript" })));
}

async function drawing(model) {
  const loaded = (globalThis.blendkitCharts ??= {});
  const mark = model.get("script_mark");
  try {
    return await (loaded[mark] ??= fetched(model));
  } catch (fault) {
    delete loaded[mark]; // the next chart tries again
    throw fault;
  }
}

export default {
  async render(view) {
    return (await drawing(view.model)).render(view);
  },
};
