/* Two maps beside each other: one is kept as it was, the other goes on being chosen; both move together. */
let kept = null;
let leading = null;

/* The kept map follows from what the state says of it: choices written as in the address, or nothing. */
function showBeside() {
  const side = document.getElementById("kept-side");
  if (side.hidden === Boolean(state.beside)) {
    side.hidden = document.getElementById("kept-key").hidden = !state.beside;
    document.body.classList.toggle("beside", Boolean(state.beside));
    fitToBox();
  }
  document.getElementById("two-maps").setAttribute("aria-pressed", String(Boolean(state.beside)));
  if (!state.beside) return;
  if (!kept) kept = makeKept();
  if (kept.written !== state.beside) {
    kept.written = state.beside;
    const painting = paintingOf(state.beside);
    document.getElementById("kept-title").textContent = painting.title;
    kept.map.getContainer().setAttribute("aria-label", painting.title);
    kept.sheet.paint(painting);
    drawLegend("kept-key", painting);
  }
  kept.sheet.selected = state.square;
  kept.sheet.drawSoon();
}

function keepBeside() {
  change({ beside: state.beside ? "" : choicesWritten().toString() });
}

/* What the map would show with other choices. */
function paintingOf(written) {
  const now = { ...state };
  readChoices(new URLSearchParams(written));
  const painting = view().paint();
  Object.assign(state, now);
  return painting;
}

function makeKept() {
  const box = document.getElementById("kept-map");
  const made = { map: L.map(box, { ...map.options, center: map.getCenter(), zoom: map.getZoom() }), sheet: new Sheet(), written: "" };
  box.setAttribute("role", "img");
  box.removeAttribute("tabindex");
  made.sheet.addTo(made.map);
  made.map.on("click", (event) => choose(squareAt(event.latlng.lng, event.latlng.lat), true));
  moveTogether(map, made.map);
  moveTogether(made.map, map);
  made.map.on("dragstart zoomstart", () => (frameShown = null));
  new ResizeObserver(fitKept).observe(box);
  return made;
}

/* The kept map's box has changed: it shows the middle of the other one again. */
function fitKept() {
  if (!kept) return;
  leading = map;
  kept.map.invalidateSize({ animate: false, pan: false });
  kept.map.setView(map.getCenter(), map.getZoom(), { animate: false });
  leading = null;
}

/* Whichever map is moved, the other follows; the one that follows does not call back. */
function moveTogether(from, to) {
  from.on("move zoomend", () => {
    if (leading || !state.beside) return;
    leading = from;
    to.setView(from.getCenter(), from.getZoom(), { animate: false });
    leading = null;
  });
}
