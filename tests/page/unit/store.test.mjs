// SPDX-License-Identifier: GPL-3.0-or-later
// Changes, undo and redo; and what is kept when a store is full, forbidden or broken.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { createKeep } from '../../../src/page/state/keep.js';
import { createStore } from '../../../src/page/state/store.js';

test('each change can be undone and redone, and no scene is changed in place', () => {
  const first = { rooms: [{ name: 'a' }] }, store = createStore(first);
  store.change('one', (s) => { s.rooms[0].name = 'b'; });
  store.change('two', (s) => { s.rooms.push({ name: 'c' }); });
  assert.equal(first.rooms[0].name, 'a');
  assert.equal(store.undoLabel, 'two');
  store.undo();
  assert.deepEqual(store.scene, { rooms: [{ name: 'b' }] });
  store.undo();
  assert.deepEqual(store.scene, first);
  store.undo();
  store.redo();
  store.redo();
  assert.deepEqual(store.scene, { rooms: [{ name: 'b' }, { name: 'c' }] });
  assert.equal(store.redoLabel, null);
});

test('a drag is one step, and a drag put back is none', () => {
  const store = createStore({ x: 0 });
  for (let x = 1; x <= 9; x++) store.change('drag', (s) => { s.x = x; }, 'g1');
  store.endGroup();
  store.change('other', (s) => { s.x = 20; }, 'g1');
  store.undo();
  assert.equal(store.scene.x, 9);
  store.undo();
  assert.equal(store.scene.x, 0);
  for (let x = 1; x <= 9; x++) store.change('drag', (s) => { s.x = x; }, 'g2');
  store.putBack('g2');
  assert.equal(store.scene.x, 0);
  assert.equal(store.undoLabel, null);
});

test('what changes nothing is no step', () => {
  const store = createStore({ x: 1 });
  store.change('same', (s) => { s.x = 1; });
  assert.equal(store.undoLabel, null);
});

const memory = (most = Infinity) => {
  const held = new Map();
  return { getItem: (k) => held.get(k) ?? null, removeItem: (k) => held.delete(k),
    setItem(k, v) { if (v.length > most) throw Object.assign(new Error('full'), { name: 'QuotaExceededError' }); held.set(k, v); } };
};

test('what is kept comes back; a full store says so and keeps what it had', () => {
  const place = memory(40), keep = createKeep(() => place);
  assert.equal(keep.write('scene', { a: 1 }), null);
  assert.deepEqual(keep.read('scene'), { a: 1 });
  assert.match(keep.write('scene', { a: 'x'.repeat(100) }), /full/);
  assert.deepEqual(keep.read('scene'), { a: 1 });
});

test('a store that is forbidden or broken is told, and nothing is thrown', () => {
  assert.match(createKeep(() => { throw new Error('denied'); }).write('scene', {}), /denied/);
  assert.equal(createKeep(() => { throw new Error('denied'); }).read('scene'), null);
  assert.match(createKeep(() => null).write('scene', {}), /keeps nothing/);
  const liar = { ...memory(), getItem: () => null };
  assert.match(createKeep(() => liar).write('scene', {}), /read back/);
  const place = memory();
  place.setItem('veilstop.scene', '{broken');
  assert.equal(createKeep(() => place).read('scene'), null);
});
