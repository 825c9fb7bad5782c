/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Cells for a range of densities: found once at every step of its ladder, then filled at any density
 * in it. Nothing depends on which density of the range came first. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "picture/view/kept.h"
#include "veilstop/base/units.h"

/* [1] of what is seen and the camera's floor: a seventieth of a stop */
#define TOLERANCE_FINE   0.01
#define TOLERANCE_COARSE 0.1 /* [1] of grey */

static vs_frame_plan *plan_of(vs_frame_kept *k) {
    return &k->plan[k->detail];
}

void vs_frame_plan_free(vs_frame_kept *k, vs_frame_plan *plan) {
    const vs_frame_plan blank = {0};
    size_t plans = vs_frame_part_count(k) * k->scene->light_count;
    for (size_t i = 0; i < plans; i++) {
        if (plan->veil) {
            vs_cells_plan_free(&plan->veil[i]);
        }
        if (plan->lux) {
            vs_cells_plan_free(&plan->lux[i]);
        }
    }
    vs_cells_plan_free(&plan->bounced_veil);
    vs_cells_plan_free(&plan->bounced_lux);
    free(plan->veil);
    free(plan->lux);
    free(plan->room_share);
    free(plan->dim);
    *plan = blank;
}

/* Each room's haze over that of the thickest; rounded, so that it does not depend on the density. */
static double share_of(const vs_frame_kept *k, size_t room) {
    return k->most_per_m > 0 ? (double)(float)(k->room_extinction_per_m[room] / k->most_per_m) : 1;
}

/* Whether a plan serves the haze in hand. */
static bool serves(const vs_frame_kept *k, const vs_frame_plan *plan) {
    bool same = plan->made && k->most_per_m >= plan->ladder.from_per_m &&
                k->most_per_m <= plan->ladder.to_per_m;
    if (same && k->detail == VS_FRAME_COARSE) {
        same = plan->near == vs_ladder_nearest(&plan->ladder, k->most_per_m);
    }
    for (size_t r = 0; r < k->scene->room_count && same && k->most_per_m > 0; r++) {
        same = plan->room_share[r] == share_of(k, r);
    }
    for (size_t i = 0; i < k->scene->light_count && same; i++) {
        same = plan->dim[i] == k->predictor->dim[i];
    }
    return same;
}

static vs_status begin(vs_frame_kept *k, vs_frame_plan *plan) {
    size_t lights = k->scene->light_count, plans = vs_frame_part_count(k) * lights;
    plan->ladder = vs_ladder_for(k->longest_m, k->most_per_m);
    plan->near = vs_ladder_nearest(&plan->ladder, k->most_per_m);
    plan->room_share = calloc(k->scene->room_count + 1, sizeof *plan->room_share);
    plan->dim = calloc(lights + 1, sizeof *plan->dim);
    plan->veil = calloc(plans + 1, sizeof *plan->veil);
    plan->lux = calloc(plans + 1, sizeof *plan->lux);
    if (!plan->room_share || !plan->dim || !plan->veil || !plan->lux) {
        return VS_ERR_MEMORY;
    }
    for (size_t r = 0; r < k->scene->room_count; r++) {
        plan->room_share[r] = share_of(k, r);
    }
    memcpy(plan->dim, k->predictor->dim, lights * sizeof *plan->dim);
    return VS_OK;
}

/* The lights in each step's haze. */
static vs_status set_steps(vs_frame_kept *k, const vs_frame_plan *plan) {
    vs_predictor *p = k->predictor;
    vs_status status = VS_OK;
    for (int i = 0; i < VS_LADDER_STEPS && status == VS_OK; i++) {
        vs_frame_step *step = &k->step[i];
        for (size_t r = 0; r < k->scene->room_count; r++) {
            step->room_extinction_per_m[r] = plan->room_share[r] * plan->ladder.step_per_m[i];
        }
        k->medium[i] = vs_camera_setup_make(p, k->shot, step->room_extinction_per_m).hazed;
        status =
            vs_scene_emitters(p->geometry, k->shot, &k->medium[i], p->dim, &p->work, step->light);
    }
    return status;
}

