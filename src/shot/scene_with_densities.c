/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Fills in open densities on a copy of the shots. */
#include "veilstop/shot/scene_with_densities.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/shot/choose.h"
#include "veilstop/shot/held.h"

static vs_status allocate(vs_scene_with_densities *d, size_t shots, size_t rooms) {
    d->shot = calloc(shots + 1, sizeof *d->shot);
    d->density_per_m = calloc(shots * rooms + 1, sizeof *d->density_per_m);
    d->chosen = calloc(shots + 1, sizeof *d->chosen);
    d->chosen_per_m = calloc(shots + 1, sizeof *d->chosen_per_m);
    return d->shot && d->density_per_m && d->chosen && d->chosen_per_m ? VS_OK : VS_ERR_MEMORY;
}

static bool is_open(const vs_scene *scene, size_t only) {
    for (size_t i = 0; i < scene->shot_count; i++) {
        if (scene->shot[i].density == VS_DENSITY_OPEN && (only == VS_NONE || only == i)) {
            return true;
        }
        for (size_t w = 0; i == only && w < scene->shot[i].want_count; w++) {
            const vs_scene_want *want = &scene->shot[i].want[w];
            if (want->kind == VS_WANT_LIKE && scene->shot[want->shot].density == VS_DENSITY_OPEN) {
                return true;
            }
        }
    }
    return false;
}

/* Gives an open shot a density; NaN: none. */
static vs_status fill(vs_scene_with_densities *d, const vs_scene *scene, const vs_haze *haze,
                      size_t i, double k) {
    if (d->shot[i].density == VS_DENSITY_OPEN && !isnan(k)) {
        double *room = d->density_per_m + i * scene->room_count;
        vs_status status = vs_held_rooms(scene, &scene->shot[i], haze, k, room);
        if (status != VS_OK) {
            return status;
        }
        d->shot[i].density = VS_DENSITY_EXTINCTION;
        d->shot[i].density_by_room = true;
        d->shot[i].room_density = room;
        d->chosen[i] = d->any_chosen = true;
        d->chosen_per_m[i] = k;
    }
    return VS_OK;
}

static vs_status choose_open(vs_scene_with_densities *d, vs_predictor *predictor, size_t only) {
    vs_choices choices;
    vs_status status = vs_choose(predictor, only, VS_CHOOSE_OPEN, &choices);
    if (status != VS_OK) {
        d->culprit = choices.culprit;
        return status;
    }
    for (size_t i = 0; i < choices.shot_count && status == VS_OK; i++) {
        status = fill(d, predictor->scene, &predictor->haze, i, choices.shot[i].planned_per_m);
    }
    vs_choices_free(&choices);
    return status;
}

/* The same by a predictor made for it alone. */
static vs_status choose_afresh(vs_scene_with_densities *d, const vs_scene *scene, size_t only,
                               const vs_runner *runner) {
    vs_predictor predictor;
    vs_status status = vs_predictor_init(&predictor, scene);
    if (status == VS_OK) {
        predictor.runner = runner;
        status = choose_open(d, &predictor, only);
        vs_predictor_free(&predictor);
    }
    return status;
}

/* A copy with its densities still open. */
static vs_status begin(vs_scene_with_densities *filled, const vs_scene *scene) {
    const vs_scene_with_densities blank = {.scene = *scene, .culprit = VS_NONE};
    *filled = blank;
    vs_status status = allocate(filled, scene->shot_count, scene->room_count);
    if (status == VS_OK) {
        for (size_t i = 0; i < scene->shot_count; i++) {
            filled->shot[i] = scene->shot[i];
            filled->chosen_per_m[i] = NAN;
        }
        filled->scene.shot = filled->shot;
    }
    return status;
}

static vs_status end(vs_scene_with_densities *filled, vs_status status) {
    if (status != VS_OK) {
        size_t culprit = filled->culprit;
        vs_scene_with_densities_free(filled);
        filled->culprit = culprit;
    }
    return status;
}

vs_status vs_scene_with_densities_init(vs_scene_with_densities *filled, const vs_scene *scene,
                                       size_t only, const vs_runner *runner) {
    vs_status status = begin(filled, scene);
    if (status == VS_OK && is_open(scene, only)) {
        status = choose_afresh(filled, scene, only, runner);
    }
    return end(filled, status);
}

vs_status vs_scene_with_densities_by(vs_scene_with_densities *filled, vs_predictor *predictor,
                                     size_t only) {
    vs_status status = begin(filled, predictor->scene);
    if (status == VS_OK && is_open(predictor->scene, only)) {
        status = choose_open(filled, predictor, only);
    }
    return end(filled, status);
}

vs_status vs_scene_with_densities_of(vs_scene_with_densities *filled, const vs_scene *scene,
                                     const vs_haze *haze, const double *chosen_per_m) {
    vs_status status = begin(filled, scene);
    for (size_t i = 0; i < scene->shot_count && status == VS_OK; i++) {
        status = fill(filled, scene, haze, i, chosen_per_m[i]);
    }
    return end(filled, status);
}

void vs_scene_with_densities_free(vs_scene_with_densities *filled) {
    const vs_scene_with_densities blank = {.culprit = VS_NONE};
    free(filled->shot);
    free(filled->density_per_m);
    free(filled->chosen);
    free(filled->chosen_per_m);
    *filled = blank;
}
