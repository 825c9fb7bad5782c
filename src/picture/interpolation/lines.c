/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Edges in the rooms, projected from a light onto surfaces and from there into the picture.
 * Clipping of segments: Liang & Barsky 1984, ACM Trans. Graph. 3, 1. */
#include "picture/interpolation/lines.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/base/units.h"
#include "veilstop/light/surfaces.h"

#define NEAR_M     1e-3 /* [m] in front of the camera */
#define FAR_SHARE  1e-3 /* [1] shadows are projected up to a thousand times the edge's distance */
#define BEAM_FAR_M 1e3  /* [m] longer than any room */
#define ROUND      16   /* sides of the outline of a bulb */
#define MARGIN     1.5f /* [pixels] a line counts for cells it passes this closely */

static void add(vs_lines *lines, vs_line line) {
    if (lines->count == lines->size) {
        size_t size = lines->size ? 2 * lines->size : 256;
        vs_line *item = realloc(lines->item, size * sizeof *item);
        if (!item) {
            lines->failed = true;
            return;
        }
        lines->item = item;
        lines->size = size;
    }
    lines->item[lines->count++] = line;
}

/* Narrows 0 <= t <= 1 to where from + t step is over `low`; false if nowhere. */
static bool narrow(double from, double step, double low, double *t0, double *t1) {
    double over = from - low;
    if (step == 0) {
        return over >= 0;
    }
    double t = -over / step;
    if (step > 0) {
        *t0 = fmax(*t0, t);
    } else {
        *t1 = fmin(*t1, t);
    }
    return *t0 < *t1;
}

static bool clip_to_box(vs_line *line, double x0, double y0, double x1, double y1) {
    double dx = (double)line->x1 - (double)line->x0, dy = (double)line->y1 - (double)line->y0;
    double t0 = 0, t1 = 1, x = (double)line->x0, y = (double)line->y0;
    if (!narrow(x, dx, x0, &t0, &t1) || !narrow(-x, -dx, -x1, &t0, &t1) ||
        !narrow(y, dy, y0, &t0, &t1) || !narrow(-y, -dy, -y1, &t0, &t1)) {
        return false;
    }
    line->x0 = (float)(x + t0 * dx);
    line->y0 = (float)(y + t0 * dy);
    line->x1 = (float)(x + t1 * dx);
    line->y1 = (float)(y + t1 * dy);
    return true;
}

static void pixel_of(const vs_lines_frame *f, vs_vec3 off_m, float *x, float *y) {
    double ahead = vs_vec3_dot(off_m, f->view.forward);
    double across = vs_vec3_dot(off_m, f->view.right) / (ahead * f->view.half_width);
    double up = vs_vec3_dot(off_m, f->view.up) / (ahead * f->view.half_height);
    *x = (float)((across + 1) / 2 * (double)f->width - 0.5);
    *y = (float)((1 - up) / 2 * (double)f->height - 0.5);
}

/* Projects a segment of the rooms into the picture. */
static void add_segment(vs_lines *lines, const vs_lines_frame *f, vs_vec3 a_m, vs_vec3 b_m) {
    vs_vec3 a = vs_vec3_sub(a_m, f->view.at_m), b = vs_vec3_sub(b_m, f->view.at_m);
    vs_vec3 step = vs_vec3_sub(b, a);
    double t0 = 0, t1 = 1;
    if (!narrow(vs_vec3_dot(a, f->view.forward), vs_vec3_dot(step, f->view.forward), NEAR_M, &t0,
                &t1)) {
        return;
    }
    vs_line line;
    pixel_of(f, vs_vec3_along(a, step, t0), &line.x0, &line.y0);
    pixel_of(f, vs_vec3_along(a, step, t1), &line.x1, &line.y1);
    double margin = 4;
    if (clip_to_box(&line, -margin, -margin, (double)(f->across * f->cell) + margin,
                    (double)(f->down * f->cell) + margin)) {
        add(lines, line);
    }
}

static void add_rect(vs_lines *lines, const vs_lines_frame *f, const vs_rect *rect) {
    vs_vec3 corner[4];
    vs_rect_corners(rect, corner);
    for (int i = 0; i < 4; i++) {
        add_segment(lines, f, corner[i], corner[(i + 1) % 4]);
    }
}

