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
    const squares = model.speciesStart[rank + 1] - model.speciesStart[rank];
    addFact(list, say("squares_with_it"), number(squares));
    facts.classes.forEach((label, k) => {
      let count = 0;
      for (let p = model.speciesStart[rank]; p < model.speciesStart[rank + 1]; p += 1) {
        count += (model.foundClasses[model.speciesRow[p]] >> k) & 1;
      }
      addFact(list, label, counted(count, "squares"));
    });
    for (const name of ["group", "difficulty", "months", "time_of_day"]) {
      const text = columns.get("species." + name)[rank];
      if (text) addFact(list, say("species_" + name), text);
    }
    box.append(list);
  },

  facts(i, box) {
    const row = rowOf(i, state.species);
    const list = element("dl", "");
    addFact(list, speciesWord(state.species), row < 0 ? say("never_found_here") : say("found_here"));
    if (row >= 0) {
      facts.classes.forEach((label, k) => addFact(list, label, (model.foundClasses[row] >> k) & 1 ? say("found") : say("not_found")));
      foundDetail(row).forEach(([label, text]) => addFact(list, label, text));
    }
    box.append(list);
    squareFacts(i, box, state.place);
  },

  table() {
    const rank = state.species;
    const rows = [];
    for (let p = model.speciesStart[rank]; p < model.speciesStart[rank + 1]; p += 1) rows.push(p);
    const detail = ["records", "first", "last"].filter((name) => columns.has("found." + name));
    return {
      heads: [{ text: say("head_reference") }, ...facts.classes.map((text) => ({ text })), ...detail.map((name) => ({ text: say("head_" + name), isNumber: true }))],
      rows,
      square: (p) => model.speciesSquare[p],
      cell(p, c) {
        if (c === 0) return model.references[model.speciesSquare[p]];
        const row = model.speciesRow[p];
        if (c <= facts.classes.length) return (model.foundClasses[row] >> (c - 1)) & 1 ? say("found") : "";
        return columns.get("found." + detail[c - 1 - facts.classes.length])[row];
      },
    };
  },
};

/* Row of a species in a square; -1 when it was never found there. */
function rowOf(i, rank) {
  for (let k = model.foundStart[i]; k < model.foundStart[i + 1]; k += 1) if (model.foundSpecies[k] === rank) return k;
  return -1;
}

function foundDetail(row) {
  if (!columns.has("found.records")) return [];
  const first = columns.get("found.first")[row], last = columns.get("found.last")[row];
  return [
    [say("head_records"), number(columns.get("found.records")[row])],
    [say("head_visits"), number(columns.get("found.visits")[row])],
    [say("first_and_last"), first === last ? yearText(first) : yearText(first) + " – " + yearText(last)],
  ];
}

/* For squares where a species was not found: 0 not visited, 1 too few visits to say, 2 looked and not found. Kept for each date class. */
const looked = new Map();
function lookedCodes(place) {
  if (!looked.has(place)) {
    const codes = new Uint8Array(model.count);
    const standings = facts.standings.length ? standing("code", place) : null;
    for (let i = 0; i < model.count; i += 1) {
      const carries = standings && standings[i] > 0 && facts.standing_carries[standings[i] - 1];
      codes[i] = !isVisited(i, place) ? 0 : carries ? 2 : 1;
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
  for (let p = model.speciesStart[rank]; p < model.speciesStart[rank + 1]; p += 1) {
    const classes = model.foundClasses[model.speciesRow[p]];
    painting.codes[model.speciesSquare[p]] = classes ? 4 + 31 - Math.clz32(classes) : 3;
  }
  return painting;
}

function paintOneClass(rank, place) {
  const when = classWord(place);
  const lines = [
    ...lookedLines(),
    { label: say("found_before_not_since", { when }), fill: STEPS[1], hatch: "back" },
    { label: say("found_only_later", { when }), fill: STEPS[0], hatch: "", quiet: true },
    { label: say("date_crosses"), fill: PALE, hatch: "cross", quiet: true },
    { label: say("found_in", { when }), fill: STEPS[4], hatch: "" },
  ];
  const painting = new Painting(say("title_species_class", { species: speciesWord(rank), when }), lines);
  painting.codes.set(lookedCodes(place));
  const bit = 1 << (place - 1);
  for (let p = model.speciesStart[rank]; p < model.speciesStart[rank + 1]; p += 1) {
    const classes = model.foundClasses[model.speciesRow[p]];
    painting.codes[model.speciesSquare[p]] = classes & bit ? 6 : classes & (bit - 1) ? 3 : classes ? 4 : 5;
  }
  return painting;
}
