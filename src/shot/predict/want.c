/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The value of a want is taken from the prediction; its margin is defined in docs/physics.md,
 * "choosing a density". */
#include "veilstop/shot/want.h"

#include <math.h>

/* A want and what its value is taken from. */
typedef struct {
    const vs_shot_prediction *prediction;
    const vs_scene_want *want;
    size_t index; /* among the shot's wants */
    const vs_camera *camera;
    const vs_shot_prediction *like; /* of the other shot, or NULL */
} question;

/* Index among the wants of its kind: contrasts and separations are stored in that order. */
static size_t place_in_kind(const question *q) {
    size_t before = 0;
    for (size_t i = 0; i < q->index; i++) {
        before += q->prediction->shot->want[i].kind == q->want->kind;
    }
    return before;
}

static double veil_at(const vs_shot_prediction *prediction, size_t point) {
    return vs_bands_luminance(prediction->point[point].veil_nits);
}

/* ---- the values, by their names in the table ---- */

static double value_contrast(const question *q) {
    return q->prediction->contrast[place_in_kind(q)].lost_stops;
}

static double value_black(const question *q) {
    return q->prediction->point[q->want->a].black_lift_percent;
}

static double value_beam(const question *q) {
    return q->prediction->beam[vs_want_beam_place(q->prediction->shot, q->index)].over_stops;
}

static double value_separation(const question *q) {
    return q->prediction->separation[place_in_kind(q)].stops;
}

static double value_sight(const question *q) {
    return q->prediction->density.visible_range_m;
}

static double value_like(const question *q) {
    return q->like ? fabs(vs_camera_stops_between(q->camera, veil_at(q->prediction, q->want->a),
                                                  veil_at(q->like, q->want->other)))
                   : (double)NAN;
}

static double value_glow(const question *q) {
    return q->prediction->glow[q->want->light].tenth_rad;
}

#define VALUE(member, word, subject, effect, limit, value, words, short_words) value_##value,
static double (*const value_of[VS_WANT_KIND_COUNT])(const question *) = {VS_WANT_LIST(VALUE)};

size_t vs_want_beam_place(const vs_scene_shot *shot, size_t want) {
    size_t before = 0;
    for (size_t i = 0; i < want; i++) {
        before += vs_want_traits_of(shot->want[i].kind)->subject == VS_WANT_OF_BEAM;
    }
    return before;
}

size_t vs_want_hidden_point(const vs_shot_prediction *prediction, size_t want) {
    const vs_scene_want *w = &prediction->shot->want[want];
    vs_want_subject of = vs_want_traits_of(w->kind)->subject;
    bool pair = of == VS_WANT_OF_POINTS;
    bool one = of == VS_WANT_OF_POINT || of == VS_WANT_OF_POINT_AND_SHOT;
    if ((pair || one) && prediction->point[w->a].hidden) {
        return w->a;
    }
    return pair && prediction->point[w->b].hidden ? w->b : VS_NONE;
}

vs_want_result vs_want_evaluate(const vs_shot_prediction *prediction, size_t want,
                                const vs_camera *camera, const vs_shot_prediction *like) {
    const vs_scene_want *w = &prediction->shot->want[want];
    const question q = {prediction, w, want, camera, like};
    double limit = w->limit;
    vs_want_result result = {.value = value_of[w->kind](&q),
                             .at_most = vs_want_traits_of(w->kind)->bound == VS_WANT_AT_MOST};
    double spare = result.at_most ? limit - result.value : result.value - limit;
    result.margin = limit > 0 ? spare / limit : spare;
    result.met = spare >= 0;
    if (vs_want_hidden_point(prediction, want) != VS_NONE) {
        result.met = false;
        result.margin = fmin(result.margin, VS_WANT_HIDDEN_MARGIN);
    }
    return result;
}
