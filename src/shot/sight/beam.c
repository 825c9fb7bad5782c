/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How a beam reads: its light on a line of sight against the background, and against the line just
 * beside it. Thresholds: common practice, no source. */
#include <math.h>

#include "shot/sight/beam.h"
#include "shot/sight/beam_axis.h"
#include "veilstop/light/shaft.h"

#define EDGE_TURN_MAX_RAD (VS_PI / 3) /* beyond this a camera sees no edge of that beam */
#define EDGE_TURN_MIN_RAD 1e-4        /* [rad] first turn tried */
#define EDGE_STEPS        40          /* halvings: the edge is found to 1e-12 of the turn */

/* The part of a light that contributes most on the last line. */
static size_t brightest_part(const vs_camera_setup *setup, size_t light) {
    const vs_bands *once = setup->predictor->once;
    size_t best = light;
    for (size_t i = 0; i < setup->scene->light_count; i++) {
        if (vs_light_whole(setup->scene, i) == light &&
            vs_bands_luminance(once[i]) > vs_bands_luminance(once[best])) {
            best = i;
        }
    }
    return best;
}

/* All light on a line, parted into the beam's own and the rest.  note  the first of two places, as
 * of vs_camera_setup_indirect */
static vs_status split_line(const vs_camera_setup *setup, const vs_camera_ray *ray, size_t light,
                            size_t note, double *beam_nits, double *background_nits) {
    vs_bands end, indirect, *once = setup->predictor->once;
    double own_nits = 0, other_nits = 0;
    bool noted = note != VS_NOTE_NONE;
    *beam_nits = *background_nits = NAN;
    vs_status status = vs_camera_setup_veils(setup, ray, noted ? note + VS_NOTE_ALONG : note, once);
    for (size_t i = 0; i < setup->scene->light_count && status == VS_OK; i++) {
        bool own = vs_light_whole(setup->scene, i) == light;
        *(own ? &own_nits : &other_nits) += vs_bands_luminance(once[i]);
    }
    if (status == VS_OK) {
        status = vs_camera_setup_end_direct(setup, ray, VS_CAMERA_SETUP_RELATIVE,
                                            noted ? note + VS_NOTE_BEHIND : note, &end);
    }
    if (status == VS_OK) {
        status = vs_camera_setup_indirect(setup, ray, once, note, &indirect);
    }
    if (status == VS_OK) {
        end = vs_bands_mul(end, vs_camera_ray_transmission(&setup->hazed, ray));
        *beam_nits = own_nits;
        *background_nits = other_nits + vs_bands_luminance(end) + vs_bands_luminance(indirect);
    }
    return status;
}

double vs_beam_over_stops(const vs_camera *camera, double beam_nits, double background_nits) {
    return vs_camera_stops_between(camera, background_nits + beam_nits, background_nits);
}

vs_reads vs_beam_reads(const vs_camera *camera, double beam_nits, double background_nits) {
    if (!(beam_nits + background_nits >= vs_camera_floor_nits(camera))) {
        return VS_READS_NOT; /* all of it is below the camera's floor */
    }
    return vs_reads_of(vs_beam_over_stops(camera, beam_nits, background_nits));
}

/* Whether any part of a line is within a beam: a spot's field, a sun's shaft. */
static bool touches_beam(const vs_camera_setup *setup, const vs_emitter *emitter,
                         vs_vec3 direction) {
    vs_shaft shaft[VS_SHAFT_MAX];
    vs_camera_ray ray =
        vs_camera_ray_along(&setup->hazed, setup->camera->at_m, direction, INFINITY);
    vs_point_source point = {emitter->at_m, emitter->strength, emitter, emitter->profile,
                             emitter->axis};
    for (size_t p = 0; p < ray.segment_count; p++) {
        size_t count =
            emitter->kind == VS_EMITTER_PARALLEL
                ? vs_shaft_from_parallel(&setup->hazed, &ray, &ray.segment[p], emitter, shaft)
                : vs_shaft_from_point(&setup->hazed, &ray, &ray.segment[p], &point, shaft);
        if (count > 0) {
            return true;
        }
    }
    return false;
}

/* The smallest turn towards `side` that leaves the beam; NaN if none does. */
static double leaving_turn_rad(const vs_camera_setup *setup, const vs_emitter *emitter,
                               vs_vec3 direction, vs_vec3 side) {
    double inside = 0, outside = EDGE_TURN_MIN_RAD;
    while (touches_beam(setup, emitter, vs_vec3_turned(direction, side, outside))) {
        inside = outside;
        outside *= 1.5;
        if (outside > EDGE_TURN_MAX_RAD) {
            return NAN;
        }
    }
    for (int i = 0; i < EDGE_STEPS; i++) {
        double middle = (inside + outside) / 2;
        if (touches_beam(setup, emitter, vs_vec3_turned(direction, side, middle))) {
            inside = middle;
        } else {
            outside = middle;
        }
    }
    return outside;
}

