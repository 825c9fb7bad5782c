/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. Words: common practice, no source; docs/output.md, "Answers". */
#include "ask/densities.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "veilstop/shot/density.h"

#define EXTINCTION_MAX_PER_M 100.0 /* [1/m] as in a scene */
#define MASS_MAX_MG_PER_M3   1e5   /* [mg/m3] as in a scene */
#define RANGE_MIN_M          0.04  /* [m] as in a scene */
#define RANGE_MAX_M          1e6   /* [m] as in a scene */

static const struct {
    const char *word;
    double extinction_per_m;
} spoken[] = {{"thin", 0.01}, {"medium", 0.03}, {"heavy", 0.08}};
enum { WORDS = sizeof spoken / sizeof spoken[0] };

/* A number and nothing after it. */
static bool is_number(const char *text, double low, double high, double *number) {
    size_t used = vs_number_parse(text, number);
    return used > 0 && !text[used] && *number >= low && *number <= high;
}

static bool read_extinction(const char *text, vs_length_unit units, vs_ask_density *out) {
    (void)units;
    return is_number(text, 0, EXTINCTION_MAX_PER_M, &out->value);
}

static bool read_mass(const char *text, vs_length_unit units, vs_ask_density *out) {
    (void)units;
    bool good = is_number(text, 0, MASS_MAX_MG_PER_M3, &out->value);
    out->value *= VS_G_PER_MG;
    out->by_mass = true;
    return good;
}

/* A plain number is in the units of the answer; a text may have its own. */
static bool read_range(const char *text, vs_length_unit units, vs_ask_density *out) {
    double range_m;
    if (is_number(text, 0, RANGE_MAX_M, &range_m)) {
        range_m *= vs_length_unit_m(units);
    } else if (vs_length_parse(text, &range_m) != VS_OK) {
        return false;
    }
    out->value = VS_VISIBLE_NEPERS / range_m;
    return range_m >= RANGE_MIN_M && range_m <= RANGE_MAX_M;
}

static bool read_word(const char *text, vs_length_unit units, vs_ask_density *out) {
    (void)units;
    for (size_t i = 0; i < WORDS; i++) {
        if (strcmp(text, spoken[i].word) == 0) {
            out->word = spoken[i].word;
            out->value = spoken[i].extinction_per_m;
            return true;
        }
    }
    return false;
}

static const struct {
    const char *option, *right;
    bool (*read)(const char *text, vs_length_unit units, vs_ask_density *out);
} way[] = {{"extinction", "numbers from 0 to 100, parted by commas", read_extinction},
           {"visibility",
            "lengths from 0.04 m to 1000 km, such as 100 or \"300 ft\", parted by commas",
            read_range},
           {"mass", "numbers from 0 to 100000, parted by commas", read_mass},
           {"haze", "of thin, medium, heavy, parted by commas", read_word}};
enum { WAYS = sizeof way / sizeof way[0] };

/* The list of one option. */
static vs_exit read_list(const char *list, size_t w, vs_length_unit units,
                         vs_ask_densities *densities) {
    for (const char *at = list;; at += strcspn(at, ",") + 1) {
        char number[64];
        size_t length = strcspn(at, ",");
        vs_ask_density one = {0};
        snprintf(number, sizeof number, "%.*s", (int)(length < sizeof number ? length : 0), at);
        if (!way[w].read(number, units, &one)) {
            return vs_ask_fail(VS_EXIT_USAGE, "--%s: must be %s (got %s)", way[w].option,
                               way[w].right, list);
        }
        if (densities->count == VS_ASK_DENSITIES_MAX) {
            return vs_ask_fail(VS_EXIT_USAGE, "--%s: must be at most %d densities", way[w].option,
                               VS_ASK_DENSITIES_MAX);
        }
        densities->item[densities->count++] = one;
        if (!at[length]) {
            return VS_EXIT_DONE;
        }
    }
}

vs_exit vs_ask_densities_read(const vs_ask_args *args, vs_length_unit units,
                              vs_ask_densities *densities) {
    size_t given = WAYS;
    densities->count = 0;
    for (size_t w = 0; w < WAYS; w++) {
        if (!vs_ask_value(args, way[w].option)) {
            continue;
        }
        if (given < WAYS) {
            return vs_ask_fail(VS_EXIT_USAGE,
                               "--%s: must not stand beside --%s: give one of the two",
                               way[w].option, way[given].option);
        }
        given = w;
    }
    return given == WAYS
               ? VS_EXIT_DONE
               : read_list(vs_ask_value(args, way[given].option), given, units, densities);
}

double vs_ask_density_per_m(const vs_ask_density *density, const vs_haze *haze) {
    return density->by_mass ? density->value * haze->extinction_m2_per_g.v[VS_BAND_GREEN]
                            : density->value;
}
