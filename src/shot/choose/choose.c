/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Choosing for a whole scene. Shots that must look like others are chosen after them. */
#include "veilstop/shot/choose.h"

#include <math.h>
#include <stdlib.h>

#include "shot/choose/choose_shot.h"
#include "shot/choose/choose_work.h"
#include "veilstop/shot/held.h"

/* The state of choosing for a whole scene. */
typedef struct {
    vs_predictor *predictor;
    vs_choose_depth depth;
    const vs_choices *before; /* NULL: none */
    vs_choices *out;
    vs_shot_prediction *other; /* one per shot: at its planned density, if others look like it */
    vs_indirect_curve *curve;  /* of shots with wants that are chosen for */
    size_t curve_count;
    bool *done, *begun;
} scene_choice;

static vs_status choose_one(scene_choice *c, size_t shot);

static vs_indirect_curve *curve_of(scene_choice *c, size_t shot) {
    for (size_t i = 0; i < c->curve_count; i++) {
        if (c->curve[i].shot == shot && c->curve[i].points + c->curve[i].lights > 0) {
            return &c->curve[i];
        }
    }
    return NULL;
}

/* Predicts a shot that another must look like, at its own density or the one chosen for it. */
static vs_status predict_other(scene_choice *c, size_t shot) {
    vs_predict_part points = {NULL, true, false, NULL};
    vs_indirect_curve *curve = curve_of(c, shot);
    vs_choice *other = &c->out->shot[shot];
    if (c->other[shot].point) {
        return VS_OK;
    }
    vs_status status = VS_OK;
    if (isnan(other->given_per_m)) {
        status = choose_one(c, shot);
    }
    double *room = calloc(c->predictor->scene->room_count + 1, sizeof *room);
    if (status == VS_OK && !room) {
        status = VS_ERR_MEMORY;
    }
    if (status == VS_OK) {
        double k = isnan(other->given_per_m) ? other->planned_per_m : other->given_per_m;
        status = vs_held_rooms(c->predictor->scene, &c->predictor->scene->shot[shot],
                               &c->predictor->haze, k, room);
        points.notes = curve ? vs_indirect_curve_exactly(curve, k) : NULL;
    }
    if (status == VS_OK) {
        status = vs_predict_part_of_shot(c->predictor, shot, &points, room, &c->other[shot]);
    }
    free(room);
    return status;
}

static double given_per_m(const vs_predictor *predictor, size_t shot) {
    const vs_scene_shot *s = &predictor->scene->shot[shot];
    size_t room = vs_choose_camera_room(predictor, s);
    return vs_density_extinction_per_m(s, room == VS_SPACE_OUTSIDE ? 0 : room, &predictor->haze);
}

/* The density of every room at the planned density. */
static vs_status plan_rooms(scene_choice *c, size_t shot) {
    const vs_scene *scene = c->predictor->scene;
    vs_choice *out = &c->out->shot[shot];
    out->planned_room_per_m = calloc(scene->room_count + 1, sizeof *out->planned_room_per_m);
    return out->planned_room_per_m ? vs_held_rooms(scene, &scene->shot[shot], &c->predictor->haze,
                                                   out->planned_per_m, out->planned_room_per_m)
                                   : VS_ERR_MEMORY;
}

static vs_status choose_one(scene_choice *c, size_t shot) {
    const vs_scene_shot *s = &c->predictor->scene->shot[shot];
    if (c->done[shot]) {
        return VS_OK;
    }
    if (c->begun[shot]) {
        c->out->culprit = shot;
        return VS_ERR_INPUT;
    }
    c->begun[shot] = true;
    vs_status status = VS_OK;
    for (size_t i = 0; i < s->want_count && status == VS_OK; i++) {
        if (s->want[i].kind == VS_WANT_LIKE && s->want[i].shot != shot) {
            status = predict_other(c, s->want[i].shot);
        }
    }
    if (status == VS_OK) {
        size_t nodes_before = c->before ? c->before->shot[shot].nodes : 0;
        status = vs_choose_shot(c->predictor, shot, c->depth, nodes_before, curve_of(c, shot),
                                c->other, &c->out->shot[shot]);
    }
    if (status == VS_OK) {
        status = plan_rooms(c, shot);
    }
    if (status == VS_ERR_INPUT && c->out->culprit == VS_NONE) {
        c->out->culprit = shot;
    }
    c->done[shot] = status == VS_OK;
    return status;
}

