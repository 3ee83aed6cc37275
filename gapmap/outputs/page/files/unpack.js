/* Facts and packed columns, as gapmap/outputs/page/pack.py writes them. */
const facts = JSON.parse(unpacked.facts);
const words = facts.words;
const numbers = new Intl.NumberFormat(words.language);
const written = new Map();
const HOLE = "\u0001";
/* Stands in a sentence for the number of the column that follows it. */
const BESIDE = "\u0002";

/* The words under a key, with {name} replaced; one and many are two keys. */
function say(key, values) {
  const text = words[key];
  if (text === undefined) return key;
  return text.replace(/\{(\w+)\}/g, (_, name) => (typeof values[name] === "number" ? number(values[name]) : values[name]));
}

/* Writing a number is slow: each is written once. */
function number(value) {
  let text = written.get(value);
  if (text === undefined) {
    text = numbers.format(value);
    written.set(value, text);
  }
  return text;
}

/* A year has no thousands. */
function yearText(value) {
  return value > 0 ? String(value) : "–";
}

/* A year in a table of numbers: empty where it is not known. */
function yearOrNone(value) {
  return value > 0 ? value : NaN;
}

function counted(count, key, values) {
  return say(count === 1 ? key + "_one" : key + "_many", { n: count, ...values });
}

/* Numbers in planes of a few bits each: as many as fit share a byte. */
function readPlanes(bytes, count, width, planes) {
  const many = width * planes;
  const values = many <= 8 ? new Uint8Array(count) : many <= 16 ? new Uint16Array(count) : many < 32 ? new Uint32Array(count) : new Float64Array(count);
  if (many === 8 && planes === 1) {
    values.set(bytes);
    return values;
  }
  const shift = { 1: 3, 2: 2, 4: 1, 8: 0 }[width], rest = (1 << shift) - 1, mask = (1 << width) - 1;
  const length = Math.ceil((count * width) / 8);
  for (let plane = 0, factor = 1; plane < planes; plane += 1, factor *= 1 << width) {
    const begin = plane * length;
    if (width === 8) for (let k = 0; k < count; k += 1) values[k] += bytes[begin + k] * factor;
    else for (let k = 0; k < count; k += 1) values[k] += ((bytes[begin + (k >> shift)] >> ((k & rest) * width)) & mask) * factor;
  }
  return values;
}

function unfold(value) {
  return value % 2 ? -(value + 1) / 2 : value / 2;
}

/* Rows sorted by a known number, rows of one number in their own order, and the group of each place in that order. */
function groupsOf(known) {
  let most = 0;
  for (let i = 0; i < known.length; i += 1) if (known[i] > most) most = known[i];
  let ranks = known;
  if (most > 4 * known.length + 65536) {
    const place = new Map(Array.from(Float64Array.from(new Set(known)).sort(), (value, rank) => [value, rank]));
    ranks = Uint32Array.from(known, (value) => place.get(value));
    most = place.size;
  }
  const next = new Uint32Array(most + 2);
  for (let i = 0; i < ranks.length; i += 1) next[ranks[i] + 1] += 1;
  const group = new Uint32Array(known.length);
  for (let value = 0, groups = 0; value <= most; value += 1) {
    const many = next[value + 1];
    if (many) group.fill(groups++, next[value], next[value] + many);
    next[value + 1] += next[value];
  }
  const order = new Uint32Array(known.length);
  for (let i = 0; i < ranks.length; i += 1) order[next[ranks[i]]++] = i;
  return { order, group };
}

/* Columns by name, each read when it is first asked for. */
class Columns {
  constructor(manifest, bytes) {
    this.parts = new Map();
    this.read = new Map();
    let start = 0;
    for (const [name, kind, count, width, planes, given] of manifest) {
      const length = kind === "strings" ? count : Math.ceil((count * width) / 8) * planes;
      this.parts.set(name, { kind, count, width, planes, given, bytes: bytes.subarray(start, start + length) });
      start += length;
    }
  }

  has(name) {
    return this.parts.has(name);
  }

  once(name, work) {
    if (!this.read.has(name)) this.read.set(name, work());
    return this.read.get(name);
  }

  get(name) {
    return this.once(name, () => (this.has(name) ? this.readColumn(name) : null));
  }

  readColumn(name) {
    const { kind, bytes } = this.parts.get(name);
    if (kind === "strings") return JSON.parse(new TextDecoder().decode(bytes));
    const codes = this.codes(name), [how, scale] = kind.split("/");
    if (how === "signed") return Float64Array.from(codes, unfold);
    return how === "decimal" ? Float64Array.from(codes, (code) => (code ? (code - 1) / scale : NaN)) : codes;
  }

  /* The whole numbers a column is kept as. */
  codes(name) {
    return this.once(name + " as kept", () => {
      const { count, width, planes, given, bytes } = this.parts.get(name);
      const values = readPlanes(bytes, count, width, planes);
      return given ? this.putBack(name, values, given) : values;
    });
  }

  /* Numbers kept sorted by a known column, in the order of their rows again. */
  putBack(name, values, given) {
    const sort = () => groupsOf(this.known(given));
    const { order, group } = this.has(given) ? this.once(given + " sorted", sort) : sort();
    const steps = this.get(name + ".usual");
    if (!steps) {
      const rows = values.slice();
      for (let k = 0; k < order.length; k += 1) rows[order[k]] = values[k];
      return rows;
    }
    const rows = new Float64Array(order.length), usual = steps.slice();
    for (let g = 1; g < usual.length; g += 1) usual[g] += usual[g - 1];
    for (let k = 0; k < order.length; k += 1) rows[order[k]] = usual[group[k]] + unfold(values[k]);
    return rows;
  }

  /* Numbers by which columns are kept: a column, two joined, or what is worked out from others. */
  known(name) {
    const [first, second] = name.split("+");
    if (second) {
      const other = this.known(second), most = other.reduce((a, b) => Math.max(a, b), 0) + 1;
      return Float64Array.from(this.known(first), (value, i) => value * most + other[i]);
    }
    const [work, place] = name.split(":");
    return WORKED_OUT[work] ? this.once(name, () => WORKED_OUT[work](Number(place))) : this.codes(name);
  }

  /* Text number i of a column of sentences whose numbers were lifted out: kept beside them, or in other columns. */
  text(name, i) {
    const forms = this.get(name + ".forms");
    if (!forms) return "";
    const pieces = this.once(name + ".pieces", () => forms.map((form) => form.split(/(\u0001|\u0002[^\u0002]*\u0002)/)));
    let hole = 0;
    return pieces[this.codes(name + ".form")[i]].map((piece) => {
      if (piece === HOLE) return this.codes(name + ".number." + hole++)[i];
      return piece[0] === BESIDE ? this.get(piece.slice(1, -1))[i] : piece;
    }).join("");
  }
}

/* Numbers that are kept nowhere because others tell them. */
const WORKED_OUT = {
  "found.in": (place) => (place ? foundCounts(place) : columns.get("found.count")),
  "found.first": (place) => firstFoundCounts(place),
  "expected.place": () => placesIn(columns.get("expected.count")),
  "expected.percent": () => expectedPercent(),
  "growth.first": () => growth().firstYears,
};

/* Place of each row among those of its square. */
function placesIn(counts) {
  const places = new Uint16Array(counts.reduce((sum, count) => sum + count, 0));
  for (let i = 0, r = 0; i < counts.length; i += 1) for (let k = 0; k < counts[i]; k += 1) places[r++] = k;
  return places;
}
