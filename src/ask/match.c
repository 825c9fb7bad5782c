/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "ask/match.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ask/places.h"
#include "ask/scene_write.h"
#include "veilstop/base/units.h"
#include "veilstop/camera/view.h"
#include "veilstop/shot/dwell.h"
#include "veilstop/shot/held.h"

#define WORDS_SIZE     256    /* [bytes] of one pair; our choice */
#define FOCAL_LEAST_MM 1.0    /* [mm] as in a scene */
#define FOCAL_MOST_MM  5000.0 /* [mm] as in a scene */
#define AIM_LEAST_M    0.5    /* [m] a camera aims at least so far ahead; our choice */

/* ---- pairs ---- */

static vs_exit fail_pair(size_t number, const char *got, const char *why) {
    return vs_ask_fail(VS_EXIT_USAGE, "--match: pair %zu %s (got %s)", number + 1, why, got);
}

/* "X,Y=PLACE" */
static vs_exit read_pair(char *text, const vs_ask_scene *scene, const vs_scene_shot *shot,
                         size_t room, vs_report_match *m) {
    vs_match_pair *pair = &m->pair[m->count];
    char *equals = strchr(text, '=');
    size_t x = vs_number_parse(text, &pair->x_px);
    size_t y = x && text[x] == ',' ? vs_number_parse(text + x + 1, &pair->y_px) : 0;
    if (!equals || !y || text + x + 1 + y != equals) {
        return fail_pair(m->count, text, "must be X,Y=PLACE, pixels from the top left");
    }
    if (!(pair->x_px >= 0 && pair->x_px <= m->width_px && pair->y_px >= 0 &&
          pair->y_px <= m->height_px)) {
        char why[WORDS_SIZE];
        snprintf(why, sizeof why, "must lie in the photo, %.0f x %.0f pixels", m->width_px,
                 m->height_px);
        return fail_pair(m->count, text, why);
    }
    vs_text why;
    vs_text_init(&why);
    bool good = vs_ask_place_read(equals + 1, scene, shot, room, &pair->at_m, &why);
    vs_exit code = good ? VS_EXIT_DONE : fail_pair(m->count, text, vs_text_words(&why, &why));
    vs_text_free(&why);
    return code;
}

static bool is_blank(char c) {
    return c == ' ' || c == '\t' || c == '\n' || c == '\r';
}

static vs_exit read_pairs(const char *text, const vs_ask_scene *scene, const vs_scene_shot *shot,
                          size_t room, vs_report_match *m) {
    while (*text) {
        char one[WORDS_SIZE];
        size_t length = strcspn(text, ";"), end = length, start = 0;
        while (start < end && is_blank(text[start])) {
            start++;
        }
        while (end > start && is_blank(text[end - 1])) {
            end--;
        }
        if (end > start) { /* a last ";" is no pair */
            snprintf(one, sizeof one, "%.*s", (int)(end - start), text + start);
            if (m->count == VS_MATCH_PAIRS_MAX) {
                return vs_ask_fail(VS_EXIT_USAGE, "--match: must be at most %d pairs",
                                   VS_MATCH_PAIRS_MAX);
            }
            vs_exit code = end - start < sizeof one
                               ? read_pair(one, scene, shot, room, m)
                               : fail_pair(m->count, one, "must be X,Y=PLACE, shorter than this");
            if (code != VS_EXIT_DONE) {
                return code;
            }
            m->count++;
        }
        text += length + (text[length] == ';');
    }
    return VS_EXIT_DONE;
}

/* ---- the camera ---- */

static bool in_a_room(const void *context, vs_vec3 at_m) {
    return vs_dwell_room_at(context, at_m) != VS_OUTSIDE;
}

static vs_exit fail_match(const vs_report_match *m) {
    const vs_match *f = &m->match;
    const vs_match_pair *worst = &m->pair[f->culprit];
    switch (f->outcome) {
    case VS_MATCH_TOO_FEW:
        return vs_ask_fail(VS_EXIT_INPUT,
                           "--match: must be four pairs or more, or three where the focal length "
                           "is known (got %zu)",
                           m->count);
    case VS_MATCH_TWICE:
        return vs_ask_fail(VS_EXIT_INPUT,
                           "--match: must have another pixel and another place in each pair (got "
                           "the same in pairs %zu and %zu)",
                           f->culprit + 1, f->other + 1);
    case VS_MATCH_IN_A_LINE:
        return vs_ask_fail(VS_EXIT_INPUT,
                           "--match: must have places that do not all lie along one line");
    case VS_MATCH_CLOSE:
        return vs_ask_fail(VS_EXIT_INPUT,
                           "--match: must have pixels further apart: over %.0f %% of the photo's "
                           "diagonal",
                           100 * VS_MATCH_SPREAD);
    case VS_MATCH_APART:
        return vs_ask_fail(VS_EXIT_INPUT,
                           "--match: must have pairs that go together: the nearest camera draws "
                           "them %.0f pixels off (rms), pair %zu (%.0f,%.0f) by %.0f; is each "
                           "corner the one that is named?",
                           f->residual_px, f->culprit + 1, worst->x_px, worst->y_px,
                           f->off_px[f->culprit]);
    case VS_MATCH_LOOSE_SQUARE:
        return vs_ask_fail(VS_EXIT_INPUT,
                           "--match: must have places nearer and farther than one wall seen "
                           "square on, or --focal MM: here focal length and distance trade for "
                           "one another");
    case VS_MATCH_LOOSE:
        return vs_ask_fail(VS_EXIT_INPUT,
                           "--match: must have pairs further apart, near and far: many cameras "
                           "see these so");
    case VS_MATCH_IMPOSSIBLE:
        return vs_ask_fail(VS_EXIT_INPUT,
                           "--match: must be seen from inside a room of the scene (got a camera at "
                           "%.2f, %.2f, %.2f m); is each corner the one that is named?",
                           f->pose.at_m.x, f->pose.at_m.y, f->pose.at_m.z);
    default:
        return vs_ask_fail(VS_EXIT_INPUT,
                           "--match: must have pairs that some camera sees so; is each corner the "
                           "one that is named?");
    }
}

