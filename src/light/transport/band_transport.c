/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See band_transport.h. */
#include "light/transport/band_transport.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define GREEN     VS_BAND_GREEN
#define EVEN_CELL 1e-3f /* [1] of the first degree's square: less gives no ratio; our choice */
#define EVEN      0.02  /* [1] of a room's mean: less light than that gives no ratio; our choice */

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
    c->patch_of = calloc(fine->patch_count + 1, sizeof *c->patch_of);
    c->cell_of = calloc(fine->cell_count + 1, sizeof *c->cell_of);
    c->patches = calloc(fine->patch_count + 1, sizeof *c->patches);
    c->cells = calloc(fine->cell_count + 1, sizeof *c->cells);
    if (!c->patch_of || !c->cell_of || !c->patches || !c->cells) {
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
    free(c->patch_of);
    free(c->cell_of);
    free(c->patches);
    free(c->cells);
    *c = blank;
}

/* ---- memory ---- */

vs_status vs_band_transport_init(vs_band_transport *t, const vs_coarse *coarse,
                                 const vs_radiosity *radiosity, const vs_air *air) {
    const vs_band_transport fresh = {.location = coarse};
    size_t patches = coarse->mesh.patch_count * LANES + LANES;
    size_t moments = coarse->mesh.cell_count * VS_AIR_MOMENTS + LANES;
    *t = fresh;
    vs_status status = vs_transport_init(&t->fine, radiosity, air);
    status =
        status == VS_OK ? vs_transport_init(&t->coarse, &coarse->radiosity, &coarse->air) : status;
    t->direct_nits = calloc(air->mesh->patch_count * LANES + LANES, sizeof *t->direct_nits);
    bool made = t->direct_nits;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        t->more_nits[band] = calloc(patches, sizeof **t->more_nits);
        t->air_lm[band] = calloc(patches, sizeof **t->air_lm);
        t->once_lm[band] = calloc(patches, sizeof **t->once_lm);
        t->seen[band] = calloc(moments, sizeof **t->seen);
        made = made && t->more_nits[band] && t->air_lm[band] && t->once_lm[band] && t->seen[band];
    }
    t->even_cell = calloc(2 * moments, sizeof *t->even_cell);
    t->even_patch = calloc(2 * patches, sizeof *t->even_patch);
    made = made && t->even_cell && t->even_patch;
    t->green_cell = made ? t->even_cell + moments : NULL;
    t->green_patch = made ? t->even_patch + patches : NULL;
    status = status == VS_OK && !made ? VS_ERR_MEMORY : status;
    if (status != VS_OK) {
        vs_band_transport_free(t);
    }
    return status;
}

void vs_band_transport_free(vs_band_transport *t) {
    const vs_band_transport blank = {0};
    vs_transport_free(&t->fine);
    vs_transport_free(&t->coarse);
    free(t->direct_nits);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        free(t->more_nits[band]);
        free(t->air_lm[band]);
        free(t->once_lm[band]);
        free(t->seen[band]);
    }
    free(t->even_cell);
    free(t->even_patch);
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

/* What even light is in a band. */
static void keep_even(vs_band_transport *t, size_t band) {
    const vs_mesh *mesh = t->coarse.air->mesh;
    for (size_t i = 0; i < mesh->patch_count; i++) {
        t->even_patch[i * LANES + band] = t->coarse.solving.taken[i];
        for (size_t l = 0; l < LANES && band == GREEN; l++) {
            t->green_patch[i * LANES + l] = t->coarse.solving.taken[i];
        }
    }
    for (size_t i = 0; i < mesh->cell_count * VS_SH_COUNT; i++) {
        t->even_cell[i * LANES + band] = t->coarse.exchange.even[i];
        for (size_t l = 0; l < LANES && band == GREEN; l++) {
            t->green_cell[i * LANES + l] = t->coarse.exchange.even[i];
        }
    }
}

