/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See rays.h. */
#include "rays.h"

#include <math.h>
#include <string.h>

static const char *const names[RAY_KINDS] = {"lamp",          "spot, beam", "spot, beam and field",
                                             "measured lamp", "panel",      "fed panel",
                                             "tube",          "sun",        "sky"};

const char *ray_kind_name(ray_kind kind) {
    return names[kind];
}

bool ray_kind_is_surface(ray_kind kind) {
    return kind == RAY_PANEL || kind == RAY_FED || kind == RAY_TUBE || kind == RAY_SKY;
}

static void make_haze(vs_haze *haze, double n, double dispersion_um2, double mass_median_m,
                      double gsd) {
    double spread = log(gsd);
    vs_fluid fluid = {.density_g_per_ml = 1.05,
                      .nonvolatile_fraction = 1,
                      .half_life_s = INFINITY,
                      .index = {VS_INDEX_CAUCHY, {n, dispersion_um2, 0}, 0},
                      /* Hatch-Choate: count median = mass median exp(-3 ln^2 gsd) */
                      .median_m = mass_median_m * exp(-3 * spread * spread),
                      .gsd = gsd};
    CHECK_OK(vs_haze_init(haze, &fluid));
}

void ray_hazes_make(ray_hazes *hazes) {
    make_haze(&hazes->haze[0], 1.4335, 0.0040, 1.0e-6, 1.6);
    make_haze(&hazes->haze[1], 1.4335, 0.0040, 3.0e-6, 1.6);
    make_haze(&hazes->haze[2], 1.4603, 0.0044, 0.6e-6, 1.5);
}

void ray_hazes_free(ray_hazes *hazes) {
    for (int i = 0; i < RAY_HAZES; i++) {
        vs_haze_free(&hazes->haze[i]);
    }
}

static vs_vec3 inside(random_stream *r, const vs_box *box, double margin_m) {
    vs_vec3 p = {random_uniform(r, box->low_m.x + margin_m, box->high_m.x - margin_m),
                 random_uniform(r, box->low_m.y + margin_m, box->high_m.y - margin_m),
                 random_uniform(r, box->low_m.z + margin_m, box->high_m.z - margin_m)};
    return p;
}

/* Two rooms side by side in x, an opening between them, a window to outside at y = 0 of the first
 * and a hatch in its ceiling. */
static void make_rooms(ray_case *c, random_stream *r, double depth) {
    vs_vec3 low = {0, 0, 0};
    vs_vec3 high = {random_uniform(r, 3, 12), random_uniform(r, 3, 9), random_uniform(r, 2.4, 5)};
    double extinction_per_m = depth / high.x;
    room_make(&c->room, low, high, extinction_per_m, random_uniform(r, -0.2, 0.9));
    vs_vec3 next_low = {high.x, 0, 0},
            next_high = {high.x + random_uniform(r, 2, 6), high.y, high.z};
    double thinner = random_index(r, 2) ? 1 : random_uniform(r, 0.1, 3);
    room_add_box(&c->room, next_low, next_high, extinction_per_m * thinner);
    double y = random_uniform(r, 0.3, high.y - 1.5), x = random_uniform(r, 0.3, high.x - 1.5);
    vs_vec3 door[2] = {{high.x, y, 0}, {high.x, y + random_uniform(r, 0.5, 1.2), 2.1}};
    vs_vec3 window[2] = {{x, 0, 0.9}, {x + random_uniform(r, 0.4, 1.2), 0, 2}};
    vs_vec3 hatch[2] = {{x, y, high.z}, {x + random_uniform(r, 0.3, 1.1), y + 0.8, high.z}};
    room_add_opening(&c->room, door[0], door[1], 0, 1, 1);
    room_add_opening(&c->room, window[0], window[1], 0, VS_SPACE_OUTSIDE, 0.85);
    room_add_opening(&c->room, hatch[0], hatch[1], 0, VS_SPACE_OUTSIDE, 0.8);
}

static void use_mie(ray_case *c, random_stream *r, const ray_hazes *hazes) {
    c->mie = true;
    vs_haze_free(&c->room.haze);
    c->room.haze = hazes->haze[random_index(r, RAY_HAZES)];
    c->room.medium = vs_medium_make(&c->room.space, &c->room.haze, c->room.extinction_per_m);
}

static bool corners_within(const ray_case *c, const vs_rect *rect, size_t room) {
    vs_vec3 corner[4];
    vs_rect_corners(rect, corner);
    for (int i = 0; i < 4; i++) {
        if (vs_space_room_at(&c->room.space, corner[i]) != room) {
            return false;
        }
    }
    return true;
}

