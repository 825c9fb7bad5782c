/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The rooms from above, to scale, north up: walls, openings, cameras with what they frame, lamps
 * with their beams, hazers and heads. Lamps have numbers, listed beside the drawing. */
#include "report/sheet/sheet.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "report/sheet/labels.h"
#include "veilstop/base/units.h"
#include "veilstop/camera/view.h"

/* The drawing's own units: a tenth of a letter's height. */
#define WIDE        400.0
#define NARROW      310.0 /* beside the curve */
#define HEIGHT      236.0 /* at most; of the narrow one NARROW_HIGH */
#define NARROW_HIGH 150.0
#define MARGIN      12.0
#define FOOT        22.0 /* scale bar and north */
#define OUTSIDE_M   4.0  /* [m] lamps up to this far beyond the walls are drawn in place */
#define BEAM_MOST   40.0 /* [m] length of a beam on paper that meets nothing */
#define SUN_DRAWN_M 3.0  /* [m] length of a ray of a sun too low to meet the floor near by */
#define SUN_MOST_M  12.0 /* [m] likewise */

typedef struct {
    vs_sheet *s;
    double west_m, south_m, east_m, north_m; /* what is drawn */
    double scale, width, height;             /* [units/m], [units] */
    vs_sheet_labels labels;
} drawing;

static double x_of(const drawing *d, double x_m) {
    return MARGIN + (x_m - d->west_m) * d->scale;
}

static double y_of(const drawing *d, double y_m) {
    return MARGIN + (d->north_m - y_m) * d->scale;
}

/* ---- how large ---- */

static void take_in(drawing *d, double x_m, double y_m) {
    d->west_m = fmin(d->west_m, x_m);
    d->east_m = fmax(d->east_m, x_m);
    d->south_m = fmin(d->south_m, y_m);
    d->north_m = fmax(d->north_m, y_m);
}

static bool has_place(const vs_light *light) {
    return !vs_light_kind_is(light->kind, VS_LIGHT_BY_OPENING) && !light->is_part;
}

/* The rooms, and what stands outside near them. */
static void measure(drawing *d) {
    const vs_scene *scene = d->s->scene;
    d->west_m = d->south_m = INFINITY;
    d->east_m = d->north_m = -INFINITY;
    for (size_t i = 0; i < scene->room_count; i++) {
        vs_vec3 far = vs_vec3_add(scene->room[i].corner_m, scene->room[i].size_m);
        take_in(d, scene->room[i].corner_m.x, scene->room[i].corner_m.y);
        take_in(d, far.x, far.y);
    }
    double west_m = d->west_m - OUTSIDE_M, east_m = d->east_m + OUTSIDE_M;
    double south_m = d->south_m - OUTSIDE_M, north_m = d->north_m + OUTSIDE_M;
    for (size_t i = 0; i < scene->light_count; i++) {
        const vs_light *light = &scene->light[i];
        vs_vec3 at = light->at_m;
        if (has_place(light) && vs_sheet_shines(d->s, i) && at.x > west_m && at.x < east_m &&
            at.y > south_m && at.y < north_m) {
            take_in(d, at.x, at.y);
        }
    }
    double across = d->east_m - d->west_m, up = d->north_m - d->south_m;
    d->scale = fmin((d->width - 2 * MARGIN) / across,
                    ((d->s->beside ? NARROW_HIGH : HEIGHT) - 2 * MARGIN - FOOT) / up);
    d->height = up * d->scale + 2 * MARGIN + FOOT;
}

/* ---- strokes ---- */

static void line(const drawing *d, vs_vec3 a, vs_vec3 b, const char *style) {
    vs_text_addf(d->s->out, "<path d=\"M%.1f %.1fL%.1f %.1f\" fill=\"none\" %s/>\n", x_of(d, a.x),
                 y_of(d, a.y), x_of(d, b.x), y_of(d, b.y), style);
}

/* A name or number, placed where it covers no other. */
static void label(drawing *d, double x, double y, const char *words, bool bold) {
    vs_sheet_label place = vs_sheet_labels_place(&d->labels, x, y, words);
    vs_text_addf(d->s->out,
                 "<text x=\"%.1f\" y=\"%.1f\"%s paint-order=\"stroke\" stroke=\"#fff\" "
                 "stroke-width=\"2.5\" stroke-linejoin=\"round\">",
                 place.x, place.y, bold ? " font-weight=\"700\"" : "");
    vs_sheet_text(d->s->out, words);
    vs_text_addf(d->s->out, "</text>\n");
}

