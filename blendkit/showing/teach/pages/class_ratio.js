// The page of ratio and fade: reads the sliders and shows the drops, the card and the fade.
"use strict";

const by = (id) => document.getElementById(id);
const { figures, oils, notes, carriers, bottles, words, language, noteNames, look } =
  JSON.parse(by("page-data").textContent);
unpackDraws(figures);

const number = (value, digits = 3) =>
  value.toLocaleString(language, { maximumSignificantDigits: digits, useGrouping: false });
const say = (key, values = {}) =>
  words[key].replace(/\{(\w+)\}/g, (_, name) => String(values[name]));
const counted = (n, noun) => (n === 1 ? say(`${noun}_one`) : say(`${noun}_many`, { n }));
const append = (parent, made, text, attributes = {}) => {
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  made.textContent = text;
  parent.append(made);
};
const html = (parent, tag, text) => append(parent, document.createElement(tag), text);
const svg = (tag, attributes, text = "") =>
  append(by("chart"), document.createElementNS("http://www.w3.org/2000/svg", tag), text, attributes);

// Everything that follows from the controls as they are set.
function currentMix() {
  const parts = oils.map((_, o) => Number(by(`oil-${o}`).value));
  const bottle = bottles[Number(by("bottle").value)];
  const carrier = carriers[Number(by("carrier").value)];
  const drops = dropsByNote(oils, notes, parts, Number(by("total").value));
  const volumes = oils.map((oil, o) => drops[o] / oil.dropsPerM3);
  const masses = oils.map((oil, o) => volumes[o] * oil.density);
  const [total, volume, mass] = [sum(drops), sum(volumes), sum(masses)];
  const filled = Math.max(bottle.liquid, volume);
  const carrierMass = (filled - volume) * carrier.density;
  return {
    parts, bottle, carrier, drops, masses, carrierMass, total,
    strengths: {
      drops: total / (filled * bottle.dropsPerM3),
      volume: volume / filled,
      mass: mass / (mass + carrierMass),
    },
  };
}

// Each way in which drops break the card of a bottle, in words.
function brokenBy(card, drops, suns) {
  const broken = [];
  drops.forEach((n, o) => {
    if (n > card.caps[o])
      broken.push(say("ratio_over_oil", { name: oils[o].name, n: counted(n, "drop"), most: card.caps[o] }));
  });
  if (sum(drops) > card.total)
    broken.push(say("ratio_over_all", { n: counted(sum(drops), "drop"), most: card.total }));
  if (suns > card.mostSuns)
    broken.push(say("ratio_over_suns", { n: counted(suns, "sun"), most: card.mostSuns }));
  return broken;
}

function showCard({ bottle, drops }) {
  const { card } = bottle;
  const suns = card ? sum(drops.map((n, o) => n * card.suns[o])) : 0;
  const broken = card ? brokenBy(card, drops, suns) : [];
  const over = !card || broken.length > 0;
  const key = !card ? "ratio_no_card" : over ? "ratio_over" : "ratio_within";
  const line = by("verdict");
  line.classList.toggle("over", over);
  line.textContent = `${over ? "✗" : "✓"} ${say(key, { bottle: number(bottle.ml) })}`;
  if (broken.length) {
    const list = document.createElement("ul");
    for (const text of broken) html(list, "li", text);
    line.append(list);
  }
  by("suns").textContent = card?.mostSuns
    ? `☀ ${say("ratio_suns_used", { n: suns, most: counted(card.mostSuns, "sun") })}` : "";
}

function showDrops({ parts, drops, strengths, total }) {
  drops.forEach((n, o) => {
    by(`parts-${o}`).textContent = parts[o];
    by(`drops-${o}`).textContent = n;
    by(`oil-${o}`).closest(".oil").classList.toggle("none", !parts[o]);
  });
  by("few").hidden = !drops.some((n, o) => parts[o] && !n);
  const percent = Object.fromEntries(
    Object.entries(strengths).map(([basis, share]) => [basis, number(share * 100)]));
  by("strengths").textContent = say("ratio_strengths", percent);
  by("total-words").textContent = `${counted(total, "drop")} · ${percent.drops} %`;
}

// --- the fade ------------------------------------------------------------------------------

const WIDE = 360;
const HIGH = 190;
const EDGE = { left: 34, right: 8, top: 8, bottom: 22 };
const { hours } = figures;
const last = hours[hours.length - 1];

