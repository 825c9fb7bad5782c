/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Per patch i: L_i = L0_i + reflectance_i presence_i sum over j of F_ij exp(-k s_ij) L_j. Form
 * factors are seen from the patches' middles and then brought to reciprocity and to sums of 1,
 * so that no light is lost or found. */
#include "light/transport/radiosity.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/growable.h"
#include "light/geometry/ray_casting.h"
#include "veilstop/light/form_factor.h"

#define NEAR_WALLS   1.0  /* [1] of two patches' sizes together */
#define PLACES       2    /* along a side of a patch, for the mean distance to a near one */
#define BALANCINGS   12   /* of form factors; sums are then within 1e-4 */
#define PART_SR      0.08 /* [sr] parts of openings are about as large; measured: docs/accuracy.md */
#define PARTS_A_SIDE 6

/* ---- ways through openings ---- */

/* Notes that the way enters a room. False: too many openings in one line. */
static bool enter(vs_way_through *out, size_t room, vs_vec3 door_m) {
    if (room == VS_SPACE_OUTSIDE || out->room_count == VS_SPACE_CROSSING_MAX) {
        return false;
    }
    out->room[out->room_count] = room;
    out->door_m[out->room_count] = door_m;
    out->door_open[out->room_count] = out->open;
    out->length_m[out->room_count++] = 0;
    return true;
}

void vs_camera_setup_through(const vs_mesh *mesh, size_t room, size_t portal, vs_vec3 p_m,
                             vs_vec3 way, vs_way_through *out) {
    const vs_space *space = mesh->space;
    const vs_way_through fresh = {.patch = VS_MESH_NONE, .open = 1};
    *out = fresh;
    for (;;) {
        out->open *= space->opening[portal].transmittance;
        room = vs_opening_beyond(&space->opening[portal], room);
        if (!enter(out, room, p_m)) {
            return;
        }
        vs_ray_event next = {VS_RAY_MEETS_BLOCKER, 0, 0, 0};
        while (next.end == VS_RAY_MEETS_BLOCKER) {
            next = vs_ray_next_event(space, p_m, way, room);
            p_m = vs_vec3_along(p_m, way, next.length_m);
            out->length_m[out->room_count - 1] += next.length_m;
            if (next.end != VS_RAY_MEETS_BLOCKER) {
                break;
            }
            const vs_blocker *screen = &space->blocker[next.index];
            if (screen->transmittance == 0) {
                bool front = vs_vec3_dot(way, screen->rect.normal) < 0;
                out->patch = vs_mesh_screen_patch(mesh, next.index, front, p_m);
                return;
            }
            out->open *= screen->transmittance;
        }
        if (next.end == VS_RAY_MEETS_WALL) {
            out->patch = vs_mesh_face_patch(mesh, room, next.face, p_m);
            return;
        }
        if (next.end == VS_RAY_MEETS_NOTHING) {
            return;
        }
        portal = next.index;
    }
}

void vs_opening_parts_of(const vs_rect *opening, vs_vec3 from_m, vs_opening_parts *parts) {
    vs_vec3 d = vs_vec3_sub(opening->center_m, from_m);
    double area_m2 = 4 * opening->half_u_m * opening->half_v_m, sum = 0;
    double a_side = ceil(sqrt(area_m2 / (vs_vec3_dot(d, d) * PART_SR)));
    size_t side = (size_t)fmin(fmax(a_side, 1), PARTS_A_SIDE);
    parts->count = side * side;
    for (size_t i = 0; i < parts->count; i++) {
        double u = 2 * ((double)(i % side) + 0.5) / (double)side - 1;
        double v = 2 * ((double)(i / side) + 0.5) / (double)side - 1;
        vs_vec3 p = vs_vec3_along(opening->center_m, opening->u, u * opening->half_u_m);
        p = vs_vec3_along(p, opening->v, v * opening->half_v_m);
        vs_vec3 way = vs_vec3_sub(p, from_m);
        double square = vs_vec3_dot(way, way) + area_m2 / (4 * (double)parts->count);
        parts->at_m[i] = p;
        parts->share[i] = 1 / (square * sqrt(square));
        sum += parts->share[i];
    }
    for (size_t i = 0; i < parts->count; i++) {
        parts->share[i] /= sum;
    }
}

/* ---- rows ---- */

static size_t room_patches(const vs_mesh *mesh, size_t room) {
    return mesh->room_first[room + 1] - mesh->room_first[room];
}

static bool sees_the_same(const vs_row_through *a, const vs_row_through *b) {
    return a->patch == b->patch && (a->patch != VS_ROW_AIR || a->cell == b->cell) &&
           a->room_count == b->room_count &&
           memcmp(a->room, b->room, a->room_count * sizeof *a->room) == 0;
}

