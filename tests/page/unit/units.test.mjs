// SPDX-License-Identifier: GPL-3.0-or-later
// Lengths as people write them, against NIST SP 811 (1 ft = 0.3048 m, 1 in = 25.4 mm, exact).
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { clock, digits, duration, inFile, lengthText, lengthWords, metres, number, timeLeft } from '../../../src/page/state/units.js';

const near = (got, want, by = 1e-9) => assert.ok(Math.abs(got - want) <= by, `${got} is not ${want}`);

test('a length in any form of docs/scene.md', () => {
  near(metres('12 ft'), 12 * 0.3048);
  near(metres('3.5 m'), 3.5);
  near(metres('350 cm'), 3.5);
  near(metres('25 mm'), 0.025);
  near(metres('6 in'), 0.1524);
  near(metres('12\'6"'), 12.5 * 0.3048);
  near(metres("6' 3"), 6.25 * 0.3048);
  near(metres(10, 'ft'), 3.048);
  near(metres('1,75'), 1.75);
  for (const bad of ['', 'tall', '3 yards', '1 2', '--4', "12''"]) assert.ok(Number.isNaN(metres(bad)), bad);
});

test('what a field shows reads back as the same length', () => {
  for (const m of [0, 0.05, 1.9, 2.125, 8.5, 12.34, -1.25]) near(metres(lengthText(m, 'm'), 'm'), m, 5e-4);
  for (const inches of [0, 3, 11.5, 12, 75, 300, -30]) {
    const m = inches * 0.0254;
    near(metres(lengthText(m, 'ft'), 'ft'), m, 1e-9);
  }
  assert.equal(lengthText(75 * 0.0254, 'ft'), '6\' 3"');
});

test('a file keeps a tenth of a millimetre in its own unit', () => {
  assert.equal(inFile(3.048, 'ft'), 10);
  assert.equal(inFile(1.23456, 'm'), 1.2346);
});

test('figures for reading', () => {
  assert.equal(digits(0.1934), '0.19');
  assert.equal(digits(130.4), '130');
  assert.equal(digits(-2.04), '−2.0');
  assert.equal(digits(NaN), '–');
  assert.equal(lengthWords(8.53, 'm'), '8.5 m');
  assert.equal(lengthWords(30, 'ft'), '98 ft');
  assert.equal(number('1,5'), 1.5);
  assert.ok(Number.isNaN(number('about 3')));
});

test('times of the day', () => {
  assert.equal(clock(12.1352088, '07:30'), '07:42');
  assert.equal(clock(0.5, '23:59', true), '23:59:30');
  assert.equal(clock(90, undefined), '01:30');
  assert.equal(duration(357.7), '5 min 58 s');
  assert.equal(duration(45.9), '46 s');
  assert.equal(timeLeft(136), '2:16');
});
