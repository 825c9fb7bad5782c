/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Grids follow the edges of openings, so that each patch is all wall or all opening.
 * Sizes are our choice: the accuracy they give is measured in docs/accuracy.md. */
#include "light/mesh/mesh.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/growable.h"
#include "base/vector.h"
#include "light/geometry/ray_casting.h"

#ifndef FUZZING_BUILD_MODE_UNSAFE_FOR_PRODUCTION
#define PATCHES_A_ROOM 200.0 /* about so many, on its walls */
#define OPENING_A_SIDE 3.0   /* patches along the side of an opening, at least */
#define CELLS_A_ROOM   180.0 /* of air, about */
/* The same of a coarse mesh. */
#define COARSE_PATCHES 48.0
#define COARSE_OPENING 1.0
#define COARSE_CELLS   24.0
#else /* a fuzzer tries many scenes in the time that one takes on finer grids */
#define PATCHES_A_ROOM 60.0
#define OPENING_A_SIDE 2.0
#define CELLS_A_ROOM   30.0
#define COARSE_PATCHES 24.0
#define COARSE_OPENING 1.0
#define COARSE_CELLS   8.0
#endif
#define LEAST_A_SIDE 2            /* patches along the shorter side of a face */
#define LINES_MAX    ((size_t)24) /* patches along one side */
#define FACING       0.9999       /* [1] cosine to a surface's normal: it faces as that does */
#define BEFORE_M     0.05         /* [m] what is no farther before a surface is on it; our choice */
#define ENDLESS_M    1e4f         /* [m] over any room */
#define LINE_SAME_M  1e-4         /* [m] edges nearer to each other are one */

static double area_of(const vs_rect *r) {
    return 4 * r->half_u_m * r->half_v_m;
}

static double surface_m2(const vs_box *box) {
    vs_vec3 size = vs_vec3_sub(box->high_m, box->low_m);
    return 2 * (size.x * size.y + size.y * size.z + size.z * size.x);
}

/* ---- grids ---- */

static void add_line(double *line, size_t *count, double at) {
    if (*count >= 2 * LINES_MAX) {
        return;
    }
    size_t place = *count;
    for (size_t i = 0; i < *count; i++) {
        if (fabs(line[i] - at) < LINE_SAME_M) {
            return;
        }
    }
    (*count)++;
    while (place > 0 && line[place - 1] > at) {
        line[place] = line[place - 1];
        place--;
    }
    line[place] = at;
}

/* Whether `at` lies between the two edges of an opening; edges come in pairs. */
static bool is_opening(const double *edge, size_t edges, double at) {
    for (size_t i = 0; i + 1 < edges; i += 2) {
        if (at > fmin(edge[i], edge[i + 1]) && at < fmax(edge[i], edge[i + 1])) {
            return true;
        }
    }
    return false;
}

/* Lines along one side: the ends, the edges of openings, then even cuts between. */
static size_t make_lines(double half_m, double step_m, double opening, const double *edge,
                         size_t edges, double *line) {
    double mark[2 * LINES_MAX + 2] = {0};
    size_t marks = 0, count = 0;
    add_line(mark, &marks, -half_m);
    add_line(mark, &marks, half_m);
    for (size_t i = 0; i < edges; i++) {
        if (edge[i] > -half_m && edge[i] < half_m) {
            add_line(mark, &marks, edge[i]);
        }
    }
    for (size_t i = 0; i + 1 < marks; i++) {
        double width = mark[i + 1] - mark[i];
        double least = marks == 2                                     ? LEAST_A_SIDE
                       : is_opening(edge, edges, mark[i] + width / 2) ? opening
                                                                      : 1;
        double parts = fmax(least, floor(width / step_m + 0.5));
        parts = fmin(parts, LINES_MAX);
        for (double k = 0; k < parts && count < 2 * LINES_MAX; k++) {
            line[count++] = mark[i] + width * k / parts;
        }
    }
    line[count++] = half_m;
    return count;
}

static vs_status add_patch(vs_mesh *mesh, vs_patch patch) {
    vs_patch *list =
        vs_growable_reserve(mesh->patch, mesh->patch_count, &mesh->patch_size, sizeof *mesh->patch);
    if (!list) {
        return VS_ERR_MEMORY;
    }
    mesh->patch = list;
    mesh->patch[mesh->patch_count++] = patch;
    return VS_OK;
}

