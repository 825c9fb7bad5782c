/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Solid angles in closed form from their grid's corners: that of the rectangle from the foot of the
 * perpendicular to a corner is atan(u v/(h sqrt(u^2 + v^2 + h^2))) (Khadjavi 1968, J. Opt. Soc. Am.
 * 58, 1417); the vectors by Lambert's sum over edges (Siegel & Howell, Thermal Radiation Heat
 * Transfer, contour integration). */
#include "light/mesh/room_view.h"

#include <stdlib.h>
#include <string.h>

#include "base/arrays.h"

#define CORNERS_MAX ((size_t)64 * 64) /* of one grid, over what a mesh makes */

vs_status vs_room_view_init(vs_room_view *view, const vs_mesh *mesh) {
    const vs_room_view blank = {0};
    size_t most = 0;
    for (size_t r = 0; r < mesh->space->room_count; r++) {
        size_t count = mesh->room_first[r + 1] - mesh->room_first[r];
        most = count > most ? count : most;
    }
    size_t size = most + LANES; /* a row is written in whole lanes */
    *view = blank;
    const vs_array arrays[] = {VS_ARRAY(view->opening, mesh->patch_count),
                               VS_ARRAY(view->seen, size),
                               VS_ARRAY(view->x_m, size),
                               VS_ARRAY(view->y_m, size),
                               VS_ARRAY(view->z_m, size),
                               VS_ARRAY(view->away_m, size),
                               VS_ARRAY(view->solid_sr, size),
                               VS_ARRAY(view->open, size),
                               VS_ARRAY(view->x_sr, size),
                               VS_ARRAY(view->y_sr, size),
                               VS_ARRAY(view->z_sr, size),
                               VS_ARRAY(view->worth[0], size),
                               VS_ARRAY(view->worth[1], size),
                               VS_ARRAY(view->worth[2], size),
                               VS_ARRAY(view->crossed[0], size),
                               VS_ARRAY(view->crossed[1], size),
                               VS_ARRAY(view->crossed[2], size),
                               VS_ARRAY(view->corner[0], CORNERS_MAX),
                               VS_ARRAY(view->corner[1], CORNERS_MAX),
                               VS_ARRAY(view->corner[2], CORNERS_MAX),
                               VS_ARRAY(view->corner[3], CORNERS_MAX)};
    view->memory = vs_arrays_make(arrays, sizeof arrays / sizeof *arrays);
    if (!view->memory) {
        return VS_ERR_MEMORY;
    }
    for (size_t i = 0; i < mesh->patch_count; i++) {
        if (mesh->patch[i].opening != VS_MESH_NONE) {
            view->opening[view->opening_count++] = i;
        }
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
        float square = u[l] * u[l] + h * h, per_t = 1 / sqrtf(square), r = sqrtf(square + v * v);
        float a = single_atan(u[l] * per_s, 1), b = single_atan(v * per_t, 1);
        corner[0][i] = single_atan(u[l] * v, h * r);
        corner[1][i] = -0.5f * b * h * per_t;
        corner[2][i] = -0.5f * a * h * per_s;
        corner[3][i] = 0.5f * (a * v * per_s + b * u[l] * per_t);
    }
}

/* Eight patches of a row from their corners. Past the row's end it writes what the next row or grid,
 * or the end of the view, then overwrites. */
LANES_INLINE void patch_line(vs_room_view *view, const float eu[3], const float ev[3],
                             const float en[3], size_t corner, size_t stride, size_t at) {
    EACH_LANE(l) {
        size_t low = corner + (size_t)l, high = low + stride, i = at + (size_t)l;
        float sum[4];
        for (int n = 0; n < 4; n++) {
            const float *c = view->corner[n];
            sum[n] = (c[high + 1] - c[high]) - (c[low + 1] - c[low]);
        }
        view->solid_sr[i] = single_max(0, sum[0]);
        view->x_sr[i] = sum[1] * eu[0] + sum[2] * ev[0] - sum[3] * en[0];
        view->y_sr[i] = sum[1] * eu[1] + sum[2] * ev[1] - sum[3] * en[1];
        view->z_sr[i] = sum[1] * eu[2] + sum[2] * ev[2] - sum[3] * en[2];
    }
}

/* Solid angles of a grid's patches, and vectors over them, from a point `h` before it, at (u0, v0)
 * of its own axes. */
LANES_INLINE void grid_solid_angles(vs_room_view *view, const vs_patch_grid *g, double u0,
                                    double v0, double h) {
    size_t across = g->u_count + 1, stride = whole_lanes(across);
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
    for (size_t j = 0; j < g->v_count; j++) {
        size_t row = g->first - view->first + j * g->u_count;
        for (size_t i = 0; i < g->u_count; i += LANES) {
            patch_line(view, eu, ev, en, j * stride + i, stride, row + i);
        }
    }
}

