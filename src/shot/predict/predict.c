/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Point by point: hazed = surface x transmission + veil, band by band; then the camera's figures.
 * Equations: docs/physics.md, "A prediction". */
#include "veilstop/shot/predict.h"

#include <math.h>
#include <stdlib.h>

#include "shot/sight/beam.h"
#include "shot/sight/camera_setup.h"
#include "shot/sight/glow.h"
#include "shot/sight/kept_places.h"
#include "shot/sight/kept_views.h"
#include "veilstop/light/shaft.h"
#include "veilstop/shot/held.h"
#include "veilstop/shot/want.h"

#define BEAM_PLACE_PER_M 0.02 /* [1/m] usual film haze: gives the same place at every density */

/* The parts of a predictor that each thread needs for itself. */
static vs_status own_init(vs_predictor *predictor) {
    const vs_scene *scene = predictor->scene;
    vs_status status = vs_airlight_init(&predictor->work);
    predictor->clear_light = calloc(scene->light_count + 1, sizeof *predictor->clear_light);
    predictor->hazed_light = calloc(scene->light_count + 1, sizeof *predictor->hazed_light);
    predictor->clear_air = calloc(scene->room_count + 1, sizeof *predictor->clear_air);
    predictor->thin_air = calloc(scene->room_count + 1, sizeof *predictor->thin_air);
    predictor->dim = calloc(scene->light_count + 1, sizeof *predictor->dim);
    predictor->share = calloc(scene->light_count + 1, sizeof *predictor->share);
    predictor->once = calloc(scene->light_count + 1, sizeof *predictor->once);
    predictor->direct = calloc(scene->light_count + 1, sizeof *predictor->direct);
    if (status == VS_OK && (!predictor->clear_light || !predictor->hazed_light ||
                            !predictor->clear_air || !predictor->thin_air || !predictor->dim ||
                            !predictor->share || !predictor->once || !predictor->direct)) {
        status = VS_ERR_MEMORY;
    }
    predictor->bounces = calloc(predictor->place_count, sizeof *predictor->bounces);
    if (!predictor->bounces) {
        status = VS_ERR_MEMORY;
    }
    for (size_t i = 0; i < predictor->place_count && status == VS_OK; i++) {
        if (scene->indirect == VS_INDIRECT_COMPUTED) {
            status = vs_bounce_solver_init(&predictor->bounces[i], &predictor->place[i].location,
                                           &predictor->haze, scene->light_count);
        }
    }
    predictor->geometry = &predictor->place[0].geometry;
    for (size_t i = 0; i < scene->light_count && predictor->dim; i++) {
        predictor->dim[i] = 1;
    }
    for (size_t i = 0; i < scene->room_count && predictor->thin_air; i++) {
        predictor->thin_air[i] = BEAM_PLACE_PER_M;
    }
    return status;
}

/* Whether two shots set all openings the same. */
static bool same_open(const vs_scene *scene, const double *a, const double *b) {
    for (size_t i = 0; i < scene->opening_count && a != b; i++) {
        if ((a ? a[i] : 1) != (b ? b[i] : 1)) {
            return false;
        }
    }
    return true;
}

/* The place with these openings; place_count if there is none. */
static size_t find_place(const vs_predictor *predictor, const double *open) {
    size_t i = 0;
    while (i < predictor->place_count &&
           !same_open(predictor->scene, predictor->place[i].open, open)) {
        i++;
    }
    return i;
}

/* One place for each setting of the openings among the shots. */
static vs_status make_places(vs_predictor *predictor) {
    const vs_scene *scene = predictor->scene;
    predictor->place = calloc(scene->shot_count + 1, sizeof *predictor->place);
    if (!predictor->place) {
        return VS_ERR_MEMORY;
    }
    vs_status status = vs_scene_geometry_init(&predictor->place[0].geometry, scene, NULL);
    predictor->place_count = status == VS_OK;
    for (size_t i = 0; i < scene->shot_count && status == VS_OK; i++) {
        const double *open = scene->shot[i].open;
        if (find_place(predictor, open) == predictor->place_count) {
            vs_predictor_place *place = &predictor->place[predictor->place_count];
            place->open = open;
            status = vs_scene_geometry_init(&place->geometry, scene, open);
            predictor->place_count += status == VS_OK;
        }
    }
    return status;
}

