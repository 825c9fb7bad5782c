/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The sweep works on a copy of the scene in which one lamp, and the places in its beam, are
 * moved. */
#include "veilstop/shot/turn.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/shot/held.h"
#include "veilstop/shot/want.h"

#define NEAR_CAMERA_M 0.1 /* [m] a beam is not viewed from closer: our choice */

/* The scene copy. Owns its lights, shots and wants. */
typedef struct {
    vs_scene scene;
    vs_light *light;
    vs_scene_shot *shot;
    vs_scene_want *want; /* of the shot, plus one for the beam if none names it */
    const vs_scene_shot *original;
    size_t beam_want; /* the want whose beam is reported */
    double *room_extinction_per_m;
    vs_shot_prediction *other; /* one per shot of the scene: those it must look like */
    vs_predictor predictor;
} turn_work;

bool vs_turn_can(const vs_light *light) {
    vs_vec3 arm = vs_vec3_sub(light->at_m, light->aim_m);
    return vs_light_kind_is(light->kind, VS_LIGHT_CAN_TURN) &&
           hypot(arm.x, arm.y) > VS_TURN_RADIUS_MIN_M;
}

static vs_vec3 turned(vs_vec3 p_m, vs_vec3 about_m, double angle_rad) {
    double c = cos(angle_rad), s = sin(angle_rad);
    double x = p_m.x - about_m.x, y = p_m.y - about_m.y;
    vs_vec3 to_m = {about_m.x + c * x - s * y, about_m.y + s * x + c * y, p_m.z};
    return to_m;
}

/* The first want for the light's beam; the shot's count if there is none. */
static size_t find_beam_want(const vs_scene_shot *shot, size_t light) {
    size_t i = 0;
    while (i < shot->want_count &&
           !(shot->want[i].kind == VS_WANT_BEAM && shot->want[i].light == light)) {
        i++;
    }
    return i;
}

static vs_status copy_scene(turn_work *w, const vs_scene *scene, size_t shot, size_t light) {
    w->original = &scene->shot[shot];
    size_t wants = w->original->want_count;
    w->scene = *scene;
    w->light = malloc(scene->light_count * sizeof *w->light);
    w->shot = malloc(scene->shot_count * sizeof *w->shot);
    w->want = calloc(wants + 1, sizeof *w->want);
    w->room_extinction_per_m = calloc(scene->room_count + 1, sizeof(double));
    w->other = calloc(scene->shot_count + 1, sizeof *w->other);
    if (!w->light || !w->shot || !w->want || !w->room_extinction_per_m || !w->other) {
        return VS_ERR_MEMORY;
    }
    memcpy(w->light, scene->light, scene->light_count * sizeof *w->light);
    memcpy(w->shot, scene->shot, scene->shot_count * sizeof *w->shot);
    for (size_t i = 0; i < wants; i++) {
        w->want[i] = w->original->want[i];
    }
    w->beam_want = find_beam_want(w->original, light);
    if (w->beam_want == wants) {
        vs_scene_want beam = {.kind = VS_WANT_BEAM, .light = light, .limit = 1};
        w->want[wants] = beam;
        w->shot[shot].want_count++;
    }
    w->shot[shot].want = w->want;
    w->scene.light = w->light;
    w->scene.shot = w->shot;
    return VS_OK;
}

/* Predicts the shots it must look like, with all lamps where they are. */
static vs_status predict_others(turn_work *w, size_t shot, const double *extinction_per_m) {
    static const vs_predict_part points = {NULL, true, false, NULL};
    vs_status status = VS_OK;
    for (size_t i = 0; i < w->original->want_count && status == VS_OK; i++) {
        size_t other = w->original->want[i].shot;
        if (w->original->want[i].kind != VS_WANT_LIKE || other == shot || w->other[other].point) {
            continue;
        }
        status = vs_held_rooms(&w->scene, &w->scene.shot[other], &w->predictor.haze,
                               extinction_per_m[other], w->room_extinction_per_m);
        if (status == VS_OK) {
            status = vs_predict_part_of_shot(&w->predictor, other, &points,
                                             w->room_extinction_per_m, &w->other[other]);
        }
    }
    return status;
}