static void clear_solid_angles(vs_room_view *view, const vs_patch_grid *g) {
    size_t first = g->first - view->first;
    for (size_t i = first; i < first + g->u_count * g->v_count; i++) {
        view->solid_sr[i] = view->x_sr[i] = view->y_sr[i] = view->z_sr[i] = 0;
    }
}

static bool sees_some_of(const vs_room_view *view, const vs_patch_grid *g) {
    size_t first = g->first - view->first, end = first + g->u_count * g->v_count;
    bool some = false;
    for (size_t n = first / LANES; n * LANES < end; n++) {
        some = some || view->seen[n];
    }
    return some;
}

LANES_INLINE void look_at_grid(vs_room_view *view, const vs_patch_grid *g, vs_vec3 at_m) {
    vs_vec3 d = vs_vec3_sub(at_m, g->rect.center_m);
    double h = vs_vec3_dot(d, g->rect.normal);
    if (h <= VS_SPACE_SKIN_M || !sees_some_of(view, g)) {
        clear_solid_angles(view, g);
    } else {
        grid_solid_angles(view, g, vs_vec3_dot(d, g->rect.u), vs_vec3_dot(d, g->rect.v), h);
    }
}

/* A rectangle between a place and others, on its own axes. */
typedef struct {
    float n[3], u[3], v[3];
    float before, from_u, from_v; /* where the place is: before its plane, from its middle */
    vs_extent extent;
} between;

static between between_of(const vs_rect *r, vs_extent extent, vs_vec3 at_m) {
    vs_vec3 from_m = vs_vec3_sub(at_m, r->center_m);
    between b = {.n = {(float)r->normal.x, (float)r->normal.y, (float)r->normal.z},
                 .u = {(float)r->u.x, (float)r->u.y, (float)r->u.z},
                 .v = {(float)r->v.x, (float)r->v.y, (float)r->v.z},
                 .before = (float)vs_vec3_dot(from_m, r->normal),
                 .from_u = (float)vs_vec3_dot(from_m, r->u),
                 .from_v = (float)vs_vec3_dot(from_m, r->v),
                 .extent = extent};
    return b;
}

LANES_INLINE float magnitude(float x) {
    return x < 0 ? -x : x;
}

/* Half of what a patch spans along an axis. */
LANES_INLINE float span(float *const half[6], size_t i, const float axis[3]) {
    return magnitude(half[0][i] * axis[0] + half[1][i] * axis[1] + half[2][i] * axis[2]) +
           magnitude(half[3][i] * axis[0] + half[4][i] * axis[1] + half[5][i] * axis[2]);
}

/* The share of what of a patch is thrown onto a rectangle's plane between two shares of the way that
 * lies within the rectangle.  du, dv, wide, high: to its middle, and half its spans, along u and v */
LANES_INLINE float thrown_within(const between *b, float du, float dv, float wide, float high,
                                 float from, float to) {
    const float skin = (float)VS_SPACE_SKIN_M;
    float middle = 0.5f * (from + to), half = 0.5f * magnitude(to - from);
    float half_u = single_max(middle * wide + half * magnitude(du), skin);
    float half_v = single_max(middle * high + half * magnitude(dv), skin);
    return lane_within(b->from_u + middle * du, half_u, b->extent.low_u, b->extent.high_u) *
           lane_within(b->from_v + middle * dv, half_v, b->extent.low_v, b->extent.high_v);
}

/* What share of each of eight patches is seen through a rectangle: its outline is thrown from the
 * place onto the rectangle's plane, as that of an upright box, the half nearer to the plane and the
 * farther one by themselves. So what is seen changes little by little where the place moves.
 *     t  out: where lines to their middles cross the plane, of their lengths */
LANES_INLINE void share_through(const between *b, const vs_mesh *mesh, const vs_room_view *view,
                                size_t n, float *share, float *t) {
    const float *x_m = view->x_m + n, *y_m = view->y_m + n, *z_m = view->z_m + n;
    float *const *half = mesh->half_m;
    const float skin = (float)VS_SPACE_SKIN_M, side = b->before < 0 ? 1 : -1;
    const float off = magnitude(b->before);
    EACH_LANE(l) {
        size_t i = view->first + n + (size_t)l;
        float step = side * (x_m[l] * b->n[0] + y_m[l] * b->n[1] + z_m[l] * b->n[2]);
        float du = x_m[l] * b->u[0] + y_m[l] * b->u[1] + z_m[l] * b->u[2];
        float dv = x_m[l] * b->v[0] + y_m[l] * b->v[1] + z_m[l] * b->v[2];
        float deep = span(half, i, b->n), wide = span(half, i, b->u), high = span(half, i, b->v);
        float past = lane_within(step - off, single_max(deep, skin), skin, SINGLE_FAR);
        float first = off / single_max(step + deep, off + skin);
        float last = off / single_max(step - deep, off + skin);
        t[l] = off / single_max(step, off + skin);
        float near = thrown_within(b, du, dv, wide, high, t[l], last);
        float far = thrown_within(b, du, dv, wide, high, first, t[l]);
        share[l] = past * 0.5f * (near + far);
    }
}

