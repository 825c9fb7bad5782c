// SPDX-License-Identifier: GPL-3.0-or-later
// What the page carries as text: the same bytes again, in characters that an HTML parser leaves alone. The
// WHATWG HTML standard replaces NUL and normalizes CR in script data, and "<" may end it.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { packText, unpackText } from '../../../src/page/shell/packed.js';

let seed = 5;
const random = () => (seed = (seed * 1103515245 + 12345) & 0x7fffffff) / 0x80000000; // ISO C's example generator
const same = (bytes) => {
  const text = packText(bytes);
  assert.deepEqual([...unpackText(text)], [...bytes]);
  assert.doesNotMatch(text, /[\0\r<\u0080-\u009f]/);
  assert.equal(Buffer.from(text, 'utf8').toString('utf8'), text);
  return Buffer.byteLength(text);
};

test('bytes of every length and value come back', () => {
  for (let length = 0; length < 40; length++) for (const value of [0, 13, 60, 0x3c >> 1, 127, 128, 255]) same(new Uint8Array(length).fill(value));
  for (let i = 0; i < 300; i++) same(Uint8Array.from({ length: Math.floor(200 * random()) }, () => 256 * random()));
});
test('nothing takes more than eight bytes for seven', () => {
  for (const fill of [() => 0, () => 256 * random()]) assert.ok(same(Uint8Array.from({ length: 70000 }, fill)) <= 80000 + 1);
});
