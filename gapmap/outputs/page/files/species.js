/* The view of one species through the date classes. */
const speciesView = {
  id: "species",
  controls: ["species", "date_class"],

  isThere: () => model.names.length > 0,

  paint() {
    return state.place === 0 ? paintThroughClasses(state.species) : paintOneClass(state.species, state.place);
  },

  overview(box) {
    const rank = state.species;
    box.append(element("h2", speciesWord(rank)));
    const list = element("dl", "");
    const counts = facts.classes.map(() => 0);
    eachFound(rank, (i, classes) => {
      for (let k = 0; k < counts.length; k += 1) counts[k] += (classes >> k) & 1;
    });
    addFact(list, say("squares_with_it"), number(spread().start[rank + 1] - spread().start[rank]));
    facts.classes.forEach((label, k) => addFact(list, label, counted(counts[k], "squares")));
    for (const name of ["group", "difficulty", "months", "time_of_day"]) {
      const text = columns.get("species." + name)[rank];
      if (name === "months" && text) addFact(list, say("species_months"), monthsSpan(text));
      else if (text) addFact(list, say("species_" + name), text);
    }
    box.append(list);
  },

  facts(i, box) {
    const row = rowOf(i, state.species);
    const list = element("dl", "");
    addFact(list, speciesWord(state.species), row < 0 ? say("never_found_here") : say("found_here"));
    if (row >= 0) {
      facts.classes.forEach((label, k) => addFact(list, label, (found().classes[row] >> k) & 1 ? say("found") : say("not_found")));
      foundDetail(row).forEach(([label, text]) => addFact(list, label, text));
    }
    box.append(list);
    squareFacts(i, box, state.place);
  },

  table() {
    const rank = state.species;
    const { start, square, row } = spread();
    const rows = [];
    for (let p = start[rank]; p < start[rank + 1]; p += 1) rows.push(p);
    const detail = ["records", "first", "last"].filter((name) => columns.has("found." + name));
    return {
      heads: [{ text: say("head_reference") }, ...facts.classes.map((text) => ({ text })), ...detail.map((name) => ({ text: say("head_" + name), isNumber: true }))],
      rows,
      square: (p) => square[p],
      cell(p, c) {
        if (c === 0) return reference(square[p]);
        if (c <= facts.classes.length) return (found().classes[row[p]] >> (c - 1)) & 1 ? say("found") : "";
        const name = detail[c - 1 - facts.classes.length], value = columns.get("found." + name)[row[p]];
        return name === "records" ? value : yearOrNone(value);
      },
    };
  },
};

function foundDetail(row) {
  if (!columns.has("found.records")) return [];
  const first = columns.get("found.first")[row], last = columns.get("found.last")[row];
  return [
    [say("head_records"), number(columns.get("found.records")[row])],
    ...(isTold("visits") ? [[say("head_visits"), number(columns.get("found.visits")[row])]] : []),
    [say("first_and_last"), first === last ? yearText(first) : yearText(first) + " – " + yearText(last)],
  ];
}

/* For squares where a species was not found: 0 not visited, 1 too few visits to say, 2 looked and not found. Kept for each date class. */
const looked = new Map();
function lookedCodes(place) {
  if (!looked.has(place)) {
    const codes = new Uint8Array(model.count);
    const standings = facts.standings.length ? standing("code", place) : null, records = effort("records", place);
    for (let i = 0; i < model.count; i += 1) {
      const carries = standings && standings[i] > 0 && facts.standing_carries[standings[i] - 1];
      codes[i] = !(records[i] > 0) ? 0 : carries ? 2 : 1;
    }
    looked.set(place, codes);
  }
  return looked.get(place);
}

function lookedLines() {
  return [
    { label: say("not_visited"), ...NOT_VISITED },
    { label: say("not_found_too_few"), ...CANNOT_SAY },
    { label: say("visited_not_found"), ...NONE },
  ];
}

function paintThroughClasses(rank) {
  const fills = stepFills(Math.max(facts.classes.length, 1));
  const lines = [...lookedLines(), { label: say("date_crosses"), fill: PALE, hatch: "cross", quiet: true }];
  facts.classes.forEach((label, k) => lines.push({ label: say("last_found_in", { when: label }), fill: fills[k], hatch: "" }));
  const painting = new Painting(say("title_species_classes", { species: speciesWord(rank) }), lines);
  painting.codes.set(lookedCodes(0));
  eachFound(rank, (i, classes) => (painting.codes[i] = classes ? 4 + 31 - Math.clz32(classes) : 3));
  return painting;
}

function paintOneClass(rank, place) {
  const when = classWord(place);
  const lines = [
    ...lookedLines(),
    { label: say("found_before_not_since"), fill: STEPS[1], hatch: "back" },
    { label: say("found_only_later"), fill: STEPS[0], hatch: "", quiet: true },
    { label: say("date_crosses"), fill: PALE, hatch: "cross", quiet: true },
    { label: say("found_in", { when }), fill: STEPS[4], hatch: "" },
  ];
  const painting = new Painting(say("title_species_class", { species: speciesWord(rank), when }), lines);
  painting.codes.set(lookedCodes(place));
  const bit = 1 << (place - 1);
  eachFound(rank, (i, classes) => (painting.codes[i] = classes & bit ? 6 : classes & (bit - 1) ? 3 : classes ? 4 : 5));
  return painting;
}
