/* The view of what is still to find: which species are expected where, and when to look. */
/* Species of a square shown at once; the others open on demand. */
const FIRST_SHOWN = 5;
const CHANCE_ENDS = [0.2, 0.4, 0.6, 0.8, 1];
const findView = {
  id: "find",
  /* Where no species has its months, a month to choose would change nothing. */
  get controls() {
    const months = columns.get("expected.best_months.forms").some(monthsFromWords) ? ["month"] : [];
    return ["species_or_all", ...months, "kind"];
  },

  isThere: () => columns.has("expected.species"),

  paint() {
    return state.every ? paintGain() : paintChance(state.species);
  },

  overview(box) {
    box.append(element("h2", say("best_squares", { when: monthName() })));
    const ranked = rankedSquares(10);
    if (!ranked.length) {
      box.append(element("p", say("nothing_expected"), "help"));
      return;
    }
    const list = element("ol", "", "ranked");
    for (const [i, value] of ranked) {
      const item = element("li", "");
      const button = element("button", reference(i), "link");
      button.type = "button";
      button.dataset.square = i;
      item.append(button, element("span", state.every ? say("new_species", { n: oneDecimal(value / 100) }) : say("percent", { n: value }), "count"));
      list.append(item);
    }
    box.append(list);
    box.append(element("p", say("expected_kept_" + facts.edition, { n: columns.get("expected.most")[0] }), "help"));
  },

  facts(i, box) {
    const rows = expectedRows(i);
    if (rows.length && state.every) box.append(whyHere(i, rows));
    box.append(element("h3", say("still_to_find", { n: rows.length, when: monthName() })));
    box.append(element("p", rows.length ? say("chance_help") : nothingHere(i), "help"));
    for (const r of rows.slice(0, FIRST_SHOWN)) box.append(expectedFacts(r));
    if (rows.length > FIRST_SHOWN) {
      const rest = element("details", "");
      rest.append(element("summary", counted(rows.length - FIRST_SHOWN, "more_species")));
      for (const r of rows.slice(FIRST_SHOWN)) rest.append(expectedFacts(r));
      box.append(rest);
    }
    squareFacts(i, box, facts.classes.length);
  },

  table() {
    const rows = [];
    for (let i = 0; i < model.count; i += 1) rows.push(...expectedRows(i));
    const texts = ["grade", "best_months", "time_of_day", "method", "certainty", "why"];
    const heads = [["reference"], ["species"], ["chance_if_visited", true], ["chance", true], ["found_before"], ...texts.map((t) => [t])];
    return {
      heads: heads.map(([key, isNumber]) => ({ text: say("head_" + key), isNumber })),
      rows,
      square: (r) => expected().square[r],
      cell(r, c) {
        if (c === 0) return reference(expected().square[r]);
        if (c === 1) return speciesWord(expected().species[r]);
        if (c === 2) return expected().percent[r] / 100;
        if (c === 3) return columns.get("expected.chance")[r];
        if (c === 4) return foundBefore(expected().before[r]);
        return columns.text("expected." + texts[c - 5], r);
      },
    };
  },
};

/* Why there is nothing to show: the chosen species is found already, or nothing can be said. */
function nothingHere(i) {
  let found = false;
  if (!state.every) eachFound(state.species, (square) => (found = found || square === i));
  return found ? say("already_found_here", { species: speciesWord(state.species) }) : say("nothing_expected_here");
}

/* Why go there: what one visit may add, and what has been found there so far. */
function whyHere(i, rows) {
  const { percent, before } = expected();
  const again = rows.filter((r) => before[r] > 0).length;
  const n = oneDecimal(rows.reduce((sum, r) => sum + percent[r], 0) / 100);
  const last = effort("last", 0)[i];
  const key = isVisited(i, 0) && last > 0 ? "why_here" : "why_here_unvisited";
  return element("p", say(key, { n, never: rows.length - again, again, last: yearText(last) }), "why");
}

/* The rows of each square, the likeliest first: where they begin, and of each its square, its chance in whole per
   cent, the year it was last found (0: never) and when it answers a choice: a bit for each month (all where none is
   said), those of species never found here first, then those of species to find again. */
function expected() {
  return columns.once("expected rows", () => {
    const start = runningStarts(columns.get("expected.count"));
    const square = new Uint32Array(start[model.count]);
    for (let i = 0; i < model.count; i += 1) square.fill(i, start[i], start[i + 1]);
    const bits = columns.get("expected.best_months.forms").map((words) => monthsFromWords(words) || ALL_MONTHS), years = columns.get("expected.years");
    const before = Uint16Array.from(columns.get("expected.year"), (year) => years[year]);
    const answers = Uint32Array.from(columns.codes("expected.best_months.form"), (form, r) => (before[r] ? bits[form] << 12 : bits[form]));
    return { start, square, before, answers, species: columns.get("expected.species"), percent: columns.known("expected.percent") };
  });
}

/* The chances from their falls within each square, the first from a hundred. */
function expectedPercent() {
  const counts = columns.get("expected.count"), percent = Uint8Array.from(columns.get("expected.fall"));
  for (let i = 0, r = 0; i < counts.length; i += 1) {
    for (let k = 0, last = 100; k < counts[i]; k += 1, r += 1) last = percent[r] = last - percent[r];
  }
  return percent;
}

