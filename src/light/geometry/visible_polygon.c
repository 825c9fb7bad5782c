/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Convex parts, cut by half-planes. Source: Sutherland & Hodgman 1974, Commun. ACM 17, 32
 * (clipping); the linear form of a crossing: a point on the way from p to q divides it as their
 * distances from the plane. */
#include "light/geometry/visible_polygon.h"

#include <math.h>

#define GATE_SIDES 5     /* beyond the plane, and within four sides */
#define AREA_MIN   1e-12 /* [1] of the whole: parts smaller than this are dropped */

/* at_u u + at_v v + base >= 0 */
typedef struct {
    double at_u, at_v, base;
} half_plane;

/* Everything a search needs. */
typedef struct {
    const vs_space *space;
    const vs_rect *rect;
    bool is_line;
    size_t rect_room;
    vs_vec3 p;
    size_t p_room;
    vs_seen *seen;
    size_t path[VS_SEEN_DOORS_MAX]; /* rooms on the way */
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

/* Where q must be for the way from p to q to cross a rectangle. False: it never does. With x the
 * place of crossing, (x - c) . u (d_p - d_q) = d_p (q - c) . u - d_q (p - c) . u, where d is the
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

/* Copies what the way to a part is like. */
static void copy_way(vs_seen_part *to, const vs_seen_part *from) {
    to->transmittance = from->transmittance;
    to->door_count = from->door_count;
    for (int i = 0; i < from->door_count; i++) {
        to->door[i] = from->door[i];
    }
}

/* Copies no more corners than there are. */
static void copy_part(vs_seen_part *to, const vs_seen_part *from) {
    for (int i = 0; i < from->count; i++) {
        to->u_m[i] = from->u_m[i];
        to->v_m[i] = from->v_m[i];
    }
    to->count = from->count;
    copy_way(to, from);
}

/* Keeps the side of a part on which h >= 0. False where nothing is left, or no room for corners. */
static bool cut_polygon(const vs_seen_part *part, half_plane h, vs_seen_part *kept) {
    kept->count = 0;
    copy_way(kept, part);
    for (int i = 0; i < part->count; i++) {
        int j = (i + 1) % part->count;
        double a = value_at(h, part->u_m[i], part->v_m[i]);
        double b = value_at(h, part->u_m[j], part->v_m[j]);
        if (a >= 0 && kept->count < VS_SEEN_CORNERS_MAX) {
            kept->u_m[kept->count] = part->u_m[i];
            kept->v_m[kept->count++] = part->v_m[i];
        }
        if ((a >= 0) != (b >= 0) && kept->count < VS_SEEN_CORNERS_MAX) {
            double t = a / (a - b);
            kept->u_m[kept->count] = part->u_m[i] + t * (part->u_m[j] - part->u_m[i]);
            kept->v_m[kept->count++] = part->v_m[i] + t * (part->v_m[j] - part->v_m[i]);
        }
    }
    return kept->count >= 3;
}

/* The same for a line: two corners, its ends. */
static bool cut_line(const vs_seen_part *part, half_plane h, vs_seen_part *kept) {
    double a = value_at(h, part->u_m[0], 0), b = value_at(h, part->u_m[1], 0);
    copy_part(kept, part);
    if (a < 0 && b < 0) {
        return false;
    }
    if (a < 0 || b < 0) {
        double between_m = part->u_m[0] + a / (a - b) * (part->u_m[1] - part->u_m[0]);
        kept->u_m[a < 0 ? 0 : 1] = between_m;
    }
    return kept->u_m[1] > kept->u_m[0];
}

static bool cut(const search *s, const vs_seen_part *part, half_plane h, vs_seen_part *kept) {
    return s->is_line ? cut_line(part, h, kept) : cut_polygon(part, h, kept);
}

/* Size of a part: area or length. */
static double size_of(const search *s, const vs_seen_part *part) {
    if (s->is_line) {
        return part->u_m[1] - part->u_m[0];
    }
    double twice = 0;
    for (int i = 0; i < part->count; i++) {
        int j = (i + 1) % part->count;
        twice += part->u_m[i] * part->v_m[j] - part->u_m[j] * part->v_m[i];
    }
    return fabs(twice) / 2;
}

static double whole_size(const search *s) {
    return s->is_line ? 2 * s->rect->half_u_m : 4 * s->rect->half_u_m * s->rect->half_v_m;
}

static void add_part(search *s, const vs_seen_part *part) {
    if (size_of(s, part) < AREA_MIN * whole_size(s)) {
        return;
    }
    if (s->seen->count == VS_SEEN_PARTS_MAX) {
        s->fits = false;
        return;
    }
    copy_part(&s->seen->part[s->seen->count++], part);
}

/* Whether all of a part is on the far side of one side of a gate: most screens miss most parts. */
static bool misses(const vs_seen_part *part, const half_plane gate[GATE_SIDES]) {
    for (int k = 0; k < GATE_SIDES; k++) {
        int off = 0;
        for (int i = 0; i < part->count; i++) {
            off += value_at(gate[k], part->u_m[i], part->v_m[i]) <= 0;
        }
        if (off == part->count) {
            return true;
        }
    }
    return false;
}

/* Takes the shadow of one screen out of the parts from `first` on; a net's shadow stays, dimmed. */
static void shade(search *s, int first, const vs_screen *screen) {
    half_plane gate[GATE_SIDES];
    if (!gate_of(s, &screen->rect, gate)) {
        return;
    }
    int count = s->seen->count;
    for (int i = first; i < count; i++) {
        vs_seen_part rest, piece, inside;
        bool shaded = true;
        if (misses(&s->seen->part[i], gate)) {
            continue;
        }
        copy_part(&rest, &s->seen->part[i]);
        int before = s->seen->count;
        for (int k = 0; k < GATE_SIDES && shaded; k++) {
            if (cut(s, &rest, opposite(gate[k]), &piece)) {
                add_part(s, &piece);
            }
            shaded = cut(s, &rest, gate[k], &inside);
            copy_part(&rest, &inside);
        }
        if (!shaded) { /* untouched: take the pieces back */
            s->seen->count = before;
            continue;
        }
        rest.transmittance *= screen->transmittance;
        copy_part(&s->seen->part[i], &rest);
        if (rest.transmittance == 0) {
            s->seen->part[i].count = 0;
        }
    }
}

/* Drops the parts that a screen hides whole. */
static void close_up(vs_seen *seen, int first) {
    int kept = first;
    for (int i = first; i < seen->count; i++) {
        if (seen->part[i].count > 0) {
            if (kept != i) {
                copy_part(&seen->part[kept], &seen->part[i]);
            }
            kept++;
        }
    }
    seen->count = kept;
}

static void add_seen(search *s, const vs_seen_part *part) {
    int first = s->seen->count;
    add_part(s, part);
    for (size_t i = 0; i < s->space->screen_count && s->fits; i++) {
        shade(s, first, &s->space->screen[i]);
        close_up(s->seen, first);
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

/* Whether p stands in a doorway: then the doorway is not in its way. */
static bool stands_in(const search *s, const vs_rect *r) {
    vs_vec3 d = vs_vec3_sub(s->p, r->center_m);
    return fabs(vs_vec3_dot(d, r->normal)) <= VS_SPACE_SKIN_M &&
           fabs(vs_vec3_dot(d, r->u)) <= r->half_u_m && fabs(vs_vec3_dot(d, r->v)) <= r->half_v_m;
}

/* What of a part is seen through a doorway, dimmed by its pane. */
static bool through_portal(const search *s, const vs_portal *portal, const vs_seen_part *part,
                           vs_seen_part *through) {
    half_plane gate[GATE_SIDES];
    copy_part(through, part);
    if (stands_in(s, &portal->rect)) {
        return true;
    }
    if (!gate_of(s, &portal->rect, gate) || misses(part, gate)) {
        return false;
    }
    for (int k = 0; k < GATE_SIDES; k++) {
        vs_seen_part inside;
        if (!cut(s, through, gate[k], &inside)) {
            return false;
        }
        copy_part(through, &inside);
    }
    through->transmittance *= portal->transmittance;
    return through->transmittance > 0;
}

/* What of a part lies in a room; outside: all of it. */
static bool in_room(const search *s, size_t room, const vs_seen_part *part, vs_seen_part *inside) {
    static const vs_vec3 along[3] = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}};
    copy_part(inside, part);
    for (int axis = 0; axis < 3 && room != VS_SPACE_OUTSIDE; axis++) {
        const vs_box *box = &s->space->room[room];
        const half_plane side[2] = {along_axis(s, box->low_m, along[axis]),
                                    opposite(along_axis(s, box->high_m, along[axis]))};
        for (int k = 0; k < 2; k++) {
            vs_seen_part kept;
            if (!cut(s, inside, side[k], &kept)) {
                return false;
            }
            copy_part(inside, &kept);
        }
    }
    return true;
}

/* Whether a room other than the two may stand between p and the emitter, on a way that runs
 * outside. */
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

/* From a room on, through its doorways, to the room the emitter shines from; to every room, for one
 * that reaches through a wall. */
static void look_through(search *s, size_t room, const vs_seen_part *part) {
    vs_seen_part here;
    if (room == VS_SPACE_OUTSIDE && building_between(s)) {
        s->fits = false;
        return;
    }
    if (s->rect_room == VS_SPACE_OUTSIDE ? in_room(s, room, part, &here) : room == s->rect_room) {
        add_seen(s, s->rect_room == VS_SPACE_OUTSIDE ? &here : part);
    }
    if (room == s->rect_room) {
        return;
    }
    if (s->path_count == VS_SEEN_DOORS_MAX) {
        return;
    }
    s->path[s->path_count++] = room;
    for (size_t i = 0; i < s->space->portal_count && s->fits; i++) {
        const vs_portal *portal = &s->space->portal[i];
        bool from_first = portal->room[0] == room;
        size_t next = from_first ? portal->room[1] : portal->room[0];
        vs_seen_part through;
        if ((from_first || portal->room[1] == room) && !on_path(s, next) &&
            through_portal(s, portal, part, &through)) {
            through.door[through.door_count++] = i;
            look_through(s, next, &through);
        }
    }
    s->path_count--;
}

bool vs_seen_from(const vs_space *space, const vs_rect *rect, bool is_line, size_t rect_room,
                  vs_vec3 p, size_t p_room, vs_vec3 front, vs_seen *seen) {
    search s = {.space = space,
                .rect = rect,
                .is_line = is_line,
                .rect_room = rect_room,
                .p = p,
                .p_room = p_room,
                .seen = seen,
                .fits = true};
    double u = rect->half_u_m, v = is_line ? 0 : rect->half_v_m;
    vs_seen_part whole = {{-u, u, u, -u}, {-v, -v, v, v}, is_line ? 2 : 4, 1, {0}, 0}, before;
    seen->count = 0;
    if (cut(&s, &whole, along_axis(&s, p, front), &before)) {
        look_through(&s, p_room, &before);
    }
    return s.fits;
}
