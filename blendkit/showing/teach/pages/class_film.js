// The arithmetic of the page, as in the package's blend.apportionment and evaporation. SI units.
"use strict";

const sum = (values) => values.reduce((a, b) => a + b, 0);

// Largest remainder, ties to the earlier. Parts are whole numbers, so all of it is exact.
function wholeDrops(parts, total) {
  const whole = sum(parts);
  if (!whole) return parts.map(() => 0);
  const rest = parts.map((part) => (part * total) % whole);
  const drops = parts.map((part, i) => (part * total - rest[i]) / whole);
  const order = [...parts.keys()].sort((a, b) => rest[b] - rest[a]);
  for (const i of order.slice(0, total - sum(drops))) drops[i] += 1;
  return drops;
}

// First among the notes, then among the oils of each note.
function dropsByNote(oils, notes, parts, total) {
  const oilsOf = notes.map((note) => [...oils.keys()].filter((o) => oils[o].note === note));
  const ofNotes = wholeDrops(oilsOf.map((of) => sum(of.map((o) => parts[o]))), total);
  const drops = parts.map(() => 0);
  oilsOf.forEach((of, n) => wholeDrops(of.map((o) => parts[o]), ofNotes[n])
    .forEach((count, i) => { drops[of[i]] = count; }));
  return drops;
}

// Strength of each note at each of the hours, relative to its own start, with both ends of the
// band that two of three draws lie in. Masses in kg, in any size of bottle.
function fade(figures, oils, masses, carrier, carrierMass) {
  const load = figures.film / (sum(masses) + carrierMass);
  const whole = new Float64Array(figures.losses.length);
  const ofNote = {}; // by note, by oil: places of molecules with their amounts
  const stays = { moles: 0, volume: 0 };
  masses.forEach((mass, o) => {
    if (!mass) return;
    for (const [i, moles] of figures.oils[o].moles) whole[i] += mass * load * moles;
    (ofNote[oils[o].note] ||= []).push(
      figures.oils[o].moles.map(([i, moles]) => [i, mass * load * moles]));
    stays.moles += mass * load * figures.oils[o].staying[0];
    stays.volume += mass * load * figures.oils[o].staying[1];
  });
  const there = [...whole.keys()].filter((i) => whole[i] > 0);
  const pick = (all) => Float64Array.from(there, (i) => all[i]);
  const place = new Map(there.map((i, j) => [i, j]));
  // a note is as strong as its strongest oil, and that as its strongest molecule
  const notes = Object.values(ofNote).map((ofOils) => ofOils.flat()
    .filter(([i]) => figures.greatest[i] > 0).map(([i, amount]) => [place.get(i), amount]));
  const moles = pick(whole);
  const volumes = pick(figures.volumes);
  const losses = pick(figures.losses);
  const doses = pick(figures.doses);
  const [greatest, powers] = [pick(figures.greatest), pick(figures.powers)];
  const kind = figures.kinds[carrier.kind];
  const carrierMoles = stays.moles + (carrierMass * load) / carrier.molarMass;
  const carrierVolume = stays.volume + (carrierMass * load) / carrier.density;
  const share = stays.volume / carrierVolume || 0;
  const chi = Float64Array.from(there, (i) =>
    share * figures.interactions[i] + (1 - share) * kind.interactions[i]);

  // Flory and Huggins: activity of a molecule in a film of so many moles and such a volume
  const activity = (i, [filmMoles, filmVolume]) => {
    const size = (volumes[i] * filmMoles) / filmVolume;
    return size * Math.exp(1 - size + chi[i] * (carrierVolume / filmVolume) ** 2);
  };
  const leftAt = (rates, clock) => {
    let [n, volume] = [carrierMoles, carrierVolume];
    for (let j = 0; j < moles.length; j++) {
      const left = moles[j] * Math.exp(-rates[j] * clock);
      n += left;
      volume += left * volumes[j];
    }
    return [n, volume];
  };
  let held = moles.map((_, i) => activity(i, leftAt(losses, 0)));
  for (let round = 0; round < 3; round++) {
    const rates = held.map((each, i) => each * losses[i]);
    held = held.map((_, i) => sum(figures.heldAt.map(([falls, weight]) =>
      weight * activity(i, leftAt(rates, falls / rates[i])))));
  }

  // t = carrier tau + sum n (1 - exp(-K tau)) / K: Newton's method rises to the film's clock tau
  const filmMoles = sum(moles) + carrierMoles;
  function strengths(rates, weights) {
    const rows = notes.map(() => []);
    const left = new Float64Array(moles.length);
    let clock = 0;
    for (const hour of figures.hours) {
      let [remains, step] = [0, 0];
      do {
        remains = carrierMoles;
        let elapsed = carrierMoles * clock;
        for (let j = 0; j < left.length; j++) {
          left[j] = Math.exp(-rates[j] * clock);
          remains += moles[j] * left[j];
          elapsed += (moles[j] * (1 - left[j])) / rates[j];
        }
        step = (hour * 3600 - elapsed) / remains;
        if (step > 0 && remains > 1e-6 * filmMoles) clock += step;
        else step = 0;
      } while (step > 1e-4 * clock);
      // the curve of each smell: strength by dose, which is concentration over its half
      const strength = (note) => note.reduce((most, [j, amount]) => Math.max(most,
        greatest[j] / (1 + ((amount * weights[j] * left[j]) / remains) ** -powers[j])), 0);
      rows.forEach((row, n) => row.push(remains > 1e-6 * filmMoles ? strength(notes[n]) : 0));
    }
    return rows.map((row) => row.map((each) => each / (row[0] || 1)));
  }

  const rates = held.map((each, i) => each * losses[i]);
  const weights = held.map((each, i) => each * doses[i]);
  const plain = strengths(rates, weights);
  const draws = kind.draws.map(([loss, dose]) => strengths(
    rates.map((each, i) => each * loss[there[i]]),
    weights.map((each, i) => each * dose[there[i]])));
  const sixth = (draws.length - 1) / 6;
  const ends = plain.map((row, n) => row.map((each, k) => {
    const ranked = Float64Array.from(draws, (draw) => draw[n][k]).sort();
    return [Math.min(ranked[sixth], each), Math.max(ranked[5 * sixth], each)];
  }));
  return Object.fromEntries(Object.keys(ofNote).map((note, n) => [note, {
    strength: plain[n], low: ends[n].map((end) => end[0]), high: ends[n].map((end) => end[1]),
  }]));
}

// Draws come as signed bytes, a byte a molecule: logarithms of factors on the plain figures.
function unpackDraws(figures) {
  const width = figures.losses.length;
  for (const kind of figures.kinds) {
    const factors = Float64Array.from(atob(kind.draws), (byte) =>
      Math.exp(((byte.charCodeAt(0) << 24) >> 24) * kind.step));
    const row = (n) => factors.subarray(n * width, (n + 1) * width);
    const count = factors.length / width / 2;
    kind.draws = Array.from({ length: count }, (_, d) => [row(2 * d), row(2 * d + 1)]);
  }
}