vs_status vs_predictor_begin(vs_predictor *predictor, const vs_scene *scene) {
    const vs_predictor blank = {.scene = scene};
    *predictor = blank;
    vs_status status = make_places(predictor);
    bool computed = scene->indirect == VS_INDIRECT_COMPUTED;
    for (size_t i = 0; i < predictor->place_count && computed && status == VS_OK; i++) {
        vs_predictor_place *place = &predictor->place[i];
        status = vs_bounce_location_begin(&place->location, &place->geometry.space,
                                          &place->geometry.surfaces);
    }
    return status;
}

size_t vs_predictor_place_of(const vs_predictor *predictor, const vs_scene_shot *shot) {
    return find_place(predictor, shot->open);
}

vs_status vs_predictor_set_openings(vs_predictor *predictor, const vs_scene_shot *shot) {
    size_t place = find_place(predictor, shot->open);
    if (place == predictor->place_count) {
        return VS_ERR_DOMAIN;
    }
    predictor->in_hand = place;
    predictor->geometry = &predictor->place[place].geometry;
    return VS_OK;
}

vs_status vs_predictor_make_part(vs_predictor *predictor, size_t part) {
    if (part == VS_BOUNCE_PARTS) {
        return vs_haze_init(&predictor->haze, &predictor->scene->fluid);
    }
    vs_status status = VS_OK;
    bool computed = predictor->scene->indirect == VS_INDIRECT_COMPUTED;
    for (size_t i = 0; i < predictor->place_count && computed && status == VS_OK; i++) {
        status = vs_bounce_location_part(&predictor->place[i].location, part);
    }
    return status;
}

vs_status vs_predictor_end(vs_predictor *predictor) {
    return own_init(predictor);
}

/* A predictor whose parts are being made. */
typedef struct {
    vs_predictor *predictor;
    vs_status status[VS_PREDICTOR_PARTS];
} parts;

static void make_part(void *context, size_t worker, size_t part) {
    parts *all = context;
    (void)worker;
    all->status[part] = vs_predictor_make_part(all->predictor, part);
}

vs_status vs_predictor_init_by(vs_predictor *predictor, const vs_scene *scene,
                               const vs_runner *runner) {
    const vs_runner *by = vs_runner_or_plain(runner);
    parts all = {.predictor = predictor};
    vs_status status = vs_predictor_begin(predictor, scene);
    if (status == VS_OK) {
        by->each(by->context, VS_PREDICTOR_PARTS, make_part, &all);
    }
    for (size_t part = 0; part < VS_PREDICTOR_PARTS && status == VS_OK; part++) {
        status = all.status[part];
    }
    status = status == VS_OK ? vs_predictor_end(predictor) : status;
    predictor->runner = runner;
    if (status != VS_OK) {
        vs_predictor_free(predictor);
    }
    return status;
}

vs_status vs_predictor_init(vs_predictor *predictor, const vs_scene *scene) {
    return vs_predictor_init_by(predictor, scene, NULL);
}

vs_status vs_predictor_init_beside(vs_predictor *predictor, const vs_predictor *first) {
    const vs_predictor shared = {.scene = first->scene,
                                 .beside = true,
                                 .haze = first->haze,
                                 .place = first->place,
                                 .place_count = first->place_count};
    *predictor = shared;
    vs_status status = own_init(predictor);
    bool computed = first->scene->indirect == VS_INDIRECT_COMPUTED;
    for (size_t i = 0; i < first->place_count && status == VS_OK && computed; i++) {
        vs_bounce_solver_lend(&first->bounces[i], &predictor->bounces[i]);
    }
    if (status != VS_OK) {
        vs_predictor_free(predictor);
    }
    return status;
}

