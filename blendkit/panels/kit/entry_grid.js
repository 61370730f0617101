// A grid to type in: one row a seat, one column a thing to enter. All text goes in as text.
function render({ model, el }) {
  const table = document.createElement("table");
  table.className = "bk-grid";
  const box = document.createElement("div");
  box.className = "bk-grid-box";
  box.append(table);
  el.append(box);
  let own = false;  // a change made here has been drawn by the person who typed it

  const field = (row, column) => table.querySelector(`[data-cell="${row} ${column}"]`);

  function set(row, key, value) {
    const rows = model.get("rows").map(one => ({ ...one }));
    if (!rows[row] || rows[row][key] === value) return;
    rows[row][key] = value;
    own = true;
    model.set("rows", rows);
    model.save_changes();
    own = false;
  }

  function choice(column, value) {
    const select = document.createElement("select");
    const known = column.choices.some(([, id]) => id === value);
    for (const [label, id] of known ? column.choices : [...column.choices, [value, value]])
      select.add(new Option(label, id, false, id === value));
    return select;
  }

  function text(column, value) {
    const input = document.createElement("input");
    input.type = "text";
    input.value = value;
    if (column.number) input.inputMode = "numeric";
    return input;
  }

  function draw() {
    const columns = model.get("columns");
    table.replaceChildren();
    const caption = table.createCaption();
    caption.textContent = model.get("label");
    const head = table.createTHead().insertRow();
    for (const column of [{ label: "No." }, ...columns]) {
      const cell = document.createElement("th");
      cell.scope = "col";
      const words = document.createElement("span");
      words.textContent = column.label;
      cell.append(words);
      cell.title = column.label;
      if (column.number) cell.className = column.turned ? "bk-turned" : "bk-narrow";
      head.append(cell);
    }
    const body = table.createTBody();
    model.get("rows").forEach((row, number) => {
      const line = body.insertRow();
      const name = document.createElement("th");
      name.scope = "row";
      name.textContent = number + 1;
      line.append(name);
      columns.forEach((column, place) => {
        const value = row[column.key] ?? "";
        if (column.fixed) { line.insertCell().textContent = value; return; }
        const entry = column.choices ? choice(column, value) : text(column, value);
        entry.style.width = column.width;
        entry.dataset.cell = `${number} ${place}`;
        entry.setAttribute("aria-label", `${column.label}, row ${number + 1}`);
        entry.addEventListener("change", () => set(number, column.key, entry.value));
        line.insertCell().append(entry);
      });
    });
  }

  // Enter and the arrows go to the neighbour below or above, as in a spreadsheet
  table.addEventListener("keydown", event => {
    const step = { Enter: 1, ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (!step || !event.target.dataset.cell) return;
    if (event.target.tagName === "SELECT" && event.key !== "Enter") return;
    const [row, column] = event.target.dataset.cell.split(" ").map(Number);
    const next = field(row + step, column);
    event.preventDefault();
    if (next) { next.focus(); next.select?.(); } else event.target.blur();
  });
  table.addEventListener("paste", event => {
    const pasted = event.clipboardData.getData("text").replace(/\r?\n$/, "");
    if (!event.target.dataset.cell || !/[\t\n]/.test(pasted)) return;
    event.preventDefault();
    const [row, column] = event.target.dataset.cell.split(" ").map(Number);
    const columns = model.get("columns");
    const rows = model.get("rows").map(one => ({ ...one }));
    pasted.split(/\r?\n/).forEach((line, down) =>
      line.split("\t").forEach((value, right) => {
        const target = columns[column + right];
        if (rows[row + down] && target && !target.choices)
          rows[row + down][target.key] = value.trim();
      }));
    model.set("rows", rows);
    model.save_changes();
  });

  const redraw = () => { if (!own) draw(); };
  model.on("change:rows", redraw);
  model.on("change:columns", draw);
  draw();
  return () => {
    model.off("change:rows", redraw);
    model.off("change:columns", draw);
  };
}
export default { render };
