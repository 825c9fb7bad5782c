/* Ways are spread by an additive recurrence, whose discrepancy falls almost as 1/count.
 * Source: Niederreiter 1992, Random Number Generation and Quasi-Monte Carlo Methods, ch. 3
 * (Kronecker sequences); steps are powers of the plastic constant's kin. */
#include "light/cast.h"

#include <math.h>
#include <stdlib.h>

#include "light/aim.h"
#include "light/grown.h"
#include "light/march.h"
#include "veilstop/base/units.h"

#define WAYS      2000 /* of one emitter; measured: docs/accuracy.md */
#define PARTS_MAX 64
#define PASS_MAX  16 /* openings and nets on one way */

/* Powers of the inverse of the root of x^5 = x + 1: badly approximable together. */
static const double step[4] = {0.8566748838545029, 0.7338918566271260, 0.6287067210378087,
                               0.5385972572236101};

static void spread(int n, double x[4]) {
    for (int i = 0; i < 4; i++) {
        double at = 0.5 + step[i] * (n + 1);
        x[i] = at - floor(at);
    }
}

static vs_vec3 turned(vs_vec3 axis, double cosine, double around) {
    vs_vec3 u, v;
    vs_frame_about(axis, &u, &v);
    double sine = sqrt(fmax(0, 1 - cosine * cosine));
    vs_vec3 way = vs_vec3_along(vs_vec3_scale(axis, cosine), u, sine * cos(2 * VS_PI * around));
    return vs_vec3_along(way, v, sine * sin(2 * VS_PI * around));
}

/* The ways that are being found. */
typedef struct {
    const vs_mesh *mesh;
    vs_ways *ways;
    vs_status status;
} record;

static void add_run(record *r, size_t cell, bool fresh) {
    vs_ways *w = r->ways;
    if (!fresh && w->run[w->run_count - 1].cell == cell) {
        w->run[w->run_count - 1].parts++;
        return;
    }
    vs_way_run *list = vs_grown(w->run, w->run_count, &w->run_size, sizeof *w->run);
    if (!list) {
        r->status = VS_ERR_MEMORY;
        return;
    }
    w->run = list;
    vs_way_run run = {(uint32_t)cell, 1};
    w->run[w->run_count++] = run;
}

/* One piece of air: the way is cut where cells may change. */
static void add_air(record *r, vs_vec3 at_m, vs_vec3 direction, double length_m,
                    vs_way_piece *piece) {
    const vs_cell_grid *cells = &r->mesh->cells[piece->room];
    vs_vec3 size = vs_vec3_sub(cells->box.high_m, cells->box.low_m);
    double cell_m = fmin(size.x / (double)cells->count[0],
                         fmin(size.y / (double)cells->count[1], size.z / (double)cells->count[2]));
    piece->parts = (uint32_t)fmin(PARTS_MAX, ceil(2 * length_m / cell_m));
    piece->part_m = piece->parts > 0 ? length_m / piece->parts : 0;
    for (uint32_t i = 0; i < piece->parts && r->status == VS_OK; i++) {
        vs_vec3 middle = vs_vec3_along(at_m, direction, (i + 0.5) * piece->part_m);
        add_run(r, vs_mesh_cell(r->mesh, piece->room, middle), i == 0);
    }
    piece->run_end = (uint32_t)r->ways->run_count;
}

static void add_piece(record *r, vs_way_piece piece) {
    vs_ways *w = r->ways;
    vs_way_piece *list = vs_grown(w->piece, w->piece_count, &w->piece_size, sizeof *w->piece);
    if (!list) {
        r->status = VS_ERR_MEMORY;
        return;
    }
    w->piece = list;
    w->piece[w->piece_count++] = piece;
}

/* What ends a piece: a surface, or an opening to another room. */
static size_t end_piece(const vs_mesh *mesh, const vs_march *end, vs_vec3 at_m, vs_vec3 direction,
                        size_t room, vs_way_piece *piece) {
    size_t patch = VS_MESH_NONE;
    piece->stopped = 1;
    if (end->end == VS_MARCH_WALL) {
        patch = vs_mesh_face_patch(mesh, room, end->face, at_m);
    } else if (end->end == VS_MARCH_SCREEN) {
        const vs_screen *screen = &mesh->space->screen[end->index];
        bool front = vs_vec3_dot(direction, screen->rect.normal) < 0;
        patch = vs_mesh_screen_patch(mesh, end->index, front, at_m);
        piece->stopped = 1 - screen->transmittance;
    } else if (end->end == VS_MARCH_PORTAL) {
        const vs_portal *portal = &mesh->space->portal[end->index];
        piece->stopped = 0;
        piece->open = portal->transmittance;
        return vs_march_beyond(portal, room);
    }
    piece->open = 1 - piece->stopped;
    if (patch != VS_MESH_NONE) {
        size_t sub = vs_mesh_sub(&mesh->patch[patch], at_m);
        piece->sub = (uint32_t)(patch * VS_MESH_SUBS + sub);
    }
    return room;
}