void vs_predictor_free(vs_predictor *predictor) {
    const vs_predictor blank = {0};
    vs_bounce_free(&predictor->clear_bounce);
    vs_bounce_free(&predictor->hazed_bounce);
    vs_kept_views_free(predictor);
    vs_kept_places_free(predictor);
    for (size_t i = 0; predictor->bounces && i < predictor->place_count; i++) {
        vs_bounce_solver_free(&predictor->bounces[i]);
    }
    free(predictor->bounces);
    if (!predictor->beside) {
        vs_haze_free(&predictor->haze);
        for (size_t i = 0; i < predictor->place_count; i++) {
            vs_scene_geometry_free(&predictor->place[i].geometry);
            vs_bounce_location_free(&predictor->place[i].location);
        }
        free(predictor->place);
    }
    vs_airlight_free(&predictor->work);
    free(predictor->clear_light);
    free(predictor->hazed_light);
    free(predictor->clear_air);
    free(predictor->thin_air);
    free(predictor->dim);
    free(predictor->share);
    free(predictor->once);
    free(predictor->direct);
    *predictor = blank;
}

void vs_shot_prediction_free(vs_shot_prediction *prediction) {
    const vs_shot_prediction blank = {0};
    if (prediction->point) {
        free(prediction->point->veil_by_light); /* one block for all points */
    }
    free(prediction->room_extinction_per_m);
    free(prediction->point);
    free(prediction->contrast);
    free(prediction->beam);
    free(prediction->separation);
    free(prediction->glow);
    *prediction = blank;
}

static bool is_asked(const vs_predict_part *part, size_t want) {
    return !part->want || part->want[want];
}

static bool is_of(const vs_scene_want *want, vs_want_subject subject) {
    return vs_want_traits_of(want->kind)->subject == subject;
}

static size_t count_wants(const vs_scene_shot *shot, vs_want_kind kind) {
    size_t count = 0;
    for (size_t i = 0; i < shot->want_count; i++) {
        count += shot->want[i].kind == kind;
    }
    return count;
}

/* Pairs to report: those wanted, or else all. */
static size_t count_pairs(const vs_scene_shot *shot, vs_want_kind kind) {
    size_t wanted = count_wants(shot, kind);
    return wanted ? wanted : shot->point_count * (shot->point_count - 1) / 2;
}

static vs_status allocate(const vs_scene *scene, const vs_scene_shot *shot,
                          vs_shot_prediction *out) {
    out->contrast_count = count_pairs(shot, VS_WANT_CONTRAST);
    out->separation_count = count_pairs(shot, VS_WANT_SEPARATION);
    out->beam_count = vs_want_beam_place(shot, shot->want_count);
    size_t shares = 2 * shot->point_count * scene->light_count;
    vs_bands *share = calloc(shares + 1, sizeof *share);
    out->room_extinction_per_m = calloc(scene->room_count + 1, sizeof(double));
    out->point = calloc(shot->point_count + 1, sizeof *out->point);
    out->contrast = calloc(out->contrast_count + 1, sizeof *out->contrast);
    out->separation = calloc(out->separation_count + 1, sizeof *out->separation);
    out->beam = calloc(out->beam_count + scene->light_count + 1, sizeof *out->beam);
    out->glow = calloc(scene->light_count + 1, sizeof *out->glow);
    if (!share || !out->glow || !out->room_extinction_per_m || !out->point || !out->contrast ||
        !out->separation || !out->beam) {
        free(share);
        return VS_ERR_MEMORY;
    }
    out->point->veil_by_light = share;
    for (size_t i = 0; i < shot->point_count; i++) {
        out->point[i].veil_by_light = share + 2 * i * scene->light_count;
        out->point[i].indirect_by_light = share + (2 * i + 1) * scene->light_count;
    }
    return VS_OK;
}

