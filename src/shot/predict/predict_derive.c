/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The camera's figures for a shot's points and beams, and their comparisons. The equations:
 * docs/physics.md, "A prediction". */
#include <math.h>

#include "shot/sight/beam.h"
#include "veilstop/shot/predict.h"

static void point_on_camera(const vs_camera *camera, vs_point_prediction *out) {
    double clear = vs_bands_luminance(out->clear_nits);
    double hazed = vs_bands_luminance(out->hazed_nits);
    out->change_stops = vs_camera_stops_between(camera, hazed, clear);
    out->black_percent = vs_camera_signal_percent(camera, vs_bands_luminance(out->veil_nits));
    out->black_lift_percent = out->black_percent - vs_camera_signal_percent(camera, 0);
    out->clipped = vs_camera_linear(camera, hazed) >= vs_camera_clip_linear(camera);
}

static vs_contrast_prediction contrast_of(const vs_camera *camera, const vs_point_prediction *point,
                                          size_t a, size_t b) {
    vs_contrast_prediction c = {.a = a, .b = b};
    c.clear_stops = vs_camera_stops_between(camera, vs_bands_luminance(point[a].clear_nits),
                                            vs_bands_luminance(point[b].clear_nits));
    c.hazed_stops = vs_camera_stops_between(camera, vs_bands_luminance(point[a].hazed_nits),
                                            vs_bands_luminance(point[b].hazed_nits));
    c.lost_stops = copysign(1, c.clear_stops) * (c.clear_stops - c.hazed_stops);
    return c;
}

static vs_separation_prediction separation_of(const vs_camera *camera,
                                              const vs_point_prediction *point, size_t near_point,
                                              size_t far_point) {
    vs_separation_prediction s = {near_point, far_point, 0};
    s.stops = vs_camera_stops_between(camera, vs_bands_luminance(point[far_point].veil_nits),
                                      vs_bands_luminance(point[near_point].veil_nits));
    return s;
}

/* The wanted pairs, near point first as in the want. */
static void compare_wanted(const vs_camera *camera, vs_shot_prediction *out, size_t *contrasts,
                           size_t *separations) {
    for (size_t i = 0; i < out->shot->want_count; i++) {
        const vs_scene_want *want = &out->shot->want[i];
        if (want->kind == VS_WANT_CONTRAST) {
            out->contrast[(*contrasts)++] = contrast_of(camera, out->point, want->a, want->b);
        } else if (want->kind == VS_WANT_SEPARATION) {
            out->separation[(*separations)++] = separation_of(camera, out->point, want->a, want->b);
        }
    }
}

/* Wanted pairs, or all if none are wanted, near point first by distance. */
static void compare_points(const vs_camera *camera, vs_shot_prediction *out) {
    size_t c = 0, s = 0;
    compare_wanted(camera, out, &c, &s);
    bool all_contrasts = c == 0, all_separations = s == 0;
    for (size_t a = 0; a < out->shot->point_count; a++) {
        for (size_t b = a + 1; b < out->shot->point_count; b++) {
            bool near_a = out->point[a].distance_m <= out->point[b].distance_m;
            if (all_contrasts) {
                out->contrast[c++] = contrast_of(camera, out->point, a, b);
            }
            if (all_separations) {
                out->separation[s++] =
                    separation_of(camera, out->point, near_a ? a : b, near_a ? b : a);
            }
        }
    }
}

void vs_shot_prediction_derive(const vs_scene *scene, vs_shot_prediction *prediction) {
    const vs_camera *camera = &scene->camera[prediction->shot->camera];
    for (size_t i = 0; i < prediction->shot->point_count; i++) {
        point_on_camera(camera, &prediction->point[i]);
    }
    compare_points(camera, prediction);
    for (size_t i = 0; i < prediction->beam_count + prediction->extra_beam_count; i++) {
        vs_beam_prediction *beam = &prediction->beam[i];
        beam->over_stops = vs_beam_over_stops(camera, beam->beam_nits, beam->background_nits);
        beam->reads = vs_beam_reads(camera, beam->beam_nits, beam->background_nits);
    }
}
