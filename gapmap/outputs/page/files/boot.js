/* Unpacks the page: its style, script, facts and columns stand in one text as one zlib stream. */
/* Sevens of bits that a page cannot hold as they are; gapmap/outputs/page/planes.py writes them. */
const HARMFUL = [0, 13, 26, 27, 60];

function textBytes(text, length) {
  const bytes = new Uint8Array(length);
  let held = 0, heldBits = 0, at = 0;
  for (let k = 0; k < text.length; k += 1) {
    const character = text.charCodeAt(k);
    if (character > 127) {
      held = (held << 7) | HARMFUL[(character >> 7) - 1];
      heldBits += 7;
      if (heldBits >= 8) bytes[at++] = held >> (heldBits -= 8);
    }
    held = ((held & 127) << 7) | (character & 127);
    heldBits += 7;
    if (heldBits >= 8) bytes[at++] = held >> (heldBits -= 8);
  }
  return bytes;
}

function addText(tag, text) {
  const made = document.createElement(tag);
  made.textContent = text;
  document.head.append(made);
}

async function unpackPage() {
  const packed = document.getElementById("packed"), read = new TextDecoder();
  const lengths = packed.dataset.parts.split(" ").map(Number);
  const bytes = await inflate(textBytes(packed.textContent, Number(packed.dataset.bytes)), lengths.reduce((sum, length) => sum + length));
  let at = 0;
  const [style, script, facts, columns] = lengths.map((length) => bytes.subarray(at, (at += length)));
  window.unpacked = { facts: read.decode(facts), columns };
  addText("style", read.decode(style));
  document.body.classList.add("styled");
  addText("script", read.decode(script));
}

unpackPage();