/* The luminance of the point itself, without haze and in it. */
static vs_status point_surface(const vs_camera_setup *setup, const vs_scene_point *point,
                               size_t note, vs_point_prediction *out) {
    if (point->kind == VS_POINT_REFLECTANCE) {
        vs_status status = vs_camera_setup_surface(setup, point->at_m, point->facing, point->value,
                                                   false, note + VS_NOTE_CLEAR, &out->clear_nits);
        if (status != VS_OK) {
            return status;
        }
        return vs_camera_setup_surface(setup, point->at_m, point->facing, point->value, true,
                                       note + VS_NOTE_SURFACE, &out->surface_nits);
    }
    double nits = point->kind == VS_POINT_NITS
                      ? point->value
                      : vs_camera_grey_nits(setup->camera) * exp2(point->value);
    out->clear_nits = out->surface_nits = vs_bands_grey(nits);
    return VS_OK;
}

static vs_status point_veil(const vs_camera_setup *setup, const vs_camera_ray *ray, size_t note,
                            vs_point_prediction *out) {
    vs_status status = vs_camera_setup_veils(setup, ray, note + VS_NOTE_VEIL, out->veil_by_light);
    if (status == VS_OK) {
        status = vs_camera_setup_indirect_veil(setup, ray, out->veil_by_light, note + VS_NOTE_VEIL,
                                               out->indirect_by_light, &out->indirect_veil);
    }
    out->veil_nits = out->indirect_veil;
    for (size_t i = 0; i < setup->scene->light_count && status == VS_OK; i++) {
        out->veil_nits = vs_bands_add(out->veil_nits, out->veil_by_light[i]);
    }
    vs_camera_setup_fold_parts(setup->scene, out->veil_by_light);
    vs_camera_setup_fold_parts(setup->scene, out->indirect_by_light);
    return status;
}

static const char *name_of_end(const vs_camera_setup *setup, const vs_camera_ray *ray) {
    const vs_scene *scene = setup->scene;
    size_t i = ray->end_index;
    if (ray->end == VS_CAMERA_RAY_AT_WALL) {
        return scene->room[i].name;
    }
    if (ray->end == VS_CAMERA_RAY_OUTSIDE) {
        return scene->opening[i].name;
    }
    size_t panel = setup->predictor->geometry->blocker_light[i];
    return panel == VS_NONE ? scene->blocker[i].name : scene->light[panel].name;
}

static vs_status predict_point(const vs_camera_setup *setup, size_t which,
                               vs_point_prediction *out) {
    const vs_scene_point *point = &setup->shot->point[which];
    size_t note = vs_note_of_point(which);
    vs_camera_ray ray = vs_camera_ray_to(&setup->hazed, setup->camera->at_m, point->at_m);
    out->distance_m = vs_vec3_length(vs_vec3_sub(point->at_m, setup->camera->at_m));
    out->in_frame = vs_view_in_frame(&setup->view, point->at_m);
    out->hidden = ray.end != VS_CAMERA_RAY_AT_POINT;
    out->hidden_at_m = out->hidden ? ray.length_m : (double)NAN;
    out->hidden_by = out->hidden ? name_of_end(setup, &ray) : NULL;
    out->hidden_by_wall = ray.end == VS_CAMERA_RAY_AT_WALL;
    vs_status status = point_surface(setup, point, note, out);
    if (status == VS_OK) {
        status = point_veil(setup, &ray, note, out);
    }
    if (status != VS_OK) {
        return status;
    }
    vs_bands seen = out->surface_nits;
    out->transmission = vs_camera_ray_transmission(&setup->hazed, &ray);
    if (out->hidden) {
        status = vs_camera_setup_end(setup, &ray, note + VS_NOTE_END, &seen);
    }
    out->hazed_nits = vs_bands_add(vs_bands_mul(seen, out->transmission), out->veil_nits);
    if (out->hidden) {
        out->transmission = vs_bands_grey(0);
    }
    return status;
}

/* Whether a requested want names a point. */
static bool point_is_needed(const vs_scene_shot *shot, const vs_predict_part *part, size_t point) {
    for (size_t i = 0; i < shot->want_count && !part->points; i++) {
        const vs_scene_want *want = &shot->want[i];
        vs_want_subject of = vs_want_traits_of(want->kind)->subject;
        bool pair = of == VS_WANT_OF_POINTS;
        bool one = of == VS_WANT_OF_POINT || of == VS_WANT_OF_POINT_AND_SHOT;
        if (is_asked(part, i) &&
            (((pair || one) && want->a == point) || (pair && want->b == point))) {
            return true;
        }
    }
    return part->points;
}

