/* The view of growth: what was known by the end of each year, as a map that plays. */
const PLAY_STEP_MS = 450;
const growthView = {
  id: "growth",
  controls: ["year"],

  isThere: () => columns.has("growth.from") && growthYears().last > growthYears().first,

  paint() {
    const { first, known, ends } = growth();
    const values = known(state.year);
    const fills = stepFills(Math.max(ends.length, 1));
    const lines = [{ label: say("nothing_known_yet"), ...NOT_VISITED }];
    stepLabels(ends, number).forEach((label, s) => lines.push({ label, fill: fills[s], hatch: "" }));
    const painting = new Painting(say("title_growth", { year: yearText(Math.max(state.year, first)) }), lines);
    for (let i = 0; i < model.count; i += 1) painting.codes[i] = values[i] > 0 ? 1 + stepOf(values[i], ends) : 0;
    painting.note = say("growth_note");
    return painting;
  },

  overview(box) {
    box.append(element("h2", say("growth_heading")));
    const { speciesBy, listsIn, first, last } = growth(), squaresBy = squaresByYear();
    const list = element("dl", "");
    addFact(list, say("squares_known", { year: yearText(state.year) }), number(squaresBy[state.year - first] || 0));
    addFact(list, say("species_known", { year: yearText(state.year) }), number(speciesBy[state.year - first] || 0));
    if (listsIn) addFact(list, say("lists_in", { year: yearText(state.year) }), number(listsIn[state.year - first] || 0));
    box.append(list);
    box.append(curve(say("curve_species"), speciesBy, first, last), curve(say("curve_squares"), squaresBy, first, last));
    if (listsIn) box.append(curve(say("curve_lists"), listsIn, first, last, true));
  },

  facts(i, box) {
    const { first, last } = growth();
    const byYear = squareByYear(i);
    const list = element("dl", "");
    addFact(list, say("species_known", { year: yearText(state.year) }), number(byYear[state.year - first] || 0));
    addFact(list, say("first_record"), yearText(columns.get("effort.first")[i]));
    addFact(list, say("head_last"), yearText(effort("last", 0)[i]));
    box.append(list, curve(say("curve_square"), byYear, first, last));
  },

  table() {
    const { known, last } = growth();
    const all = known(last).slice(), now = known(state.year);
    return {
      heads: [{ text: say("head_reference") }, { text: say("first_record"), isNumber: true }, { text: say("species_known", { year: yearText(state.year) }), isNumber: true }, { text: say("species_known", { year: yearText(last) }), isNumber: true }],
      rows: Array.from({ length: model.count }, (_, i) => i),
      square: (i) => i,
      cell: (i, c) => (c === 0 ? reference(i) : c === 1 ? yearOrNone(columns.get("effort.first")[i]) : (c === 2 ? now : all)[i]),
    };
  },
};

/* First year with something new, and the last with that or with a list. */
function growthYears() {
  return columns.once("growth years", () => {
    const ends = [...columns.get("growth.to"), ...columns.get("lists.year")], first = columns.get("growth.from")[0];
    return { first, last: Math.max(first, ...ends) };
  });
}

/* How many there are in each year; without counts, one a year named. */
function byYear(which, counts) {
  const { first, last } = growthYears(), sums = new Array(last - first + 1).fill(0);
  which.forEach((year, k) => {
    if (year >= first) sums[year - first] += counts ? counts[k] : 1;
  });
  return sums;
}

function summed(numbers) {
  let sum = 0;
  return numbers.map((n) => (sum += n));
}

/* Squares with a record of whatever name; the column is kept by the growth of each, so that this comes after it. */
function squaresByYear() {
  const { first, last } = growthYears();
  const years = Array.from(columns.get("effort.first")).filter((year) => year > 0);
  return summed(byYear(years.map((year) => Math.min(Math.max(year, first), last))));
}

let growthParts = null;
/* What each square knows by a year, and the numbers of the whole area year by year. */
function growth() {
  if (growthParts) return growthParts;
  const { first, last } = growthYears();
  const fresh = newByYear(first);
  const firstYears = firstYearOf(fresh, first);
  growthParts = {
    first, last, fresh, firstYears,
    known: knownByYear(fresh, first),
    speciesBy: summed(byYear(columns.get("growth.species.year"), columns.get("growth.species.count"))),
    listsIn: byYear(columns.get("lists.year"), columns.get("lists.count")),
  };
  growthParts.ends = stepEnds(growthParts.known(last));
  return growthParts;
}

/* Species new to each square, an array for each year: ranges of years are halved until one year is left. */
function newByYear(first) {
  const ends = columns.get("growth.to"), fresh = [];
  let parts = Array.from(columns.get("growth.from"), (from, k) => ({ from, to: ends[k] + 1, counts: columns.get("growth.range." + k) }));
  for (let level = 0; parts.length; level += 1) {
    for (const part of parts) if (part.to - part.from === 1) fresh[part.from - first] = part.counts;
    parts = parts.filter((part) => part.to - part.from > 1);
    if (parts.length) parts = halved(parts, level);
  }
  return fresh;
}

/* Each level is kept sorted by the wholes it halves and their lengths; ranges in which a square has nothing new are
   not in it. */