/* What a blocker lets through to eight patches. */
LANES_INLINE void past_blocker(const between *b, float stopped, const vs_mesh *mesh,
                               vs_room_view *view, size_t n) {
    float share[LANES], t[LANES];
    share_through(b, mesh, view, n, share, t);
    EACH_LANE(l) {
        view->open[n + (size_t)l] *= 1 - share[l] * stopped;
    }
}

/* The plane of a rectangle that a place lies in hides nothing from it. */
static bool is_edge_on(const between *b) {
    return magnitude(b->before) <= (float)VS_SPACE_SKIN_M;
}

/* Half of what an upright box spans along an axis. */
LANES_INLINE float box_span(float *const box[6], size_t i, const float axis[3]) {
    return box[3][i] * magnitude(axis[0]) + box[4][i] * magnitude(axis[1]) +
           box[5][i] * magnitude(axis[2]);
}

/* Over zero where a rectangle may hide something of what is in each of eight boxes: behind its plane,
 * and thrown onto it not beside it. */
LANES_INLINE void may_hide(const between *b, float *const box[6], size_t at, vs_vec3 at_m,
                           float *may) {
    const float skin = (float)VS_SPACE_SKIN_M, side = b->before < 0 ? 1 : -1;
    const float off = magnitude(b->before);
    const float px = (float)at_m.x, py = (float)at_m.y, pz = (float)at_m.z;
    EACH_LANE(l) {
        size_t i = at + (size_t)l;
        float x = box[0][i] - px, y = box[1][i] - py, z = box[2][i] - pz;
        float deep = box_span(box, i, b->n) + skin;
        float wide = box_span(box, i, b->u), high = box_span(box, i, b->v);
        float step = side * (x * b->n[0] + y * b->n[1] + z * b->n[2]);
        float u = x * b->u[0] + y * b->u[1] + z * b->u[2];
        float v = x * b->v[0] + y * b->v[1] + z * b->v[2];
        float first = off / single_max(step + deep, off + skin);
        float last = off / single_max(step - deep, off + skin);
        float u0 = b->from_u + first * u, u1 = b->from_u + last * u;
        float v0 = b->from_v + first * v, v1 = b->from_v + last * v;
        float in_u =
            single_min(b->extent.high_u - single_min(u0, u1), single_max(u0, u1) - b->extent.low_u);
        float in_v =
            single_min(b->extent.high_v - single_min(v0, v1), single_max(v0, v1) - b->extent.low_v);
        in_u += last * wide + skin;
        in_v += last * high + skin;
        may[l] = single_min(step + deep - off, single_min(in_u, in_v));
    }
}

LANES_INLINE void look_past_blocker(vs_room_view *view, const vs_mesh *mesh, size_t blocker,
                                    vs_vec3 at_m) {
    const vs_blocker *stops = &mesh->space->blocker[blocker];
    between b = between_of(&stops->rect, mesh->blocker[blocker], at_m);
    const float stopped = (float)(1 - stops->transmittance);
    size_t eights = whole_lanes(view->count) / LANES, first = mesh->eight_first[view->room];
    for (size_t e = 0; e < eights && !is_edge_on(&b); e += LANES) {
        float may[LANES];
        may_hide(&b, mesh->eight, first + e, at_m, may);
        for (size_t l = 0; l < LANES && e + l < eights; l++) {
            if (may[l] > 0 && view->seen[e + l]) {
                past_blocker(&b, stopped, mesh, view, (e + l) * LANES);
            }
        }
    }
}

/* Those that stand in a room. */
LANES_INLINE void look_past_blockers(vs_room_view *view, const vs_mesh *mesh, size_t room,
                                     vs_vec3 at_m) {
    for (size_t i = 0; i < mesh->space->blocker_count; i++) {
        if (mesh->blocker_room[i] == room) {
            look_past_blocker(view, mesh, i, at_m);
        }
    }
}

static void turn_to_room(vs_room_view *view, const vs_mesh *mesh, size_t room) {
    view->room = room;
    view->first = mesh->room_first[room];
    view->presence = mesh->presence + view->first;
    view->count = mesh->room_first[room + 1] - view->first;
}