function drawFade(found) {
  by("chart").replaceChildren();
  const shown = Object.keys(found);
  const tallest = Math.max(1, ...shown.flatMap((note) => found[note].high));
  const top = Math.min(Math.ceil(tallest * 2) / 2, 4);
  const x = (hour) => EDGE.left + (hour / last) * (WIDE - EDGE.left - EDGE.right);
  const y = (value) =>
    EDGE.top + (1 - Math.min(value, top) / top) * (HIGH - EDGE.top - EDGE.bottom);
  const tick = { "font-size": 11, fill: look.faint };
  for (let value = 0; value <= top; value += 0.5) {
    svg("line", { x1: EDGE.left, x2: WIDE - EDGE.right, y1: y(value), y2: y(value),
      stroke: look.rule, "stroke-width": value === 1 ? 1.6 : 0.6 });
    svg("text", { ...tick, x: EDGE.left - 4, y: y(value) + 4, "text-anchor": "end" },
      number(value * 100));
  }
  for (let hour = 0; hour <= last; hour += 2)
    svg("text", { ...tick, x: x(hour), y: HIGH - 7, "text-anchor": "middle" }, number(hour));
  const path = (values) =>
    values.map((value, k) => `${x(hours[k]).toFixed(1)},${y(value).toFixed(1)}`);
  for (const note of shown) {
    const points = [...path(found[note].high), ...path(found[note].low).reverse()].join(" ");
    svg("polygon", { points, fill: look.notes[note], "fill-opacity": 0.28 });
  }
  for (const note of shown) {
    const line = { points: path(found[note].strength).join(" "), fill: "none",
      "stroke-linejoin": "round" };
    // the top note's colour is pale, so it lies on a dark line; its dashes tell it apart in grey
    if (note === "top") svg("polyline", { ...line, stroke: look.ink, "stroke-width": 4 });
    svg("polyline", { ...line, stroke: look.notes[note], "stroke-width": 2.6,
      "stroke-dasharray": note === "top" ? "7 3" : "" });
  }
  labelLines(found, x, y);
}

// Names at their lines, kept from lying on one another.
function labelLines(found, x, y) {
  const at = hours.findIndex((hour) => hour >= last * 0.55);
  const spots = Object.keys(found).map((note) => ({ note, y: y(found[note].strength[at]) - 9 }));
  spots.sort((a, b) => a.y - b.y);
  spots.forEach((spot, i) => {
    if (i) spot.y = Math.max(spot.y, spots[i - 1].y + 14);
    spot.y = Math.min(spot.y, HIGH - EDGE.bottom - 4 - 14 * (spots.length - 1 - i));
    svg("text", { x: x(hours[at]), y: spot.y, "font-size": 12, "font-weight": 600,
      fill: look.ink, stroke: "#fff", "stroke-width": 3, "paint-order": "stroke" },
      noteNames[spot.note]);
  });
}

// The hour at which a line falls to half; nothing where it stays above.
function halfTime(values) {
  const k = values.findIndex((value) => value <= 0.5);
  if (k < 0) return null;
  const part = (values[k - 1] - 0.5) / (values[k - 1] - values[k]);
  return hours[k - 1] + part * (hours[k] - hours[k - 1]);
}

function listHalfTimes(found) {
  const time = (hour) => hour === null ? say("fade_longer", { hours: number(last) })
    : hour < 1 ? `${number(hour * 60, 2)} min` : `${number(hour, 2)} h`;
  by("halves").replaceChildren();
  for (const note of Object.keys(noteNames).filter((name) => found[name])) {
    const until = halfTime(found[note].strength);
    html(by("halves"), "li", say(until === null ? "fade_above" : "fade_half", {
      note: noteNames[note], hours: time(until),
      low: time(halfTime(found[note].low)), high: time(halfTime(found[note].high)),
    }));
  }
}

const currentFade = (mix) => fade(figures, oils, mix.masses, mix.carrier, mix.carrierMass);

function update() {
  waiting = false;
  const mix = currentMix();
  showDrops(mix);
  by("nothing").hidden = mix.total > 0;
  by("results").hidden = !mix.total;
  if (!mix.total) return;
  showCard(mix);
  const found = currentFade(mix);
  drawFade(found);
  listHalfTimes(found);
}

let waiting = false;
document.addEventListener("input", (event) => {
  if (event.target.id === "bottle") {
    // the strength stays, as near as whole drops allow
    const total = by("total");
    const share = total.value / total.max;
    total.max = bottles[Number(by("bottle").value)].totalDrops;
    total.value = Math.max(1, Math.round(share * total.max));
  }
  if (!waiting) requestAnimationFrame(update);
  waiting = true;
});
update();
