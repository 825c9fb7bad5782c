/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See direct_steps.h. A prediction without bounced light whose notes are taken in all densities. */
#include "shot/predict/direct_steps.h"

#include <math.h>
#include <stdlib.h>

#include "veilstop/shot/want.h"

#define ALIKE 1e-9 /* [1] by which a room's share of the haze may differ from step to step */

/* Whether the second haze is the first times one number, in every room. */
static bool is_multiple(const double *first, const double *second, size_t rooms, double *times) {
    double one = 0, other = 0;
    for (size_t r = 0; r < rooms; r++) {
        one += first[r];
        other += second[r];
    }
    *times = other / one;
    bool alike = one > 0 && other > 0;
    for (size_t r = 0; r < rooms && alike; r++) {
        alike = fabs(second[r] - *times * first[r]) <= ALIKE * second[r];
    }
    return alike;
}

/* All wants but those that need no place. */
static bool *wants_of_places(const vs_scene_shot *shot) {
    bool *want = calloc(shot->want_count + 1, sizeof *want);
    for (size_t i = 0; want && i < shot->want_count; i++) {
        want[i] = vs_want_traits_of(shot->want[i].kind)->subject != VS_WANT_OF_LIGHT;
    }
    return want;
}

static vs_status predict_together(vs_predictor *p, size_t shot, double *const *room_per_m,
                                  vs_direct_steps *steps) {
    const vs_scene_shot *s = &p->scene->shot[shot];
    size_t places = vs_note_count(s->point_count, vs_want_beam_place(s, s->want_count));
    size_t lights = p->scene->light_count;
    vs_bands *none = calloc(places * lights + 1, sizeof *none);
    vs_bands *strength = calloc(steps->count * lights + 1, sizeof *strength);
    bool *want = wants_of_places(s);
    vs_indirect_notes notes = {.known = true,
                               .points = s->point_count,
                               .note = none,
                               .direct = steps->direct[0],
                               .steps = steps};
    const vs_predict_part part = {want, true, false, &notes};
    vs_shot_prediction prediction;
    vs_status status = none && strength && want ? vs_predictor_set_openings(p, s) : VS_ERR_MEMORY;
    for (size_t i = 0; i < steps->count; i++) {
        steps->medium[i] = vs_medium_make(&p->geometry->space, &p->haze, room_per_m[i]);
        steps->strength[i] = strength ? strength + i * lights : NULL;
    }
    if (status == VS_OK) {
        status = vs_predict_part_of_shot(p, shot, &part, room_per_m[0], &prediction);
    }
    if (status == VS_OK) {
        vs_shot_prediction_free(&prediction);
    }
    free(none);
    free(strength);
    free(want);
    return status;
}

vs_status vs_predict_direct(vs_predictor *p, size_t shot, double *const *room_per_m,
                            vs_bands *const *direct, size_t count) {
    vs_status status = VS_OK;
    for (size_t i = 0, next; i < count && status == VS_OK; i = next) {
        vs_direct_steps steps = {.count = 0};
        double times = 1;
        for (next = i; next < count && (next == i || is_multiple(room_per_m[i], room_per_m[next],
                                                                 p->scene->room_count, &times));
             next++) {
            steps.step[steps.count] = times;
            steps.direct[steps.count++] = direct[next];
        }
        status = predict_together(p, shot, room_per_m + i, &steps);
    }
    return status;
}
