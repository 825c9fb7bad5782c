/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How a beam reads: its light on a line of sight against the background, against the line just
 * beside it, and along which interval of its axis. Thresholds: common practice, no source. */
#include <math.h>

#include "shot/predict/beam.h"
#include "veilstop/light/shaft.h"

#define EDGE_TURN_MAX_RAD (VS_PI / 3) /* beyond this a camera sees no edge of that beam */
#define EDGE_TURN_MIN_RAD 1e-4        /* [rad] first turn tried */
#define EDGE_STEPS        40          /* halvings: the edge is found to 1e-12 of the turn */
#define AXIS_SAMPLES      24          /* places along the axis at which a beam is evaluated */
#define END_RELATIVE      0.02        /* [1] tolerance of the light on the wall behind an axis */
/* [1] of a lamp's throw: closer to it, glare dominates; our choice */
#define GLARE_SHARE   0.1
#define AXIS_STATIONS 2    /* where indirect light is evaluated: 16 would change no printed digit */
#define AXIS_START_M  0.05 /* [m] closer to the lamp its glare dominates */
#define AXIS_HALVINGS 5    /* of the step between two places: a centimetre in ten metres */

/* The beam's own light on a line, from all parts of its light. */
static vs_status own_light(const vs_camera_setup *setup, const vs_camera_ray *ray, size_t light,
                           double *nits) {
    vs_status status = VS_OK;
    *nits = 0;
    for (size_t i = 0; i < setup->scene->light_count && status == VS_OK; i++) {
        if (vs_light_whole(setup->scene, i) == light) {
            vs_bands *veil = &setup->predictor->once[i];
            status = vs_camera_setup_veil_of(setup, ray, &setup->predictor->hazed_light[i], veil);
            *nits += vs_bands_luminance(*veil);
        }
    }
    return status;
}

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

/* The rest of what is seen there, without indirect light. Stops once it exceeds `most`; relative:
 * tolerance of the light on the end of the line. */
