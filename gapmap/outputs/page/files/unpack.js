/* Facts and packed columns, as gapmap/outputs/page/pack.py writes them. */
const facts = JSON.parse(document.getElementById("facts").textContent);
const words = facts.words;
const numbers = new Intl.NumberFormat(words.language);
const HOLE = "\u0001";

/* The words under a key, with {name} replaced; one and many are two keys. */
function say(key, values) {
  const text = words[key];
  if (text === undefined) return key;
  return text.replace(/\{(\w+)\}/g, (_, name) => (typeof values[name] === "number" ? number(values[name]) : values[name]));
}

function number(value) {
  return numbers.format(value);
}

/* A year has no thousands. */
function yearText(value) {
  return value > 0 ? String(value) : "–";
}

function counted(count, key, values) {
  return say(count === 1 ? key + "_one" : key + "_many", { n: count, ...values });
}

function base64Bytes(text) {
  const raw = atob(text);
  const bytes = new Uint8Array(raw.length);
  for (let i = 0; i < raw.length; i += 1) bytes[i] = raw.charCodeAt(i);
  return bytes;
}

function readWholes(bytes) {
  let count = 0;
  for (let i = 0; i < bytes.length; i += 1) if (bytes[i] < 128) count += 1;
  const values = new Float64Array(count);
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

function readColumn(kind, bytes) {
  if (kind === "strings") return JSON.parse(new TextDecoder().decode(bytes));
  if (kind === "bytes") return bytes;
  const values = readWholes(bytes);
  if (kind === "signed") return values.map((v) => (v % 2 ? -(v + 1) / 2 : v / 2));
  if (kind.startsWith("decimal/")) {
    const scale = Number(kind.slice(8));
    return values.map((v) => (v > 0 ? (v - 1) / scale : NaN));
  }
  return values;
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
      this.read.set(name, part ? readColumn(part[0], part[1]) : null);
    }
    return this.read.get(name);
  }

  /* Text number i of a column of sentences whose numbers were lifted out. */
  text(name, i) {
    const forms = this.get(name + ".forms");
    if (!forms) return "";
    if (!this.read.has(name + ".pieces")) {
      this.read.set(name + ".pieces", forms.map((form) => form.split(HOLE)));
      this.read.set(name + ".start", this.starts(name));
    }
    const at = this.read.get(name + ".start")[i];
    const given = this.get(name + ".numbers");
    const pieces = this.read.get(name + ".pieces")[this.get(name + ".form")[i]];
    let text = pieces[0];
    for (let k = 1; k < pieces.length; k += 1) text += given[at + k - 1] + pieces[k];
    return text;
  }

  starts(name) {
    const holes = this.read.get(name + ".pieces").map((pieces) => pieces.length - 1);
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