static void add_round(vs_lines *lines, const vs_lines_frame *f, vs_vec3 at_m, double radius_m) {
    vs_vec3 before = vs_vec3_along(at_m, f->view.right, radius_m);
    for (int i = 1; i <= ROUND; i++) {
        double turn = 2 * VS_PI * i / ROUND;
        vs_vec3 next = vs_vec3_along(at_m, f->view.right, radius_m * cos(turn));
        next = vs_vec3_along(next, f->view.up, radius_m * sin(turn));
        add_segment(lines, f, before, next);
        before = next;
    }
}

static void add_body(vs_lines *lines, const vs_lines_frame *f, const vs_body *body) {
    if (body->kind == VS_BODY_BALL || body->kind == VS_BODY_SUN) {
        add_round(lines, f, body->at_m, body->radius_m);
    } else if (body->kind == VS_BODY_TUBE) {
        vs_vec3 side = vs_vec3_cross(body->axis, body->normal);
        side = vs_vec3_scale(side, body->radius_m / fmax(vs_vec3_length(side), 1e-9));
        vs_vec3 end_m = vs_vec3_add(body->at_m, body->axis);
        for (int sign = -1; sign <= 1; sign += 2) {
            add_segment(lines, f, vs_vec3_along(body->at_m, side, sign),
                        vs_vec3_along(end_m, side, sign));
        }
        add_round(lines, f, body->at_m, body->radius_m);
        add_round(lines, f, end_m, body->radius_m);
    } else {
        add_rect(lines, f, &body->rect);
    }
}

void vs_lines_add_outlines(vs_lines *lines, const vs_lines_frame *f,
                           const vs_scene_geometry *geometry, const vs_bodies *bodies) {
    for (size_t r = 0; r < geometry->space.room_count; r++) {
        for (int face = 0; face < VS_FACE_COUNT; face++) {
            vs_rect rect = vs_surfaces_face(&geometry->room[r], face);
            add_rect(lines, f, &rect);
        }
    }
    for (size_t i = 0; i < geometry->space.opening_count; i++) {
        add_rect(lines, f, &geometry->opening[i].rect);
    }
    for (size_t i = 0; i < geometry->space.blocker_count; i++) {
        add_rect(lines, f, &geometry->blocker[i].rect);
    }
    for (size_t i = 0; i < bodies->count; i++) {
        add_body(lines, f, &bodies->item[i]);
    }
}

/* The ray from a light past a corner, to beyond the rooms. */
static void add_corner_ray(vs_lines *lines, const vs_lines_frame *f, const vs_emitter *e,
                           vs_vec3 corner_m) {
    vs_vec3 along =
        e->kind == VS_EMITTER_PARALLEL ? e->axis : vs_vec3_sub(corner_m, vs_emitter_middle(e));
    double length_m = vs_vec3_length(along);
    if (length_m > 0) {
        add_segment(lines, f, corner_m, vs_vec3_along(corner_m, along, BEAM_FAR_M / length_m));
    }
}

/* Whether a rectangle can block an emitter's light: it is not the emitter itself. */
static bool cuts(const vs_emitter *e, const vs_rect *rect) {
    if (e->kind == VS_EMITTER_PARALLEL) {
        return true;
    }
    vs_vec3 off_m = vs_vec3_sub(vs_emitter_middle(e), rect->center_m);
    return fabs(vs_vec3_dot(off_m, rect->normal)) > VS_SPACE_SKIN_M;
}

static const vs_rect *cutter(const vs_scene_geometry *geometry, size_t i) {
    size_t openings = geometry->space.opening_count;
    return i < openings ? &geometry->opening[i].rect : &geometry->blocker[i - openings].rect;
}

static size_t cutter_count(const vs_scene_geometry *geometry) {
    return geometry->space.opening_count + geometry->space.blocker_count;
}

void vs_lines_add_shafts(vs_lines *lines, const vs_lines_frame *f,
                         const vs_scene_geometry *geometry, const vs_emitter *e) {
    if (e->kind == VS_EMITTER_RECT) {
        add_rect(lines, f, &e->rect);
    } else if (e->kind == VS_EMITTER_LINE) {
        add_segment(lines, f, e->at_m, vs_vec3_along(e->at_m, e->axis, e->length_m));
    }
    bool soft = e->kind == VS_EMITTER_RECT || e->kind == VS_EMITTER_LINE;
    for (size_t i = 0; i < cutter_count(geometry) && !soft; i++) {
        const vs_rect *rect = cutter(geometry, i);
        vs_vec3 corner[4];
        if (!cuts(e, rect)) {
            continue;
        }
        vs_rect_corners(rect, corner);
        for (int k = 0; k < 4; k++) {
            add_corner_ray(lines, f, e, corner[k]);
            add_segment(lines, f, corner[k], corner[(k + 1) % 4]);
        }
    }
}

