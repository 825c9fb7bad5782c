// SPDX-License-Identifier: GPL-3.0-or-later
// Light of a patch of a photo, on a scale of its own: the mean of 15 x 15 pixels in linear light times 100.
// IEC 61966-2-1: from code to linear light. ITU-R BT.709: what red, green and blue count.
const linear = (code) => { const c = code / 255; return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4; };
const HALF = 7;

export function patchLight({ data, width, height }, u, v) {
  const x = Math.min(width - 1, Math.max(0, Math.round(u * width))), y = Math.min(height - 1, Math.max(0, Math.round(v * height)));
  let sum = 0, count = 0;
  for (let j = Math.max(0, y - HALF); j <= Math.min(height - 1, y + HALF); j++) {
    for (let i = Math.max(0, x - HALF); i <= Math.min(width - 1, x + HALF); i++) {
      const at = 4 * (j * width + i);
      sum += 0.2126 * linear(data[at]) + 0.7152 * linear(data[at + 1]) + 0.0722 * linear(data[at + 2]);
      count++;
    }
  }
  return Number((100 * sum / count).toPrecision(5));
}
