/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Follows a camera ray from room to room. Its events are where it leaves a room and where it
 * crosses a blocker; between two of them nothing changes. */
#include "veilstop/light/camera_ray.h"

#include <math.h>
#include <stdlib.h>

#include "base/sorted.h"

#define EVENT_MAX ((size_t)2 * VS_CAMERA_RAY_SEGMENT_MAX)

typedef enum { EVENT_ROOM, EVENT_BLOCKER } event_kind;

typedef struct {
    double at_m;
    event_kind kind;
    size_t index;
} event;

typedef struct {
    event item[EVENT_MAX];
    size_t count;
} events;

vs_medium vs_medium_make(const vs_space *space, const vs_haze *haze,
                         const double *room_extinction_per_m) {
    vs_medium medium = {space, haze, room_extinction_per_m, {{1, 1, 1}}};
    double green = haze->extinction_m2_per_g.v[VS_BAND_GREEN];
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        medium.ratio.v[band] = haze->extinction_m2_per_g.v[band] / green;
    }
    return medium;
}

double vs_medium_extinction_per_m(const vs_medium *medium, size_t room) {
    return room == VS_SPACE_OUTSIDE ? 0 : medium->room_extinction_per_m[room];
}

vs_bands vs_medium_transmission(const vs_medium *medium, double depth) {
    vs_bands transmission;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        transmission.v[band] = exp(-depth * medium->ratio.v[band]);
    }
    return transmission;
}

vs_vec3 vs_camera_ray_point(const vs_camera_ray *ray, double distance_m) {
    return vs_vec3_along(ray->at_m, ray->direction, distance_m);
}

static void add_event(events *list, double at_m, event_kind kind, size_t index) {
    if (list->count < EVENT_MAX && at_m > VS_SPACE_SKIN_M) {
        event *place = vs_sorted_place(list->item, list->count++, sizeof *place, at_m);
        *place = (event){at_m, kind, index};
    }
}

static void collect_events(const vs_space *space, vs_vec3 at_m, vs_vec3 direction, double limit_m,
                           events *list) {
    double enter, leave;
    bool inside;
    vs_vec3 far_m = vs_vec3_along(at_m, direction, limit_m);
    list->count = 0;
    for (size_t r = 0; r < space->room_count; r++) {
        if (vs_space_interval_in_room(space, r, at_m, far_m, &enter, &leave)) {
            add_event(list, leave * limit_m, EVENT_ROOM, r);
        }
    }
    for (size_t i = 0; i < space->blocker_count; i++) {
        double t = vs_rect_pierced_at(&space->blocker[i].rect, at_m, direction, &inside);
        if (inside) {
            add_event(list, t, EVENT_BLOCKER, i);
        }
    }
}

/* A distance beyond every wall of the location, from `at`. */
static double beyond_all_walls_m(const vs_space *space, vs_vec3 at_m) {
    double limit_m = 1;
    for (size_t r = 0; r < space->room_count; r++) {
        double low_m = vs_vec3_length(vs_vec3_sub(space->room[r].low_m, at_m));
        double high_m = vs_vec3_length(vs_vec3_sub(space->room[r].high_m, at_m));
        limit_m += low_m + high_m;
    }
    return limit_m;
}

static void append_segment(vs_camera_ray *ray, const vs_medium *medium, size_t room, double to_m) {
    double length_m = to_m - ray->length_m;
    if (length_m <= 0) {
        return;
    }
    double extinction_per_m = vs_medium_extinction_per_m(medium, room);
    vs_ray_segment segment = {ray->length_m, to_m, room, extinction_per_m, ray->depth, ray->open};
    ray->segment[ray->segment_count++] = segment;
    ray->depth += extinction_per_m * length_m;
    ray->length_m = to_m;
}

static vs_camera_ray finished(vs_camera_ray ray, vs_camera_ray_end end, size_t index) {
    ray.end = end;
    ray.end_index = index;
    return ray;
}

/* The ray starts on a wall, perhaps of two rooms: its first room is the one it enters. */
static size_t first_room(const vs_space *space, vs_vec3 at_m, vs_vec3 direction, double first_m) {
    double step_m = fmin(first_m, 100 * VS_SPACE_SKIN_M) / 2;
    return vs_space_room_at(space, vs_vec3_along(at_m, direction, step_m));
}

vs_camera_ray vs_camera_ray_along(const vs_medium *medium, vs_vec3 at_m, vs_vec3 direction,
                                  double length_m) {
    const vs_space *space = medium->space;
    vs_camera_ray ray = {.at_m = at_m, .direction = direction, .open = 1};
    double limit_m = fmin(length_m, beyond_all_walls_m(space, at_m));
    events list;
    collect_events(space, at_m, direction, limit_m, &list);
    size_t room = first_room(space, at_m, direction, list.count ? list.item[0].at_m : limit_m);
    for (size_t i = 0; i < list.count && ray.segment_count < VS_CAMERA_RAY_SEGMENT_MAX - 1; i++) {
        const event *e = &list.item[i];
        if (e->at_m >= limit_m - VS_SPACE_SKIN_M) {
            break;
        }
        if (e->kind == EVENT_ROOM && e->index != room) {
            continue; /* only walls of its own room can be met */
        }
        append_segment(&ray, medium, room, e->at_m);
        if (e->kind == EVENT_BLOCKER) {
            double transmittance = space->blocker[e->index].transmittance;
            if (transmittance == 0) {
                return finished(ray, VS_CAMERA_RAY_AT_BLOCKER, e->index);
            }
            ray.open *= transmittance;
            continue;
        }
        size_t opening =
            vs_space_opening_at(space, room, VS_SPACE_ANY_WALL, vs_camera_ray_point(&ray, e->at_m));
        if (opening == VS_SPACE_OUTSIDE) {
            return finished(ray, VS_CAMERA_RAY_AT_WALL, room);
        }
        ray.open *= space->opening[opening].transmittance;
        room = vs_opening_beyond(&space->opening[opening], room);
        if (room == VS_SPACE_OUTSIDE) {
            return finished(ray, VS_CAMERA_RAY_OUTSIDE, opening);
        }
    }
    append_segment(&ray, medium, room, limit_m);
    return finished(ray, limit_m < length_m ? VS_CAMERA_RAY_AT_WALL : VS_CAMERA_RAY_AT_POINT, room);
}

vs_camera_ray vs_camera_ray_to(const vs_medium *medium, vs_vec3 at_m, vs_vec3 to_m) {
    vs_vec3 way_m = vs_vec3_sub(to_m, at_m);
    double length_m = vs_vec3_length(way_m);
    return vs_camera_ray_along(medium, at_m, vs_vec3_scale(way_m, 1 / length_m), length_m);
}

vs_bands vs_camera_ray_transmission(const vs_medium *medium, const vs_camera_ray *ray) {
    return vs_bands_scale(vs_medium_transmission(medium, ray->depth), ray->open);
}
