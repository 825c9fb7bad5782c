/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Edges first, then one visibility test midway between each two of them. The plane through the
 * source and the line of sight cuts a rectangle in a chord; the chord's ends, projected from the
 * source onto the line, are the edges of its shadow or its light. */
#include "veilstop/light/shaft.h"

#include <math.h>

#include "base/sorted.h"
#include "light/geometry/cone.h"
#include "veilstop/base/units.h"

#define AXIS_MIN    1e-6 /* [1] a cross product shorter than this has no direction */
#define EDGE_MAX    (VS_SHAFT_MAX + 1)
#define SUN_START_M 0.01 /* [m] a beam is followed from this far outside its opening */

typedef struct {
    double at_m[EDGE_MAX];
    size_t count;
    double from_m, to_m; /* the segment */
} edges;

/* The plane of source and line, with coordinates across (from the line's foot) and along. A source
 * at infinity projects along `travel` instead of from a tip. */
typedef struct {
    vs_vec3 origin_m, along, across, normal;
    double tip_m; /* across-distance from the tip to the line; 0 for a parallel beam */
    double slant; /* parallel: along-distance per across-distance of travel */
    bool parallel;
} throw_plane;

vs_shaft_frame vs_shaft_frame_make(const vs_camera_ray *ray, vs_vec3 source_m) {
    vs_shaft_frame frame;
    vs_vec3 to_camera_m = vs_vec3_sub(ray->at_m, source_m);
    frame.foot_m = -vs_vec3_dot(to_camera_m, ray->direction);
    vs_vec3 across_m = vs_vec3_along(to_camera_m, ray->direction, frame.foot_m);
    double apart_m = vs_vec3_length(across_m);
    if (apart_m > 0) {
        frame.across = vs_vec3_scale(across_m, 1 / apart_m);
    } else {
        const vs_vec3 x = {1, 0, 0}, y = {0, 1, 0};
        vs_vec3 other = fabs(ray->direction.x) < 0.5 ? x : y;
        frame.across = vs_vec3_unit(vs_vec3_cross(ray->direction, other));
    }
    frame.apart_m = fmax(apart_m, VS_SHAFT_APART_MIN_M);
    return frame;
}

static void add_edge(edges *list, double at_m) {
    if (!(at_m > list->from_m && at_m < list->to_m) || list->count == EDGE_MAX) {
        return; /* also drops NaN */
    }
    vs_sorted_insert(list->at_m, list->count++, at_m);
}

/* An edge at above / below, if that is on the line. */
static void add_quotient(edges *list, double above, double below) {
    if (below != 0) {
        add_edge(list, above / below);
    }
}

/* Projects one end of a chord onto the line. */
static void throw_point(const throw_plane *plane, vs_vec3 p, edges *list) {
    vs_vec3 d = vs_vec3_sub(p, plane->origin_m);
    double along_m = vs_vec3_dot(d, plane->along);
    double across_m = vs_vec3_dot(d, plane->across); /* negative towards the source */
    if (plane->parallel) {
        if (across_m <= 0) {
            add_edge(list, along_m - across_m * plane->slant);
        }
        return;
    }
    double from_tip_m = across_m + plane->tip_m;
    if (from_tip_m > 0 && across_m <= 0) {
        add_edge(list, along_m * plane->tip_m / from_tip_m);
    }
}

/* Whether the plane of source and line misses a rectangle. */
static bool misses(const throw_plane *plane, const vs_rect *rect) {
    double off_m = vs_vec3_dot(vs_vec3_sub(rect->center_m, plane->origin_m), plane->normal);
    double reach_m = fabs(vs_vec3_dot(rect->u, plane->normal)) * rect->half_u_m +
                     fabs(vs_vec3_dot(rect->v, plane->normal)) * rect->half_v_m;
    return fabs(off_m) > reach_m + VS_SPACE_SKIN_M;
}