static vs_rect grid_rect(const vs_patch_grid *grid, size_t iu, size_t iv) {
    vs_rect part = grid->rect;
    double u = (grid->u[iu] + grid->u[iu + 1]) / 2, v = (grid->v[iv] + grid->v[iv + 1]) / 2;
    part.half_u_m = (grid->u[iu + 1] - grid->u[iu]) / 2;
    part.half_v_m = (grid->v[iv + 1] - grid->v[iv]) / 2;
    part.center_m =
        vs_vec3_along(vs_vec3_along(grid->rect.center_m, grid->rect.u, u), grid->rect.v, v);
    return part;
}

static size_t opening_at(const vs_space *space, size_t room, vs_vec3 p) {
    for (size_t i = 0; i < space->opening_count; i++) {
        const vs_opening *opening = &space->opening[i];
        vs_vec3 d = vs_vec3_sub(p, opening->rect.center_m);
        if ((opening->room[0] == room || opening->room[1] == room) &&
            fabs(vs_vec3_dot(d, opening->rect.normal)) <= VS_SPACE_SKIN_M &&
            fabs(vs_vec3_dot(d, opening->rect.u)) < opening->rect.half_u_m &&
            fabs(vs_vec3_dot(d, opening->rect.v)) < opening->rect.half_v_m) {
            return i;
        }
    }
    return VS_MESH_NONE;
}

static vs_status fill_grid(vs_mesh *mesh, vs_patch_grid *grid, size_t room, double step_m,
                           const double *edge_u, const double *edge_v, size_t edges,
                           vs_patch like) {
    double line[2 * LINES_MAX + 2];
    double opening = mesh->fineness == VS_MESH_FINE ? OPENING_A_SIDE : COARSE_OPENING;
    for (int side = 0; side < 2; side++) {
        size_t count = side ? make_lines(grid->rect.half_v_m, step_m, opening, edge_v, edges, line)
                            : make_lines(grid->rect.half_u_m, step_m, opening, edge_u, edges, line);
        double *copy = malloc(count * sizeof *copy);
        if (!copy) {
            return VS_ERR_MEMORY;
        }
        memcpy(copy, line, count * sizeof *copy);
        *(side ? &grid->v : &grid->u) = copy;
        *(side ? &grid->v_count : &grid->u_count) = count - 1;
    }
    grid->first = mesh->patch_count;
    for (size_t i = 0; i < grid->u_count * grid->v_count; i++) {
        vs_patch patch = like;
        patch.rect = grid_rect(grid, i % grid->u_count, i / grid->u_count);
        patch.room = room;
        patch.area_m2 = area_of(&patch.rect);
        patch.size_m = 2 * fmax(patch.rect.half_u_m, patch.rect.half_v_m);
        if (patch.blocker == VS_MESH_NONE) {
            patch.opening = opening_at(mesh->space, room, patch.rect.center_m);
            patch.reflectance = patch.opening == VS_MESH_NONE ? like.reflectance : 0;
        }
        vs_status status = add_patch(mesh, patch);
        if (status != VS_OK) {
            return status;
        }
    }
    return VS_OK;
}

/* The edges of a face's openings in the face's own coordinates. */
static size_t opening_edges(const vs_space *space, size_t room, const vs_rect *face, double *u,
                            double *v) {
    size_t count = 0;
    for (size_t i = 0; i < space->opening_count && count + 4 <= 2 * LINES_MAX; i++) {
        const vs_opening *opening = &space->opening[i];
        vs_vec3 d = vs_vec3_sub(opening->rect.center_m, face->center_m);
        if ((opening->room[0] != room && opening->room[1] != room) ||
            fabs(vs_vec3_dot(d, face->normal)) > VS_SPACE_SKIN_M) {
            continue;
        }
        vs_vec3 corner[4];
        vs_rect_corners(&opening->rect, corner);
        for (int c = 0; c < 4; c += 2) {
            vs_vec3 off = vs_vec3_sub(corner[c], face->center_m);
            u[count] = vs_vec3_dot(off, face->u);
            v[count++] = vs_vec3_dot(off, face->v);
        }
    }
    return count;
}

