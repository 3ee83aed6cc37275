/* The sheet all squares are drawn on: one canvas; whole squares of the grid are looked up pixel by pixel. */
/* How much of the squares' colour is left where a background map shows through. */
const OVER_TILES = 0.7;
const Sheet = L.Renderer.extend({
  initialize: function () {
    L.Renderer.prototype.initialize.call(this, { padding: 0.2 });
    this.painting = null;
    this.selected = -1;
    this.layers = facts.layers.map((_, n) => readLines("layer." + n));
    this.boundary = readLines("boundary");
    this.coarse = readLines("coarse");
    this.places = readPlaces(this.layers);
    this.hatches = {};
    this.tiles = {};
    this.codes = null;
  },

  _initContainer: function () {
    this._container = document.createElement("canvas");
    this._container.setAttribute("aria-hidden", "true");
    this._ink = this._container.getContext("2d");
  },

  _destroyContainer: function () {
    this._container.remove();
  },

  _update: function () {
    if (this._map._animatingZoom && this._bounds) return;
    L.Renderer.prototype._update.call(this);
    const size = this._bounds.getSize();
    const ratio = Math.min(window.devicePixelRatio || 1, 2);
    this._container.width = Math.round(size.x * ratio);
    this._container.height = Math.round(size.y * ratio);
    this._container.style.width = size.x + "px";
    this._container.style.height = size.y + "px";
    this._ratio = ratio;
    L.DomUtil.setPosition(this._container, this._bounds.min);
    this.draw();
    this.fire("update");
  },

  paint: function (painting) {
    this.painting = painting;
    this.codes = null;
    this.drawSoon();
  },

  /* Once a frame, however often something changed. */
  drawSoon: function () {
    if (!this._map || this._asked) return;
    this._asked = requestAnimationFrame(() => {
      this._asked = 0;
      this.draw();
    });
  },

  /* The code of each cell of the picture, north at the top; EMPTY where there is no square. */
  _codesOf: function (painting) {
    const grid = this._grid || (this._grid = new Uint8Array(model.width * model.height).fill(EMPTY));
    for (let i = 0; i < model.inPicture; i += 1) {
      const cell = model.cells[i], row = Math.floor(cell / model.width);
      grid[(model.height - 1 - row) * model.width + cell - row * model.width] = painting.codes[i];
    }
    return grid;
  },

  /* What is needed to go from metres to the canvas. */
  _view: function () {
    const origin = this._map.getPixelOrigin();
    const scale = this._map.options.crs.scale(this._map.getZoom());
    const min = this._bounds.min, max = this._bounds.max;
    const view = { scale, x: origin.x, y: origin.y, left: min.x, top: min.y, right: max.x, bottom: max.y };
    view.weight = document.body.classList.contains("projecting") ? 1.7 : 1;
    view.type = (size, bold) => (bold || 400) + " " + Math.round(size * view.weight) + "px system-ui, sans-serif";
    view.bounds = this._metres(view, min, max);
    const corner = this._map.containerPointToLayerPoint([0, 0]), size = this._map.getSize();
    const far = corner.add(size), seen = this._metres(view, corner, far);
    view.seen = { left: corner.x, top: corner.y, right: far.x, bottom: far.y, west: seen[0], south: seen[1], east: seen[2], north: seen[3] };
    return view;
  },

  _metres: function (view, min, max) {
    return [(min.x + view.x) / view.scale, -(max.y + view.y) / view.scale, (max.x + view.x) / view.scale, -(min.y + view.y) / view.scale];
  },

  draw: function () {
    const ink = this._ink, ratio = this._ratio;
    if (!ink || !this._bounds || !this._container.width || !this._container.height) return;
    const view = this._view();
    this._ready = (target) => target.setTransform(ratio, 0, 0, ratio, -view.left * ratio, -view.top * ratio);
    ink.setTransform(1, 0, 0, 1, 0, 0);
    ink.clearRect(0, 0, this._container.width, this._container.height);
    this._ready(ink);
    if (tilesWanted) drawTiles(ink, view, ratio);
    else drawBackground(ink, view, this.layers, false);
    if (this.painting) {
      ink.globalAlpha = tilesWanted ? OVER_TILES : 1;
      this._drawPicture(ink, view);
      this._drawOutlines(ink, view);
      ink.globalAlpha = 1;
    }
    drawBackground(ink, view, this.layers, true);
    drawGrid(ink, view);
    drawLines(ink, view, this.boundary, "rgba(23,32,42,0.9)", 1.8);
    if (state.coarse) this._drawCoarse(ink, view);
    drawPlaces(ink, view, this.places);
    this._drawNumbers(ink, view);
    drawGridNames(ink, view);
    this._drawSelected(ink, view);
    drawScale(view.scale, this._map.getSize().x);
  },

  _pictureBox: function (view) {
    const side = model.side * view.scale;
    return [model.west * view.scale - view.x, -(model.south + model.height * model.side) * view.scale - view.y, model.width * side, model.height * side];
  },

  /* Every pixel of the canvas is looked up once: its square, the square's code, the code's fill and hatch. */
  _drawPicture: function (ink, view) {
    if (!model.inPicture) return;
    if (!this.codes) this.codes = this._codesOf(this.painting);
    const [left, top] = this._pictureBox(view), side = model.side * view.scale, ratio = this._ratio;
    const across = cellsOf(this._container.width, view.left, left, side, model.width, ratio);
    const down = cellsOf(this._container.height, view.top, top, side, model.height, ratio);
    const wide = across.end - across.start, high = down.end - down.start;
    if (wide <= 0 || high <= 0) return;
    const tiles = this.painting.lines.map((line) => this._tile(line, view));
    const edges = side >= 5 ? this.painting.lines.map((line) => edgeColour(line.fill)) : null;
    const image = new ImageData(wide, high), pixels = new Uint32Array(image.data.buffer);
    for (let y = 0; y < high; y += 1) {
      const row = down.cells[y] * model.width, onEdge = edges && down.edge[y];
      let at = y * wide;
      for (let x = 0; x < wide; x += 1, at += 1) {
        const code = this.codes[row + across.cells[x]];
        if (code === EMPTY) continue;
        if (onEdge || (edges && across.edge[x])) pixels[at] = edges[code];
        else {
          const tile = tiles[code];
          pixels[at] = tile.length === 1 ? tile[0] : tile[((y + down.start) % tile.side) * tile.side + ((x + across.start) % tile.side)];
        }
      }
    }
    this._put(ink, image, across.start, down.start);
  },

  _put: function (ink, image, left, top) {
    if (!this._spare) this._spare = document.createElement("canvas").getContext("2d");
    const spare = this._spare.canvas;
    if (spare.width !== image.width || spare.height !== image.height) Object.assign(spare, { width: image.width, height: image.height });
    this._spare.putImageData(image, 0, 0);
    ink.save();
    ink.setTransform(1, 0, 0, 1, 0, 0);
    ink.drawImage(spare, left, top);
    ink.restore();
  },

  /* The pixels of a fill with its hatch, one where there is no hatch. */
  _tile: function (line, view) {
    const scale = this._ratio * view.weight, key = line.fill + line.hatch + scale;
    if (!this.tiles[key]) this.tiles[key] = fillTile(line, scale);
    return this.tiles[key];
  },

  _hatch: function (ink, kind, view) {
    const scale = this._ratio * view.weight;
    const key = kind + scale;
    if (!this.hatches[key]) this.hatches[key] = hatchTile(kind, scale);
    return ink.createPattern(this.hatches[key], "repeat");
  },

  /* Squares that are not a pixel, a hundred to a path. */
  _drawOutlines: function (ink, view) {
    const byCode = this.painting.lines.map(() => []);
    for (let k = 0; k < model.outlines.length; k += 1) {
      const box = model.boxes[k];
      if (box[2] < view.bounds[0] || box[0] > view.bounds[2] || box[3] < view.bounds[1] || box[1] > view.bounds[3]) continue;
      const code = this.painting.codes[model.inPicture + k];
      if (code !== EMPTY) byCode[code].push(model.outlines[k]);
    }
    byCode.forEach((shapes, code) => {
      const line = this.painting.lines[code];
      for (let start = 0; start < shapes.length; start += 100) {
        ink.beginPath();
        for (const lines of shapes.slice(start, start + 100)) tracePath(ink, lines, view);
        ink.fillStyle = line.fill;
        ink.fill();
        if (line.hatch) {
          ink.fillStyle = this._hatch(ink, line.hatch, view);
          ink.fill();
        }
        if (model.side * view.scale >= 5) {
          ink.strokeStyle = "rgba(130,134,138,0.7)";
          ink.lineWidth = 0.8;
          ink.stroke();
        }
      }
    });
  },

  _drawCoarse: function (ink, view) {
    drawLines(ink, view, this.coarse, ALERT, 1.6, [6, 4]);
  },

  _drawNumbers: function (ink, view) {
    const shown = this.painting && this.painting.numbers;
    if (!shown) return;
    ink.font = view.type(13, 700);
    ink.textAlign = "center";
    ink.textBaseline = "middle";
    const taken = [];
    for (const [i, text] of shown) {
      const [easting, northing] = squareCentre(i);
      const x = easting * view.scale - view.x, y = -northing * view.scale - view.y;
      const half = Math.max(10 * view.weight, ink.measureText(text).width / 2 + 5), high = 10 * view.weight;
      if (!isFree(taken, [x - half, y - high, x + half, y + high])) continue;
      ink.fillStyle = STEPS[0];
      ink.fillRect(x - half, y - high, 2 * half, 2 * high);
      ink.strokeStyle = INK;
      ink.lineWidth = 1.5 * view.weight;
      ink.strokeRect(x - half, y - high, 2 * half, 2 * high);
      ink.fillStyle = INK;
      ink.fillText(text, x, y);
    }
  },

  _drawSelected: function (ink, view) {
    if (this.selected < 0) return;
    const lines = this.selected < model.inPicture ? [boxLine(squareBox(this.selected))] : model.outlines[this.selected - model.inPicture];
    drawLines(ink, view, [lines], "#ffffff", 6);
    drawLines(ink, view, [lines], "#c2185b", 3);
  },
});

