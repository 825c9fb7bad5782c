/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See beam_axis.h. Thresholds: common practice, no source. */
#include "shot/sight/beam_axis.h"

#include <math.h>

#include "shot/sight/kept_places.h"
#include "veilstop/light/airlight_fast.h"

#define AXIS_SAMPLES 24   /* places along the axis at which a beam is evaluated */
#define END_RELATIVE 0.02 /* [1] tolerance of the light on the wall behind an axis */
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

/* Whether a light's veil takes long: a surface that may be partly hidden. */
static bool is_wide(const vs_emitter *emitter) {
    return emitter->kind == VS_EMITTER_RECT || emitter->kind == VS_EMITTER_LINE;
}

/* Adds the veils of the other lights, of small or of wide ones, until they exceed `most`. */
static vs_status add_veils(const vs_camera_setup *setup, const vs_camera_ray *ray, size_t light,
                           bool wide, double most_nits, double *nits) {
    vs_bands *once = setup->predictor->once;
    vs_status status = VS_OK;
    for (size_t i = 0; i < setup->scene->light_count && status == VS_OK; i++) {
        const vs_emitter *emitter = &setup->predictor->hazed_light[i];
        if (vs_light_whole(setup->scene, i) != light && is_wide(emitter) == wide &&
            *nits <= most_nits) {
            status = vs_camera_setup_veil_of(setup, ray, emitter, &once[i]);
            *nits += vs_bands_luminance(once[i]);
        }
    }
    return status;
}

/* The rest of what is seen there, without indirect light and the veils of wide lights. Stops once
 * it exceeds `most`. */
static vs_status quick_background(const vs_camera_setup *setup, const vs_camera_ray *ray,
                                  size_t light, double most_nits, double *nits) {
    vs_bands more;
    *nits = 0;
    vs_status status = add_veils(setup, ray, light, false, most_nits, nits);
    if (status == VS_OK && *nits <= most_nits) {
        status = vs_camera_setup_end_direct(setup, ray, END_RELATIVE, VS_NOTE_NONE, &more);
        more = vs_bands_mul(more, vs_camera_ray_transmission(&setup->hazed, ray));
        *nits += vs_bands_luminance(more);
    }
    return status;
}

/* No less than the veils of the other wide lights, quickly. */
static vs_status wide_at_most(const vs_camera_setup *setup, const vs_camera_ray *ray, size_t light,
                              double *nits) {
    vs_status status = VS_OK;
    *nits = 0;
    for (size_t i = 0; i < setup->scene->light_count && status == VS_OK; i++) {
        const vs_emitter *emitter = &setup->predictor->hazed_light[i];
        if (vs_light_whole(setup->scene, i) != light && is_wide(emitter) &&
            vs_bands_luminance(emitter->strength) > 0) {
            vs_bands most;
            status =
                vs_airlight_at_most(&setup->predictor->work, &setup->hazed, ray, emitter, &most);
            *nits += vs_bands_luminance(most);
        }
    }
    return status;
}

