/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header, and docs/words.md. */
#include "veilstop/report/words.h"

#include <math.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#include "veilstop/camera/curve.h"
#include "veilstop/light/colour.h"

#define MIRED_PER_KELVIN 1e6   /* [mired K] a mired is a millionth of 1/K */
#define MIRED_SEEN       5.0   /* [mired] the least that is noticed; from memory of Judd */
#define MIRED_SLIGHT     30.0  /* [mired] under a quarter correction gel; common practice */
#define MIRED_VERY       100.0 /* [mired] towards a full one; common practice */
#define CAST_SEEN        0.15  /* [stops] of green: about an eighth gel; common practice */

/* Words, each with its upper end. */
typedef struct {
    double under;
    const char *word;
} step;

static const char *word_of(const step *steps, double value) {
    while (!(value < steps->under) && isfinite(steps->under)) {
        steps++;
    }
    return steps->word;
}

const char *vs_report_haze_word(double extinction_per_m) {
    static const step steps[] = {{1e-12, "no haze"}, {0.014, "thin"},  {0.022, "light"},
                                 {0.04, "medium"},   {0.065, "thick"}, {INFINITY, "heavy"}};
    return word_of(steps, extinction_per_m);
}

const char *vs_report_black_word(double veil_linear) {
    static const step steps[] = {
        {1, "none"}, {4.5, "subtle"}, {9, "clear"}, {20, "heavy"}, {INFINITY, "fog"}};
    vs_curve screen;
    bool known = vs_curve_named("bt709", &screen) == VS_OK;
    return word_of(steps, known ? 100 * vs_curve_encode(&screen, veil_linear) : (double)NAN);
}

void vs_report_visibility(vs_text *out, const vs_style *style, double range_m) {
    char number[16];
    if (isfinite(range_m)) {
        vs_text_addf(out, "%s %s", vs_style_number(vs_style_length(style, range_m), number),
                     vs_style_length_unit(style));
    } else {
        vs_text_addf(out, "no limit");
    }
}

void vs_report_density(vs_text *out, double extinction_per_m) {
    char number[16];
    vs_text_addf(out, "%s /m", vs_style_number(extinction_per_m, number));
}

void vs_report_densities(vs_text *out, double from_per_m, double to_per_m) {
    char number[16];
    vs_text_addf(out, "%s to ", vs_style_number(from_per_m, number));
    vs_report_density(out, to_per_m);
}

/* As fine as is noticed; at the ends of the range "over" or "under". */
static void add_kelvin(vs_text *out, double kelvin) {
    if (kelvin > 0.99 * VS_COLOUR_KELVIN_MAX) {
        vs_text_addf(out, "over %.0f K", VS_COLOUR_KELVIN_MAX);
    } else if (kelvin < 1.01 * VS_COLOUR_KELVIN_MIN) {
        vs_text_addf(out, "under %.0f K", VS_COLOUR_KELVIN_MIN);
    } else {
        vs_text_addf(out, "%.0f K",
                     kelvin < 5000    ? 50 * round(kelvin / 50)
                     : kelvin < 10000 ? 100 * round(kelvin / 100)
                                      : 1000 * round(kelvin / 1000));
    }
}

void vs_report_colour(vs_text *out, vs_bands tint, double white_kelvin) {
    double kelvin, cast_stops;
    if (vs_colour_kelvin(tint, white_kelvin, &kelvin, &cast_stops) != VS_OK) {
        vs_text_addf(out, "coloured, of no colour temperature");
        return;
    }
    double mired = MIRED_PER_KELVIN / kelvin - MIRED_PER_KELVIN / white_kelvin;
    const char *cast = cast_stops > CAST_SEEN    ? "greenish"
                       : cast_stops < -CAST_SEEN ? "magenta"
                                                 : "";
    if (fabs(mired) < MIRED_SEEN) {
        if (*cast) {
            vs_text_addf(out, "%s, neither warm nor cool on a camera set to %.0f K", cast,
                         white_kelvin);
        }
        return;
    }
    vs_text_addf(out, "%s%s%s%s, like light of ",
                 fabs(mired) < MIRED_SLIGHT ? "slightly "
                 : fabs(mired) > MIRED_VERY ? "very "
                                            : "",
                 mired > 0 ? "warm" : "cool", *cast ? " and " : "", cast);
    add_kelvin(out, kelvin);
    vs_text_addf(out, " on a camera set to %.0f K", white_kelvin);
}
