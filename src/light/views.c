/* Views within a room are closed forms where patches are near, middles where they are far; screens
 * and openings are looked past and through along lines. Each row is brought to a whole view.
 * Source: Cohen & Wallace 1993, Radiosity and Realistic Image Synthesis, ch. 4. */
#include "light/views.h"

#include <math.h>
#include <stdlib.h>

#include "light/gather.h"
#include "light/grown.h"
#include "veilstop/base/units.h"
#include "veilstop/light/view_factor.h"

#define PATCH_TARGET 300 /* patches of a whole location, about */
#define FAR_SIZES    3.0 /* [1] of the larger patch: from this distance middles stand for patches */

/* The entry of a place in the row that is being made, the last one. */
static vs_status find_entry(vs_views *views, size_t row, size_t place, size_t *entry) {
    *entry = views->found[place];
    if (*entry >= views->entry_first[row] && *entry < views->entry_count &&
        views->entry[*entry] == place) {
        return VS_OK;
    }
    size_t *list =
        vs_grown(views->entry, views->entry_count, &views->entry_size, sizeof *views->entry);
    if (!list) {
        return VS_ERR_MEMORY;
    }
    views->entry = list;
    *entry = views->found[place] = views->entry_count;
    views->entry[views->entry_count++] = place;
    return VS_OK;
}

static vs_status add_piece(vs_views *views, size_t room, double length_m) {
    vs_view_piece *list =
        vs_grown(views->piece, views->piece_count, &views->piece_size, sizeof *views->piece);
    if (!list) {
        return VS_ERR_MEMORY;
    }
    views->piece = list;
    views->piece[views->piece_count].room = room;
    views->piece[views->piece_count++].length_m = length_m;
    return VS_OK;
}

/* The stretches of a straight way, room by room. */
static vs_status add_pieces(vs_views *views, vs_vec3 a, vs_vec3 b) {
    const vs_space *space = views->mesh.space;
    double length_m = vs_vec3_length(vs_vec3_sub(b, a)), enter, leave;
    vs_status status = VS_OK;
    for (size_t r = 0; r < space->room_count && status == VS_OK; r++) {
        if (vs_space_part_in_room(space, r, a, b, &enter, &leave)) {
            status = add_piece(views, r, (leave - enter) * length_m);
        }
    }
    return status;
}

/* Ends the view whose pieces were added last. */
static vs_status add_view(vs_views *views, size_t row, size_t patch, size_t cell, double share) {
    vs_view *list =
        vs_grown(views->view, views->view_count, &views->view_size, sizeof *views->view);
    if (!list) {
        return VS_ERR_MEMORY;
    }
    views->view = list;
    vs_view view = {.share = share, .piece_end = views->piece_count};
    vs_status status = find_entry(views, row, views->mesh.cell_count + patch, &view.patch);
    if (status == VS_OK) {
        status = find_entry(views, row, cell, &view.air);
    }
    views->view[views->view_count++] = view;
    return status;
}

/* ---- what patches see ---- */

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
static vs_mesh_hit look_through(const vs_mesh *mesh, const vs_patch *from,
                                const vs_patch *opening) {
    vs_vec3 way = vs_vec3_sub(opening->rect.center_m, from->rect.center_m);
    vs_vec3 start = vs_vec3_along(from->rect.center_m, from->rect.normal, VS_SPACE_SKIN_M);
    return vs_mesh_look(mesh, from->room, start, vs_vec3_unit(way));
}

/* A patch sees another one of its room, or what is behind it. */
static vs_status add_patch_view(vs_views *views, size_t i, size_t j, double share) {
    const vs_mesh *mesh = &views->mesh;
    const vs_patch *from = &mesh->patch[i], *to = &mesh->patch[j];
    vs_vec3 way = vs_vec3_sub(to->rect.center_m, from->rect.center_m);
    size_t cell = vs_mesh_cell(mesh, from->room, vs_vec3_along(from->rect.center_m, way, 0.5));
    size_t row = mesh->cell_count + i;
    vs_status status;
    if (to->portal == VS_MESH_NONE) {
        status = add_piece(views, from->room, vs_vec3_length(way));
    } else {
        vs_mesh_hit hit = look_through(mesh, from, to);
        if (hit.patch == VS_MESH_NONE) {
            return VS_OK;
        }
        j = hit.patch;
        share *= hit.open;
        status = add_pieces(views, from->rect.center_m, mesh->patch[j].rect.center_m);
    }
    return status == VS_OK ? add_view(views, row, j, cell, share) : status;
}

