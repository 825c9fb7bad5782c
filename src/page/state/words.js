// SPDX-License-Identifier: GPL-3.0-or-later
// The words of docs/words.md for figures: the ends between them are that page's.
const first = (x, list) => list.find(([end]) => x < end)[1];

// Density in the air [1/m].
export const hazeWord = (k) => first(k, [[0.0002, 'No haze'], [0.014, 'Thin'], [0.022, 'Light'],
  [0.04, 'Medium'], [0.065, 'Thick'], [Infinity, 'Heavy']]);
// How far a black is lifted [% of signal].
export const blackWord = (lift) => first(lift, [[1, 'no lift'], [4.5, 'a subtle lift'], [9, 'a clear lift'],
  [20, 'a heavy lift'], [Infinity, 'fog']]);
// How a beam reads: the core's word, as people say it.
export const beamWord = (reads) => (reads === 'no' ? 'not seen' : reads);
// Visibility at 2 % contrast [m]: 3.912 over the density, Koschmieder.
export const visibility = (k) => (k > 0 ? 3.912 / k : Infinity);

const KINDS = { lamp: 'bare lamp', spot: 'spot', panel: 'soft light', tube: 'tube', sun: 'sun',
  sky: 'sky', photometry: 'measured lamp' };
export function kindWord(kind, item) {
  if (kind !== 'lights') {
    return { rooms: 'room', openings: 'opening', blockers: item?.transmittance > 0 ? 'net' : 'solid',
      figures: 'person', hazer: 'hazer', cameras: 'camera', points: 'point', detectors: 'smoke detector' }[kind];
  }
  if (item.kind === 'panel' && item.fed_by) return item.fed_by.reflectance !== undefined ? 'bounce board' : 'diffusion frame';
  return KINDS[item.kind] ?? item.kind;
}

export const troubleWords = {
  hazer_too_weak: 'the hazer is too weak for it', over_two_hours_to_fill: 'over two hours to fill',
  over_two_hours_to_mix: 'over two hours to mix', over_two_hours_to_thin: 'over two hours to thin',
  shortest_burst_overshoots: 'the shortest burst is too much', silent_too_long: 'too long without the hazer',
  burst_limits: 'its bursts cannot hold it', drifts: 'it drifts away', hazer_in_another_room: 'the hazer is in another room',
};
// A camera's curve, as its standard writes it.
export const CURVES = { acescct: 'ACEScct', bt709: 'BT.709', srgb: 'sRGB', hlg: 'HLG', pq: 'PQ', linear: 'linear' };
export const statusWords = { read: 'read in the source', memory: 'from memory of the source',
  practice: 'common practice, no source', derived: 'worked out', assumed: 'assumed' };
export const CAUTION = 'Haze is breathed and sets off alarms. Defer to local code, the venue and licensed practice.';
