// SPDX-License-Identifier: GPL-3.0-or-later
// How far a reading of the card can be gone by. Pure.
const SURE = 0.2;   // give or take, over the figure: the card's own distance is given for this
const USABLE = 0.5; // the core fits no plan to what is less sure

// mine: the core's reading; topUp: its top-up, if any. unsure: give or take, over the figure (Infinity: no
// haze was read); topUp: only one that can be gone by.
export function verdictOf(mine, topUp) {
  const unsure = mine.extinction_per_m > 0 ? mine.uncertainty_per_m / mine.extinction_per_m : Infinity, sure = unsure <= SURE;
  return { unsure, sure, usable: unsure <= USABLE, topUp: sure && topUp?.run_s > 0 ? topUp : null };
}
