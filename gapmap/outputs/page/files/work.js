/* The two views of work to be done: the planned visits, and the records to look at. */
const visitsView = {
  id: "visits",
  controls: ["volunteer", "month"],

  isThere: () => columns.has("visit.square"),

  paint() {
    const lines = [{ label: say("no_visit_planned"), ...NONE }, { label: say("visit_planned"), fill: STEPS[0], hatch: "" }, { label: say("visits_planned_several"), fill: STEPS[1], hatch: "back", quiet: true }];
    const painting = new Painting(say("title_planned", { who: state.volunteer || say("everybody"), when: monthName() }), lines);
    const at = new Map();
    for (const v of visitRows()) {
      const i = columns.get("visit.square")[v];
      at.set(i, [...(at.get(i) || []), columns.get("visit.visit_id")[v]]);
    }
    at.forEach((ids, i) => (painting.codes[i] = ids.length > 1 ? 2 : 1));
    painting.numbers = new Map(Array.from(at, ([i, ids]) => [i, ids.length > 3 ? ids.slice(0, 2).join(" ") + " …" : ids.join(" ")]));
    painting.note = say("visits_note");
    return painting;
  },

  overview(box) {
    box.append(element("h2", counted(visitRows().length, "visits_heading", { when: monthName() })));
    for (const v of visitRows()) box.append(visitFacts(v, true));
    box.append(element("p", say("take_care"), "care"));
  },

  facts(i, box) {
    for (const v of visitRows()) if (columns.get("visit.square")[v] === i) box.append(visitFacts(v, false));
    squareFacts(i, box, facts.classes.length);
  },

  table() {
    const heads = [["reference"], ["visit"], ["volunteer"], ["day"], ["time_of_day"], ["gain", true], ["travel_km", true], ["targets"]];
    return {
      heads: heads.map(([key, isNumber]) => ({ text: say("head_" + key), isNumber })),
      rows: visitRows(),
      square: (v) => columns.get("visit.square")[v],
      cell(v, c) {
        if (c === 0) return reference(columns.get("visit.square")[v]);
        if (c === 1) return String(columns.get("visit.visit_id")[v]);
        if (c === 3) return visitDay(v);
        return columns.get("visit." + heads[c][0])[v];
      },
    };
  },
};

function visitRows() {
  const rows = [];
  columns.get("visit.volunteer").forEach((name, v) => {
    const inMonth = !state.month || columns.get("visit.month")[v] === state.month;
    if (inMonth && (!state.volunteer || name === state.volunteer)) rows.push(v);
  });
  return rows;
}

function visitDay(v) {
  const day = columns.get("visit.day")[v];
  return (day && dayWord(day)) || say("months_long").split(" ")[columns.get("visit.month")[v] - 1] || "";
}

function visitFacts(v, withSquare) {
  const part = element("div", "", "expected");
  const head = element("p", "", "expected-head");
  const i = columns.get("visit.square")[v];
  if (withSquare) {
    const button = element("button", columns.get("visit.visit_id")[v] + " · " + reference(i), "link");
    button.type = "button";
    button.dataset.square = i;
    head.append(button);
  } else {
    head.append(element("strong", say("visit_number", { n: columns.get("visit.visit_id")[v] })));
  }
  head.append(element("span", visitDay(v), "count"));
  part.append(head);
  const said = [columns.get("visit.volunteer")[v], columns.get("visit.time_of_day")[v]].filter(Boolean);
  const travel = columns.get("visit.travel_km")[v], gain = columns.get("visit.gain")[v];
  if (travel >= 0) said.push(say("one_way", { n: oneDecimal(travel) }));
  if (gain >= 0) said.push(say("gain_line", { n: oneDecimal(gain) }));
  part.append(element("p", said.join(" · "), "small"));
  const targets = columns.get("visit.targets")[v];
  if (targets) part.append(element("p", say("look_for", { species: targets }), "reason"));
  return part;
}

const recordsView = {
  id: "records",
  controls: [],
  showsBeyond: true,

  isThere: () => columns.has("finding.square"),

  paint() {
    const counts = new Uint32Array(model.count + facts.beyond);
    for (const place of columns.get("finding.square")) if (place > 0) counts[place - 1] += 1;
    const ends = stepEnds(counts);
    const fills = stepFills(Math.max(ends.length, 1));
    const lines = [{ label: say("nothing_to_look_at"), ...NONE }];
    stepLabels(ends, number).forEach((label, s) => lines.push({ label, fill: fills[s], hatch: "" }));
    const painting = new Painting(say("title_records"), lines);
    counts.forEach((n, i) => (painting.codes[i] = n ? 1 + stepOf(n, ends) : 0));
    return painting;
  },

  overview(box) {
    const all = columns.get("finding.square").length;
    box.append(element("h2", counted(all, "records_heading")), element("p", say("records_help"), "help"));
    findingsByRecorder().forEach((rows, who) => box.append(recorderFindings(who, rows)));
    const first = box.querySelector("details");
    if (first) first.open = true;
  },

  facts(i, box) {
    columns.get("finding.square").forEach((place, f) => {
      if (place - 1 === i) box.append(findingFacts(f));
    });
    if (i < model.count) squareFacts(i, box, 0);
    else box.append(element("p", say("beyond_area"), "reason"));
  },

  table() {
    const texts = ["date", "recorders", "place", "where", "reasons", "slip", "ask_for"];
    const heads = [["reference"], ["species"], ["one_in", true], ["nearest_km", true], ...texts.map((name) => [name])];
    return {
      heads: heads.map(([key, isNumber]) => ({ text: say(key === "recorders" ? "head_recorders_names" : "head_" + key), isNumber })),
      rows: Array.from(columns.get("finding.square").keys()),
      square: (f) => columns.get("finding.square")[f] - 1,
      cell(f, c) {
        if (c === 0) return columns.get("finding.square")[f] ? reference(columns.get("finding.square")[f] - 1) : "";
        if (c === 1) return findingName(f);
        return columns.get("finding." + heads[c][0])[f];
      },
    };
  },
};