static vs_status fill_room(vs_mesh *mesh, const vs_surfaces *surfaces, size_t room) {
    double patches = mesh->fineness == VS_MESH_FINE ? PATCHES_A_ROOM : COARSE_PATCHES;
    double step_m = sqrt(surface_m2(&mesh->space->room[room]) / patches);
    double edge_u[2 * LINES_MAX], edge_v[2 * LINES_MAX];
    mesh->room_first[room] = mesh->patch_count;
    for (int face = 0; face < VS_SURFACE_FACES; face++) {
        size_t place = room * VS_SURFACE_FACES + (size_t)face;
        vs_patch_grid *grid = &mesh->grid[place];
        mesh->grid_room[place] = room;
        grid->rect = vs_surfaces_face(&mesh->space->room[room], face);
        size_t edges = opening_edges(mesh->space, room, &grid->rect, edge_u, edge_v);
        vs_patch like = {
            .reflectance = surfaces->face[place], .presence = 1, .blocker = VS_MESH_NONE};
        vs_status status = fill_grid(mesh, grid, room, step_m, edge_u, edge_v, edges, like);
        if (status != VS_OK) {
            return status;
        }
    }
    for (size_t i = 0; i < mesh->space->blocker_count; i++) {
        const vs_blocker *blocker = &mesh->space->blocker[i];
        if (vs_space_room_at(mesh->space, blocker->rect.center_m) != room) {
            continue;
        }
        for (size_t side = 0; side < 2; side++) {
            size_t place = mesh->space->room_count * VS_SURFACE_FACES + 2 * i + side;
            vs_patch_grid *grid = &mesh->grid[place];
            mesh->grid_room[place] = room;
            grid->rect = blocker->rect;
            if (side == 1) { /* its back: turned round about v */
                grid->rect.normal = vs_vec3_scale(blocker->rect.normal, -1);
                grid->rect.u = vs_vec3_scale(blocker->rect.u, -1);
            }
            vs_patch like = {.reflectance = surfaces->blocker[i],
                             .presence = 1 - blocker->transmittance,
                             .opening = VS_MESH_NONE,
                             .blocker = i};
            vs_status status = fill_grid(mesh, grid, room, step_m, NULL, NULL, 0, like);
            if (status != VS_OK) {
                return status;
            }
        }
    }
    return VS_OK;
}

static float side_extent(const vs_space *space, const vs_rect *rect, vs_vec3 side, double half_m) {
    vs_vec3 past_m = vs_vec3_along(rect->center_m, side, half_m + BEFORE_M);
    return vs_space_room_at(space, past_m) == VS_SPACE_OUTSIDE ? ENDLESS_M : (float)half_m;
}

static vs_extent extent_of(const vs_space *space, const vs_rect *r) {
    vs_extent all = {-side_extent(space, r, vs_vec3_scale(r->u, -1), r->half_u_m),
                     side_extent(space, r, r->u, r->half_u_m),
                     -side_extent(space, r, vs_vec3_scale(r->v, -1), r->half_v_m),
                     side_extent(space, r, r->v, r->half_v_m)};
    return all;
}

static void fill_patch_lists(vs_mesh *mesh) {
    for (size_t i = 0; i < mesh->patch_count; i++) {
        const vs_rect *r = &mesh->patch[i].rect;
        mesh->presence[i] = (float)mesh->patch[i].presence;
        for (int axis = 0; axis < 3; axis++) {
            mesh->middle_m[axis][i] = (float)vs_vec3_component(r->center_m, axis);
            mesh->half_m[axis][i] = (float)(r->half_u_m * vs_vec3_component(r->u, axis));
            mesh->half_m[3 + axis][i] = (float)(r->half_v_m * vs_vec3_component(r->v, axis));
        }
    }
}

/* How far a patch reaches along an axis from its middle. */
static double half_along(const vs_rect *r, int axis) {
    return r->half_u_m * fabs(vs_vec3_component(r->u, axis)) +
           r->half_v_m * fabs(vs_vec3_component(r->v, axis));
}

static void fill_eight(vs_mesh *mesh, size_t first, size_t end, size_t eight) {
    for (int axis = 0; axis < 3; axis++) {
        double low = INFINITY, high = -INFINITY;
        for (size_t i = first; i < end; i++) {
            const vs_rect *r = &mesh->patch[i].rect;
            double middle = vs_vec3_component(r->center_m, axis), half = half_along(r, axis);
            low = fmin(low, middle - half);
            high = fmax(high, middle + half);
        }
        mesh->eight[axis][eight] = (float)((low + high) / 2);
        mesh->eight[3 + axis][eight] = (float)((high - low) / 2);
    }
}

static void fill_eights(vs_mesh *mesh) {
    size_t eight = 0;
    for (size_t room = 0; room < mesh->space->room_count; room++) {
        size_t end = mesh->room_first[room + 1];
        mesh->eight_first[room] = eight;
        for (size_t first = mesh->room_first[room]; first < end; first += LANES) {
            fill_eight(mesh, first, first + LANES < end ? first + LANES : end, eight++);
        }
    }
}

