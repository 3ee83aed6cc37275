/* The side panel: facts of the chosen square, facts of the view, and the words about the numbers. */
function addFact(list, label, text) {
  const row = element("div", "");
  row.append(element("dt", label), element("dd", text));
  list.append(row);
}

/* What is known of a square in a date class, whatever the view. */
function squareFacts(i, box, place) {
  box.append(element("h3", say("effort_in", { when: classWord(place) })));
  const list = element("dl", "");
  if (facts.standings.length) {
    const code = standing("code", place)[i];
    if (code) addFact(list, say("head_standing"), facts.standings[code - 1]);
  }
  if (isVisited(i, place)) {
    for (const name of ["species", "records", "visits", "lists", "recorders"]) {
      if (isTold(name)) addFact(list, say("head_" + name), number(effort(name, place)[i]));
    }
    addFact(list, say("head_last"), yearText(effort("last", place)[i]));
    const months = effort("months", place) ? monthsWord(effort("months", place)[i]) : "";
    if (months) addFact(list, say("months_visited"), months);
    estimateFacts(i, list, place);
  } else {
    addFact(list, say("head_records"), say("none"));
  }
  box.append(list);
  const reason = facts.standings.length ? columns.text("standing." + place + ".reason", i) : "";
  if (reason) box.append(element("p", reason, "reason"));
  const notDone = columns.text("effort." + place + ".not_done", i);
  if (notDone) box.append(element("p", notDone, "reason"));
}

/* Whether the records tell this at all: where no file knows days there are no visits to speak of. */
function isTold(name) {
  return facts.told.includes(name);
}

function estimateFacts(i, list, place) {
  if (!facts.standings.length) return;
  const estimate = standing("estimate", place)[i];
  if (estimate >= 0) {
    addFact(list, say("head_estimate"), say("estimate_range", {
      n: Math.round(estimate), low: Math.round(standing("estimate_low", place)[i]), high: Math.round(standing("estimate_high", place)[i]),
    }));
  } else {
    addFact(list, say("head_estimate"), say("cannot_say"));
  }
  const share = standing("refound_share", place)[i];
  if (share >= 0) addFact(list, say("refound"), say("percent", { n: Math.round(share * 100) }));
  const needed = standing("visits_needed", place)[i];
  if (needed > 0) addFact(list, say("visits_needed"), number(needed));
}

/* A bit set of months as first letters would be guessed at: as names. */
function monthsWord(bits) {
  const names = say("months_short").split(" ");
  return names.filter((_, m) => (bits >> m) & 1).join(" ");
}

/* "4-10" as people say it. */
function monthsSpan(text) {
  const names = say("months_short").split(" ");
  return text === "1-12" ? say("all_year") : text.replace(/\d+/g, (m) => names[m - 1] || m).replace(/-/g, "–");
}

/* The species of a square, the most often seen first, each a way to its own map. */
function speciesOfSquare(i, box) {
  const { start, species, classes } = found();
  const inPlace = (k) => state.place === 0 || (classes[k] >> (state.place - 1)) & 1;
  const rows = [];
  for (let k = start[i]; k < start[i + 1]; k += 1) if (inPlace(k)) rows.push(k);
  const part = element("details", "");
  part.append(element("summary", counted(rows.length, "species_here", { when: classWord(state.place) })));
  const list = element("ul", "", "species");
  for (const k of rows) {
    const item = element("li", "");
    const button = element("button", speciesWord(species[k]), "link");
    button.type = "button";
    button.dataset.species = species[k];
    item.append(button);
    if (columns.has("found.last")) item.append(element("span", yearText(columns.get("found.last")[k]), "count"));
    list.append(item);
  }
  part.append(list);
  part.open = rows.length <= 60;
  box.append(part);
}

function showSquare() {
  const box = document.getElementById("facts-of-square");
  box.textContent = "";
  const i = state.square;
  if (i < 0) {
    box.append(element("p", say("choose_square"), "help"));
    return;
  }
  box.append(element("h2", say("square_heading", { square: reference(i) })));
  view().facts(i, box);
}

function showView() {
  const box = document.getElementById("view-facts");
  box.textContent = "";
  if (view().overview) view().overview(box);
}

/* Method, thresholds and remarks in plain words. */
function showAbout() {
  const box = document.getElementById("about-text");
  const sections = [
    ["about_thresholds", facts.thresholds],
    ["about_remarks", facts.remarks],
    ["about_files", facts.files],
  ];
  for (const line of say("about_numbers").split("\n")) box.append(element("p", line));
  for (const [key, lines] of sections) {
    if (!lines.length) continue;
    box.append(element("h2", say(key)));
    const list = element("ul", "");
    for (const line of lines) list.append(element("li", line));
    box.append(list);
  }
  document.getElementById("made").textContent = [
    say("made_on", { day: dayWord(facts.made_on) }),
    say("grid_line", { grid: facts.system, side: sideWord() }),
    facts.files.length ? say("made_from", { files: facts.files.join(", ") }) : "",
    facts.too_coarse ? counted(facts.too_coarse, "too_coarse") : "",
  ].filter(Boolean).join(" ");
}

/* 2026-01-31 as people write it. */
function dayWord(text) {
  const [year, month, day] = text.split("-").map(Number);
  return say("day_of_month", { day: String(day), month: say("months_long").split(" ")[month - 1], year: String(year) });
}

function sideWord() {
  return facts.side >= 1000 ? say("kilometres", { n: facts.side / 1000 }) : say("metres", { n: facts.side });
}
