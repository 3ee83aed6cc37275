/* The page itself: its state, the address, the controls, and what happens on a click or a key. */
const map = window.map_gapmap;
const VIEWS = [coverageView, speciesView, findView, growthView, visitsView, recordsView];
const state = {
  view: "coverage", measure: "visits", place: 0, species: 0, every: true, month: 0, kind: "both", year: 0,
  volunteer: "", square: -1, table: false, projector: false, coarse: false, beside: "",
};
let views = [];
let sheet = null;

function view() {
  return views.find((v) => v.id === state.view) || views[0];
}

/* The one way anything changes: what is shown follows from the state, and so does the address. */
function change(parts) {
  const before = { ...state };
  Object.assign(state, parts);
  if ("species" in parts) {
    state.every = state.species < 0;
    if (state.every) state.species = before.species;
  }
  if (parts.view && parts.view !== before.view) {
    stopPlaying();
    showControls();
  }
  if (state.square >= shownCount()) state.square = -1;
  showAll(state.square !== before.square || state.view !== before.view);
  writeAddress();
}

function showAll() {
  const painting = view().paint();
  document.getElementById("map-title").textContent = painting.title;
  document.body.classList.toggle("projecting", state.projector);
  document.body.classList.toggle("tabled", state.table);
  document.body.classList.toggle("chosen", state.square >= 0);
  showBeside();
  sheet.selected = state.square;
  sheet.paint(painting);
  drawLegend("key", painting);
  showSquare();
  showView();
  syncControls();
  showOutside();
  document.getElementById("table-side").hidden = !state.table;
  if (state.table) showTable();
}

function button(text, press) {
  const made = element("button", text);
  made.type = "button";
  made.addEventListener("click", press);
  return made;
}

function chooser(id, labelText, choices, read, write) {
  const wrap = element("div", "", "chooser");
  const label = element("label", labelText);
  label.htmlFor = id;
  const select = element("select", "");
  select.id = id;
  for (const [value, text] of choices) {
    const option = element("option", text);
    option.value = value;
    select.append(option);
  }
  select.value = read();
  select.addEventListener("change", () => write(select.value));
  select.syncWithState = () => (select.value = read());
  wrap.append(label, select);
  return wrap;
}

const CONTROLS = {
  measure: () => chooser("measure", say("colour_by"), coverageView.measures().map((name) => [name, say("measure_" + name)]), () => state.measure, (value) => change({ measure: value })),
  date_class: () => chooser("date-class", say("date_class"), [0, ...facts.classes.map((_, k) => k + 1)].map((place) => [place, view().id === "species" && place === 0 ? say("through_classes") : classWord(place)]), () => String(state.place), (value) => change({ place: Number(value) })),
  species: () => speciesBox(),
  species_or_all: () => speciesBox(),
  month: () => chooser("month", say("month"), [[0, say("any_month")], ...say("months_long").split(" ").map((name, m) => [m + 1, name])], () => String(state.month), (value) => change({ month: Number(value) })),
  kind: () => chooser("kind", say("kind"), KINDS.map((kind) => [kind, say("kind_" + kind)]), () => state.kind, (value) => change({ kind: value })),
  volunteer: () => chooser("volunteer", say("volunteer"), [["", say("everybody")], ...[...new Set(columns.get("visit.volunteer"))].sort().map((name) => [name, name])], () => state.volunteer, (value) => change({ volunteer: value })),
  year: () => yearControl(),
};

function yearControl() {
  const wrap = element("div", "", "chooser wide");
  const label = element("label", say("year"));
  label.htmlFor = "year";
  const slider = element("input", "");
  Object.assign(slider, { id: "year", type: "range", min: growthYears().first, max: growthYears().last, step: 1, value: state.year });
  const output = element("output", yearText(state.year));
  output.htmlFor = "year";
  slider.addEventListener("input", () => {
    stopPlaying();
    change({ year: Number(slider.value) });
  });
  slider.syncWithState = () => {
    slider.value = state.year;
    output.textContent = yearText(state.year);
  };
  const player = button(say("play"), play);
  player.id = "play";
  wrap.append(label, slider, output, player);
  return wrap;
}