static vs_status allocate(scene_choice *c, size_t count) {
    const vs_choice blank = {.lowest_per_m = NAN,
                             .highest_per_m = NAN,
                             .recommended_per_m = NAN,
                             .given_per_m = NAN,
                             .planned_per_m = NAN,
                             .least_per_m = NAN,
                             .most_per_m = INFINITY,
                             .mend = {VS_NONE, NAN, VS_NONE}};
    c->out->shot = calloc(count + 1, sizeof *c->out->shot);
    c->other = calloc(count + 1, sizeof *c->other);
    c->done = calloc(2 * count + 1, sizeof *c->done);
    c->curve = calloc(count + 1, sizeof *c->curve);
    if (!c->out->shot || !c->other || !c->done || !c->curve) {
        return VS_ERR_MEMORY;
    }
    c->begun = c->done + count;
    c->out->shot_count = count;
    for (size_t i = 0; i < count; i++) {
        c->out->shot[i] = blank;
        c->out->shot[i].shot = i;
        c->out->shot[i].given_per_m = given_per_m(c->predictor, i);
    }
    return VS_OK;
}

/* Whether a shot is asked for. */
static bool is_asked(const scene_choice *c, size_t only, size_t shot) {
    bool open = isnan(c->out->shot[shot].given_per_m);
    return (only == VS_NONE || only == shot) && (open || c->depth != VS_CHOOSE_OPEN);
}

static bool is_like(const vs_scene_shot *shot, size_t other) {
    for (size_t i = 0; i < shot->want_count; i++) {
        if (shot->want[i].kind == VS_WANT_LIKE && shot->want[i].shot == other) {
            return true;
        }
    }
    return false;
}

/* Whether a density is chosen for a shot: asked for, or open and one asked for is to be like it. */
static bool is_chosen(const scene_choice *c, size_t only, size_t shot) {
    bool chosen = is_asked(c, only, shot), open = isnan(c->out->shot[shot].given_per_m);
    for (size_t i = 0; i < c->out->shot_count && open && !chosen; i++) {
        chosen = is_asked(c, only, i) && is_like(&c->predictor->scene->shot[i], shot);
    }
    return chosen;
}

/* Light as a function of density, for all shots together. */
static vs_status know_light(scene_choice *c, size_t only) {
    const vs_scene *scene = c->predictor->scene;
    for (size_t i = 0; i < scene->shot_count; i++) {
        if (scene->shot[i].want_count > 0 && is_chosen(c, only, i)) {
            vs_indirect_curve *curve = &c->curve[c->curve_count++];
            curve->shot = i;
            curve->search_end_per_m = vs_choose_search_end_per_m(c->predictor, &scene->shot[i]);
            curve->planned_per_m = c->out->shot[i].given_per_m;
        }
    }
    return vs_indirect_curves_make(c->predictor, c->curve, c->curve_count);
}

static vs_status choose(vs_predictor *predictor, size_t only, vs_choose_depth depth,
                        const vs_choices *before, vs_choices *choices) {
    const vs_choices none = {.culprit = VS_NONE};
    size_t count = predictor->scene->shot_count;
    *choices = none;
    scene_choice c = {.predictor = predictor, .depth = depth, .before = before, .out = choices};
    vs_status status = allocate(&c, count);
    if (status == VS_OK) {
        status = know_light(&c, only);
    }
    for (size_t i = 0; i < count && status == VS_OK; i++) {
        if (is_asked(&c, only, i)) {
            status = choose_one(&c, i);
        }
    }
    for (size_t i = 0; c.other && i < count; i++) {
        vs_shot_prediction_free(&c.other[i]);
    }
    for (size_t i = 0; i < c.curve_count; i++) {
        vs_indirect_curve_free(&c.curve[i]);
    }
    free(c.curve);
    free(c.other);
    free(c.done);
    if (status != VS_OK) {
        size_t culprit = choices->culprit;
        vs_choices_free(choices);
        choices->culprit = culprit;
    }
    return status;
}

vs_status vs_choose(vs_predictor *predictor, size_t only, vs_choose_depth depth,
                    vs_choices *choices) {
    return choose(predictor, only, depth, NULL, choices);
}

vs_status vs_choose_again(vs_predictor *predictor, const vs_choices *before, vs_choices *choices) {
    return choose(predictor, VS_NONE, VS_CHOOSE_DENSITIES, before, choices);
}

void vs_choices_free(vs_choices *choices) {
    const vs_choices none = {.culprit = VS_NONE};
    for (size_t i = 0; choices->shot && i < choices->shot_count; i++) {
        vs_intervals_free(&choices->shot[i].meets);
        free(choices->shot[i].want);
        free(choices->shot[i].like);
        free(choices->shot[i].planned_room_per_m);
    }
    free(choices->shot);
    *choices = none;
}
