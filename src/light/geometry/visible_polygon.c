/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Convex parts, clipped by half-planes. Source: Sutherland & Hodgman 1974, Commun. ACM 17, 32
 * (clipping). A crossing is linear in q because a plane divides the line from p to q in the ratio
 * of their distances from it. */
#include "light/geometry/visible_polygon.h"

#include <math.h>

#define GATE_SIDES 5     /* beyond the plane, and within four sides */
#define AREA_MIN   1e-12 /* [1] of the whole: parts smaller than this are dropped */

/* at_u u + at_v v + base >= 0 */
typedef struct {
    double at_u, at_v, base;
} half_plane;

/* The state of a search. */
typedef struct {
    const vs_space *space;
    const vs_rect *rect;
    bool is_line;
    size_t rect_room;
    vs_vec3 p;
    size_t p_room;
    vs_visible_polygons *visible;
    size_t path[VS_VISIBLE_OPENINGS_MAX]; /* rooms on the way */
    int path_count;
    bool fits;
} search;

/* (q - from) . axis as a function of q's place on the emitter. */
static half_plane along_axis(const search *s, vs_vec3 from, vs_vec3 axis) {
    half_plane h = {vs_vec3_dot(s->rect->u, axis), s->is_line ? 0 : vs_vec3_dot(s->rect->v, axis),
                    vs_vec3_dot(vs_vec3_sub(s->rect->center_m, from), axis)};
    return h;
}

static half_plane combined(double a, half_plane x, double b, half_plane y, double base) {
    half_plane h = {a * x.at_u + b * y.at_u, a * x.at_v + b * y.at_v,
                    a * x.base + b * y.base + base};
    return h;
}

/* Where q must be for the line from p to q to cross a rectangle. False: it never does. With x the
 * point of crossing, (x - c) . u (d_p - d_q) = d_p (q - c) . u - d_q (p - c) . u, where d is the
 * distance from its plane; that is linear in q. */
static bool gate_of(const search *s, const vs_rect *r, half_plane gate[GATE_SIDES]) {
    double d_p = vs_vec3_dot(vs_vec3_sub(s->p, r->center_m), r->normal);
    if (fabs(d_p) <= VS_SPACE_SKIN_M) {
        return false;
    }
    double sign = d_p > 0 ? 1 : -1;
    half_plane d_q = along_axis(s, r->center_m, r->normal);
    const vs_vec3 axis[2] = {r->u, r->v};
    const double half_m[2] = {r->half_u_m, r->half_v_m};
    gate[0] = combined(-sign, d_q, 0, d_q, -VS_SPACE_SKIN_M);
    for (int i = 0; i < 2; i++) {
        double at_p = vs_vec3_dot(vs_vec3_sub(s->p, r->center_m), axis[i]);
        half_plane at_q = along_axis(s, r->center_m, axis[i]);
        /* half (d_p - d_q) -+ (d_p at_q - d_q at_p) >= 0, both times the sign of d_p */
        for (int k = 0; k < 2; k++) {
            double side = k == 0 ? 1 : -1;
            gate[1 + 2 * i + k] = combined(sign * (side * at_p - half_m[i]), d_q,
                                           -sign * side * d_p, at_q, sign * half_m[i] * d_p);
        }
    }
    return true;
}

static double value_at(half_plane h, double u, double v) {
    return h.at_u * u + h.at_v * v + h.base;
}

static half_plane opposite(half_plane h) {
    half_plane other = {-h.at_u, -h.at_v, -h.base};
    return other;
}

/* Copies the properties of the line to a part. */
static void copy_way(vs_visible_polygon *to, const vs_visible_polygon *from) {
    to->transmittance = from->transmittance;
    to->opening_count = from->opening_count;
    for (int i = 0; i < from->opening_count; i++) {
        to->opening[i] = from->opening[i];
    }
}

/* Copies only the corners in use. */
static void copy_polygon(vs_visible_polygon *to, const vs_visible_polygon *from) {
    for (int i = 0; i < from->count; i++) {
        to->u_m[i] = from->u_m[i];
        to->v_m[i] = from->v_m[i];
    }
    to->count = from->count;
    copy_way(to, from);
}

/* Keeps the side of a part on which h >= 0. False if nothing is left, or there are too many
 * corners. */
static bool cut_polygon(const vs_visible_polygon *polygon, half_plane h, vs_visible_polygon *kept) {
    kept->count = 0;
    copy_way(kept, polygon);
    for (int i = 0; i < polygon->count; i++) {
        int j = (i + 1) % polygon->count;
        double a = value_at(h, polygon->u_m[i], polygon->v_m[i]);
        double b = value_at(h, polygon->u_m[j], polygon->v_m[j]);
        if (a >= 0 && kept->count < VS_VISIBLE_CORNERS_MAX) {
            kept->u_m[kept->count] = polygon->u_m[i];
            kept->v_m[kept->count++] = polygon->v_m[i];
        }
        if ((a >= 0) != (b >= 0) && kept->count < VS_VISIBLE_CORNERS_MAX) {
            double t = a / (a - b);
            kept->u_m[kept->count] = polygon->u_m[i] + t * (polygon->u_m[j] - polygon->u_m[i]);
            kept->v_m[kept->count++] = polygon->v_m[i] + t * (polygon->v_m[j] - polygon->v_m[i]);
        }
    }
    return kept->count >= 3;
}

