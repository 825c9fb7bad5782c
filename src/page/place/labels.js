// SPDX-License-Identifier: GPL-3.0-or-later
// Where names stand on a drawing: beside their thing, on the first side that is free; those that matter
// least go without. Marks and walls are kept clear of.
const PER_LETTER = 7.1, HIGH = 16; // [px] of 13 px type: as measured in two system fonts

const meet = (a, b) => a.x < b.x + b.w && b.x < a.x + a.w && a.y < b.y + b.h && b.y < a.y + a.h;

// marks: [{ x, y, r, text, rank }], rank 0 first. Gives [{ x, y, anchor }] or null, in their order.
export function placeLabels(marks, width, height) {
  const taken = marks.map((m) => ({ x: m.x - m.r, y: m.y - m.r, w: 2 * m.r, h: 2 * m.r }));
  const out = marks.map(() => null);
  const order = marks.map((m, i) => i).filter((i) => marks[i].text).sort((a, b) => marks[a].rank - marks[b].rank);
  for (const i of order) {
    const { x, y, r, text } = marks[i], w = text.length * PER_LETTER, gap = r + 4;
    const sides = [
      [x + gap, y - HIGH / 2, 'start', x + gap], [x - gap - w, y - HIGH / 2, 'end', x - gap],
      [x - w / 2, y + gap, 'middle', x], [x - w / 2, y - gap - HIGH, 'middle', x],
    ];
    for (const [left, top, anchor, tx] of sides) {
      const box = { x: left, y: top, w, h: HIGH };
      const within = left >= 2 && left + w <= width - 2 && top >= 0 && top + HIGH <= height;
      if (!within || taken.some((t, j) => j !== i && meet(t, box))) continue;
      taken.push(box);
      out[i] = { x: tx, y: top + HIGH - 4, anchor };
      break;
    }
  }
  return out;
}
