/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Wants in words. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "veilstop/report/predict.h"
#include "veilstop/report/words.h"

const char *vs_report_want_name(vs_want_kind kind) {
    static const char *const name[] = {"contrast", "black", "beam", "separation",
                                       "sight",    "like",  "glow"};
    return name[kind];
}

/* In the unit of people, and that unit. */
static double shown(const vs_style *style, const vs_scene_want *want, double value,
                    const char **unit) {
    switch (want->kind) {
    case VS_WANT_BLACK:
        *unit = "%";
        return value;
    case VS_WANT_SIGHT:
        *unit = vs_style_length_unit(style);
        return vs_style_length(style, value);
    case VS_WANT_GLOW:
        *unit = "deg";
        return value / VS_RAD_PER_DEG;
    default:
        *unit = "stops";
        return value;
    }
}

static bool misses(const vs_scene_want *want, double value) {
    bool at_least = want->kind == VS_WANT_BEAM || want->kind == VS_WANT_SEPARATION ||
                    want->kind == VS_WANT_SIGHT;
    return at_least ? value < want->limit : value > want->limit;
}

void vs_report_want_value(vs_text *out, const vs_style *style, const vs_scene_want *want,
                          double value) {
    const char *unit;
    char told[32], limit[32];
    double figure = shown(style, want, value, &unit),
           wanted = shown(style, want, want->limit, &unit);
    if (isinf(value)) {
        vs_text_addf(out, "no limit");
        return;
    }
    int decimals = want->kind == VS_WANT_BLACK || want->kind == VS_WANT_GLOW ? 1 : 2;
    if (want->kind == VS_WANT_SIGHT) {
        vs_report_visibility(out, style, value);
        return;
    }
    /* a miss must not read as the limit itself */
    do {
        snprintf(told, sizeof told, "%.*f", decimals, figure);
        snprintf(limit, sizeof limit, "%.*f", decimals, wanted);
    } while (misses(want, value) && strcmp(told, limit) == 0 && decimals++ < 4);
    vs_text_addf(out, "%s %s", told, unit);
}

static void limit(vs_text *out, const vs_style *style, const vs_scene_want *want,
                  const char *words) {
    const char *unit;
    double figure = shown(style, want, want->limit, &unit);
    vs_text_addf(out, " %s %.4g %s", words, figure,
                 figure == 1 && strcmp(unit, "stops") == 0 ? "stop" : unit);
}

void vs_report_want(vs_text *out, const vs_style *style, const vs_scene *scene,
                    const vs_scene_shot *shot, const vs_scene_want *want) {
    /* a want leaves what its kind does not use at VS_NONE */
    const char *a = want->a < shot->point_count ? shot->point[want->a].name : "";
    const char *b = want->b < shot->point_count ? shot->point[want->b].name : "";
    const char *light = want->light < scene->light_count ? scene->light[want->light].name : "";
    switch (want->kind) {
    case VS_WANT_CONTRAST:
        vs_text_addf(out, "%s / %s", a, b);
        limit(out, style, want, "lose at most");
        return;
    case VS_WANT_BLACK:
        vs_text_addf(out, "black at %s", a);
        limit(out, style, want, "lifts at most");
        return;
    case VS_WANT_BEAM:
        vs_text_addf(out, "beam of %s", light);
        limit(out, style, want, "reads at least");
        return;
    case VS_WANT_SEPARATION:
        vs_text_addf(out, "haze separates %s from %s", a, b);
        limit(out, style, want, "by at least");
        return;
    case VS_WANT_SIGHT:
        vs_text_addf(out, "visibility");
        limit(out, style, want, "at least");
        return;
    case VS_WANT_LIKE:
        vs_text_addf(out, "veil at %s as in %s", a, scene->shot[want->shot].name);
        limit(out, style, want, "within");
        return;
    case VS_WANT_GLOW:
        vs_text_addf(out, "glow of %s", light);
        limit(out, style, want, "at most");
        return;
    }
}

void vs_report_want_subject(vs_text *out, const vs_scene *scene, const vs_scene_shot *shot,
                            const vs_scene_want *want) {
    const char *a = want->a < shot->point_count ? shot->point[want->a].name : "";
    const char *b = want->b < shot->point_count ? shot->point[want->b].name : "";
    switch (want->kind) {
    case VS_WANT_CONTRAST:
    case VS_WANT_SEPARATION:
        vs_text_addf(out, "%s %s / %s", vs_report_want_name(want->kind), a, b);
        return;
    case VS_WANT_BLACK:
        vs_text_addf(out, "black at %s", a);
        return;
    case VS_WANT_BEAM:
    case VS_WANT_GLOW:
        vs_text_addf(out, "%s of %s", vs_report_want_name(want->kind),
                     scene->light[want->light].name);
        return;
    case VS_WANT_LIKE:
        vs_text_addf(out, "like %s", scene->shot[want->shot].name);
        return;
    case VS_WANT_SIGHT:
        vs_text_addf(out, "visibility");
        return;
    }
}
