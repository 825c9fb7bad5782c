/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Along a line of sight the light of patches is gathered at a few places, that of pools and of
 * narrow beams on nodes of their own, near them; the rest is read from the cells of air.
 * Equations: docs/physics.md, "The room's own light". */
#include "veilstop/light/bounce.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/legendre_rules.h"
#include "light/bounce/fields.h"
#include "light/bounce/kernel_near.h"
#include "light/geometry/ray_casting.h"
#include "veilstop/base/units.h"
#include "veilstop/light/shaft.h"

/* Places on a piece of a line of sight, by its length; measured: docs/accuracy.md. */
#define NODES_MOST  4
#define NODES_LEAST 3
#define NODE_M      1.0 /* [m] about so far apart */

/* ---- keeping ---- */

/* Patches, and what they see of one another. */
typedef struct {
    vs_mesh mesh;
    vs_radiosity radiosity;
    vs_air air;
} kept_location;

vs_status vs_bounce_location_init(vs_bounce_location *location, const vs_space *space,
                                  const vs_surfaces *surfaces) {
    size_t trap;
    location->kept = NULL;
    vs_status status = vs_surfaces_light_trap(space, surfaces, &trap);
    if (status != VS_OK || trap != VS_SPACE_OUTSIDE) {
        return status != VS_OK ? status : VS_ERR_DOMAIN;
    }
    kept_location *kept = calloc(1, sizeof *kept);
    status = kept ? vs_mesh_init(&kept->mesh, space, surfaces) : VS_ERR_MEMORY;
    if (status == VS_OK) {
        status = vs_radiosity_init(&kept->radiosity, &kept->mesh);
    }
    if (status == VS_OK) {
        status = vs_air_init(&kept->air, &kept->mesh);
    }
    location->kept = kept;
    if (status != VS_OK) {
        vs_bounce_location_free(location);
    }
    return status;
}

void vs_bounce_location_free(vs_bounce_location *location) {
    kept_location *kept = location->kept;
    if (kept) {
        vs_radiosity_free(&kept->radiosity);
        vs_air_free(&kept->air);
        vs_mesh_free(&kept->mesh);
    }
    free(kept);
    location->kept = NULL;
}

vs_status vs_bounce_solver_init(vs_bounce_solver *solver, const vs_bounce_location *location,
                                const vs_haze *haze, size_t emitter_count) {
    const kept_location *kept = location->kept;
    vs_fields *fields = calloc(1, sizeof *fields);
    solver->kept = NULL;
    vs_status status =
        fields ? vs_fields_init(fields, &kept->radiosity, &kept->air, haze, emitter_count)
               : VS_ERR_MEMORY;
    if (status != VS_OK) {
        free(fields);
        return status;
    }
    solver->kept = fields;
    return VS_OK;
}

void vs_bounce_solver_free(vs_bounce_solver *solver) {
    if (solver->kept) {
        vs_fields_free(solver->kept);
    }
    free(solver->kept);
    solver->kept = NULL;
}

vs_status vs_bounce_solve(vs_bounce_solver *solver, const vs_medium *medium,
                          const vs_emitter *emitter, vs_bounce *bounce) {
    vs_fields *fields = solver->kept;
    const vs_bounce fresh = {.solver = solver, .emitter_count = fields->emitter_count};
    vs_air_fields *air;
    *bounce = fresh;
    bounce->strength = calloc(fields->emitter_count + 1, sizeof *bounce->strength);
    vs_status status =
        bounce->strength ? vs_fields_in(fields, medium, emitter, &air) : VS_ERR_MEMORY;
    if (status != VS_OK) {
        vs_bounce_free(bounce);
        return status;
    }
    bounce->air = air;
    for (size_t e = 0; e < fields->emitter_count; e++) {
        bounce->strength[e] = emitter[e].strength;
    }
    return VS_OK;
}

void vs_bounce_free(vs_bounce *bounce) {
    const vs_bounce blank = {0};
    if (bounce->air) {
        ((vs_air_fields *)bounce->air)->held--;
    }
    free(bounce->strength);
    *bounce = blank;
}

/* ---- patches ---- */

static void begin(vs_fields *f) {
    memset(f->own, 0, f->mesh->patch_count * VS_BAND_COUNT * sizeof *f->own);
    f->through_count = 0;
    f->sample_count = 0;
}

static void add_sample(vs_fields *f, vs_through_sample sample, vs_bands scale, const vs_bands *rate,
                       double depth, double open) {
    if (f->through_count == f->through_size) {
        return;
    }
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        sample.weight.v[band] = scale.v[band] * open * exp(-rate->v[band] * depth);
    }
    f->through[f->through_count++] = sample;
}