/* Keeps words off a mark or along a line. */
static void keep_free(drawing *d, vs_vec3 a, vs_vec3 b, double half) {
    double x = fmin(x_of(d, a.x), x_of(d, b.x)), y = fmin(y_of(d, a.y), y_of(d, b.y));
    vs_sheet_labels_take(&d->labels, x - half, y - half, fabs(a.x - b.x) * d->scale + 2 * half,
                         fabs(a.y - b.y) * d->scale + 2 * half);
}

/* ---- the place ---- */

static void room(drawing *d, size_t i) {
    const vs_scene_room *r = &d->s->scene->room[i];
    double x = x_of(d, r->corner_m.x), y = y_of(d, r->corner_m.y + r->size_m.y);
    vs_text_addf(d->s->out,
                 "<rect x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"%.1f\" fill=\"none\" "
                 "stroke=\"#000\" stroke-width=\"2.2\"/>\n",
                 x, y, r->size_m.x * d->scale, r->size_m.y * d->scale);
}

/* A door is a gap in the wall, a window two thin lines, a hatch overhead a dashed frame. */
static void opening(drawing *d, size_t i) {
    const vs_scene_opening *o = &d->s->scene->opening[i];
    vs_vec3 a = o->corner_m[0], b = o->corner_m[1];
    if (a.z == b.z) {
        vs_text_addf(d->s->out,
                     "<rect x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"%.1f\" fill=\"none\" "
                     "stroke=\"#000\" stroke-width=\".8\" stroke-dasharray=\"3 2\"/>\n",
                     x_of(d, fmin(a.x, b.x)), y_of(d, fmax(a.y, b.y)), fabs(a.x - b.x) * d->scale,
                     fabs(a.y - b.y) * d->scale);
        return;
    }
    line(d, a, b, "stroke=\"#fff\" stroke-width=\"4\"");
    if (o->room[1] == VS_OUTSIDE) {
        line(d, a, b, "stroke=\"#000\" stroke-width=\"3.4\"");
        line(d, a, b, "stroke=\"#fff\" stroke-width=\"1.8\"");
    }
}

/* The ends of an upright rectangle, seen from above. */
static void rect_ends(vs_vec3 at, vs_vec3 aim, double width_m, double height_m, vs_vec3 end[2]) {
    vs_rect r = vs_rect_facing(at, aim, width_m, height_m);
    end[0] = vs_vec3_along(at, r.u, r.half_u_m);
    end[1] = vs_vec3_along(at, r.u, -r.half_u_m);
}

static void blocker(drawing *d, size_t i) {
    const vs_scene_blocker *b = &d->s->scene->blocker[i];
    vs_vec3 end[2];
    rect_ends(b->at_m, b->aim_m, b->width_m, b->height_m, end);
    line(d, end[0], end[1],
         b->transmittance > 0 ? "stroke=\"#000\" stroke-width=\"2.4\" stroke-dasharray=\"2 1.5\""
                              : "stroke=\"#000\" stroke-width=\"3\"");
}

/* ---- cameras ---- */

static void camera(drawing *d, const vs_camera *c) {
    vs_view view = vs_view_make(c);
    double ahead = hypot(view.forward.x, view.forward.y), reach_m = 0.28 * (d->width / d->scale);
    for (int side = -1; side <= 1 && ahead > 0.2; side += 2) {
        vs_vec3 edge = vs_view_direction(&view, side, 0);
        line(d, c->at_m, vs_vec3_along(c->at_m, edge, reach_m),
             "stroke=\"#000\" stroke-width=\".7\" stroke-dasharray=\"5 3\"");
    }
    double x = x_of(d, c->at_m.x), y = y_of(d, c->at_m.y);
    double fx = ahead > 0 ? view.forward.x / ahead : 1, fy = ahead > 0 ? view.forward.y / ahead : 0;
    vs_text_addf(d->s->out, "<path d=\"M%.1f %.1fL%.1f %.1fL%.1f %.1fZ\"/>\n", x - 5 * fx + 5 * fy,
                 y + 5 * fy + 5 * fx, x - 5 * fx - 5 * fy, y + 5 * fy - 5 * fx, x + 6 * fx,
                 y - 6 * fy);
    keep_free(d, c->at_m, c->at_m, 5);
}

/* Whether a camera is the first of its name (settings of a shot's own make copies), and whether a
 * shot looks through one of that name. */
