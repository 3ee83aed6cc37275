/* The squares, the species and what was found, ready to be asked. */
let columns = null;
let model = null;

function runningStarts(counts) {
  const starts = new Uint32Array(counts.length + 1);
  for (let i = 0; i < counts.length; i += 1) starts[i + 1] = starts[i] + counts[i];
  return starts;
}

function buildModel() {
  const count = facts.squares;
  const [inPicture, west, south, width, height] = facts.picture;
  const cells = new Uint32Array(inPicture);
  const squareOfCell = new Int32Array(width * height).fill(-1);
  const gaps = columns.get("cell_gap");
  let cell = 0;
  for (let i = 0; i < inPicture; i += 1) {
    cell += gaps[i];
    cells[i] = cell;
    squareOfCell[cell] = i;
  }
  const m = {
    count, inPicture, west, south, width, height, cells, squareOfCell,
    side: facts.side,
    outlines: readLines("outline"),
    names: columns.get("species.name"),
    vernacular: columns.get("species.vernacular"),
  };
  m.boxes = m.outlines.map(boxOf);
  return m;
}

/* Lines of each geometry as arrays of easting, northing, easting … */
function readLines(name) {
  const each = columns.get(name + ".lines");
  if (!each) return [];
  const corners = columns.get(name + ".corners");
  const steps = columns.get(name + ".xy");
  let line = 0, at = 0, easting = 0, northing = 0;
  const shapes = [];
  for (let s = 0; s < each.length; s += 1) {
    const lines = [];
    for (let l = 0; l < each[s]; l += 1) {
      const points = new Float64Array(corners[line] * 2);
      for (let p = 0; p < points.length; p += 2) {
        easting += steps[at++];
        northing += steps[at++];
        points[p] = easting;
        points[p + 1] = northing;
      }
      lines.push(points);
      line += 1;
    }
    shapes.push(lines);
  }
  return shapes;
}

function boxOf(lines) {
  const box = [Infinity, Infinity, -Infinity, -Infinity];
  for (const points of lines) {
    for (let p = 0; p < points.length; p += 2) {
      box[0] = Math.min(box[0], points[p]);
      box[1] = Math.min(box[1], points[p + 1]);
      box[2] = Math.max(box[2], points[p]);
      box[3] = Math.max(box[3], points[p + 1]);
    }
  }
  return box;
}

function isInside(lines, easting, northing) {
  let inside = false;
  for (const points of lines) {
    for (let p = 0, q = points.length - 2; p < points.length; q = p, p += 2) {
      const above = points[p + 1] > northing, aboveBefore = points[q + 1] > northing;
      if (above !== aboveBefore) {
        const share = (northing - points[p + 1]) / (points[q + 1] - points[p + 1]);
        if (easting < points[p] + share * (points[q] - points[p])) inside = !inside;
      }
    }
  }
  return inside;
}

/* The square at a place in the map's plane; -1 where there is none. */
function squareAt(easting, northing) {
  const column = Math.floor((easting - model.west) / model.side);
  const row = Math.floor((northing - model.south) / model.side);
  if (column >= 0 && row >= 0 && column < model.width && row < model.height) {
    const found = model.squareOfCell[row * model.width + column];
    if (found >= 0) return found;
  }
  for (let k = 0; model.inPicture + k < shownCount(); k += 1) {
    const box = model.boxes[k];
    if (easting >= box[0] && easting <= box[2] && northing >= box[1] && northing <= box[3]
        && isInside(model.outlines[k], easting, northing)) return model.inPicture + k;
  }
  return -1;
}

/* How many squares there are to point at: those beyond the map, which come last, in one view only. */
function shownCount() {
  return model.count + (view().showsBeyond ? facts.beyond : 0);
}

/* West, south, east, north of a square. */
function squareBox(i) {
  if (i >= model.inPicture) return model.boxes[i - model.inPicture];
  const cell = model.cells[i];
  const west = model.west + (cell % model.width) * model.side;
  const south = model.south + Math.floor(cell / model.width) * model.side;
  return [west, south, west + model.side, south + model.side];
}

function squareCentre(i) {
  const box = squareBox(i);
  return [(box[0] + box[2]) / 2, (box[1] + box[3]) / 2];
}

/* The nearest square in a direction, those straight ahead first. */
function squareTowards(i, dx, dy) {
  const [easting, northing] = squareCentre(i);
  const step = squareAt(easting + dx * model.side, northing + dy * model.side);
  if (step >= 0 && step !== i) return step;
  let best = -1, least = Infinity;
  for (let k = 0; k < shownCount(); k += 1) {
    const [e, n] = squareCentre(k);
    const ahead = (e - easting) * dx + (n - northing) * dy;
    const aside = Math.abs((e - easting) * dy) + Math.abs((n - northing) * dx);
    if (ahead > model.side / 2 && aside <= ahead && ahead + 2 * aside < least) {
      best = k;
      least = ahead + 2 * aside;
    }
  }
  return best;
}

function plainReference(text) {
  return text.toUpperCase().replace(/[^A-Z0-9]/g, "");
}

/* Numbers of the effort or standing table; place 0 is all dates, then the classes. */
function effort(name, place) {
  return columns.get("effort." + place + "." + name);
}

function reference(i) {
  return columns.text("reference", i);
}

/* The square with a reference, written in any way; -1 where there is none. */
let byReference = null;
function squareOfReference(text) {
  if (!byReference) byReference = new Map(Array.from({ length: model.count + facts.beyond }, (_, i) => [plainReference(reference(i)), i]));
  return byReference.get(plainReference(text)) ?? -1;
}

function standing(name, place) {
  return columns.get("standing." + place + "." + name);
}

/* Words for the date class at a place. */
function classWord(place) {
  return place === 0 ? say("all_dates") : facts.classes[place - 1];
}

function speciesWord(rank) {
  const everyday = model.vernacular[rank];
  return everyday ? model.names[rank] + " (" + everyday + ")" : model.names[rank];
}