/* What is seen through one patch of an opening. */
static void add_opening(vs_fields *f, const vs_medium *medium, size_t room, size_t portal,
                        vs_vec3 at_m, vs_vec3 way, vs_bands scale) {
    double length_m = vs_vec3_length(way);
    double depth = length_m * vs_medium_extinction_per_m(medium, room);
    vs_bands rate = vs_bands_mul(medium->ratio, f->scattering.wide.dimming);
    vs_way_through seen;
    vs_vec3 on = vs_vec3_scale(way, 1 / length_m);
    vs_camera_setup_through(f->mesh, room, portal, vs_vec3_add(at_m, way), on, &seen);
    vs_through_sample s = {.patch = VS_MESH_NONE};
    double y[VS_SH_COUNT];
    vs_sh(vs_vec3_scale(on, -1), y);
    for (int n = 0; n < VS_SH_COUNT; n++) {
        s.harmonic[n] = (float)y[n];
    }
    for (size_t i = 0; i < seen.room_count; i++) {
        s.cell = vs_mesh_cell(f->mesh, seen.room[i], seen.door_m[i]);
        add_sample(f, s, scale, &rate, depth, seen.door_open[i]);
        depth += seen.length_m[i] * vs_medium_extinction_per_m(medium, seen.room[i]);
    }
    if (seen.patch != VS_MESH_NONE) {
        s.patch = seen.patch;
        add_sample(f, s, scale, &rate, depth, seen.open);
    }
}

/* The openings among a view's patches: what is seen behind them. */
static void add_through(vs_fields *f, const vs_medium *medium, size_t room, vs_vec3 at_m,
                        vs_bands scale) {
    const vs_room_view *v = &f->view;
    for (size_t i = 0; i < v->count; i++) {
        const vs_patch *patch = &f->mesh->patch[v->first + i];
        if (patch->portal != VS_MESH_NONE && v->worth[VS_BAND_GREEN][i] > 0) {
            vs_bands worth = {{v->worth[0][i], v->worth[1][i], v->worth[2][i]}};
            vs_opening_parts parts;
            vs_opening_parts_of(&patch->rect, at_m, &parts);
            for (size_t n = 0; n < parts.count; n++) {
                add_opening(f, medium, room, patch->portal, at_m, vs_vec3_sub(parts.at_m[n], at_m),
                            vs_bands_scale(vs_bands_mul(scale, worth), parts.share[n]));
            }
        }
    }
}

static void add_view(vs_fields *f, const vs_medium *medium, size_t room, vs_vec3 at_m,
                     vs_bands scale) {
    vs_bands k = vs_bands_scale(medium->ratio, vs_medium_extinction_per_m(medium, room));
    k = vs_bands_mul(k, f->scattering.wide.dimming);
    vs_room_view_add(&f->view, k, scale, f->mesh->patch_count, f->own);
    add_through(f, medium, room, at_m, scale);
}

/* What the gathered patches give of one emitter. */
static vs_bands patches_of(const vs_fields *f, const vs_field *field, const bool *room_seen) {
    const vs_mesh *mesh = f->mesh;
    size_t patches = mesh->patch_count;
    vs_bands sum = vs_bands_grey(0);
    for (size_t r = 0; r < mesh->space->room_count; r++) {
        size_t first = mesh->room_first[r], count = mesh->room_first[r + 1] - first;
        for (size_t band = 0; band < VS_BAND_COUNT && room_seen[r]; band++) {
            size_t at = band * patches + first;
            sum.v[band] += vs_dot(f->own + at, field->nits + at, count);
        }
    }
    return sum;
}

/* Radiance that droplets of a cell send in a sample's direction. */
static vs_bands air_towards(const vs_field *field, const vs_through_sample *s) {
    const float *light = field->cell + s->cell * VS_BAND_COUNT * VS_SH_COUNT;
    vs_bands nits;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        float sum = 0;
        for (int n = 0; n < VS_SH_COUNT; n++) {
            sum += light[band * VS_SH_COUNT + n] * s->harmonic[n];
        }
        nits.v[band] = fmax(0, (double)sum);
    }
    return nits;
}

/* What comes through openings of one emitter. */
static vs_bands through_of(const vs_fields *f, const vs_field *field) {
    size_t patches = f->mesh->patch_count;
    vs_bands sum = vs_bands_grey(0);
    for (size_t i = 0; i < f->through_count; i++) {
        const vs_through_sample *s = &f->through[i];
        vs_bands nits;
        if (s->patch == VS_MESH_NONE) {
            nits = air_towards(field, s);
        } else {
            for (size_t band = 0; band < VS_BAND_COUNT; band++) {
                size_t at = band * patches + s->patch;
                nits.v[band] = field->nits[at];
            }
        }
        sum = vs_bands_add(sum, vs_bands_mul(s->weight, nits));
    }
    return sum;
}

