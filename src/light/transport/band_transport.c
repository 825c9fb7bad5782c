/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See band_transport.h. */
#include "light/transport/band_transport.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/arrays.h"

#define GREEN   VS_BAND_GREEN
#define DEGREES (VS_SH_ORDER + 1)
/* Less light than that gives no ratio; our choice. */
#define SHARE_OF_FIRST 1e-3f /* [1] of the first degree's square */
#define SHARE_OF_ROOM  0.02  /* [1] of a room's mean */

/* ---- the coarse mesh ---- */

/* Both meshes have the same grids, cut differently. */
static void place_patches(vs_coarse *c, const vs_mesh *fine, size_t grid) {
    const vs_patch_grid *from = &fine->grid[grid], *to = &c->mesh.grid[grid];
    for (size_t i = from->first; from->u && i < from->first + from->u_count * from->v_count; i++) {
        vs_vec3 at_m = fine->patch[i].rect.center_m;
        size_t about[4];
        double share[4];
        vs_patch_grid_about(to, at_m, about, share);
        c->patch_of[i] = (uint32_t)vs_patch_grid_at(to, at_m);
        for (int n = 0; n < 4; n++) {
            c->patches[i].patch[n] = (uint32_t)about[n];
            c->patches[i].share[n] = (float)share[n];
        }
    }
}

/* Brings a place no nearer to a box's sides than half of a coarse cell: cells' light is laid between
 * their middles, not beyond. */
static vs_vec3 between_middles(const vs_cell_grid *g, vs_vec3 p) {
    vs_vec3 half = vs_vec3_scale(vs_mesh_cell_size(g), 0.5);
    vs_vec3 low = vs_vec3_add(g->box.low_m, half), high = vs_vec3_sub(g->box.high_m, half);
    vs_vec3 in = {fmin(fmax(p.x, low.x), high.x), fmin(fmax(p.y, low.y), high.y),
                  fmin(fmax(p.z, low.z), high.z)};
    return in;
}

static void place_cells(vs_coarse *c, const vs_mesh *fine, size_t room) {
    const vs_cell_grid *g = &fine->cells[room];
    for (size_t i = 0; i < vs_mesh_cell_count(g); i++) {
        vs_vec3 at_m = vs_mesh_cell_middle(g, i);
        vs_coarse_cells *cells = &c->cells[g->first + i];
        c->cell_of[g->first + i] = (uint32_t)vs_mesh_cell(&c->mesh, room, at_m);
        vs_mesh_cells_about(&c->mesh, room, between_middles(&c->mesh.cells[room], at_m),
                            cells->cell, cells->share);
    }
}

static vs_status place(vs_coarse *c, const vs_mesh *fine) {
    const vs_array arrays[] = {
        VS_ARRAY(c->patch_of, fine->patch_count), VS_ARRAY(c->cell_of, fine->cell_count),
        VS_ARRAY(c->patches, fine->patch_count), VS_ARRAY(c->cells, fine->cell_count)};
    c->block = vs_arrays_make(arrays, sizeof arrays / sizeof *arrays);
    if (!c->block) {
        return VS_ERR_MEMORY;
    }
    for (size_t grid = 0; grid < fine->grid_count; grid++) {
        place_patches(c, fine, grid);
    }
    for (size_t room = 0; room < fine->space->room_count; room++) {
        place_cells(c, fine, room);
    }
    return VS_OK;
}

vs_status vs_coarse_init(vs_coarse *c, const vs_mesh *fine, const vs_surfaces *surfaces) {
    const vs_coarse blank = {0};
    *c = blank;
    vs_status status = vs_mesh_init(&c->mesh, fine->space, surfaces, VS_MESH_COARSE);
    status = status == VS_OK ? vs_radiosity_init(&c->radiosity, &c->mesh) : status;
    status = status == VS_OK ? vs_air_init(&c->air, &c->mesh) : status;
    status = status == VS_OK ? place(c, fine) : status;
    if (status != VS_OK) {
        vs_coarse_free(c);
    }
    return status;
}