static bool is_drawn(const vs_scene *scene, size_t which) {
    const char *name = scene->camera[which].name;
    for (size_t k = 0; k < which; k++) {
        if (strcmp(scene->camera[k].name, name) == 0) {
            return false;
        }
    }
    for (size_t k = 0; k < scene->shot_count; k++) {
        if (strcmp(scene->camera[scene->shot[k].camera].name, name) == 0) {
            return true;
        }
    }
    return false;
}

/* Calls `with` for each camera that is drawn. */
static void cameras(drawing *d, void (*with)(drawing *d, const vs_camera *c)) {
    for (size_t i = 0; i < d->s->scene->camera_count; i++) {
        if (is_drawn(d->s->scene, i)) {
            with(d, &d->s->scene->camera[i]);
        }
    }
}

static void camera_label(drawing *d, const vs_camera *c) {
    label(d, x_of(d, c->at_m.x), y_of(d, c->at_m.y), c->name, true);
}

/* ---- lamps ---- */

/* The beam of a spot up to its aim, as wide as its beam angle. */
static void beam(drawing *d, const vs_light *light) {
    vs_vec3 along = vs_vec3_sub(light->aim_m, light->at_m);
    double length_m = hypot(along.x, along.y), half = tan(fmin(light->beam_rad, 3.0) / 2);
    if (!(length_m > 0.1) || length_m > BEAM_MOST) {
        return;
    }
    double spread = fmin(half * vs_vec3_length(along), length_m);
    vs_vec3 side = {-along.y / length_m * spread, along.x / length_m * spread, 0};
    vs_vec3 a = vs_vec3_add(light->aim_m, side), b = vs_vec3_sub(light->aim_m, side);
    vs_text_addf(d->s->out,
                 "<path d=\"M%.1f %.1fL%.1f %.1fL%.1f %.1fZ\" fill=\"#000\" fill-opacity=\".13\" "
                 "stroke=\"#000\" stroke-width=\".4\"/>\n",
                 x_of(d, light->at_m.x), y_of(d, light->at_m.y), x_of(d, a.x), y_of(d, a.y),
                 x_of(d, b.x), y_of(d, b.y));
}

static void arrow(const drawing *d, vs_vec3 from, vs_vec3 to) {
    double x = x_of(d, to.x), y = y_of(d, to.y), dx = x - x_of(d, from.x), dy = y - y_of(d, from.y);
    double length = hypot(dx, dy);
    if (!(length > 3)) {
        return;
    }
    dx *= 5 / length;
    dy *= 5 / length;
    line(d, from, to, "stroke=\"#000\" stroke-width=\".9\"");
    vs_text_addf(d->s->out, "<path d=\"M%.1f %.1fL%.1f %.1fL%.1f %.1fZ\"/>\n", x, y,
                 x - dx + dy / 2, y - dy - dx / 2, x - dx - dy / 2, y - dy + dx / 2);
}

static void dot(const drawing *d, vs_vec3 at) {
    vs_text_addf(d->s->out,
                 "<circle cx=\"%.1f\" cy=\"%.1f\" r=\"3\" fill=\"#fff\" stroke=\"#000\" "
                 "stroke-width=\"1.2\"/>\n",
                 x_of(d, at.x), y_of(d, at.y));
}

/* Where a light has its number: sun and sky in their opening, a tube in its middle. */
static vs_vec3 place_of(const drawing *d, const vs_light *l) {
    if (vs_light_kind_is(l->kind, VS_LIGHT_BY_OPENING)) {
        const vs_scene_opening *o = &d->s->scene->opening[l->through];
        return vs_vec3_scale(vs_vec3_add(o->corner_m[0], o->corner_m[1]), 0.5);
    }
    return vs_light_kind_is(l->kind, VS_LIGHT_FROM_TO)
               ? vs_vec3_scale(vs_vec3_add(l->at_m, l->aim_m), 0.5)
               : l->at_m;
}

/* The sun's ray from its opening to the floor. */
static void sun(const drawing *d, const vs_light *l) {
    const vs_scene_opening *o = &d->s->scene->opening[l->through];
    vs_vec3 from = place_of(d, l);
    double down_m = from.z - d->s->scene->room[o->room[0]].corner_m.z;
    double along = l->travel.z < -0.05 ? -down_m / l->travel.z : SUN_DRAWN_M;
    vs_vec3 end = vs_vec3_along(from, l->travel, fmin(along, SUN_MOST_M));
    end.x = fmin(fmax(end.x, d->west_m), d->east_m);
    end.y = fmin(fmax(end.y, d->south_m), d->north_m);
    arrow(d, from, end);
}