/* Optical depth of the longest unobstructed path from a light to a point. */
static double way_from_lights(const vs_camera_setup *setup, vs_vec3 p_m) {
    const vs_space *space = setup->hazed.space;
    double depth = 0;
    for (size_t i = 0; i < setup->scene->light_count; i++) {
        const vs_emitter *light = &setup->predictor->hazed_light[i];
        if (vs_bands_luminance(light->strength) == 0) {
            continue;
        }
        bool parallel = light->kind == VS_EMITTER_PARALLEL;
        vs_vec3 from_m = parallel ? vs_shaft_parallel_origin(space, light, p_m) : light->at_m;
        bool open = parallel ? vs_shaft_parallel_transmittance(space, light, p_m) > 0
                             : vs_space_passage(space, from_m, p_m).transmittance > 0;
        double way =
            open ? vs_space_optical_depth(space, setup->hazed.room_extinction_per_m, from_m, p_m)
                 : 0;
        depth = fmax(depth, way);
    }
    return depth;
}

/* Optical depth of a room's mean chord, 4 volume / surface (Cauchy). */
static double mean_way_depth(const vs_camera_setup *setup) {
    size_t r = vs_space_room_at(setup->hazed.space, setup->camera->at_m);
    if (r == VS_SPACE_OUTSIDE) {
        return 0;
    }
    vs_vec3 size =
        vs_vec3_sub(setup->hazed.space->room[r].high_m, setup->hazed.space->room[r].low_m);
    double surface_m2 = 2 * (size.x * size.y + size.y * size.z + size.z * size.x);
    return setup->hazed.room_extinction_per_m[r] * 4 * size.x * size.y * size.z / surface_m2;
}

static vs_status predict_points(const vs_camera_setup *setup, const vs_predict_part *part,
                                vs_shot_prediction *out) {
    vs_bands veil = vs_bands_grey(0);
    for (size_t i = 0; i < setup->shot->point_count; i++) {
        if (!point_is_needed(setup->shot, part, i)) {
            continue;
        }
        vs_status status = predict_point(setup, i, &out->point[i]);
        if (status != VS_OK) {
            return status;
        }
        veil = vs_bands_add(veil, out->point[i].veil_nits);
        double depth = -log(out->point[i].transmission.v[VS_BAND_GREEN]);
        if (!out->point[i].hidden) {
            out->longest_depth = fmax(out->longest_depth, depth);
        }
        double way = way_from_lights(setup, setup->shot->point[i].at_m);
        out->longest_way_depth = fmax(out->longest_way_depth, fmax(out->longest_depth, way));
    }
    double nits = vs_bands_luminance(veil);
    out->veil_tint = nits > 0 ? vs_bands_scale(veil, 1 / nits) : vs_bands_grey(1);
    return VS_OK;
}

/* Whether a want is about the beam of a light. */
static bool beam_is_wanted(const vs_scene_shot *shot, size_t light) {
    for (size_t i = 0; i < shot->want_count; i++) {
        if (is_of(&shot->want[i], VS_WANT_OF_BEAM) && shot->want[i].light == light) {
            return true;
        }
    }
    return false;
}

/* The beams that cross the frame although no want names them. */
static vs_status predict_extra_beams(const vs_camera_setup *setup, vs_shot_prediction *out) {
    vs_status status = VS_OK;
    for (size_t i = 0; i < setup->scene->light_count && status == VS_OK; i++) {
        vs_beam_prediction *beam = &out->beam[out->beam_count + out->extra_beam_count];
        vs_light_kind kind = setup->scene->light[i].kind;
        if (vs_light_whole(setup->scene, i) != i || !vs_light_kind_is(kind, VS_LIGHT_HAS_SHAFT) ||
            !vs_shot_uses_light(setup->shot, i) || beam_is_wanted(setup->shot, i)) {
            continue;
        }
        beam->light = i;
        status = vs_camera_setup_beam_place(setup, i, &beam->near_m);
        if (status == VS_OK && !isnan(beam->near_m.x)) {
            status = vs_camera_setup_beam(setup, true, VS_NOTE_NONE, beam);
            out->extra_beam_count++;
        }
    }
    return status;
}