void vs_coarse_free(vs_coarse *c) {
    const vs_coarse blank = {0};
    vs_radiosity_free(&c->radiosity);
    vs_air_free(&c->air);
    vs_mesh_free(&c->mesh);
    free(c->block);
    *c = blank;
}

/* ---- memory ---- */

vs_status vs_band_transport_init(vs_band_transport *t, const vs_coarse *coarse,
                                 const vs_radiosity *radiosity, const vs_air *air) {
    const vs_band_transport fresh = {.location = coarse};
    size_t patches = coarse->mesh.patch_count * LANES, cells = coarse->mesh.cell_count;
    size_t arrays = 0;
    vs_array array[1 + 2 * (PATCH_KINDS + CELL_KINDS)];
    *t = fresh;
    array[arrays++] = (vs_array)VS_ARRAY(t->direct_nits, air->mesh->patch_count * LANES);
    for (int kind = 0; kind < PATCH_KINDS; kind++) {
        array[arrays++] = (vs_array)VS_ARRAY(t->green.patch[kind], patches);
        array[arrays++] = (vs_array)VS_ARRAY(t->band.patch[kind], patches);
    }
    for (int kind = 0; kind < CELL_KINDS; kind++) {
        array[arrays++] = (vs_array)VS_ARRAY(t->green.cell[kind], cells * VS_AIR_MOMENTS);
        array[arrays++] = (vs_array)VS_ARRAY(t->band.cell[kind], cells * VS_AIR_MOMENTS);
    }
    t->block = vs_arrays_make(array, arrays);
    vs_status status = t->block ? vs_transport_init(&t->fine, radiosity, air) : VS_ERR_MEMORY;
    status =
        status == VS_OK ? vs_transport_init(&t->coarse, &coarse->radiosity, &coarse->air) : status;
    if (status != VS_OK) {
        vs_band_transport_free(t);
    }
    return status;
}

void vs_band_transport_free(vs_band_transport *t) {
    const vs_band_transport blank = {0};
    vs_transport_free(&t->fine);
    vs_transport_free(&t->coarse);
    free(t->block);
    *t = blank;
}

/* ---- solving on the coarse mesh ---- */

/* Brings light straight from lamps from the fine mesh to the coarse one, none of it lost. */
static void coarsen(vs_band_transport *t) {
    const vs_mesh *fine = t->fine.air->mesh, *coarse = t->coarse.air->mesh;
    size_t moments = coarse->cell_count * VS_AIR_MOMENTS;
    memset(t->coarse.step_nits, 0, coarse->patch_count * LANES * sizeof *t->coarse.step_nits);
    memset(t->coarse.lamp, 0, moments * sizeof *t->coarse.lamp);
    for (size_t i = 0; i < fine->patch_count; i++) {
        size_t of = t->location->patch_of[i];
        double share = fine->patch[i].area_m2 / coarse->patch[of].area_m2;
        for (size_t l = 0; l < LANES; l++) {
            t->coarse.step_nits[of * LANES + l] += share * t->fine.step_nits[i * LANES + l];
        }
    }
    for (size_t room = 0; room < fine->space->room_count; room++) {
        const vs_cell_grid *g = &fine->cells[room];
        float share =
            (float)(vs_mesh_cell_volume_m3(g) / vs_mesh_cell_volume_m3(&coarse->cells[room]));
        for (size_t i = g->first; i < g->first + vs_mesh_cell_count(g); i++) {
            float *to = t->coarse.lamp + t->location->cell_of[i] * VS_AIR_MOMENTS;
            for (size_t n = 0; n < VS_AIR_MOMENTS; n++) {
                to[n] += share * t->fine.lamp[i * VS_AIR_MOMENTS + n];
            }
        }
    }
}

/* Adds a little of each room's mean to light on coarse patches, so that where there is next to none a
 * band over green is the ratio of the whole room. */
LANES_CLONES static void add_room_means(const vs_mesh *mesh, double *light) {
    for (size_t room = 0; room < mesh->space->room_count; room++) {
        size_t first = mesh->room_first[room] * LANES, end = mesh->room_first[room + 1] * LANES;
        double mean[LANES] = {0}, few = SHARE_OF_ROOM * LANES / (double)(end - first);
        for (size_t i = first; i < end; i += LANES) {
            EACH_LANE(l) {
                mean[l] += few * light[i + (size_t)l];
            }
        }
        for (size_t i = first; i < end; i += LANES) {
            EACH_LANE(l) {
                light[i + (size_t)l] += mean[l];
            }
        }
    }
}