static void light(drawing *d, const vs_light *l) {
    vs_vec3 at = place_of(d, l), end[2] = {at, at};
    if (l->kind == VS_LIGHT_SUN) {
        sun(d, l);
    } else if (vs_light_kind_is(l->kind, VS_LIGHT_FROM_TO)) {
        end[0] = l->at_m;
        end[1] = l->aim_m;
        line(d, end[0], end[1], "stroke=\"#000\" stroke-width=\"2.6\" stroke-linecap=\"round\"");
    } else if (l->kind == VS_LIGHT_PANEL) {
        rect_ends(l->at_m, l->aim_m, l->width_m, l->height_m, end);
        line(d, end[0], end[1], "stroke=\"#000\" stroke-width=\"3.4\"");
        line(d, end[0], end[1], "stroke=\"#fff\" stroke-width=\"1.6\"");
    } else if (l->kind != VS_LIGHT_SKY) {
        if (l->kind == VS_LIGHT_SPOT) {
            beam(d, l);
        }
        dot(d, l->at_m);
    }
    keep_free(d, end[0], end[1], 3);
}

/* Lights that shine in some shot, each once. */
static bool is_listed(const drawing *d, size_t i) {
    return vs_sheet_shines(d->s, i) && !d->s->scene->light[i].is_part;
}

static void lights(drawing *d) {
    for (size_t i = 0; i < d->s->scene->light_count; i++) {
        if (is_listed(d, i)) {
            light(d, &d->s->scene->light[i]);
        }
    }
}

static void light_numbers(drawing *d) {
    size_t n = 0;
    for (size_t i = 0; i < d->s->scene->light_count; i++) {
        if (is_listed(d, i)) {
            char words[24];
            vs_vec3 at = place_of(d, &d->s->scene->light[i]);
            snprintf(words, sizeof words, "%zu", ++n);
            label(d, x_of(d, at.x), y_of(d, at.y), words, true);
        }
    }
}

/* ---- things that have a room but no place ---- */

static void in_room(drawing *d, size_t room_index, size_t n, const char *words) {
    const vs_scene_room *r = &d->s->scene->room[room_index];
    double x = x_of(d, r->corner_m.x) + 6 + 22 * (double)n;
    double y = y_of(d, r->corner_m.y) - 6;
    vs_text_addf(
        d->s->out,
        "<rect x=\"%.1f\" y=\"%.1f\" width=\"20\" height=\"11\" fill=\"#fff\" stroke=\"#000\" "
        "stroke-width=\".8\"%s/>\n<text x=\"%.1f\" y=\"%.1f\" text-anchor=\"middle\" "
        "font-weight=\"700\">%s</text>\n",
        x, y - 9, words[0] == 'D' ? " rx=\"5\"" : "", x + 10, y - 0.5, words);
    vs_sheet_labels_take(&d->labels, x, y - 9, 20, 11);
}

/* Along the south wall of each room its machines and heads, then its name. */
static void in_rooms(drawing *d) {
    const vs_scene *scene = d->s->scene;
    size_t taken[VS_ROOMS_MAX] = {0};
    char words[24];
    for (size_t i = 0; i < scene->hazer.machine_count; i++) {
        size_t at = scene->hazer.machine[i].room;
        snprintf(words, sizeof words, "H%zu", i + 1);
        in_room(d, at, taken[at]++, words);
    }
    for (size_t i = 0; i < scene->venue.detector_count; i++) {
        size_t at = scene->venue.detector[i].room;
        snprintf(words, sizeof words, "D%zu", i + 1);
        in_room(d, at, taken[at]++, words);
    }
    for (size_t i = 0; i < scene->room_count; i++) {
        double x = x_of(d, scene->room[i].corner_m.x) + 22 * (double)taken[i];
        label(d, x + (taken[i] > 0 ? 2 : -1), y_of(d, scene->room[i].corner_m.y) - 10,
              scene->room[i].name, false);
    }
}

/* ---- scale and north ---- */