/* What is looked up of patches, blockers and openings again and again, as views read it. */
static vs_status fill_lists(vs_mesh *mesh) {
    const vs_space *space = mesh->space;
    float **list[] = {&mesh->presence,  &mesh->middle_m[0], &mesh->middle_m[1], &mesh->middle_m[2],
                      &mesh->half_m[0], &mesh->half_m[1],   &mesh->half_m[2],   &mesh->half_m[3],
                      &mesh->half_m[4], &mesh->half_m[5]};
    bool made = true;
    for (size_t n = 0; n < sizeof list / sizeof *list; n++) {
        *list[n] = calloc(mesh->patch_count + LANES, sizeof **list[n]);
        made = made && *list[n];
    }
    for (int n = 0; n < 6; n++) {
        size_t most = mesh->patch_count / LANES + space->room_count + LANES;
        mesh->eight[n] = calloc(most, sizeof *mesh->eight[n]);
        made = made && mesh->eight[n];
    }
    mesh->eight_first = calloc(space->room_count + 1, sizeof *mesh->eight_first);
    mesh->blocker = calloc(space->blocker_count + 1, sizeof *mesh->blocker);
    mesh->blocker_room = calloc(space->blocker_count + 1, sizeof *mesh->blocker_room);
    mesh->opening = calloc(space->opening_count + 1, sizeof *mesh->opening);
    if (!made || !mesh->eight_first || !mesh->blocker || !mesh->blocker_room || !mesh->opening) {
        return VS_ERR_MEMORY;
    }
    fill_patch_lists(mesh);
    fill_eights(mesh);
    for (size_t i = 0; i < space->blocker_count; i++) {
        mesh->blocker[i] = extent_of(space, &space->blocker[i].rect);
        mesh->blocker_room[i] = vs_space_room_at(space, space->blocker[i].rect.center_m);
    }
    for (size_t i = 0; i < space->opening_count; i++) {
        mesh->opening[i] = extent_of(space, &space->opening[i].rect);
    }
    return VS_OK;
}

static void fill_cells(vs_mesh *mesh, size_t room) {
    vs_cell_grid *cells = &mesh->cells[room];
    cells->box = mesh->space->room[room];
    vs_vec3 size = vs_vec3_sub(cells->box.high_m, cells->box.low_m);
    double wanted = mesh->fineness == VS_MESH_FINE ? CELLS_A_ROOM : COARSE_CELLS;
    double cell_m = cbrt(size.x * size.y * size.z / wanted);
    cells->first = mesh->cell_count;
    size_t whole = 1;
    for (int axis = 0; axis < 3; axis++) {
        double cells_a_side = vs_vec3_component(size, axis) / cell_m;
        cells->count[axis] = (size_t)fmax(2, floor(cells_a_side + 0.5));
        whole *= cells->count[axis];
    }
    mesh->cell_count += whole;
}

static vs_status fill(vs_mesh *mesh, const vs_surfaces *surfaces) {
    const vs_space *space = mesh->space;
    for (size_t i = 0; i < mesh->grid_count; i++) {
        mesh->grid_room[i] = VS_MESH_NONE;
    }
    for (size_t r = 0; r < space->room_count; r++) {
        vs_status status = fill_room(mesh, surfaces, r);
        if (status != VS_OK) {
            return status;
        }
        fill_cells(mesh, r);
    }
    mesh->room_first[space->room_count] = mesh->patch_count;
    return fill_lists(mesh);
}

vs_status vs_mesh_init(vs_mesh *mesh, const vs_space *space, const vs_surfaces *surfaces,
                       vs_mesh_fineness fineness) {
    const vs_mesh blank = {.space = space, .fineness = fineness};
    *mesh = blank;
    mesh->grid_count = space->room_count * VS_SURFACE_FACES + 2 * space->blocker_count;
    mesh->grid = calloc(mesh->grid_count + 1, sizeof *mesh->grid);
    mesh->room_first = calloc(space->room_count + 2, sizeof *mesh->room_first);
    mesh->grid_room = calloc(mesh->grid_count + 1, sizeof *mesh->grid_room);
    mesh->cells = calloc(space->room_count + 1, sizeof *mesh->cells);
    vs_status status = mesh->grid && mesh->room_first && mesh->grid_room && mesh->cells
                           ? fill(mesh, surfaces)
                           : VS_ERR_MEMORY;
    if (status != VS_OK) {
        vs_mesh_free(mesh);
    }
    return status;
}

