/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See choose_work.h. */
#include "shot/choose/choose_work.h"

#include <stdlib.h>
#include <string.h>

#include "veilstop/shot/held.h"

/* notes  of the indirect light there; NULL: it is worked out */
static vs_status predict(const vs_shot_choice *choice, double extinction_per_m, const bool *asked,
                         vs_indirect_notes *notes, vs_shot_prediction *out) {
    const vs_predict_part part = {asked, false, false, notes};
    vs_status status =
        vs_held_rooms(choice->predictor->scene, choice->shot, &choice->predictor->haze,
                      extinction_per_m, choice->room_extinction_per_m);
    return status != VS_OK ? status
                           : vs_predict_part_of_shot(choice->predictor, choice->index, &part,
                                                     choice->room_extinction_per_m, out);
}

vs_status vs_shot_choice_predict(const vs_shot_choice *choice, double extinction_per_m,
                                 const bool *asked, vs_shot_prediction *out) {
    const vs_indirect_notes *near =
        choice->light ? vs_indirect_curve_at(choice->light, extinction_per_m) : NULL;
    vs_indirect_notes notes = {.points = choice->shot->point_count};
    if (near) {
        notes = *near;
    }
    if (choice->light &&
        vs_direct_curve_at(&choice->light->direct, extinction_per_m, choice->direct)) {
        notes.direct = choice->direct;
        notes.direct_known = true;
    }
    return predict(choice, extinction_per_m, asked, near || notes.direct ? &notes : NULL, out);
}

/* Room for what each lamp gives, and what is known of it. */
static vs_status begin_notes(const vs_shot_choice *choice, double extinction_per_m) {
    vs_indirect_notes *notes = choice->planned;
    const vs_indirect_notes *known =
        choice->light ? vs_indirect_curve_exactly(choice->light, extinction_per_m) : NULL;
    size_t beams = vs_want_beam_place(choice->shot, choice->shot->want_count);
    size_t count =
        vs_note_count(choice->shot->point_count, beams) * choice->predictor->scene->light_count;
    notes->points = choice->shot->point_count;
    notes->note = calloc(count + 1, sizeof *notes->note);
    notes->direct = calloc(count + 1, sizeof *notes->direct);
    if (!notes->note || !notes->direct) {
        return VS_ERR_MEMORY;
    }
    if (known) {
        memcpy(notes->note, known->note, count * sizeof *notes->note);
    }
    notes->known = known;
    return VS_OK;
}

vs_status vs_shot_choice_predict_planned(vs_shot_choice *choice, double extinction_per_m,
                                         vs_shot_prediction *out) {
    vs_status status = begin_notes(choice, extinction_per_m);
    if (status == VS_OK) {
        status = predict(choice, extinction_per_m, NULL, choice->planned, out);
    }
    if (status == VS_OK) {
        choice->planned->known = choice->planned->direct_known = true;
        choice->planned_per_m = extinction_per_m;
    }
    return status;
}

vs_want_result vs_shot_choice_hold(const vs_shot_choice *choice, size_t want,
                                   const vs_shot_prediction *prediction) {
    const vs_scene_want *w = &choice->shot->want[want];
    const vs_shot_prediction *like = w->kind != VS_WANT_LIKE    ? NULL
                                     : w->shot == choice->index ? prediction
                                                                : &choice->other[w->shot];
    return vs_want_evaluate(prediction, want, choice->camera, like);
}

bool vs_shot_choice_is_like(const vs_shot_choice *choice, size_t want) {
    const vs_scene_want *w = &choice->shot->want[want];
    return w->kind == VS_WANT_LIKE && w->shot != choice->index;
}

vs_status vs_shot_choice_without(const vs_shot_choice *choice, double extinction_per_m, size_t lamp,
                                 const bool *asked, vs_shot_prediction *out) {
    double *dim = &choice->predictor->dim[lamp], before = *dim;
    *dim = 0;
    vs_status status = extinction_per_m == choice->planned_per_m
                           ? predict(choice, extinction_per_m, asked, choice->planned, out)
                           : vs_shot_choice_predict(choice, extinction_per_m, asked, out);
    *dim = before;
    return status;
}