function halved(parts, level) {
  let many = 0, at = 0;
  for (const { counts } of parts) for (let i = 0; i < counts.length; i += 1) if (counts[i]) many += 1;
  const whole = new Uint32Array(many), longest = Math.max(...parts.map(({ from, to }) => to - from));
  for (const { from, to, counts } of parts) {
    for (let i = 0; i < counts.length; i += 1) if (counts[i]) whole[at++] = counts[i] * (longest + 1) + to - from;
  }
  const { order } = groupsOf(whole), kept = columns.codes("growth.earlier." + level), halves = [];
  const earlier = new Uint16Array(many);
  for (let k = 0; k < many; k += 1) earlier[order[k]] = kept[k];
  at = 0;
  for (const { from, to, counts } of parts) {
    const middle = (from + to) >> 1, before = new Uint16Array(model.count), after = new Uint16Array(model.count);
    for (let i = 0; i < counts.length; i += 1) {
      if (!counts[i]) continue;
      before[i] = earlier[at++];
      after[i] = counts[i] - before[i];
    }
    halves.push({ from, to: middle, counts: before }, { from: middle, to, counts: after });
  }
  return halves;
}

/* First year with something new in each square; 0 where there is none. */
function firstYearOf(fresh, first) {
  const years = new Uint16Array(model.count);
  for (let y = fresh.length - 1; y >= 0; y -= 1) for (let i = 0; i < years.length; i += 1) if (fresh[y][i]) years[i] = first + y;
  return years;
}

/* Species known in each square by the end of a year. One array goes from year to year, forwards and back, by what
   each year adds. */
function knownByYear(fresh, first) {
  const sums = new Uint16Array(model.count);
  let at = 0;
  return (year) => {
    const wanted = Math.min(Math.max(year - first + 1, 0), fresh.length);
    for (; at < wanted; at += 1) for (let i = 0; i < sums.length; i += 1) sums[i] += fresh[at][i];
    for (; at > wanted; at -= 1) for (let i = 0; i < sums.length; i += 1) sums[i] -= fresh[at - 1][i];
    return sums;
  };
}

/* What one square knew by the end of each year. */
function squareByYear(i) {
  const { first, last, fresh } = growth();
  const sums = new Array(last - first + 1).fill(0);
  for (let y = 0; y < sums.length; y += 1) sums[y] = (sums[y - 1] || 0) + (fresh[y] ? fresh[y][i] : 0);
  return sums;
}

/* A small chart of numbers by year, with the chosen year marked; its numbers are in the label for those who listen. */
function curve(title, values, first, last, bars) {
  const make = (name, attributes) => {
    const made = document.createElementNS("http://www.w3.org/2000/svg", name);
    for (const key in attributes) made.setAttribute(key, attributes[key]);
    return made;
  };
  const wide = 320, high = 120, left = 34, top = 8, bottom = 20;
  const most = Math.max(1, ...values);
  const x = (k) => left + (k * (wide - left - 8)) / Math.max(1, values.length - 1);
  const y = (v) => high - bottom - (v * (high - bottom - top)) / most;
  const figure = element("figure", "");
  const picture = make("svg", { viewBox: "0 0 " + wide + " " + high, role: "img", class: "curve" });
  picture.setAttribute("aria-label", say("curve_label", { title, from: yearText(first), to: yearText(last), n: values[values.length - 1] }));
  const write = (text, at, anchor) => {
    const made = make("text", { x: at[0], y: at[1], "text-anchor": anchor });
    made.textContent = text;
    picture.append(made);
  };
  picture.append(make("path", { d: "M" + left + " " + y(0) + "H" + (wide - 8), class: "axis" }));
  if (bars) values.forEach((v, k) => picture.append(make("rect", { x: x(k) - 1.5, y: y(v), width: 3, height: y(0) - y(v), class: "bar" })));
  else picture.append(make("path", { d: "M" + values.map((v, k) => x(k).toFixed(1) + " " + y(v).toFixed(1)).join("L"), class: "line" }));
  const now = Math.min(Math.max(state.year - first, 0), values.length - 1);
  picture.append(make("path", { d: "M" + x(now) + " " + top + "V" + y(0), class: "now" }));
  write(number(most), [left - 4, top + 8], "end");
  write("0", [left - 4, y(0)], "end");
  write(String(first), [left, high - 5], "start");
  write(String(last), [wide - 8, high - 5], "end");
  figure.append(element("figcaption", title), picture);
  return figure;
}

/* Playing: a year a step, from the first when the last is shown; any key or click on the button stops it. */
let playing = 0;
function play() {
  if (playing) return stopPlaying();
  if (state.year >= growthYears().last) change({ year: growthYears().first });
  playing = setInterval(() => {
    if (state.year >= growthYears().last) stopPlaying();
    else change({ year: state.year + 1 });
  }, PLAY_STEP_MS);
  showPlaying();
}

function stopPlaying() {
  clearInterval(playing);
  playing = 0;
  showPlaying();
}

function showPlaying() {
  const button = document.getElementById("play");
  if (button) button.textContent = say(playing ? "pause" : "play");
}
