/* Fills, hatches and the steps of a number. Five steps of cividis, light for little and dark for much: they stay
   apart for every kind of colour vision and in grey. */
const STEPS = ["#fde737", "#bcae6c", "#7c7b78", "#414d6b", "#00224e"];
const PAPER = "#ffffff";
const PALE = "#e4e1d8";
const INK = "#17202a";
const ALERT = "#9c2f10";
const NOT_VISITED = { fill: PAPER, hatch: "dot" };
const CANNOT_SAY = { fill: PALE, hatch: "lines" };
const NONE = { fill: PALE, hatch: "dash" };

function rgb(fill) {
  const value = parseInt(fill.slice(1), 16);
  return [value >> 16, (value >> 8) & 255, value & 255];
}

/* A small tile of a hatch, for canvases and for the legend. */
function hatchTile(kind, scale) {
  const size = Math.round(8 * scale);
  const tile = document.createElement("canvas");
  tile.width = size;
  tile.height = size;
  const ink = tile.getContext("2d");
  ink.strokeStyle = kind === "light" ? "#ffffff" : INK;
  ink.lineWidth = 1.4 * scale;
  if (kind === "dot") {
    ink.fillStyle = "#8b8f94";
    ink.beginPath();
    ink.arc(size / 2, size / 2, 0.9 * scale, 0, 7);
    ink.fill();
    return tile;
  }
  if (kind === "dash") {
    ink.strokeStyle = "#6f7479";
    ink.lineWidth = scale;
    ink.beginPath();
    ink.moveTo(0, size / 2);
    ink.lineTo(size / 2, size / 2);
    ink.stroke();
    return tile;
  }
  const lines = kind === "cross" ? [1, -1] : [kind === "back" || kind === "light" ? -1 : 1];
  for (const way of lines) {
    ink.beginPath();
    for (const shift of [-size, 0, size]) {
      ink.moveTo(shift - 1, way > 0 ? size + 1 : -1);
      ink.lineTo(shift + size + 1, way > 0 ? -1 : size + 1);
    }
    ink.stroke();
  }
  return tile;
}

/* Upper ends of at most five steps that hold about the same number of squares; the last step is open. The numbers are
   whole, so that counting them takes the place of sorting. */
function stepEnds(values) {
  let most = 0, many = 0;
  for (let i = 0; i < values.length; i += 1) if (values[i] > most) most = values[i];
  const counts = new Uint32Array(most + 1);
  for (let i = 0; i < values.length; i += 1) {
    if (values[i] > 0) {
      counts[values[i]] += 1;
      many += 1;
    }
  }
  const ends = [];
  let value = 0, passed = 0;
  for (const share of many ? [0.2, 0.4, 0.6, 0.8, 1] : []) {
    while (passed < Math.ceil(share * many)) passed += counts[++value];
    if (value !== ends[ends.length - 1]) ends.push(value);
  }
  return ends;
}

function stepOf(value, ends) {
  for (let s = 0; s < ends.length - 1; s += 1) if (value <= ends[s]) return s;
  return ends.length - 1;
}

/* Colours for n steps, spread over the five. */
function stepFills(n) {
  if (n === 1) return [STEPS[3]];
  return Array.from({ length: n }, (_, s) => STEPS[Math.round((s * 4) / (n - 1))]);
}

function stepLabels(ends, write) {
  let low = null;
  return ends.map((end) => {
    const from = low === null ? write(1) : write(low + 1);
    low = end;
    const to = write(end);
    return from === to ? to : from + "–" + to;
  });
}

/* The code of a square that is not drawn. */
const EMPTY = 255;
/* A painting: for every square a code, for every code a line of the legend; squares beyond the map are not drawn
   unless a view says so. */
class Painting {
  constructor(title, lines) {
    this.title = title;
    this.lines = lines;
    this.codes = new Uint8Array(model.count + facts.beyond).fill(EMPTY, model.count);
    this.numbers = null;
    this.note = "";
  }

  counts() {
    const counts = new Array(this.lines.length).fill(0);
    for (const code of this.codes) if (code !== EMPTY) counts[code] += 1;
    return counts;
  }
}

function legendSwatch(line) {
  const swatch = document.createElement("canvas");
  swatch.width = 52;
  swatch.height = 36;
  swatch.className = "swatch";
  swatch.setAttribute("aria-hidden", "true");
  const ink = swatch.getContext("2d");
  ink.fillStyle = line.fill;
  ink.fillRect(0, 0, 52, 36);
  if (line.hatch) {
    ink.fillStyle = ink.createPattern(hatchTile(line.hatch, 2), "repeat");
    ink.fillRect(0, 0, 52, 36);
  }
  return swatch;
}

/* The lines are made anew only when they are others; otherwise the counts change. */
const legendsShown = {};
function drawLegend(id, painting) {
  const box = document.getElementById(id);
  const counts = painting.counts();
  const lines = painting.lines.map((line, code) => ({ ...line, count: counts[code] })).filter((line) => line.count || !line.quiet);
  const wanted = JSON.stringify([painting.note, lines.map((line) => [line.label, line.fill, line.hatch])]);
  if (wanted !== legendsShown[id]) {
    legendsShown[id] = wanted;
    box.textContent = "";
    const list = element("ul", "");
    for (const line of lines) {
      const item = element("li", "");
      item.append(legendSwatch(line), element("span", line.label), element("span", "", "count"));
      list.append(item);
    }
    box.append(list);
    if (painting.note) box.append(element("p", painting.note, "help"));
  }
  box.querySelectorAll(".count").forEach((part, k) => {
    part.textContent = number(lines[k].count);
    part.parentElement.classList.toggle("none", !lines[k].count);
  });
}

/* An element with text; the only way text gets onto the page. */
function element(name, text, className) {
  const made = document.createElement(name);
  if (text) made.textContent = text;
  if (className) made.className = className;
  return made;
}