function showControls() {
  const form = document.getElementById("controls");
  form.textContent = "";
  for (const name of view().controls) form.append(CONTROLS[name]());
  if (columns.has("coarse.records")) {
    const wrap = element("div", "", "chooser tick");
    const tick = element("input", "");
    Object.assign(tick, { id: "coarse", type: "checkbox", checked: state.coarse });
    tick.addEventListener("change", () => change({ coarse: tick.checked }));
    const label = element("label", say("show_coarse"));
    label.htmlFor = "coarse";
    wrap.append(tick, label);
    form.append(wrap);
  }
  form.hidden = !form.children.length;
}

function syncControls() {
  for (const part of document.querySelectorAll("#controls select, #controls input[type=range]")) part.syncWithState();
  const typed = document.getElementById("species-text");
  if (typed && typed !== document.activeElement) typed.value = shownSpecies();
  for (const tab of document.querySelectorAll("#views button")) {
    if (tab.dataset.view === state.view) tab.setAttribute("aria-current", "page");
    else tab.removeAttribute("aria-current");
  }
  document.getElementById("as-table").setAttribute("aria-pressed", String(state.table));
  document.getElementById("projector").setAttribute("aria-pressed", String(state.projector));
}

function choose(i, follow) {
  change({ square: i });
  if (i < 0 || !follow) return;
  const [easting, northing] = squareCentre(i);
  map.panInside([northing, easting], { padding: [60, 60] });
}

function goTo(text) {
  const found = placeTyped(text);
  const box = document.getElementById("goto-text");
  box.setCustomValidity(found ? "" : say("no_such_place"));
  if (!found) {
    box.reportValidity();
    return;
  }
  change({ square: found.square });
  const half = Math.max(found.width, model.side * 8) / 2;
  map.fitBounds([[found.northing - half, found.easting - half], [found.northing + half, found.easting + half]]);
}

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
function mapKey(event) {
  if (event.ctrlKey || event.altKey || event.metaKey) return;
  if (event.key in ARROWS) {
    event.preventDefault();
    const [dx, dy] = ARROWS[event.key];
    if (event.shiftKey) {
      map.panBy([dx * 120, -dy * 120]);
      return;
    }
    const centre = map.getCenter();
    const next = state.square >= 0 ? squareTowards(state.square, dx, dy) : nearestSquare(centre.lng, centre.lat);
    if (next >= 0) choose(next, true);
  } else if (event.key === "+" || event.key === "=") map.zoomIn();
  else if (event.key === "-") map.zoomOut();
  else if (event.key === "Escape") choose(-1, false);
  else if (event.key === "Home") showWhole();
}

function nearestSquare(easting, northing) {
  let best = -1, least = Infinity;
  for (let i = 0; i < shownCount(); i += 1) {
    const [e, n] = squareCentre(i);
    const far = (e - easting) * (e - easting) + (n - northing) * (n - northing);
    if (far < least) [best, least] = [i, far];
  }
  return best;
}

/* The frame that is kept whole while the map's box changes: everything, or what the page opens with. */
let frameShown = null;
function showFrame(frame) {
  const [west, south, east, north] = frame;
  map.fitBounds([[south, west], [north, east]], { padding: [26, 26], animate: false });
  frameShown = frame;
  everythingSeen = frame === facts.extent;
  showOutside();
}

function showWhole() {
  showFrame(facts.view);
}

/* What lies outside the frame the page opens with, and the way there. */
let everythingSeen = false;
function showOutside() {
  const beyond = view().showsBeyond ? facts.beyond : 0;
  const said = [[facts.outside_view, "outside_view"], [beyond, "beyond"]].filter(([many]) => many);
  document.getElementById("outside").hidden = everythingSeen || !said.length;
  document.getElementById("outside-text").textContent = said.map(([many, key]) => counted(many, key)).join(" ");
}

/* The map's box changes with the window and with the legend: the whole area stays whole. */
function fitToBox() {
  const box = document.getElementById("map-box");
  const known = map.getSize();
  if (!box.clientWidth || !box.clientHeight || (known.x === box.clientWidth && known.y === box.clientHeight)) return;
  const frame = frameShown;
  map.invalidateSize({ animate: false, pan: !frame });
  if (frame) showFrame(frame);
  fitKept();
}

