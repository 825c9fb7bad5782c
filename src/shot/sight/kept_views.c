/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See kept_views.h. A search asks for the same few rays and surfaces at a dozen densities. */
#include "shot/sight/kept_views.h"

#include <stdlib.h>

#define VIEWS_MAX 64 /* tens of kilobytes each; our choice */

/* A ray by its start, direction and length, or a surface by its place and normal (length 0). */
typedef struct {
    size_t place;
    vs_vec3 at_m, toward;
    double length_m;
} view_of;

typedef struct {
    view_of of;
    vs_bounce_view view;
    size_t used; /* order of use, latest highest; 0: empty */
} kept_view;

struct vs_kept_views {
    kept_view item[VIEWS_MAX];
    size_t clock;
};

static bool same_vec3(vs_vec3 a, vs_vec3 b) {
    return a.x == b.x && a.y == b.y && a.z == b.z;
}

static bool is_of(const kept_view *kept, const view_of *of) {
    return kept->used > 0 && kept->of.place == of->place && kept->of.length_m == of->length_m &&
           same_vec3(kept->of.at_m, of->at_m) && same_vec3(kept->of.toward, of->toward);
}

static void let_go(kept_view *kept) {
    if (kept->used > 0) {
        vs_bounce_view_free(&kept->view);
    }
    kept->used = 0;
}

/* The slot of a view, or the least recently used one. NULL: out of memory. */
static kept_view *find(vs_predictor *predictor, const view_of *of) {
    if (!predictor->views) {
        predictor->views = calloc(1, sizeof *predictor->views);
    }
    struct vs_kept_views *all = predictor->views;
    kept_view *oldest = all ? &all->item[0] : NULL;
    for (size_t i = 0; all && i < VIEWS_MAX; i++) {
        if (is_of(&all->item[i], of)) {
            return &all->item[i];
        }
        oldest = all->item[i].used < oldest->used ? &all->item[i] : oldest;
    }
    return oldest;
}

/* ray  NULL: a surface */
static vs_status keep(vs_predictor *predictor, const view_of *of, const vs_camera_ray *ray,
                      vs_bounce_view **view) {
    vs_bounce_solver *solver = &predictor->bounces[predictor->in_hand];
    kept_view *kept = find(predictor, of);
    if (!kept) {
        return VS_ERR_MEMORY;
    }
    if (!is_of(kept, of)) {
        let_go(kept);
        vs_status status = ray ? vs_bounce_view_ray(&kept->view, solver, ray)
                               : vs_bounce_view_place(&kept->view, solver, of->at_m, of->toward);
        if (status != VS_OK) {
            return status;
        }
        kept->of = *of;
    }
    kept->used = ++predictor->views->clock;
    *view = &kept->view;
    return VS_OK;
}

vs_status vs_kept_view_ray(vs_predictor *predictor, const vs_camera_ray *ray,
                           vs_bounce_view **view) {
    const view_of of = {predictor->in_hand, ray->at_m, ray->direction, ray->length_m};
    return keep(predictor, &of, ray, view);
}

vs_status vs_kept_view_place(vs_predictor *predictor, vs_vec3 p_m, vs_vec3 normal,
                             vs_bounce_view **view) {
    const view_of of = {predictor->in_hand, p_m, normal, 0};
    return keep(predictor, &of, NULL, view);
}

void vs_kept_views_free(vs_predictor *predictor) {
    for (size_t i = 0; predictor->views && i < VIEWS_MAX; i++) {
        let_go(&predictor->views->item[i]);
    }
    free(predictor->views);
    predictor->views = NULL;
}