/* One band on the coarse mesh, from the fine mesh's light straight from lamps. */
static vs_status solve_coarse(vs_band_transport *t, const vs_transport_lights *lights,
                              vs_coarse_light *out) {
    vs_transport *c = &t->coarse;
    size_t patches = c->air->mesh->patch_count * LANES;
    size_t moments = c->air->mesh->cell_count * VS_AIR_MOMENTS;
    coarsen(t);
    for (size_t i = 0; i < patches; i++) {
        out->patch[MORE_NITS][i] = -c->step_nits[i];
    }
    vs_transport_dim(c, lights->medium, lights->scattering, lights->band);
    vs_status status = vs_transport_solve(c, lights);
    for (size_t i = 0; i < patches; i++) {
        out->patch[MORE_NITS][i] += c->nits[i];
        out->patch[TAKEN][i] = c->solving.taken[i / LANES];
    }
    memcpy(out->patch[AIR_LM], c->air_lm, patches * sizeof *c->air_lm);
    memcpy(out->patch[ONCE_LM], c->once_lm, patches * sizeof *c->once_lm);
    for (int kind = 0; kind < TAKEN; kind++) { /* haze takes much of even light everywhere */
        add_room_means(c->air->mesh, out->patch[kind]);
    }
    memcpy(out->cell[SEEN], c->all_seen, moments * sizeof *c->all_seen);
    for (size_t i = 0; i < moments; i++) {
        out->cell[EVEN][i] = c->exchange.even[i / LANES];
    }
    return status;
}

/* ---- other bands ---- */

/* A band's light over green's, around a place. */
LANES_INLINE void ratio_about(const double *band, const double *green, const vs_coarse_patches *at,
                              double ratio[LANES]) {
    double over[LANES] = {0}, under[LANES] = {0};
    for (int n = 0; n < 4; n++) {
        size_t from = (size_t)at->patch[n] * LANES;
        EACH_LANE(l) {
            over[l] += (double)at->share[n] * band[from + (size_t)l];
            under[l] += (double)at->share[n] * green[from + (size_t)l];
        }
    }
    EACH_LANE(l) {
        ratio[l] = over[l] > 0 && under[l] > 0 ? over[l] / under[l] : 1;
    }
}

/* Patches of one band of some fields from green's, and their own light straight from the lamp, in
 * fine.step_nits. */
LANES_CLONES static void keep_patches(const vs_band_transport *t, size_t band,
                                      vs_field *const *field, size_t count, vs_even_light *even) {
    const vs_mesh *mesh = t->fine.air->mesh;
    for (size_t i = 0; i < mesh->patch_count; i++) {
        size_t to = band * mesh->patch_count + i, from = GREEN * mesh->patch_count + i;
        double ratio[PATCH_KINDS][LANES];
        for (int kind = 0; kind < PATCH_KINDS; kind++) {
            ratio_about(t->band.patch[kind], t->green.patch[kind], &t->location->patches[i],
                        ratio[kind]);
        }
        for (size_t l = 0; l < count; l++) {
            vs_field *f = field[l];
            double indirect_nits = (double)f->nits[from] - t->direct_nits[i * LANES + l];
            f->nits[to] =
                (float)(t->fine.step_nits[i * LANES + l] + ratio[MORE_NITS][l] * indirect_nits);
            f->air_lux[to] = (float)ratio[AIR_LM][l] * f->air_lux[from];
            f->once_lux[to] = (float)ratio[ONCE_LM][l] * f->once_lux[from];
        }
        even->patch[to] = (float)ratio[TAKEN][0] * even->patch[from];
    }
}

/* The same for each degree of the harmonics of a cell's light: the mean over the degree, weighted by
 * green's square. Light that droplets scattered more often is more uniform, and a band that is
 * scattered more has more of it. A degree with next to no light has the ratio of the first. */
