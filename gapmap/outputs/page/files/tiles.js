/* A background map from the network: nothing is fetched until somebody asks for it on this page, and it is never asked
   for by an address. Tiles of Web Mercator are bent into the page's plane by the corners of their parts. */
const TILE_PIXELS = 256;
const MOST_PICTURES = 400;
const NOWHERE = 1 << 30;
let tilesWanted = false;
let tilesFailed = false;
const pictures = new Map();

function wireTiles() {
  if (!facts.tiles) return;
  document.getElementById("tiles-switch").addEventListener("click", () => {
    tilesWanted = !tilesWanted;
    tilesFailed = false;
    showTiles();
    drawAgain();
  });
  showTiles();
}

/* Says at the map what asking the network reveals, and to whom. */
function showTiles() {
  document.getElementById("tiles").hidden = false;
  const key = !tilesWanted ? "tiles_off" : tilesFailed ? "tiles_failed" : "tiles_on";
  document.getElementById("tiles-text").textContent = say(key, { host: facts.tiles.host });
  document.getElementById("tiles-switch").textContent = say(tilesWanted ? "tiles_stop" : "tiles_start");
  document.getElementById("credit").textContent = tilesWanted ? facts.tiles.credit : "";
}

function drawAgain() {
  sheet.drawSoon();
  if (kept) kept.sheet.drawSoon();
}

/* Where a point of the Web Mercator square (shares from its north-west corner) lies on the canvas; nothing where the
   plane cannot hold it. */
function tilePoint(x, y, view) {
  const [west, north, east, south] = facts.tiles.frame, nodes = facts.tiles.nodes;
  const eastings = columns.get("tiles.easting"), northings = columns.get("tiles.northing");
  const u = ((x - west) / (east - west)) * (nodes - 1), v = ((y - north) / (south - north)) * (nodes - 1);
  const i = Math.min(Math.max(Math.floor(u), 0), nodes - 2), j = Math.min(Math.max(Math.floor(v), 0), nodes - 2);
  const at = j * nodes + i, across = u - i, down = v - j;
  const between = (values) => {
    const upper = values[at] + (values[at + 1] - values[at]) * across;
    return upper + (values[at + nodes] + (values[at + nodes + 1] - values[at + nodes]) * across - upper) * down;
  };
  if ([at, at + 1, at + nodes, at + nodes + 1].some((k) => eastings[k] > NOWHERE)) return null;
  return [between(eastings) * view.scale - view.x, -between(northings) * view.scale - view.y];
}

/* The level whose tiles are about as wide on the screen as they are. */
function tileLevel(view) {
  const [west, north, east, south] = facts.tiles.frame;
  const x = (west + east) / 2, y = (north + south) / 2, step = (east - west) / 100;
  const a = tilePoint(x, y, view), b = tilePoint(x + step, y, view);
  if (!a || !b) return -1;
  const level = Math.round(Math.log2(Math.hypot(b[0] - a[0], b[1] - a[1]) / step / TILE_PIXELS));
  return Math.min(Math.max(level, 0), facts.tiles.deepest);
}

/* Tiles of a level that are in view, found by halving. */
function tilesInView(view, level, found = [], z = 0, x = 0, y = 0) {
  const [west, north, east, south] = facts.tiles.frame, side = Math.pow(2, -z);
  const left = Math.max(x * side, west), right = Math.min((x + 1) * side, east);
  const top = Math.max(y * side, north), bottom = Math.min((y + 1) * side, south);
  if (left >= right || top >= bottom) return found;
  const corners = [[left, top], [right, top], [left, bottom], [right, bottom], [(left + right) / 2, top], [(left + right) / 2, bottom]].map(([a, b]) => tilePoint(a, b, view)).filter(Boolean);
  if (!corners.length) return found;
  const xs = corners.map((c) => c[0]), ys = corners.map((c) => c[1]), spare = 4;
  if (Math.max(...xs) < view.left - spare || Math.min(...xs) > view.right + spare || Math.max(...ys) < view.top - spare || Math.min(...ys) > view.bottom + spare) return found;
  if (z === level) found.push([z, x, y]);
  else for (const [dx, dy] of [[0, 0], [1, 0], [0, 1], [1, 1]]) tilesInView(view, level, found, z + 1, 2 * x + dx, 2 * y + dy);
  return found;
}

function drawTiles(ink, view, ratio) {
  const level = tileLevel(view);
  if (level < 0) return;
  for (const [z, x, y] of tilesInView(view, level)) {
    const picture = tilePicture(z, x, y);
    if (picture.complete && picture.naturalWidth) drawTile(ink, view, ratio, picture, z, x, y);
  }
}

function tilePicture(z, x, y) {
  const address = facts.tiles.address.replace("{z}", z).replace("{x}", x).replace("{y}", y);
  let picture = pictures.get(address);
  if (!picture) {
    picture = new Image();
    picture.onload = drawAgain;
    picture.onerror = () => {
      tilesFailed = true;
      showTiles();
    };
    picture.src = address;
    if (pictures.size >= MOST_PICTURES) pictures.delete(pictures.keys().next().value);
    pictures.set(address, picture);
  }
  return picture;
}

/* A tile in as many parts as it takes for each to be flat to half a pixel. */
function drawTile(ink, view, ratio, picture, z, x, y) {
  const side = Math.pow(2, -z);
  const corner = (a, b) => tilePoint((x + a) * side, (y + b) * side, view);
  const [nw, ne, sw, se, north, west] = [[0, 0], [1, 0], [0, 1], [1, 1], [0.5, 0], [0, 0.5]].map(([a, b]) => corner(a, b));
  if (!nw || !ne || !sw || !se) return;
  const off = (a, b, c, d) => Math.hypot(a[0] + b[0] - c[0] - d[0], a[1] + b[1] - c[1] - d[1]);
  const bent = Math.max(off(nw, se, ne, sw), 2 * off(nw, ne, north, north), 2 * off(nw, sw, west, west));
  const parts = Math.min(16, Math.max(2, Math.ceil(Math.sqrt(2 * bent))));
  const across = picture.naturalWidth / parts, down = picture.naturalHeight / parts;
  for (let j = 0; j < parts; j += 1) {
    for (let i = 0; i < parts; i += 1) {
      const o = corner(i / parts, j / parts), e = corner((i + 1) / parts, j / parts), s = corner(i / parts, (j + 1) / parts);
      if (!o || !e || !s) continue;
      ink.save();
      ink.setTransform(ratio, 0, 0, ratio, -view.left * ratio, -view.top * ratio);
      ink.transform((e[0] - o[0]) / across, (e[1] - o[1]) / across, (s[0] - o[0]) / down, (s[1] - o[1]) / down, o[0], o[1]);
      ink.drawImage(picture, i * across, j * down, across, down, 0, 0, across * 1.01, down * 1.01);
      ink.restore();
    }
  }
}
