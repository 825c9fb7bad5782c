/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The words used on a set for figures (docs/words.md): how thick haze is, how lifted a black, what
 * colour a veil, how far one sees. */
#ifndef VEILSTOP_REPORT_WORDS_H
#define VEILSTOP_REPORT_WORDS_H

#include "veilstop/base/bands.h"
#include "veilstop/report/style.h"
#include "veilstop/report/text.h"

#ifdef __cplusplus
extern "C" {
#endif

/** How thick: "no haze", "thin", "light", "medium", "thick", "heavy".
 *  extinction_per_m  [1/m] 0 or over, at 549 nm
 *  Common practice, no source: 0.01 is thin, 0.03 medium, 0.08 heavy; the ends lie between. */
const char *vs_report_haze_word(double extinction_per_m);

/** How lifted a black looks in a finished picture: "none", "subtle", "clear", "heavy", "fog".
 *  veil_linear  light in front of it, scene-linear (0.18 at middle grey)
 *  Method: the signal of BT.709, whatever the camera's curve, because the words are about pictures
 *  on a screen. Common practice, no source: 2 to 4 % subtle, 5 to 8 clear, 10 to 15 heavy, over 20
 *  fog; the ends lie in between, and under 1 it is invisible. */
const char *vs_report_black_word(double veil_linear);

/** Appends "130 m", "4850 m", "no limit". */
void vs_report_visibility(vs_text *out, const vs_style *style, double range_m);

/** Appends "0.0300 /m": three figures. */
void vs_report_density(vs_text *out, double extinction_per_m);
/** Appends "0.0255 to 0.0397 /m". */
void vs_report_densities(vs_text *out, double from_per_m, double to_per_m);

/** Appends "warm, like light of 4300 K on a camera set to 5600 K", with a word for a green or
 *  magenta cast.
 *  tint          bands over 0
 *  white_kelvin  the camera's [K]
 *  Words by mired from the camera's white: under 5 neither warm nor cool, and nothing at all without
 *  a cast; under 30 slightly, over 100 very (a quarter and a near full correction gel; common
 *  practice, no source). */
void vs_report_colour(vs_text *out, vs_bands tint, double white_kelvin);

#ifdef __cplusplus
}
#endif
#endif