LANES_INLINE void ratios_between(const float *band, const float *green, const vs_coarse_cells *at,
                                 float ratio[DEGREES][LANES]) {
    float of_band[VS_AIR_MOMENTS] = {0}, of_green[VS_AIR_MOMENTS] = {0};
    float mixed[DEGREES][LANES] = {{0}}, square[DEGREES][LANES] = {{0}};
    for (int i = 0; i < 8; i++) {
        const float *band_at = band + at->cell[i] * VS_AIR_MOMENTS;
        const float *green_at = green + at->cell[i] * VS_AIR_MOMENTS;
        for (size_t n = 0; n < VS_AIR_MOMENTS; n += LANES) {
            EACH_LANE(l) {
                of_band[n + (size_t)l] += at->share[i] * band_at[n + (size_t)l];
                of_green[n + (size_t)l] += at->share[i] * green_at[n + (size_t)l];
            }
        }
    }
    for (size_t n = 0; n < VS_AIR_MOMENTS; n += LANES) {
        const int degree = vs_sh_degree[n / LANES];
        EACH_LANE(l) {
            mixed[degree][l] += of_band[n + (size_t)l] * of_green[n + (size_t)l];
            square[degree][l] += of_green[n + (size_t)l] * of_green[n + (size_t)l];
        }
    }
    EACH_LANE(l) {
        ratio[0][l] = mixed[0][l] > 0 ? mixed[0][l] / square[0][l] : 1;
    }
    for (int degree = 1; degree < DEGREES; degree++) {
        EACH_LANE(l) {
            float few = SHARE_OF_FIRST * square[0][l] + SINGLE_TINY;
            ratio[degree][l] = (mixed[degree][l] + ratio[0][l] * few) / (square[degree][l] + few);
        }
    }
}

/* One band of a cell's light from green's.
 *     cell  band x harmonic */
static void scale_cell(float *cell, size_t band, float (*ratio)[LANES], size_t lane) {
    for (size_t n = 0; n < VS_SH_COUNT; n++) {
        cell[band * VS_SH_COUNT + n] =
            ratio[vs_sh_degree[n]][lane] * cell[(size_t)GREEN * VS_SH_COUNT + n];
    }
}

/* The same for cells. */
LANES_CLONES static void keep_cells(const vs_band_transport *t, size_t band, vs_field *const *field,
                                    size_t count, vs_even_light *even) {
    for (size_t i = 0; i < t->fine.air->mesh->cell_count; i++) {
        const size_t first = i * VS_BAND_COUNT * VS_SH_COUNT;
        float ratio[CELL_KINDS][DEGREES][LANES];
        for (int kind = 0; kind < CELL_KINDS; kind++) {
            ratios_between(t->band.cell[kind], t->green.cell[kind], &t->location->cells[i],
                           ratio[kind]);
        }
        for (size_t l = 0; l < count; l++) {
            scale_cell(field[l]->cell + first, band, ratio[SEEN], l);
        }
        scale_cell(even->cell + first, band, ratio[EVEN], 0);
    }
}

/* ---- bands alike ---- */

/* Cells of a band as green's. */
static void copy_cells(const vs_mesh *mesh, size_t band, float *cell) {
    for (size_t i = 0; i < mesh->cell_count * VS_BAND_COUNT; i += VS_BAND_COUNT) {
        memcpy(cell + (i + band) * VS_SH_COUNT, cell + (i + GREEN) * VS_SH_COUNT,
               VS_SH_COUNT * sizeof *cell);
    }
}

/* A band of a field as green. */
static void copy_green(const vs_mesh *mesh, const vs_tracing *walks, size_t band, vs_field *f) {
    size_t patches = mesh->patch_count, to = band * patches, from = GREEN * patches;
    memcpy(f->nits + to, f->nits + from, patches * sizeof *f->nits);
    memcpy(f->air_lux + to, f->air_lux + from, patches * sizeof *f->air_lux);
    memcpy(f->once_lux + to, f->once_lux + from, patches * sizeof *f->once_lux);
    memcpy(f->pooled_nits + to, f->pooled_nits + from, patches * sizeof *f->pooled_nits);
    for (size_t i = 0; i < walks->pool_count; i++) {
        f->pool_cd[i * VS_BAND_COUNT + band] = f->pool_cd[i * VS_BAND_COUNT + GREEN];
    }
    copy_cells(mesh, band, f->cell);
}

