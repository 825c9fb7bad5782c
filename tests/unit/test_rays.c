/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Blocks of lines of sight: those through a shot's points carry the light of its prediction, in all
 * demo scenes; and each part requested alone equals the same part among the others. The reference
 * is the program's own prediction, which test_predict.c compares with closed forms. */
#include "check.h"
#include "demo.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/camera/view.h"
#include "veilstop/scene/scene_file.h"
#include "veilstop/shot/rays.h"

#define SAME 1e-6 /* [1] between the same light computed alone and in a block */

typedef struct {
    vs_scene_file file;
    vs_predictor predictor;
    vs_rays rays;
} opened;

static void open_demo(opened *o, const char *name) {
    demo_scene(name, &o->file);
    CHECK_OK(vs_predictor_init(&o->predictor, &o->file.scene));
    CHECK_OK(vs_rays_init(&o->rays, &o->predictor));
}

static void close_demo(opened *o) {
    vs_rays_free(&o->rays);
    vs_predictor_free(&o->predictor);
    vs_scene_file_free(&o->file);
}

/* All results for `count` lines. */
typedef struct {
    size_t count, columns;
    vs_vec3 *direction;
    double *length_m, *out_m;
    uint32_t *surface;
    vs_bands *transmission, *veil, *bounced_veil, *direct, *bounced, *clear;
} block;

static void block_init(block *b, size_t count, size_t columns) {
    b->count = count;
    b->columns = columns;
    b->direction = calloc(count, sizeof *b->direction);
    b->length_m = calloc(count, sizeof(double));
    b->out_m = calloc(count, sizeof(double));
    b->surface = calloc(count, sizeof *b->surface);
    b->transmission = calloc(count, sizeof(vs_bands));
    b->veil = calloc(count * columns, sizeof(vs_bands));
    b->bounced_veil = calloc(count * columns, sizeof(vs_bands));
    b->direct = calloc(count * columns, sizeof(vs_bands));
    b->bounced = calloc(count * columns, sizeof(vs_bands));
    b->clear = calloc(count, sizeof(vs_bands));
}

static void block_free(block *b) {
    void *all[] = {b->direction, b->length_m,     b->out_m,  b->surface, b->transmission,
                   b->veil,      b->bounced_veil, b->direct, b->bounced, b->clear};
    for (size_t i = 0; i < sizeof all / sizeof all[0]; i++) {
        free(all[i]);
    }
}

static vs_rays_light everything(block *b) {
    vs_rays_light light = {b->out_m,        b->surface, b->transmission, b->veil,
                           b->bounced_veil, b->direct,  b->bounced,      b->clear};
    return light;
}

static void ask_all(opened *o, block *b, bool to_length) {
    vs_rays_block lines = {b->count, b->direction, to_length ? b->length_m : NULL, 0};
    vs_rays_light light = everything(b);
    CHECK_OK(vs_rays_ask(&o->rays, &lines, &light));
}

static double row_sum(const vs_bands *by_light, size_t row, size_t columns) {
    double sum = 0;
    for (size_t i = 0; i < columns; i++) {
        sum += vs_bands_luminance(by_light[row * columns + i]);
    }
    return sum;
}

/* Lines to a shot's points, ended there. */
static void aim_at_points(opened *o, const vs_scene_shot *shot, block *b) {
    const vs_camera *camera = &o->file.scene.camera[shot->camera];
    block_init(b, shot->point_count, vs_rays_columns(&o->rays));
    for (size_t i = 0; i < shot->point_count; i++) {
        vs_vec3 way = vs_vec3_sub(shot->point[i].at_m, camera->at_m);
        b->length_m[i] = vs_vec3_length(way);
        b->direction[i] = vs_vec3_unit(way);
    }
}

static void check_point(opened *o, const block *b, size_t i, const vs_point_prediction *want) {
    size_t lights = o->file.scene.light_count;
    double grey = 1e-9; /* [cd/m2] nothing a camera sees */
    for (size_t e = 0; e < lights; e++) {
        CHECK_NEAR(vs_bands_luminance(b->veil[i * b->columns + e]),
                   vs_bands_luminance(want->veil_by_light[e]), SAME, grey);
        CHECK_NEAR(vs_bands_luminance(b->bounced_veil[i * b->columns + e]),
                   vs_bands_luminance(want->indirect_by_light[e]), SAME, grey);
    }
    CHECK_NEAR(row_sum(b->veil, i, b->columns) + row_sum(b->bounced_veil, i, b->columns),
               vs_bands_luminance(want->veil_nits), SAME, grey);
    CHECK_NEAR(b->out_m[i], want->hidden ? want->hidden_at_m : want->distance_m, SAME, 0);
    if (!want->hidden) {
        CHECK_NEAR(vs_bands_luminance(b->transmission[i]), vs_bands_luminance(want->transmission),
                   SAME, 0);
    }
}

