/* Views within a room are closed forms where patches are near, middles where they are far; screens
 * and openings are looked past and through along lines. Each row is brought to a whole view.
 * Source: Cohen & Wallace 1993, Radiosity and Realistic Image Synthesis, ch. 4. */
#include "light/views.h"

#include <math.h>
#include <stdlib.h>

#include "veilstop/base/units.h"
#include "veilstop/light/view_factor.h"

#define PATCH_TARGET 150 /* patches of a whole location, about */
#define FAR_SIZES    3.0 /* [1] of the larger patch: from this distance middles stand for patches */

static vs_status add_view(vs_views *views, vs_view view) {
    if (views->count == views->size) {
        size_t size = views->size ? 2 * views->size : 16384;
        vs_view *more = realloc(views->view, size * sizeof *more);
        if (!more) {
            return VS_ERR_MEMORY;
        }
        views->view = more;
        views->size = size;
    }
    views->view[views->count++] = view;
    return VS_OK;
}

/* Exchange area of far patches, as if all of each were at its middle [m2]. */
static double exchange_of_middles(const vs_patch *a, const vs_patch *b) {
    vs_vec3 way = vs_vec3_sub(b->rect.center_m, a->rect.center_m);
    double square = vs_vec3_dot(way, way);
    double from = vs_vec3_dot(way, a->rect.normal), to = -vs_vec3_dot(way, b->rect.normal);
    return from > 0 && to > 0 ? a->area_m2 * b->area_m2 * from * to / (VS_PI * square * square) : 0;
}

/* Exchange area with a screen's side, which may stand at any angle: views from four points. */
static double exchange_from_points(const vs_patch *a, const vs_patch *b) {
    double sum = 0;
    for (int i = 0; i < 4; i++) {
        double u = (i & 1 ? 0.5 : -0.5) * a->rect.half_u_m;
        double v = (i & 2 ? 0.5 : -0.5) * a->rect.half_v_m;
        vs_vec3 p = vs_vec3_along(vs_vec3_along(a->rect.center_m, a->rect.u, u), a->rect.v, v);
        sum += vs_view_from_point(p, a->rect.normal, &b->rect);
    }
    return sum / 4 * a->area_m2;
}

static double exchange_m2(const vs_patch *a, const vs_patch *b) {
    double gap = vs_vec3_length(vs_vec3_sub(a->rect.center_m, b->rect.center_m));
    if (gap > FAR_SIZES * fmax(a->size_m, b->size_m)) {
        return exchange_of_middles(a, b);
    }
    if (a->screen == VS_MESH_NONE && b->screen == VS_MESH_NONE) {
        return vs_view_exchange_m2(&a->rect, &b->rect);
    }
    return exchange_from_points(a, b);
}

/* What screens leave of the view between two patches: middles, and two lines aside. */
static double open_between(const vs_mesh *mesh, const vs_patch *a, const vs_patch *b) {
    static const double off[5][2] = {{0, 0}, {-0.5, -0.5}, {0.5, 0.5}, {-0.5, 0.5}, {0.5, -0.5}};
    double sum = 0;
    if (mesh->space->screen_count == 0) {
        return 1;
    }
    for (int i = 0; i < 5; i++) {
        vs_vec3 p = vs_vec3_along(a->rect.center_m, a->rect.u, off[i][0] * a->rect.half_u_m);
        p = vs_vec3_along(p, a->rect.v, off[i][1] * a->rect.half_v_m);
        vs_vec3 q = vs_vec3_along(b->rect.center_m, b->rect.u, off[i][1] * b->rect.half_u_m);
        q = vs_vec3_along(q, b->rect.v, off[i][0] * b->rect.half_v_m);
        sum += vs_space_past_screens(mesh->space, p, q);
    }
    return sum / 5;
}