/* Whether all bands behave alike: the haze is grey, or there is none. */
static bool is_grey(const vs_medium *medium) {
    const vs_haze *haze = medium->haze;
    bool grey = true, clear = true;
    for (int band = 1; band < VS_BAND_COUNT; band++) {
        grey = grey && medium->ratio.v[band] == medium->ratio.v[0] &&
               haze->albedo.v[band] == haze->albedo.v[0] &&
               vs_phase_same(&haze->phase[band], &haze->phase[0]);
    }
    for (size_t r = 0; r < medium->space->room_count; r++) {
        clear = clear && medium->room_extinction_per_m[r] == 0;
    }
    return grey || clear;
}

/* ---- all bands ---- */

void vs_band_transport_dim(vs_band_transport *t, const vs_medium *medium,
                           const vs_scattering *scattering) {
    vs_transport_dim(&t->fine, medium, scattering, GREEN);
}

/* Green's light is in the fields. */
static vs_status solve_others(vs_band_transport *t, const vs_transport_lights *green,
                              vs_field *const *field, vs_even_light *even) {
    vs_status status = VS_OK;
    for (size_t band = 0; band < VS_BAND_COUNT && status == VS_OK; band++) {
        vs_transport_lights lights = *green;
        lights.band = band;
        if (band == GREEN) {
            continue;
        }
        vs_transport_begin(&t->fine, &lights, field);
        status = solve_coarse(t, &lights, &t->band);
        keep_patches(t, band, field, lights.count, even);
        keep_cells(t, band, field, lights.count, even);
    }
    return status;
}

static void copy_to_others(const vs_band_transport *t, const vs_transport_lights *green,
                           vs_field *const *field, vs_even_light *even) {
    const vs_mesh *mesh = t->fine.air->mesh;
    for (size_t band = 0; band < VS_BAND_COUNT; band++) {
        if (band == GREEN) {
            continue;
        }
        for (size_t l = 0; l < green->count; l++) {
            copy_green(mesh, green->walks[l], band, field[l]);
        }
        memcpy(even->patch + band * mesh->patch_count, even->patch + GREEN * mesh->patch_count,
               mesh->patch_count * sizeof *even->patch);
        copy_cells(mesh, band, even->cell);
    }
}

/* Green's even light. */
static void keep_even(const vs_transport *t, vs_even_light *even) {
    const vs_mesh *mesh = t->air->mesh;
    for (size_t i = 0; i < mesh->patch_count; i++) {
        even->patch[GREEN * mesh->patch_count + i] = (float)t->solving.taken[i];
    }
    for (size_t i = 0; i < mesh->cell_count; i++) {
        memcpy(even->cell + (i * VS_BAND_COUNT + GREEN) * VS_SH_COUNT,
               t->exchange.even + i * VS_SH_COUNT, VS_SH_COUNT * sizeof *even->cell);
    }
}

vs_status vs_band_transport_solve(vs_band_transport *t, const vs_medium *medium,
                                  const vs_scattering *scattering, const vs_tracing *const *walks,
                                  vs_field *const *field, size_t count, vs_even_light *even) {
    const vs_transport_lights green = {medium, scattering, walks, GREEN, count};
    bool grey = is_grey(medium);
    vs_transport_begin(&t->fine, &green, field);
    memcpy(t->direct_nits, t->fine.step_nits,
           t->fine.air->mesh->patch_count * LANES * sizeof *t->direct_nits);
    vs_status status = grey ? VS_OK : solve_coarse(t, &green, &t->green);
    status = status == VS_OK ? vs_transport_solve(&t->fine, &green) : status;
    if (status != VS_OK) {
        return status;
    }
    for (size_t l = 0; l < count; l++) {
        vs_transport_keep(&t->fine, l, GREEN, field[l]);
    }
    keep_even(&t->fine, even);
    if (grey) {
        copy_to_others(t, &green, field, even);
    }
    return grey ? VS_OK : solve_others(t, &green, field, even);
}
