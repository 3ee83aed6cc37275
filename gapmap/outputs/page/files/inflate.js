/* Inflating: the browser does it where it can; where it cannot, this does (RFC 1951 inside RFC 1950). */
const LENGTH_BASE = [3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 15, 17, 19, 23, 27, 31, 35, 43, 51, 59, 67, 83, 99, 115, 131, 163, 195, 227, 258];
const LENGTH_BITS = [0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 3, 3, 4, 4, 4, 4, 5, 5, 5, 5, 0];
const DISTANCE_BASE = [1, 2, 3, 4, 5, 7, 9, 13, 17, 25, 33, 49, 65, 97, 129, 193, 257, 385, 513, 769, 1025, 1537, 2049, 3073, 4097, 6145, 8193, 12289, 16385, 24577];
const DISTANCE_BITS = [0, 0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5, 6, 6, 7, 7, 8, 8, 9, 9, 10, 10, 11, 11, 12, 12, 13, 13];
const CODE_ORDER = [16, 17, 18, 0, 8, 7, 9, 6, 10, 5, 11, 4, 12, 3, 13, 2, 14, 1, 15];

async function inflate(bytes, length) {
  if (typeof DecompressionStream === "undefined") return inflateHere(bytes, length);
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate"));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}

/* How many codes of each length there are, and the symbols in the order of their codes. */
function codeTable(lengths) {
  const counts = new Uint16Array(16), starts = new Uint16Array(16), symbols = new Uint16Array(lengths.length);
  for (const length of lengths) counts[length] += 1;
  counts[0] = 0;
  for (let l = 1; l < 15; l += 1) starts[l + 1] = starts[l] + counts[l];
  lengths.forEach((length, symbol) => {
    if (length) symbols[starts[length]++] = symbol;
  });
  return { counts, symbols };
}

function inflateHere(bytes, length) {
  const out = new Uint8Array(length);
  let at = 2, held = 0, heldBits = 0, end = 0;
  const bits = (count) => {
    while (heldBits < count) {
      held |= bytes[at++] << heldBits;
      heldBits += 8;
    }
    const value = held & ((1 << count) - 1);
    held >>>= count;
    heldBits -= count;
    return value;
  };
  const symbol = (table) => {
    let code = 0, first = 0, index = 0;
    for (let l = 1; l < 16; l += 1) {
      code |= bits(1);
      const count = table.counts[l];
      if (code - first < count) return table.symbols[index + code - first];
      index += count;
      first = (first + count) << 1;
      code <<= 1;
    }
    throw new Error("spoilt data");
  };
  const readTables = () => {
    const many = bits(5) + 257, distances = bits(5) + 1, codes = bits(4) + 4;
    const codeLengths = new Array(19).fill(0);
    for (let k = 0; k < codes; k += 1) codeLengths[CODE_ORDER[k]] = bits(3);
    const table = codeTable(codeLengths);
    const lengths = [];
    while (lengths.length < many + distances) {
      const s = symbol(table);
      if (s < 16) lengths.push(s);
      else {
        const value = s === 16 ? lengths[lengths.length - 1] : 0;
        for (let n = s === 16 ? 3 + bits(2) : s === 17 ? 3 + bits(3) : 11 + bits(7); n > 0; n -= 1) lengths.push(value);
      }
    }
    return [codeTable(lengths.slice(0, many)), codeTable(lengths.slice(many))];
  };
  const fixed = () => {
    const lengths = Array.from({ length: 288 }, (_, s) => (s < 144 ? 8 : s < 256 ? 9 : s < 280 ? 7 : 8));
    return [codeTable(lengths), codeTable(new Array(30).fill(5))];
  };
  for (let isLast = 0; !isLast; ) {
    isLast = bits(1);
    const kind = bits(2);
    if (kind === 0) {
      held = heldBits = 0;
      const stored = bytes[at] | (bytes[at + 1] << 8);
      out.set(bytes.subarray(at + 4, at + 4 + stored), end);
      at += 4 + stored;
      end += stored;
      continue;
    }
    const [literals, distances] = kind === 1 ? fixed() : readTables();
    for (let s = symbol(literals); s !== 256; s = symbol(literals)) {
      if (s < 256) {
        out[end++] = s;
        continue;
      }
      const copied = LENGTH_BASE[s - 257] + bits(LENGTH_BITS[s - 257]);
      const d = symbol(distances);
      const back = DISTANCE_BASE[d] + bits(DISTANCE_BITS[d]);
      for (let k = 0; k < copied; k += 1, end += 1) out[end] = out[end - back];
    }
  }
  return out;
}