function boxLine([west, south, east, north]) {
  return new Float64Array([west, south, east, south, east, north, west, north, west, south]);
}

/* Along one side of the canvas: which cell of the picture each pixel shows, from the first pixel to the last that
   shows one, and whether it is the first of its cell. */
function cellsOf(pixels, from, begin, side, many, ratio) {
  const cellAt = (x) => Math.floor((from + (x + 0.5) / ratio - begin) / side);
  let start = Math.max(0, Math.floor((begin - from) * ratio) - 1), end = Math.min(pixels, Math.ceil((begin + many * side - from) * ratio) + 1);
  while (start < end && cellAt(start) < 0) start += 1;
  while (end > start && cellAt(end - 1) >= many) end -= 1;
  const cells = new Int32Array(Math.max(0, end - start)), edge = new Uint8Array(cells.length);
  for (let x = 0; x < cells.length; x += 1) {
    cells[x] = cellAt(x + start);
    edge[x] = x === 0 || cells[x] !== cells[x - 1] ? 1 : 0;
  }
  return { start, end, cells, edge };
}

function pixel([r, g, b]) {
  return ((255 << 24) | (b << 16) | (g << 8) | r) >>> 0;
}

function edgeColour(fill) {
  return pixel(rgb(fill).map((part, k) => Math.round(part * 0.4 + [130, 134, 138][k] * 0.6)));
}

function fillTile(line, scale) {
  if (!line.hatch) return Uint32Array.of(pixel(rgb(line.fill)));
  const hatch = hatchTile(line.hatch, scale), side = hatch.width;
  const canvas = document.createElement("canvas");
  canvas.width = canvas.height = side;
  const ink = canvas.getContext("2d");
  ink.fillStyle = line.fill;
  ink.fillRect(0, 0, side, side);
  ink.drawImage(hatch, 0, 0);
  const tile = new Uint32Array(ink.getImageData(0, 0, side, side).data.buffer);
  tile.side = side;
  return tile;
}

function readPlaces(layers) {
  const places = [];
  facts.layers.forEach((layer, n) => {
    if (layer.kind !== "place") return;
    const names = columns.get("layer." + n + ".names");
    layers[n].forEach((lines, k) => {
      if (lines.length) places.push({ name: names[k], easting: lines[0][0], northing: lines[0][1] });
    });
  });
  return places;
}