void vs_mesh_free(vs_mesh *mesh) {
    const vs_mesh blank = {0};
    for (size_t i = 0; mesh->grid && i < mesh->grid_count; i++) {
        free(mesh->grid[i].u);
        free(mesh->grid[i].v);
    }
    free(mesh->patch);
    free(mesh->grid);
    free(mesh->room_first);
    free(mesh->grid_room);
    free(mesh->cells);
    for (int n = 0; n < 6; n++) {
        free(mesh->half_m[n]);
    }
    for (int n = 0; n < 3; n++) {
        free(mesh->middle_m[n]);
    }
    for (int n = 0; n < 6; n++) {
        free(mesh->eight[n]);
    }
    free(mesh->eight_first);
    free(mesh->presence);
    free(mesh->blocker);
    free(mesh->blocker_room);
    free(mesh->opening);
    *mesh = blank;
}

/* ---- finding ---- */

/* Which of the intervals between lines holds `at`; lines are nearly even: guess and correct. */
static size_t interval(const double *line, size_t count, double at) {
    double share = (at - line[0]) / (line[count] - line[0]), most = (double)count - 1;
    size_t i = share > 0 ? (size_t)fmin(share * (double)count, most) : 0;
    while (i > 0 && line[i] > at) {
        i--;
    }
    while (i + 1 < count && line[i + 1] <= at) {
        i++;
    }
    return i;
}

size_t vs_patch_grid_at(const vs_patch_grid *grid, vs_vec3 p_m) {
    vs_vec3 d = vs_vec3_sub(p_m, grid->rect.center_m);
    size_t iu = interval(grid->u, grid->u_count, vs_vec3_dot(d, grid->rect.u));
    size_t iv = interval(grid->v, grid->v_count, vs_vec3_dot(d, grid->rect.v));
    return grid->first + iv * grid->u_count + iu;
}

size_t vs_mesh_face_patch(const vs_mesh *mesh, size_t room, int face, vs_vec3 p_m) {
    return vs_patch_grid_at(&mesh->grid[room * VS_SURFACE_FACES + (size_t)face], p_m);
}

size_t vs_mesh_blocker_patch(const vs_mesh *mesh, size_t blocker, bool front, vs_vec3 p_m) {
    const vs_patch_grid *grid =
        &mesh->grid[mesh->space->room_count * VS_SURFACE_FACES + 2 * blocker + !front];
    return grid->u ? vs_patch_grid_at(grid, p_m)
                   : VS_MESH_NONE; /* a blocker outside has no patches */
}

/* The lower of two neighbours along a side whose middles are about `at`, and the higher one's share;
 * past the last middle the last counts alone. */
static size_t about(const double *line, size_t count, double at, double *share) {
    size_t here = interval(line, count, at);
    double middle = (line[here] + line[here + 1]) / 2;
    size_t low = at < middle && here > 0 ? here - 1 : here;
    low = low + 2 > count && low > 0 ? low - 1 : low;
    double from = (line[low] + line[low + 1]) / 2, to = (line[low + 1] + line[low + 2]) / 2;
    *share = fmin(fmax((at - from) / (to - from), 0), 1);
    return low;
}

void vs_patch_grid_about(const vs_patch_grid *g, vs_vec3 p_m, size_t patch[4], double share[4]) {
    vs_vec3 d = vs_vec3_sub(p_m, g->rect.center_m);
    double su, sv;
    size_t iu = about(g->u, g->u_count, vs_vec3_dot(d, g->rect.u), &su);
    size_t iv = about(g->v, g->v_count, vs_vec3_dot(d, g->rect.v), &sv);
    for (size_t c = 0; c < 4; c++) {
        patch[c] = g->first + (iv + c / 2) * g->u_count + iu + c % 2;
        share[c] = (c % 2 ? su : 1 - su) * (c / 2 ? sv : 1 - sv);
    }
}