/* "Apr–Jun, Sep" as a bit set; runs go round the turn of the year. */
function monthsFromWords(text) {
  const names = say("months_short").toLowerCase().split(" ");
  const monthAt = (word) => names.indexOf(word.trim().toLowerCase().slice(0, 3));
  let bits = 0;
  for (const part of text.split(/[,;]| and /)) {
    const ends = part.split(/–|-| to /).map(monthAt);
    if (ends.some((m) => m < 0)) continue;
    for (let m = ends[0]; ; m = (m + 1) % 12) {
      bits |= 1 << m;
      if (m === ends[ends.length - 1]) break;
    }
  }
  return bits;
}

/* The bits of the month and the kind that are chosen: a row is asked for when its answers have one of them. */
const ALL_MONTHS = 4095;
function askedFor() {
  const bits = state.month > 0 ? 1 << (state.month - 1) : ALL_MONTHS;
  return (state.kind === "refind" ? 0 : bits) | (state.kind === "never" ? 0 : bits << 12);
}

function expectedRows(i) {
  const { start, species, answers } = expected(), asked = askedFor();
  const rows = [];
  for (let r = start[i]; r < start[i + 1]; r += 1) {
    if (answers[r] & asked && (state.every || species[r] === state.species)) rows.push(r);
  }
  return rows;
}

/* Chances added up in each square, in per cent; kept, as the map and the list ask for the same. */
function gains() {
  const asked = askedFor();
  return columns.once("gains " + asked, () => {
    const { start, percent, answers } = expected(), sums = new Uint16Array(model.count);
    for (let i = 0, r = 0; i < sums.length; i += 1) {
      let sum = 0;
      for (const end = start[i + 1]; r < end; r += 1) if (answers[r] & asked) sum += percent[r];
      sums[i] = sum;
    }
    return sums;
  });
}

/* The squares with the highest numbers, the highest first. */
function rankedSquares(most) {
  const values = state.every ? gains() : chancesOf(state.species);
  const best = [];
  for (let i = 0; i < values.length; i += 1) {
    if (!values[i] || (best.length === most && values[i] <= best[most - 1][1])) continue;
    let at = best.length;
    while (at > 0 && best[at - 1][1] < values[i]) at -= 1;
    best.splice(at, 0, [i, values[i]]);
    if (best.length > most) best.pop();
  }
  return best;
}

/* Chance of one species in each square, in per cent. */
function chancesOf(rank) {
  const { square, species, percent, answers } = expected(), asked = askedFor();
  const values = new Uint8Array(model.count);
  for (let r = 0; r < species.length; r += 1) if (species[r] === rank && answers[r] & asked) values[square[r]] = percent[r];
  return values;
}

function paintGain() {
  const sums = gains().map((percent) => Math.round(percent / 10));
  const ends = stepEnds(sums);
  const fills = stepFills(Math.max(ends.length, 1));
  const lines = [{ label: say("not_visited"), ...NOT_VISITED }, { label: say("nothing_expected_here"), ...CANNOT_SAY }];
  let low = 1;
  ends.forEach((end, s) => {
    lines.push({ label: oneDecimal(low / 10) + "–" + oneDecimal(end / 10), fill: fills[s], hatch: "" });
    low = end + 1;
  });
  const painting = new Painting(say("title_gain", { when: monthName() }), lines);
  const records = effort("records", 0);
  for (let i = 0; i < model.count; i += 1) painting.codes[i] = sums[i] > 0 ? 2 + stepOf(sums[i], ends) : records[i] > 0 ? 1 : 0;
  painting.note = say("gain_note");
  return painting;
}

function paintChance(rank) {
  const lines = [...lookedLines()];
  lines[2] = { label: say("unlikely_here"), ...NONE };
  lines.push({ label: say("already_found"), fill: "#ffffff", hatch: "cross" });
  CHANCE_ENDS.forEach((end, s) => lines.push({ label: say("percent_range", { from: s * 20, to: s === 4 ? 100 : s * 20 + 19 }), fill: STEPS[s], hatch: "" }));
  const painting = new Painting(say("title_chance", { species: speciesWord(rank), when: monthName() }), lines);
  painting.codes.set(lookedCodes(0));
  eachFound(rank, (i) => (painting.codes[i] = 3));
  chancesOf(rank).forEach((v, i) => {
    if (v > 0) painting.codes[i] = 4 + Math.min(4, Math.floor(v / 20));
  });
  painting.note = say("chance_note");
  return painting;
}

/* The year a species was last found in a square, where 1 stands for one that is not known and 0 for never. */
function foundBefore(year) {
  return year > 1 ? yearText(year) : year === 1 ? say("year_unknown") : "";
}

function expectedFacts(r) {
  const { species, percent, before } = expected();
  const part = element("div", "", "expected");
  const head = element("p", "", "expected-head");
  const button = element("button", speciesWord(species[r]), "link");
  button.type = "button";
  button.dataset.species = species[r];
  head.append(button, element("span", say("percent", { n: percent[r] }), "count"));
  part.append(head);
  const said = ["best_months", "time_of_day", "method", "certainty"].map((name) => columns.text("expected." + name, r)).filter(Boolean);
  if (before[r]) said.unshift(say("last_found_in", { when: foundBefore(before[r]) }));
  said.push(say("grade_line", { grade: columns.text("expected.grade", r) }));
  part.append(element("p", said.join(" · "), "small"));
  const why = columns.text("expected.why", r);
  if (why) part.append(element("p", why, "reason"));
  return part;
}

function monthName() {
  return state.month > 0 && view().controls.includes("month") ? say("months_long").split(" ")[state.month - 1] : say("any_month");
}

function oneDecimal(value) {
  return numbers.format(Math.round(value * 10) / 10);
}
