/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A cell sees patches from its middle, under solid angles in closed form, and other cells from
 * middle to middle; neighbouring cells from a few places. */
#include "light/mesh/air.h"

#include <math.h>
#include <stdlib.h>

#include "base/arrays.h"
#include "base/growable.h"
#include "light/geometry/ray_casting.h"
#include "light/mesh/room_view.h"
#include "veilstop/base/quasi_random.h"
#include "veilstop/base/units.h"

#define PAIRS  1024 /* of places in two neighbours, for their mean 1/distance^2; our choice */
#define SPREAD 0.408248290 /* [1] of a side: root mean square offset of two places, 1/sqrt 6 */

/* ---- crossing cells ---- */

/* One axis of a walk through cells. Source: Amanatides & Woo 1987, Eurographics, 3. */
typedef struct {
    long cell, step, end;
    double next_m, each_m;
} axis_walk;

static axis_walk begin_axis(double at, double along, double low, double high, size_t count) {
    double size = (high - low) / (double)count, place = (at - low) / size;
    axis_walk a = {.cell = (long)fmin(fmax(floor(place), 0), (double)count - 1)};
    a.step = along > 0 ? 1 : -1;
    a.end = along > 0 ? (long)count : -1;
    a.each_m = along != 0 ? fabs(size / along) : (double)INFINITY;
    double border = low + size * (double)(a.cell + (along > 0));
    a.next_m = along != 0 ? (border - at) / along : (double)INFINITY;
    return a;
}