/* The point where the lamp's veil lifts the black most, and its cost. */
static void set_cost(const turn_work *w, const vs_camera *camera, const vs_shot_prediction *p,
                     size_t light, vs_turn_place *place) {
    double most = -1;
    place->point = VS_NONE;
    place->veil_nits = place->lift_percent = place->cost_stops = 0;
    for (size_t i = 0; i < w->original->point_count; i++) {
        double veil = vs_bands_luminance(p->point[i].veil_nits);
        double own = vs_bands_luminance(p->point[i].veil_by_light[light]);
        double hazed = vs_bands_luminance(p->point[i].hazed_nits);
        double lift = vs_camera_signal_percent(camera, veil) -
                      vs_camera_signal_percent(camera, fmax(veil - own, 0));
        if (lift > most) {
            most = lift;
            place->point = i;
            place->veil_nits = own;
            place->lift_percent = lift;
            place->cost_stops = vs_camera_stops_between(camera, hazed, fmax(hazed - own, 0));
        }
    }
}

static bool meets_wants(const turn_work *w, size_t shot, const vs_shot_prediction *p) {
    const vs_camera *camera = &w->scene.camera[w->original->camera];
    for (size_t i = 0; i < w->original->want_count; i++) {
        const vs_scene_want *want = &w->original->want[i];
        const vs_shot_prediction *like = want->kind != VS_WANT_LIKE ? NULL
                                         : want->shot == shot       ? p
                                                                    : &w->other[want->shot];
        if (!vs_want_evaluate(p, i, camera, like).met) {
            return false;
        }
    }
    return true;
}

/* The reported beam among those of the shot. */
static const vs_beam_prediction *beam_of(const turn_work *w, const vs_shot_prediction *p) {
    size_t before = 0;
    for (size_t i = 0; i < w->beam_want; i++) {
        before += w->want[i].kind == VS_WANT_BEAM;
    }
    return &p->beam[before];
}

/* Moves the lamp and the places in its beam; false if the camera would be inside the beam. */
static bool move_lamp(turn_work *w, const vs_light *from, size_t light, const vs_camera *camera,
                      double angle_rad) {
    bool clear = true;
    w->light[light].at_m = turned(from->at_m, from->aim_m, angle_rad);
    for (size_t i = 0; i <= w->original->want_count; i++) {
        if (w->want[i].kind != VS_WANT_BEAM || w->want[i].light != light) {
            continue;
        }
        vs_vec3 near_m = i < w->original->want_count
                             ? w->original->want[i].near_m
                             : vs_vec3_scale(vs_vec3_add(from->at_m, from->aim_m), 0.5);
        w->want[i].near_m = turned(near_m, from->aim_m, angle_rad);
        vs_vec3 way = vs_vec3_sub(w->want[i].near_m, camera->at_m);
        clear = clear && !(vs_vec3_length(way) <= NEAR_CAMERA_M); /* NaN: found in frame */
    }
    return clear;
}

/* Angle in plan, at the aim, between the directions to two places [rad]; 0 to pi. */
static double plan_angle_rad(vs_vec3 aim_m, vs_vec3 a_m, vs_vec3 b_m) {
    double angle =
        atan2(a_m.y - aim_m.y, a_m.x - aim_m.x) - atan2(b_m.y - aim_m.y, b_m.x - aim_m.x);
    return fabs(remainder(angle, 2 * VS_PI));
}

static vs_status measure_place(turn_work *w, size_t shot, size_t light, vs_turn_place *place) {
    static const vs_predict_part part = {NULL, true, false, NULL};
    const vs_camera *camera = &w->scene.camera[w->original->camera];
    vs_shot_prediction prediction;
    vs_status status =
        vs_predict_part_of_shot(&w->predictor, shot, &part, w->room_extinction_per_m, &prediction);
    if (status != VS_OK) {
        return status;
    }
    const vs_beam_prediction *beam = beam_of(w, &prediction);
    place->over_stops = beam->over_stops;
    place->reads = beam->reads;
    set_cost(w, camera, &prediction, light, place);
    place->net_stops = place->over_stops - place->cost_stops;
    place->meets_wants = meets_wants(w, shot, &prediction);
    vs_shot_prediction_free(&prediction);
    return VS_OK;
}