/* A point on a wall, with the wall's own reflectance, equals what the line to it ends at. */
static void check_wall_point(const opened *o, const block *b, size_t i, const vs_scene_point *point,
                             const vs_point_prediction *want, size_t *walls) {
    vs_surface_seen seen = vs_rays_surface(&o->rays, b->surface[i]);
    bool on_wall = fabs(b->out_m[i] - want->distance_m) < 1e-6;
    if (point->kind != VS_POINT_REFLECTANCE || !on_wall || seen.kind != VS_SURFACE_FACE) {
        return;
    }
    const vs_scene_room *room = &o->file.scene.room[seen.index];
    double scale = point->value / room->reflectance[seen.side];
    double nits = row_sum(b->direct, i, b->columns) + row_sum(b->bounced, i, b->columns);
    CHECK_NEAR(nits * scale, vs_bands_luminance(want->surface_nits), 1e-4, 0);
    CHECK_NEAR(vs_bands_luminance(b->clear[i]) * scale, vs_bands_luminance(want->clear_nits), 1e-4,
               0);
    (*walls)++;
}

static void check_shot(opened *o, size_t shot, size_t *points, size_t *walls) {
    const vs_scene_shot *s = &o->file.scene.shot[shot];
    const double k[16] = {0.03, 0.02, 0.01, 0.03, 0.02, 0.01, 0.01, 0.01};
    vs_shot_prediction want;
    block b;
    CHECK_OK(vs_predict_shot(&o->predictor, shot, k, &want));
    CHECK_OK(vs_rays_set(&o->rays, shot, k));
    aim_at_points(o, s, &b);
    ask_all(o, &b, true);
    for (size_t i = 0; i < b.count; i++) {
        check_point(o, &b, i, &want.point[i]);
    }
    ask_all(o, &b, false); /* on to what is behind: a wall, where the point is on it */
    for (size_t i = 0; i < b.count; i++) {
        check_wall_point(o, &b, i, &s->point[i], &want.point[i], walls);
    }
    *points += b.count;
    block_free(&b);
    vs_shot_prediction_free(&want);
}

static void lines_to_points_are_the_prediction(void **state) {
    (void)state;
    static const char *const demo[] = {"../data/demo/cellar.json", "../data/demo/yard.json",
                                       "../data/demo/loft.json", "../data/demo/washroom.json"};
    size_t points = 0, walls = 0;
    for (size_t d = 0; d < sizeof demo / sizeof demo[0]; d++) {
        opened o;
        open_demo(&o, demo[d]);
        for (size_t shot = 0; shot < o.file.scene.shot_count; shot++) {
            check_shot(&o, shot, &points, &walls);
        }
        close_demo(&o);
    }
    CHECK_TRUE(points >= 20);
    CHECK_TRUE(walls >= 5);
}

/* Lines over the whole frame. */
static void aim_over_frame(opened *o, size_t shot, size_t side, block *b) {
    const vs_scene *scene = &o->file.scene;
    vs_view view = vs_view_make(&scene->camera[scene->shot[shot].camera]);
    block_init(b, side * side, vs_rays_columns(&o->rays));
    for (size_t i = 0; i < b->count; i++) {
        double x = (2.0 * (double)(i % side) + 1) / (double)side - 1;
        double y = (2.0 * (double)(i / side) + 1) / (double)side - 1;
        b->direction[i] = vs_view_direction(&view, x, y);
    }
}

/* A part requested alone, and a line alone, equal those in a whole block. */
static void parts_are_independent(void **state) {
    (void)state;
    opened o;
    block all, some;
    open_demo(&o, "../data/demo/cellar.json");
    CHECK_OK(vs_rays_set(&o.rays, 0, NULL));
    aim_over_frame(&o, 0, 12, &all); /* more than one batch */
    aim_over_frame(&o, 0, 12, &some);
    ask_all(&o, &all, false);
    vs_rays_block lines = {some.count, some.direction, NULL, 0};
    vs_rays_light part = {.bounced_veil = some.bounced_veil};
    CHECK_OK(vs_rays_ask(&o.rays, &lines, &part));
    part = (vs_rays_light){.bounced = some.bounced, .surface = some.surface};
    CHECK_OK(vs_rays_ask(&o.rays, &lines, &part));
    size_t row = all.columns * sizeof(vs_bands);
    assert_memory_equal(some.bounced_veil, all.bounced_veil, all.count * row);
    assert_memory_equal(some.bounced, all.bounced, all.count * row);
    assert_memory_equal(some.surface, all.surface, all.count * sizeof *all.surface);
    for (size_t i = 0; i < all.count; i += 29) {
        vs_rays_block one = {1, &some.direction[i], NULL, 0};
        part = (vs_rays_light){.veil = some.veil, .direct = some.direct};
        CHECK_OK(vs_rays_ask(&o.rays, &one, &part));
        for (size_t c = 0; c < all.columns; c++) { /* sums over a batch are in another order */
            size_t at = i * all.columns + c;
            CHECK_NEAR(vs_bands_luminance(some.veil[c]), vs_bands_luminance(all.veil[at]), 1e-12,
                       0);
            CHECK_NEAR(vs_bands_luminance(some.direct[c]), vs_bands_luminance(all.direct[at]),
                       1e-12, 0);
        }
    }
    block_free(&all);
    block_free(&some);
    close_demo(&o);
}