static void scale_bar(drawing *d) {
    double unit_m = vs_length_unit_m(d->s->style->units);
    double most = 120 / d->scale / unit_m, power = pow(10, floor(log10(most)));
    double length = most / power >= 5 ? 5 * power : most / power >= 2 ? 2 * power : power;
    double long_units = length * unit_m * d->scale, y = d->height - 8;
    char number[16];
    vs_text_addf(d->s->out,
                 "<path d=\"M%.1f %.1fv-5v2.5h%.1fv-2.5v5\" fill=\"none\" stroke=\"#000\" "
                 "stroke-width=\"1.2\"/>\n<text x=\"%.1f\" y=\"%.1f\">%s %s</text>\n",
                 MARGIN, y, long_units, MARGIN + long_units + 5, y + 1,
                 vs_style_number(length, number), vs_style_length_unit(d->s->style));
    vs_text_addf(d->s->out,
                 "<path d=\"M%.1f %.1fl-4 9h8z\"/>\n<text x=\"%.1f\" y=\"%.1f\" "
                 "font-weight=\"700\">N</text>\n",
                 d->width - 24, d->height - 16, d->width - 17, d->height - 8);
}

/* ---- beside the drawing ---- */

static void light_item(vs_sheet *s, const vs_light *l) {
    vs_text_addf(s->out, "<li>");
    vs_sheet_text(s->out, l->name);
    if (has_place(l)) {
        vs_text_addf(s->out, ", %.1f&nbsp;%s up", vs_style_length(s->style, l->at_m.z),
                     vs_style_length_unit(s->style));
    }
    if (l->dimmer < 1) {
        vs_text_addf(s->out, ", at %.0f&nbsp;%%", 100 * l->dimmer);
    }
    vs_text_addf(s->out, "</li>\n");
}

static void legend(const drawing *d) {
    vs_sheet *s = d->s;
    vs_text_addf(s->out, "<div>\n<h3>Lamps</h3>\n<ol class=\"lamps\">\n");
    for (size_t i = 0; i < s->scene->light_count; i++) {
        if (is_listed(d, i)) {
            light_item(s, &s->scene->light[i]);
        }
    }
    vs_text_addf(s->out, "</ol>\n</div>\n");
}

static void named(vs_sheet *s, const char *sign, size_t n, const char *name, size_t room_index) {
    vs_text_addf(s->out, " <b>%s%zu</b> ", sign, n);
    vs_sheet_text(s->out, name);
    vs_text_addf(s->out, ", ");
    vs_sheet_text(s->out, s->scene->room[room_index].name);
    vs_text_addf(s->out, ".");
}

static void caption(vs_sheet *s) {
    const vs_scene *scene = s->scene;
    vs_text_addf(s->out,
                 "<figcaption>Triangles: cameras and what they frame. Hazers and heads: mark where "
                 "in their room.");
    for (size_t i = 0; i < scene->hazer.machine_count; i++) {
        named(s, "H", i + 1, "hazer", scene->hazer.machine[i].room);
    }
    for (size_t i = 0; i < scene->venue.detector_count; i++) {
        named(s, "D", i + 1, scene->venue.detector[i].name, scene->venue.detector[i].room);
    }
    vs_text_addf(s->out, "</figcaption>\n");
}

static void draw(drawing *d) {
    const vs_scene *scene = d->s->scene;
    for (size_t i = 0; i < scene->room_count; i++) {
        room(d, i);
    }
    for (size_t i = 0; i < scene->opening_count; i++) {
        opening(d, i);
    }
    for (size_t i = 0; i < scene->blocker_count; i++) {
        blocker(d, i);
    }
    cameras(d, camera);
    lights(d);
    in_rooms(d);
    cameras(d, camera_label);
    light_numbers(d);
    scale_bar(d);
}

void vs_sheet_plan(vs_sheet *s) {
    drawing d = {.s = s, .width = s->beside ? NARROW : WIDE};
    measure(&d);
    d.labels.right = d.width;
    d.labels.bottom = d.height;
    vs_text_addf(s->out,
                 "<h2>The place</h2>\n<div class=\"place\">\n<figure>\n<div class=\"drawing\" "
                 "style=\"aspect-ratio:%.0f/%.0f\"><svg viewBox=\"0 0 %.0f "
                 "%.0f\" role=\"img\" aria-label=\"Plan of the rooms from above, to scale, "
                 "north up: cameras, lamps, hazers and heads\">\n",
                 d.width, d.height, d.width, d.height);
    draw(&d);
    vs_text_addf(s->out, "</svg></div>\n");
    caption(s);
    vs_text_addf(s->out, "</figure>\n");
    legend(&d);
    vs_text_addf(s->out, "</div>\n");
}
