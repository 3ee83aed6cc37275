/* The state as the part of the address after #, so that a view can be sent or kept. */
/* The address follows when things have come to rest: writing it is slow. */
const ADDRESS_AFTER_MS = 120;
const KINDS = ["both", "never", "refind"];
let addressAsked = 0;

function writeAddress() {
  clearTimeout(addressAsked);
  addressAsked = setTimeout(writeAddressNow, ADDRESS_AFTER_MS);
}

/* What the map shows: the view and what was chosen in it. */
function choicesWritten() {
  const parts = new URLSearchParams();
  parts.set("view", state.view);
  const shown = view().controls;
  if (shown.includes("measure")) parts.set("by", state.measure);
  if (shown.includes("date_class")) parts.set("dates", state.place ? facts.classes[state.place - 1] : "all");
  if (shown.includes("species") || (shown.includes("species_or_all") && !state.every)) parts.set("species", model.names[state.species]);
  if (shown.includes("month") && state.month) parts.set("month", state.month);
  if (shown.includes("kind") && state.kind !== "both") parts.set("kind", state.kind);
  if (shown.includes("year")) parts.set("year", state.year);
  if (shown.includes("volunteer") && state.volunteer) parts.set("for", state.volunteer);
  return parts;
}

function writeAddressNow() {
  const parts = choicesWritten();
  if (state.square >= 0) parts.set("square", reference(state.square));
  for (const name of ["table", "projector", "coarse"]) if (state[name]) parts.set(name, "yes");
  if (state.beside) parts.set("beside", state.beside);
  const centre = map.getCenter();
  parts.set("at", [Math.round(centre.lng), Math.round(centre.lat), map.getZoom()].join(" "));
  history.replaceState(null, "", "#" + parts.toString());
}

/* Everything in the address is looked up among what the page has; what is not there is passed over. */
function readChoices(parts) {
  const pick = (name, list, found) => {
    const at = parts.has(name) ? list.indexOf(parts.get(name)) : -1;
    if (at >= 0) found(at);
  };
  pick("view", views.map((v) => v.id), (k) => (state.view = views[k].id));
  pick("by", coverageView.measures(), (k) => (state.measure = coverageView.measures()[k]));
  pick("dates", ["all", ...facts.classes], (k) => (state.place = k));
  pick("species", model.names, (k) => Object.assign(state, { species: k, every: false }));
  pick("month", Array.from({ length: 13 }, (_, m) => String(m)), (k) => (state.month = k));
  pick("kind", KINDS, (k) => (state.kind = KINDS[k]));
  pick("for", columns.get("visit.volunteer") || [], () => (state.volunteer = parts.get("for")));
  const year = Number(parts.get("year"));
  if (growthView.isThere() && year >= growthYears().first && year <= growthYears().last) state.year = year;
}

function readAddress() {
  const parts = new URLSearchParams(location.hash.slice(1));
  readChoices(parts);
  const square = parts.has("square") ? squareOfReference(parts.get("square")) : -1;
  if (square >= 0 && square < shownCount()) state.square = square;
  for (const name of ["table", "projector", "coarse"]) state[name] = parts.get(name) === "yes";
  state.beside = parts.get("beside") || "";
  const at = (parts.get("at") || "").split(" ").map(Number);
  return at.length === 3 && at.every(Number.isFinite) ? at : null;
}
