/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A want's value is read off the prediction; its margin is the contract's. */
#include "veilstop/shot/want.h"

#include <math.h>

/* Whether a want asks for at most its limit. */
static bool is_at_most(vs_want_kind kind) {
    return kind == VS_WANT_CONTRAST || kind == VS_WANT_BLACK || kind == VS_WANT_LIKE ||
           kind == VS_WANT_GLOW;
}

/* The how-manieth want of its kind this is: contrasts, separations and beams stand in that order.
 */
static size_t rank(const vs_scene_shot *shot, size_t want) {
    size_t before = 0;
    for (size_t i = 0; i < want; i++) {
        before += shot->want[i].kind == shot->want[want].kind;
    }
    return before;
}

static double veil_at(const vs_shot_prediction *prediction, size_t point) {
    return vs_bands_luminance(prediction->point[point].veil_nits);
}

static double value_of(const vs_shot_prediction *prediction, size_t want, const vs_camera *camera,
                       const vs_shot_prediction *like) {
    const vs_scene_want *w = &prediction->shot->want[want];
    size_t place = rank(prediction->shot, want);
    switch (w->kind) {
    case VS_WANT_CONTRAST:
        return prediction->contrast[place].lost_stops;
    case VS_WANT_BLACK:
        return prediction->point[w->a].black_lift_percent;
    case VS_WANT_BEAM:
        return prediction->beam[place].over_stops;
    case VS_WANT_SEPARATION:
        return prediction->separation[place].stops;
    case VS_WANT_SIGHT:
        return prediction->density.visible_range_m;
    case VS_WANT_LIKE:
        return like ? fabs(vs_camera_stops_between(camera, veil_at(prediction, w->a),
                                                   veil_at(like, w->other)))
                    : (double)NAN;
    case VS_WANT_GLOW:
        return prediction->glow[w->light].tenth_rad;
    }
    return NAN;
}

vs_want_result vs_want_evaluate(const vs_shot_prediction *prediction, size_t want,
                                const vs_camera *camera, const vs_shot_prediction *like) {
    double limit = prediction->shot->want[want].limit;
    vs_want_result result = {.value = value_of(prediction, want, camera, like),
                             .at_most = is_at_most(prediction->shot->want[want].kind)};
    double spare = result.at_most ? limit - result.value : result.value - limit;
    result.margin = limit > 0 ? spare / limit : spare;
    result.met = spare >= 0;
    return result;
}

bool vs_want_asks(vs_want_kind kind) {
    return kind == VS_WANT_BEAM || kind == VS_WANT_SEPARATION || kind == VS_WANT_LIKE;
}

bool vs_want_holds_back(vs_want_kind kind) {
    return !vs_want_asks(kind) || kind == VS_WANT_LIKE;
}