static void follow(record *r, size_t room, vs_vec3 at_m, vs_vec3 direction, double lumens) {
    double open = 1;
    for (int pass = 0; pass < PASS_MAX && room != VS_SPACE_OUTSIDE && open > 0; pass++) {
        vs_march end = vs_march_on(r->mesh->space, at_m, direction, room);
        vs_way_piece piece = {
            .set_out_lm = pass == 0 ? lumens : 0, .room = (uint32_t)room, .sub = VS_WAY_NONE};
        add_air(r, at_m, direction, end.length_m, &piece);
        at_m = vs_vec3_along(at_m, direction, end.length_m);
        room = end_piece(r->mesh, &end, at_m, direction, room, &piece);
        open = piece.open;
        add_piece(r, piece);
    }
}

static vs_vec3 place_on(const vs_rect *r, double u, double v) {
    vs_vec3 p = vs_vec3_along(r->center_m, r->u, (2 * u - 1) * r->half_u_m);
    return vs_vec3_along(p, r->v, (2 * v - 1) * r->half_v_m);
}

/* A way's start, direction and lumens for whole lights; the sum over all ways is the flux. */
static double set_out(const vs_emitter *e, const double x[4], vs_vec3 *at_m, vs_vec3 *way) {
    switch (e->kind) {
    case VS_EMITTER_POINT: {
        double lowest = e->profile == VS_PROFILE_SPOT ? cos(e->spot.cutoff_rad) : -1;
        vs_vec3 axis = e->profile == VS_PROFILE_EVEN ? (vs_vec3){0, 0, 1} : e->axis;
        *at_m = e->at_m;
        *way = turned(axis, 1 - x[0] * (1 - lowest), x[1]);
        return 2 * VS_PI * (1 - lowest) * vs_aim_profile(e, *way);
    }
    case VS_EMITTER_LINE: {
        double cosine = 2 * x[0] - 1;
        *at_m = vs_vec3_along(e->at_m, e->axis, x[2] * e->length_m);
        *way = turned(e->axis, cosine, x[1]);
        return 4 * VS_PI * e->length_m * sqrt(1 - cosine * cosine);
    }
    case VS_EMITTER_RECT: {
        const vs_rect *r = &e->rect;
        *at_m = place_on(r, x[2], x[3]);
        *way = turned(r->normal, sqrt(x[0]), x[1]);
        return VS_PI * 4 * r->half_u_m * r->half_v_m;
    }
    case VS_EMITTER_PARALLEL:
        break;
    }
    return 0;
}

static void cast_inside(record *r, const vs_emitter *emitter) {
    for (int n = 0; n < WAYS && r->status == VS_OK; n++) {
        double x[4];
        vs_vec3 at_m = {0, 0, 0}, way = at_m;
        spread(n, x);
        double lumens = set_out(emitter, x, &at_m, &way) / WAYS;
        if (lumens > 0) {
            vs_vec3 off_m = vs_vec3_along(at_m, way, 2 * VS_SPACE_SKIN_M);
            follow(r, vs_space_room_at(r->mesh->space, off_m), at_m, way, lumens);
        }
    }
}

/* Sun: ways begin all over its opening. */
static void cast_parallel(record *r, const vs_emitter *emitter) {
    const vs_space *space = r->mesh->space;
    const vs_portal *portal = &space->portal[emitter->portal];
    double area_m2 = 4 * portal->rect.half_u_m * portal->rect.half_v_m;
    double cosine = fabs(vs_vec3_dot(emitter->axis, portal->rect.normal));
    for (int n = 0; n < WAYS && r->status == VS_OK; n++) {
        double x[4];
        spread(n, x);
        vs_vec3 at_m = place_on(&portal->rect, x[0], x[1]);
        vs_vec3 before_m = vs_vec3_along(at_m, emitter->axis, -0.01);
        vs_vec3 behind_m = vs_vec3_along(at_m, emitter->axis, 2 * VS_SPACE_SKIN_M / cosine);
        double open = vs_space_passage(space, before_m, behind_m).transmittance;
        if (open > 0) {
            follow(r, portal->room[0], at_m, emitter->axis, open * area_m2 * cosine / WAYS);
        }
    }
}

