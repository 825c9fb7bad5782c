// SPDX-License-Identifier: GPL-3.0-or-later
// Where a day can begin: places of the brewery, or an empty room.
export const STARTS = [
  ['The cellar', 'a vault, a hatch with sun, four shots'], ['The yard', 'outside at night'], ['The loft', 'tall, shafts of window light'],
  ['The washroom', 'tiles and a bare bulb'], ['An empty room', 'draw your own'],
];
const FILES = { 'The cellar': 'cellar.json', 'The yard': 'yard.json', 'The loft': 'loft.json', 'The washroom': 'washroom.json' };
const EMPTY = { veilstop: 1, title: 'An empty room', lengths: 'm', rooms: [{ name: 'room', corner: [0, 0, 0], size: [5, 4, 2.6], reflectance: 0.5 }] };

export function startScene(name, scenes) {
  return FILES[name] ? JSON.parse(scenes[FILES[name]]) : structuredClone(EMPTY);
}