size_t vs_air_cross(const vs_mesh *mesh, size_t room, vs_vec3 at, vs_vec3 direction,
                    double length_m, vs_air_crossing *crossing) {
    const vs_cell_grid *g = &mesh->cells[room];
    const vs_box *box = &g->box;
    axis_walk a[3] = {begin_axis(at.x, direction.x, box->low_m.x, box->high_m.x, g->count[0]),
                      begin_axis(at.y, direction.y, box->low_m.y, box->high_m.y, g->count[1]),
                      begin_axis(at.z, direction.z, box->low_m.z, box->high_m.z, g->count[2])};
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

/* ---- from cell to cell ---- */

static vs_status add_direction(vs_air *air, vs_vec3 direction) {
    double y[VS_SH_COUNT];
    vs_air_direction *list = vs_growable_reserve(air->direction, air->direction_count,
                                                 &air->direction_size, sizeof *air->direction);
    if (!list) {
        return VS_ERR_MEMORY;
    }
    vs_sh(vs_vec3_unit(direction), y);
    air->direction = list;
    for (int n = 0; n < VS_SH_COUNT; n++) {
        air->direction[air->direction_count].harmonic[n] = (float)y[n];
    }
    air->direction_count++;
    return VS_OK;
}

/* Directions to a neighbour: to places beside its middle along those axes on which it is not off. */
static vs_status add_directions(vs_air *air, vs_air_offset *offset, const long off[3],
                                vs_vec3 size) {
    vs_vec3 apart_m = {(double)off[0] * size.x, (double)off[1] * size.y, (double)off[2] * size.z};
    bool near = labs(off[0]) <= 1 && labs(off[1]) <= 1 && labs(off[2]) <= 1;
    vs_status status = VS_OK;
    offset->direction_first = air->direction_count;
    for (int beside = 0; beside < 8 && status == VS_OK; beside++) {
        vs_vec3 to = apart_m;
        double side[3] = {SPREAD * size.x, SPREAD * size.y, SPREAD * size.z};
        bool even = false;
        for (int axis = 0; axis < 3; axis++) {
            bool high = beside >> axis & 1;
            even = even || (high && (off[axis] != 0 || !near));
            side[axis] *= off[axis] != 0 || !near ? 0 : high ? 1 : -1;
        }
        to.x += side[0];
        to.y += side[1];
        to.z += side[2];
        status = even ? VS_OK : add_direction(air, to);
    }
    offset->direction_count = air->direction_count - offset->direction_first;
    offset->direction_share = 1.0f / (float)offset->direction_count;
    return status;
}

/* Mean of 1/distance^2 between places in two cells: how much of the light that one sends in all
 * directions crosses the other, a volume. For distant cells by the second order of their sizes. The
 * same both ways. */
static double mean_per_m2(const long off[3], vs_vec3 size, const double *even) {
    vs_vec3 apart_m = {(double)labs(off[0]) * size.x, (double)labs(off[1]) * size.y,
                       (double)labs(off[2]) * size.z};
    double square = vs_vec3_dot(apart_m, apart_m), sum = 0;
    if (labs(off[0]) > 1 || labs(off[1]) > 1 || labs(off[2]) > 1) {
        return (1 + vs_vec3_dot(size, size) / (18 * square)) / square;
    }
    for (size_t i = 1; i < PAIRS; i++) { /* the first pair is one place */
        const double *e = even + 6 * i;
        vs_vec3 d = {apart_m.x + size.x * (e[3] - e[0]), apart_m.y + size.y * (e[4] - e[1]),
                     apart_m.z + size.z * (e[5] - e[2])};
        sum += 1 / vs_vec3_dot(d, d);
    }
    return sum / (PAIRS - 1);
}

static vs_status fill_offsets(vs_air *air, size_t room, const double *even) {
    const vs_cell_grid *g = &air->mesh->cells[room];
    vs_air_room *r = &air->room[room];
    vs_vec3 size = vs_mesh_cell_size(g);
    vs_status status = VS_OK;
    for (size_t i = 0; i < r->offsets[0] * r->offsets[1] * r->offsets[2] && status == VS_OK; i++) {
        const long off[3] = {(long)(i % r->offsets[0]) - (long)g->count[0] + 1,
                             (long)(i / r->offsets[0] % r->offsets[1]) - (long)g->count[1] + 1,
                             (long)(i / r->offsets[0] / r->offsets[1]) - (long)g->count[2] + 1};
        vs_air_offset *offset = &air->offset[r->offset_first + i];
        vs_vec3 apart_m = {(double)off[0] * size.x, (double)off[1] * size.y,
                           (double)off[2] * size.z};
        offset->per_m2 = mean_per_m2(off, size, even);
        /* the mean distance within a cell, weighted by 1/distance^2, is about half its mean side */
        offset->away_m = fmax(vs_vec3_length(apart_m), 0.5 * cbrt(size.x * size.y * size.z));
        status = add_directions(air, offset, off, size);
    }
    return status;
}

static void fill_open(vs_air *air, size_t room) {
    const vs_cell_grid *g = &air->mesh->cells[room];
    vs_air_room *r = &air->room[room];
    size_t count = vs_mesh_cell_count(g);
    for (size_t i = 0; i < count * count && r->blocked; i++) {
        air->open[r->pair_first + i] = (float)vs_space_past_blockers(
            air->mesh->space, vs_mesh_cell_middle(g, i / count), vs_mesh_cell_middle(g, i % count));
    }
}

/* ---- from cell to patch ---- */

/* The view's solid angles as shares, scaled to 4 pi in all. */
static vs_status look_about(vs_air *air, vs_room_view *view, size_t room, size_t cell) {
    const vs_mesh *mesh = air->mesh;
    const vs_air_room *r = &air->room[room];
    vs_vec3 at_m = vs_mesh_cell_middle(&mesh->cells[room], cell);
    size_t first = r->solid_first + cell * r->stride;
    double sum = 0;
    vs_room_view_make(view, mesh, &room, at_m, NULL, 0);
    for (size_t p = 0; p < r->patch_count; p++) {
        sum += (double)(view->solid_sr[p] * view->open[p] * view->presence[p]);
    }
    vs_status status = VS_OK;
    for (size_t p = 0; p < r->patch_count && status == VS_OK; p++) {
        double sr = (double)(view->solid_sr[p] * view->open[p]) * 4 * VS_PI / sum;
        double x = view->x_sr[p], y = view->y_sr[p], z = view->z_sr[p];
        double per = 1 / (sqrt(x * x + y * y + z * z) + 1e-300);
        air->solid_sr[first + p] = (float)sr;
        air->away_m[first + p] = (float)view->away_m[p];
        air->to[0][first + p] = (float)(x * per);
        air->to[1][first + p] = (float)(y * per);
        air->to[2][first + p] = (float)(z * per);
        if (sr > 0 && mesh->patch[r->patch_first + p].opening != VS_MESH_NONE) {
            status = vs_see_through(mesh, &air->behind, mesh->cells[room].first + cell, at_m,
                                    r->patch_first + p, sr);
        }
    }
    return status;
}

static vs_status fill_room(vs_air *air, vs_room_view *view, size_t room, const double *even) {
    const vs_mesh *mesh = air->mesh;
    vs_status status = fill_offsets(air, room, even);
    for (size_t c = 0; c < vs_mesh_cell_count(&mesh->cells[room]) && status == VS_OK; c++) {
        status = look_about(air, view, room, c);
    }
    fill_open(air, room);
    return status;
}

static void lay_out(vs_air *air) {
    const vs_mesh *mesh = air->mesh;
    for (size_t room = 0; room < mesh->space->room_count; room++) {
        const vs_cell_grid *g = &mesh->cells[room];
        size_t cells = vs_mesh_cell_count(g), first = mesh->room_first[room];
        size_t patches = mesh->room_first[room + 1] - first;
        vs_air_room *r = &air->room[room];
        const vs_air_room fresh = {.patch_first = first,
                                   .patch_count = patches,
                                   .stride = whole_lanes(patches),
                                   .solid_first = air->solid_count,
                                   .pair_first = air->pair_count,
                                   .offset_first = air->offset_count};
        *r = fresh;
        air->solid_count += cells * r->stride;
        air->stride_most = r->stride > air->stride_most ? r->stride : air->stride_most;
        air->pair_count += cells * cells;
        for (int axis = 0; axis < 3; axis++) {
            r->offsets[axis] = 2 * g->count[axis] - 1;
        }
        air->offset_count += r->offsets[0] * r->offsets[1] * r->offsets[2];
    }
    for (size_t i = 0; i < mesh->space->blocker_count; i++) {
        size_t room = vs_space_room_at(mesh->space, mesh->space->blocker[i].rect.center_m);
        if (room != VS_SPACE_OUTSIDE) {
            air->room[room].blocked = true;
        }
    }
}

static vs_status allocate(vs_air *air) {
    size_t size = air->solid_count;
    const vs_array arrays[] = {VS_ARRAY(air->solid_sr, size),
                               VS_ARRAY(air->away_m, size),
                               VS_ARRAY(air->to[0], size),
                               VS_ARRAY(air->to[1], size),
                               VS_ARRAY(air->to[2], size),
                               VS_ARRAY(air->open, air->pair_count),
                               VS_ARRAY(air->offset, air->offset_count)};
    air->block = vs_arrays_make(arrays, sizeof arrays / sizeof *arrays);
    return air->block ? VS_OK : VS_ERR_MEMORY;
}

vs_status vs_air_init(vs_air *air, const vs_mesh *mesh) {
    const vs_air blank = {.mesh = mesh};
    double *even = malloc((size_t)6 * PAIRS * sizeof *even);
    vs_room_view view = {0};
    *air = blank;
    air->room = calloc(mesh->space->room_count + 1, sizeof *air->room);
    vs_status status = even && air->room ? VS_OK : VS_ERR_MEMORY;
    if (status == VS_OK) {
        lay_out(air);
        status = allocate(air);
    }
    status = status == VS_OK ? vs_room_view_init(&view, mesh) : status;
    status = status == VS_OK ? vs_sobol_points(6, PAIRS, even) : status;
    for (size_t room = 0; room < mesh->space->room_count && status == VS_OK; room++) {
        status = fill_room(air, &view, room, even);
    }
    status = status == VS_OK ? vs_behind_end(&air->behind) : status;
    vs_room_view_free(&view);
    free(even);
    if (status != VS_OK) {
        vs_air_free(air);
    }
    return status;
}

void vs_air_free(vs_air *air) {
    const vs_air blank = {0};
    free(air->room);
    free(air->block);
    free(air->direction);
    vs_behind_free(&air->behind);
    *air = blank;
}