/* The edges that a rectangle's outline projects onto the line, and where the line crosses it. */
static void add_rect_edges(const throw_plane *plane, const vs_camera_ray *ray, const vs_rect *rect,
                           edges *list, double foot_m) {
    vs_vec3 corner[4];
    double off_m[4];
    if (misses(plane, rect)) {
        return;
    }
    vs_rect_corners(rect, corner);
    for (int i = 0; i < 4; i++) {
        off_m[i] = vs_vec3_dot(vs_vec3_sub(corner[i], plane->origin_m), plane->normal);
    }
    edges local = {.from_m = list->from_m - foot_m, .to_m = list->to_m - foot_m};
    for (int i = 0; i < 4; i++) {
        int j = (i + 1) % 4;
        if ((off_m[i] < 0) != (off_m[j] < 0)) {
            double t = off_m[i] / (off_m[i] - off_m[j]);
            vs_vec3 side = vs_vec3_sub(corner[j], corner[i]);
            throw_point(plane, vs_vec3_along(corner[i], side, t), &local);
        }
    }
    for (size_t i = 0; i < local.count; i++) {
        add_edge(list, local.at_m[i] + foot_m);
    }
    bool inside;
    double pierced_m = vs_rect_pierced_at(rect, ray->at_m, ray->direction, &inside);
    if (inside) {
        add_edge(list, pierced_m);
    }
}

/* Whether the triangle between source and segment is all on one side of a rectangle: then it
 * neither lights nor shades the segment. Points within the skin count as on the rectangle. */
static bool clear_of_triangle(const vs_rect *rect, vs_vec3 a, vs_vec3 b, vs_vec3 c) {
    double at_a = vs_vec3_dot(vs_vec3_sub(a, rect->center_m), rect->normal);
    double at_b = vs_vec3_dot(vs_vec3_sub(b, rect->center_m), rect->normal);
    double at_c = vs_vec3_dot(vs_vec3_sub(c, rect->center_m), rect->normal);
    double skin_m = VS_SPACE_SKIN_M;
    return (at_a >= -skin_m && at_b >= -skin_m && at_c >= -skin_m) ||
           (at_a <= skin_m && at_b <= skin_m && at_c <= skin_m);
}

#define HULL_CORNERS 6 /* at most: a segment's two ends and a rectangle's four corners */
#define HULL_AXES    7 /* at most */

/* The hull of a segment of the line and a rectangle or tube, and what it covers along some axes. */
typedef struct {
    vs_vec3 corner[HULL_CORNERS];
    int corners;
    vs_vec3 axis[HULL_AXES];
    double low_m[HULL_AXES], high_m[HULL_AXES]; /* less the skin at either end */
    int axes;
} hull;

/* What a hull covers along an axis, less the skin at either end. */
static void cover(const hull *h, vs_vec3 axis, double *low_m, double *high_m) {
    double low = INFINITY, high = -INFINITY;
    for (int i = 0; i < h->corners; i++) {
        double at = vs_vec3_dot(h->corner[i], axis);
        low = at < low ? at : low;
        high = at > high ? at : high;
    }
    *low_m = low + VS_SPACE_SKIN_M;
    *high_m = high - VS_SPACE_SKIN_M;
}

static void add_axis(hull *h, vs_vec3 direction) {
    double length = vs_vec3_length(direction);
    if (length >= AXIS_MIN) {
        h->axis[h->axes] = vs_vec3_scale(direction, 1 / length);
        cover(h, h->axis[h->axes], &h->low_m[h->axes], &h->high_m[h->axes]);
        h->axes++;
    }
}

static hull hull_of(const vs_camera_ray *ray, const vs_ray_segment *segment,
                    const vs_emitter *emitter) {
    const vs_vec3 up = {0, 0, 1}, east = {1, 0, 0}, north = {0, 1, 0};
    bool rect = emitter->kind == VS_EMITTER_RECT;
    hull h = {.axes = 0};
    h.corner[0] = vs_camera_ray_point(ray, segment->from_m);
    h.corner[1] = vs_camera_ray_point(ray, segment->to_m);
    h.corners = 2 + vs_emitter_corners(emitter, h.corner + 2);
    add_axis(&h, emitter->axis);
    add_axis(&h, east);
    add_axis(&h, north);
    add_axis(&h, up);
    add_axis(&h, vs_vec3_cross(ray->direction, emitter->axis));
    if (rect) {
        add_axis(&h, vs_vec3_cross(ray->direction, emitter->rect.u));
        add_axis(&h, vs_vec3_cross(ray->direction, emitter->rect.v));
    }
    return h;
}

/* Whether a rectangle and what the hull covers have no overlap along an axis. */
static bool apart_along(const vs_rect *rect, vs_vec3 axis, double low_m, double high_m) {
    double at_m = vs_vec3_dot(rect->center_m, axis);
    double reach_m = fabs(vs_vec3_dot(rect->u, axis)) * rect->half_u_m +
                     fabs(vs_vec3_dot(rect->v, axis)) * rect->half_v_m;
    return at_m - reach_m >= high_m || at_m + reach_m <= low_m;
}