static size_t node_jobs(const vs_frame_kept *k) {
    return (vs_frame_node_count(k) + VS_FRAME_BATCH - 1) / VS_FRAME_BATCH;
}

static bool shines(const vs_frame_kept *k, size_t light) {
    return vs_frame_shines(&k->step[0].light[light]);
}

static void node_job(void *context, size_t worker, size_t i) {
    vs_frame_kept *k = context;
    size_t first = i * VS_FRAME_BATCH, all = vs_frame_node_count(k);
    size_t count = all - first < VS_FRAME_BATCH ? all - first : VS_FRAME_BATCH;
    for (size_t light = 0; light < k->scene->light_count; light++) {
        if (shines(k, light)) {
            vs_frame_sample_nodes(k, worker, light, first, count);
        }
    }
}

/* What is seen at a node in the haze of one step, bounced light left out, and the veil of it. */
static double node_nits(const vs_frame_kept *k, int step, size_t x, size_t y, double *veil) {
    size_t node = y * vs_frame_nodes_across(k) + x, px = x * k->grid.cell, py = y * k->grid.cell;
    const vs_ray_path *path = vs_frame_path(k, px, py);
    double lux = 0, depth_m;
    *veil = 0;
    for (size_t i = 0; i < k->scene->light_count; i++) {
        if (shines(k, i)) {
            *veil +=
                vs_bands_luminance(vs_frame_stored(vs_frame_node(k, k->node_veil, i, node), step));
            lux +=
                vs_bands_luminance(vs_frame_stored(vs_frame_node(k, k->node_lux, i, node), step));
        }
    }
    double through = vs_bands_luminance(
        vs_frame_dimming(k, &k->medium[step], path, (double)px, (double)py, &depth_m));
    return *veil + path->open * through * lux * path->reflectance / VS_PI;
}

static void set_fine_tolerances(vs_frame_kept *k, int step) {
    size_t across = vs_frame_cells_across(k), down = vs_frame_cells_down(k);
    size_t first = (size_t)step * across * down;
    double floor_nits = vs_camera_floor_nits(k->camera);
    for (size_t y = 0; y < down; y++) {
        for (size_t x = 0; x < across; x++) {
            double least = INFINITY, least_veil = INFINITY, veil;
            for (size_t corner = 0; corner < 4; corner++) {
                double nits = node_nits(k, step, x + (corner & 1), y + (corner >> 1), &veil);
                least = fmin(least, nits);
                least_veil = fmin(least_veil, veil);
            }
            k->tolerance[first + y * across + x] = (float)(TOLERANCE_FINE * (least + floor_nits));
            k->tolerance_mixed[first + y * across + x] =
                (float)(TOLERANCE_FINE * (least_veil + floor_nits));
        }
    }
}

/* In a coarse picture all is held against grey. */
static void set_tolerances(vs_frame_kept *k) {
    size_t cells = vs_frame_cells_across(k) * vs_frame_cells_down(k);
    for (size_t i = 0; i < cells * VS_LADDER_STEPS; i++) {
        k->tolerance[i] = k->tolerance_mixed[i] =
            (float)(TOLERANCE_COARSE * vs_camera_grey_nits(k->camera));
    }
    for (int step = 0; step < VS_LADDER_STEPS && k->detail == VS_FRAME_FINE; step++) {
        set_fine_tolerances(k, step);
    }
}

static void solve_bounce(vs_frame_kept *k, vs_frame_worker *worker) {
    vs_predictor *p = k->predictor;
    for (int s = 0; s < VS_LADDER_STEPS && k->scene->indirect == VS_INDIRECT_COMPUTED; s++) {
        if (vs_frame_asks_bounce(k, s)) {
            vs_frame_note(worker, vs_bounce_solve(&p->bounces[p->in_hand], &k->medium[s],
                                                  k->step[s].light, &k->step[s].bounce));
        }
    }
}

