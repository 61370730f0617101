function render({ model, el }) {
  const list = document.createElement("ul");
  list.className = "bk-findings";
  el.append(list);
  const config = document.getElementById("jupyter-config-data");
  const base = config ? JSON.parse(config.textContent).baseUrl : "/";
  const draw = () => list.replaceChildren(...model.get("files").map(file => {
    const item = document.createElement("li");
    const link = document.createElement("a");
    link.href = base + "files/" + file.path.split("/").map(encodeURIComponent).join("/");
    link.target = "_blank";
    link.rel = "noopener";
    link.textContent = file.name;
    link.style.cssText = "color: inherit; font-size: 15px;";
    item.append(link, ` · ${file.size}`);
    return item;
  }));
  model.on("change:files", draw);
  draw();
  return () => model.off("change:files", draw);
}
export default { render };