/* Half the light of a lamp halves everything due to it and changes nothing else. */
static void dimmed_light_is_in_proportion(void **state) {
    (void)state;
    opened o;
    block full, half;
    open_demo(&o, "../data/demo/cellar.json");
    size_t lamp = 3; /* the bulkhead, which feeds nothing */
    CHECK_TRUE(strcmp(o.file.scene.light[lamp].name, "bulkhead") == 0);
    aim_over_frame(&o, 0, 6, &full);
    aim_over_frame(&o, 0, 6, &half);
    CHECK_OK(vs_rays_set(&o.rays, 0, NULL));
    ask_all(&o, &full, false);
    o.predictor.dim[lamp] = 0.5;
    CHECK_OK(vs_rays_set(&o.rays, 0, NULL));
    ask_all(&o, &half, false);
    for (size_t i = 0; i < full.count * full.columns; i++) {
        double share = i % full.columns == lamp ? 0.5 : 1;
        CHECK_NEAR(vs_bands_luminance(half.veil[i]), share * vs_bands_luminance(full.veil[i]), SAME,
                   0);
        CHECK_NEAR(vs_bands_luminance(half.bounced_veil[i]),
                   share * vs_bands_luminance(full.bounced_veil[i]), SAME, 0);
        CHECK_NEAR(vs_bands_luminance(half.direct[i]), share * vs_bands_luminance(full.direct[i]),
                   1e-4, 1e-12);
        CHECK_NEAR(vs_bands_luminance(half.bounced[i]), share * vs_bands_luminance(full.bounced[i]),
                   1e-4, 1e-12);
    }
    block_free(&full);
    block_free(&half);
    close_demo(&o);
}

/* The surface given by `surface` is where the line ends. */
static void surfaces_are_told_apart(void **state) {
    (void)state;
    opened o;
    block b;
    size_t kinds[VS_SURFACE_OUTSIDE + 1] = {0};
    open_demo(&o, "../data/demo/cellar.json");
    const vs_scene *scene = &o.file.scene;
    for (size_t shot = 0; shot < scene->shot_count; shot++) {
        CHECK_OK(vs_rays_set(&o.rays, shot, NULL));
        aim_over_frame(&o, shot, 40, &b);
        ask_all(&o, &b, false);
        for (size_t i = 0; i < b.count; i++) {
            vs_surface_seen seen = vs_rays_surface(&o.rays, b.surface[i]);
            const vs_camera *camera = &scene->camera[scene->shot[shot].camera];
            vs_vec3 end_m = vs_vec3_along(camera->at_m, b.direction[i], b.out_m[i]);
            kinds[seen.kind]++;
            if (seen.kind == VS_SURFACE_FACE && seen.side == VS_FACE_FLOOR) {
                CHECK_NEAR(end_m.z, scene->room[seen.index].corner_m.z, 0, 1e-9);
            } else if (seen.kind == VS_SURFACE_OUTSIDE) {
                const vs_scene_opening *opening = &scene->opening[seen.index];
                CHECK_TRUE(opening->room[1] == VS_OUTSIDE);
                CHECK_TRUE(end_m.x <= fmax(opening->corner_m[0].x, opening->corner_m[1].x) + 1e-9);
            } else if (seen.kind == VS_SURFACE_BLOCKER) {
                CHECK_TRUE(vs_vec3_length(vs_vec3_sub(end_m, scene->blocker[seen.index].at_m)) <=
                           hypot(scene->blocker[seen.index].width_m / 2,
                                 scene->blocker[seen.index].height_m / 2));
            }
        }
        block_free(&b);
    }
    CHECK_TRUE(kinds[VS_SURFACE_NONE] == 0);
    CHECK_TRUE(kinds[VS_SURFACE_FACE] > 1000 && kinds[VS_SURFACE_OUTSIDE] > 0 &&
               kinds[VS_SURFACE_BLOCKER] > 0 && kinds[VS_SURFACE_PANEL] > 0);
    CHECK_TRUE(vs_rays_surface(&o.rays, UINT32_MAX).kind == VS_SURFACE_NONE);
    close_demo(&o);
}

static void nothing_before_it_is_set(void **state) {
    (void)state;
    opened o;
    vs_vec3 way = {1, 0, 0};
    vs_rays_block one = {1, &way, NULL, 0};
    vs_rays_light nothing = {0};
    double thick[16] = {NAN};
    open_demo(&o, "../data/demo/cellar.json");
    CHECK_STATUS(vs_rays_ask(&o.rays, &one, &nothing), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_rays_set(&o.rays, o.file.scene.shot_count, NULL), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_rays_set(&o.rays, 0, thick), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_rays_ask(&o.rays, &one, &nothing), VS_ERR_DOMAIN);
    close_demo(&o);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lines_to_points_are_the_prediction),
        cmocka_unit_test(parts_are_independent),
        cmocka_unit_test(dimmed_light_is_in_proportion),
        cmocka_unit_test(surfaces_are_told_apart),
        cmocka_unit_test(nothing_before_it_is_set),
    };
    return RUN_TESTS(tests);
}
