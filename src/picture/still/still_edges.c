/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A location's edges drawn over its photo, to check a camera by eye. */
#include <math.h>

#include "picture/still/still_kept.h"

#define NEAR_M      0.05 /* [m] before the camera: lines are cut there */
#define SHADE_WIDER 1.5  /* [1] of the line: dark beside it, so that it shows on any photo */
#define DASH_LINES  6.0  /* [1] line widths of a dot and of the gap behind it */
#define NUDGE_M                                                                                    \
    0.02 /* [m] into its room, or towards the camera: an edge's place there is seen
                           * where the edge is */

/* Colours [code value of 255]: open orange, readable on grey walls; our choice. */
static const double edge_colour[3] = {255, 150, 30};
static const double cross_colour[3] = {40, 220, 255};

typedef struct {
    vs_picture *picture;
    double half_px; /* of a line */
} pen;

static pen pen_for(vs_picture *picture) {
    double longer = fmax((double)picture->width, (double)picture->height);
    pen p = {picture, fmax(0.8, longer / 1600)};
    return p;
}

static void blend(vs_picture *picture, long x, long y, const double colour[3], double share) {
    if (x < 0 || y < 0 || x >= (long)picture->width || y >= (long)picture->height || share <= 0) {
        return;
    }
    uint16_t *sample = vs_picture_at(picture, (size_t)x, (size_t)y);
    for (int band = 0; band < 3; band++) {
        double wanted = colour[band] * 257;
        sample[band] = (uint16_t)lround((1 - share) * sample[band] + share * wanted);
    }
}

/* A round spot with a soft rim about a place [pixels]. */
static void spot(const pen *p, double x, double y, double half, const double colour[3]) {
    long margin = (long)ceil(half + 1);
    for (long j = (long)floor(y) - margin; j <= (long)floor(y) + margin; j++) {
        for (long i = (long)floor(x) - margin; i <= (long)floor(x) + margin; i++) {
            double d = hypot((double)i + 0.5 - x, (double)j + 0.5 - y);
            blend(p->picture, i, j, colour, fmin(fmax(half + 0.5 - d, 0), 1));
        }
    }
}

static bool place_px(const vs_still_kept *k, vs_vec3 at_m, double *x, double *y) {
    double u, v;
    bool ahead = vs_view_place(&k->view, at_m, &u, &v);
    *x = 0.5 * (double)k->width * (1 + u);
    *y = 0.5 * (double)k->height * (1 - v);
    return ahead;
}

/* A thing that is drawn. Edges of a room are seen only from inside it. */
typedef struct {
    const vs_box *room; /* NULL: not a room's edge */
    bool near;          /* of the camera's room: hidden parts are drawn too */
} thing;

static vs_vec3 nudged(const vs_still_kept *k, const thing *t, vs_vec3 at_m) {
    vs_vec3 to_m = k->view.at_m;
    if (t->room) {
        to_m = vs_vec3_scale(vs_vec3_add(t->room->low_m, t->room->high_m), 0.5);
    }
    vs_vec3 direction = vs_vec3_sub(to_m, at_m);
    double length_m = vs_vec3_length(direction);
    return length_m > 2 * NUDGE_M ? vs_vec3_along(at_m, direction, NUDGE_M / length_m) : at_m;
}

/* Whether something stands before a place of an edge. */
static bool is_hidden(const vs_still_kept *k, const thing *t, vs_vec3 at_m) {
    vs_vec3 to_m = nudged(k, t, at_m);
    if (vs_vec3_length(vs_vec3_sub(to_m, k->view.at_m)) < NUDGE_M) {
        return false;
    }
    vs_camera_ray ray = vs_camera_ray_to(&k->medium, k->view.at_m, to_m);
    return ray.end != VS_CAMERA_RAY_AT_POINT;
}

/* Cuts a line to the part in front of the camera; false where there is none. */
static bool cut_ahead(const vs_still_kept *k, vs_vec3 *a, vs_vec3 *b) {
    double da = vs_vec3_dot(vs_vec3_sub(*a, k->view.at_m), k->view.forward) - NEAR_M;
    double db = vs_vec3_dot(vs_vec3_sub(*b, k->view.at_m), k->view.forward) - NEAR_M;
    if (da <= 0 && db <= 0) {
        return false;
    }
    vs_vec3 direction = vs_vec3_sub(*b, *a), whole = *a;
    if (da < 0) {
        *a = vs_vec3_along(whole, direction, da / (da - db));
    } else if (db < 0) {
        *b = vs_vec3_along(whole, direction, da / (da - db));
    }
    return true;
}

static bool in_picture(const vs_picture *p, double x, double y) {
    return x >= -4 && y >= -4 && x <= (double)p->width + 4 && y <= (double)p->height + 4;
}

