// SPDX-License-Identifier: GPL-3.0-or-later
// Lengths as a scene file and people write them, in metres inside; other figures with as many digits as
// their use asks for. The forms of a length are those of docs/scene.md.
export const M_PER_FT = 0.3048; // NIST SP 811, exact
const M_PER = { m: 1, cm: 0.01, mm: 0.001, ft: M_PER_FT, in: M_PER_FT / 12 };
const NUMBER = '[-+]?(?:\\d+\\.?\\d*|\\.\\d+)(?:[eE][-+]?\\d+)?';
const WITH_UNIT = new RegExp(`^\\s*(${NUMBER})\\s*(m|cm|mm|ft|in)?\\s*$`);
const FEET = new RegExp(`^\\s*([-+]?\\d+(?:\\.\\d+)?)\\s*['’]\\s*(?:(\\d+(?:\\.\\d+)?)\\s*(?:"|”|in)?)?\\s*$`);

// A length in metres; NaN where it is none.  unit: of a bare number.
export function metres(value, unit = 'm') {
  if (typeof value === 'number') return value * M_PER[unit];
  const text = String(value ?? '').replace(',', '.').replace('−', '-');
  const plain = WITH_UNIT.exec(text);
  if (plain) return Number(plain[1]) * M_PER[plain[2] ?? unit];
  const feet = FEET.exec(text);
  if (!feet) return NaN;
  const whole = Number(feet[1]), sign = text.trim().startsWith('-') ? -1 : 1;
  return (whole + sign * Number(feet[2] ?? 0) / 12) * M_PER_FT;
}

// The number that stands for a length in a file of that unit, to a tenth of a millimetre.
export const inFile = (m, unit = 'm') => Number((m / M_PER[unit]).toFixed(4));

// As a field shows it, without the unit: "1.90"; feet and inches, to half an inch: 6' 3".
export function lengthText(m, unit = 'm') {
  if (!Number.isFinite(m)) return '';
  if (unit !== 'ft') return Number(m.toFixed(3)).toFixed(Math.abs(m * 100 - Math.round(m * 100)) < 0.05 ? 2 : 3);
  const half = Math.round(Math.abs(m) / M_PER_FT * 24) / 2;
  const feet = Math.floor(half / 12), inches = half - 12 * feet;
  return `${m < 0 && half > 0 ? '-' : ''}${feet}'${inches ? ` ${inches}"` : ''}`;
}
// With its unit, rounded for reading: "8.5 m", "27' 11\"".
export function lengthWords(m, unit = 'm') {
  if (!Number.isFinite(m)) return '';
  if (unit === 'ft') return m / M_PER_FT >= 20 ? `${Math.round(m / M_PER_FT)} ft` : lengthText(m, 'ft');
  return `${m >= 1000 ? Math.round(m / 100) * 100 : digits(m)} m`;
}

// Two or three figures: 0.19, 8.5, 130, 1200.
export function digits(x, figures = 2) {
  if (!Number.isFinite(x)) return '–';
  if (x === 0) return '0';
  const places = Math.max(0, figures - 1 - Math.floor(Math.log10(Math.abs(x))));
  return x.toFixed(Math.min(places, 6)).replace('-', '−');
}
export const stops = (x) => `${x > 0 ? '+' : x < 0 ? '−' : ''}${Math.abs(x).toFixed(Math.abs(x) < 1 ? 2 : 1)}`;

// What people type for a number: "1,5" and "1.5"; NaN where it is none.
export function number(text) {
  const plain = String(text).trim().replace(',', '.').replace('−', '-').replace(/[\s%]+$/, '');
  return new RegExp(`^${NUMBER}$`).test(plain) ? Number(plain) : NaN;
}

// Minutes of the day as a clock, from a scene's "start"; without one, minutes from the start.
export function clock(min, start, seconds = false) {
  if (!Number.isFinite(min)) return '';
  const base = start ? Number(start.slice(0, 2)) * 60 + Number(start.slice(3)) : 0;
  const whole = seconds ? Math.round((min + base) * 60) : Math.floor(min + base + 1e-6) * 60;
  const pad = (n) => String(n).padStart(2, '0');
  const h = Math.floor(whole / 3600) % 24, m = Math.floor(whole / 60) % 60, s = whole % 60;
  const day = `${pad(h)}:${pad(m)}`;
  return seconds ? `${day}:${pad(s)}` : day;
}
// Seconds as said on a set: "46 s", "5 min 58 s", "23 min".
export function duration(seconds) {
  const s = Math.round(seconds);
  if (s < 60) return `${s} s`;
  if (s >= 600) return `${Math.round(s / 60)} min`;
  return `${Math.floor(s / 60)} min${s % 60 ? ` ${s % 60} s` : ''}`;
}
export const timeLeft = (seconds) => {
  const s = Math.max(0, Math.ceil(seconds));
  const h = Math.floor(s / 3600), m = Math.floor(s / 60) % 60;
  return h ? `${h}:${String(m).padStart(2, '0')} h` : `${m}:${String(s % 60).padStart(2, '0')}`;
};