/* Ranks the places that meet the wants; only those in the camera's room if there are any. */
static void find_best(vs_turn *turn, size_t camera_room) {
    bool here = false;
    turn->best = turn->worst = VS_NONE;
    for (size_t i = 0; i < VS_TURN_PLACES; i++) {
        const vs_turn_place *place = &turn->place[i];
        here = here || (place->stands && place->meets_wants && place->room == camera_room);
    }
    for (size_t i = 0; i < VS_TURN_PLACES; i++) {
        const vs_turn_place *place = &turn->place[i];
        if (!place->stands || !place->meets_wants || (here && place->room != camera_room)) {
            continue;
        }
        if (turn->best == VS_NONE || place->net_stops > turn->place[turn->best].net_stops) {
            turn->best = i;
        }
        if (place->reads != VS_READS_STRONG &&
            (turn->worst == VS_NONE || place->net_stops < turn->place[turn->worst].net_stops)) {
            turn->worst = i;
        }
    }
    turn->worst = turn->worst == turn->best ? VS_NONE : turn->worst;
}

static vs_status sweep(turn_work *w, const vs_light *from, vs_turn *turn) {
    const vs_camera *camera = &w->scene.camera[w->original->camera];
    const vs_space *space = &w->predictor.geometry->space;
    bool inside = vs_space_room_at(space, from->at_m) != VS_SPACE_OUTSIDE;
    vs_status status = VS_OK;
    for (size_t i = 0; i < VS_TURN_PLACES && status == VS_OK; i++) {
        vs_turn_place *place = &turn->place[i];
        place->turned_rad = 2 * VS_PI * (double)i / VS_TURN_PLACES;
        bool clear = move_lamp(w, from, turn->light, camera, place->turned_rad);
        place->at_m = w->light[turn->light].at_m;
        place->room = vs_space_room_at(space, place->at_m);
        place->stands = clear && (!inside || place->room != VS_SPACE_OUTSIDE);
        place->from_camera_rad = plan_angle_rad(from->aim_m, camera->at_m, place->at_m);
        if (place->stands) {
            status = measure_place(w, turn->shot, turn->light, place);
        }
    }
    return status;
}

vs_status vs_turn_sweep(const vs_predictor *predictor, size_t shot, size_t light,
                        const double *extinction_per_m, vs_turn *turn) {
    const vs_scene *scene = predictor->scene;
    const vs_turn blank = {.shot = shot, .light = light, .best = VS_NONE, .worst = VS_NONE};
    turn_work w = {.original = &scene->shot[shot]};
    *turn = blank;
    if (!vs_turn_can(&scene->light[light]) || !vs_shot_uses_light(&scene->shot[shot], light)) {
        return VS_ERR_INPUT;
    }
    vs_status status = copy_scene(&w, scene, shot, light);
    if (status == VS_OK) {
        status = vs_predictor_init(&w.predictor, &w.scene);
    }
    if (status == VS_OK) {
        status = predict_others(&w, shot, extinction_per_m);
    }
    if (status == VS_OK) {
        status = vs_held_rooms(scene, &scene->shot[shot], &predictor->haze, extinction_per_m[shot],
                               w.room_extinction_per_m);
    }
    if (status == VS_OK) {
        status = sweep(&w, &scene->light[light], turn);
    }
    if (status == VS_OK) {
        vs_vec3 camera_m = scene->camera[scene->shot[shot].camera].at_m;
        find_best(turn, vs_space_room_at(&predictor->geometry->space, camera_m));
    }
    for (size_t i = 0; w.other && i < scene->shot_count; i++) {
        vs_shot_prediction_free(&w.other[i]);
    }
    vs_predictor_free(&w.predictor);
    free(w.light);
    free(w.shot);
    free(w.want);
    free(w.room_extinction_per_m);
    free(w.other);
    return status;
}
