/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Per cell the source in a direction is k sum over l of (moment_l - share) sum over m of L_lm Y_lm
 * (Chandrasekhar 1950, Radiative Transfer, ch. VI); a ray carries source x volume x 4 pi/rays, less
 * what haze takes, and leaves its harmonics in the cells it crosses: radiance = light x way/volume.
 */
#include "light/bounce/air.h"

#include <math.h>

#define ROOMS_MAX 256 /* more than a scene may have */

/* exp(-x); by its series where that is good to 1e-9. */
LANES_INLINE double passes(double x) {
    return x < 0.05 ? 1 - x * (1 - x * (0.5 - x * (1.0 / 6 - x * (1.0 / 24 - x / 120))))
                    : lane_exp(-x);
}

/* What a ray leaves in one cell. */
LANES_INLINE void leave(float *cell, const float *harmonic, float by, const float *light) {
    for (int n = 0; n < VS_SH_COUNT; n++) {
        float y = by * harmonic[n];
        EACH_LANE(l) {
            cell[n * LANES + l] += y * light[l];
        }
    }
}

/* A haze as rays meet it, room by room. */
typedef struct {
    const vs_air *air;
    double per_m[ROOMS_MAX], per_m3[ROOMS_MAX];
} ray_haze;

/* A ray's light, light by light, on its way: what it leaves in cells, what it loses, what ends. */
LANES_INLINE void carry(const ray_haze *haze, size_t index, const float *light, float *out,
                        float *behind, double *patch_lm, double *lost) {
    const vs_air *air = haze->air;
    const vs_air_ray *ray = &air->ray[index];
    size_t from = index > 0 ? ray[-1].crossing_end : 0;
    double passed = 1;
    for (size_t i = from; i < ray->crossing_end; i++) {
        const vs_air_crossing *c = &air->crossing[i];
        double length_m = (double)c->length_m;
        double next = passed * passes(haze->per_m[c->room] * length_m);
        float by = (float)(0.5 * (passed + next) * length_m * haze->per_m3[c->room]);
        leave((i < ray->room_end ? out : behind) + c->cell * VS_AIR_MOMENTS, ray->harmonic, by,
              light);
        passed = next;
    }
    EACH_LANE(l) {
        lost[l] += (double)light[l] * (1 - passed);
    }
    if (ray->target != VS_AIR_NOTHING && patch_lm) {
        double *end = patch_lm + (size_t)ray->target * LANES;
        EACH_LANE(l) {
            end[l] += (double)light[l] * passed;
        }
    }
}

static void meet_haze(const vs_air *air, const vs_air_band *band, ray_haze *haze) {
    haze->air = air;
    for (size_t room = 0; room < air->mesh->space->room_count; room++) {
        haze->per_m[room] = band->room_extinction_per_m[room] * band->rate * band->dimming;
        haze->per_m3[room] = 1 / vs_mesh_cell_volume_m3(&air->mesh->cells[room]);
    }
}

LANES_CLONES void vs_air_send(const vs_air *air, const vs_air_band *band, const double *nits,
                              float *moment, double lost[LANES]) {
    const vs_mesh *mesh = air->mesh;
    ray_haze haze;
    meet_haze(air, band, &haze);
    for (size_t i = 0; i < mesh->patch_count; i++) {
        const vs_patch *patch = &mesh->patch[i];
        double any = 0;
        float light[LANES];
        EACH_LANE(l) {
            any += nits[i * LANES + (size_t)l];
            light[l] =
                (float)(VS_PI * patch->area_m2 / VS_AIR_PATCH_RAYS * nits[i * LANES + (size_t)l]);
        }
        for (size_t r = 0; r < VS_AIR_PATCH_RAYS && any != 0; r++) {
            carry(&haze, i * VS_AIR_PATCH_RAYS + r, light, moment, moment, NULL, lost);
        }
    }
}