/* Separating axes (Gottschalk, Lin, Manocha 1996, SIGGRAPH): a few that often separate the two. */
static bool clear_of_hull(const vs_rect *rect, const hull *h) {
    double low_m, high_m;
    for (int i = 0; i < h->axes; i++) {
        if (apart_along(rect, h->axis[i], h->low_m[i], h->high_m[i])) {
            return true;
        }
    }
    const vs_vec3 own[3] = {rect->normal, rect->u, rect->v};
    for (int i = 0; i < 3; i++) {
        cover(h, own[i], &low_m, &high_m);
        if (apart_along(rect, own[i], low_m, high_m)) {
            return true;
        }
    }
    return false;
}

/* Copies the blockers that may be in between. Returns their number; if over `most`, not all were. */
static size_t blockers_between(const vs_space *space, const vs_camera_ray *ray,
                               const vs_ray_segment *segment, const vs_emitter *emitter,
                               vs_blocker *between, size_t most) {
    size_t count = 0;
    if (space->blocker_count == 0) {
        return 0;
    }
    hull h = hull_of(ray, segment, emitter);
    for (size_t i = 0; i < space->blocker_count && count <= most; i++) {
        if (!clear_of_hull(&space->blocker[i].rect, &h)) {
            if (count < most) {
                between[count] = space->blocker[i];
            }
            count++;
        }
    }
    return count;
}

bool vs_shaft_open_to_surface(const vs_space *space, const vs_camera_ray *ray,
                              const vs_ray_segment *segment, const vs_emitter *emitter) {
    return segment->room == vs_emitter_whole_room(emitter) &&
           blockers_between(space, ray, segment, emitter, NULL, 0) == 0;
}

vs_space vs_shaft_space_between(const vs_space *space, const vs_camera_ray *ray,
                                const vs_ray_segment *segment, const vs_emitter *emitter,
                                vs_blocker *between, size_t most) {
    vs_space near = *space;
    size_t count = blockers_between(space, ray, segment, emitter, between, most);
    if (count <= most) {
        near.blocker = between;
        near.blocker_count = count;
    }
    return near;
}

static throw_plane plane_of_point(const vs_camera_ray *ray, const vs_shaft_frame *frame) {
    throw_plane plane;
    plane.origin_m = vs_camera_ray_point(ray, frame->foot_m);
    plane.along = ray->direction;
    plane.across = frame->across;
    plane.normal = vs_vec3_cross(frame->across, ray->direction);
    plane.tip_m = frame->apart_m;
    plane.slant = 0;
    plane.parallel = false;
    return plane;
}

/* Edges of the spot's cone on the line. The other half of the double cone gives edges too; the test
 * between edges discards them. */
static void add_cone_edges(const vs_camera_ray *ray, vs_vec3 tip_m, vs_vec3 axis, double angle_rad,
                           edges *list) {
    vs_cone_meeting cone =
        vs_cone_meet(vs_vec3_sub(ray->at_m, tip_m), ray->direction, axis, cos(angle_rad));
    add_edge(list, cone.t[0]);
    add_edge(list, cone.t[1]);
}

/* Where a lamp's light begins or ends at an angle from its axis; at 90 degrees that is a plane. */
static void add_angle_edges(const vs_camera_ray *ray, const vs_point_source *source,
                            double angle_rad, edges *list) {
    if (fabs(cos(angle_rad)) > VS_CONE_LEVEL) {
        add_cone_edges(ray, source->at_m, source->axis, angle_rad, list);
        return;
    }
    vs_vec3 d = vs_vec3_sub(source->at_m, ray->at_m);
    add_quotient(list, vs_vec3_dot(d, source->axis), vs_vec3_dot(ray->direction, source->axis));
}

static void add_profile_edges(const vs_camera_ray *ray, const vs_point_source *source,
                              edges *list) {
    if (source->profile == VS_PROFILE_SPOT) {
        const vs_spot *spot = &source->emitter->spot;
        add_angle_edges(ray, source, spot->cutoff_rad, list);
        if (spot->exponent > 2) { /* flat top: the profile bends most at its shoulder */
            add_cone_edges(ray, source->at_m, source->axis, spot->half_rad, list);
        }
    } else if (source->profile == VS_PROFILE_PHOTOMETRY) {
        const vs_photometric_table *table = source->emitter->table;
        add_angle_edges(ray, source, table->vertical_rad[0], list);
        add_angle_edges(ray, source, table->vertical_rad[table->vertical_count - 1], list);
    } else if (source->profile == VS_PROFILE_COSINE) {
        add_angle_edges(ray, source, VS_PI / 2, list);
    }
}

