// SPDX-License-Identifier: GPL-3.0-or-later
// The scout's photo, kept in this browser beside the scene: a database holds what is too large for the store
// of short texts. It can be missing, forbidden or full; that is told, never swallowed.
const NAME = 'veilstop', STORE = 'photo', KEY = 'scout';
const MOST = 6e6; // bytes of pixels: 640 across and two and a half times as high

const done = (request) => new Promise((good, bad) => { request.onsuccess = () => good(request.result); request.onerror = () => bad(request.error); });

async function inStore(database, mode, use) {
  if (!database) throw new Error('this browser keeps nothing for pages from a file');
  const opening = database.open(NAME, 1);
  opening.onupgradeneeded = () => opening.result.createObjectStore(STORE);
  const db = await done(opening);
  try {
    const change = db.transaction(STORE, mode), ended = new Promise((good, bad) => { change.oncomplete = good; change.onabort = () => bad(change.error); });
    const value = await done(use(change.objectStore(STORE)));
    await ended;
    return value;
  } finally { db.close(); }
}

// scout: { width, height, image, ... }, image an ImageData.
export function createPhotoKeep(database) {
  // The reason where it could not be kept; null where it was.
  const write = async (scout) => {
    try {
      if (!scout) { await inStore(database(), 'readwrite', (store) => store.delete(KEY)); return null; }
      const { image, ...rest } = scout;
      if (image.data.length > MOST) return 'it is too tall';
      await inStore(database(), 'readwrite', (store) => store.put({ ...rest, across: image.width, down: image.height, data: image.data }, KEY));
      return null;
    } catch (e) {
      return /quota/i.test(`${e?.name} ${e?.message}`) ? 'the store of this browser is full' : String(e?.message ?? e);
    }
  };
  const read = async () => {
    try {
      const found = await inStore(database(), 'readonly', (store) => store.get(KEY));
      if (!found) return null;
      const { across, down, data, ...rest } = found;
      return { ...rest, image: new ImageData(new Uint8ClampedArray(data), across, down) };
    } catch { return null; } // what cannot be read was not kept
  };
  return { write, read };
}
export const browserPhotoKeep = () => createPhotoKeep(() => globalThis.indexedDB);
