/* SPDX-License-Identifier: GPL-3.0-or-later */
/* People: a standing body is a trunk and a head, two boxes of opaque plates. Proportions of the
 * height: shoulders at 0.818, 0.259 wide (Drillis & Contini 1966, as printed in ergonomics
 * handbooks; from memory); depths and the head's width are our choice. */
#include "scene/place/read_figures.h"

#include "scene/place/lengths.h"
#include "scene/reader.h"
#include "veilstop/base/units.h"

#define SHOULDERS   0.818 /* [1] of the height, as are all of these */
#define TRUNK_WIDTH 0.259
#define TRUNK_DEPTH 0.14
#define HEAD_WIDTH  0.10
#define HEAD_DEPTH  0.12
#define LID_TILT    0.035 /* [1] 2 deg: a level plate would align with x, not with the body */

#define DEFAULT_HEIGHT_M    1.7 /* [m] our choice */
#define DEFAULT_REFLECTANCE 0.3 /* [1] everyday clothes and skin together: our choice */

static const vs_json_range share = {0, 1, false, false}; /* [1] */

/* A box of the body: between two heights, with its width across and depth along its facing. */
typedef struct {
    double low, high, width, depth; /* [1] of the height */
} part;

static const part body[] = {{0, SHOULDERS, TRUNK_WIDTH, TRUNK_DEPTH},
                            {SHOULDERS, 1, HEAD_WIDTH, HEAD_DEPTH}};
enum { PARTS = sizeof body / sizeof body[0], PLATES_A_PART = VS_SCENE_FIGURE_PLATES / PARTS };

static vs_vec3 across_of(const vs_scene_figure *figure) {
    vs_vec3 across = {figure->facing.y, -figure->facing.x, 0};
    return across;
}

static void add_plate(vs_scene_reader *reader, const vs_scene_figure *figure, const char *name,
                      vs_vec3 at_m, vs_vec3 normal, double width_m, double height_m) {
    vs_scene_blocker plate = {.name = name,
                              .at_m = at_m,
                              .aim_m = vs_vec3_add(at_m, normal),
                              .width_m = width_m,
                              .height_m = height_m,
                              .reflectance = figure->reflectance};
    reader->blocker[reader->scene->blocker_count++] = plate;
}

/* Front, back, both sides and the top of one box. */
static void add_part(vs_scene_reader *reader, const vs_scene_figure *figure, const char *name,
                     const part *p) {
    double h = figure->height_m, tall_m = (p->high - p->low) * h;
    vs_vec3 middle_m = figure->at_m, across = across_of(figure), up = {0, 0, 1};
    middle_m.z += (p->low + p->high) / 2 * h;
    for (int side = -1; side <= 1; side += 2) {
        vs_vec3 front_m = vs_vec3_along(middle_m, figure->facing, side * p->depth * h / 2);
        vs_vec3 flank_m = vs_vec3_along(middle_m, across, side * p->width * h / 2);
        add_plate(reader, figure, name, front_m, vs_vec3_scale(figure->facing, side), p->width * h,
                  tall_m);
        add_plate(reader, figure, name, flank_m, vs_vec3_scale(across, side), p->depth * h, tall_m);
    }
    vs_vec3 top_m = vs_vec3_along(middle_m, up, tall_m / 2);
    add_plate(reader, figure, name, top_m, vs_vec3_along(up, figure->facing, LID_TILT),
              p->width * h, p->depth * h);
}

static const part *part_at(double share_of_height) {
    return share_of_height <= SHOULDERS ? &body[0] : &body[1];
}

vs_vec3 vs_scene_on_figure(const vs_scene_figure *figure, double height_m) {
    const part *p = part_at(height_m / figure->height_m);
    vs_vec3 at_m = vs_vec3_along(figure->at_m, figure->facing, p->depth * figure->height_m / 2);
    at_m.z += height_m;
    return at_m;
}

const char *vs_scene_figure_around(const vs_scene_reader *reader, vs_vec3 at_m) {
    for (size_t i = 0; i < reader->figures.count; i++) {
        const vs_scene_figure *f = &reader->figure[i];
        vs_vec3 in_m = vs_vec3_sub(at_m, f->at_m);
        double up = in_m.z / f->height_m;
        const part *p = part_at(up);
        double along_m = fabs(vs_vec3_dot(in_m, f->facing));
        double across_m = fabs(vs_vec3_dot(in_m, across_of(f)));
        if (up > 0 && up < 1 && along_m < p->depth * f->height_m / 2 &&
            across_m < p->width * f->height_m / 2) {
            return reader->figures.name[i] ? reader->figures.name[i] : "";
        }
    }
    return NULL;
}

static void read_figure(vs_scene_reader *reader, const vs_json_value *value,
                        vs_scene_figure *figure) {
    static const vs_json_range height_m = {0.3, 3, false, false};
    static const vs_json_range azimuth = {-360, 360, false, false};
    figure->at_m = vs_scene_need_inside(reader, value, "at");
    vs_json_value height = vs_json_get(value, "height");
    figure->height_m = vs_json_exists(&height)
                           ? vs_scene_need_length(reader, &height, NULL, height_m)
                           : DEFAULT_HEIGHT_M;
    figure->reflectance = vs_json_take_number(value, "reflectance", share, DEFAULT_REFLECTANCE);
    double turn_rad = vs_json_take_number(value, "facing_deg", azimuth, 0) * VS_RAD_PER_DEG;
    vs_vec3 facing = {sin(turn_rad), cos(turn_rad), 0}; /* clockwise from north, which is +y */
    figure->facing = facing;
}

void vs_scene_read_figures(vs_scene_reader *reader) {
    size_t count = vs_scene_read_names(reader, &reader->root, "figures", 0, VS_SCENE_FIGURES_MAX,
                                       "figure", &reader->figures);
    vs_scene_figure *figure = vs_scene_new(reader, count, sizeof *figure);
    vs_json_value list = vs_json_get(&reader->root, "figures");
    reader->figure = figure;
    reader->figures.count = figure ? count : 0;
    for (size_t i = 0; figure && i < count; i++) {
        vs_json_value value = vs_json_at(&list, i);
        figure[i].at_m.x = figure[i].height_m = NAN;
        if (!vs_scene_check_keys(&value, VS_KEYS_FIGURE, VS_KIND_UNKNOWN)) {
            continue;
        }
        read_figure(reader, &value, &figure[i]);
        bool whole = vs_scene_is_position(figure[i].at_m) && vs_scene_is_position(figure[i].facing);
        for (size_t p = 0; p < PARTS && whole && reader->blocker; p++) {
            add_part(reader, &figure[i], reader->figures.name[i], &body[p]);
        }
    }
}
