/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Barycentric interpolation at Chebyshev points of the second kind (Berrut & Trefethen 2004, SIAM
 * Rev. 46, 501). */
#include "shot/choose/choose_model.h"

#include <math.h>
#include <string.h>

#include "shot/sight/camera_setup.h"
#include "veilstop/base/units.h"
#include "veilstop/shot/density.h"

#define FIRST_COUNT 7    /* first nodes: exact to 1e-4 up to optical depths of about 6 */
#define NEARLY_NONE 1e-9 /* [1] of the end: for clear air, where veil over density is 0/0 */

static double node_place(const vs_density_model *model, size_t i, size_t count) {
    double part = 0.5 - 0.5 * cos(VS_PI * (double)i / (double)(count - 1));
    return model->end_per_m * fmax(part, NEARLY_NONE);
}

static void set_weights(vs_density_model *model) {
    for (size_t i = 0; i < model->count; i++) {
        bool end = i == 0 || i + 1 == model->count;
        model->weight[i] = (i % 2 ? -1 : 1) * (end ? 0.5 : 1);
    }
}

vs_status vs_density_model_refine(vs_density_model *model, vs_model_source source, void *context) {
    size_t before = model->count, count = before ? 2 * before - 1 : FIRST_COUNT;
    vs_status status = VS_OK;
    if (!before) {
        status = vs_shot_prediction_blank(model->scene, model->shot, &model->mixed);
    }
    for (size_t i = before; i-- > 1;) { /* from the last, so none is overwritten */
        model->node[2 * i] = model->node[i];
        memset(&model->node[i], 0, sizeof model->node[i]);
    }
    model->count = count;
    for (size_t i = 0; i < count; i++) {
        model->k[i] = node_place(model, i, count);
        if (status == VS_OK && !(before && i % 2 == 0)) {
            status = source(context, model->k[i], &model->node[i]);
        }
    }
    set_weights(model);
    return status;
}

void vs_density_model_free(vs_density_model *model) {
    for (size_t i = 0; i < VS_MODEL_NODES_MAX; i++) {
        vs_shot_prediction_free(&model->node[i]);
    }
    vs_shot_prediction_free(&model->mixed);
    model->count = 0;
}

/* The weights of the nodes in the value at a density; they sum to 1. */
static void set_shares(const vs_density_model *model, double k, double *share) {
    double sum = 0;
    for (size_t i = 0; i < model->count; i++) {
        if (k == model->k[i]) {
            memset(share, 0, model->count * sizeof *share);
            share[i] = 1;
            return;
        }
        share[i] = model->weight[i] / (k - model->k[i]);
        sum += share[i];
    }
    for (size_t i = 0; i < model->count; i++) {
        share[i] /= sum;
    }
}

static vs_bands not_under_zero(vs_bands a) {
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        a.v[band] = fmax(a.v[band], 0);
    }
    return a;
}

/* Light of surfaces is interpolated directly; light scattered by haze, which starts out
 * proportional to density, is divided by it first. */
static void mix_point(const vs_density_model *model, const double *share, double k, size_t point) {
    vs_bands clear = vs_bands_grey(0), surface = clear, veil = clear, rest = clear;
    for (size_t i = 0; i < model->count; i++) {
        const vs_point_prediction *p = &model->node[i].point[point];
        double by_density = share[i] * k / model->k[i];
        clear = vs_bands_add(clear, vs_bands_scale(p->clear_nits, share[i]));
        surface = vs_bands_add(surface, vs_bands_scale(p->surface_nits, share[i]));
        veil = vs_bands_add(veil, vs_bands_scale(p->veil_nits, by_density));
        vs_bands through = vs_bands_add(p->hazed_nits, vs_bands_scale(p->veil_nits, -1));
        rest = vs_bands_add(rest, vs_bands_scale(through, share[i]));
    }
    vs_point_prediction *out = &model->mixed.point[point];
    out->hidden = model->node[0].point[point].hidden;
    out->clear_nits = not_under_zero(clear);
    out->surface_nits = not_under_zero(surface);
    out->veil_nits = not_under_zero(veil);
    out->hazed_nits = vs_bands_add(not_under_zero(rest), out->veil_nits);
}

static void mix_beam(const vs_density_model *model, const double *share, double k, size_t beam) {
    double own = 0, behind = 0;
    for (size_t i = 0; i < model->count; i++) {
        const vs_beam_prediction *b = &model->node[i].beam[beam];
        own += share[i] * k / model->k[i] * b->beam_nits;
        behind += share[i] * b->background_nits;
    }
    model->mixed.beam[beam].beam_nits = fmax(own, 0);
    model->mixed.beam[beam].background_nits = fmax(behind, 0);
}

/* A glow has a kink where it begins, which linear interpolation follows better than a
 * polynomial. */
static void mix_glows(const vs_density_model *model, double k) {
    size_t i = 0;
    while (i + 2 < model->count && model->k[i + 1] < k) {
        i++;
    }
    double part = (k - model->k[i]) / (model->k[i + 1] - model->k[i]);
    for (size_t light = 0; light < model->scene->light_count; light++) {
        const vs_glow_prediction *a = &model->node[i].glow[light];
        const vs_glow_prediction *b = &model->node[i + 1].glow[light];
        vs_glow_prediction *out = &model->mixed.glow[light];
        out->tenth_rad = fmax(a->tenth_rad + part * (b->tenth_rad - a->tenth_rad), 0);
        out->grey_rad = fmax(a->grey_rad + part * (b->grey_rad - a->grey_rad), 0);
    }
}

const vs_shot_prediction *vs_density_model_at(vs_density_model *model, const vs_haze *haze,
                                              double extinction_per_m) {
    double share[VS_MODEL_NODES_MAX];
    vs_shot_prediction *mixed = &model->mixed;
    set_shares(model, extinction_per_m, share);
    for (size_t i = 0; i < mixed->shot->point_count; i++) {
        mix_point(model, share, extinction_per_m, i);
    }
    for (size_t i = 0; i < mixed->beam_count; i++) {
        mix_beam(model, share, extinction_per_m, i);
    }
    mix_glows(model, extinction_per_m);
    mixed->density = vs_density_of(extinction_per_m, haze);
    vs_shot_prediction_derive(model->scene, mixed);
    return mixed;
}

size_t vs_choose_camera_room(const vs_predictor *predictor, const vs_scene_shot *shot) {
    /* of the first place: which place is in use may change while other threads ask */
    return vs_space_room_at(&predictor->place[0].geometry.space,
                            predictor->scene->camera[shot->camera].at_m);
}
