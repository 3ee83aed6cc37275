/* The lines and letters of the grid, the background, the scale bar. */
const GRID_STEPS = [100, 500, 1000, 2000, 5000, 10000, 20000, 50000, 100000];
const HUNDRED_KM = 100000;
const LAYER_LOOKS = {
  land: { fill: "#f6f3ea", stroke: "#8d8a7e", width: 1 },
  water: { fill: "#dbe7ee", stroke: "#7d97a6", width: 0.7 },
  river: { stroke: "#5b86a3", width: 1.2 },
  road: { stroke: "#a58a72", width: 1 },
};

/* One path through lines of metres. */
function tracePath(ink, lines, view) {
  for (const points of lines) {
    ink.moveTo(points[0] * view.scale - view.x, -points[1] * view.scale - view.y);
    for (let p = 2; p < points.length; p += 2) {
      ink.lineTo(points[p] * view.scale - view.x, -points[p + 1] * view.scale - view.y);
    }
  }
}

/* Areas lie under the squares, rivers and roads over them. */
function drawBackground(ink, view, layers, over) {
  facts.layers.forEach((layer, n) => {
    const look = LAYER_LOOKS[layer.kind];
    if (!look || Boolean(look.fill) === over) return;
    for (const lines of layers[n]) {
      ink.beginPath();
      tracePath(ink, lines, view);
      if (look.fill) {
        ink.fillStyle = look.fill;
        ink.fill("evenodd");
      }
      ink.strokeStyle = look.stroke;
      ink.lineWidth = look.width * view.weight;
      ink.stroke();
    }
  });
}

function drawLines(ink, view, shapes, style, width, dash) {
  ink.strokeStyle = style;
  ink.lineWidth = width * view.weight;
  ink.setLineDash(dash || []);
  for (const lines of shapes) {
    ink.beginPath();
    tracePath(ink, lines, view);
    ink.stroke();
  }
  ink.setLineDash([]);
}

function drawPlaces(ink, view, places) {
  ink.font = view.type(12);
  ink.textAlign = "left";
  ink.textBaseline = "middle";
  const taken = [];
  for (const place of places) {
    const x = place.easting * view.scale - view.x, y = -place.northing * view.scale - view.y;
    const wide = ink.measureText(place.name).width + 12, high = 16 * view.weight;
    if (!isFree(taken, [x, y - high / 2, x + wide, y + high / 2])) continue;
    ink.fillStyle = INK;
    ink.beginPath();
    ink.arc(x, y, 2.5 * view.weight, 0, 7);
    ink.fill();
    haloText(ink, place.name, x + 6 * view.weight, y, INK, view);
  }
}

/* Takes room for a piece of writing, unless another has it. */
function isFree(taken, box) {
  if (taken.some((t) => box[0] < t[2] && box[2] > t[0] && box[1] < t[3] && box[3] > t[1])) return false;
  taken.push(box);
  return true;
}

function haloText(ink, text, x, y, style, view) {
  ink.lineJoin = "round";
  ink.lineWidth = 3.5 * view.weight;
  ink.strokeStyle = "rgba(255,255,255,0.9)";
  ink.strokeText(text, x, y);
  ink.fillStyle = style;
  ink.fillText(text, x, y);
}

/* Lines at the finest step that leaves them apart, numbers in kilometres within the 100 km square. */
function drawGrid(ink, view) {
  const step = GRID_STEPS.find((s) => s * view.scale >= 56 * view.weight) || HUNDRED_KM;
  const [west, south, east, north] = view.bounds;
  for (const size of step < HUNDRED_KM ? [step, HUNDRED_KM] : [HUNDRED_KM]) {
    ink.strokeStyle = "rgba(40,62,80," + (size === HUNDRED_KM ? 0.75 : 0.28) + ")";
    ink.lineWidth = (size === HUNDRED_KM ? 1.4 : 0.8) * view.weight;
    ink.beginPath();
    for (let e = Math.ceil(west / size) * size; e <= east; e += size) {
      const x = Math.round(e * view.scale - view.x) + 0.5;
      ink.moveTo(x, view.top);
      ink.lineTo(x, view.bottom);
    }
    for (let n = Math.ceil(south / size) * size; n <= north; n += size) {
      const y = Math.round(-n * view.scale - view.y) + 0.5;
      ink.moveTo(view.left, y);
      ink.lineTo(view.right, y);
    }
    ink.stroke();
  }
}

function drawGridNames(ink, view) {
  const step = GRID_STEPS.find((s) => s * view.scale >= 56 * view.weight) || HUNDRED_KM;
  const seen = view.seen;
  const style = "#34495a";
  ink.textAlign = "center";
  ink.textBaseline = "middle";
  if (step < HUNDRED_KM) {
    ink.font = view.type(11);
    for (let e = Math.ceil(seen.west / step) * step; e <= seen.east; e += step) {
      const x = e * view.scale - view.x;
      if (x > seen.left + 24 && x < seen.right - 60) haloText(ink, gridNumber(e, step), x, seen.bottom - 9 * view.weight, style, view);
    }
    for (let n = Math.ceil(seen.south / step) * step; n <= seen.north; n += step) {
      const y = -n * view.scale - view.y;
      if (y > seen.top + 12 && y < seen.bottom - 24) haloText(ink, gridNumber(n, step), seen.left + 13 * view.weight, y, style, view);
    }
  }
  ink.font = view.type(22, 600);
  for (const [name, easting, northing] of facts.hundreds) {
    const left = Math.max(easting * view.scale - view.x, seen.left + 14);
    const right = Math.min((easting + HUNDRED_KM) * view.scale - view.x, seen.right - 14);
    const top = Math.max(-(northing + HUNDRED_KM) * view.scale - view.y, seen.top + 4);
    const bottom = Math.min(-northing * view.scale - view.y, seen.bottom - 14);
    const wide = ink.measureText(name).width;
    if (right - left > wide + 14 && bottom - top > 34 * view.weight) {
      haloText(ink, name, left + wide / 2 + 12 * view.weight, top + 20 * view.weight, "rgba(52,73,90,0.85)", view);
    }
  }
}

function gridNumber(metres, step) {
  const within = ((metres % HUNDRED_KM) + HUNDRED_KM) % HUNDRED_KM;
  return step >= 1000 ? String(within / 1000).padStart(2, "0") : (within / 1000).toFixed(1);
}

/* A round length between a fifth and a third of the map. */
function drawScale(scale, width) {
  const most = (width * 0.3) / scale;
  const power = Math.pow(10, Math.floor(Math.log10(most)));
  const length = [5, 2, 1].map((n) => n * power).find((n) => n <= most) || power;
  document.getElementById("scale-bar").style.width = Math.round(length * scale) + "px";
  document.getElementById("scale-text").textContent =
    length >= 1000 ? say("kilometres", { n: length / 1000 }) : say("metres", { n: length });
}
