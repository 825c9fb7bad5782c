/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Solid angles in closed form from their grid's corners: that of the rectangle from the foot of the
 * perpendicular to a corner is atan(u v/(h sqrt(u^2 + v^2 + h^2))) (Khadjavi 1968, J. Opt. Soc. Am.
 * 58, 1417); the vectors by Lambert's sum over edges (Siegel & Howell, Thermal Radiation Heat
 * Transfer, contour integration). */
#include "light/transport/room_view.h"

#include <stdlib.h>

#define CORNERS_MAX ((size_t)64 * 64) /* of one grid, over what a mesh makes */

static size_t whole_lanes(size_t count) {
    return (count + LANES - 1) / LANES * LANES;
}

vs_status vs_room_view_init(vs_room_view *view, const vs_mesh *mesh) {
    const vs_room_view blank = {0};
    size_t most = 0;
    for (size_t r = 0; r < mesh->space->room_count; r++) {
        size_t count = mesh->room_first[r + 1] - mesh->room_first[r];
        most = count > most ? count : most;
    }
    size_t size = whole_lanes(most);
    *view = blank;
    view->memory = calloc(13 * size + 4 * CORNERS_MAX + 1, sizeof *view->memory);
    if (!view->memory) {
        return VS_ERR_MEMORY;
    }
    float **list[] = {&view->x_m,      &view->y_m,      &view->z_m,      &view->away_m,
                      &view->solid_sr, &view->open,     &view->presence, &view->worth[0],
                      &view->worth[1], &view->worth[2], &view->x_sr,     &view->y_sr,
                      &view->z_sr};
    for (size_t i = 0; i < sizeof list / sizeof *list; i++) {
        *list[i] = view->memory + i * size;
    }
    for (size_t i = 0; i < 4; i++) {
        view->corner[i] = view->memory + 13 * size + i * CORNERS_MAX;
    }
    return VS_OK;
}

void vs_room_view_free(vs_room_view *view) {
    const vs_room_view blank = {0};
    free(view->memory);
    *view = blank;
}

/* What a corner at (u, v), a height h below the place, counts in sums over rectangles: of solid
 * angle, and of the unit vectors' components along u, v and towards the plane. With
 * s = sqrt(v^2 + h^2), t = sqrt(u^2 + h^2), A = atan(u/s), B = atan(v/t):
 *   atan(u v/(h r)),  -B h/(2 t),  -A h/(2 s),  (A v/s + B u/t)/2. */
LANES_INLINE void corner_line(float v, float h, const float *u, float *const corner[4], size_t at) {
    float s = sqrtf(v * v + h * h), per_s = 1 / s;
    EACH_LANE(l) {
        size_t i = at + (size_t)l;
        float square = u[l] * u[l] + h * h, t = sqrtf(square), r = sqrtf(square + v * v);
        float a = single_atan(u[l], s), b = single_atan(v, t);
        corner[0][i] = single_atan(u[l] * v, h * r);
        corner[1][i] = -0.5f * b * h / t;
        corner[2][i] = -0.5f * a * h * per_s;
        corner[3][i] = 0.5f * (a * v * per_s + b * u[l] / t);
    }
}

/* Solid angles of a grid's patches, and vectors over them, from a point `h` before it, at (u0, v0)
 * of its own axes. */
LANES_INLINE void grid_solid_angles(vs_room_view *view, const vs_patch_grid *g, double u0,
                                    double v0, double h) {
    size_t across = g->u_count + 1, stride = (across + LANES - 1) / LANES * LANES;
    float u[64] = {0}, eu[3] = {(float)g->rect.u.x, (float)g->rect.u.y, (float)g->rect.u.z};
    float ev[3] = {(float)g->rect.v.x, (float)g->rect.v.y, (float)g->rect.v.z};
    float en[3] = {(float)g->rect.normal.x, (float)g->rect.normal.y, (float)g->rect.normal.z};
    for (size_t i = 0; i < stride; i++) {
        u[i] = (float)((i < across ? g->u[i] : g->u[across - 1]) - u0);
    }
    for (size_t j = 0; j <= g->v_count; j++) {
        for (size_t i = 0; i < stride; i += LANES) {
            corner_line((float)(g->v[j] - v0), (float)h, u + i, view->corner, j * stride + i);
        }
    }
    size_t first = g->first - view->first;
    for (size_t j = 0; j < g->v_count; j++) {
        for (size_t i = 0; i < g->u_count; i++) {
            float sum[4];
            for (int n = 0; n < 4; n++) {
                const float *low = view->corner[n] + j * stride + i, *high = low + stride;
                sum[n] = (high[1] - high[0]) - (low[1] - low[0]);
            }
            size_t at = first + j * g->u_count + i;
            view->solid_sr[at] = single_max(0, sum[0]);
            view->x_sr[at] = sum[1] * eu[0] + sum[2] * ev[0] - sum[3] * en[0];
            view->y_sr[at] = sum[1] * eu[1] + sum[2] * ev[1] - sum[3] * en[1];
            view->z_sr[at] = sum[1] * eu[2] + sum[2] * ev[2] - sum[3] * en[2];
        }
    }
}