/* What a cell's droplets send, by direction; false: nothing. */
LANES_INLINE bool make_source(const vs_air_band *band, const float *in, double k, double volume_m3,
                              float *source) {
    float per = (float)(k * band->rate * band->albedo * volume_m3), any = 0;
    for (int n = 0; n < VS_SH_COUNT; n++) {
        int degree = vs_sh_degree[n];
        EACH_LANE(l) {
            source[n * LANES + l] = per * (float)band->rest[l][degree] * in[n * LANES + l];
        }
    }
    EACH_LANE(l) {
        any += source[l];
    }
    return any > 0;
}

/* What each ray of a cell carries: to no side less than nothing, in all what the source is. */
LANES_INLINE void share_out(const vs_air_ray *ray, const float *source, const float *scale,
                            float carried[VS_AIR_CELL_RAYS][LANES]) {
    float sum[LANES] = {0}, by[LANES];
    for (int r = 0; r < VS_AIR_CELL_RAYS; r++) {
        EACH_LANE(l) {
            carried[r][l] = 0;
        }
        for (int n = 0; n < VS_SH_COUNT; n++) {
            float y = ray[r].harmonic[n];
            EACH_LANE(l) {
                carried[r][l] += y * source[n * LANES + l];
            }
        }
        EACH_LANE(l) {
            carried[r][l] = carried[r][l] > 0 ? carried[r][l] : 0;
            sum[l] += carried[r][l];
        }
    }
    EACH_LANE(l) { /* sqrt(4 pi) source_00: all that the cell sends */
        by[l] = sum[l] > 0 ? scale[l] * 3.5449077f * source[l] / sum[l] : 0;
    }
    for (int r = 0; r < VS_AIR_CELL_RAYS; r++) {
        EACH_LANE(l) {
            carried[r][l] *= by[l];
        }
    }
}

/* Light that all cells send, before it is brought to what is due. */
static void sum_sources(const vs_air *air, const vs_air_band *band, const float *in,
                        double sum[LANES]) {
    for (size_t room = 0; room < air->mesh->space->room_count; room++) {
        const vs_cell_grid *g = &air->mesh->cells[room];
        double per = sqrt(4 * VS_PI) * band->room_extinction_per_m[room] * band->rate *
                     band->albedo * vs_mesh_cell_volume_m3(g);
        for (size_t cell = g->first; cell < g->first + vs_mesh_cell_count(g); cell++) {
            for (int l = 0; l < LANES; l++) {
                sum[l] += per * band->rest[l][0] * (double)in[cell * VS_AIR_MOMENTS + (size_t)l];
            }
        }
    }
}

LANES_CLONES void vs_air_scatter(const vs_air *air, const vs_air_band *band, const float *in,
                                 const double due[LANES], float *out, float *behind,
                                 double *patch_lm, double lost[LANES]) {
    const vs_mesh *mesh = air->mesh;
    double sum[LANES] = {0};
    float scale[LANES], source[VS_AIR_MOMENTS];
    float carried[VS_AIR_CELL_RAYS][LANES];
    size_t first = mesh->patch_count * VS_AIR_PATCH_RAYS;
    ray_haze haze;
    meet_haze(air, band, &haze);
    sum_sources(air, band, in, sum);
    for (int l = 0; l < LANES; l++) {
        scale[l] = sum[l] > 0 ? (float)(due[l] / sum[l]) : 0;
    }
    for (size_t room = 0; room < mesh->space->room_count; room++) {
        const vs_cell_grid *g = &mesh->cells[room];
        double k = band->room_extinction_per_m[room], volume_m3 = vs_mesh_cell_volume_m3(g);
        for (size_t cell = g->first; k > 0 && cell < g->first + vs_mesh_cell_count(g); cell++) {
            size_t ray = first + cell * VS_AIR_CELL_RAYS;
            if (!make_source(band, in + cell * VS_AIR_MOMENTS, k, volume_m3, source)) {
                continue;
            }
            share_out(&air->ray[ray], source, scale, carried);
            for (size_t r = 0; r < VS_AIR_CELL_RAYS; r++) {
                carry(&haze, ray + r, carried[r], out, behind, patch_lm, lost);
            }
        }
    }
}