static vs_status direct_background(const vs_camera_setup *setup, const vs_camera_ray *ray,
                                   size_t light, double relative, double most_nits, double *nits) {
    vs_bands more, *once = setup->predictor->once;
    vs_status status = VS_OK;
    *nits = 0;
    for (size_t i = 0; i < setup->scene->light_count && status == VS_OK; i++) {
        if (vs_light_whole(setup->scene, i) != light && *nits <= most_nits) {
            status =
                vs_camera_setup_veil_of(setup, ray, &setup->predictor->hazed_light[i], &once[i]);
            *nits += vs_bands_luminance(once[i]);
        }
    }
    if (status == VS_OK && *nits <= most_nits) {
        status = vs_camera_setup_end_direct(setup, ray, relative, VS_NOTE_NONE, &more);
        more = vs_bands_mul(more, vs_camera_ray_transmission(&setup->hazed, ray));
        *nits += vs_bands_luminance(more);
    }
    return status;
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

/* The brightest background, without the camera's floor, against which a beam reads soft. */
static double most_background_nits(const vs_camera *camera, double beam_nits) {
    double floor_nits = vs_camera_floor_nits(camera);
    double most_nits = beam_nits / (exp2(VS_READS_SOFT_STOPS) - 1) - floor_nits;
    return beam_nits + most_nits >= floor_nits ? most_nits : -1;
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

/* A line from the light along its axis. Indirect light changes little along it: it is computed at a
 * few stations, on demand, and interpolated. */
typedef struct {
    const vs_camera_setup *setup;
    size_t light;
    vs_vec3 from_m, axis;
    double length_m;
    double indirect_nits[AXIS_STATIONS]; /* NaN: not computed yet */
} axis_line;

static vs_camera_ray line_to_axis(const axis_line *line, double at_m) {
    vs_vec3 p_m = vs_vec3_along(line->from_m, line->axis, at_m);
    vs_vec3 camera_m = line->setup->camera->at_m;
    return vs_camera_ray_along(&line->setup->hazed, camera_m,
                               vs_vec3_unit(vs_vec3_sub(p_m, camera_m)), INFINITY);
}

static vs_status ask_station(axis_line *line, int i) {
    if (!isnan(line->indirect_nits[i])) {
        return VS_OK;
    }
    vs_bands nits;
    double at_m = AXIS_START_M + (line->length_m - AXIS_START_M) * (i + 0.5) / AXIS_STATIONS;
    vs_camera_ray ray = line_to_axis(line, at_m);
    vs_bands *once = line->setup->predictor->once;
    vs_status status = vs_camera_setup_veils(line->setup, &ray, VS_NOTE_NONE, once);
    if (status == VS_OK) {
        status = vs_camera_setup_indirect(line->setup, &ray, once, VS_NOTE_NONE, &nits);
    }
    if (status == VS_OK) {
        line->indirect_nits[i] = vs_bands_luminance(nits);
    }
    return status;
}

static vs_status indirect_at(axis_line *line, double at_m, double *nits) {
    double place = (at_m - AXIS_START_M) / (line->length_m - AXIS_START_M) * AXIS_STATIONS - 0.5;
    place = fmin(fmax(place, 0), AXIS_STATIONS - 1);
    int left = (int)fmin(floor(place), AXIS_STATIONS - 2);
    double share = place - left;
    vs_status status = ask_station(line, left);
    if (status == VS_OK) {
        status = ask_station(line, left + 1);
    }
    *nits = line->indirect_nits[left] * (1 - share) + line->indirect_nits[left + 1] * share;
    return status;
}

/* Whether the camera sees the axis there: in frame and unobstructed. */
static bool axis_in_view(const axis_line *line, double at_m) {
    const vs_camera_setup *setup = line->setup;
    vs_vec3 p_m = vs_vec3_along(line->from_m, line->axis, at_m);
    return vs_view_in_frame(&setup->view, p_m) &&
           vs_camera_ray_to(&setup->hazed, setup->camera->at_m, p_m).end == VS_CAMERA_RAY_AT_POINT;
}

/* Whether the beam reads at least soft there. Quick tests come first, and the sum of the background
 * stops once it is too bright. */
static vs_status axis_reads(axis_line *line, double at_m, bool *reads) {
    const vs_camera_setup *setup = line->setup;
    double beam_nits, direct_nits = 0, indirect_nits = 0;
    *reads = false;
    if (!axis_in_view(line, at_m)) {
        return VS_OK;
    }
    vs_camera_ray ray = line_to_axis(line, at_m);
    vs_status status = own_light(setup, &ray, line->light, &beam_nits);
    double most_nits = most_background_nits(setup->camera, beam_nits);
    if (status == VS_OK && most_nits >= 0) {
        status = direct_background(setup, &ray, line->light, END_RELATIVE, most_nits, &direct_nits);
    }
    if (status == VS_OK && direct_nits <= most_nits) {
        status = indirect_at(line, at_m, &indirect_nits);
    }
    double background_nits = direct_nits + indirect_nits;
    *reads = background_nits <= most_nits &&
             background_nits + beam_nits >= vs_camera_floor_nits(setup->camera);
    return status;
}

/* The last place in view between two places, the second of which is not. */
static double last_in_view_m(const axis_line *line, double in_view_m, double not_m) {
    for (int i = 0; i < AXIS_HALVINGS; i++) {
        double middle_m = (in_view_m + not_m) / 2;
        if (axis_in_view(line, middle_m)) {
            in_view_m = middle_m;
        } else {
            not_m = middle_m;
        }
    }
    return in_view_m;
}

/* Where between two places the beam begins or ceases to read, often because it goes out of view. */
static vs_status turning_place(axis_line *line, double reads_m, double not_m, double *place_m) {
    vs_status status = VS_OK;
    bool reads = false;
    if (!axis_in_view(line, not_m)) {
        not_m = last_in_view_m(line, reads_m, not_m);
        status = axis_reads(line, not_m, &reads);
        reads_m = reads ? not_m : reads_m;
    }
    for (int i = 0; i < AXIS_HALVINGS && status == VS_OK && reads_m != not_m; i++) {
        double middle_m = (reads_m + not_m) / 2;
        status = axis_reads(line, middle_m, &reads);
        if (reads) {
            reads_m = middle_m;
        } else {
            not_m = middle_m;
        }
    }
    *place_m = reads_m;
    return status;
}

/* The longest run of places that read: first and last + 1; equal if there is none. */
static void longest_run(const bool *reads, size_t *first, size_t *end) {
    size_t start = 0;
    *first = *end = 0;
    for (size_t i = 0; i <= AXIS_SAMPLES; i++) {
        if (i == AXIS_SAMPLES || !reads[i]) {
            if (i - start > *end - *first) {
                *first = start;
                *end = i;
            }
            start = i + 1;
        }
    }
}

/* How far the axis runs before something opaque: from a lamp inside, to its wall. */
static double axis_length_m(const vs_camera_setup *setup, const axis_line *line) {
    if (vs_space_room_at(&setup->predictor->geometry->space, line->from_m) == VS_SPACE_OUTSIDE) {
        double reach_m = 0;
        for (size_t r = 0; r < setup->scene->room_count; r++) {
            const vs_box *room = &setup->predictor->geometry->room[r];
            reach_m = fmax(reach_m, vs_vec3_length(vs_vec3_sub(room->low_m, line->from_m)));
            reach_m = fmax(reach_m, vs_vec3_length(vs_vec3_sub(room->high_m, line->from_m)));
        }
        return reach_m;
    }
    return vs_camera_ray_along(&setup->clear, line->from_m, line->axis, INFINITY).length_m;
}

/* The axis of one part of a light; false if it has none. */
static bool make_axis(const vs_camera_setup *setup, size_t light, size_t part, axis_line *line) {
    const vs_emitter *emitter = &setup->predictor->hazed_light[part];
    const axis_line made = {.setup = setup,
                            .light = light,
                            .from_m = emitter->at_m,
                            .axis = emitter->axis,
                            .indirect_nits = {NAN, NAN}};
    *line = made;
    if (emitter->kind == VS_EMITTER_LINE ||
        (emitter->kind == VS_EMITTER_POINT && emitter->profile == VS_PROFILE_EVEN)) {
        return false;
    }
    if (emitter->kind == VS_EMITTER_PARALLEL) {
        line->from_m = setup->predictor->geometry->opening[emitter->opening].rect.center_m;
    }
    line->length_m = axis_length_m(setup, line);
    return true;
}

/* A place along an axis [m], evenly spaced from its start almost to its end. */
static double axis_sample_m(const axis_line *line, size_t i) {
    return AXIS_START_M + (line->length_m - AXIS_START_M) * (double)i / (AXIS_SAMPLES - 1) * 0.999;
}

/* The ratio of a beam to its direct background, seen at a place of its axis. */
static vs_status axis_contrast(const axis_line *line, double at_m, double *contrast) {
    double beam_nits, direct_nits = 0;
    vs_camera_ray ray = line_to_axis(line, at_m);
    vs_status status = own_light(line->setup, &ray, line->light, &beam_nits);
    if (status == VS_OK) {
        status =
            direct_background(line->setup, &ray, line->light, END_RELATIVE, INFINITY, &direct_nits);
    }
    *contrast = beam_nits / (direct_nits + vs_camera_floor_nits(line->setup->camera));
    return status;
}

/* Uses the same thin haze everywhere, so that the place does not depend on the density. */
vs_status vs_camera_setup_beam_place(const vs_camera_setup *setup, size_t light, vs_vec3 *near_m) {
    vs_camera_setup thin = *setup;
    thin.hazed = vs_medium_make(setup->hazed.space, setup->hazed.haze, setup->predictor->thin_air);
    double best = 0;
    near_m->x = near_m->y = near_m->z = NAN;
    for (size_t part = 0; part < setup->scene->light_count; part++) {
        axis_line line;
        if (vs_light_whole(setup->scene, part) != light ||
            vs_bands_luminance(setup->predictor->hazed_light[part].strength) == 0 ||
            !make_axis(&thin, light, part, &line)) {
            continue;
        }
        for (size_t i = 0; i < AXIS_SAMPLES; i++) {
            double at_m = axis_sample_m(&line, i), contrast;
            bool parallel = setup->predictor->hazed_light[part].kind == VS_EMITTER_PARALLEL;
            bool glare = !parallel && at_m < GLARE_SHARE * line.length_m;
            if (glare || !axis_in_view(&line, at_m)) {
                continue;
            }
            vs_status status = axis_contrast(&line, at_m, &contrast);
            if (status != VS_OK) {
                return status;
            }
            if (contrast > best) {
                best = contrast;
                *near_m = vs_vec3_along(line.from_m, line.axis, at_m);
            }
        }
    }
    return VS_OK;
}

static vs_status stretch_that_reads(const vs_camera_setup *setup, size_t part,
                                    vs_beam_prediction *beam) {
    axis_line line;
    bool reads[AXIS_SAMPLES];
    double at_m[AXIS_SAMPLES];
    beam->reads_from_m = beam->reads_to_m = NAN;
    if (!make_axis(setup, beam->light, part, &line)) {
        return VS_OK; /* such a light has no axis */
    }
    double length_m = line.length_m;
    vs_status status = VS_OK;
    for (size_t i = 0; i < AXIS_SAMPLES && status == VS_OK; i++) {
        at_m[i] = axis_sample_m(&line, i);
        status = axis_reads(&line, at_m[i], &reads[i]);
    }
    if (status != VS_OK) {
        return status;
    }
    size_t first, end;
    longest_run(reads, &first, &end);
    if (first == end) {
        return VS_OK;
    }
    beam->reads_from_m = first == 0 ? 0 : (double)NAN;
    beam->reads_to_m = end == AXIS_SAMPLES ? length_m : (double)NAN;
    if (first > 0) {
        status = turning_place(&line, at_m[first], at_m[first - 1], &beam->reads_from_m);
    }
    if (end < AXIS_SAMPLES && status == VS_OK) {
        status = turning_place(&line, at_m[end - 1], at_m[end], &beam->reads_to_m);
    }
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
    return status == VS_OK ? stretch_that_reads(setup, part, beam) : status;
}
