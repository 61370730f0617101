// The film's arithmetic, as in the package: wear, film, fade. SI units throughout.
"use strict";

const film = (() => {
  const GAUSS = [[-Math.sqrt(0.6), 5 / 9], [0, 8 / 9], [Math.sqrt(0.6), 5 / 9]];
  const NOTHING_LEFT = 1e-6;

  // Whole drops by largest remainder; parts are whole numbers, so that all of it is exact.
  function wholeDrops(parts, total) {
    const sum = parts.reduce((a, b) => a + b, 0);
    if (!sum) return parts.map(() => 0);
    const rest = parts.map((part) => (part * total) % sum);
    const drops = parts.map((part, i) => (part * total - rest[i]) / sum);
    const order = parts.map((_, i) => i).filter((i) => parts[i] > 0);
    order.sort((a, b) => rest[b] - rest[a] || a - b);
    const over = total - drops.reduce((a, b) => a + b, 0);
    for (const i of order.slice(0, over)) drops[i] += 1;
    return drops;
  }

  // What lies on a square metre of skin: molecules in the mix, in plain arrays.
  function make(figures, oils, carrier, drops, liquid) {
    const masses = oils.map((oil, o) => (drops[o] / oil.perCubicMetre) * oil.density);
    const oilVolume = oils.reduce((sum, oil, o) => sum + drops[o] / oil.perCubicMetre, 0);
    const kind = figures.carriers[carrier];
    const carrierMass = Math.max(liquid - oilVolume, 0) * kind.density;
    const whole = masses.reduce((a, b) => a + b, 0) + carrierMass;
    const load = figures.film / whole;
    const byNote = {};
    let staying = 0;
    let stayingVolume = 0;
    for (let o = 0; o < oils.length; o++) {
      if (!drops[o]) continue;
      const own = figures.oils[o];
      const note = (byNote[oils[o].note] ||= new Float64Array(figures.molecules.length));
      for (const [place, fraction] of own.holds)
        note[place] += (masses[o] * load * fraction) / figures.molecules[place][0];
      staying += masses[o] * load * own.stays[0];
      stayingVolume += masses[o] * load * own.stays[1];
    }
    const poured = (carrierMass * load) / kind.molarMass;
    const pouredVolume = (poured * kind.molarMass) / kind.density;
    const volume = stayingVolume + pouredVolume;
    const share = new Array(figures.kinds).fill(0);
    if (volume > 0) {
      share[0] += stayingVolume / volume;
      share[kind.kind] += pouredVolume / volume;
    } else share[0] = 1;
    const all = figures.molecules.map((_, i) =>
      Object.values(byNote).reduce((sum, note) => sum + note[i], 0));
    const there = all.map((_, i) => i).filter((i) => all[i] > 0);
    const column = (pick) => Float64Array.from(there, (i) => pick(figures.molecules[i]));
    const mixed = (values) => values.reduce((sum, value, k) => sum + share[k] * value, 0);
    const made = {
      there,
      moles: Float64Array.from(there, (i) => all[i]),
      notes: Object.fromEntries(Object.entries(byNote).map(([name, note]) =>
        [name, Float64Array.from(there, (i) => note[i] / all[i])])),
      carrier: staying + poured,
      carrierVolume: staying + poured ? volume / (staying + poured) : 1e-3,
      volumes: column((m) => m[1]),
      pressures: column((m) => m[2]),
      evaporation: column((m) => m[3]),
      uptake: column((m) => m[4]),
      enthalpies: column((m) => m[5]),
      classes: there.map((i) => figures.molecules[i][7]),
      interactions: column((m) => mixed(m[8])),
      spread: column((m) => Math.hypot(m[6], mixed(m[9]))),
    };
    made.activity = heldActivity(made, figures.heldUntil);
    return made;
  }

  // One activity coefficient (Flory and Huggins) a molecule, its mean while it falls to a quarter.
  function heldActivity(made, until) {
    const { moles, volumes, interactions, carrier, carrierVolume } = made;
    const n = moles.length;
    const of = (i, count, volume) => {
      const relative = (volumes[i] * (count + carrier)) / volume;
      const phi = (carrier * carrierVolume) / volume;
      return relative * Math.exp(1 - relative + interactions[i] * phi * phi);
    };
    let count = 0;
    let volume = carrier * carrierVolume;
    for (let j = 0; j < n; j++) {
      count += moles[j];
      volume += moles[j] * volumes[j];
    }
    let held = Float64Array.from(moles, (_, i) => of(i, count, volume));
    for (let round = 0; round < 3; round++) {
      const rates = held.map((a, i) => a * (made.evaporation[i] + made.uptake[i]));
      const next = new Float64Array(n);
      for (let i = 0; i < n; i++) {
        for (const [point, weight] of GAUSS) {
          const clock = ((Math.log(until) / rates[i]) * (1 + point)) / 2;
          let left = 0;
          let room = carrier * carrierVolume;
          for (let j = 0; j < n; j++) {
            const along = moles[j] * Math.exp(-rates[j] * clock);
            left += along;
            room += along * volumes[j];
          }
          next[i] += (of(i, left, room) * weight) / 2;
        }
      }
      held = next;
    }
    return held;
  }

  // Vapour of each note at each moment. The film's own clock tau solves
  // t = carrier tau + sum n (1 - exp(-K tau)) / K, by Newton's method, which rises to the root.
  function vapour(made, rates, weights, seconds, within) {
    const { moles, carrier } = made;
    const n = moles.length;
    const names = Object.keys(made.notes);
    const found = Object.fromEntries(names.map((name) => [name, new Float64Array(seconds.length)]));
    const left = new Float64Array(n);
    const total = moles.reduce((a, b) => a + b, carrier);
    const lasts = moles.reduce((sum, amount, j) => sum + amount / rates[j], 0);
    let clock = 0;
    for (let k = 0; k < seconds.length; k++) {
      if (carrier === 0 && seconds[k] >= lasts) break;
      let remains = total;
      for (let round = 0; round < 60; round++) {
        let elapsed = carrier * clock;
        remains = carrier;
        for (let j = 0; j < n; j++) {
          left[j] = moles[j] * Math.exp(-rates[j] * clock);
          remains += left[j];
          elapsed += (moles[j] - left[j]) / rates[j];
        }
        const step = (seconds[k] - elapsed) / remains;
        if (Math.abs(step) <= within * clock || seconds[k] === 0) break;
        clock += step;
      }
      if (remains <= NOTHING_LEFT * total) continue;
      for (const name of names) {
        const share = made.notes[name];
        let sum = 0;
        for (let j = 0; j < n; j++) sum += share[j] * weights[j] * left[j];
        found[name][k] = sum / remains;
      }
    }
    return found;
  }

  function draws(figures) {
    const bytes = atob(figures.normals);
    const normal = Float64Array.from(bytes, (byte) =>
      ((byte.charCodeAt(0) << 24) >> 24) * figures.normalStep);
    const width = 4 + figures.classes + figures.molecules.length;
    return (row, column) => normal[row * width + column];
  }

  // Strength of each note beside its own start, with the band that two of three draws lie in.
  function fade(figures, made, normal) {
    const seconds = figures.hours.map((hour) => hour * 3600);
    const n = made.moles.length;
    const one = (leaving, weights, within) => {
      const rates = leaving.map((each, i) => each * made.activity[i]);
      const found = vapour(made, rates, weights, seconds, within);
      for (const note of Object.values(found)) {
        const start = note[0];
        for (let k = 0; k < note.length; k++) note[k] = (note[k] / start) ** figures.exponent;
      }
      return found;
    };
    const plain = made.evaporation.map((each, i) => each + made.uptake[i]);
    const strength = one(plain, made.activity.map((a, i) => a * made.pressures[i]), 1e-9);
    const bundles = Object.fromEntries(Object.keys(strength).map((name) => [name, []]));
    const ownShare = Math.sqrt(1 - figures.shared);
    const classShare = Math.sqrt(figures.shared);
    for (let d = 0; d < figures.draws; d++) {
      const air = figures.air * normal(d, 0);
      const faster = Math.exp(air - figures.load * normal(d, 1));
      const away = figures.warmth * normal(d, 2);
      const skin = Math.exp(figures.uptake * normal(d, 3) - air);
      const shift = 1 / figures.temperature - 1 / (figures.temperature + away);
      const leaving = new Float64Array(n);
      const weights = new Float64Array(n);
      for (let i = 0; i < n; i++) {
        const own = normal(d, 4 + figures.classes + made.there[i]);
        const ofClass = normal(d, 4 + made.classes[i]);
        const volatile = Math.exp(made.spread[i] * (ownShare * own + classShare * ofClass)) *
          Math.exp((made.enthalpies[i] / figures.gasConstant) * shift);
        leaving[i] = (made.evaporation[i] * volatile + made.uptake[i] * skin) * faster;
        weights[i] = made.activity[i] * made.pressures[i] * volatile;
      }
      const found = one(leaving, weights, 3e-5);
      for (const name of Object.keys(found)) bundles[name].push(found[name]);
    }
    const band = Object.fromEntries(Object.entries(bundles).map(([name, bundle]) =>
      [name, bandOf(bundle, strength[name])]));
    return { strength, band };
  }

  function bandOf(bundle, strength) {
    const ends = [1 / 6, 5 / 6].map((part) => ({ spot: part * (bundle.length - 1) }));
    const rows = ends.map(() => new Float64Array(strength.length));
    for (let k = 0; k < strength.length; k++) {
      const ranked = Float64Array.from(bundle, (draw) => draw[k]).sort();
      ends.forEach(({ spot }, e) => {
        const below = Math.floor(spot);
        const above = Math.min(below + 1, ranked.length - 1);
        rows[e][k] = ranked[below] + (ranked[above] - ranked[below]) * (spot - below);
      });
      rows[0][k] = Math.min(rows[0][k], strength[k]);
      rows[1][k] = Math.max(rows[1][k], strength[k]);
    }
    return rows;
  }

  return { wholeDrops, make, fade, draws };
})();