/* Through a piece of an opening one sees what lies straight behind it. */
static vs_view view_through(const vs_mesh *mesh, const vs_patch *from, const vs_patch *opening,
                            double share) {
    vs_vec3 way = vs_vec3_sub(opening->rect.center_m, from->rect.center_m);
    vs_vec3 start = vs_vec3_along(from->rect.center_m, from->rect.normal, VS_SPACE_SKIN_M);
    vs_mesh_hit hit = vs_mesh_look(mesh, from->room, start, vs_vec3_unit(way));
    vs_view view = {hit.patch, share * hit.open, hit.length_m, VS_SPACE_OUTSIDE, VS_MESH_NONE};
    return view;
}

static vs_status add_row(vs_views *views, size_t i, const double *exchange) {
    const vs_mesh *mesh = &views->mesh;
    const vs_patch *from = &mesh->patch[i];
    size_t first = mesh->room_first[from->room], end = mesh->room_first[from->room + 1];
    double whole = 0;
    for (size_t j = first; j < end; j++) {
        whole += exchange[j - first] * mesh->patch[j].presence;
    }
    for (size_t j = first; j < end && whole > 0; j++) {
        const vs_patch *to = &mesh->patch[j];
        double share = exchange[j - first] * to->presence / whole;
        if (share <= 0) {
            continue;
        }
        vs_vec3 way = vs_vec3_sub(to->rect.center_m, from->rect.center_m);
        vs_vec3 middle = vs_vec3_along(from->rect.center_m, way, 0.5);
        vs_view view = {j, share, vs_vec3_length(way), from->room,
                        vs_mesh_cell(mesh, from->room, middle)};
        if (to->portal != VS_MESH_NONE) {
            view = view_through(mesh, from, to, share);
            view.cell = vs_mesh_cell(mesh, from->room, middle);
        }
        vs_status status = view.patch == VS_MESH_NONE ? VS_OK : add_view(views, view);
        if (status != VS_OK) {
            return status;
        }
    }
    return VS_OK;
}

/* All exchange areas of a room: the half over the diagonal is worked out, the rest mirrored. */
static void fill_exchange(const vs_mesh *mesh, size_t room, double *exchange) {
    size_t first = mesh->room_first[room], n = mesh->room_first[room + 1] - first;
    for (size_t i = 0; i < n; i++) {
        exchange[i * n + i] = 0;
        for (size_t j = i + 1; j < n; j++) {
            const vs_patch *a = &mesh->patch[first + i], *b = &mesh->patch[first + j];
            double value = 0;
            if (vs_vec3_dot(a->rect.normal, b->rect.normal) < 1 - 1e-9) {
                value = exchange_m2(a, b);
                value = value > 0 ? value * open_between(mesh, a, b) : 0;
            }
            exchange[i * n + j] = exchange[j * n + i] = value;
        }
    }
}

static vs_status fill(vs_views *views) {
    const vs_mesh *mesh = &views->mesh;
    vs_status status = VS_OK;
    for (size_t r = 0; r < mesh->space->room_count && status == VS_OK; r++) {
        size_t first = mesh->room_first[r], n = mesh->room_first[r + 1] - first;
        double *exchange = malloc(n * n * sizeof *exchange);
        if (!exchange) {
            return VS_ERR_MEMORY;
        }
        fill_exchange(mesh, r, exchange);
        for (size_t i = 0; i < n && status == VS_OK; i++) {
            views->first[first + i] = views->count;
            status = add_row(views, first + i, exchange + i * n);
        }
        free(exchange);
    }
    views->first[mesh->patch_count] = views->count;
    return status;
}

vs_status vs_views_init(vs_views *views, const vs_space *space, const vs_surfaces *surfaces) {
    const vs_views blank = {.count = 0};
    *views = blank;
    vs_status status = vs_mesh_init(&views->mesh, space, surfaces, PATCH_TARGET);
    if (status == VS_OK) {
        views->first = calloc(views->mesh.patch_count + 1, sizeof *views->first);
        status = views->first ? fill(views) : VS_ERR_MEMORY;
    }
    if (status != VS_OK) {
        vs_views_free(views);
    }
    return status;
}

void vs_views_free(vs_views *views) {
    const vs_views blank = {.count = 0};
    vs_mesh_free(&views->mesh);
    free(views->first);
    free(views->view);
    *views = blank;
}
