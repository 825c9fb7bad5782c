/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Per patch i: L_i = L0_i + reflectance_i presence_i sum over j of F_ij exp(-k s_ij) L_j. Form
 * factors are seen from the patches' middles and then scaled to reciprocity and to sums of 1, so
 * that no light is lost or gained. */
#include "light/transport/radiosity.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/arrays.h"
#include "base/lanes.h"
#include "light/mesh/room_view.h"
#include "veilstop/light/form_factor.h"

#define NEAR_WALLS 1.0 /* [1] of two patches' sizes together */
#define PLACES     2   /* along a side of a patch, for the mean distance to a near one */
#define BALANCINGS 12  /* of form factors; sums are then within 1e-4 */

/* ---- rows ---- */

static size_t room_patches(const vs_mesh *mesh, size_t room) {
    return mesh->room_first[room + 1] - mesh->room_first[room];
}

/* One of PLACES x PLACES even places on a patch. */
static vs_vec3 place_on(const vs_rect *r, int place) {
    double u = (2 * (place % PLACES) + 1.0) / PLACES - 1,
           v = (2 * (place / PLACES) + 1.0) / PLACES - 1;
    vs_vec3 p = vs_vec3_along(r->center_m, r->u, u * r->half_u_m);
    return vs_vec3_along(p, r->v, v * r->half_v_m);
}

static void see_room(vs_radiosity *r, vs_room_view *view, size_t room) {
    const vs_mesh *mesh = r->mesh;
    size_t first = mesh->room_first[room], count = room_patches(mesh, room);
    for (size_t i = 0; i < count; i++) {
        const vs_patch *patch = &mesh->patch[first + i];
        vs_vec3 at_m = vs_vec3_along(patch->rect.center_m, patch->rect.normal, 2 * VS_SPACE_SKIN_M);
        size_t row = r->block[room] + i * count;
        vs_room_view_make(view, mesh, &room, at_m, NULL, 0);
        vs_room_view_worths(view, NULL, patch->rect.normal);
        for (size_t j = 0; j < count; j++) {
            r->form_factor[row + j] = (double)view->worth[0][j];
            r->length_m[row + j] = view->away_m[j];
        }
    }
}

/* Mean distance of light between two patches, from a few places on each; 0: they do not face each
 * other. */
static double mean_length_m(const vs_patch *a, const vs_patch *b) {
    double sum = 0, weight = 0;
    for (int i = 0; i < PLACES * PLACES; i++) {
        vs_vec3 from_m = place_on(&a->rect, i);
        for (int j = 0; j < PLACES * PLACES; j++) {
            vs_vec3 d = vs_vec3_sub(place_on(&b->rect, j), from_m);
            double square = vs_vec3_dot(d, d);
            double facing = -vs_vec3_dot(d, a->rect.normal) * vs_vec3_dot(d, b->rect.normal);
            double w = fmax(0, facing) / (square * square);
            sum += w * sqrt(square);
            weight += w;
        }
    }
    return weight > 0 ? sum / weight : 0;
}

/* Patches of walls so near to each other that their middles do not stand for them: in closed
 * form. */
static void see_near_walls(vs_radiosity *r, size_t room) {
    const vs_mesh *mesh = r->mesh;
    const vs_patch *patch = &mesh->patch[mesh->room_first[room]];
    size_t count = room_patches(mesh, room), block = r->block[room];
    for (size_t i = 0; i < count; i++) {
        for (size_t j = 0; j < i; j++) {
            double *ij = &r->form_factor[block + i * count + j];
            double *ji = &r->form_factor[block + j * count + i];
            bool walls = patch[i].blocker == VS_MESH_NONE && patch[j].blocker == VS_MESH_NONE;
            double sizes_m = patch[i].size_m + patch[j].size_m;
            if (walls && *ij > 0 && *ji > 0 &&
                (double)r->length_m[block + i * count + j] < NEAR_WALLS * sizes_m) {
                double area_m2 = vs_form_factor_area_m2(&patch[i].rect, &patch[j].rect);
                *ij = area_m2 / patch[i].area_m2;
                *ji = area_m2 / patch[j].area_m2;
                r->length_m[block + i * count + j] = r->length_m[block + j * count + i] =
                    (float)mean_length_m(&patch[i], &patch[j]);
            }
        }
    }
}

/* The area of a patch that stops light. */
static double weight_m2(const vs_patch *patch) {
    return patch->area_m2 * patch->presence;
}

LANES_INLINE double dot(const double *a, const double *b, size_t count) {
    double sum[LANES] = {0}, rest = 0;
    size_t n = 0;
    for (; n + LANES <= count; n += LANES) {
        EACH_LANE(l) {
            sum[l] += a[n + (size_t)l] * b[n + (size_t)l];
        }
    }
    for (; n < count; n++) {
        rest += a[n] * b[n];
    }
    return lanes_sum(sum) + rest;
}

/* Scales a symmetric matrix so that its rows, and so its columns, have the sums due.
 *     by, was  scratch, one a row */