/* One band on the coarse mesh, from the fine mesh's light straight from lamps. */
static vs_status solve_coarse(vs_band_transport *t, const vs_transport_lights *lights) {
    vs_transport *c = &t->coarse;
    const vs_mesh *mesh = c->air->mesh;
    double *more_nits = t->more_nits[lights->band];
    coarsen(t);
    for (size_t i = 0; i < mesh->patch_count * LANES; i++) {
        more_nits[i] = -c->step_nits[i];
    }
    vs_transport_dim(c, lights->medium, lights->scattering, lights->band);
    vs_status status = vs_transport_solve(c, lights);
    for (size_t i = 0; i < mesh->patch_count * LANES; i++) {
        more_nits[i] += c->nits[i];
        t->air_lm[lights->band][i] = c->air_lm[i];
        t->once_lm[lights->band][i] = c->once_lm[i];
    }
    memcpy(t->seen[lights->band], c->all_seen,
           mesh->cell_count * VS_AIR_MOMENTS * sizeof **t->seen);
    keep_even(t, lights->band);
    return status;
}

/* ---- other bands ---- */

/* A band's light over green's, around a place. Where there is next to none, the ratio of the whole
 * room: `even_band` over `even_green`. */
LANES_INLINE void ratios_of_patch(const double *band, const double *green,
                                  const vs_coarse_patches *at, const double *even_band,
                                  const double *even_green, double ratio[LANES]) {
    double of_band[LANES], of_green[LANES];
    memcpy(of_band, even_band, sizeof of_band);
    memcpy(of_green, even_green, sizeof of_green);
    for (int n = 0; n < 4; n++) {
        double share = (double)at->share[n];
        const double *a = band + (size_t)at->patch[n] * LANES;
        const double *b = green + (size_t)at->patch[n] * LANES;
        EACH_LANE(l) {
            of_band[l] += share * a[l];
            of_green[l] += share * b[l];
        }
    }
    for (size_t l = 0; l < LANES; l++) {
        ratio[l] = of_band[l] > 0 && of_green[l] > 0 ? of_band[l] / of_green[l] : 1;
    }
}

/* A little of the mean over a room's patches. */
static void find_even(const vs_mesh *coarse, size_t room, const double *light, double even[LANES]) {
    size_t first = coarse->room_first[room], end = coarse->room_first[room + 1];
    memset(even, 0, LANES * sizeof *even);
    for (size_t i = first * LANES; i < end * LANES; i++) {
        even[i % LANES] += EVEN / (double)(end - first) * light[i];
    }
}

/* The same for each degree of a cell's harmonics: the mean over the degree, weighted by green's
 * square. Light that droplets scattered more often is more uniform, and a band that is scattered
 * more has more of it. A degree with next to no light has the ratio of the first. */
LANES_INLINE void ratios_of_cell(const float *band, const float *green, const vs_coarse_cells *at,
                                 float ratio[VS_SH_ORDER + 1][LANES]) {
    float mixed[VS_SH_ORDER + 1][LANES] = {{0}}, square[VS_SH_ORDER + 1][LANES] = {{0}};
    for (size_t n = 0; n < VS_SH_COUNT; n++) {
        const int degree = vs_sh_degree[n];
        float of_band[LANES] = {0}, of_green[LANES] = {0};
        for (int i = 0; i < 8; i++) {
            size_t place = ((size_t)at->cell[i] * VS_SH_COUNT + n) * LANES;
            EACH_LANE(l) {
                of_band[l] += at->share[i] * band[place + (size_t)l];
                of_green[l] += at->share[i] * green[place + (size_t)l];
            }
        }
        EACH_LANE(l) {
            mixed[degree][l] += of_band[l] * of_green[l];
            square[degree][l] += of_green[l] * of_green[l];
        }
    }
    EACH_LANE(l) {
        bool seen = mixed[0][l] > 0 && square[0][l] > 0; /* the one may be too little for a float */
        ratio[0][l] = seen ? mixed[0][l] / square[0][l] : 1;
    }
    for (int degree = 1; degree <= VS_SH_ORDER; degree++) {
        EACH_LANE(l) {
            float even = EVEN_CELL * square[0][l] + SINGLE_TINY;
            ratio[degree][l] = (mixed[degree][l] + ratio[0][l] * even) / (square[degree][l] + even);
        }
    }
}

/* Patches of one band of some fields from green's, and their own light straight from the lamp, in
 * fine.step_nits. */