/* A line of the location, spot by spot along its picture; what is hidden dotted, or left out. */
static void draw_line(const vs_still_kept *k, const pen *p, bool shade, const thing *of, vs_vec3 a,
                      vs_vec3 b) {
    static const double dark[3] = {0, 0, 0};
    double x0, y0, x1, y1;
    if (!cut_ahead(k, &a, &b)) {
        return;
    }
    bool seen = place_px(k, a, &x0, &y0) && place_px(k, b, &x1, &y1);
    double length_px = seen ? hypot(x1 - x0, y1 - y0) : 0;
    double za = vs_vec3_dot(vs_vec3_sub(a, k->view.at_m), k->view.forward);
    double zb = vs_vec3_dot(vs_vec3_sub(b, k->view.at_m), k->view.forward);
    double step = p->half_px;
    size_t steps = (size_t)fmin(ceil(length_px / step), 1e6);
    for (size_t n = 0; n <= steps && seen; n++) {
        double t = steps > 0 ? (double)n / (double)steps : 0;
        double x = x0 + t * (x1 - x0), y = y0 + t * (y1 - y0);
        if (!in_picture(p->picture, x, y)) {
            continue;
        }
        double s = t * za / (t * za + (1 - t) * zb); /* along the line, from along its picture */
        bool hidden = is_hidden(k, of, vs_vec3_along(a, vs_vec3_sub(b, a), s));
        double along = fmod(t * length_px / p->half_px, 2 * DASH_LINES);
        bool gap = hidden && (!of->near || along > DASH_LINES / 2);
        if (!gap) {
            spot(p, x, y, shade ? SHADE_WIDER * p->half_px + 0.5 : p->half_px,
                 shade ? dark : edge_colour);
        }
    }
}

static void draw_box(const vs_still_kept *k, const pen *p, bool shade, const thing *of) {
    const vs_box *box = of->room;
    vs_vec3 c[8];
    for (int i = 0; i < 8; i++) {
        vs_vec3 at = {i & 1 ? box->high_m.x : box->low_m.x, i & 2 ? box->high_m.y : box->low_m.y,
                      i & 4 ? box->high_m.z : box->low_m.z};
        c[i] = at;
    }
    for (int i = 0; i < 8; i++) {
        for (int axis = 1; axis < 8; axis *= 2) {
            if (!(i & axis)) {
                draw_line(k, p, shade, of, c[i], c[i | axis]);
            }
        }
    }
}

static void draw_rect(const vs_still_kept *k, const pen *p, bool shade, const thing *of,
                      const vs_rect *rect) {
    vs_vec3 c[4];
    vs_rect_corners(rect, c);
    for (int i = 0; i < 4; i++) {
        draw_line(k, p, shade, of, c[i], c[(i + 1) % 4]);
    }
}

vs_status vs_still_draw_edges(vs_still *still, vs_picture *picture) {
    vs_still_kept *k = vs_still_of(still);
    const vs_space *space = &k->predictor.geometry->space;
    if (picture->width != k->width || picture->height != k->height) {
        return VS_ERR_DOMAIN;
    }
    k->medium = vs_medium_make(space, &k->predictor.haze, k->room_extinction_per_m);
    pen p = pen_for(picture);
    size_t here = vs_space_room_at(space, k->view.at_m);
    for (int shade = 1; shade >= 0; shade--) { /* first everything dark */
        for (size_t i = 0; i < space->room_count; i++) {
            thing room = {&space->room[i], i == here};
            draw_box(k, &p, shade, &room);
        }
        for (size_t i = 0; i < space->opening_count; i++) {
            thing opening = {NULL, vs_opening_joins(&space->opening[i], here)};
            draw_rect(k, &p, shade, &opening, &space->opening[i].rect);
        }
        for (size_t i = 0; i < space->blocker_count; i++) {
            thing blocker = {NULL,
                             vs_space_room_at(space, space->blocker[i].rect.center_m) == here};
            draw_rect(k, &p, shade, &blocker, &space->blocker[i].rect);
        }
    }
    return VS_OK;
}

void vs_still_draw_cross(vs_picture *picture, double x_px, double y_px) {
    pen p = pen_for(picture);
    double arm = 8 * p.half_px;
    for (double t = -arm; t <= arm; t += p.half_px) {
        spot(&p, x_px + t, y_px + t, p.half_px, cross_colour);
        spot(&p, x_px + t, y_px - t, p.half_px, cross_colour);
    }
}

void vs_still_draw_ring(vs_picture *picture, double x_px, double y_px) {
    pen p = pen_for(picture);
    double radius = 10 * p.half_px;
    for (double angle = 0; angle < 6.2832; angle += 0.5 * p.half_px / radius) {
        spot(&p, x_px + radius * cos(angle), y_px + radius * sin(angle), p.half_px, cross_colour);
    }
}
