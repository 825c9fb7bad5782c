// SPDX-License-Identifier: GPL-3.0-or-later
// The core compiled to WebAssembly against the native program, band by band: what a compiler makes of it.
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { test } from 'node:test';
import { openBridge } from '../../../src/page/core/bridge.js';

const data = new URL('../../../data/demo/', import.meta.url);
const read = (name) => readFileSync(new URL(name, data), 'utf8');
const core = await openBridge(await WebAssembly.compile(readFileSync(process.env.VS_CORE)), { 'bulkhead.ies': read('bulkhead.ies') });

test('every band of every point is as the native program has it', () => {
  for (const [name, shot] of [['cellar.json', '1 wide'], ['washroom.json', JSON.parse(read('washroom.json')).shots[0].name]]) {
    const words = ['predict', fileURLToPath(new URL(name, data)), '--shot', shot, '--extinction', '0.02', '--json'];
    const native = JSON.parse(spawnSync(process.env.VS_PROGRAM, words, { encoding: 'utf8' }).stdout);
    const { answer } = core.run({ command: 'predict', scene: read(name), options: [`shot=${shot}`, 'extinction=0.02'] });
    native.shots[0].points.forEach((p, i) => p.bands_veil_nits.forEach((nits, band) => {
      const mine = answer.shots[0].points[i].bands_veil_nits[band];
      assert.ok(Math.abs(mine / nits - 1) < 1e-3, `${name}, ${p.name}, band ${band}: ${mine} and ${nits}`);
    }));
  }
});