/* The brightest background, without the camera's floor, against which a beam reads soft. */
static double most_background_nits(const vs_camera *camera, double beam_nits) {
    double floor_nits = vs_camera_floor_nits(camera);
    double most_nits = beam_nits / (exp2(VS_READS_SOFT_STOPS) - 1) - floor_nits;
    return beam_nits + most_nits >= floor_nits ? most_nits : -1;
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

/* Whether the beam reads at least soft there. Quick tests come first: in view; against the quick
 * part of the background; if the wide lights, which take longest, gave all that they can. */
static vs_status axis_reads(axis_line *line, double at_m, bool *reads) {
    const vs_camera_setup *setup = line->setup;
    double beam_nits, nits = 0, indirect_nits = 0, wide_nits = 0;
    *reads = false;
    if (!axis_in_view(line, at_m)) {
        return VS_OK;
    }
    vs_camera_ray ray = line_to_axis(line, at_m);
    vs_status status = own_light(setup, &ray, line->light, &beam_nits);
    double most_nits = most_background_nits(setup->camera, beam_nits);
    double floor_nits = vs_camera_floor_nits(setup->camera);
    if (status == VS_OK && most_nits >= 0) {
        status = quick_background(setup, &ray, line->light, most_nits, &nits);
    }
    if (status != VS_OK || !(nits <= most_nits)) {
        return status;
    }
    status = indirect_at(line, at_m, &indirect_nits);
    nits += indirect_nits;
    if (status == VS_OK && nits <= most_nits) {
        status = wide_at_most(setup, &ray, line->light, &wide_nits);
    }
    if (status != VS_OK || !(nits <= most_nits)) {
        return status;
    }
    if (nits + wide_nits <= most_nits && nits + beam_nits >= floor_nits) {
        *reads = true;
        return VS_OK;
    }
    status = add_veils(setup, &ray, line->light, true, most_nits, &nits);
    *reads = nits <= most_nits && nits + beam_nits >= floor_nits;
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

/* The ratio of a beam to its direct background, seen at a place of its axis; or no more than
 * `best`, where it is not over that. */
static vs_status axis_contrast(const axis_line *line, double at_m, double best, double *contrast) {
    const vs_camera_setup *setup = line->setup;
    double beam_nits, nits = 0, floor_nits = vs_camera_floor_nits(setup->camera);
    vs_camera_ray ray = line_to_axis(line, at_m);
    vs_status status = own_light(setup, &ray, line->light, &beam_nits);
    if (status == VS_OK) {
        status = quick_background(setup, &ray, line->light, INFINITY, &nits);
    }
    if (status == VS_OK && beam_nits > best * (nits + floor_nits)) {
        status = add_veils(setup, &ray, line->light, true, INFINITY, &nits);
    }
    *contrast = beam_nits / (nits + floor_nits);
    return status;
}

/* The best place of one part's axis, if it is better than `best`. */
static vs_status search_axis(const axis_line *line, bool parallel, double *best, vs_vec3 *near_m) {
    vs_status status = VS_OK;
    for (size_t i = 0; i < AXIS_SAMPLES && status == VS_OK; i++) {
        double at_m = axis_sample_m(line, i), contrast;
        bool glare = !parallel && at_m < GLARE_SHARE * line->length_m;
        if (glare || !axis_in_view(line, at_m)) {
            continue;
        }
        status = axis_contrast(line, at_m, *best, &contrast);
        if (status == VS_OK && contrast > *best) {
            *best = contrast;
            *near_m = vs_vec3_along(line->from_m, line->axis, at_m);
        }
    }
    return status;
}

static vs_status search_place(const vs_camera_setup *thin, size_t light, vs_vec3 *near_m) {
    const vs_emitter *emitter = thin->predictor->hazed_light;
    vs_status status = VS_OK;
    double best = 0;
    near_m->x = near_m->y = near_m->z = NAN;
    for (size_t part = 0; part < thin->scene->light_count && status == VS_OK; part++) {
        axis_line line;
        if (vs_light_whole(thin->scene, part) == light &&
            vs_bands_luminance(emitter[part].strength) > 0 && make_axis(thin, light, part, &line)) {
            status = search_axis(&line, emitter[part].kind == VS_EMITTER_PARALLEL, &best, near_m);
        }
    }
    return status;
}

/* Uses the same thin haze everywhere, and lights as they are without it, so that the place does not
 * depend on the density. */
vs_status vs_camera_setup_beam_place(const vs_camera_setup *setup, size_t light, vs_vec3 *near_m) {
    vs_predictor *p = setup->predictor;
    if (vs_kept_place_of(p, setup->shot, light, near_m)) {
        return VS_OK;
    }
    vs_camera_setup thin = *setup;
    vs_emitter *hazed_light = p->hazed_light;
    thin.hazed = vs_medium_make(setup->hazed.space, setup->hazed.haze, p->thin_air);
    p->hazed_light = p->clear_light;
    vs_status status = search_place(&thin, light, near_m);
    p->hazed_light = hazed_light;
    return status == VS_OK ? vs_kept_place_keep(p, setup->shot, light, *near_m) : status;
}

vs_status vs_camera_setup_beam_reads(const vs_camera_setup *setup, size_t part,
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