/* Whether the source may light the interval of line around a distance. A measured lamp may be dark
 * there but not elsewhere in the interval, as its edges are not in the list. */
static bool shines_at(const vs_camera_ray *ray, const vs_point_source *source, double at_m) {
    if (source->profile == VS_PROFILE_PHOTOMETRY) {
        return true;
    }
    vs_vec3 way_m = vs_vec3_sub(vs_camera_ray_point(ray, at_m), source->at_m);
    double length_m = vs_vec3_length(way_m);
    return length_m > 0 && vs_point_source_profile(source, vs_vec3_scale(way_m, 1 / length_m)) > 0;
}

/* The openings at which the density changes on the way from the source. False: too many to
 * follow. */
static bool find_crossings(const vs_medium *medium, const vs_passage *passage, vs_vec3 source_m,
                           size_t source_room, vs_shaft *shaft) {
    size_t room = source_room;
    shaft->crossing_count = 0;
    for (size_t i = 0; i < passage->opening_count; i++) {
        const vs_opening *opening = &medium->space->opening[passage->opening[i]];
        size_t next = vs_opening_beyond(opening, room);
        double change =
            vs_medium_extinction_per_m(medium, room) - vs_medium_extinction_per_m(medium, next);
        room = next;
        if (change == 0) {
            continue;
        }
        if (shaft->crossing_count == VS_SHAFT_CROSSING_MAX) {
            return false;
        }
        vs_shaft_crossing *crossing = &shaft->crossing[shaft->crossing_count++];
        crossing->normal = opening->rect.normal;
        crossing->off_m =
            vs_vec3_dot(vs_vec3_sub(opening->rect.center_m, source_m), opening->rect.normal);
        crossing->change_per_m = change;
    }
    return true;
}

/* All edges that the location projects onto a segment. */
static void add_space_edges(const vs_space *space, const throw_plane *plane,
                            const vs_camera_ray *ray, double foot_m, vs_vec3 source_m,
                            bool openings, edges *list) {
    vs_vec3 start_m = vs_camera_ray_point(ray, list->from_m);
    vs_vec3 end_m = vs_camera_ray_point(ray, list->to_m);
    for (size_t i = 0; i < space->opening_count && openings; i++) {
        const vs_rect *rect = &space->opening[i].rect;
        if (plane->parallel || !clear_of_triangle(rect, source_m, start_m, end_m)) {
            add_rect_edges(plane, ray, rect, list, foot_m);
        }
    }
    for (size_t i = 0; i < space->blocker_count; i++) {
        const vs_rect *rect = &space->blocker[i].rect;
        if (plane->parallel || !clear_of_triangle(rect, source_m, start_m, end_m)) {
            add_rect_edges(plane, ray, rect, list, foot_m);
        }
    }
}

/* Sets the interval between the edges i - 1 and i. */
static void set_interval(const edges *list, size_t i, vs_shaft *shaft) {
    shaft->from_m = i == 0 ? list->from_m : list->at_m[i - 1];
    shaft->to_m = i == list->count ? list->to_m : list->at_m[i];
    shaft->transmittance = 1;
    shaft->crossing_count = 0;
}

/* Whether light from a source in another room may come in, through an opening between it and the
 * segment or one that contains it. */
static bool opening_between(const vs_space *space, vs_vec3 source_m, vs_vec3 start_m,
                            vs_vec3 end_m) {
    for (size_t i = 0; i < space->opening_count; i++) {
        const vs_rect *rect = &space->opening[i].rect;
        double off_m = vs_vec3_dot(vs_vec3_sub(source_m, rect->center_m), rect->normal);
        if (fabs(off_m) <= VS_SPACE_SKIN_M || !clear_of_triangle(rect, source_m, start_m, end_m)) {
            return true;
        }
    }
    return false;
}

static bool blocker_between(const vs_space *space, vs_vec3 source_m, vs_vec3 start_m,
                            vs_vec3 end_m) {
    for (size_t i = 0; i < space->blocker_count; i++) {
        if (!clear_of_triangle(&space->blocker[i].rect, source_m, start_m, end_m)) {
            return true;
        }
    }
    return false;
}

/* The path from the source to an interval, the same throughout as for its middle. False: no
 * light. */
static bool open_interval(const vs_medium *medium, const vs_point_source *source, size_t room,
                          vs_vec3 middle_m, vs_shaft *interval) {
    vs_passage passage = vs_space_passage(medium->space, source->at_m, middle_m);
    interval->transmittance = passage.transmittance;
    return passage.transmittance > 0 &&
           find_crossings(medium, &passage, source->at_m, room, interval);
}