/* A narrow and a wide measured lamp: candelas that fall as a power of the cosine, 5 degrees a step,
 * one rotational, one that differs between its two planes. */
#define MEASURED_STEPS  19
#define MEASURED_PLANES 5
static double vertical_rad[MEASURED_STEPS], horizontal_rad[MEASURED_PLANES];
static double candela[MEASURED_PLANES][MEASURED_STEPS];

static vs_photometric_table measured_table(random_stream *r) {
    for (int v = 0; v < MEASURED_STEPS; v++) {
        vertical_rad[v] = 5.0 * v * VS_RAD_PER_DEG;
        for (int h = 0; h < MEASURED_PLANES; h++) {
            horizontal_rad[h] = 22.5 * h * VS_RAD_PER_DEG;
            candela[h][v] = 1000 * pow(fmax(0, cos(vertical_rad[v])), 2 + 3 * h);
        }
    }
    vs_photometric_table measured = {MEASURED_STEPS, random_index(r, 2) ? 1 : MEASURED_PLANES,
                                     vertical_rad, horizontal_rad, &candela[0][0]};
    return measured;
}

static void make_measured(ray_case *c, random_stream *r, vs_vec3 at_m, vs_vec3 aim_m) {
    static vs_light light; /* the emitter borrows its table */
    memset(&light, 0, sizeof light);
    light.kind = VS_LIGHT_PHOTOMETRY;
    light.strength = VS_STRENGTH_TABLE;
    light.on = true;
    light.dimmer = 1;
    light.at_m = at_m;
    light.aim_m = aim_m;
    light.roll_rad = random_uniform(r, 0, 6);
    light.table = measured_table(r);
    CHECK_OK(vs_emitter_init(&c->emitter, &light, &c->room.space, 5600));
}

/* A panel or tube that fits into its room. */
static void make_surface(ray_case *c, random_stream *r, size_t room) {
    const vs_box *box = &c->room.box[room];
    for (;;) {
        vs_vec3 at = inside(r, box, 0.05), aim = inside(r, box, 0.05);
        double width_m = random_log_uniform(r, 0.1, 2), height_m = random_log_uniform(r, 0.1, 2);
        vs_rect rect = vs_rect_facing(at, aim, width_m, height_m);
        if (!corners_within(c, &rect, room)) {
            continue;
        }
        if (c->kind == RAY_TUBE) {
            vs_vec3 from = vs_vec3_along(at, rect.u, -width_m / 2);
            c->emitter = room_tube(&c->room, from, vs_vec3_along(at, rect.u, width_m / 2), 2000);
        } else {
            c->emitter = room_panel(&c->room, at, aim, width_m, height_m, 2000);
        }
        if (c->kind == RAY_FED) {
            room_add_blocker(&c->room, rect, 0);
        }
        return;
    }
}

static void make_light(ray_case *c, random_stream *r) {
    size_t room = random_index(r, 4) == 0; /* mostly the camera's own */
    vs_vec3 at = inside(r, &c->room.box[room], 0.02), aim = inside(r, &c->room.box[room], 0.02);
    if ((c->kind == RAY_SPOT || c->kind == RAY_PROFILED) && random_index(r, 5) == 0) {
        /* outside, through the window */
        vs_vec3 window = c->room.opening[1].rect.center_m;
        at.x = window.x + random_uniform(r, -1, 1);
        at.y = -random_uniform(r, 0.5, 4);
        aim = window;
    }
    double beam_deg = random_log_uniform(r, 2, 90);
    vs_vec3 down = {random_uniform(r, -0.8, 0.8), random_uniform(r, -0.8, 0.8), -1};
    switch (c->kind) {
    case RAY_LAMP:
        c->emitter = room_lamp(&c->room, at, 200);
        break;
    case RAY_SPOT:
        c->emitter = room_spot(&c->room, at, aim, 5000, beam_deg, (double)NAN);
        break;
    case RAY_PROFILED:
        c->emitter = room_spot(&c->room, at, aim, 5000, beam_deg,
                               fmin(170, beam_deg * random_uniform(r, 1.03, 2.5)));
        break;
    case RAY_MEASURED:
        make_measured(c, r, at, aim);
        break;
    case RAY_SUN:
        c->emitter = room_sun(&c->room, 2, down, 50000);
        break;
    case RAY_SKY:
        c->emitter = room_sky(&c->room, 1 + random_index(r, 2), 3000);
        break;
    default:
        make_surface(c, r, room);
    }
}

