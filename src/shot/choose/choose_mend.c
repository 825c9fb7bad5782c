/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which one lamp would mend a shot that misses a want. Light is linear in each lamp, so a lamp
 * dimmed to a share f gives off + f (full - off), off and full the predictions without and with it.
 */
#include <math.h>
#include <stdlib.h>

#include "shot/choose/choose_mend.h"
#include "shot/sight/camera_setup.h"

#define DIM_PLACES 33   /* dimmings in the scan before crossings are solved: quarter stops */
#define EDGE_STOPS 1e-6 /* [stops] step onto the met side of a crossing */

/* One lamp at a time, dimmed or flagged, at the planned density. */
typedef struct {
    const vs_shot_choice *choice;
    double extinction_per_m;
    const vs_shot_prediction *full;
    vs_shot_prediction off, mixed; /* mixed: at the share in question */
    size_t lamp;
    bool *glow_asked; /* wants about the glow of that lamp or of panels it feeds */
    bool any_glow;
    double *margin;
} mend_search;

static vs_bands between(vs_bands off, vs_bands full, double share) {
    return vs_bands_add(off, vs_bands_scale(vs_bands_add(full, vs_bands_scale(off, -1)), share));
}

/* Glow is not linear in the lamps, so it is predicted anew. */
static vs_status mix_glow(mend_search *m, double share) {
    vs_predictor *predictor = m->choice->predictor;
    vs_shot_prediction dimmed;
    double before = predictor->dim[m->lamp];
    predictor->dim[m->lamp] = share;
    vs_status status =
        vs_shot_choice_predict(m->choice, m->extinction_per_m, m->glow_asked, &dimmed);
    predictor->dim[m->lamp] = before;
    if (status != VS_OK) {
        return status;
    }
    for (size_t i = 0; i < predictor->scene->light_count; i++) {
        if (vs_light_follows(predictor->scene, i, m->lamp)) {
            m->mixed.glow[i] = dimmed.glow[i];
        }
    }
    vs_shot_prediction_free(&dimmed);
    return VS_OK;
}

/* The shot with the lamp at share f of its output: off + f (full - off). */
static vs_status mix(mend_search *m, double share) {
    const vs_shot_prediction *off = &m->off, *full = m->full;
    for (size_t i = 0; i < m->choice->shot->point_count; i++) {
        vs_point_prediction *p = &m->mixed.point[i];
        const vs_point_prediction *a = &off->point[i], *b = &full->point[i];
        p->clear_nits = between(a->clear_nits, b->clear_nits, share);
        p->surface_nits = between(a->surface_nits, b->surface_nits, share);
        p->veil_nits = between(a->veil_nits, b->veil_nits, share);
        p->hazed_nits = between(a->hazed_nits, b->hazed_nits, share);
    }
    for (size_t i = 0; i < full->beam_count; i++) {
        double beam = off->beam[i].beam_nits, back = off->beam[i].background_nits;
        m->mixed.beam[i].beam_nits = beam + share * (full->beam[i].beam_nits - beam);
        m->mixed.beam[i].background_nits = back + share * (full->beam[i].background_nits - back);
    }
    vs_shot_prediction_derive(m->choice->predictor->scene, &m->mixed);
    return m->any_glow ? mix_glow(m, share) : VS_OK;
}

/* No lamp uncovers a point: a want about a hidden one is set aside here too. */
static bool is_hidden(const mend_search *m, size_t want) {
    return vs_want_hidden_point(m->full, want) != VS_NONE;
}

static void hold_mixed(const mend_search *m, double *margin) {
    for (size_t i = 0; i < m->choice->shot->want_count; i++) {
        margin[i] = is_hidden(m, i) ? 1 : vs_shot_choice_hold(m->choice, i, &m->mixed).margin;
    }
}

static vs_status dimmed_margins(void *context, double stops, const bool *asked, double *margin) {
    mend_search *m = context;
    (void)asked;
    vs_status status = mix(m, exp2(-stops));
    hold_mixed(m, margin);
    return status;
}

static double smallest_margin(const mend_search *m) {
    double least = INFINITY;
    hold_mixed(m, m->margin);
    for (size_t i = 0; i < m->choice->shot->want_count; i++) {
        least = m->margin[i] >= least ? least : m->margin[i];
    }
    return least;
}

/* The fewest stops of dimming that meet all wants; NaN: none do. */
static vs_status fewest_stops(mend_search *m, double *stops) {
    double place[DIM_PLACES];
    const vs_margins margins = {m->choice->shot->want_count, dimmed_margins, m};
    vs_margin_scan scan;
    vs_intervals all = {0}, one = {0}, next = {0};
    *stops = NAN;
    for (size_t i = 0; i < DIM_PLACES; i++) {
        place[i] = VS_CHOOSE_DIM_MAX * (double)i / (DIM_PLACES - 1);
    }
    vs_status status = vs_margin_scan_init(&scan, &margins, place, DIM_PLACES);
    if (status != VS_OK) {
        return status;
    }
    status = vs_intervals_add(&all, 0, VS_CHOOSE_DIM_MAX);
    for (size_t i = 0; i < margins.count && status == VS_OK && all.count > 0; i++) {
        status = vs_margin_feasible(&margins, &scan, i, &one);
        if (status == VS_OK) {
            status = vs_intervals_meet(&all, &one, &next);
        }
        vs_intervals swap = all;
        all = next;
        next = swap;
    }
    if (status == VS_OK && all.count > 0) {
        *stops = fmin(all.item[0].low + EDGE_STOPS, all.item[0].high);
    }
    vs_intervals_free(&all);
    vs_intervals_free(&one);
    vs_intervals_free(&next);
    vs_margin_scan_free(&scan);
    return status;
}