/* Makes of two that see the same one in the middle of both. */
static void join(vs_row_through *all, const vs_row_through *one) {
    float share = one->weight / (all->weight + one->weight);
    all->weight += one->weight;
    for (uint32_t i = 0; i < all->room_count; i++) {
        all->length_m[i] += share * (one->length_m[i] - all->length_m[i]);
    }
    for (int n = 0; n < VS_SH_COUNT; n++) {
        all->harmonic[n] += share * (one->harmonic[n] - all->harmonic[n]);
    }
}

/* first: of those that may see the same; what is shut is not seen */
static vs_status add_through(vs_throughs *all, size_t first, const vs_row_through *through) {
    if (!(through->weight > 0)) {
        return VS_OK;
    }
    for (size_t i = first; i < all->count; i++) {
        if (sees_the_same(&all->item[i], through)) {
            join(&all->item[i], through);
            return VS_OK;
        }
    }
    vs_row_through *list = vs_growable_reserve(all->item, all->count, &all->size, sizeof *list);
    if (!list) {
        return VS_ERR_MEMORY;
    }
    all->item = list;
    all->item[all->count++] = *through;
    return VS_OK;
}

/* What is seen from a place past one of an opening. */
static vs_status see_past(const vs_mesh *mesh, vs_throughs *all, size_t first, vs_row_through t,
                          size_t portal, vs_vec3 at_m, vs_vec3 way) {
    vs_way_through seen;
    float weight = t.weight;
    vs_status status = VS_OK;
    vs_camera_setup_through(mesh, t.room[0], portal, at_m, way, &seen);
    for (size_t i = 0; i < seen.room_count && t.room_count < 4 && status == VS_OK; i++) {
        t.patch = VS_ROW_AIR; /* the air behind this opening */
        t.cell = (uint32_t)vs_mesh_cell(mesh, seen.room[i], seen.door_m[i]);
        t.weight = weight * (float)seen.door_open[i];
        status = add_through(all, first, &t);
        t.room[t.room_count] = (uint16_t)seen.room[i];
        t.length_m[t.room_count++] = (float)seen.length_m[i];
    }
    if (status == VS_OK && seen.patch != VS_MESH_NONE) {
        t.patch = (uint32_t)seen.patch;
        t.weight = weight * (float)seen.open;
        status = add_through(all, first, &t);
    }
    return status;
}

vs_status vs_see_through(const vs_mesh *mesh, vs_throughs *all, size_t row, vs_vec3 from_m,
                         size_t opening, double weight) {
    const vs_patch *patch = &mesh->patch[opening];
    size_t first = all->count;
    while (first > 0 && all->item[first - 1].row == row) {
        first--;
    }
    vs_opening_parts parts;
    vs_status status = VS_OK;
    vs_opening_parts_of(&patch->rect, from_m, &parts);
    for (size_t i = 0; i < parts.count && status == VS_OK; i++) {
        vs_vec3 way = vs_vec3_sub(parts.at_m[i], from_m);
        double length_m = vs_vec3_length(way), y[VS_SH_COUNT];
        vs_row_through t = {.row = (uint32_t)row, .room_count = 1, .room = {(uint16_t)patch->room}};
        way = vs_vec3_scale(way, 1 / length_m);
        t.weight = (float)(weight * parts.share[i]);
        t.length_m[0] = (float)length_m;
        vs_sh(vs_vec3_scale(way, -1), y);
        for (int n = 0; n < VS_SH_COUNT; n++) {
            t.harmonic[n] = (float)y[n];
        }
        status = see_past(mesh, all, first, t, patch->portal, parts.at_m[i], way);
    }
    return status;
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
        vs_room_view_make(view, mesh, room, at_m);
        vs_room_view_facing(view, patch->rect.normal);
        for (size_t j = 0; j < count; j++) {
            r->form_factor[row + j] = (double)view->worth[0][j];
            r->length_m[row + j] = view->away_m[j];
        }
    }
}

/* Mean distance of light between two patches, told by a few places on each; 0: they do not face
 * each other. */
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

