/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What to do if a density is not enough: which wants conflict, and how a reverse angle can match
 * the other shot's look, by density or by dimming the lamp that makes most of its veil. */
#include <math.h>
#include <stdlib.h>

#include "shot/choose/choose_advice.h"
#include "shot/sight/camera_setup.h"

#define EQUAL_MARGIN 0.999 /* [1] of a `like`: the veils differ by a thousandth of its limit */

/* Whether two wants share no density. */
static vs_status exclude_each_other(const vs_shot_choice *choice, size_t a, size_t b,
                                    vs_intervals *both, bool *exclude) {
    vs_status status = vs_intervals_meet(&choice->reach[a], &choice->reach[b], both);
    *exclude = both->count == 0;
    return status;
}

/* Of the pairs that exclude each other, the one furthest from being met at the recommended
 * density. */
static vs_status conflicting_pair(const vs_shot_choice *choice, vs_choice *out, bool *found) {
    vs_intervals both = {0};
    vs_status status = VS_OK;
    size_t first = 0, second = 0;
    double least = INFINITY;
    for (size_t i = 0; i < out->want_count; i++) {
        for (size_t j = i + 1; j < out->want_count && status == VS_OK; j++) {
            if (!out->want[i].possible || !out->want[j].possible) {
                continue;
            }
            bool exclude;
            double sum = out->want[i].recommended.margin + out->want[j].recommended.margin;
            status = exclude_each_other(choice, i, j, &both, &exclude);
            if (exclude && !(sum >= least)) {
                least = sum;
                first = i;
                second = j;
            }
        }
    }
    *found = second > first;
    out->want[first].in_conflict = out->want[first].in_conflict || *found;
    out->want[second].in_conflict = out->want[second].in_conflict || *found;
    vs_intervals_free(&both);
    return status;
}

/* Whether the marked wants share no density. */
static vs_status marked_exclude(const vs_shot_choice *choice, const vs_choice *out, bool *exclude) {
    vs_intervals so_far = {0}, next = {0};
    vs_status status = vs_intervals_add(&so_far, 0, out->search_end_per_m);
    for (size_t i = 0; i < out->want_count && status == VS_OK; i++) {
        if (out->want[i].in_conflict) {
            status = vs_intervals_meet(&so_far, &choice->reach[i], &next);
            vs_intervals swap = so_far;
            so_far = next;
            next = swap;
        }
    }
    *exclude = so_far.count == 0;
    vs_intervals_free(&so_far);
    vs_intervals_free(&next);
    return status;
}

/* Drops every want without which the rest still conflict. */
static vs_status fewest_of_many(const vs_shot_choice *choice, vs_choice *out) {
    vs_status status = VS_OK;
    for (size_t i = 0; i < out->want_count; i++) {
        out->want[i].in_conflict = out->want[i].possible;
    }
    for (size_t i = 0; i < out->want_count && status == VS_OK; i++) {
        bool exclude;
        if (!out->want[i].possible) {
            continue;
        }
        out->want[i].in_conflict = false;
        status = marked_exclude(choice, out, &exclude);
        out->want[i].in_conflict = !exclude;
    }
    return status;
}

vs_status vs_choice_find_conflict(const vs_shot_choice *choice, vs_choice *out) {
    bool found = false;
    vs_status status = conflicting_pair(choice, out, &found);
    return status == VS_OK && !found ? fewest_of_many(choice, out) : status;
}

/* Why a beam is out of reach.  beam  its prediction in haze */
static vs_unreached why_no_beam(const vs_shot_choice *choice, const vs_scene_want *want,
                                const vs_beam_prediction *beam, const double *room_per_m) {
    const vs_predictor *p = choice->predictor;
    vs_camera_setup setup = vs_camera_setup_make(choice->predictor, choice->shot, room_per_m);
    vs_camera_ray ray = vs_camera_ray_to(&setup.hazed, choice->camera->at_m, want->near_m);
    if (vs_bands_luminance(p->hazed_light[want->light].strength) == 0) {
        return VS_UNREACHED_DARK;
    }
    if (ray.end != VS_CAMERA_RAY_AT_POINT) {
        return VS_UNREACHED_HIDDEN;
    }
    return beam->beam_nits > 0 ? VS_UNREACHED_WEAK : VS_UNREACHED_BESIDE;
}

/* Evaluated at the density that comes nearest; never clear air if haze helps at all. */
static vs_status explain_one(const vs_shot_choice *choice, size_t i, bool *asked,
                             vs_choice_want *out) {
    const vs_scene_want *want = &choice->shot->want[i];
    vs_shot_prediction best;
    vs_status status =
        vs_margin_best(&choice->margins, &choice->scan, asked, NULL, &out->best_per_m);
    double k = out->best_per_m > 0 ? out->best_per_m : choice->scan.x[choice->scan.places / 2];
    if (status == VS_OK) {
        status = vs_shot_choice_predict(choice, k, asked, &best);
    }
    if (status != VS_OK) {
        return status;
    }
    out->best_per_m = k;
    out->best = vs_shot_choice_hold(choice, i, &best);
    out->hidden_point = vs_want_hidden_point(&best, i);
    out->why = out->hidden_point != VS_NONE ? VS_UNREACHED_HIDDEN : VS_UNREACHED_WEAK;
    if (vs_want_traits_of(want->kind)->subject == VS_WANT_OF_BEAM) {
        const vs_beam_prediction *beam = &best.beam[vs_want_beam_place(choice->shot, i)];
        out->why = why_no_beam(choice, want, beam, best.room_extinction_per_m);
    }
    vs_shot_prediction_free(&best);
    return VS_OK;
}