/* The mean distance of the places along the camera's axis. */
static double ahead_m(const vs_report_match *m) {
    double sum = 0;
    for (size_t i = 0; i < m->count; i++) {
        vs_vec3 d = vs_vec3_sub(m->pair[i].at_m, m->match.pose.at_m);
        sum += m->match.used[i] ? vs_vec3_dot(d, m->match.pose.forward) : 0;
    }
    return fmax(sum / (double)m->match.used_count, AIM_LEAST_M);
}

static void set_camera(const vs_camera *shots, double pixel_m, vs_report_match *m) {
    m->camera = *shots;
    m->camera.at_m = m->match.pose.at_m;
    m->camera.aim_m = vs_vec3_along(m->match.pose.at_m, m->match.pose.forward, ahead_m(m));
    m->camera.roll_rad = vs_match_roll_rad(&m->match.pose);
    m->camera.focal_m = m->match.pose.focal_px * pixel_m;
}

/* The named camera behind a shot's, which may have settings of its own. */
static size_t named_camera(const vs_scene *scene, size_t camera) {
    size_t i = 0;
    while (strcmp(scene->camera[i].name, scene->camera[camera].name) != 0) {
        i++;
    }
    return i;
}

vs_exit vs_ask_match_read(const vs_ask_args *args, const vs_ask_scene *scene, size_t shot,
                          size_t width, size_t height, vs_report_match *match) {
    const vs_scene *s = scene->scene;
    const vs_scene_shot *of = &s->shot[shot];
    const vs_camera *camera = &s->camera[of->camera];
    double focal_mm = NAN;
    memset(match, 0, sizeof *match);
    match->width_px = (double)width;
    match->height_px = (double)height;
    match->index = named_camera(s, of->camera);
    vs_exit code = read_pairs(vs_ask_value(args, "match"), scene, of, vs_held_room(s, of), match);
    if (code != VS_EXIT_DONE ||
        !vs_ask_number(args, "focal", FOCAL_LEAST_MM, FOCAL_MOST_MM, &focal_mm)) {
        return VS_EXIT_USAGE;
    }
    if (match->count == 3 && isnan(focal_mm)) { /* three pairs give none: the scene's is used */
        focal_mm = camera->focal_m / VS_M_PER_MM;
    }
    match->focal_known = !isnan(focal_mm);
    double pixel_m = vs_view_pixel_m(camera, match->width_px, match->height_px);
    vs_match_ask ask = {.width_px = match->width_px,
                        .height_px = match->height_px,
                        .pair = match->pair,
                        .count = match->count,
                        .focal_px = focal_mm * VS_M_PER_MM / pixel_m,
                        .near_m = camera->at_m,
                        .possible = in_a_room,
                        .context = s};
    vs_status status = vs_camera_match(&ask, &match->match);
    if (status != VS_OK) {
        return vs_ask_fail_status(status, "--match");
    }
    if (match->match.outcome != VS_MATCH_FOUND) {
        return fail_match(match);
    }
    set_camera(camera, pixel_m, match);
    return VS_EXIT_DONE;
}

vs_exit vs_ask_one_shot(const vs_ask_args *args, const vs_ask_scene *scene, size_t *shot) {
    size_t end;
    vs_exit code = vs_ask_scene_shots(args, scene, shot, &end);
    if (code == VS_EXIT_DONE && end - *shot != 1) {
        code = vs_ask_fail(VS_EXIT_USAGE,
                           "%s: needs --shot NAME: whose camera, lamps and haze (%s has %zu shots)",
                           args->command->name, scene->path, end - *shot);
    }
    if (code == VS_EXIT_DONE && args->shot_count > 1) {
        code = vs_ask_fail(VS_EXIT_USAGE,
                           "%s: --shot: must be given once: a photo is of one "
                           "camera",
                           args->command->name);
    }
    return code;
}

/* ---- the scene with that camera ---- */

void vs_ask_match_edits(const vs_ask_scene *scene, const vs_report_match *match,
                        vs_ask_edits *edits) {
    double unit_m = vs_length_unit_m(scene->scene->lengths);
    const vs_camera *camera = &match->camera;
    for (int axis = 0; axis < 3; axis++) {
        vs_ask_edits_add(edits, vs_vec3_component(camera->at_m, axis) / unit_m,
                         "/cameras/%zu/at/%d", match->index, axis);
        vs_ask_edits_add(edits, vs_vec3_component(camera->aim_m, axis) / unit_m,
                         "/cameras/%zu/aim/%d", match->index, axis);
    }
    vs_ask_edits_add(edits, camera->roll_rad / VS_RAD_PER_DEG, "/cameras/%zu/roll_deg",
                     match->index);
    vs_ask_edits_add(edits, camera->focal_m / VS_M_PER_MM, "/cameras/%zu/focal_mm", match->index);
}