function findingName(f) {
  const rank = columns.get("finding.species")[f] - 1;
  return rank >= 0 ? speciesWord(rank) : "";
}

/* Who recorded what there is to look at, whoever has the oddest record first. */
function findingsByRecorder() {
  const groups = new Map();
  columns.get("finding.recorders").forEach((who, f) => groups.set(who, [...(groups.get(who) || []), f]));
  return groups;
}

/* One recorder's records, written out when they are asked for. */
function recorderFindings(who, rows) {
  const part = element("details", "");
  part.append(element("summary", say("records_of", { who: who || say("no_recorder"), n: rows.length })));
  part.addEventListener("toggle", () => {
    if (part.open && part.childElementCount === 1) for (const f of rows) part.append(findingFacts(f));
  });
  return part;
}

/* Where the species is known, and the square of this record, on a map the size of a stamp. */
const STAMP_SIDE = 240, STAMP_EDGE = 8;
function stampMap(f) {
  const rank = columns.get("finding.species")[f] - 1, place = columns.get("finding.square")[f] - 1;
  if (rank < 0 || place < 0) return null;
  const stamp = emptyStamp(place), canvas = element("canvas", "", "stamp");
  canvas.width = stamp.canvas.width;
  canvas.height = stamp.canvas.height;
  const ink = canvas.getContext("2d");
  ink.drawImage(stamp.canvas, 0, 0);
  ink.fillStyle = STEPS[4];
  let n = 0;
  eachFound(rank, (i) => {
    stamp.fill(ink, squareBox(i));
    n += 1;
  });
  canvas.setAttribute("role", "img");
  canvas.setAttribute("aria-label", say("stamp_words", { species: speciesWord(rank), n }));
  canvas.title = canvas.getAttribute("aria-label");
  ink.strokeStyle = ALERT;
  ink.lineWidth = 3;
  ink.beginPath();
  ink.arc(...stamp.at(squareCentre(place)), 7, 0, 7);
  ink.stroke();
  return canvas;
}

/* All squares of the map, pale; drawn once for the places on it, and with its own frame for a place beyond. */
function emptyStamp(place) {
  if (place < model.count) return columns.once("empty stamp", () => drawEmptyStamp(-1));
  return drawEmptyStamp(place);
}

function drawEmptyStamp(beyond) {
  const [west, south, east, north] = boundsOfSquares(beyond), scale = STAMP_SIDE / Math.max(east - west, north - south);
  const canvas = document.createElement("canvas");
  canvas.width = Math.ceil((east - west) * scale) + 2 * STAMP_EDGE;
  canvas.height = Math.ceil((north - south) * scale) + 2 * STAMP_EDGE;
  const at = ([easting, northing]) => [STAMP_EDGE + (easting - west) * scale, STAMP_EDGE + (north - northing) * scale];
  const fill = (ink, box) => {
    const side = Math.max((box[2] - box[0]) * scale, 2);
    ink.fillRect(...at([box[0], box[3]]), side, side);
  };
  const ink = canvas.getContext("2d");
  ink.fillStyle = PALE;
  for (let i = 0; i < model.count; i += 1) fill(ink, squareBox(i));
  return { canvas, at, fill };
}

/* West, south, east, north of the map's squares, and of one beyond them. */
function boundsOfSquares(beyond) {
  const bounds = [Infinity, Infinity, -Infinity, -Infinity];
  const widen = ([west, south, east, north]) => {
    bounds[0] = Math.min(bounds[0], west);
    bounds[1] = Math.min(bounds[1], south);
    bounds[2] = Math.max(bounds[2], east);
    bounds[3] = Math.max(bounds[3], north);
  };
  for (let i = 0; i < model.count; i += 1) widen(squareBox(i));
  if (beyond >= 0) widen(squareBox(beyond));
  return bounds;
}

function findingFacts(f) {
  const part = element("div", "", "expected");
  const head = element("p", "", "expected-head");
  const i = columns.get("finding.square")[f] - 1;
  head.append(element("strong", findingName(f)));
  if (i >= 0) {
    const button = element("button", reference(i), "link");
    button.type = "button";
    button.dataset.square = i;
    head.append(button);
  }
  part.append(head);
  const stamp = stampMap(f);
  if (stamp) part.append(stamp);
  const said = ["date", "place", "recorders", "where"].map((name) => columns.get("finding." + name)[f]).filter(Boolean);
  const oneIn = columns.get("finding.one_in")[f];
  if (oneIn >= 0) said.push(say("one_in_line", { n: oneIn }));
  part.append(element("p", said.join(" · "), "small"));
  for (const line of columns.get("finding.reasons")[f].split("\n").filter(Boolean)) part.append(element("p", line, "reason"));
  for (const name of ["slip", "ask_for"]) {
    const text = columns.get("finding." + name)[f];
    if (text) part.append(element("p", say("finding_" + name, { text }), "reason"));
  }
  return part;
}