vs_status vs_choice_explain_unreached(const vs_shot_choice *choice, vs_choice *out) {
    bool *asked = calloc(out->want_count + 1, sizeof *asked);
    vs_status status = asked ? VS_OK : VS_ERR_MEMORY;
    for (size_t i = 0; i < out->want_count && status == VS_OK; i++) {
        asked[i] = true;
        status = out->want[i].possible ? VS_OK : explain_one(choice, i, asked, &out->want[i]);
        asked[i] = false;
    }
    free(asked);
    return status;
}

/* The lamp that, with the panels it feeds, makes most of a point's once-scattered veil. */
static size_t main_lamp(const vs_scene *scene, const vs_point_prediction *point) {
    size_t best = VS_NONE;
    double most = 0;
    for (size_t lamp = 0; lamp < scene->light_count; lamp++) {
        double nits = 0;
        for (size_t i = 0; i < scene->light_count; i++) {
            nits +=
                vs_light_follows(scene, i, lamp) ? vs_bands_luminance(point->veil_by_light[i]) : 0;
        }
        if (nits > most) {
            most = nits;
            best = lamp;
        }
    }
    return best;
}

static double veil_at(const vs_shot_prediction *prediction, size_t point) {
    return vs_bands_luminance(prediction->point[point].veil_nits);
}

/* Matches the other shot's veil by density alone: the lowest at which the veils are equal. */
static vs_status like_by_density(const vs_shot_choice *choice, const bool *asked,
                                 vs_choice_like *like) {
    const vs_intervals *reach = &choice->reach[like->want];
    like->extinction_per_m = NAN;
    if (reach->count == 0) {
        return VS_OK;
    }
    const vs_intervals first = {reach->item, 1, 1};
    double k, *margin = calloc(choice->margins.count + 1, sizeof *margin);
    if (!margin) {
        return VS_ERR_MEMORY;
    }
    vs_status status = vs_margin_best(&choice->margins, &choice->scan, asked, &first, &k);
    if (status == VS_OK) {
        status = choice->margins.at(choice->margins.context, k, asked, margin);
    }
    if (status == VS_OK && margin[like->want] >= EQUAL_MARGIN) {
        like->extinction_per_m = k;
    }
    free(margin);
    return status;
}

/* The same by dimming the lamp that makes most of the veil, at the other shot's density. */
static vs_status like_by_dimmer(const vs_shot_choice *choice, const bool *asked,
                                vs_choice_like *like) {
    const vs_scene_want *want = &choice->shot->want[like->want];
    double wanted = veil_at(&choice->other[want->shot], want->other);
    vs_shot_prediction full, off = {0};
    vs_status status = vs_shot_choice_predict(choice, like->other_per_m, asked, &full);
    like->light = VS_NONE;
    like->dimmer = NAN;
    if (status != VS_OK) {
        return status;
    }
    like->same_haze_stops =
        vs_camera_stops_between(choice->camera, veil_at(&full, want->a), wanted);
    like->light = main_lamp(choice->predictor->scene, &full.point[want->a]);
    if (like->light != VS_NONE) {
        status = vs_shot_choice_without(choice, like->other_per_m, like->light, asked, &off);
    }
    if (status == VS_OK && like->light != VS_NONE) {
        double without = veil_at(&off, want->a);
        double own = veil_at(&full, want->a) - without;
        double share = own > 0 ? (wanted - without) / own : (double)NAN;
        double dimmer =
            share * vs_light_in_shot(choice->predictor->scene, choice->shot, like->light).dimmer;
        like->dimmer = dimmer >= 0 && dimmer <= 1 ? dimmer : (double)NAN;
    }
    vs_shot_prediction_free(&off);
    vs_shot_prediction_free(&full);
    return status;
}

vs_status vs_choice_work_out_likes(const vs_shot_choice *choice, vs_choice *out) {
    bool *asked = calloc(out->want_count + 1, sizeof *asked);
    vs_status status = asked ? VS_OK : VS_ERR_MEMORY;
    for (size_t i = 0, k = 0; i < out->want_count && status == VS_OK; i++) {
        if (!vs_shot_choice_is_like(choice, i)) {
            continue;
        }
        vs_choice_like *like = &out->like[k++];
        const vs_shot_prediction *other = &choice->other[choice->shot->want[i].shot];
        like->want = i;
        like->other_per_m = other->density.extinction_per_m;
        asked[i] = true;
        status = like_by_density(choice, asked, like);
        if (status == VS_OK) {
            status = like_by_dimmer(choice, asked, like);
        }
        asked[i] = false;
    }
    free(asked);
    return status;
}