static void clear_solid_angles(vs_room_view *view, const vs_patch_grid *g) {
    size_t first = g->first - view->first;
    for (size_t i = first; i < first + g->u_count * g->v_count; i++) {
        view->solid_sr[i] = view->x_sr[i] = view->y_sr[i] = view->z_sr[i] = 0;
    }
}

LANES_INLINE void look_at_grid(vs_room_view *view, const vs_patch_grid *g, vs_vec3 at_m) {
    vs_vec3 d = vs_vec3_sub(at_m, g->rect.center_m);
    double h = vs_vec3_dot(d, g->rect.normal);
    if (h <= VS_SPACE_SKIN_M) {
        clear_solid_angles(view, g);
    } else {
        grid_solid_angles(view, g, vs_vec3_dot(d, g->rect.u), vs_vec3_dot(d, g->rect.v), h);
    }
}

/* Eight lines past one blocker; `before_m`: how far before its plane the place is, from_m: from the
 * blocker's middle to the place. */
LANES_INLINE void past_blocker(const vs_blocker *blocker, vs_vec3 from_m, double before_m,
                               const float *x_m, const float *y_m, const float *z_m, float *open) {
    const vs_rect *r = &blocker->rect;
    const float n[3] = {(float)r->normal.x, (float)r->normal.y, (float)r->normal.z};
    const float u[3] = {(float)r->u.x, (float)r->u.y, (float)r->u.z};
    const float v[3] = {(float)r->v.x, (float)r->v.y, (float)r->v.z};
    float from_u = (float)vs_vec3_dot(from_m, r->u), from_v = (float)vs_vec3_dot(from_m, r->v);
    float half_u = (float)r->half_u_m, half_v = (float)r->half_v_m, before = (float)before_m;
    float passed = (float)blocker->transmittance;
    EACH_LANE(l) {
        float step = x_m[l] * n[0] + y_m[l] * n[1] + z_m[l] * n[2], after = before + step;
        float t = -before / (step == 0 ? SINGLE_TINY : step);
        float at_u = from_u + t * (x_m[l] * u[0] + y_m[l] * u[1] + z_m[l] * u[2]);
        float at_v = from_v + t * (x_m[l] * v[0] + y_m[l] * v[1] + z_m[l] * v[2]);
        at_u = at_u < 0 ? -at_u : at_u;
        at_v = at_v < 0 ? -at_v : at_v;
        /* ends on either side of it, the far one off its skin, and within its sides */
        float other = before < 0 ? after : -after;
        float in = other > (float)VS_SPACE_SKIN_M ? 1.0f : 0.0f;
        in = at_u <= half_u ? in : 0;
        in = at_v <= half_v ? in : 0;
        open[l] *= in > 0 ? passed : 1;
    }
}

LANES_CLONES void vs_past_blockers(const vs_space *space, vs_vec3 at_m, const float *x_m,
                                   const float *y_m, const float *z_m, float *open) {
    for (size_t i = 0; i < space->blocker_count; i++) {
        const vs_blocker *blocker = &space->blocker[i];
        vs_vec3 from_m = vs_vec3_sub(at_m, blocker->rect.center_m);
        double before_m = vs_vec3_dot(from_m, blocker->rect.normal);
        if (before_m > VS_SPACE_SKIN_M || before_m < -VS_SPACE_SKIN_M) {
            past_blocker(blocker, from_m, before_m, x_m, y_m, z_m, open);
        }
    }
}

LANES_INLINE void look_past_blockers(vs_room_view *view, const vs_space *space, vs_vec3 at_m) {
    for (size_t i = 0; i < space->blocker_count; i++) {
        const vs_blocker *blocker = &space->blocker[i];
        vs_vec3 from_m = vs_vec3_sub(at_m, blocker->rect.center_m);
        double before_m = vs_vec3_dot(from_m, blocker->rect.normal);
        if (before_m <= VS_SPACE_SKIN_M && before_m >= -VS_SPACE_SKIN_M) {
            continue;
        }
        for (size_t n = 0; n < view->count; n += LANES) {
            past_blocker(blocker, from_m, before_m, view->x_m + n, view->y_m + n, view->z_m + n,
                         view->open + n);
        }
    }
}

