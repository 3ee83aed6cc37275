/* What was found where, read a piece at a time while nobody waits, and at once when somebody asks. */
let foundRead = null;
let spreadRead = null;
let reading = null;

/* Species of square i and their date classes (a bit set): rows start[i] to start[i + 1]. */
function found() {
  while (!foundRead) readOn();
  return foundRead;
}

/* Squares of species r and their rows in found(): places start[r] to start[r + 1]. */
function spread() {
  while (!spreadRead) readOn();
  return spreadRead;
}

function readOn() {
  reading = reading || readAll();
  reading.next();
}

function* readAll() {
  foundRead = yield* readFound();
  yield;
  spreadRead = yield* readSpread();
}

/* The gaps come place by place: the first species of every square, then the second of those that have two. */
function* readFound() {
  const start = runningStarts(columns.get("found.count"));
  const total = start[model.count];
  const gaps = columns.codes("found.gap");
  yield;
  const species = new Uint16Array(total);
  const reached = new Int32Array(model.count).fill(-1);
  let left = Uint32Array.from({ length: model.count }, (_, i) => i), at = 0;
  for (let place = 0; ; place += 1) {
    let many = 0;
    for (const i of left) if (start[i] + place < start[i + 1]) left[many++] = i;
    if (!many) break;
    left = left.subarray(0, many);
    for (let k = 0; k < many; k += 1) {
      const i = left[k];
      reached[i] += gaps[at++] + 1;
      species[start[i] + place] = reached[i];
    }
    yield;
  }
  return { start, species, classes: columns.codes("found.classes") };
}

function* readSpread() {
  const { start, species } = foundRead;
  const each = new Uint32Array(model.names.length);
  for (let k = 0; k < species.length; k += 1) each[species[k]] += 1;
  const starts = runningStarts(each), next = starts.slice();
  const square = new Uint32Array(species.length), row = new Uint32Array(species.length);
  for (let i = 0; i < model.count; i += 1) {
    for (let k = start[i]; k < start[i + 1]; k += 1) {
      const place = next[species[k]]++;
      square[place] = i;
      row[place] = k;
    }
    if (i % 2000 === 1999) yield;
  }
  return { start: starts, square, row };
}

/* Each place of a species: its square and the date classes it was found in there. */
function eachFound(rank, work) {
  const { start, square, row } = spread(), { classes } = found();
  for (let p = start[rank]; p < start[rank + 1]; p += 1) work(square[p], classes[row[p]]);
}

/* Row of a species in a square; -1 when it was never found there. */
function rowOf(i, rank) {
  const { start, species } = found();
  for (let k = start[i]; k < start[i + 1]; k += 1) if (species[k] === rank) return k;
  return -1;
}

/* How many species of each square were found in a class, places counted from 1. */
function foundCounts(place) {
  return countEach((classes) => (classes >> (place - 1)) & 1);
}

/* How many were found in it and in none before. */
function firstFoundCounts(place) {
  return countEach((classes) => ((classes & ((1 << place) - 1)) === 1 << (place - 1) ? 1 : 0));
}

function countEach(isCounted) {
  const start = runningStarts(columns.get("found.count")), classes = columns.codes("found.classes");
  const counts = new Uint16Array(model.count);
  for (let i = 0; i < model.count; i += 1) for (let k = start[i]; k < start[i + 1]; k += 1) counts[i] += isCounted(classes[k]);
  return counts;
}

/* What a click on a square and a change of species need, read a little at a time. */
function readAhead() {
  const idle = window.requestIdleCallback || ((work) => setTimeout(() => work({ timeRemaining: () => 8 }), 1));
  let squareRead = !model.count;
  const whileIdle = (deadline) => {
    while (deadline.timeRemaining() > 3 && !(squareRead && spreadRead)) {
      if (foundRead && !squareRead) {
        squareFacts(0, element("div", ""), state.place);
        squareRead = true;
      } else readOn();
    }
    if (!spreadRead) idle(whileIdle);
  };
  idle(whileIdle);
}