/* The line of sight just outside a beam: turned out of the plane of camera and axis, which leaves
 * the beam soonest, to the side with the nearer edge. False if there is no edge. */
static bool line_beside(const vs_camera_setup *setup, const vs_emitter *emitter, vs_vec3 direction,
                        vs_vec3 *beside) {
    bool parallel = emitter->kind == VS_EMITTER_PARALLEL;
    if (!parallel && emitter->profile != VS_PROFILE_SPOT) {
        return false;
    }
    vs_emitter field = *emitter;
    field.spot.cutoff_rad = fmin(field.spot.cutoff_rad, field.spot.tenth_rad);
    vs_vec3 from_m = parallel ? setup->predictor->geometry->opening[emitter->opening].rect.center_m
                              : emitter->at_m;
    vs_vec3 side = vs_vec3_cross(emitter->axis, vs_vec3_sub(from_m, setup->camera->at_m));
    side = vs_vec3_along(side, direction, -vs_vec3_dot(side, direction));
    double length = vs_vec3_length(side);
    if (!(length > 0) || !touches_beam(setup, &field, direction)) {
        return false;
    }
    side = vs_vec3_scale(side, 1 / length);
    vs_vec3 other = vs_vec3_scale(side, -1);
    double one_rad = leaving_turn_rad(setup, &field, direction, side);
    double other_rad = leaving_turn_rad(setup, &field, direction, other);
    if (isnan(one_rad) && isnan(other_rad)) {
        return false;
    }
    bool first = isnan(other_rad) || one_rad <= other_rad;
    *beside = vs_vec3_turned(direction, first ? side : other, first ? one_rad : other_rad);
    return true;
}

static vs_status edge(const vs_camera_setup *setup, size_t part, vs_vec3 direction,
                      vs_beam_prediction *beam) {
    vs_vec3 beside;
    const vs_emitter *emitter = &setup->predictor->hazed_light[part];
    beam->edge_stops = NAN;
    if (!line_beside(setup, emitter, direction, &beside)) {
        return VS_OK;
    }
    double spill_nits, background_nits;
    vs_camera_ray ray = vs_camera_ray_along(&setup->hazed, setup->camera->at_m, beside, INFINITY);
    vs_status status =
        split_line(setup, &ray, beam->light, VS_NOTE_NONE, &spill_nits, &background_nits);
    beam->edge_stops = vs_camera_stops_between(
        setup->camera, beam->beam_nits + beam->background_nits, spill_nits + background_nits);
    return status;
}

/* The other beam that reads strongest where this one is viewed; VS_NONE: none reads. */
static void find_crossing(const vs_camera_setup *setup, vs_vec3 direction,
                          vs_beam_prediction *beam) {
    double all_nits = beam->beam_nits + beam->background_nits, most_nits = 0;
    beam->crossing = VS_NONE;
    beam->crossing_nits = 0;
    for (size_t i = 0; i < setup->scene->light_count; i++) {
        const vs_emitter *emitter = &setup->predictor->hazed_light[i];
        double nits = vs_bands_luminance(setup->predictor->once[i]);
        bool shaped = emitter->kind == VS_EMITTER_PARALLEL || emitter->profile == VS_PROFILE_SPOT;
        bool reads = vs_light_whole(setup->scene, i) != beam->light && shaped && nits > most_nits &&
                     vs_beam_reads(setup->camera, nits, all_nits - nits) != VS_READS_NOT;
        if (reads && touches_beam(setup, emitter, direction)) {
            beam->crossing = vs_light_whole(setup->scene, i);
            beam->crossing_nits = most_nits = nits;
        }
    }
}

vs_status vs_camera_setup_beam(const vs_camera_setup *setup, bool extras, size_t note,
                               vs_beam_prediction *beam) {
    if (isnan(beam->near_m.x)) { /* no part of it is in frame */
        beam->edge_stops = beam->reads_from_m = beam->reads_to_m = NAN;
        beam->crossing = VS_NONE;
        return VS_OK;
    }
    vs_vec3 direction = vs_vec3_unit(vs_vec3_sub(beam->near_m, setup->camera->at_m));
    vs_camera_ray ray =
        vs_camera_ray_along(&setup->hazed, setup->camera->at_m, direction, INFINITY);
    vs_status status =
        split_line(setup, &ray, beam->light, note, &beam->beam_nits, &beam->background_nits);
    if (status != VS_OK) {
        return status;
    }
    beam->edge_stops = beam->reads_from_m = beam->reads_to_m = NAN;
    beam->crossing = VS_NONE;
    if (!extras) {
        return VS_OK;
    }
    size_t part = brightest_part(setup, beam->light);
    find_crossing(setup, direction, beam);
    status = edge(setup, part, direction, beam);
    return status == VS_OK ? vs_camera_setup_beam_reads(setup, part, beam) : status;
}