bool vs_mesh_about(const vs_mesh *mesh, size_t room, vs_vec3 p_m, vs_vec3 normal, size_t patch[4],
                   double share[4]) {
    for (size_t i = 0; i < mesh->grid_count; i++) {
        const vs_patch_grid *g = &mesh->grid[i];
        if (mesh->grid_room[i] != room || !g->u || vs_vec3_dot(normal, g->rect.normal) < FACING) {
            continue;
        }
        vs_vec3 d = vs_vec3_sub(p_m, g->rect.center_m);
        double u = vs_vec3_dot(d, g->rect.u), v = vs_vec3_dot(d, g->rect.v);
        double before_m = vs_vec3_dot(d, g->rect.normal);
        if (before_m < -VS_SPACE_SKIN_M || before_m > BEFORE_M || fabs(u) > g->rect.half_u_m ||
            fabs(v) > g->rect.half_v_m || g->u_count < 2 || g->v_count < 2) {
            continue;
        }
        vs_patch_grid_about(g, p_m, patch, share);
        return true;
    }
    return false;
}

/* Which of the equal parts of a side holds `at`; those at the ends also hold what is beyond. */
static size_t part_of_side(double low, double high, size_t parts, double at) {
    double share = (at - low) / (high - low), n = (double)parts;
    return share > 0 ? (size_t)(share * n < n - 1 ? share * n : n - 1) : 0;
}

size_t vs_mesh_cell(const vs_mesh *mesh, size_t room, vs_vec3 p_m) {
    if (room == VS_SPACE_OUTSIDE) {
        return VS_MESH_NONE;
    }
    const vs_cell_grid *cells = &mesh->cells[room];
    const vs_box *box = &cells->box;
    size_t x = part_of_side(box->low_m.x, box->high_m.x, cells->count[0], p_m.x);
    size_t y = part_of_side(box->low_m.y, box->high_m.y, cells->count[1], p_m.y);
    size_t z = part_of_side(box->low_m.z, box->high_m.z, cells->count[2], p_m.z);
    return cells->first + (z * cells->count[1] + y) * cells->count[0] + x;
}

/* Place between the middles of cells, or past the last towards a wall, where light goes on as it
 * did between them: the lower one, and the share of the higher. */
static size_t between_cells(double at, double low, double high, size_t count, double *share) {
    double place = (at - low) / (high - low) * (double)count - 0.5;
    place = fmin(fmax(place, -0.5), (double)count - 0.5);
    size_t cell = (size_t)fmin(fmax(floor(place), 0), (double)count - 2);
    *share = place - (double)cell;
    return cell;
}

void vs_mesh_cells_about(const vs_mesh *mesh, size_t room, vs_vec3 p, uint32_t cell[8],
                         float share[8]) {
    const vs_cell_grid *g = &mesh->cells[room];
    double sx, sy, sz;
    size_t x = between_cells(p.x, g->box.low_m.x, g->box.high_m.x, g->count[0], &sx);
    size_t y = between_cells(p.y, g->box.low_m.y, g->box.high_m.y, g->count[1], &sy);
    size_t z = between_cells(p.z, g->box.low_m.z, g->box.high_m.z, g->count[2], &sz);
    for (size_t corner = 0; corner < 8; corner++) {
        size_t i = x + (corner & 1), j = y + (corner >> 1 & 1), k = z + (corner >> 2);
        cell[corner] = (uint32_t)(g->first + (k * g->count[1] + j) * g->count[0] + i);
        share[corner] = (float)((corner & 1 ? sx : 1 - sx) * (corner & 2 ? sy : 1 - sy) *
                                (corner & 4 ? sz : 1 - sz));
    }
}

size_t vs_mesh_cell_count(const vs_cell_grid *cells) {
    return cells->count[0] * cells->count[1] * cells->count[2];
}

vs_vec3 vs_mesh_cell_size(const vs_cell_grid *g) {
    vs_vec3 size = vs_vec3_sub(g->box.high_m, g->box.low_m);
    size.x /= (double)g->count[0];
    size.y /= (double)g->count[1];
    size.z /= (double)g->count[2];
    return size;
}

vs_vec3 vs_mesh_cell_middle(const vs_cell_grid *g, size_t cell) {
    vs_vec3 size = vs_mesh_cell_size(g);
    size_t nx = g->count[0], ny = g->count[1];
    vs_vec3 p = {g->box.low_m.x + size.x * ((double)(cell % nx) + 0.5),
                 g->box.low_m.y + size.y * ((double)(cell / nx % ny) + 0.5),
                 g->box.low_m.z + size.z * ((double)(cell / nx / ny) + 0.5)};
    return p;
}

double vs_mesh_cell_volume_m3(const vs_cell_grid *cells) {
    vs_vec3 size = vs_vec3_sub(cells->box.high_m, cells->box.low_m);
    return size.x * size.y * size.z / (double)vs_mesh_cell_count(cells);
}
