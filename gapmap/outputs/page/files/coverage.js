/* The view of coverage: how each square stands, how hard it was looked at, what is known of it. */
const coverageView = {
  id: "coverage",
  controls: ["measure", "date_class"],

  isThere: () => true,

  measures: () => facts.measures,

  paint() {
    if (state.measure === "standing") return paintStanding(state.place);
    if (state.measure === "refound") return paintRefound(state.place);
    if (state.measure === "still") return paintStill();
    return paintNumber(state.measure, state.place);
  },

  facts(i, box) {
    squareFacts(i, box, state.place);
    stillFacts(i, box);
    speciesOfSquare(i, box);
  },

  table() {
    const place = state.place;
    const names = ["species", "records", "visits", "lists", "recorders", "last"].filter(isTold);
    const heads = [["reference", false], ...names.map((name) => [name, true])];
    const standings = facts.standings.length > 0;
    if (standings) heads.push(["standing", false], ["estimate", true], ["reason", false]);
    const last = heads.length;
    if (isStillTold()) heads.push(["still", true]);
    const rows = Array.from({ length: model.count }, (_, i) => i);
    return {
      heads: heads.map(([key, isNumber]) => ({ text: say("head_" + key), isNumber })),
      rows,
      square: (i) => i,
      cell(i, c) {
        if (c === 0) return reference(i);
        if (c === last) return columns.get("still.still_to_find")[i];
        if (c <= names.length) {
          const value = effort(names[c - 1], place)[i];
          return names[c - 1] === "last" ? yearOrNone(value) : value;
        }
        if (c === names.length + 1) return facts.standings[standing("code", place)[i] - 1] || "";
        if (c === names.length + 2) return standing("estimate", place)[i];
        return columns.text("standing." + place + ".reason", i);
      },
    };
  },
};

function isVisited(i, place) {
  return effort("records", place)[i] > 0;
}

function paintStanding(place) {
  const lines = [{ label: say("no_statement"), ...NOT_VISITED, quiet: true }];
  facts.standings.forEach((word, n) => lines.push({ label: word, ...standingLook(n) }));
  const painting = new Painting(say("title_standing", { when: classWord(place) }), lines);
  const codes = standing("code", place);
  for (let i = 0; i < model.count; i += 1) painting.codes[i] = codes[i];
  return painting;
}

/* Fill and hatch of a standing, as the facts name them. */
function standingLook(n) {
  const [fill, hatch] = facts.standing_looks[n];
  const fills = { paper: PAPER, pale: PALE };
  return { fill: fills[fill] || STEPS[Number(fill)], hatch };
}

function paintNumber(name, place) {
  const isYear = name === "last";
  const values = effort(name, place);
  const ends = stepEnds(effort(name, 0));
  const fills = stepFills(Math.max(ends.length, 1));
  const labels = isYear ? yearLabels(ends, effort(name, 0)) : stepLabels(ends, number);
  const lines = [{ label: say("not_visited"), ...NOT_VISITED }, { label: isYear ? say("year_unknown") : say("none_" + name), ...CANNOT_SAY, quiet: true }];
  labels.forEach((label, s) => lines.push({ label, fill: fills[s], hatch: "" }));
  const painting = new Painting(say("title_" + name, { when: classWord(place) }), lines);
  const records = effort("records", place);
  for (let i = 0; i < model.count; i += 1) {
    painting.codes[i] = values[i] > 0 ? 2 + stepOf(values[i], ends) : records[i] > 0 ? 1 : 0;
  }
  painting.note = say("same_steps");
  return painting;
}

function yearLabels(ends, values) {
  let least = Infinity;
  for (const v of values) if (v > 0 && v < least) least = v;
  return ends.map((end, s) => {
    const from = s === 0 ? least : ends[s - 1] + 1;
    return from === end ? String(end) : from + "–" + end;
  });
}

function paintRefound(place) {
  const values = standing("refound_share", place);
  const lines = [{ label: say("not_visited"), ...NOT_VISITED }, { label: say("none_known_before"), ...CANNOT_SAY }];
  STEPS.forEach((fill, s) => lines.push({ label: say("percent_range", { from: s * 20, to: s === 4 ? 100 : s * 20 + 19 }), fill, hatch: "" }));
  const painting = new Painting(say("title_refound", { when: classWord(place) }), lines);
  const records = effort("records", place);
  for (let i = 0; i < model.count; i += 1) {
    painting.codes[i] = !(records[i] > 0) ? 0 : values[i] >= 0 ? 2 + Math.min(4, Math.floor(values[i] * 5)) : 1;
  }
  return painting;
}

/* Species never found in the square that are to be expected there, all chances added up. */
function isStillTold() {
  return facts.measures.includes("still");
}

function paintStill() {
  const values = columns.get("still.still_to_find").map(Math.round);
  const ends = stepEnds(values);
  const fills = stepFills(Math.max(ends.length, 1));
  const lines = [{ label: say("cannot_say"), ...CANNOT_SAY }, { label: say("none_still"), fill: PAPER, hatch: "", quiet: true }];
  stepLabels(ends, number).forEach((label, s) => lines.push({ label, fill: fills[s], hatch: "" }));
  const painting = new Painting(say("title_still"), lines);
  for (let i = 0; i < model.count; i += 1) {
    painting.codes[i] = !(values[i] >= 0) ? 0 : values[i] > 0 ? 2 + stepOf(values[i], ends) : 1;
  }
  painting.note = say("note_still");
  return painting;
}

function stillFacts(i, box) {
  if (!isStillTold()) return;
  const [n, low, high] = ["still_to_find", "still_low", "still_high"].map((name) => Math.round(columns.get("still." + name)[i]));
  box.append(element("p", n >= 0 ? say("still_range", { n, low, high }) : say("still_unknown"), "reason"));
}
