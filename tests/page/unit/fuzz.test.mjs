// SPDX-License-Identifier: GPL-3.0-or-later
// Mutated scenes through the page's core: each is refused with faults or answered, and none traps. Seeded,
// so that what is found can be found again: VS_FUZZ_SEED, VS_FUZZ (how many; 10000 before a release).
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';
import { openBridge } from '../../../src/page/core/bridge.js';

const COUNT = Number(process.env.VS_FUZZ ?? 300), SEED = Number(process.env.VS_FUZZ_SEED ?? 1);
const DENSITY = ['extinction_per_m', 'mass_mg_per_m3', 'visible_range_m']; // without one the core chooses first
const ASK_OF = 25; // of the valid ones each so manieth is asked for light too, which takes longest
const read = (name) => readFileSync(new URL(`../../../data/demo/${name}`, import.meta.url), 'utf8');
const bases = ['cellar.json', 'yard.json', 'loft.json', 'washroom.json'].map(read);

// Marsaglia's xorshift, 32 bits.
let state = SEED * 2654435761 >>> 0 || 1;
const random = (n) => { state ^= state << 13; state >>>= 0; state ^= state >>> 17; state ^= state << 5; state >>>= 0; return state % n; };
const pick = (list) => list[random(list.length)];
const VALUES = [0, -1, 1, 1e-9, 1e9, 1e300, -0.5, 0.5, 180, 360, null, true, '', 'x', '12 ft', '1e400', [], {}, [0, 0, 0], [1e6, 1e6, 1e6], 'cellar', 'outside', 0.999999, 2, 3, 64, 1e-300];

function places(node, out = []) {
  for (const key of Object.keys(node)) {
    out.push([node, key]);
    if (node[key] && typeof node[key] === 'object') places(node[key], out);
  }
  return out;
}
function mutate(text) {
  const scene = JSON.parse(text);
  for (let n = 1 + random(3); n > 0; n--) {
    const [node, key] = pick(places(scene)), [other, from] = pick(places(scene)), how = random(6);
    if (how === 0) delete node[key];
    else if (how === 1) node[key] = pick(VALUES);
    else if (how === 2 && typeof node[key] === 'number') node[key] *= pick([0.5, 2, -1, 1.01, 10, 0.1]);
    else if (how === 3 && Array.isArray(node[key])) node[key].push(structuredClone(node[key][0] ?? 1));
    else if (how === 4) node[key] = structuredClone(other[from]);
    else if (typeof node[key] === 'number') node[key] += pick([0.05, -0.05, 1, -1]);
    else node[pick(['name', 'at', 'kind', 'dimmer', 'wants', 'note'])] = pick(VALUES);
  }
  const out = JSON.stringify(scene);
  if (random(20) > 0) return out;
  const at = random(out.length); // and now and then a byte of the text itself
  return out.slice(0, at) + String.fromCharCode(random(256)) + out.slice(at + 1 + random(3));
}

test(`${COUNT} mutated scenes, none traps (seed ${SEED})`, async () => {
  const core = await openBridge(await WebAssembly.compile(readFileSync(process.env.VS_CORE)), { 'bulkhead.ies': read('bulkhead.ies') });
  let valid = 0, asked = 0, done = 0;
  for (; done < COUNT; done++) {
    const scene = mutate(pick(bases));
    let at = 'check';
    try {
      if (core.check({ scene }).length) continue;
      valid++;
      const shots = JSON.parse(scene).shots ?? [], open = shots.some((s) => DENSITY.every((key) => s[key] === undefined));
      if (!open || valid % ASK_OF === 0) for (const command of ['dwell', 'cautions']) { at = command; core.run({ command, scene }); }
      if (valid % ASK_OF === 0 && shots.length) {
        asked++;
        at = 'predict';
        try { core.predict({ scene, shot: 0, extinction: 0.02 }); } catch (e) { if (e instanceof WebAssembly.RuntimeError) throw e; }
      }
    } catch (e) { assert.fail(`${at} of mutation ${done}: ${e.message}\n${scene}`); }
  }
  console.log(`${done} scenes, ${valid} of them valid, ${asked} asked for light, ${(core.memory() / 1e6).toFixed(0)} MB`);
  assert.ok(valid > done / 50 && valid < done, `${valid} of ${done} are valid: the mutations are worth something`);
});