/* ---- cells of air ---- */

/* Place between the middles of cells, or past the last towards a wall, where light goes on as it
 * did between them: the lower one, and the share of the higher. */
static size_t between_cells(double at, double low, double high, size_t count, double *share) {
    double place = (at - low) / (high - low) * (double)count - 0.5;
    place = fmin(fmax(place, -0.5), (double)count - 0.5);
    size_t cell = (size_t)fmin(fmax(floor(place), 0), (double)count - 2);
    *share = place - (double)cell;
    return cell;
}

static void add_cells(vs_fields *f, size_t room, vs_vec3 p, vs_bands scale) {
    const vs_cell_grid *g = &f->mesh->cells[room];
    double sx, sy, sz;
    size_t x = between_cells(p.x, g->box.low_m.x, g->box.high_m.x, g->count[0], &sx);
    size_t y = between_cells(p.y, g->box.low_m.y, g->box.high_m.y, g->count[1], &sy);
    size_t z = between_cells(p.z, g->box.low_m.z, g->box.high_m.z, g->count[2], &sz);
    for (size_t corner = 0; corner < 8 && f->sample_count < f->sample_size; corner++) {
        size_t i = x + (corner & 1), j = y + (corner >> 1 & 1), k = z + (corner >> 2);
        double share =
            (corner & 1 ? sx : 1 - sx) * (corner & 2 ? sy : 1 - sy) * (corner & 4 ? sz : 1 - sz);
        vs_cell_sample *s = &f->sample[f->sample_count++];
        s->cell = g->first + (k * g->count[1] + j) * g->count[0] + i;
        s->weight = vs_bands_scale(scale, share);
    }
}

/* harmonic  band x harmonic: what each counts */
static vs_bands cells_of(const vs_fields *f, const vs_field *field,
                         double harmonic[VS_BAND_COUNT][VS_SH_COUNT]) {
    double sum[VS_BAND_COUNT][VS_SH_COUNT] = {{0}};
    vs_bands light = vs_bands_grey(0);
    for (size_t i = 0; i < f->sample_count; i++) {
        const vs_cell_sample *s = &f->sample[i];
        const float *cell = field->cell + s->cell * VS_BAND_COUNT * VS_SH_COUNT;
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            double w = s->weight.v[band];
            for (int n = 0; n < VS_SH_COUNT; n++) {
                sum[band][n] += w * (double)cell[band * VS_SH_COUNT + n];
            }
        }
    }
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        for (int n = 0; n < VS_SH_COUNT; n++) {
            light.v[band] += sum[band][n] * harmonic[band][n];
        }
        light.v[band] = fmax(0, light.v[band]);
    }
    return light;
}

/* ---- a line of sight ---- */

static void gather_piece(vs_fields *f, const vs_medium *medium, const vs_camera_ray *sight,
                         const vs_ray_segment *piece) {
    double length_m = piece->to_m - piece->from_m;
    int nodes = (int)fmin(NODES_MOST, fmax(NODES_LEAST, ceil(length_m / NODE_M)));
    const vs_legendre_rule *rule = &vs_legendre_rules[nodes];
    for (int i = 0; i < nodes; i++) {
        double off_m = (rule->node[i] + 1) / 2 * length_m;
        vs_vec3 at_m = vs_camera_ray_point(sight, piece->from_m + off_m);
        vs_bands scale =
            vs_medium_transmission(medium, piece->depth + piece->extinction_per_m * off_m);
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            scale.v[band] *= rule->weight[i] / 2 * length_m * piece->open *
                             piece->extinction_per_m * medium->ratio.v[band] *
                             medium->haze->albedo.v[band];
        }
        vs_room_view_make(&f->view, f->mesh, piece->room, at_m);
        vs_room_view_scattered(&f->view, &f->scattering, sight->direction);
        add_view(f, medium, piece->room, at_m, scale);
        add_cells(f, piece->room, at_m, scale);
    }
}

