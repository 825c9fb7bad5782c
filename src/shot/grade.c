/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A point's haze in the form of camera/grade.h, and the range of light a shot uses. */
#include "veilstop/shot/grade.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

#define DARK_STOPS  5.0  /* [stops] under grey: shadows in any frame, with points or without */
#define WHITE_STOPS 2.5  /* [stops] over grey: white paper in that light, 0.9/0.18 rounded up */
#define SHARES      1000 /* shares of the haze that are tried, a tenth of a percent apart */

/* Luminances to scene-linear light of a camera. */
static vs_bands linear_bands(const vs_camera *camera, vs_bands nits) {
    return vs_bands_scale(nits, vs_camera_linear(camera, 1));
}

static vs_depth depth_of(const vs_camera *camera, const vs_point_prediction *p) {
    vs_depth depth = {p->transmission, linear_bands(camera, p->veil_nits)};
    return depth;
}

size_t vs_shot_grade_default(const vs_shot_prediction *prediction) {
    for (size_t i = 0; i < prediction->shot->point_count; i++) {
        if (!prediction->point[i].hidden) {
            return i;
        }
    }
    return VS_NONE;
}

static void range_of(const vs_camera *camera, const vs_shot_prediction *prediction, double *low,
                     double *high) {
    double floor = VS_CAMERA_GREY_LINEAR * exp2(-camera->stops_below_grey);
    *low = VS_CAMERA_GREY_LINEAR * exp2(-DARK_STOPS);
    *high = VS_CAMERA_GREY_LINEAR * exp2(WHITE_STOPS);
    for (size_t i = 0; i < prediction->shot->point_count; i++) {
        const vs_point_prediction *p = &prediction->point[i];
        if (!p->hidden) {
            double x = vs_camera_linear(camera, vs_bands_luminance(p->surface_nits));
            *low = fmin(*low, x);
            *high = fmax(*high, x);
        }
    }
    *low = fmax(*low, floor);
}

static void errors_elsewhere(const vs_camera *camera, const vs_shot_prediction *prediction,
                             vs_shot_grade *out) {
    for (size_t i = 0; i < prediction->shot->point_count; i++) {
        const vs_point_prediction *p = &prediction->point[i];
        vs_depth there = depth_of(camera, p);
        out->error_stops[i] = p->hidden
                                  ? (double)NAN
                                  : vs_grade_error_stops(camera, &out->linear, out->recover, &there,
                                                         linear_bands(camera, p->surface_nits));
    }
}

static vs_status work_out(const vs_camera *camera, const vs_shot_prediction *prediction,
                          vs_shot_grade *out) {
    vs_status status = vs_grade_undo(&out->depth, out->recover, &out->linear);
    if (status != VS_OK) {
        return status;
    }
    double low, high;
    range_of(camera, prediction, &low, &high);
    status = vs_grade_fit_cdl(camera, &out->depth, out->recover, low, high, &out->cdl);
    if (status == VS_ERR_DOMAIN) {
        return VS_ERR_UNREACHABLE;
    }
    out->noise = vs_grade_noise_stops(camera, &out->depth, &out->linear);
    out->latitude_stops = vs_grade_latitude_stops(camera, &out->depth);
    out->offset_percent = vs_grade_offset_percent(camera, &out->depth, &out->linear);
    errors_elsewhere(camera, prediction, out);
    return status;
}

vs_status vs_shot_grade_init(const vs_scene *scene, const vs_shot_prediction *prediction,
                             size_t point, double recover, vs_shot_grade *out) {
    const vs_shot_grade blank = {.point = point, .recover = recover};
    *out = blank;
    const vs_scene_shot *shot = prediction->shot;
    if (point >= shot->point_count || prediction->point[point].hidden) {
        return VS_ERR_DOMAIN;
    }
    out->error_stops = calloc(shot->point_count, sizeof *out->error_stops);
    if (!out->error_stops) {
        return VS_ERR_MEMORY;
    }
    const vs_camera *camera = &scene->camera[shot->camera];
    out->depth = depth_of(camera, &prediction->point[point]);
    vs_status status = work_out(camera, prediction, out);
    if (status != VS_OK) {
        vs_shot_grade_free(out);
    }
    return status;
}

void vs_shot_grade_free(vs_shot_grade *grade) {
    free(grade->error_stops);
    grade->error_stops = NULL;
}

size_t vs_shot_grade_harm(const vs_shot_grade *grade, size_t point_count) {
    size_t worst = VS_NONE;
    for (size_t i = 0; i < point_count; i++) {
        bool seen = i != grade->point && !isnan(grade->error_stops[i]);
        if (seen &&
            (worst == VS_NONE || fabs(grade->error_stops[i]) > fabs(grade->error_stops[worst]))) {
            worst = i;
        }
    }
    return worst;
}

/* The worst error a grade leaves over the visible points, each compared with itself without
 * haze. */
static vs_shot_grade_share worst_of(const vs_camera *camera, const vs_shot_prediction *prediction,
                                    const vs_linear_grade *grade, double recover) {
    vs_shot_grade_share out = {recover, 0, VS_NONE};
    for (size_t i = 0; i < prediction->shot->point_count; i++) {
        const vs_point_prediction *p = &prediction->point[i];
        if (p->hidden) {
            continue;
        }
        vs_depth there = depth_of(camera, p);
        double off =
            vs_grade_error_stops(camera, grade, 1, &there, linear_bands(camera, p->surface_nits));
        if (out.worst_point == VS_NONE || fabs(off) > fabs(out.worst_stops)) {
            out.worst_stops = off;
            out.worst_point = i;
        }
    }
    return out;
}

vs_status vs_shot_grade_best(const vs_scene *scene, const vs_shot_prediction *prediction,
                             size_t point, vs_shot_grade_share *out) {
    const vs_shot_grade_share blank = {NAN, NAN, VS_NONE};
    *out = blank;
    if (point >= prediction->shot->point_count || prediction->point[point].hidden) {
        return VS_ERR_DOMAIN;
    }
    const vs_camera *camera = &scene->camera[prediction->shot->camera];
    vs_depth depth = depth_of(camera, &prediction->point[point]);
    for (int i = 0; i <= SHARES; i++) {
        vs_linear_grade grade;
        double recover = (double)i / SHARES;
        vs_status status = vs_grade_undo(&depth, recover, &grade);
        if (status != VS_OK) {
            *out = blank;
            return status;
        }
        vs_shot_grade_share here = worst_of(camera, prediction, &grade, recover);
        if (!(fabs(out->worst_stops) <= fabs(here.worst_stops))) {
            *out = here;
        }
    }
    return VS_OK;
}