/* The same for a line: two corners, its ends. */
static bool cut_line(const vs_visible_polygon *polygon, half_plane h, vs_visible_polygon *kept) {
    double a = value_at(h, polygon->u_m[0], 0), b = value_at(h, polygon->u_m[1], 0);
    copy_polygon(kept, polygon);
    if (a < 0 && b < 0) {
        return false;
    }
    if (a < 0 || b < 0) {
        double between_m = polygon->u_m[0] + a / (a - b) * (polygon->u_m[1] - polygon->u_m[0]);
        kept->u_m[a < 0 ? 0 : 1] = between_m;
    }
    return kept->u_m[1] > kept->u_m[0];
}

static bool cut(const search *s, const vs_visible_polygon *polygon, half_plane h,
                vs_visible_polygon *kept) {
    return s->is_line ? cut_line(polygon, h, kept) : cut_polygon(polygon, h, kept);
}

/* Size of a part: area or length. */
static double size_of(const search *s, const vs_visible_polygon *polygon) {
    if (s->is_line) {
        return polygon->u_m[1] - polygon->u_m[0];
    }
    double twice = 0;
    for (int i = 0; i < polygon->count; i++) {
        int j = (i + 1) % polygon->count;
        twice += polygon->u_m[i] * polygon->v_m[j] - polygon->u_m[j] * polygon->v_m[i];
    }
    return fabs(twice) / 2;
}

static double whole_size(const search *s) {
    return s->is_line ? 2 * s->rect->half_u_m : 4 * s->rect->half_u_m * s->rect->half_v_m;
}

static void add_polygon(search *s, const vs_visible_polygon *polygon) {
    if (size_of(s, polygon) < AREA_MIN * whole_size(s)) {
        return;
    }
    if (s->visible->count == VS_VISIBLE_POLYGONS_MAX) {
        s->fits = false;
        return;
    }
    copy_polygon(&s->visible->polygon[s->visible->count++], polygon);
}

/* Whether all of a part is outside one side of a gate: most blockers miss most parts. */
static bool misses(const vs_visible_polygon *polygon, const half_plane gate[GATE_SIDES]) {
    for (int k = 0; k < GATE_SIDES; k++) {
        int off = 0;
        for (int i = 0; i < polygon->count; i++) {
            off += value_at(gate[k], polygon->u_m[i], polygon->v_m[i]) <= 0;
        }
        if (off == polygon->count) {
            return true;
        }
    }
    return false;
}

/* Removes the shadow of one blocker from the parts from `first` on; a net's shadow stays, dimmed.
 */
static void shade(search *s, int first, const vs_blocker *blocker) {
    half_plane gate[GATE_SIDES];
    if (!gate_of(s, &blocker->rect, gate)) {
        return;
    }
    int count = s->visible->count;
    for (int i = first; i < count; i++) {
        vs_visible_polygon rest, segment, inside;
        bool shaded = true;
        if (misses(&s->visible->polygon[i], gate)) {
            continue;
        }
        copy_polygon(&rest, &s->visible->polygon[i]);
        int before = s->visible->count;
        for (int k = 0; k < GATE_SIDES && shaded; k++) {
            if (cut(s, &rest, opposite(gate[k]), &segment)) {
                add_polygon(s, &segment);
            }
            shaded = cut(s, &rest, gate[k], &inside);
            copy_polygon(&rest, &inside);
        }
        if (!shaded) { /* unshaded: discard the pieces */
            s->visible->count = before;
            continue;
        }
        rest.transmittance *= blocker->transmittance;
        copy_polygon(&s->visible->polygon[i], &rest);
        if (rest.transmittance == 0) {
            s->visible->polygon[i].count = 0;
        }
    }
}

/* Drops the parts that a blocker hides completely. */
static void close_up(vs_visible_polygons *visible, int first) {
    int kept = first;
    for (int i = first; i < visible->count; i++) {
        if (visible->polygon[i].count > 0) {
            if (kept != i) {
                copy_polygon(&visible->polygon[kept], &visible->polygon[i]);
            }
            kept++;
        }
    }
    visible->count = kept;
}

static void add_visible(search *s, const vs_visible_polygon *polygon) {
    int first = s->visible->count;
    add_polygon(s, polygon);
    for (size_t i = 0; i < s->space->blocker_count && s->fits; i++) {
        shade(s, first, &s->space->blocker[i]);
        close_up(s->visible, first);
    }
}