static vs_status predict_beams(const vs_camera_setup *setup, const vs_predict_part *part,
                               vs_shot_prediction *out) {
    size_t count = 0;
    for (size_t i = 0; i < setup->shot->want_count; i++) {
        const vs_scene_want *want = &setup->shot->want[i];
        if (!is_of(want, VS_WANT_OF_BEAM)) {
            continue;
        }
        vs_beam_prediction *beam = &out->beam[count++];
        beam->light = want->light;
        beam->near_m = want->near_m;
        if (!is_asked(part, i)) {
            continue;
        }
        vs_status status = isnan(want->near_m.x)
                               ? vs_camera_setup_beam_place(setup, want->light, &beam->near_m)
                               : VS_OK;
        if (status == VS_OK) {
            status = vs_camera_setup_beam(setup, part->extras,
                                          vs_note_of_beam(setup->notes, count - 1), beam);
        }
        if (status != VS_OK) {
            return status;
        }
    }
    return part->extras ? predict_extra_beams(setup, out) : VS_OK;
}

/* The position at which a light is seen: its middle. */
static vs_vec3 middle_of(const vs_camera_setup *setup, const vs_emitter *emitter) {
    if (emitter->kind == VS_EMITTER_LINE) {
        return vs_vec3_along(emitter->at_m, emitter->axis, emitter->length_m / 2);
    }
    if (emitter->kind == VS_EMITTER_PARALLEL) {
        return setup->predictor->geometry->opening[emitter->opening].rect.center_m;
    }
    return emitter->at_m;
}

/* The glow of a light with several parts is the widest among them. */
static void fold_glows(const vs_scene *scene, vs_glow_prediction *glow) {
    static const vs_glow_prediction none = {false, 0, 0};
    for (size_t i = 0; i < scene->light_count; i++) {
        vs_glow_prediction *whole = &glow[vs_light_whole(scene, i)];
        if (whole != &glow[i]) {
            if (glow[i].seen && (!whole->seen || glow[i].tenth_rad > whole->tenth_rad)) {
                *whole = glow[i];
            }
            glow[i] = none;
        }
    }
}

/* Whether a requested want is about the glow of a light. */
static bool glow_is_needed(const vs_scene *scene, const vs_scene_shot *shot,
                           const vs_predict_part *part, size_t light) {
    for (size_t i = 0; i < shot->want_count && !part->extras; i++) {
        const vs_scene_want *want = &shot->want[i];
        if (is_asked(part, i) && is_of(want, VS_WANT_OF_LIGHT) &&
            want->light == vs_light_whole(scene, light)) {
            return true;
        }
    }
    return part->extras;
}

static vs_status predict_glow(const vs_camera_setup *setup, const vs_predict_part *part,
                              vs_shot_prediction *out) {
    for (size_t i = 0; i < setup->scene->light_count; i++) {
        const vs_emitter *emitter = &setup->predictor->hazed_light[i];
        vs_vec3 at_m = middle_of(setup, emitter);
        if (!glow_is_needed(setup->scene, setup->shot, part, i) ||
            vs_bands_luminance(emitter->strength) == 0 || !vs_view_in_frame(&setup->view, at_m)) {
            continue;
        }
        vs_camera_ray ray = vs_camera_ray_to(&setup->hazed, setup->camera->at_m, at_m);
        if (ray.end != VS_CAMERA_RAY_AT_POINT) {
            continue;
        }
        out->glow[i].seen = true;
        vs_status status = vs_camera_setup_glow(setup, emitter, at_m, &out->glow[i]);
        if (status != VS_OK) {
            return status;
        }
    }
    fold_glows(setup->scene, out->glow);
    return VS_OK;
}

