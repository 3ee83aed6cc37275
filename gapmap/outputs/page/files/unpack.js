/* Facts and packed columns, as gapmap/outputs/page/pack.py writes them. */
const facts = JSON.parse(document.getElementById("facts").textContent);
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

function counted(count, key, values) {
  return say(count === 1 ? key + "_one" : key + "_many", { n: count, ...values });
}

function base64Bytes(text) {
  if (Uint8Array.fromBase64) return Uint8Array.fromBase64(text);
  const raw = atob(text);
  const bytes = new Uint8Array(raw.length);
  for (let i = 0; i < raw.length; i += 1) bytes[i] = raw.charCodeAt(i);
  return bytes;
}

function readWholes(bytes) {
  let count = 0;
  for (let i = 0; i < bytes.length; i += 1) if (bytes[i] < 128) count += 1;
  const values = new Float64Array(count);
  if (count === bytes.length) {
    values.set(bytes);
    return values;
  }
  let at = 0;
  for (let k = 0; k < count; k += 1) {
    let value = 0, factor = 1, digit = bytes[at++];
    while (digit >= 128) {
      value += (digit - 128) * factor;
      factor *= 128;
      digit = bytes[at++];
    }
    values[k] = value + digit * factor;
  }
  return values;
}

function unfold(value) {
  return value % 2 ? -(value + 1) / 2 : value / 2;
}

/* Columns by name, each read when it is first asked for. */
class Columns {
  constructor(manifest, bytes) {
    this.parts = new Map();
    this.read = new Map();
    let start = 0;
    for (const [name, kind, length] of manifest) {
      this.parts.set(name, [kind, bytes.subarray(start, start + length)]);
      start += length;
    }
  }

  has(name) {
    return this.parts.has(name);
  }

  get(name) {
    if (!this.read.has(name)) {
      const part = this.parts.get(name);
      this.read.set(name, part ? this.readColumn(part[0], part[1]) : null);
    }
    return this.read.get(name);
  }

  readColumn(kind, bytes) {
    if (kind === "strings") return JSON.parse(new TextDecoder().decode(bytes));
    if (kind === "bytes") return bytes;
    const values = readWholes(bytes);
    const [how, scale, beside] = kind.split("/");
    if (how === "signed") for (let i = 0; i < values.length; i += 1) values[i] = unfold(values[i]);
    if (how === "decimal") {
      const near = beside ? this.get(beside) : null;
      for (let i = 0; i < values.length; i += 1) {
        if (values[i] === 0) values[i] = NaN;
        else if (near) values[i] = Math.round(near[i] * scale) / scale + unfold(values[i] - 1) / scale;
        else values[i] = (values[i] - 1) / scale;
      }
    }
    return values;
  }

  /* The bytes of a column that is read piece by piece. */
  bytesOf(name) {
    return this.parts.get(name)[1];
  }

  /* Text number i of a column of sentences whose numbers were lifted out: kept beside them, or in other columns. */
  text(name, i) {
    const forms = this.get(name + ".forms");
    if (!forms) return "";
    if (!this.read.has(name + ".pieces")) {
      this.read.set(name + ".pieces", forms.map((form) => form.split(/(\u0001|\u0002[^\u0002]*\u0002)/)));
      this.read.set(name + ".start", this.starts(name));
    }
    let at = this.read.get(name + ".start")[i];
    const given = this.get(name + ".numbers");
    return this.read.get(name + ".pieces")[this.get(name + ".form")[i]].map((piece) => {
      if (piece === HOLE) return given[at++];
      return piece[0] === BESIDE ? numberBeside(piece.slice(1, -1), i) : piece;
    }).join("");
  }

  starts(name) {
    const holes = this.read.get(name + ".pieces").map((pieces) => pieces.filter((piece) => piece === HOLE).length);
    const form = this.get(name + ".form");
    const starts = new Float64Array(form.length);
    let at = 0;
    for (let i = 0; i < form.length; i += 1) {
      starts[i] = at;
      at += holes[form[i]];
    }
    return starts;
  }
}
