// The page of ratio and fade: reads the sliders, shows what the film's arithmetic says.
"use strict";

(() => {
  const read = (id) => JSON.parse(document.getElementById(id).textContent);
  const { figures, oils, carriers, bottles, words, language, noteNames, look } = read("page-data");
  const normal = film.draws(figures);
  const by = (id) => document.getElementById(id);
  const number = (value, digits = 3) =>
    value.toLocaleString(language, { maximumSignificantDigits: digits, useGrouping: false });
  const say = (key, values = {}) =>
    words[key].replace(/\{(\w+)\}/g, (_, name) => String(values[name]));
  const counted = (n, noun) => (n === 1 ? say(`${noun}_one`) : say(`${noun}_many`, { n }));
  const make = (tag, text, parent, attributes = {}) => {
    const made = document.createElement(tag);
    made.textContent = text;
    for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
    parent.append(made);
    return made;
  };
  const sliders = oils.map((_, o) => by(`oil-${o}`));

  function bottle() {
    return bottles[Number(by("bottle").value)];
  }

  function setBottle() {
    const most = bottle().totalDrops;
    const total = by("total");
    const share = Number(total.value) / Number(total.max);
    total.max = most;
    total.value = Math.max(1, Math.round(share * most));
  }

  function brokenBy(card, drops) {
    const told = [];
    let suns = 0;
    drops.forEach((n, o) => {
      suns += n * card.suns[o];
      if (n > card.caps[o])
        told.push(say("ratio_over_oil", { name: oils[o].name, n: counted(n, "drop"), most: card.caps[o] }));
    });
    const total = drops.reduce((a, b) => a + b, 0);
    if (total > card.total)
      told.push(say("ratio_over_all", { n: counted(total, "drop"), most: card.total }));
    if (suns > card.mostSuns)
      told.push(say("ratio_over_suns", { n: counted(suns, "sun"), most: card.mostSuns }));
    return { told, suns };
  }

  function showCard(here, drops) {
    const line = by("verdict");
    line.replaceChildren();
    line.className = "verdict";
    const size = number(here.ml);
    if (!here.card) {
      line.classList.add("over");
      line.textContent = say("ratio_no_card", { bottle: size });
      return;
    }
    const { told, suns } = brokenBy(here.card, drops);
    line.dataset.broken = told.length;
    by("suns").textContent = here.card.mostSuns
      ? "☀ " + say("ratio_suns_used", { n: suns, most: counted(here.card.mostSuns, "sun") }) : "";
    if (!told.length) {
      line.textContent = "✓ " + say("ratio_within", { bottle: size });
      return;
    }
    line.classList.add("over");
    make("b", "✗ " + say("ratio_over", { bottle: size }), line);
    const list = make("ul", "", line);
    for (const text of told) make("li", text, list);
  }

  function showStrength(here, drops) {
    const carrier = figures.carriers[Number(by("carrier").value)];
    let volume = 0;
    let mass = 0;
    drops.forEach((n, o) => {
      volume += n / oils[o].perCubicMetre;
      mass += (n / oils[o].perCubicMetre) * oils[o].density;
    });
    const total = drops.reduce((a, b) => a + b, 0);
    const filled = Math.max(here.liquid, volume);
    const whole = mass + (filled - volume) * carrier.density;
    const found = {
      drops: (total / (filled * 1e6 * here.perMl)) * 100,
      volume: (volume / filled) * 100,
      mass: (mass / whole) * 100,
    };
    const line = by("strengths");
    line.textContent = say("ratio_strengths", {
      drops: number(found.drops), volume: number(found.volume), mass: number(found.mass),
    });
    Object.assign(line.dataset, found);
    by("total-words").textContent = `${counted(total, "drop")} · ${number(found.drops)} %`;
  }

  // --- the fade --------------------------------------------------------------------------

  const WIDE = 360;
  const HIGH = 190;
  const EDGE = { left: 34, right: 8, top: 8, bottom: 22 };
  const last = figures.hours[figures.hours.length - 1];
  const SVG = "http://www.w3.org/2000/svg";
  const svg = (tag, parent, attributes, text = "") => {
    const made = document.createElementNS(SVG, tag);
    for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
    if (text) made.textContent = text;
    parent.append(made);
    return made;
  };

  function draw(found) {
    const chart = by("chart");
    chart.replaceChildren();
    const notes = Object.keys(found.strength);
    const tallest = Math.max(1, ...notes.map((note) => Math.max(...found.band[note][1])));
    const top = Math.min(Math.ceil(tallest * 2) / 2, 4);
    const x = (hour) => EDGE.left + (hour / last) * (WIDE - EDGE.left - EDGE.right);
    const y = (value) =>
      EDGE.top + (1 - Math.min(value, top) / top) * (HIGH - EDGE.top - EDGE.bottom);
    const text = { "font-size": 11, fill: look.faint };
    for (let value = 0; value <= top + 1e-9; value += 0.5) {
      svg("line", chart, { x1: EDGE.left, x2: WIDE - EDGE.right, y1: y(value), y2: y(value),
        stroke: look.rule, "stroke-width": value === 1 ? 1.6 : 0.6 });
      svg("text", chart, { ...text, x: EDGE.left - 4, y: y(value) + 4, "text-anchor": "end" },
        number(value * 100));
    }
    for (let hour = 0; hour <= last; hour += 2)
      svg("text", chart, { ...text, x: x(hour), y: HIGH - 7, "text-anchor": "middle" }, number(hour));
    const path = (values) =>
      Array.from(values, (value, k) => `${x(figures.hours[k]).toFixed(1)},${y(value).toFixed(1)}`);
    for (const note of notes) {
      const [low, high] = found.band[note];
      const around = [...path(high), ...path(low).reverse()].join(" ");
      svg("polygon", chart, { points: around, fill: look.notes[note], "fill-opacity": 0.28 });
    }
    for (const note of notes) {
      const points = path(found.strength[note]).join(" ");
      const line = { points, fill: "none", "stroke-linejoin": "round" };
      // the top note's colour is pale, so it lies on a dark line; its dashes tell it apart in grey
      if (note === "top") svg("polyline", chart, { ...line, stroke: look.ink, "stroke-width": 4 });
      svg("polyline", chart, { ...line, stroke: look.notes[note], "stroke-width": 2.6,
        "stroke-dasharray": note === "top" ? "7 3" : "" });
    }
    labels(chart, notes, found, x, y);
  }

  // Names beside their lines, kept from lying on one another.
  function labels(chart, notes, found, x, y) {
    const at = figures.hours.findIndex((hour) => hour >= last * 0.55);
    const spots = notes.map((note) => ({ note, y: y(found.strength[note][at]) - 9 }));
    spots.sort((a, b) => a.y - b.y);
    spots.forEach((spot, i) => {
      if (i) spot.y = Math.max(spot.y, spots[i - 1].y + 14);
      spot.y = Math.min(spot.y, HIGH - EDGE.bottom - 4 - 14 * (spots.length - 1 - i));
    });
    for (const spot of spots)
      svg("text", chart, { x: x(figures.hours[at]), y: spot.y, "font-size": 12, "font-weight": 600,
        fill: look.ink, stroke: "#fff", "stroke-width": 3, "paint-order": "stroke" },
        noteNames[spot.note]);
  }

  function half(values) {
    for (let k = 1; k < values.length; k++)
      if (values[k] <= 0.5) {
        const [a, b] = [figures.hours[k - 1], figures.hours[k]];
        return a + ((values[k - 1] - 0.5) / (values[k - 1] - values[k])) * (b - a);
      }
    return null;
  }

  function showFade(found) {
    const list = by("halves");
    list.replaceChildren();
    const hours = (value) => value === null ? say("fade_longer", { hours: number(last) })
      : value < 1 ? `${number(value * 60, 2)} min` : `${number(value, 2)} h`;
    for (const note of ["top", "middle", "base"]) {
      if (!found.strength[note]) continue;
      const [low, high] = found.band[note];
      const until = half(found.strength[note]);
      const line = make("li", say(until === null ? "fade_above" : "fade_half", {
        note: noteNames[note], hours: hours(until),
        low: hours(half(low)), high: hours(half(high)),
      }), list);
      line.dataset.note = note;
      line.dataset.strength = Array.from(found.strength[note], (v) => v.toPrecision(6)).join(" ");
      line.dataset.low = Array.from(low, (v) => v.toPrecision(6)).join(" ");
      line.dataset.high = Array.from(high, (v) => v.toPrecision(6)).join(" ");
    }
  }

  function update() {
    const begun = performance.now();
    const here = bottle();
    const parts = sliders.map((slider) => Number(slider.value));
    const total = Number(by("total").value);
    const drops = film.wholeDrops(parts, total);
    const any = drops.some((n) => n > 0);
    drops.forEach((n, o) => {
      by(`parts-${o}`).textContent = parts[o];
      const out = by(`drops-${o}`);
      out.textContent = n;
      out.dataset.value = n;
      out.closest(".oil").classList.toggle("none", parts[o] === 0);
    });
    by("nothing").hidden = any;
    by("results").hidden = !any;
    by("few").hidden = !parts.some((part, o) => part > 0 && drops[o] === 0) || !any;
    if (any) {
      showStrength(here, drops);
      showCard(here, drops);
      const made = film.make(figures, oils, Number(by("carrier").value), drops, here.liquid);
      const found = film.fade(figures, made, normal);
      draw(found);
      showFade(found);
    }
    by("page").dataset.milliseconds = (performance.now() - begun).toFixed(1);
    by("page").dataset.updates = Number(by("page").dataset.updates || 0) + 1;
  }

  let waiting = false;
  function soon() {
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(() => {
      waiting = false;
      update();
    });
  }

  for (const control of [...sliders, by("total"), by("carrier")])
    control.addEventListener("input", soon);
  by("bottle").addEventListener("input", () => {
    setBottle();
    soon();
  });
  update();
})();