size_t vs_shaft_from_point(const vs_medium *medium, const vs_camera_ray *ray,
                           const vs_ray_segment *segment, const vs_point_source *source,
                           vs_shaft *shaft) {
    const vs_space *space = medium->space;
    vs_vec3 start_m = vs_camera_ray_point(ray, segment->from_m);
    vs_vec3 end_m = vs_camera_ray_point(ray, segment->to_m);
    size_t room = source->emitter->through_wall ? vs_space_room_at(space, source->at_m)
                                                : source->emitter->room;
    /* a room is convex, so within it no wall is in between */
    bool other_room = room != segment->room;
    if (other_room && !source->emitter->through_wall &&
        !opening_between(space, source->at_m, start_m, end_m)) {
        return 0;
    }
    edges list; /* set field by field: its places are not read before they are written */
    list.count = 0;
    list.from_m = segment->from_m;
    list.to_m = segment->to_m;
    bool between = other_room || blocker_between(space, source->at_m, start_m, end_m);
    if (between) {
        vs_shaft_frame frame = vs_shaft_frame_make(ray, source->at_m);
        throw_plane plane = plane_of_point(ray, &frame);
        add_space_edges(space, &plane, ray, frame.foot_m, source->at_m, other_room, &list);
    }
    add_profile_edges(ray, source, &list);
    size_t count = 0;
    for (size_t i = 0; i <= list.count && count < VS_SHAFT_MAX; i++) {
        vs_shaft *next = &shaft[count];
        set_interval(&list, i, next);
        double middle_m = (next->from_m + next->to_m) / 2;
        count += shines_at(ray, source, middle_m) &&
                 (!between ||
                  open_interval(medium, source, room, vs_camera_ray_point(ray, middle_m), next));
    }
    return count;
}

vs_vec3 vs_shaft_parallel_origin(const vs_space *space, const vs_emitter *emitter, vs_vec3 p) {
    bool inside;
    double t =
        vs_rect_pierced_at(&space->opening[emitter->opening].rect, p, emitter->axis, &inside);
    return vs_vec3_along(p, emitter->axis, isfinite(t) ? t : 0);
}

double vs_shaft_parallel_transmittance(const vs_space *space, const vs_emitter *emitter,
                                       vs_vec3 p) {
    const vs_vec3 origin_m = vs_shaft_parallel_origin(space, emitter, p);
    if (vs_vec3_dot(vs_vec3_sub(p, origin_m), emitter->axis) <= 0) {
        return 0; /* the opening is behind */
    }
    vs_vec3 before_m = vs_vec3_along(origin_m, emitter->axis, -SUN_START_M);
    vs_passage passage = vs_space_passage(space, before_m, p);
    for (size_t i = 0; i < passage.opening_count; i++) {
        if (passage.opening[i] == emitter->opening) {
            return passage.transmittance;
        }
    }
    return 0;
}

static throw_plane plane_of_parallel(const vs_camera_ray *ray, vs_vec3 travel) {
    throw_plane plane;
    double along = vs_vec3_dot(travel, ray->direction);
    vs_vec3 across = vs_vec3_along(travel, ray->direction, -along);
    double sine = vs_vec3_length(across);
    plane.origin_m = ray->at_m;
    plane.along = ray->direction;
    plane.across = sine > 0 ? vs_vec3_scale(across, 1 / sine) : across;
    plane.normal = vs_vec3_cross(plane.across, ray->direction);
    plane.tip_m = 0;
    plane.slant = sine > 0 ? along / sine : 0;
    plane.parallel = true;
    return plane;
}

size_t vs_shaft_from_parallel(const vs_medium *medium, const vs_camera_ray *ray,
                              const vs_ray_segment *segment, const vs_emitter *emitter,
                              vs_shaft *shaft) {
    throw_plane plane = plane_of_parallel(ray, emitter->axis);
    edges list = {.from_m = segment->from_m, .to_m = segment->to_m};
    add_space_edges(medium->space, &plane, ray, 0, ray->at_m, true, &list);
    size_t count = 0;
    for (size_t i = 0; i <= list.count && count < VS_SHAFT_MAX; i++) {
        vs_shaft *next = &shaft[count];
        set_interval(&list, i, next);
        vs_vec3 middle_m = vs_camera_ray_point(ray, (next->from_m + next->to_m) / 2);
        next->transmittance = vs_shaft_parallel_transmittance(medium->space, emitter, middle_m);
        count += next->transmittance > 0;
    }
    return count;
}