/* Adds the part of a segment in a rectangle's plane that lies within the rectangle. */
static void add_within(vs_lines *lines, const vs_lines_frame *f, const vs_rect *rect, vs_vec3 a_m,
                       vs_vec3 b_m) {
    vs_vec3 a = vs_vec3_sub(a_m, rect->center_m), step = vs_vec3_sub(b_m, a_m);
    double u = vs_vec3_dot(a, rect->u), du = vs_vec3_dot(step, rect->u);
    double v = vs_vec3_dot(a, rect->v), dv = vs_vec3_dot(step, rect->v), t0 = 0, t1 = 1;
    if (narrow(u, du, -rect->half_u_m, &t0, &t1) && narrow(-u, -du, -rect->half_u_m, &t0, &t1) &&
        narrow(v, dv, -rect->half_v_m, &t0, &t1) && narrow(-v, -dv, -rect->half_v_m, &t0, &t1)) {
        add_segment(lines, f, vs_vec3_along(a_m, step, t0), vs_vec3_along(a_m, step, t1));
    }
}

/* The shadow of an edge on a rectangle, from a light at a point. */
static void throw_from_point(vs_lines *lines, const vs_lines_frame *f, const vs_rect *onto,
                             vs_vec3 light_m, vs_vec3 a_m, vs_vec3 b_m) {
    double h = vs_vec3_dot(vs_vec3_sub(onto->center_m, light_m), onto->normal);
    if (fabs(h) <= VS_SPACE_SKIN_M) {
        return;
    }
    vs_vec3 a = vs_vec3_sub(a_m, light_m), b = vs_vec3_sub(b_m, light_m);
    vs_vec3 step = vs_vec3_sub(b, a);
    double from = vs_vec3_dot(a, onto->normal) / h, slope = vs_vec3_dot(step, onto->normal) / h;
    double t0 = 0, t1 = 1;
    /* the edge's share of the distance to the plane: over 0, at most 1 */
    if (!narrow(from, slope, FAR_SHARE, &t0, &t1) || !narrow(-from, -slope, -1 - 1e-6, &t0, &t1)) {
        return;
    }
    vs_vec3 p = vs_vec3_along(a, step, t0), q = vs_vec3_along(a, step, t1);
    p = vs_vec3_scale(p, 1 / (from + slope * t0));
    q = vs_vec3_scale(q, 1 / (from + slope * t1));
    add_within(lines, f, onto, vs_vec3_add(light_m, p), vs_vec3_add(light_m, q));
}

static void throw_parallel(vs_lines *lines, const vs_lines_frame *f, const vs_rect *onto,
                           vs_vec3 travel, vs_vec3 a_m, vs_vec3 b_m) {
    double slope = vs_vec3_dot(travel, onto->normal);
    if (slope == 0) {
        return;
    }
    double a = vs_vec3_dot(vs_vec3_sub(onto->center_m, a_m), onto->normal) / slope;
    double b = vs_vec3_dot(vs_vec3_sub(onto->center_m, b_m), onto->normal) / slope;
    if (a >= -VS_SPACE_SKIN_M && b >= -VS_SPACE_SKIN_M) {
        add_within(lines, f, onto, vs_vec3_along(a_m, travel, a), vs_vec3_along(b_m, travel, b));
    }
}

static void throw_all(vs_lines *lines, const vs_lines_frame *f, const vs_scene_geometry *geometry,
                      const vs_emitter *e, const vs_rect *onto) {
    for (size_t i = 0; i < cutter_count(geometry); i++) {
        const vs_rect *rect = cutter(geometry, i);
        vs_vec3 corner[4];
        if (rect == onto || !cuts(e, rect)) {
            continue;
        }
        vs_rect_corners(rect, corner);
        for (int k = 0; k < 4; k++) {
            if (e->kind == VS_EMITTER_PARALLEL) {
                throw_parallel(lines, f, onto, e->axis, corner[k], corner[(k + 1) % 4]);
            } else {
                throw_from_point(lines, f, onto, vs_emitter_middle(e), corner[k],
                                 corner[(k + 1) % 4]);
            }
        }
    }
}

