function render({ model, el }) {
  const button = document.createElement("button");
  button.className = "jupyter-button widget-button lm-Widget jupyter-widgets";
  button.style.width = "auto";
  const name = () => {
    button.title = model.get("warning");
    button.textContent = (button.title ? "⚠ " : "") + model.get("label");
  };
  name();
  model.on("change:warning", name);
  const frame = document.createElement("iframe");
  frame.title = model.get("label");
  frame.style.cssText = "position:fixed;width:0;height:0;border:0;visibility:hidden";
  button.addEventListener("click", () => model.send({ wish: "page" }));
  const print = message => {
    frame.onload = () => { frame.contentWindow.focus(); frame.contentWindow.print(); };
    frame.srcdoc = message.page;
  };
  model.on("msg:custom", print);
  el.append(button, frame);
  return () => { model.off("msg:custom", print); model.off("change:warning", name); };
}
export default { render };
