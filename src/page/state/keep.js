// SPDX-License-Identifier: GPL-3.0-or-later
// What the page keeps on this machine: the last scene and how the page is set. Writing can fail (a full
// store, a browser that forbids it); that is told, never swallowed, and the file stays the way out.
const NAME = 'veilstop.';

export function createKeep(storage) {
  const read = (key) => {
    try {
      const text = storage()?.getItem(NAME + key);
      return text ? JSON.parse(text) : null;
    } catch { return null; }
  };
  // The reason where it could not be kept; null where it was.
  const write = (key, value) => {
    try {
      const place = storage();
      if (!place) return 'this browser keeps nothing for pages from a file';
      const text = JSON.stringify(value);
      place.setItem(NAME + key, text);
      return place.getItem(NAME + key) === text ? null : 'what was written could not be read back';
    } catch (e) {
      return /quota|exceeded/i.test(`${e.name} ${e.message}`) ? 'the store of this browser is full' : String(e.message ?? e);
    }
  };
  const drop = (key) => { try { storage()?.removeItem(NAME + key); } catch { /* nothing was kept */ } };
  return { read, write, drop };
}
export const browserKeep = () => createKeep(() => globalThis.localStorage);