/* The bounce is solved beside the parts of every light. */
static void part_job(void *context, size_t worker, size_t i) {
    vs_frame_kept *k = context;
    if (i == 0) {
        solve_bounce(k, &k->worker[worker]);
    }
    for (size_t light = 0; i > 0 && light < k->scene->light_count; light++) {
        if (shines(k, light)) {
            vs_frame_find_light(k, worker, light, i - 1);
        }
    }
}

static vs_status find_all(vs_frame_kept *k) {
    const vs_runner *r = k->runner;
    k->nodes_known = false;
    if (k->detail == VS_FRAME_FINE) { /* else nothing depends on the nodes */
        r->each(r->context, node_jobs(k), node_job, k);
        k->nodes_known = true;
    }
    vs_status status = vs_frame_status(k);
    if (status == VS_OK) {
        set_tolerances(k);
        r->each(r->context, 1 + vs_frame_part_count(k), part_job, k);
        status = vs_frame_status(k);
    }
    if (status == VS_OK) {
        status = vs_frame_find_bounced(k);
    }
    for (int i = 0; i < VS_LADDER_STEPS; i++) {
        vs_bounce_free(&k->step[i].bounce);
    }
    return status;
}

/* Room for the samples of any plan, at one density. */
static vs_status make_room(vs_frame_kept *k, const vs_frame_plan *plan) {
    size_t most = 1;
    size_t parts = plan->veil && plan->lux ? vs_frame_part_count(k) * k->scene->light_count : 0;
    for (size_t i = 0; i < parts; i++) {
        most = plan->veil[i].sample_count > most ? plan->veil[i].sample_count : most;
        most = plan->lux[i].sample_count > most ? plan->lux[i].sample_count : most;
    }
    bool room = true;
    for (size_t i = 0; i < k->worker_count; i++) {
        vs_frame_worker *w = &k->worker[i];
        if (most > w->value_size) {
            free(w->value);
            w->value = malloc(most * sizeof *w->value);
            w->value_size = w->value ? most : 0;
        }
        room = room && w->value;
    }
    free(k->wide_veil);
    free(k->wide_lux);
    k->wide_veil = malloc((plan->bounced_veil.sample_count + 1) * sizeof *k->wide_veil);
    k->wide_lux = malloc((plan->bounced_lux.sample_count + 1) * sizeof *k->wide_lux);
    return room && k->wide_veil && k->wide_lux ? VS_OK : VS_ERR_MEMORY;
}

/* Puts the plan in hand among the older ones; in its place comes the one of those that serves, or
 * none. */
static void change_plan(vs_frame_kept *k, vs_frame_plan *plan) {
    const vs_frame_plan blank = {0};
    vs_frame_plan *older = k->older[k->detail], found = blank;
    int at = 0;
    while (at < VS_FRAME_PLANS_OLDER - 1 && !serves(k, &older[at])) {
        at++;
    }
    if (serves(k, &older[at])) {
        found = older[at];
    } else {
        vs_frame_plan_free(k, &older[at]);
    }
    memmove(older + 1, older, (size_t)at * sizeof *older);
    older[0] = *plan;
    *plan = found;
}

vs_status vs_frame_plan_make(vs_frame_kept *k) {
    vs_frame_plan *plan = plan_of(k);
    if (plan->made && !serves(k, plan)) {
        change_plan(k, plan);
    }
    if (serves(k, plan)) {
        return make_room(k, plan);
    }
    vs_frame_plan_free(k, plan);
    vs_status status = begin(k, plan);
    if (status == VS_OK) {
        status = set_steps(k, plan);
    }
    if (status == VS_OK) {
        status = find_all(k);
    }
    if (status == VS_OK) {
        status = make_room(k, plan);
    }
    plan->made = status == VS_OK;
    if (status != VS_OK) {
        vs_frame_plan_free(k, plan);
    }
    return status;
}
