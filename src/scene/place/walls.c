/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How rooms and openings fit together: plain interval arithmetic on boxes along the axes. Lengths
 * in feet or as texts are rounded, so anything closer than VS_SCENE_TOUCH_M counts as touching. */
#include "scene/place/walls.h"

#include "scene/place/lengths.h"
#include "scene/reader.h"

typedef struct {
    double low[3], high[3]; /* [m] */
} box;

static box box_between(vs_vec3 a, vs_vec3 b) {
    box result;
    for (int axis = 0; axis < 3; axis++) {
        double p = vs_vec3_component(a, axis), q = vs_vec3_component(b, axis);
        result.low[axis] = p < q ? p : q;
        result.high[axis] = p < q ? q : p;
    }
    return result;
}

static box room_box(const vs_scene_room *room) {
    return box_between(room->corner_m, vs_vec3_add(room->corner_m, room->size_m));
}

static bool meet(double a, double b) {
    return fabs(a - b) <= VS_SCENE_TOUCH_M;
}

/* Whether two boxes overlap, beyond touching, along an axis. False on NaN. */
static bool overlap_along(const box *a, const box *b, int axis) {
    double low = fmax(a->low[axis], b->low[axis]), high = fmin(a->high[axis], b->high[axis]);
    return high - low > VS_SCENE_TOUCH_M;
}

static bool share_area(const box *a, const box *b, int flat_axis) {
    return overlap_along(a, b, (flat_axis + 1) % 3) && overlap_along(a, b, (flat_axis + 2) % 3);
}

bool vs_scene_rooms_overlap(const vs_scene_room *a, const vs_scene_room *b) {
    box p = room_box(a), q = room_box(b);
    if (!vs_scene_is_position(a->size_m) || !vs_scene_is_position(b->size_m)) {
        return false;
    }
    return overlap_along(&p, &q, 0) && overlap_along(&p, &q, 1) && overlap_along(&p, &q, 2);
}

/* The one axis along which a rectangle has no extent; 3 if there is not exactly one. */
static int flat_axis(const box *rectangle) {
    int axis = 3, flats = 0;
    for (int i = 0; i < 3; i++) {
        if (meet(rectangle->low[i], rectangle->high[i])) {
            axis = i;
            flats++;
        }
    }
    return flats == 1 ? axis : 3;
}

static bool within(const box *rectangle, const box *wall, int axis) {
    return rectangle->low[axis] >= wall->low[axis] - VS_SCENE_TOUCH_M &&
           rectangle->high[axis] <= wall->high[axis] + VS_SCENE_TOUCH_M;
}

/* Moves a rectangle that lies on a wall up to rounding exactly onto it. */
static void snap(box *rectangle, const box *wall, int axis, double plane) {
    for (int i = 0; i < 3; i++) {
        if (i == axis) {
            rectangle->low[i] = rectangle->high[i] = plane;
        } else {
            rectangle->low[i] = fmax(rectangle->low[i], wall->low[i]);
            rectangle->high[i] = fmin(rectangle->high[i], wall->high[i]);
        }
    }
}

/* A room other than `own` with a wall against this rectangle; VS_NONE if there is none. upper: the
 * wall is its own room's upper one, so the neighbour's lower one meets it. */
static size_t room_behind(const vs_scene_room *room, size_t room_count, size_t own,
                          const box *rectangle, int axis, bool upper) {
    for (size_t i = 0; i < room_count; i++) {
        box other = room_box(&room[i]);
        double plane = upper ? other.low[axis] : other.high[axis];
        if (i != own && meet(plane, rectangle->low[axis]) && share_area(rectangle, &other, axis)) {
            return i;
        }
    }
    return VS_NONE;
}

vs_opening_fit vs_scene_fit_opening(const vs_scene_room *room, size_t room_count,
                                    vs_scene_opening *opening, int *axis, size_t *other) {
    box rectangle = box_between(opening->corner_m[0], opening->corner_m[1]);
    box first = room_box(&room[opening->room[0]]);
    *other = VS_NONE;
    *axis = flat_axis(&rectangle);
    if (*axis == 3) {
        return VS_FIT_NOT_FLAT;
    }
    int k = *axis, u = (k + 1) % 3, v = (k + 2) % 3;
    bool upper = meet(rectangle.low[k], first.high[k]);
    if (!upper && !meet(rectangle.low[k], first.low[k])) {
        return VS_FIT_NO_WALL;
    }
    bool inside = within(&rectangle, &first, u) && within(&rectangle, &first, v);
    if (opening->room[1] == VS_OUTSIDE) {
        *other = room_behind(room, room_count, opening->room[0], &rectangle, k, upper);
        if (inside && *other != VS_NONE) {
            return VS_FIT_INNER;
        }
    } else {
        box second = room_box(&room[opening->room[1]]);
        if (!meet(rectangle.low[k], upper ? second.low[k] : second.high[k])) {
            return VS_FIT_NOT_SHARED;
        }
        inside = inside && within(&rectangle, &second, u) && within(&rectangle, &second, v);
        snap(&rectangle, &second, k, rectangle.low[k]);
    }
    if (!inside) {
        return VS_FIT_PAST_EDGE;
    }
    snap(&rectangle, &first, k, upper ? first.high[k] : first.low[k]);
    opening->corner_m[0] = (vs_vec3){rectangle.low[0], rectangle.low[1], rectangle.low[2]};
    opening->corner_m[1] = (vs_vec3){rectangle.high[0], rectangle.high[1], rectangle.high[2]};
    return VS_FIT_RIGHT;
}

bool vs_scene_openings_overlap(const vs_scene_opening *a, const vs_scene_opening *b) {
    box p = box_between(a->corner_m[0], a->corner_m[1]);
    box q = box_between(b->corner_m[0], b->corner_m[1]);
    int axis = flat_axis(&p);
    return axis != 3 && axis == flat_axis(&q) && meet(p.low[axis], q.low[axis]) &&
           share_area(&p, &q, axis);
}