static bool on_path(const search *s, size_t room) {
    for (int i = 0; i < s->path_count; i++) {
        if (s->path[i] == room) {
            return true;
        }
    }
    return false;
}

/* The piece of a part seen through an opening, dimmed by its pane. */
static bool through_opening(const search *s, const vs_opening *opening,
                            const vs_visible_polygon *polygon, vs_visible_polygon *through) {
    half_plane gate[GATE_SIDES];
    copy_polygon(through, polygon);
    if (vs_rect_holds(&opening->rect, s->p)) { /* p is in it: no obstruction */
        return true;
    }
    if (!gate_of(s, &opening->rect, gate) || misses(polygon, gate)) {
        return false;
    }
    for (int k = 0; k < GATE_SIDES; k++) {
        vs_visible_polygon inside;
        if (!cut(s, through, gate[k], &inside)) {
            return false;
        }
        copy_polygon(through, &inside);
    }
    through->transmittance *= opening->transmittance;
    return through->transmittance > 0;
}

/* The piece of a part within a room; outside: all of it. */
static bool in_room(const search *s, size_t room, const vs_visible_polygon *polygon,
                    vs_visible_polygon *inside) {
    static const vs_vec3 along[3] = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}};
    copy_polygon(inside, polygon);
    for (int axis = 0; axis < 3 && room != VS_SPACE_OUTSIDE; axis++) {
        const vs_box *box = &s->space->room[room];
        const half_plane side[2] = {along_axis(s, box->low_m, along[axis]),
                                    opposite(along_axis(s, box->high_m, along[axis]))};
        for (int k = 0; k < 2; k++) {
            vs_visible_polygon kept;
            if (!cut(s, inside, side[k], &kept)) {
                return false;
            }
            copy_polygon(inside, &kept);
        }
    }
    return true;
}

/* Whether a room other than the two may be between p and the emitter, on a path outside. */
static bool building_between(const search *s) {
    vs_vec3 corner[5];
    vs_rect_corners(s->rect, corner);
    corner[4] = s->p;
    for (size_t r = 0; r < s->space->room_count; r++) {
        const vs_box *box = &s->space->room[r];
        bool apart = r == s->p_room || r == s->rect_room;
        for (int axis = 0; axis < 3 && !apart; axis++) {
            double low = INFINITY, high = -INFINITY;
            for (int i = 0; i < 5; i++) {
                low = fmin(low, vs_vec3_component(corner[i], axis));
                high = fmax(high, vs_vec3_component(corner[i], axis));
            }
            apart = high <= vs_vec3_component(box->low_m, axis) + VS_SPACE_SKIN_M ||
                    low >= vs_vec3_component(box->high_m, axis) - VS_SPACE_SKIN_M;
        }
        if (!apart) {
            return true;
        }
    }
    return false;
}

/* From a room through its openings to the emitter's room; to every room, for an emitter that
 * extends through a wall. */
static void look_through(search *s, size_t room, const vs_visible_polygon *polygon) {
    vs_visible_polygon here;
    if (room == VS_SPACE_OUTSIDE && building_between(s)) {
        s->fits = false;
        return;
    }
    if (s->rect_room == VS_SPACE_OUTSIDE ? in_room(s, room, polygon, &here)
                                         : room == s->rect_room) {
        add_visible(s, s->rect_room == VS_SPACE_OUTSIDE ? &here : polygon);
    }
    if (room == s->rect_room) {
        return;
    }
    if (s->path_count == VS_VISIBLE_OPENINGS_MAX) {
        return;
    }
    s->path[s->path_count++] = room;
    for (size_t i = 0; i < s->space->opening_count && s->fits; i++) {
        const vs_opening *opening = &s->space->opening[i];
        size_t next = vs_opening_beyond(opening, room);
        vs_visible_polygon through;
        if (vs_opening_joins(opening, room) && !on_path(s, next) &&
            through_opening(s, opening, polygon, &through)) {
            through.opening[through.opening_count++] = i;
            look_through(s, next, &through);
        }
    }
    s->path_count--;
}

bool vs_visible_polygons_from(const vs_space *space, const vs_rect *rect, bool is_line,
                              size_t rect_room, vs_vec3 p, size_t p_room, vs_vec3 front,
                              vs_visible_polygons *visible) {
    search s = {.space = space,
                .rect = rect,
                .is_line = is_line,
                .rect_room = rect_room,
                .p = p,
                .p_room = p_room,
                .visible = visible,
                .fits = true};
    double u = rect->half_u_m, v = is_line ? 0 : rect->half_v_m;
    vs_visible_polygon whole = {{-u, u, u, -u}, {-v, -v, v, v}, is_line ? 2 : 4, 1, {0}, 0}, before;
    visible->count = 0;
    if (cut(&s, &whole, along_axis(&s, p, front), &before)) {
        look_through(&s, p_room, &before);
    }
    return s.fits;
}