void vs_lines_add_shadows(vs_lines *lines, const vs_lines_frame *f,
                          const vs_scene_geometry *geometry, const vs_emitter *e) {
    for (size_t r = 0; r < geometry->space.room_count; r++) {
        for (int face = 0; face < VS_FACE_COUNT; face++) {
            vs_rect rect = vs_surfaces_face(&geometry->room[r], face);
            if (vs_vec3_dot(vs_vec3_sub(f->view.at_m, rect.center_m), rect.normal) > 0) {
                throw_all(lines, f, geometry, e, &rect);
            }
        }
    }
    for (size_t i = 0; i < geometry->space.blocker_count; i++) {
        throw_all(lines, f, geometry, e, &geometry->blocker[i].rect);
    }
}

void vs_lines_begin(vs_lines *lines, const vs_lines_frame *frame) {
    memset(lines, 0, sizeof *lines);
    lines->cell = frame->cell;
    lines->across = frame->across;
    lines->down = frame->down;
}

void vs_lines_free(vs_lines *lines) {
    free(lines->item);
    free(lines->first);
    free(lines->list);
    memset(lines, 0, sizeof *lines);
}

static bool crosses_square(const vs_line *line, double x, double y, double side) {
    vs_line copy = *line;
    return clip_to_box(&copy, x - (double)MARGIN, y - (double)MARGIN, x + side + (double)MARGIN,
                       y + side + (double)MARGIN);
}

/* Visits the cells that a line crosses: counts or lists them. */
static void list_line(vs_lines *lines, size_t i, size_t *next) {
    const vs_line *l = &lines->item[i];
    double cell = (double)lines->cell, margin = (double)MARGIN;
    double x0 = fmin((double)l->x0, (double)l->x1), x1 = fmax((double)l->x0, (double)l->x1);
    double y0 = fmin((double)l->y0, (double)l->y1), y1 = fmax((double)l->y0, (double)l->y1);
    size_t left = (size_t)fmax(0, floor((x0 - margin) / cell));
    size_t top = (size_t)fmax(0, floor((y0 - margin) / cell));
    size_t right = (size_t)fmin((double)lines->across - 1, fmax(0, floor((x1 + margin) / cell)));
    size_t bottom = (size_t)fmin((double)lines->down - 1, fmax(0, floor((y1 + margin) / cell)));
    for (size_t y = top; y <= bottom; y++) {
        for (size_t x = left; x <= right; x++) {
            if (crosses_square(l, (double)x * cell, (double)y * cell, cell)) {
                size_t at = y * lines->across + x;
                if (lines->list) {
                    lines->list[next[at]++] = (unsigned)i;
                } else {
                    next[at + 1]++;
                }
            }
        }
    }
}

vs_status vs_lines_end(vs_lines *lines) {
    size_t cells = lines->across * lines->down;
    lines->first = calloc(cells + 1, sizeof *lines->first);
    size_t *next = calloc(cells + 1, sizeof *next);
    if (lines->failed || !lines->first || !next) {
        free(next);
        return VS_ERR_MEMORY;
    }
    for (size_t i = 0; i < lines->count; i++) {
        list_line(lines, i, lines->first);
    }
    for (size_t i = 0; i < cells; i++) {
        lines->first[i + 1] += lines->first[i];
    }
    memcpy(next, lines->first, cells * sizeof *next);
    lines->list = calloc(lines->first[cells] + 1, sizeof *lines->list);
    for (size_t i = 0; i < lines->count && lines->list; i++) {
        list_line(lines, i, next);
    }
    free(next);
    return lines->list ? VS_OK : VS_ERR_MEMORY;
}

bool vs_lines_cross(const vs_lines *lines, double x, double y, double side) {
    size_t across = (size_t)(x / (double)lines->cell), down = (size_t)(y / (double)lines->cell);
    if (across >= lines->across || down >= lines->down) {
        return false;
    }
    size_t at = down * lines->across + across;
    for (size_t i = lines->first[at]; i < lines->first[at + 1]; i++) {
        if (crosses_square(&lines->item[lines->list[i]], x, y, side)) {
            return true;
        }
    }
    return false;
}