static void add_blockers(ray_case *c, random_stream *r) {
    size_t count = 1 + random_index(r, 2);
    for (size_t i = 0; i < count && c->room.space.blocker_count < ROOM_MAX; i++) {
        vs_vec3 at = inside(r, &c->room.box[0], 0.02), aim = inside(r, &c->room.box[0], 0.02);
        vs_rect rect =
            vs_rect_facing(at, aim, random_uniform(r, 0.1, 1.5), random_uniform(r, 0.1, 1.5));
        room_add_blocker(&c->room, rect, random_index(r, 3) ? 0 : 0.5);
    }
}

/* Where a line points: anywhere, near the light, or into its beam. */
static vs_vec3 target(const ray_case *c, random_stream *r) {
    const vs_emitter *e = &c->emitter;
    size_t which = random_index(r, 3);
    if (which == 0 || e->kind == VS_EMITTER_PARALLEL) {
        return inside(r, &c->room.box[random_index(r, 2)], 0);
    }
    double off = which == 1 ? 0.3 : 0.05;
    vs_vec3 aside = {random_uniform(r, -off, off), random_uniform(r, -off, off),
                     random_uniform(r, -off, off)};
    double along_m = which == 1 ? random_uniform(r, 0.2, 4) : random_uniform(r, 0, 0.5);
    return vs_vec3_add(vs_vec3_along(e->at_m, e->axis, along_m), aside);
}

/* The least distance of a line from a panel or a tube: by alternating projections between them. */
static double gap_m(const ray_case *c, const vs_camera_ray *sight) {
    const vs_emitter *e = &c->emitter;
    vs_rect rect = e->rect;
    if (e->kind == VS_EMITTER_LINE) {
        vs_rect line = {.center_m = vs_vec3_along(e->at_m, e->axis, e->length_m / 2),
                        .u = e->axis,
                        .half_u_m = e->length_m / 2};
        rect = line;
    }
    double gap = INFINITY, x = 0;
    for (int i = 0; i < 400; i++) {
        vs_vec3 q = vs_camera_ray_point(sight, x), d = vs_vec3_sub(q, rect.center_m);
        double u = fmin(fmax(vs_vec3_dot(d, rect.u), -rect.half_u_m), rect.half_u_m);
        double v = fmin(fmax(vs_vec3_dot(d, rect.v), -rect.half_v_m), rect.half_v_m);
        vs_vec3 p = vs_vec3_along(vs_vec3_along(rect.center_m, rect.u, u), rect.v, v);
        gap = vs_vec3_length(vs_vec3_sub(p, q));
        x = vs_vec3_dot(vs_vec3_sub(p, sight->at_m), sight->direction);
        x = fmin(fmax(x, 0), sight->length_m);
    }
    return gap;
}

/* Sums of points do not reach a tolerance of 1e-5 where a line almost touches the surface. */
static bool too_near(const ray_case *c, const vs_camera_ray *sight) {
    if (!ray_kind_is_surface(c->kind)) {
        return false;
    }
    double size_m = c->emitter.kind == VS_EMITTER_LINE
                        ? c->emitter.length_m
                        : 2 * fmin(c->emitter.rect.half_u_m, c->emitter.rect.half_v_m);
    return gap_m(c, sight) < RAY_GAP_SHARE * size_m;
}

static void add_line(ray_case *c, random_stream *r) {
    for (;;) {
        vs_vec3 camera = inside(r, &c->room.box[0], 0.02), to = target(c, r);
        vs_vec3 way = vs_vec3_sub(to, camera);
        if (vs_vec3_length(way) < 0.05) {
            continue;
        }
        double length_m = random_index(r, 3) ? (double)INFINITY : random_uniform(r, 0.2, 8);
        vs_camera_ray *sight = &c->sight[c->count];
        *sight = vs_camera_ray_along(&c->room.medium, camera, vs_vec3_unit(way), length_m);
        if (!too_near(c, sight)) {
            c->count++;
            return;
        }
    }
}

void ray_case_make(ray_case *c, random_stream *r, ray_kind kind, const ray_hazes *hazes,
                   size_t count) {
    if (!c->mie) {
        vs_haze_free(&c->room.haze);
    }
    memset(c, 0, sizeof *c);
    c->kind = kind;
    make_rooms(c, r, random_log_uniform(r, 1e-5, 3));
    if (random_index(r, 3) == 0) {
        use_mie(c, r, hazes);
    }
    make_light(c, r);
    c->behind = random_index(r, 5) < 2;
    if (c->behind) {
        add_blockers(c, r);
    }
    while (c->count < count) {
        add_line(c, r);
    }
}