static vs_status add_patch_row(vs_views *views, size_t i, const double *exchange) {
    const vs_mesh *mesh = &views->mesh;
    size_t room = mesh->patch[i].room;
    size_t first = mesh->room_first[room], end = mesh->room_first[room + 1];
    double whole = 0;
    vs_status status = VS_OK;
    for (size_t j = first; j < end; j++) {
        whole += exchange[j - first] * mesh->patch[j].presence;
    }
    for (size_t j = first; j < end && whole > 0 && status == VS_OK; j++) {
        double share = exchange[j - first] * mesh->patch[j].presence / whole;
        if (share > 0) {
            status = add_patch_view(views, i, j, share);
        }
    }
    return status;
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

static void begin_row(vs_views *views, size_t row) {
    views->view_first[row] = views->view_count;
    views->entry_first[row] = views->entry_count;
}

static vs_status fill_patches(vs_views *views, size_t room) {
    const vs_mesh *mesh = &views->mesh;
    size_t first = mesh->room_first[room], n = mesh->room_first[room + 1] - first;
    double *exchange = malloc(n * n * sizeof *exchange);
    if (!exchange) {
        return VS_ERR_MEMORY;
    }
    vs_status status = VS_OK;
    fill_exchange(mesh, room, exchange);
    for (size_t i = 0; i < n && status == VS_OK; i++) {
        const vs_patch *patch = &mesh->patch[first + i];
        begin_row(views, mesh->cell_count + first + i);
        if (patch->portal == VS_MESH_NONE && patch->reflectance > 0) {
            status = add_patch_row(views, first + i, exchange + i * n);
        }
    }
    free(exchange);
    return status;
}

/* ---- what cells see: from their middles ---- */

static vs_status add_cell_row(vs_views *views, size_t cell, const vs_legs *legs) {
    const vs_gatherer *from = legs->g;
    vs_status status = VS_OK;
    begin_row(views, cell);
    for (size_t i = 0; i < legs->count && status == VS_OK; i++) {
        double share = legs->share[VS_BAND_GREEN][i] / legs->whole.v[VS_BAND_GREEN];
        if (!(share > 0)) {
            continue;
        }
        status = legs->through_m[i] > 0 ? add_pieces(views, from->at_m, vs_legs_end_m(legs, i))
                                        : add_piece(views, from->room, legs->way_m[i]);
        if (status == VS_OK) {
            status = add_view(views, cell, legs->patch[i], (size_t)legs->cell[i], share);
        }
    }
    return status;
}

static vs_status fill_cells(vs_views *views, size_t room) {
    const vs_cell_grid *g = &views->mesh.cells[room];
    vs_gatherer from = {.mesh = &views->mesh, .room = room, .how = VS_GATHER_EVEN};
    vs_legs *legs = malloc(sizeof *legs);
    vs_status status = legs ? VS_OK : VS_ERR_MEMORY;
    size_t end = g->first + vs_mesh_cell_count(g);
    for (size_t c = g->first; c < end && status == VS_OK; c++) {
        from.at_m = vs_mesh_cell_center(g, c);
        vs_gather_legs(&from, legs);
        status = add_cell_row(views, c, legs);
    }
    free(legs);
    return status;
}

static vs_status fill(vs_views *views) {
    size_t rooms = views->mesh.space->room_count;
    vs_status status = VS_OK;
    for (size_t r = 0; r < rooms && status == VS_OK; r++) {
        status = fill_cells(views, r);
    }
    for (size_t r = 0; r < rooms && status == VS_OK; r++) {
        status = fill_patches(views, r);
    }
    begin_row(views, views->place_count);
    return status;
}

vs_status vs_views_init(vs_views *views, const vs_space *space, const vs_surfaces *surfaces) {
    const vs_views blank = {.place_count = 0};
    *views = blank;
    vs_status status = vs_mesh_init(&views->mesh, space, surfaces, PATCH_TARGET);
    if (status != VS_OK) {
        return status;
    }
    views->place_count = views->mesh.cell_count + views->mesh.patch_count;
    views->view_first = calloc(views->place_count + 1, sizeof *views->view_first);
    views->entry_first = calloc(views->place_count + 1, sizeof *views->entry_first);
    views->found = calloc(views->place_count + 1, sizeof *views->found);
    status = views->view_first && views->entry_first && views->found ? fill(views) : VS_ERR_MEMORY;
    free(views->found);
    views->found = NULL;
    if (status != VS_OK) {
        vs_views_free(views);
    }
    return status;
}

void vs_views_free(vs_views *views) {
    const vs_views blank = {.place_count = 0};
    vs_mesh_free(&views->mesh);
    free(views->view_first);
    free(views->view);
    free(views->piece);
    free(views->entry_first);
    free(views->entry);
    free(views->found);
    *views = blank;
}
