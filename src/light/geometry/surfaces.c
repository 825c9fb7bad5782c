/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Faces of boxes, and rooms from which no light escapes. Sources: the header. */
#include "veilstop/light/surfaces.h"

#include <stdlib.h>

vs_rect vs_surfaces_face(const vs_box *room, int face) {
    vs_vec3 low = room->low_m, high = room->high_m;
    int axis = face / 2;
    if (face % 2 == 0) {
        *(axis == 0 ? &high.x : axis == 1 ? &high.y : &high.z) = vs_vec3_component(low, axis);
    } else {
        *(axis == 0 ? &low.x : axis == 1 ? &low.y : &low.z) = vs_vec3_component(high, axis);
    }
    const vs_vec3 unit[3] = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}};
    int next = (axis + 1) % 3, last = (axis + 2) % 3;
    vs_vec3 span = vs_vec3_sub(high, low);
    vs_rect rect = {vs_vec3_along(low, span, 0.5),
                    unit[next],
                    unit[last],
                    unit[axis],
                    vs_vec3_component(span, next) / 2,
                    vs_vec3_component(span, last) / 2};
    if (face % 2 == 1) { /* flipped to face into the room */
        rect.normal = vs_vec3_scale(rect.normal, -1);
        rect.u = vs_vec3_scale(rect.u, -1);
    }
    return rect;
}

vs_vec3 vs_surfaces_inward(int face) {
    static const vs_vec3 inward[VS_SURFACE_FACES] = {{1, 0, 0},  {-1, 0, 0}, {0, 1, 0},
                                                     {0, -1, 0}, {0, 0, 1},  {0, 0, -1}};
    return inward[face];
}

/* Distance of a coordinate from the face it moves towards. */
static double way_to_face(double at, double step, double low, double high) {
    return step > 0 ? (high - at) / step : step < 0 ? (low - at) / step : HUGE_VAL;
}

int vs_surfaces_way_out(const vs_box *room, vs_vec3 at, vs_vec3 w, double *length_m) {
    double x = way_to_face(at.x, w.x, room->low_m.x, room->high_m.x);
    double y = way_to_face(at.y, w.y, room->low_m.y, room->high_m.y);
    double z = way_to_face(at.z, w.z, room->low_m.z, room->high_m.z);
    int axis = x <= y && x <= z ? 0 : y <= z ? 1 : 2;
    double way = axis == 0 ? x : axis == 1 ? y : z;
    double step = axis == 0 ? w.x : axis == 1 ? w.y : w.z;
    *length_m = fmax(way, 0);
    return 2 * axis + (step > 0);
}

/* Whether every surface in a room reflects all light. */
static bool keeps_all(const vs_space *space, const vs_surfaces *surfaces, size_t r) {
    for (int face = 0; face < VS_SURFACE_FACES; face++) {
        if (surfaces->face[r * VS_SURFACE_FACES + (size_t)face] < VS_REFLECTANCE_ALL) {
            return false;
        }
    }
    for (size_t i = 0; i < space->blocker_count; i++) {
        double passed = space->blocker[i].transmittance;
        if (vs_space_room_at(space, space->blocker[i].rect.center_m) == r &&
            passed + (1 - passed) * surfaces->blocker[i] < VS_REFLECTANCE_ALL) {
            return false;
        }
    }
    return true;
}

/* Whether light is lost at an opening: to outside, or in its pane. */
static bool takes_light(const vs_opening *opening) {
    return opening->room[1] == VS_SPACE_OUTSIDE || opening->transmittance < VS_REFLECTANCE_ALL;
}

/* Loss spreads from room to room until nothing changes. */
static void spread_fading(const vs_space *space, bool *fades) {
    bool changed = true;
    while (changed) {
        changed = false;
        for (size_t i = 0; i < space->opening_count; i++) {
            const vs_opening *opening = &space->opening[i];
            size_t a = opening->room[0], b = opening->room[1];
            if (b != VS_SPACE_OUTSIDE && fades[a] != fades[b]) {
                fades[a] = fades[b] = changed = true;
            }
        }
    }
}

vs_status vs_surfaces_light_trap(const vs_space *space, const vs_surfaces *surfaces, size_t *trap) {
    bool *fades = calloc(space->room_count + 1, sizeof *fades);
    *trap = VS_SPACE_OUTSIDE;
    if (!fades) {
        return VS_ERR_MEMORY;
    }
    for (size_t r = 0; r < space->room_count; r++) {
        fades[r] = !keeps_all(space, surfaces, r);
    }
    for (size_t i = 0; i < space->opening_count; i++) {
        if (takes_light(&space->opening[i])) {
            fades[space->opening[i].room[0]] = true;
        }
    }
    spread_fading(space, fades);
    for (size_t r = space->room_count; r-- > 0;) {
        *trap = fades[r] ? *trap : r;
    }
    free(fades);
    return VS_OK;
}