/* The densities given, or the shot's own. */
static vs_status set_densities(const vs_predictor *predictor, const vs_scene_shot *shot,
                               const double *room_extinction_per_m, vs_shot_prediction *out) {
    if (!room_extinction_per_m) {
        vs_status status = vs_held_rooms(predictor->scene, shot, &predictor->haze, NAN,
                                         out->room_extinction_per_m);
        if (status != VS_OK) {
            return status;
        }
    }
    for (size_t r = 0; r < predictor->scene->room_count; r++) {
        double k = room_extinction_per_m ? room_extinction_per_m[r] : out->room_extinction_per_m[r];
        if (!(k >= 0 && isfinite(k))) {
            return VS_ERR_DOMAIN;
        }
        out->room_extinction_per_m[r] = k;
    }
    size_t room =
        vs_space_room_at(&predictor->geometry->space, predictor->scene->camera[shot->camera].at_m);
    double here = room == VS_SPACE_OUTSIDE ? 0 : out->room_extinction_per_m[room];
    out->density = vs_density_of(here, &predictor->haze);
    return VS_OK;
}

/* Whether any point or beam is requested: only those need bounced light. */
static bool asks_for_places(const vs_scene_shot *shot, const vs_predict_part *part) {
    for (size_t i = 0; i < shot->want_count; i++) {
        bool no_place =
            is_of(&shot->want[i], VS_WANT_OF_NOTHING) || is_of(&shot->want[i], VS_WANT_OF_LIGHT);
        if (is_asked(part, i) && !no_place) {
            return true;
        }
    }
    return part->points;
}

static vs_status predict(vs_predictor *predictor, const vs_scene_shot *shot,
                         const vs_predict_part *part, const double *room_extinction_per_m,
                         vs_shot_prediction *out) {
    vs_status status = vs_predictor_set_openings(predictor, shot);
    if (status == VS_OK) {
        status = set_densities(predictor, shot, room_extinction_per_m, out);
    }
    if (status != VS_OK) {
        return status;
    }
    vs_camera_setup setup = vs_camera_setup_make(predictor, shot, out->room_extinction_per_m);
    setup.notes = part->notes;
    out->grey_nits = vs_camera_grey_nits(setup.camera);
    out->room_depth = mean_way_depth(&setup);
    status = vs_camera_setup_lights(&setup);
    if (status == VS_OK && asks_for_places(shot, part)) {
        status = vs_camera_setup_solve_bounce(&setup);
    }
    if (status == VS_OK) {
        status = predict_points(&setup, part, out);
    }
    if (status == VS_OK) {
        status = predict_beams(&setup, part, out);
    }
    if (status == VS_OK) {
        status = predict_glow(&setup, part, out);
    }
    vs_shot_prediction_derive(setup.scene, out);
    return status;
}

vs_status vs_predict_shot(vs_predictor *predictor, size_t shot, const double *room_extinction_per_m,
                          vs_shot_prediction *out) {
    static const vs_predict_part whole = {NULL, true, true, NULL};
    return vs_predict_part_of_shot(predictor, shot, &whole, room_extinction_per_m, out);
}

vs_status vs_shot_prediction_blank(const vs_scene *scene, size_t shot, vs_shot_prediction *out) {
    const vs_shot_prediction blank = {.shot = &scene->shot[shot]};
    *out = blank;
    vs_status status = allocate(scene, out->shot, out);
    if (status != VS_OK) {
        vs_shot_prediction_free(out);
    }
    return status;
}

vs_status vs_predict_part_of_shot(vs_predictor *predictor, size_t shot, const vs_predict_part *part,
                                  const double *room_extinction_per_m, vs_shot_prediction *out) {
    vs_status status = vs_shot_prediction_blank(predictor->scene, shot, out);
    if (status != VS_OK) {
        return status;
    }
    status = predict(predictor, out->shot, part, room_extinction_per_m, out);
    if (status != VS_OK) {
        vs_shot_prediction_free(out);
    }
    return status;
}