function wire() {
  const on = (id, name, work) => document.getElementById(id).addEventListener(name, work);
  map.on("click", (event) => choose(squareAt(event.latlng.lng, event.latlng.lat), true));
  map.on("moveend", () => writeAddress());
  const box = map.getContainer();
  box.tabIndex = 0;
  box.setAttribute("role", "application");
  box.setAttribute("aria-label", say("map"));
  box.setAttribute("aria-describedby", "map-help");
  box.addEventListener("keydown", mapKey);
  on("zoom-in", "click", () => map.zoomIn());
  on("zoom-out", "click", () => map.zoomOut());
  on("whole", "click", showWhole);
  on("everything", "click", () => showFrame(facts.extent));
  on("as-table", "click", () => change({ table: !state.table }));
  on("projector", "click", () => change({ projector: !state.projector }));
  on("two-maps", "click", keepBeside);
  on("download", "click", downloadTable);
  on("more-rows", "click", () => {
    tableState.shown += ROWS_AT_A_TIME;
    showTable();
  });
  on("goto", "submit", (event) => {
    event.preventDefault();
    goTo(document.getElementById("goto-text").value);
  });
  on("goto-text", "input", (event) => event.target.setCustomValidity(""));
  on("controls", "submit", (event) => event.preventDefault());
  document.addEventListener("click", (event) => {
    const target = event.target.closest("[data-species], [data-square], [data-sort]");
    if (!target) return;
    if (target.dataset.species !== undefined) {
      change({ species: Number(target.dataset.species), view: view().id === "find" ? "find" : "species" });
    } else if (target.dataset.square !== undefined) choose(Number(target.dataset.square), true);
    else sortTable(Number(target.dataset.sort));
  });
  window.addEventListener("hashchange", () => {
    clearTimeout(addressAsked);
    const at = readAddress();
    showControls();
    showAll();
    if (at) map.setView([at[1], at[0]], at[2], { animate: false });
  });
  map.on("dragstart zoomstart", () => (frameShown = null));
  window.matchMedia("print").addEventListener("change", fitToBox);
  new ResizeObserver(fitToBox).observe(document.getElementById("map-box"));
}

function writeWords() {
  for (const part of document.querySelectorAll("[data-word]")) part.textContent = say(part.dataset.word);
  for (const part of document.querySelectorAll("[data-label]")) {
    part.setAttribute("aria-label", say(part.dataset.label));
    if (part.tagName === "BUTTON") part.title = say(part.dataset.label);
  }
  document.getElementById("goto-text").placeholder = say("goto_hint");
  const notice = document.getElementById("notice");
  notice.textContent = facts.notice;
  notice.hidden = !facts.notice;
  document.getElementById("subtitle").textContent = [say("edition_" + facts.edition), counted(facts.squares, "squares_of", { side: sideWord() })].join(" · ");
  const places = document.getElementById("places");
  for (const place of sheet.places) {
    const option = element("option", "");
    option.value = place.name;
    places.append(option);
  }
}

function start() {
  if (window.matchMedia && window.matchMedia("(prefers-reduced-motion: reduce)").matches) map._zoomAnimated = false;
  columns = new Columns(facts.columns, unpacked.columns);
  model = buildModel();
  views = VIEWS.filter((v) => v.isThere());
  sheet = new Sheet();
  writeWords();
  const tabs = document.getElementById("views");
  for (const v of views) {
    const tab = button(say("view_" + v.id), () => change({ view: v.id }));
    tab.dataset.view = v.id;
    tabs.append(tab);
  }
  state.measure = coverageView.measures()[0] || "species";
  if (growthView.isThere()) state.year = growthYears().last;
  if (views.some((v) => v.id === facts.opens_at)) state.view = facts.opens_at;
  const at = readAddress();
  showControls();
  showAll();
  showAbout();
  map.invalidateSize({ animate: false });
  if (at) map.setView([at[1], at[0]], at[2], { animate: false });
  else showFrame(facts.view);
  sheet.addTo(map);
  wire();
  wireTiles();
  writeAddress();
  document.body.dataset.ready = "yes";
  readAhead();
}

start();