/* A place on an emitter outside, and what it sends along: of its strength. */
static double set_out_to(const vs_emitter *e, const double x[4], vs_vec3 to_m, vs_vec3 *from_m) {
    double size = 1;
    *from_m = e->at_m;
    if (e->kind == VS_EMITTER_RECT) {
        *from_m = place_on(&e->rect, x[2], x[3]);
        size = 4 * e->rect.half_u_m * e->rect.half_v_m;
    } else if (e->kind == VS_EMITTER_LINE) {
        *from_m = vs_vec3_along(e->at_m, e->axis, x[2] * e->length_m);
        size = e->length_m;
    }
    vs_vec3 way = vs_vec3_unit(vs_vec3_sub(to_m, *from_m));
    double along = vs_vec3_dot(way, e->axis);
    return size * (e->kind == VS_EMITTER_RECT   ? fmax(0, along)
                   : e->kind == VS_EMITTER_LINE ? sqrt(fmax(0, 1 - along * along))
                                                : vs_aim_profile(e, way));
}

/* What of an emitter outside comes in by one opening. */
static void cast_through(record *r, const vs_emitter *emitter, const vs_portal *portal) {
    const vs_space *space = r->mesh->space;
    double area_m2 = 4 * portal->rect.half_u_m * portal->rect.half_v_m;
    for (int n = 0; n < WAYS && r->status == VS_OK; n++) {
        double x[4];
        spread(n, x);
        vs_vec3 at_m = place_on(&portal->rect, x[0], x[1]), from_m;
        double candela = set_out_to(emitter, x, at_m, &from_m);
        vs_vec3 way = vs_vec3_sub(at_m, from_m);
        double length_m = vs_vec3_length(way);
        way = vs_vec3_scale(way, 1 / length_m);
        vs_vec3 behind_m = vs_vec3_along(at_m, way, 10 * VS_SPACE_SKIN_M);
        double open = candela > 0 && vs_space_room_at(space, behind_m) == portal->room[0]
                          ? vs_space_passage(space, from_m, behind_m).transmittance
                          : 0;
        double cosine = fabs(vs_vec3_dot(way, portal->rect.normal));
        if (open > 0) {
            follow(r, portal->room[0], at_m, way,
                   candela * open * cosine * area_m2 / (length_m * length_m * WAYS));
        }
    }
}

vs_status vs_ways_init(vs_ways *ways, const vs_mesh *mesh, const vs_emitter *emitter) {
    const vs_ways blank = {0};
    const vs_space *space = mesh->space;
    record r = {mesh, ways, VS_OK};
    *ways = blank;
    if (emitter->kind == VS_EMITTER_PARALLEL) {
        cast_parallel(&r, emitter);
    } else if (emitter->room != VS_SPACE_OUTSIDE) {
        cast_inside(&r, emitter);
    } else {
        for (size_t i = 0; i < space->portal_count && r.status == VS_OK; i++) {
            if (space->portal[i].room[1] == VS_SPACE_OUTSIDE) {
                cast_through(&r, emitter, &space->portal[i]);
            }
        }
    }
    if (r.status != VS_OK) {
        vs_ways_free(ways);
    }
    return r.status;
}

void vs_ways_free(vs_ways *ways) {
    const vs_ways blank = {0};
    free(ways->piece);
    free(ways->run);
    *ways = blank;
}

/* ---- whether ways still hold ---- */

static bool same_vec3(vs_vec3 a, vs_vec3 b) {
    return a.x == b.x && a.y == b.y && a.z == b.z;
}

static bool same_rect(const vs_rect *a, const vs_rect *b) {
    return same_vec3(a->center_m, b->center_m) && same_vec3(a->u, b->u) && same_vec3(a->v, b->v) &&
           a->half_u_m == b->half_u_m && a->half_v_m == b->half_v_m;
}

static bool same_profile(const vs_emitter *a, const vs_emitter *b) {
    if (a->profile != b->profile) {
        return false;
    }
    if (a->profile == VS_PROFILE_SPOT) {
        return a->spot.half_rad == b->spot.half_rad && a->spot.exponent == b->spot.exponent &&
               a->spot.cutoff_rad == b->spot.cutoff_rad;
    }
    return a->profile != VS_PROFILE_PHOTOMETRY ||
           (a->table == b->table && same_vec3(a->frame.nadir, b->frame.nadir) &&
            same_vec3(a->frame.c0, b->frame.c0) && same_vec3(a->frame.c90, b->frame.c90));
}

bool vs_ways_alike(const vs_emitter *a, const vs_emitter *b) {
    if (a->kind != b->kind || a->portal != b->portal || a->room != b->room ||
        !same_vec3(a->at_m, b->at_m) || !same_vec3(a->axis, b->axis)) {
        return false;
    }
    switch (a->kind) {
    case VS_EMITTER_POINT:
        return same_profile(a, b);
    case VS_EMITTER_LINE:
        return a->length_m == b->length_m;
    case VS_EMITTER_RECT:
        return same_rect(&a->rect, &b->rect);
    case VS_EMITTER_PARALLEL:
        break;
    }
    return true;
}
