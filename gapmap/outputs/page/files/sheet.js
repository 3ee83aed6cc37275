/* The sheet all squares are drawn on: one canvas, one pixel a square on a small picture scaled without smoothing. */
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
    this.picture = null;
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
    this.picture = model.width ? this._pictureOf(painting) : null;
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

  /* The small picture: colours, and one mask for each hatch and for the edges of squares. */
  _pictureOf: function (painting) {
    const colour = painting.lines.map((line) => {
      const [r, g, b] = rgb(line.fill);
      return ((255 << 24) | (b << 16) | (g << 8) | r) >>> 0;
    });
    const kinds = [...new Set(painting.lines.map((line) => line.hatch).filter(Boolean))];
    const layers = ["", ...kinds].map(() => new Uint32Array(model.width * model.height));
    const layerOf = painting.lines.map((line) => (line.hatch ? kinds.indexOf(line.hatch) + 1 : 0));
    const used = kinds.map(() => false);
    for (let i = 0; i < model.inPicture; i += 1) {
      const cell = model.cells[i];
      const pixel = (model.height - 1 - Math.floor(cell / model.width)) * model.width + (cell % model.width);
      const code = painting.codes[i];
      layers[0][pixel] = colour[code];
      if (layerOf[code]) {
        layers[layerOf[code]][pixel] = 0xff000000;
        used[layerOf[code] - 1] = true;
      }
    }
    return {
      fills: pictureCanvas(layers[0]),
      masks: kinds.map((kind, k) => ({ kind, mask: used[k] ? pictureCanvas(layers[k + 1]) : null })).filter((m) => m.mask),
    };
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
    drawBackground(ink, view, this.layers);
    if (this.painting) {
      this._drawPicture(ink, view);
      this._drawOutlines(ink, view);
    }
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

  _drawPicture: function (ink, view) {
    if (!this.picture) return;
    const box = this._pictureBox(view);
    ink.imageSmoothingEnabled = false;
    ink.drawImage(this.picture.fills, ...box);
    for (const { kind, mask } of this.picture.masks) {
      this._through(mask, box, (spare) => {
        spare.globalCompositeOperation = "source-in";
        spare.setTransform(1, 0, 0, 1, 0, 0);
        spare.fillStyle = this._hatch(spare, kind, view);
        spare.fillRect(0, 0, spare.canvas.width, spare.canvas.height);
      });
      this._copySpare(ink);
    }
    if (model.side * view.scale >= 5) {
      this._through(this.picture.fills, box, (spare) => {
        spare.globalCompositeOperation = "source-in";
        spare.beginPath();
        const side = model.side * view.scale;
        const firstColumn = Math.max(0, Math.floor((view.left - box[0]) / side)), lastColumn = Math.min(model.width, Math.ceil((view.right - box[0]) / side));
        const firstRow = Math.max(0, Math.floor((view.top - box[1]) / side)), lastRow = Math.min(model.height, Math.ceil((view.bottom - box[1]) / side));
        for (let c = firstColumn; c <= lastColumn; c += 1) spare.rect(box[0] + c * side - 0.4, view.top, 0.8, view.bottom - view.top);
        for (let r = firstRow; r <= lastRow; r += 1) spare.rect(view.left, box[1] + r * side - 0.4, view.right - view.left, 0.8);
        spare.fillStyle = "rgba(130,134,138,0.7)";
        spare.fill();
      });
      this._copySpare(ink);
    }
  },

  /* Draw a mask on the spare canvas, then let something be done to it. */
  _through: function (mask, box, work) {
    if (!this._spare) this._spare = document.createElement("canvas").getContext("2d");
    const spare = this._spare;
    spare.canvas.width = this._container.width;
    spare.canvas.height = this._container.height;
    this._ready(spare);
    spare.imageSmoothingEnabled = false;
    spare.globalCompositeOperation = "source-over";
    spare.drawImage(mask, ...box);
    work(spare);
  },

  _copySpare: function (ink) {
    ink.save();
    ink.setTransform(1, 0, 0, 1, 0, 0);
    ink.drawImage(this._spare.canvas, 0, 0);
    ink.restore();
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
      byCode[this.painting.codes[model.inPicture + k]].push(model.outlines[k]);
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
    for (const [i, text] of shown) {
      const [easting, northing] = squareCentre(i);
      const x = easting * view.scale - view.x, y = -northing * view.scale - view.y;
      const half = Math.max(10 * view.weight, ink.measureText(text).width / 2 + 5), high = 10 * view.weight;
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

function pictureCanvas(pixels) {
  const canvas = document.createElement("canvas");
  canvas.width = model.width;
  canvas.height = model.height;
  const image = new ImageData(new Uint8ClampedArray(pixels.buffer), model.width, model.height);
  canvas.getContext("2d").putImageData(image, 0, 0);
  return canvas;
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