/* Patches of walls so near to one another that their middles do not tell: in closed form. */
static void see_near_walls(vs_radiosity *r, size_t room) {
    const vs_mesh *mesh = r->mesh;
    const vs_patch *patch = &mesh->patch[mesh->room_first[room]];
    size_t count = room_patches(mesh, room), block = r->block[room];
    for (size_t i = 0; i < count; i++) {
        for (size_t j = 0; j < i; j++) {
            double *ij = &r->form_factor[block + i * count + j];
            double *ji = &r->form_factor[block + j * count + i];
            bool walls = patch[i].screen == VS_MESH_NONE && patch[j].screen == VS_MESH_NONE;
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

/* Area that a patch stops light with. */
static double weight_m2(const vs_patch *patch) {
    return patch->area_m2 * patch->presence;
}

/* Brings A_i p_i F_ij p_j to symmetry and to rows that sum to A_i p_i. */
static vs_status balance(vs_radiosity *r, size_t room) {
    const vs_patch *patch = &r->mesh->patch[r->mesh->room_first[room]];
    size_t count = room_patches(r->mesh, room);
    double *f = r->form_factor + r->block[room];
    double *scale = calloc(count + 1, sizeof *scale);
    if (!scale) {
        return VS_ERR_MEMORY;
    }
    for (size_t i = 0; i < count; i++) {
        for (size_t j = 0; j <= i; j++) {
            double ij = weight_m2(&patch[i]) * f[i * count + j] * patch[j].presence;
            double ji = weight_m2(&patch[j]) * f[j * count + i] * patch[i].presence;
            f[i * count + j] = f[j * count + i] = (ij + ji) / 2;
        }
    }
    for (int n = 0; n < BALANCINGS; n++) {
        for (size_t i = 0; i < count; i++) {
            double sum = 0;
            for (size_t j = 0; j < count; j++) {
                sum += f[i * count + j];
            }
            scale[i] = sum > 0 ? sqrt(weight_m2(&patch[i]) / sum) : 0;
        }
        for (size_t i = 0; i < count * count; i++) {
            f[i] *= scale[i / count] * scale[i % count];
        }
    }
    for (size_t i = 0; i < count * count; i++) {
        double by = weight_m2(&patch[i / count]) * patch[i % count].presence;
        f[i] = by > 0 ? f[i] / by : 0;
    }
    free(scale);
    return VS_OK;
}

/* Brings distances to the room's mean chord, 4 volume/surface (Cauchy's theorem): haze then takes
 * of even light what it is due. */
static void scale_lengths(vs_radiosity *r, size_t room) {
    const vs_mesh *mesh = r->mesh;
    const vs_patch *patch = &mesh->patch[mesh->room_first[room]];
    vs_vec3 size = vs_vec3_sub(mesh->space->room[room].high_m, mesh->space->room[room].low_m);
    size_t count = room_patches(mesh, room), block = r->block[room];
    double sum = 0;
    for (size_t i = 0; i < count * count; i++) {
        sum += weight_m2(&patch[i / count]) * r->form_factor[block + i] *
               patch[i % count].presence * (double)r->length_m[block + i];
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
        if (mesh->patch[seen].portal != VS_MESH_NONE && f[i] > 0 &&
            mesh->patch[row].reflectance > 0 && mesh->patch[row].portal == VS_MESH_NONE) {
            status =
                vs_see_through(mesh, &r->through, row, mesh->patch[row].rect.center_m, seen, f[i]);
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
    return status;
}

vs_status vs_radiosity_init(vs_radiosity *r, const vs_mesh *mesh) {
    const vs_radiosity blank = {.mesh = mesh};
    size_t rooms = mesh->space->room_count, size = 0;
    *r = blank;
    r->block = calloc(rooms + 1, sizeof *r->block);
    for (size_t room = 0; r->block && room < rooms; room++) {
        r->block[room] = size;
        size += room_patches(mesh, room) * room_patches(mesh, room);
        r->block[room + 1] = size;
    }
    r->form_factor = calloc(size + 1, sizeof *r->form_factor);
    r->length_m = calloc(size + 1, sizeof *r->length_m);
    r->presence = calloc(mesh->patch_count + 1, sizeof *r->presence);
    for (size_t i = 0; r->presence && i < mesh->patch_count; i++) {
        r->presence[i] = mesh->patch[i].presence;
    }
    vs_status status =
        r->block && r->form_factor && r->length_m && r->presence ? fill(r) : VS_ERR_MEMORY;
    if (status != VS_OK) {
        vs_radiosity_free(r);
    }
    return status;
}

void vs_radiosity_free(vs_radiosity *r) {
    const vs_radiosity blank = {0};
    free(r->block);
    free(r->form_factor);
    free(r->length_m);
    free(r->presence);
    free(r->through.item);
    *r = blank;
}

/* ---- solving ---- */

vs_status vs_radiosity_work_init(vs_radiosity_work *work, const vs_radiosity *r) {
    const vs_radiosity_work blank = {0};
    size_t patches = r->mesh->patch_count;
    *work = blank;
    work->weight = calloc(r->block[r->mesh->space->room_count] + LANES, sizeof *work->weight);
    work->through = calloc(r->through.count + 1, sizeof *work->through);
    work->taken = calloc(patches + 1, sizeof *work->taken);
    work->column = calloc(patches + 1, sizeof *work->column);
    work->source = calloc(patches * LANES + LANES, sizeof *work->source);
    work->behind = calloc(patches * LANES + LANES, sizeof *work->behind);
    work->nits = calloc(patches * LANES + LANES, sizeof *work->nits);
    if (!work->weight || !work->through || !work->taken || !work->column || !work->source ||
        !work->nits || !work->behind) {
        vs_radiosity_work_free(work);
        return VS_ERR_MEMORY;
    }
    return VS_OK;
}

void vs_radiosity_work_free(vs_radiosity_work *work) {
    const vs_radiosity_work blank = {0};
    free(work->weight);
    free(work->through);
    free(work->taken);
    free(work->column);
    free(work->source);
    free(work->nits);
    free(work->behind);
    *work = blank;
}