/* Finds the patches of eights that may be seen. */
LANES_INLINE void look_about(vs_room_view *view, const vs_mesh *mesh, vs_vec3 at_m) {
    size_t whole = whole_lanes(view->count);
    const float *middle[3] = {mesh->middle_m[0] + view->first, mesh->middle_m[1] + view->first,
                              mesh->middle_m[2] + view->first};
    const float at[3] = {(float)at_m.x, (float)at_m.y, (float)at_m.z};
    for (size_t n = 0; n < whole; n += LANES) {
        EACH_LANE(l) {
            size_t i = n + (size_t)l;
            float x = middle[0][i] - at[0], y = middle[1][i] - at[1], z = middle[2][i] - at[2];
            view->x_m[i] = x;
            view->y_m[i] = y;
            view->z_m[i] = z;
            view->away_m[i] = sqrtf(x * x + y * y + z * z) + SINGLE_TINY;
            view->open[i] = 1;
        }
    }
    for (size_t g = 0; g < mesh->grid_count; g++) {
        if (mesh->grid_room[g] == view->room) {
            look_at_grid(view, &mesh->grid[g], at_m);
        }
    }
    for (size_t i = view->count; i < whole; i++) {
        view->solid_sr[i] = view->x_sr[i] = view->y_sr[i] = view->z_sr[i] = 0;
    }
    look_past_blockers(view, mesh, view->room, at_m);
}

/* Finds which eights may be seen through an opening. */
LANES_INLINE void cull(vs_room_view *view, const vs_mesh *mesh, const between *b, vs_vec3 at_m) {
    size_t eights = whole_lanes(view->count) / LANES, first = mesh->eight_first[view->room];
    for (size_t e = 0; e < eights; e += LANES) {
        float may[LANES];
        may_hide(b, mesh->eight, first + e, at_m, may);
        for (size_t l = 0; l < LANES && e + l < eights; l++) {
            view->seen[e + l] = view->seen[e + l] && may[l] > 0;
        }
    }
}

LANES_CLONES void vs_room_view_make(vs_room_view *view, const vs_mesh *mesh, const size_t *room,
                                    vs_vec3 at_m, const size_t *opening, size_t count) {
    between b[VS_VIEW_OPENINGS_MAX];
    turn_to_room(view, mesh, room[count]);
    memset(view->seen, true, whole_lanes(view->count) / LANES);
    for (size_t i = 0; i < count; i++) {
        b[i] = between_of(&mesh->space->opening[opening[i]].rect, mesh->opening[opening[i]], at_m);
        cull(view, mesh, &b[i], at_m);
    }
    look_about(view, mesh, at_m);
    for (size_t i = 0; i < count; i++) {
        look_past_blockers(view, mesh, room[i], at_m);
        for (size_t n = 0; n < view->count; n += LANES) {
            float share[LANES];
            if (!view->seen[n / LANES]) {
                continue;
            }
            share_through(&b[i], mesh, view, n, share, view->crossed[i] + n);
            EACH_LANE(l) {
                view->open[n + (size_t)l] *= share[l];
            }
        }
    }
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

/* What eight patches are worth to light scattered into -toward. */
LANES_INLINE void worths_scattered(vs_room_view *view, const vs_scattering *s, const float d[3],
                                   size_t n) {
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

/* What they are worth to a surface that faces along d, in the first band as in all. */
LANES_INLINE void worths_facing(vs_room_view *view, const float d[3], size_t n) {
    EACH_LANE(l) {
        size_t i = n + (size_t)l;
        float facing = view->x_sr[i] * d[0] + view->y_sr[i] * d[1] + view->z_sr[i] * d[2];
        view->worth[0][i] = single_max(0, facing) * view->open[i];
    }
}

LANES_CLONES void vs_room_view_worths(vs_room_view *view, const vs_scattering *s, vs_vec3 toward) {
    const float d[3] = {(float)toward.x, (float)toward.y, (float)toward.z};
    for (size_t n = 0; n < view->count; n += LANES) {
        if (!view->seen[n / LANES]) {
            for (int band = 0; band < VS_BAND_COUNT; band++) {
                memset(view->worth[band] + n, 0, LANES * sizeof *view->worth[band]);
            }
        } else if (s) {
            worths_scattered(view, s, d, n);
        } else {
            worths_facing(view, d, n);
        }
    }
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        if (s || band == 0) {
            normalise(view, band);
        } else {
            memcpy(view->worth[band], view->worth[0],
                   whole_lanes(view->count) * sizeof *view->worth[0]);
        }
    }
}
