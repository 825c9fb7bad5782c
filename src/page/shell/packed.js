// SPDX-License-Identifier: GPL-3.0-or-later
// Bytes as text that an HTML file in UTF-8 holds as it stands, seven bits a byte: an eighth longer than the
// bytes, where base64 is a third longer. Seven bits are a character of ASCII; the three that HTML would change
// or read as its own (NUL, CR and <) are told together with the seven bits behind them by one character of
// two bytes, or without any at the end.
const UNFIT = [0, 13, 60];
const FIRST = 0xa0, ALONE = FIRST + 128 * UNFIT.length; // past the control codes; all of them take two bytes

export function packText(bytes) {
  const sevens = [];
  let held = 0, bits = 0;
  for (const byte of bytes) {
    held = (held << 8) | byte;
    bits += 8;
    while (bits >= 7) { bits -= 7; sevens.push((held >> bits) & 127); }
    held &= (1 << bits) - 1;
  }
  if (bits > 0) sevens.push((held << (7 - bits)) & 127);
  let text = '';
  for (let i = 0; i < sevens.length; i++) {
    const unfit = UNFIT.indexOf(sevens[i]);
    if (unfit < 0) text += String.fromCharCode(sevens[i]);
    else text += String.fromCharCode(i + 1 < sevens.length ? FIRST + 128 * unfit + sevens[++i] : ALONE + unfit);
  }
  return text;
}

export function unpackText(text) {
  let pairs = 0;
  for (let i = 0; i < text.length; i++) pairs += text.charCodeAt(i) >= FIRST && text.charCodeAt(i) < ALONE;
  const bytes = new Uint8Array(Math.floor((text.length + pairs) * 7 / 8)); // the zeros at the end are under a byte
  let held = 0, bits = 0, at = 0;
  const take = (seven) => {
    held = (held << 7) | seven;
    bits += 7;
    if (bits >= 8) { bits -= 8; bytes[at++] = held >> bits; held &= (1 << bits) - 1; }
  };
  for (let i = 0; i < text.length; i++) {
    const code = text.charCodeAt(i);
    if (code < FIRST) take(code);
    else if (code >= ALONE) take(UNFIT[code - ALONE]);
    else { take(UNFIT[(code - FIRST) >> 7]); take((code - FIRST) & 127); }
  }
  return bytes;
}

// What a part of the page carries, unzipped.
export const carried = (id) => new Blob([unpackText(document.getElementById(id).textContent)]).stream().pipeThrough(new DecompressionStream('gzip'));
