/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rays begin anywhere in their cell and go every way, evenly, or anywhere on their patch, by the
 * cosine law; nets stop some of them. */
#include "light/bounce/air.h"

#include <math.h>
#include <stdlib.h>

#include "base/growable.h"
#include "light/geometry/ray_casting.h"
#include "veilstop/base/quasi_random.h"
#include "veilstop/base/units.h"

#define DIMENSIONS 6 /* numbers a ray is drawn by */

/* One axis of a walk through cells. Source: Amanatides & Woo 1987, Eurographics, 3. */
typedef struct {
    long cell, step, end;
    double next_m, each_m;
} axis_walk;

static axis_walk begin_axis(double at, double way, double low, double high, size_t count) {
    double size = (high - low) / (double)count, place = (at - low) / size;
    axis_walk a = {.cell = (long)fmin(fmax(floor(place), 0), (double)count - 1)};
    a.step = way > 0 ? 1 : -1;
    a.end = way > 0 ? (long)count : -1;
    a.each_m = way != 0 ? fabs(size / way) : (double)INFINITY;
    double border = low + size * (double)(a.cell + (way > 0));
    a.next_m = way != 0 ? (border - at) / way : (double)INFINITY;
    return a;
}

size_t vs_air_cross(const vs_mesh *mesh, size_t room, vs_vec3 at, vs_vec3 way, double length_m,
                    vs_air_crossing *crossing) {
    const vs_cell_grid *g = &mesh->cells[room];
    const vs_box *box = &g->box;
    axis_walk a[3] = {begin_axis(at.x, way.x, box->low_m.x, box->high_m.x, g->count[0]),
                      begin_axis(at.y, way.y, box->low_m.y, box->high_m.y, g->count[1]),
                      begin_axis(at.z, way.z, box->low_m.z, box->high_m.z, g->count[2])};
    double so_far = 0;
    size_t count = 0;
    while (so_far < length_m && count < VS_AIR_CROSSINGS_MAX) {
        int i = a[0].next_m <= a[1].next_m && a[0].next_m <= a[2].next_m ? 0
                : a[1].next_m <= a[2].next_m                             ? 1
                                                                         : 2;
        double to = a[i].cell + a[i].step == a[i].end ? length_m : fmin(a[i].next_m, length_m);
        if (to > so_far) {
            size_t cell = ((size_t)a[2].cell * g->count[1] + (size_t)a[1].cell) * g->count[0] +
                          (size_t)a[0].cell;
            vs_air_crossing c = {(uint32_t)(g->first + cell), (uint32_t)room, (float)(to - so_far)};
            crossing[count++] = c;
            so_far = to;
        }
        a[i].cell += a[i].step;
        a[i].next_m += a[i].each_m;
        if (a[i].cell == a[i].end) {
            break;
        }
    }
    return count;
}

/* The piece of a ray in one room. */
static vs_status add_crossings(vs_air *air, size_t room, vs_vec3 at_m, vs_vec3 way,
                               double length_m) {
    vs_air_crossing crossing[VS_AIR_CROSSINGS_MAX];
    size_t count = vs_air_cross(air->mesh, room, at_m, way, length_m, crossing);
    for (size_t i = 0; i < count; i++) {
        vs_air_crossing *list = vs_growable_reserve(air->crossing, air->crossing_count,
                                                    &air->crossing_size, sizeof *list);
        if (!list) {
            return VS_ERR_MEMORY;
        }
        air->crossing = list;
        air->crossing[air->crossing_count++] = crossing[i];
    }
    return VS_OK;
}

/* Whether a ray passes what lets a share of light by; by chance, which is then what is left. */
static bool gets_past(double transmittance, double *chance) {
    if (*chance >= transmittance) {
        return false;
    }
    *chance /= transmittance;
    return true;
}

/* The room a ray goes on in from the end of a piece, or OUTSIDE: it has ended. */
static size_t next_room(const vs_mesh *mesh, size_t room, const vs_ray_event *end, vs_vec3 at_m,
                        vs_vec3 way, double *chance, size_t *patch) {
    if (end->end == VS_RAY_MEETS_WALL) {
        *patch = vs_mesh_face_patch(mesh, room, end->face, at_m);
        return VS_SPACE_OUTSIDE;
    }
    if (end->end == VS_RAY_MEETS_BLOCKER) {
        const vs_blocker *screen = &mesh->space->blocker[end->index];
        if (gets_past(screen->transmittance, chance)) {
            return room;
        }
        bool front = vs_vec3_dot(way, screen->rect.normal) < 0;
        *patch = vs_mesh_screen_patch(mesh, end->index, front, at_m);
        return VS_SPACE_OUTSIDE;
    }
    const vs_opening *portal = &mesh->space->opening[end->index];
    return end->end == VS_RAY_MEETS_OPENING && gets_past(portal->transmittance, chance)
               ? vs_opening_beyond(portal, room)
               : VS_SPACE_OUTSIDE;
}

