/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From a ray to its way: the sight's own walk through the rooms, then which openings and nets its
 * steps were, then whether a lamp or a card stands before its end. */
#include "picture/view/ways.h"

#include <math.h>
#include <string.h>

#define CARD_SLACK_M 1e-3 /* [m] a card on a wall is before it */

vs_vec3 vs_ways_direction(const vs_view *view, double x, double y) {
    vs_vec3 way = vs_vec3_along(view->forward, view->right, x * view->half_width);
    return vs_vec3_along(way, view->up, y * view->half_height);
}

static vs_way_plane plane_of(vs_vec3 normal, vs_vec3 p_m) {
    vs_way_plane plane = {normal, vs_vec3_dot(normal, p_m)};
    return plane;
}

static bool holds(const vs_rect *rect, vs_vec3 p_m) {
    vs_vec3 off_m = vs_vec3_sub(p_m, rect->center_m);
    return fabs(vs_vec3_dot(off_m, rect->normal)) <= VS_SPACE_SKIN_M &&
           fabs(vs_vec3_dot(off_m, rect->u)) <= rect->half_u_m + VS_SPACE_SKIN_M &&
           fabs(vs_vec3_dot(off_m, rect->v)) <= rect->half_v_m + VS_SPACE_SKIN_M;
}

/* The opening or net at a place on a ray; false where there is none. */
static bool crossing_at(const vs_space *space, vs_vec3 p_m, size_t before, size_t after,
                        size_t *index, const vs_rect **rect, double *transmittance) {
    for (size_t i = 0; i < space->portal_count && before != after; i++) {
        const vs_portal *p = &space->portal[i];
        if (holds(&p->rect, p_m) && (p->room[0] == before || p->room[1] == before)) {
            *index = i;
            *rect = &p->rect;
            *transmittance = p->transmittance;
            return true;
        }
    }
    for (size_t i = 0; i < space->screen_count; i++) {
        const vs_screen *s = &space->screen[i];
        if (s->transmittance > 0 && holds(&s->rect, p_m)) {
            *index = space->portal_count + i;
            *rect = &s->rect;
            *transmittance = s->transmittance;
            return true;
        }
    }
    return false;
}

static void cross(vs_way *way, const vs_space *space, const vs_sight *sight, double at_m,
                  size_t before, size_t after) {
    size_t index;
    const vs_rect *rect;
    double transmittance;
    if (way->crossing_count < VS_WAY_CROSSINGS_MAX &&
        crossing_at(space, vs_sight_point(sight, at_m), before, after, &index, &rect,
                    &transmittance)) {
        way->crossing[way->crossing_count] = index;
        way->at[way->crossing_count] = plane_of(rect->normal, rect->center_m);
        way->open *= transmittance;
        way->room[++way->crossing_count] = after;
    }
}

/* Crossings up to a distance. */
static void follow(vs_way *way, const vs_space *space, const vs_sight *sight, double to_m) {
    way->open = 1;
    way->room[0] = sight->piece_count > 0 ? sight->piece[0].room : VS_SPACE_OUTSIDE;
    for (size_t i = 1; i < sight->piece_count && sight->piece[i].from_m < to_m; i++) {
        cross(way, space, sight, sight->piece[i].from_m, sight->piece[i - 1].room,
              sight->piece[i].room);
    }
}

static void end_at_wall(const vs_ways *ways, const vs_sight *sight, vs_way *way) {
    vs_vec3 p_m = vs_sight_point(sight, sight->length_m);
    way->end = VS_WAY_WALL;
    way->index = sight->end_index;
    if (way->index == VS_SPACE_OUTSIDE) {
        way->normal = vs_vec3_scale(sight->direction, -1);
    } else {
        way->side = vs_stage_face(ways->stage, way->index, p_m, &way->normal);
        way->reflectance =
            ways->stage->face_reflectance[way->index * VS_FACE_COUNT + (size_t)way->side];
    }
    way->at[way->crossing_count] = plane_of(way->normal, p_m);
}

static void end_at_screen(const vs_ways *ways, const vs_sight *sight, vs_way *way) {
    const vs_rect *rect = &ways->stage->screen[sight->end_index].rect;
    bool front = vs_vec3_dot(rect->normal, sight->direction) < 0;
    way->end = VS_WAY_SCREEN;
    way->index = sight->end_index;
    way->side = front;
    way->normal = front ? rect->normal : vs_vec3_scale(rect->normal, -1);
    way->reflectance = ways->stage->screen_reflectance[sight->end_index];
    way->at[way->crossing_count] = plane_of(rect->normal, rect->center_m);
}