LANES_CLONES static void keep_patches(const vs_band_transport *t, size_t band,
                                      vs_field *const *field, size_t count) {
    const vs_mesh *mesh = t->fine.air->mesh, *coarse = &t->location->mesh;
    const double *more_nits = t->more_nits[band], *green_nits = t->more_nits[GREEN];
    const double *air_lm = t->air_lm[band], *green_lm = t->air_lm[GREEN];
    const double *once_lm = t->once_lm[band], *green_once_lm = t->once_lm[GREEN];
    double even[6][LANES]; /* of the room */
    for (size_t i = 0, room = 0; i < mesh->patch_count; i++) {
        double more[LANES], air[LANES], once[LANES];
        size_t to = band * mesh->patch_count + i, from = GREEN * mesh->patch_count + i;
        if (i == 0 || i == mesh->room_first[room + 1]) {
            room = mesh->patch[i].room;
            find_even(coarse, room, more_nits, even[0]);
            find_even(coarse, room, green_nits, even[1]);
            find_even(coarse, room, air_lm, even[2]);
            find_even(coarse, room, green_lm, even[3]);
            find_even(coarse, room, once_lm, even[4]);
            find_even(coarse, room, green_once_lm, even[5]);
        }
        ratios_of_patch(more_nits, green_nits, &t->location->patches[i], even[0], even[1], more);
        ratios_of_patch(air_lm, green_lm, &t->location->patches[i], even[2], even[3], air);
        ratios_of_patch(once_lm, green_once_lm, &t->location->patches[i], even[4], even[5], once);
        for (size_t l = 0; l < count; l++) {
            vs_field *f = field[l];
            double indirect_nits = (double)f->nits[from] - t->direct_nits[i * LANES + l];
            f->nits[to] = (float)(t->fine.step_nits[i * LANES + l] + more[l] * indirect_nits);
            f->air_lux[to] = (float)air[l] * f->air_lux[from];
            f->once_lux[to] = (float)once[l] * f->once_lux[from];
        }
    }
}

/* The same for cells. */
LANES_CLONES static void keep_cells(const vs_band_transport *t, size_t band, vs_field *const *field,
                                    size_t count) {
    const vs_mesh *mesh = t->fine.air->mesh;
    for (size_t i = 0; i < mesh->cell_count; i++) {
        float ratio[VS_SH_ORDER + 1][LANES];
        ratios_of_cell(t->seen[band], t->seen[GREEN], &t->location->cells[i], ratio);
        for (size_t l = 0; l < count; l++) {
            float *cell = field[l]->cell + i * VS_BAND_COUNT * VS_SH_COUNT;
            for (size_t n = 0; n < VS_SH_COUNT; n++) {
                cell[band * VS_SH_COUNT + n] =
                    ratio[vs_sh_degree[n]][l] * cell[(size_t)GREEN * VS_SH_COUNT + n];
            }
        }
    }
}

/* All bands as green. */
static void copy_green(const vs_mesh *mesh, const vs_tracing *walks, size_t band, vs_field *f) {
    size_t patches = mesh->patch_count, to = band * patches, from = GREEN * patches;
    memcpy(f->nits + to, f->nits + from, patches * sizeof *f->nits);
    memcpy(f->air_lux + to, f->air_lux + from, patches * sizeof *f->air_lux);
    memcpy(f->once_lux + to, f->once_lux + from, patches * sizeof *f->once_lux);
    memcpy(f->pooled_nits + to, f->pooled_nits + from, patches * sizeof *f->pooled_nits);
    for (size_t i = 0; i < walks->pool_count; i++) {
        f->pool_cd[i * VS_BAND_COUNT + band] = f->pool_cd[i * VS_BAND_COUNT + GREEN];
    }
    for (size_t i = 0; i < mesh->cell_count; i++) {
        float *cell = f->cell + i * VS_BAND_COUNT * VS_SH_COUNT;
        memcpy(cell + band * VS_SH_COUNT, cell + (size_t)GREEN * VS_SH_COUNT,
               VS_SH_COUNT * sizeof *cell);
    }
}

static bool same_phase(const vs_phase *a, const vs_phase *b) {
    return a->kind == b->kind && a->g == b->g && a->value == b->value && a->count == b->count;
}