LANES_CLONES void vs_room_view_make(vs_room_view *view, const vs_mesh *mesh, size_t room,
                                    vs_vec3 at_m) {
    view->first = mesh->room_first[room];
    view->count = mesh->room_first[room + 1] - view->first;
    size_t whole = (view->count + LANES - 1) / LANES * LANES;
    for (size_t i = 0; i < whole; i++) {
        const vs_patch *patch = &mesh->patch[view->first + (i < view->count ? i : 0)];
        view->x_m[i] = (float)(patch->rect.center_m.x - at_m.x);
        view->y_m[i] = (float)(patch->rect.center_m.y - at_m.y);
        view->z_m[i] = (float)(patch->rect.center_m.z - at_m.z);
        view->presence[i] = (float)patch->presence;
        view->open[i] = 1;
        view->solid_sr[i] = view->x_sr[i] = view->y_sr[i] = view->z_sr[i] = 0;
    }
    for (size_t n = 0; n < whole; n += LANES) {
        EACH_LANE(l) {
            size_t i = n + (size_t)l;
            view->away_m[i] = sqrtf(view->x_m[i] * view->x_m[i] + view->y_m[i] * view->y_m[i] +
                                    view->z_m[i] * view->z_m[i]) +
                              SINGLE_TINY;
        }
    }
    for (size_t g = 0; g < mesh->grid_count; g++) {
        if (mesh->grid_room[g] == room) {
            look_at_grid(view, &mesh->grid[g], at_m);
        }
    }
    look_past_blockers(view, mesh->space, at_m);
}

/* Scales worths to shares of their sum. */
LANES_INLINE void normalise(vs_room_view *view, int band) {
    float *worth = view->worth[band], sum[LANES] = {0};
    for (size_t n = 0; n < view->count; n += LANES) {
        EACH_LANE(l) {
            sum[l] += worth[n + (size_t)l] * view->presence[n + (size_t)l];
        }
    }
    float whole = single_sum(sum), share = whole > 0 ? 1 / whole : 0;
    for (size_t n = 0; n < view->count; n += LANES) {
        EACH_LANE(l) {
            worth[n + (size_t)l] *= share;
        }
    }
}

LANES_CLONES void vs_room_view_scattered(vs_room_view *view, const vs_scattering *s,
                                         vs_vec3 along) {
    float d[3] = {(float)along.x, (float)along.y, (float)along.z};
    for (size_t n = 0; n < view->count; n += LANES) {
        float cosine[LANES], cap_sr[LANES], per_sr[VS_BAND_COUNT][LANES];
        EACH_LANE(l) {
            size_t i = n + (size_t)l;
            float x = view->x_sr[i], y = view->y_sr[i], z = view->z_sr[i];
            float sum = sqrtf(x * x + y * y + z * z) + SINGLE_TINY;
            cosine[l] = (x * d[0] + y * d[1] + z * d[2]) / sum;
            cap_sr[l] = lane_cap_sr(sum, view->solid_sr[i]);
        }
        lanes_scattering(s, cosine, cap_sr, per_sr);
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            EACH_LANE(l) {
                size_t i = n + (size_t)l;
                view->worth[band][i] = per_sr[band][l] * view->solid_sr[i] * view->open[i];
            }
        }
    }
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        normalise(view, band);
    }
}

LANES_CLONES void vs_room_view_facing(vs_room_view *view, vs_vec3 normal) {
    float f[3] = {(float)normal.x, (float)normal.y, (float)normal.z};
    for (size_t n = 0; n < view->count; n += LANES) {
        EACH_LANE(l) {
            size_t i = n + (size_t)l;
            float facing = view->x_sr[i] * f[0] + view->y_sr[i] * f[1] + view->z_sr[i] * f[2];
            view->worth[0][i] = single_max(0, facing) * view->open[i];
        }
    }
    normalise(view, 0);
    for (size_t i = 0; i < view->count; i++) {
        view->worth[2][i] = view->worth[1][i] = view->worth[0][i];
    }
}

void vs_room_view_keep(const vs_room_view *view, float *kept) {
    size_t whole = (view->count + LANES - 1) / LANES * LANES;
    for (size_t i = 0; i < whole; i++) {
        for (size_t band = 0; band < VS_BAND_COUNT; band++) {
            kept[band * whole + i] = i < view->count ? view->worth[band][i] : 0;
        }
        kept[VS_BAND_COUNT * whole + i] = view->away_m[i];
    }
}