/* Tries the lamp dimmed, then off. */
static vs_status try_dimming(mend_search *m, vs_choice_mend *mend) {
    double stops;
    vs_status status = fewest_stops(m, &stops);
    if (status == VS_OK && isnan(stops)) {
        status = mix(m, 0);
        stops = smallest_margin(m) >= 0 ? (double)INFINITY : (double)NAN;
    }
    if (status == VS_OK &&
        (stops < mend->dim_stops || (mend->dim_light == VS_NONE && stops <= mend->dim_stops))) {
        mend->dim_light = m->lamp;
        mend->dim_stops = stops;
    }
    return status;
}

/* Tries flagging the lamp off the air between camera and points, leaving its light on objects.
 * best  in and out, the smallest margin with the best lamp so far */
static vs_status try_flag(mend_search *m, double *best, vs_choice_mend *mend) {
    vs_status status = mix(m, 1);
    for (size_t i = 0; i < m->choice->shot->point_count; i++) {
        vs_point_prediction *p = &m->mixed.point[i];
        vs_bands less = vs_bands_scale(m->full->point[i].veil_by_light[m->lamp], -1);
        p->veil_nits = vs_bands_add(p->veil_nits, less);
        p->hazed_nits = vs_bands_add(p->hazed_nits, less);
    }
    for (size_t i = 0; i < m->mixed.beam_count; i++) {
        m->mixed.beam[i].beam_nits *= m->mixed.beam[i].light == m->lamp ? 0 : 1;
    }
    vs_shot_prediction_derive(m->choice->predictor->scene, &m->mixed);
    double margin = smallest_margin(m);
    if (status == VS_OK && margin >= 0 && margin > *best) {
        *best = margin;
        mend->flag_light = m->lamp;
    }
    return status;
}

static vs_status try_lamp(mend_search *m, double *best_flag, vs_choice_mend *mend) {
    const vs_scene *scene = m->choice->predictor->scene;
    m->any_glow = false;
    for (size_t i = 0; i < m->choice->shot->want_count; i++) {
        const vs_scene_want *want = &m->choice->shot->want[i];
        m->glow_asked[i] = vs_want_traits_of(want->kind)->subject == VS_WANT_OF_LIGHT &&
                           vs_light_follows(scene, want->light, m->lamp);
        m->any_glow = m->any_glow || m->glow_asked[i];
    }
    vs_status status =
        vs_shot_choice_without(m->choice, m->extinction_per_m, m->lamp, NULL, &m->off);
    if (status != VS_OK) {
        return status;
    }
    status = try_dimming(m, mend);
    if (status == VS_OK) {
        status = try_flag(m, best_flag, mend);
    }
    for (size_t i = 0; i < scene->light_count; i++) {
        m->mixed.glow[i] = m->full->glow[i];
    }
    vs_shot_prediction_free(&m->off);
    return status;
}

/* Allocates the mixture and copies what no lamp changes. */
static vs_status begin_mixture(mend_search *m) {
    const vs_scene *scene = m->choice->predictor->scene;
    vs_status status = vs_shot_prediction_blank(scene, m->choice->index, &m->mixed);
    if (status != VS_OK) {
        return status;
    }
    m->mixed.density = m->full->density;
    for (size_t i = 0; i < m->full->beam_count; i++) {
        m->mixed.beam[i] = m->full->beam[i];
    }
    for (size_t i = 0; i < scene->light_count; i++) {
        m->mixed.glow[i] = m->full->glow[i];
    }
    return VS_OK;
}

static bool any_to_mend(const mend_search *m, const vs_choice *out) {
    for (size_t i = 0; i < out->want_count; i++) {
        if (!out->want[i].planned.met && !is_hidden(m, i)) {
            return true;
        }
    }
    return false;
}

vs_status vs_choice_find_mend(const vs_shot_choice *choice, const vs_shot_prediction *planned,
                              vs_choice *out) {
    mend_search m = {.choice = choice, .extinction_per_m = out->planned_per_m, .full = planned};
    vs_choice_mend mend = {VS_NONE, INFINITY, VS_NONE};
    double best_flag = -1;
    out->mend = mend;
    if (!any_to_mend(&m, out)) {
        return VS_OK;
    }
    m.glow_asked = calloc(out->want_count + 1, sizeof *m.glow_asked);
    m.margin = calloc(out->want_count + 1, sizeof *m.margin);
    vs_status status = m.glow_asked && m.margin ? begin_mixture(&m) : VS_ERR_MEMORY;
    for (size_t i = 0; i < choice->predictor->scene->light_count && status == VS_OK; i++) {
        m.lamp = i;
        if (vs_shot_uses_light(choice->shot, i) &&
            vs_light_whole(choice->predictor->scene, i) == i) {
            status = try_lamp(&m, &best_flag, &mend);
        }
    }
    out->mend = mend;
    vs_shot_prediction_free(&m.mixed);
    free(m.glow_asked);
    free(m.margin);
    return status;
}