static vs_status add_ray(vs_air *air, size_t first_room, vs_vec3 at_m, vs_vec3 way, double chance) {
    vs_air_ray *ray = &air->ray[air->ray_count++];
    double y[VS_SH_COUNT];
    vs_status status = VS_OK;
    size_t patch = VS_MESH_NONE;
    vs_sh(way, y);
    for (int n = 0; n < VS_SH_COUNT; n++) {
        ray->harmonic[n] = (float)y[n];
    }
    ray->target = VS_AIR_NOTHING;
    bool within = true;
    for (size_t room = first_room; room != VS_SPACE_OUTSIDE && status == VS_OK;) {
        vs_ray_event end = vs_ray_next_event(air->mesh->space, at_m, way, room);
        status = add_crossings(air, room, at_m, way, end.length_m);
        at_m = vs_vec3_along(at_m, way, end.length_m);
        size_t next = next_room(air->mesh, room, &end, at_m, way, &chance, &patch);
        if (within) {
            ray->room_end = (uint32_t)air->crossing_count;
            ray->target = patch == VS_MESH_NONE ? VS_AIR_NOTHING : (uint32_t)patch;
        }
        within = within && next == room;
        room = next;
    }
    ray->crossing_end = (uint32_t)air->crossing_count;
    return status;
}

static vs_status add_patch_ray(vs_air *air, size_t patch, const double *even) {
    const vs_patch *p = &air->mesh->patch[patch];
    vs_vec3 at_m = vs_vec3_along(p->rect.center_m, p->rect.u, (2 * even[2] - 1) * p->rect.half_u_m);
    at_m = vs_vec3_along(at_m, p->rect.v, (2 * even[3] - 1) * p->rect.half_v_m);
    vs_vec3 way = vs_vec3_tilted(p->rect.normal, sqrt(even[0]), 2 * VS_PI * even[1]);
    return add_ray(air, p->room, at_m, way, even[5]);
}

static vs_status add_cell_ray(vs_air *air, size_t room, size_t cell, const double *even) {
    static const vs_vec3 up = {0, 0, 1};
    const vs_cell_grid *g = &air->mesh->cells[room];
    vs_vec3 size = vs_vec3_sub(g->box.high_m, g->box.low_m);
    size_t nx = g->count[0], ny = g->count[1];
    vs_vec3 at_m = {g->box.low_m.x + size.x * ((double)(cell % nx) + even[2]) / (double)nx,
                    g->box.low_m.y + size.y * ((double)(cell / nx % ny) + even[3]) / (double)ny,
                    g->box.low_m.z +
                        size.z * ((double)(cell / nx / ny) + even[4]) / (double)g->count[2]};
    vs_vec3 way = vs_vec3_tilted(up, 1 - 2 * even[0], 2 * VS_PI * even[1]);
    return add_ray(air, room, at_m, way, even[5]);
}

static vs_status fill(vs_air *air, const double *even) {
    const vs_mesh *mesh = air->mesh;
    size_t patch_rays = mesh->patch_count * VS_AIR_PATCH_RAYS;
    vs_status status = VS_OK;
    for (size_t i = 0; i < patch_rays && status == VS_OK; i++) {
        status = add_patch_ray(air, i / VS_AIR_PATCH_RAYS, even + i * DIMENSIONS);
    }
    for (size_t room = 0; room < mesh->space->room_count; room++) {
        size_t rays = vs_mesh_cell_count(&mesh->cells[room]) * VS_AIR_CELL_RAYS;
        for (size_t i = 0; i < rays && status == VS_OK; i++) {
            status =
                add_cell_ray(air, room, i / VS_AIR_CELL_RAYS, even + air->ray_count * DIMENSIONS);
        }
    }
    return status;
}

vs_status vs_air_init(vs_air *air, const vs_mesh *mesh) {
    const vs_air blank = {.mesh = mesh};
    size_t rays = mesh->patch_count * VS_AIR_PATCH_RAYS + mesh->cell_count * VS_AIR_CELL_RAYS;
    double *even = malloc((rays * DIMENSIONS + 1) * sizeof *even);
    *air = blank;
    air->ray = calloc(rays + 1, sizeof *air->ray);
    vs_status status = even && air->ray ? vs_sobol_points(DIMENSIONS, rays, even) : VS_ERR_MEMORY;
    status = status == VS_OK ? fill(air, even) : status;
    free(even);
    if (status != VS_OK) {
        vs_air_free(air);
    }
    return status;
}

void vs_air_free(vs_air *air) {
    const vs_air blank = {0};
    free(air->ray);
    free(air->crossing);
    *air = blank;
}