LANES_CLONES static void balance_rows(const double *due, size_t count, double *f, double *by,
                                      double *was) {
    for (size_t i = 0; i < count; i++) {
        by[i] = 1;
    }
    for (int n = 0; n < BALANCINGS; n++) {
        for (size_t i = 0; i < count; i++) {
            was[i] = by[i];
        }
        for (size_t i = 0; i < count; i++) {
            double sum = was[i] * dot(f + i * count, was, count);
            by[i] = sum > 0 ? was[i] * sqrt(due[i] / sum) : 0;
        }
    }
    for (size_t i = 0; i < count; i++) {
        for (size_t j = 0; j < count; j++) {
            f[i * count + j] *= by[i] * by[j];
        }
    }
}

/* Makes A_i p_i F_ij p_j symmetric, with rows that sum to A_i p_i. */
static vs_status balance(vs_radiosity *r, size_t room) {
    const vs_patch *patch = &r->mesh->patch[r->mesh->room_first[room]];
    size_t count = room_patches(r->mesh, room);
    double *f = r->form_factor + r->block[room];
    double *due = calloc(3 * count + 1, sizeof *due);
    if (!due) {
        return VS_ERR_MEMORY;
    }
    for (size_t i = 0; i < count; i++) {
        due[i] = weight_m2(&patch[i]);
        for (size_t j = 0; j <= i; j++) {
            double ij = weight_m2(&patch[i]) * f[i * count + j] * patch[j].presence;
            double ji = weight_m2(&patch[j]) * f[j * count + i] * patch[i].presence;
            f[i * count + j] = f[j * count + i] = (ij + ji) / 2;
        }
    }
    balance_rows(due, count, f, due + count, due + 2 * count);
    for (size_t i = 0; i < count; i++) {
        for (size_t j = 0; j < count; j++) {
            double by = weight_m2(&patch[i]) * patch[j].presence;
            f[i * count + j] = by > 0 ? f[i * count + j] / by : 0;
        }
    }
    free(due);
    return VS_OK;
}

/* Scales distances to the room's mean chord, 4 volume/surface (Cauchy's theorem): haze then takes
 * its exact part of uniform light. */
static void scale_lengths(vs_radiosity *r, size_t room) {
    const vs_mesh *mesh = r->mesh;
    const vs_patch *patch = &mesh->patch[mesh->room_first[room]];
    vs_vec3 size = vs_vec3_sub(mesh->space->room[room].high_m, mesh->space->room[room].low_m);
    size_t count = room_patches(mesh, room), block = r->block[room];
    double sum = 0;
    for (size_t i = 0; i < count; i++) {
        for (size_t j = 0; j < count; j++) {
            size_t at = block + i * count + j;
            sum += weight_m2(&patch[i]) * r->form_factor[at] * patch[j].presence *
                   (double)r->length_m[at];
        }
    }
    float scale = (float)(4 * size.x * size.y * size.z / sum);
    for (size_t i = 0; i < count * count; i++) {
        r->length_m[block + i] *= scale;
    }
}

/* What is seen behind the room's openings. */
static vs_status open_openings(vs_radiosity *r, size_t room) {
    const vs_mesh *mesh = r->mesh;
    size_t first = mesh->room_first[room], count = room_patches(mesh, room);
    const double *f = r->form_factor + r->block[room];
    vs_status status = VS_OK;
    for (size_t i = 0; i < count * count && status == VS_OK; i++) {
        size_t row = first + i / count, seen = first + i % count;
        if (mesh->patch[seen].opening != VS_MESH_NONE && f[i] > 0) {
            status =
                vs_see_through(mesh, &r->behind, row, mesh->patch[row].rect.center_m, seen, f[i]);
        }
    }
    return status;
}

static vs_status fill(vs_radiosity *r) {
    const vs_mesh *mesh = r->mesh;
    vs_room_view view;
    vs_status status = vs_room_view_init(&view, mesh);
    for (size_t room = 0; room < mesh->space->room_count && status == VS_OK; room++) {
        see_room(r, &view, room);
        see_near_walls(r, room);
        status = balance(r, room);
        scale_lengths(r, room);
        if (status == VS_OK) {
            status = open_openings(r, room);
        }
    }
    vs_room_view_free(&view);
    return status == VS_OK ? vs_behind_end(&r->behind) : status;
}

vs_status vs_radiosity_init(vs_radiosity *r, const vs_mesh *mesh) {
    const vs_radiosity blank = {.mesh = mesh};
    size_t rooms = mesh->space->room_count, size = 0;
    for (size_t room = 0; room < rooms; room++) {
        size += room_patches(mesh, room) * room_patches(mesh, room);
    }
    *r = blank;
    const vs_array arrays[] = {VS_ARRAY(r->block, rooms + 1), VS_ARRAY(r->form_factor, size),
                               VS_ARRAY(r->length_m, size),
                               VS_ARRAY(r->presence, mesh->patch_count)};
    r->memory = vs_arrays_make(arrays, sizeof arrays / sizeof *arrays);
    if (!r->memory) {
        return VS_ERR_MEMORY;
    }
    for (size_t room = 0; room < rooms; room++) {
        r->block[room + 1] = r->block[room] + room_patches(mesh, room) * room_patches(mesh, room);
    }
    for (size_t i = 0; i < mesh->patch_count; i++) {
        r->presence[i] = mesh->patch[i].presence;
    }
    vs_status status = fill(r);
    if (status != VS_OK) {
        vs_radiosity_free(r);
    }
    return status;
}

void vs_radiosity_free(vs_radiosity *r) {
    const vs_radiosity blank = {0};
    free(r->memory);
    vs_behind_free(&r->behind);
    *r = blank;
}
