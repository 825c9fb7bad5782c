/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Wants in words. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "veilstop/report/predict.h"
#include "veilstop/report/words.h"

/* The word and decimals of each unit. */
static const struct {
    const char *word;
    int decimals;
} unit_of[] = {
    [VS_WANT_IN_STOPS] = {"stops", 2},
    [VS_WANT_IN_PERCENT] = {"%", 1},
    [VS_WANT_IN_METRES] = {NULL, 2}, /* the style's: m or ft */
    [VS_WANT_IN_RADIANS] = {"deg", 1},
};

const char *vs_report_want_name(vs_want_kind kind) {
    return vs_want_traits_of(kind)->word;
}

const char *vs_report_want_unit(const vs_style *style, vs_want_kind kind) {
    const char *word = unit_of[vs_want_traits_of(kind)->unit].word;
    return word ? word : vs_style_length_unit(style);
}

double vs_report_want_figure(const vs_style *style, vs_want_kind kind, double value) {
    vs_want_unit unit = vs_want_traits_of(kind)->unit;
    if (unit == VS_WANT_IN_METRES) {
        return vs_style_length(style, value);
    }
    /* divided, as everywhere that radians become degrees, to give the same digits */
    return unit == VS_WANT_IN_RADIANS ? value / VS_RAD_PER_DEG : value;
}

static bool misses(const vs_scene_want *want, double value) {
    bool at_least = vs_want_traits_of(want->kind)->bound == VS_WANT_AT_LEAST;
    return at_least ? value < want->limit : value > want->limit;
}

void vs_report_want_value(vs_text *out, const vs_style *style, const vs_scene_want *want,
                          double value) {
    vs_want_unit unit = vs_want_traits_of(want->kind)->unit;
    char shown[32], limit[32];
    double figure = vs_report_want_figure(style, want->kind, value);
    double wanted = vs_report_want_figure(style, want->kind, want->limit);
    if (isinf(value)) {
        vs_text_addf(out, "no limit");
        return;
    }
    if (unit == VS_WANT_IN_METRES) {
        vs_report_visibility(out, style, value);
        return;
    }
    int decimals = unit_of[unit].decimals;
    /* a missed want must not print the limit itself */
    do {
        snprintf(shown, sizeof shown, "%.*f", decimals, figure);
        snprintf(limit, sizeof limit, "%.*f", decimals, wanted);
    } while (misses(want, value) && strcmp(shown, limit) == 0 && decimals++ < 4);
    vs_text_addf(out, "%s %s", shown, vs_report_want_unit(style, want->kind));
}

/* The name for a placeholder; indices that a want's kind does not use are VS_NONE. */
static const char *name_of(const char *sign, const vs_scene *scene, const vs_scene_shot *shot,
                           const vs_scene_want *want) {
    if (strncmp(sign, "{a}", 3) == 0) {
        return want->a < shot->point_count ? shot->point[want->a].name : "";
    }
    if (strncmp(sign, "{b}", 3) == 0) {
        return want->b < shot->point_count ? shot->point[want->b].name : "";
    }
    if (strncmp(sign, "{light}", 7) == 0) {
        return want->light < scene->light_count ? scene->light[want->light].name : "";
    }
    return want->shot < scene->shot_count ? scene->shot[want->shot].name : "";
}

/* The words of the table with the names filled in. */
static void fill_in(vs_text *out, const char *words, const vs_scene *scene,
                    const vs_scene_shot *shot, const vs_scene_want *want) {
    while (*words) {
        size_t plain = strcspn(words, "{");
        vs_text_add(out, words, plain);
        words += plain;
        if (*words) {
            vs_text_addf(out, "%s", name_of(words, scene, shot, want));
            words += strcspn(words, "}") + 1;
        }
    }
}

void vs_report_want(vs_text *out, const vs_style *style, const vs_scene *scene,
                    const vs_scene_shot *shot, const vs_scene_want *want) {
    fill_in(out, vs_want_traits_of(want->kind)->words, scene, shot, want);
    double limit = vs_report_want_figure(style, want->kind, want->limit);
    const char *unit = vs_report_want_unit(style, want->kind);
    vs_text_addf(out, " %.4g %s", limit, limit == 1 && strcmp(unit, "stops") == 0 ? "stop" : unit);
}

void vs_report_want_subject(vs_text *out, const vs_scene *scene, const vs_scene_shot *shot,
                            const vs_scene_want *want) {
    fill_in(out, vs_want_traits_of(want->kind)->short_words, scene, shot, want);
}