/* Whether all bands behave alike: the haze is grey, or there is none. */
static bool is_grey(const vs_medium *medium) {
    const vs_haze *haze = medium->haze;
    bool grey = true, clear = true;
    for (int band = 1; band < VS_BAND_COUNT; band++) {
        grey = grey && medium->ratio.v[band] == medium->ratio.v[0] &&
               haze->albedo.v[band] == haze->albedo.v[0] &&
               same_phase(&haze->phase[band], &haze->phase[0]);
    }
    for (size_t r = 0; r < medium->space->room_count; r++) {
        clear = clear && medium->room_extinction_per_m[r] == 0;
    }
    return grey || clear;
}

/* ---- even light ---- */

LANES_CLONES void vs_band_transport_even(const vs_band_transport *t, const vs_medium *medium,
                                         vs_even_light *even) {
    const vs_mesh *mesh = t->fine.air->mesh;
    const vs_coarse *c = t->location;
    const double none[LANES] = {0};
    const bool alike = is_grey(medium);
    for (size_t i = 0; i < mesh->cell_count; i++) {
        float ratio[VS_SH_ORDER + 1][LANES];
        float *cell = even->cell + i * VS_BAND_COUNT * VS_SH_COUNT;
        ratios_of_cell(t->even_cell, t->green_cell, &c->cells[i], ratio);
        for (size_t n = 0; n < (size_t)VS_BAND_COUNT * VS_SH_COUNT; n++) {
            float by = alike ? 1 : ratio[vs_sh_degree[n % VS_SH_COUNT]][n / VS_SH_COUNT];
            cell[n] = by * t->fine.exchange.even[i * VS_SH_COUNT + n % VS_SH_COUNT];
        }
    }
    for (size_t i = 0; i < mesh->patch_count; i++) {
        double ratio[LANES];
        ratios_of_patch(t->even_patch, t->green_patch, &c->patches[i], none, none, ratio);
        for (size_t band = 0; band < VS_BAND_COUNT; band++) {
            even->patch[band * mesh->patch_count + i] =
                (float)((alike ? 1 : ratio[band]) * t->fine.solving.taken[i]);
        }
    }
}

/* ---- all bands ---- */

void vs_band_transport_dim(vs_band_transport *t, const vs_medium *medium,
                           const vs_scattering *scattering) {
    vs_transport_dim(&t->fine, medium, scattering, GREEN);
}

static vs_status solve_others(vs_band_transport *t, const vs_transport_lights *green,
                              vs_field *const *field) {
    vs_status status = VS_OK;
    for (size_t band = 0; band < VS_BAND_COUNT && status == VS_OK; band++) {
        vs_transport_lights lights = *green;
        if (band == GREEN) {
            continue;
        }
        lights.band = band;
        vs_transport_begin(&t->fine, &lights, field);
        status = solve_coarse(t, &lights);
        if (status == VS_OK) {
            keep_patches(t, band, field, lights.count);
            keep_cells(t, band, field, lights.count);
        }
    }
    return status;
}

vs_status vs_band_transport_solve(vs_band_transport *t, const vs_medium *medium,
                                  const vs_scattering *scattering, const vs_tracing *const *walks,
                                  vs_field *const *field, size_t count) {
    const vs_mesh *mesh = t->fine.air->mesh;
    const vs_transport_lights green = {medium, scattering, walks, GREEN, count};
    bool grey = is_grey(medium);
    vs_transport_begin(&t->fine, &green, field);
    memcpy(t->direct_nits, t->fine.step_nits, mesh->patch_count * LANES * sizeof *t->direct_nits);
    vs_status status = grey ? VS_OK : solve_coarse(t, &green);
    status = status == VS_OK ? vs_transport_solve(&t->fine, &green) : status;
    for (size_t l = 0; l < count && status == VS_OK; l++) {
        vs_transport_keep(&t->fine, l, GREEN, field[l]);
        for (size_t band = 0; band < VS_BAND_COUNT && grey; band++) {
            if (band != GREEN) {
                copy_green(mesh, walks[l], band, field[l]);
            }
        }
    }
    return status == VS_OK && !grey ? solve_others(t, &green, field) : status;
}
