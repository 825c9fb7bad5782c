/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See kept_places.h. */
#include "shot/sight/kept_places.h"

#include <stdlib.h>

/* What a light does in clear air, as far as a shot or a dimmer can change it. */
typedef struct {
    vs_bands strength;
    vs_vec3 at_m, axis;
} lamp_state;

static bool same_vec3(vs_vec3 a, vs_vec3 b) {
    return a.x == b.x && a.y == b.y && a.z == b.z;
}

static bool same_state(const lamp_state *a, const lamp_state *b) {
    const double *one = a->strength.v, *other = b->strength.v;
    return one[0] == other[0] && one[1] == other[1] && one[2] == other[2] &&
           same_vec3(a->at_m, b->at_m) && same_vec3(a->axis, b->axis);
}

typedef struct {
    lamp_state lamp;
    bool known; /* whether the place is */
    vs_vec3 near_m;
} kept_place;

struct vs_kept_places {
    kept_place **of_shot; /* one per shot of the scene: one per light; NULL: nothing is kept */
};

/* The shot's index; VS_NONE for one that is not the scene's. */
static size_t index_of(const vs_scene *scene, const vs_scene_shot *shot) {
    for (size_t i = 0; i < scene->shot_count; i++) {
        if (&scene->shot[i] == shot) {
            return i;
        }
    }
    return VS_NONE;
}

static lamp_state state_of(const vs_emitter *e) {
    lamp_state state = {e->strength, e->at_m, e->axis};
    return state;
}

static bool is_as_kept(const vs_predictor *p, const kept_place *kept) {
    for (size_t e = 0; e < p->scene->light_count; e++) {
        lamp_state now = state_of(&p->clear_light[e]);
        if (!same_state(&now, &kept[e].lamp)) {
            return false;
        }
    }
    return true;
}

bool vs_kept_place_of(const vs_predictor *p, const vs_scene_shot *shot, size_t light,
                      vs_vec3 *near_m) {
    size_t index = p->places ? index_of(p->scene, shot) : VS_NONE;
    const kept_place *kept = index == VS_NONE ? NULL : p->places->of_shot[index];
    if (!kept || !is_as_kept(p, kept) || !kept[light].known) {
        return false;
    }
    *near_m = kept[light].near_m;
    return true;
}

static vs_status places_make(vs_predictor *p) {
    struct vs_kept_places *made = calloc(1, sizeof *made);
    kept_place **of_shot = calloc(p->scene->shot_count + 1, sizeof *of_shot);
    if (!made || !of_shot) {
        free(made);
        free(of_shot);
        return VS_ERR_MEMORY;
    }
    made->of_shot = of_shot;
    p->places = made;
    return VS_OK;
}

/* Nothing known yet, with lights as they are; NULL: out of memory. */
static kept_place *begin(const vs_predictor *p) {
    kept_place *kept = calloc(p->scene->light_count + 1, sizeof *kept);
    for (size_t e = 0; kept && e < p->scene->light_count; e++) {
        kept[e].lamp = state_of(&p->clear_light[e]);
    }
    return kept;
}

vs_status vs_kept_place_keep(vs_predictor *p, const vs_scene_shot *shot, size_t light,
                             vs_vec3 near_m) {
    size_t index = index_of(p->scene, shot);
    if (index == VS_NONE) {
        return VS_OK;
    }
    vs_status status = p->places ? VS_OK : places_make(p);
    if (status != VS_OK) {
        return status;
    }
    kept_place *kept = p->places->of_shot[index];
    if (!kept || !is_as_kept(p, kept)) {
        free(kept);
        p->places->of_shot[index] = kept = begin(p);
    }
    if (!kept) {
        return VS_ERR_MEMORY;
    }
    kept[light].near_m = near_m;
    kept[light].known = true;
    return VS_OK;
}

void vs_kept_places_free(vs_predictor *p) {
    for (size_t i = 0; p->places && i < p->scene->shot_count; i++) {
        free(p->places->of_shot[i]);
    }
    if (p->places) {
        free(p->places->of_shot);
    }
    free(p->places);
    p->places = NULL;
}
