/* Finding: species by either name as one types, squares and places by what is written. */

function foldedText(text) {
  return text.normalize("NFD").replace(/[\u0300-\u036f]/g, "").toLowerCase();
}

let foldedNames = null;
function speciesLike(typed, most) {
  if (!foldedNames) foldedNames = model.names.map((name, rank) => foldedText(name + " | " + model.vernacular[rank]));
  const wanted = foldedText(typed).trim().split(/\s+/).filter(Boolean);
  const found = [];
  for (let rank = 0; rank < foldedNames.length; rank += 1) {
    const name = foldedNames[rank];
    if (!wanted.every((word) => name.includes(word))) continue;
    const starts = wanted.every((word) => (" " + name).includes(" " + word));
    found.push([starts ? 0 : 1, rank]);
  }
  return found.sort((a, b) => a[0] - b[0] || a[1] - b[1]).slice(0, most).map((pair) => pair[1]);
}

/* A box one types in, with a list below it: the combobox of the accessibility patterns. */
function speciesBox() {
  const wrap = element("div", "", "combo");
  const label = element("label", say("species"));
  label.htmlFor = "species-text";
  const input = element("input", "");
  Object.assign(input, { id: "species-text", type: "text", autocomplete: "off", spellcheck: false, placeholder: say(view().id === "find" ? "all_species_hint" : "species_hint") });
  const list = element("ul", "");
  list.id = "species-list";
  list.hidden = true;
  for (const [name, value] of [["role", "combobox"], ["aria-expanded", "false"], ["aria-controls", "species-list"], ["aria-autocomplete", "list"]]) input.setAttribute(name, value);
  list.setAttribute("role", "listbox");
  list.setAttribute("aria-label", say("species"));
  wrap.append(label, input, list);
  let choices = [], at = -1;
  const shut = () => {
    list.hidden = true;
    input.setAttribute("aria-expanded", "false");
    input.removeAttribute("aria-activedescendant");
    at = -1;
  };
  const choose = (rank) => {
    shut();
    change({ species: rank });
    input.value = rank >= 0 ? speciesWord(rank) : "";
  };
  const mark = () => {
    Array.from(list.children).forEach((item, k) => item.setAttribute("aria-selected", String(k === at)));
    if (at >= 0) {
      input.setAttribute("aria-activedescendant", "species-choice-" + at);
      list.children[at].scrollIntoView({ block: "nearest" });
    }
  };
  const open = () => {
    choices = speciesLike(input.value === shownSpecies() ? "" : input.value, 30);
    if (view().id === "find") choices.unshift(-1);
    list.textContent = "";
    choices.forEach((rank, k) => {
      const item = element("li", rank < 0 ? say("all_species") : speciesWord(rank));
      item.id = "species-choice-" + k;
      item.setAttribute("role", "option");
      item.addEventListener("mousedown", (event) => {
        event.preventDefault();
        choose(rank);
      });
      list.append(item);
    });
    if (!choices.length) list.append(element("li", say("no_such_species"), "help"));
    list.hidden = false;
    input.setAttribute("aria-expanded", "true");
    at = -1;
  };
  input.addEventListener("input", open);
  input.addEventListener("focus", () => input.select());
  input.addEventListener("click", open);
  input.addEventListener("blur", () => {
    shut();
    input.value = shownSpecies();
  });
  input.addEventListener("keydown", (event) => {
    if (event.key === "ArrowDown" || event.key === "ArrowUp") {
      event.preventDefault();
      if (list.hidden) open();
      if (choices.length) at = (at + (event.key === "ArrowDown" ? 1 : choices.length - (at < 0 ? 0 : 1))) % choices.length;
      mark();
    } else if (event.key === "Enter") {
      event.preventDefault();
      if (!list.hidden && choices.length) choose(choices[Math.max(at, view().id === "find" && input.value && choices.length > 1 && at < 0 ? 1 : 0)]);
    } else if (event.key === "Escape") {
      shut();
    }
  });
  return wrap;
}

function shownSpecies() {
  return state.species >= 0 && (view().id !== "find" || !state.every) ? speciesWord(state.species) : "";
}

/* Easting, northing and width of what was typed: a square on the page, a place, or any reference under the map. */
function placeTyped(text) {
  const plain = plainReference(text);
  if (!plain) return null;
  const i = squareOfReference(plain);
  if (i >= 0) {
    const [easting, northing] = squareCentre(i);
    return { square: i, easting, northing, width: model.side };
  }
  const place = sheet.places.find((p) => foldedText(p.name) === foldedText(text.trim()));
  if (place) return { square: squareAt(place.easting, place.northing), easting: place.easting, northing: place.northing, width: model.side };
  return referenceTyped(plain);
}

/* Letters of a 100 km square, an even number of digits, perhaps the letter of a 2 km square or the quarter of a 10 km one. */
function referenceTyped(plain) {
  const hundred = facts.hundreds.filter((h) => plain.startsWith(plainReference(h[0]))).sort((a, b) => b[0].length - a[0].length)[0];
  if (!hundred) return null;
  const match = /^(\d*)([A-NP-Z]|[NS][EW])?$/.exec(plain.slice(plainReference(hundred[0]).length));
  if (!match || match[1].length % 2 || match[1].length > 10 || (match[2] && match[1].length !== 2)) return null;
  const half = match[1].length / 2;
  let width = HUNDRED_KM / Math.pow(10, half);
  let easting = hundred[1] + Number(match[1].slice(0, half) || 0) * width;
  let northing = hundred[2] + Number(match[1].slice(half) || 0) * width;
  if (match[2] && match[2].length === 2) {
    width = 5000;
    easting += match[2][1] === "E" ? width : 0;
    northing += match[2][0] === "N" ? width : 0;
  } else if (match[2]) {
    width = 2000;
    const k = "ABCDEFGHIJKLMNPQRSTUVWXYZ".indexOf(match[2]);
    easting += Math.floor(k / 5) * width;
    northing += (k % 5) * width;
  }
  easting += width / 2;
  northing += width / 2;
  return { square: width <= model.side ? squareAt(easting, northing) : -1, easting, northing, width };
}
