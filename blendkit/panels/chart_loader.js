// Fetches the script that draws charts from the one widget that holds it, once a page.
function drawing(model) {
  const loaded = (globalThis.blendkitCharts ??= {});
  return (loaded[model.get("script_mark")] ??= (async () => {
    const holder = await model.widget_manager.get_model(model.get("script_id"));
    const script = new Blob([holder.get("script")], { type: "text/javascript" });
    return import(URL.createObjectURL(script));
  })());
}

export default {
  async render(view) {
    return (await drawing(view.model)).render(view);
  },
};