void vs_bounce_veil(const vs_bounce *bounce, const vs_medium *medium, const vs_camera_ray *sight,
                    const vs_bands *once, vs_bands *nits) {
    vs_fields *f = bounce->solver->kept;
    const vs_air_fields *air = bounce->air;
    double harmonic[VS_BAND_COUNT][VS_SH_COUNT], y[VS_SH_COUNT];
    bool *seen = f->room_seen;
    begin(f);
    memset(seen, 0, f->mesh->space->room_count * sizeof *seen);
    vs_sh(vs_vec3_scale(sight->direction, -1), y);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        for (int n = 0; n < VS_SH_COUNT; n++) {
            harmonic[band][n] = y[n] * f->scattering.moment[band][vs_sh_degree[n]];
        }
    }
    for (size_t p = 0; p < sight->segment_count; p++) {
        if (sight->segment[p].extinction_per_m > 0) {
            gather_piece(f, medium, sight, &sight->segment[p]);
            seen[sight->segment[p].room] = true;
        }
    }
    for (size_t e = 0; e < bounce->emitter_count; e++) {
        nits[e] = vs_bands_grey(0);
        if (vs_bands_luminance(bounce->strength[e]) == 0) {
            continue;
        }
        const vs_field *field = &air->field[e];
        nits[e] = vs_bands_add(patches_of(f, field, seen), cells_of(f, field, harmonic));
        nits[e] = vs_bands_add(nits[e], through_of(f, field));
        vs_bands near = vs_near_veil(&f->scattering, f->mesh, &f->traced[e].walks, field, f->own,
                                     medium, sight);
        nits[e] = vs_bands_mul(vs_bands_add(nits[e], near), bounce->strength[e]);
        vs_bands more = vs_near_straight_on(&f->scattering, &f->traced[e], medium, sight);
        nits[e] = vs_bands_add(nits[e], vs_bands_mul(once[e], more));
    }
}

/* ---- a surface ---- */

/* Irradiance of harmonics: pi, 2 pi/3, pi/4, 0 by degree (Ramamoorthi & Hanrahan 2001). */
static void facing_harmonics(vs_vec3 normal, double harmonic[VS_BAND_COUNT][VS_SH_COUNT]) {
    static const double share[VS_SH_ORDER + 1] = {VS_PI, 2 * VS_PI / 3, VS_PI / 4, 0};
    double y[VS_SH_COUNT];
    vs_sh(vs_vec3_scale(normal, -1), y);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        for (int n = 0; n < VS_SH_COUNT; n++) {
            harmonic[band][n] = y[n] * share[vs_sh_degree[n]];
        }
    }
}

/* What scattering straight on adds to light that comes directly from an emitter, of that light. */
static vs_bands straight_on(const vs_fields *f, const vs_traced *traced, const vs_medium *medium,
                            vs_vec3 p_m) {
    vs_bands more = vs_bands_grey(0);
    const vs_split_phase *split = vs_split_of(&f->scattering, traced->walks.narrow);
    vs_vec3 from_m = traced->emitter.kind == VS_EMITTER_PARALLEL
                         ? vs_shaft_parallel_origin(medium->space, &traced->emitter, p_m)
                         : vs_emitter_middle(&traced->emitter);
    double depth =
        vs_space_optical_depth(medium->space, medium->room_extinction_per_m, from_m, p_m);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        more.v[band] = expm1(depth * medium->ratio.v[band] * (1 - split->dimming.v[band]));
    }
    return more;
}

void vs_bounce_lux(const vs_bounce *bounce, const vs_medium *medium, vs_vec3 p_m, vs_vec3 normal,
                   const vs_bands *direct, vs_bands *lux) {
    vs_fields *f = bounce->solver->kept;
    const vs_air_fields *air = bounce->air;
    double harmonic[VS_BAND_COUNT][VS_SH_COUNT];
    vs_vec3 at_m = vs_vec3_along(p_m, normal, 2 * VS_SPACE_SKIN_M);
    size_t room = vs_space_room_at(medium->space, at_m);
    begin(f);
    memset(f->room_seen, 0, f->mesh->space->room_count * sizeof *f->room_seen);
    facing_harmonics(normal, harmonic);
    if (room != VS_SPACE_OUTSIDE) {
        f->room_seen[room] = true;
        vs_room_view_make(&f->view, f->mesh, room, at_m);
        vs_room_view_facing(&f->view, normal);
        add_view(f, medium, room, at_m, vs_bands_grey(VS_PI));
        add_cells(f, room, at_m, vs_bands_grey(1));
    }
    for (size_t e = 0; e < bounce->emitter_count; e++) {
        lux[e] = vs_bands_grey(0);
        if (vs_bands_luminance(bounce->strength[e]) == 0 || room == VS_SPACE_OUTSIDE) {
            continue;
        }
        const vs_field *field = &air->field[e];
        lux[e] = vs_bands_add(patches_of(f, field, f->room_seen), cells_of(f, field, harmonic));
        lux[e] = vs_bands_add(lux[e], through_of(f, field));
        vs_bands near = vs_near_lux(&f->scattering, f->mesh, &f->traced[e].walks, field, f->own,
                                    medium, room, at_m, normal);
        lux[e] = vs_bands_mul(vs_bands_add(lux[e], near), bounce->strength[e]);
        if (direct) {
            vs_bands more = straight_on(f, &f->traced[e], medium, at_m);
            lux[e] = vs_bands_add(lux[e], vs_bands_mul(direct[e], more));
        }
    }
}