static void end_outside(const vs_ways *ways, const vs_sight *sight, vs_way *way) {
    const vs_rect *rect = &ways->stage->portal[sight->end_index].rect;
    way->end = VS_WAY_OUTSIDE;
    way->index = sight->end_index;
    way->open *= ways->stage->portal[sight->end_index].transmittance;
    way->normal = vs_vec3_scale(sight->direction, -1);
    way->at[way->crossing_count] = plane_of(rect->normal, rect->center_m);
}

static void end_at_body(const vs_ways *ways, const vs_sight *sight, size_t index, double length_m,
                        vs_way *way) {
    const vs_body *body = &ways->bodies->item[index];
    follow(way, &ways->stage->space, sight, length_m);
    if (length_m > sight->length_m && sight->end == VS_SIGHT_OUTSIDE) {
        size_t last = sight->piece[sight->piece_count - 1].room;
        cross(way, &ways->stage->space, sight, sight->length_m, last, VS_SPACE_OUTSIDE);
    }
    way->end = VS_WAY_BODY;
    way->index = index;
    way->normal = body->normal;
    way->at[way->crossing_count] = plane_of(body->normal, body->at_m);
    /* a card seen from behind: its face gives nothing to the camera */
    way->side = vs_vec3_dot(body->normal, sight->direction) > 0;
    way->reflectance = way->side ? 0 : body->reflectance;
}

/* The nearest body before the end of a ray; bodies.count where there is none. */
static size_t nearest_body(const vs_ways *ways, const vs_sight *sight, double *length_m) {
    size_t best = ways->bodies->count;
    double end_m =
        sight->end == VS_SIGHT_OUTSIDE ? (double)INFINITY : sight->length_m + CARD_SLACK_M;
    for (size_t i = 0; i < ways->bodies->count; i++) {
        double at_m = vs_body_met_at(&ways->bodies->item[i], sight->at_m, sight->direction);
        if (at_m < end_m) {
            end_m = at_m;
            best = i;
        }
    }
    *length_m = end_m;
    return best;
}

static bool same_air(const vs_way *a, const vs_way *b) {
    return a->crossing_count == b->crossing_count && a->room[0] == b->room[0] &&
           memcmp(a->crossing, b->crossing, a->crossing_count * sizeof *a->crossing) == 0;
}

static bool same(const vs_way *a, const vs_way *b) {
    return a->end == b->end && a->index == b->index && a->side == b->side && same_air(a, b);
}

/* Walls of one room seen through the same openings run on into one another. */
static bool same_group(const vs_way *a, const vs_way *b) {
    bool end = a->end == b->end && a->index == b->index && (a->end == VS_WAY_WALL || same(a, b));
    return end && same_air(a, b);
}

static size_t keep(vs_ways *ways, const vs_way *way) {
    if (ways->count == VS_WAYS_MAX) {
        return VS_WAYS_MAX;
    }
    size_t place = ways->count++;
    ways->item[place] = *way;
    ways->item[place].group = ways->item[place].air = (uint16_t)place;
    for (size_t i = place; i-- > 0;) { /* the first of its like names it */
        if (same_group(way, &ways->item[i])) {
            ways->item[place].group = ways->item[i].group;
        }
        if (same_air(way, &ways->item[i])) {
            ways->item[place].air = ways->item[i].air;
        }
    }
    return place;
}

static vs_way follow_ray(const vs_ways *ways, vs_vec3 direction) {
    vs_vec3 unit = vs_vec3_unit(direction);
    vs_sight sight = vs_sight_along(&ways->clear, ways->view.at_m, unit, INFINITY);
    double length_m;
    size_t body = nearest_body(ways, &sight, &length_m);
    vs_way way = {0};
    if (body < ways->bodies->count) {
        end_at_body(ways, &sight, body, length_m, &way);
    } else {
        follow(&way, &ways->stage->space, &sight, INFINITY);
        if (sight.end == VS_SIGHT_AT_SCREEN) {
            end_at_screen(ways, &sight, &way);
        } else if (sight.end == VS_SIGHT_OUTSIDE) {
            end_outside(ways, &sight, &way);
        } else {
            end_at_wall(ways, &sight, &way);
        }
    }
    return way;
}

static size_t place_of(const vs_ways *ways, const vs_way *way) {
    size_t i = 0;
    while (i < ways->count && !same(way, &ways->item[i])) {
        i++;
    }
    return i;
}

size_t vs_ways_find(vs_ways *ways, vs_vec3 direction) {
    vs_way way = follow_ray(ways, direction);
    size_t i = place_of(ways, &way);
    return i < ways->count ? i : keep(ways, &way);
}

size_t vs_ways_known(const vs_ways *ways, vs_vec3 direction) {
    vs_way way = follow_ray(ways, direction);
    size_t i = place_of(ways, &way);
    return i < ways->count ? i : VS_WAYS_MAX;
}
