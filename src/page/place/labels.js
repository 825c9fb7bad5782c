// SPDX-License-Identifier: GPL-3.0-or-later
// Where names stand on a drawing: beside their thing, on the first side that is free; those that matter
// least go without, and so do those whose thing is out of sight. Marks and the drawing's edge are kept
// clear of.
const HIGH = 16, PER_LETTER = 7.1; // [px] of 13 px type; a letter where nothing can measure

// Text as wide as the page paints it; an upper mean of two system fonts outside a browser.
const widths = new Map();
let pen = null;
export function textWidth(text) {
  if (!globalThis.document) return text.length * PER_LETTER;
  if (!widths.has(text)) {
    pen ??= document.createElement('canvas').getContext('2d');
    pen.font = '700 13px system-ui, sans-serif'; // as bold as it gets
    widths.set(text, pen.measureText(text).width + 4);
  }
  return widths.get(text);
}

const meet = (a, b) => a.x < b.x + b.w && b.x < a.x + a.w && a.y < b.y + b.h && b.y < a.y + a.h;

// marks: [{ x, y, r, text, rank }], rank 0 first.  sight: [left, top, wide, high].
// Gives [{ x, y, anchor }] or null, in their order.
export function placeLabels(marks, [left0, top0, wide, high]) {
  const seen = (m) => m.x >= left0 && m.x <= left0 + wide && m.y >= top0 && m.y <= top0 + high;
  const taken = marks.filter(seen).map((m) => ({ of: m, x: m.x - m.r, y: m.y - m.r, w: 2 * m.r, h: 2 * m.r }));
  const out = marks.map(() => null);
  const order = marks.map((m, i) => i).filter((i) => marks[i].text && seen(marks[i])).sort((a, b) => marks[a].rank - marks[b].rank);
  for (const i of order) {
    const { x, y, r, text } = marks[i], w = textWidth(text), gap = r + 3;
    const sides = [
      [x + gap, y - HIGH / 2, 'start', x + gap], [x - gap - w, y - HIGH / 2, 'end', x - gap],
      [x - w / 2, y + gap, 'middle', x], [x - w / 2, y - gap - HIGH, 'middle', x],
      ...[1, -1].flatMap((v) => [[x + r - 2, y + (v > 0 ? r - 2 : 2 - r - HIGH), 'start', x + r - 2], [x - r + 2 - w, y + (v > 0 ? r - 2 : 2 - r - HIGH), 'end', x - r + 2]]),
    ];
    for (const [left, top, anchor, tx] of sides) {
      const box = { x: left, y: top, w, h: HIGH };
      const within = left >= left0 + 2 && left + w <= left0 + wide - 2 && top >= top0 && top + HIGH <= top0 + high;
      if (!within || taken.some((t) => t.of !== marks[i] && meet(t, box))) continue;
      taken.push({ of: null, ...box });
      out[i] = { x: tx, y: top + HIGH - 4, anchor };
      break;
    }
  }
  return out;
}
