/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Haze over a photo, held against lines of sight worked out each by its own full integrals, on
 * locations drawn at random that no rule here was set on; against itself where the answer is known:
 * no haze changes nothing, a map of the rooms' own depth changes nothing, half the way keeps the
 * root of what the whole keeps. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "location.h"
#include "veilstop/air/rooms.h"
#include "veilstop/base/numerics.h"
#include "veilstop/camera/view.h"
#include "veilstop/picture/still.h"
#include "veilstop/shot/held.h"
#include "veilstop/shot/rays.h"

#define WIDTH      1280
#define HEIGHT     720
#define PIXELS     400 /* of each photo, drawn at random */
#define LOCATIONS  6
#define FIRST_SEED 91001 /* of locations that no rule here was set on */
#define WITHIN     0.05  /* [stops] 98 % */

static vs_picture grey_photo(size_t width, size_t height, int bits, uint16_t code) {
    vs_picture p;
    CHECK_OK(vs_picture_init(&p, width, height, bits));
    for (size_t i = 0; i < 3 * width * height; i++) {
        p.sample[i] = code;
    }
    return p;
}

static vs_still_photo photo_of(const vs_picture *picture, const vs_camera *camera) {
    vs_still_photo photo = {picture, *camera, VS_DEVELOP_LINEAR, vs_camera_nits(camera, 1)};
    return photo;
}

typedef struct {
    vs_still_planes planes;
    float *memory;
} layers;

static layers layers_of(size_t width, size_t height) {
    layers l;
    size_t pixels = width * height;
    l.memory = malloc(10 * pixels * sizeof(float));
    CHECK_TRUE(l.memory != NULL);
    for (int band = 0; band < 3; band++) {
        l.planes.hazed[band] = l.memory + (size_t)band * pixels;
        l.planes.veil[band] = l.memory + (size_t)(3 + band) * pixels;
        l.planes.transmission[band] = l.memory + (size_t)(6 + band) * pixels;
    }
    l.planes.depth_m = l.memory + 9 * pixels;
    return l;
}

typedef struct {
    size_t count, within, edges, edges_within;
    double worst, edge_worst;
} tally;

/* A shot without its points: they are no cards in a photo. */
static vs_scene without_points(const vs_scene *scene, vs_scene_shot *shot) {
    vs_scene bare = *scene;
    *shot = scene->shot[0];
    shot->point_count = shot->want_count = 0;
    bare.shot = shot;
    bare.shot_count = 1;
    return bare;
}

/* A middle grey photo in a location's own haze, against pixels by their full integrals. */
static void compare(const vs_scene *scene, random_stream *random, tally *t) {
    const vs_camera *camera = &scene->camera[scene->shot[0].camera];
    vs_scene_shot shot;
    vs_scene bare = without_points(scene, &shot);
    vs_picture grey = grey_photo(WIDTH, HEIGHT, 16, (uint16_t)lround(65535 * 0.18 / 8));
    vs_still_photo photo = photo_of(&grey, camera);
    double k[VS_ROOMS_MAX], clipped;
    vs_predictor predictor;
    vs_frame frame;
    vs_frame_layers seen;
    vs_still still;
    CHECK_OK(vs_predictor_init(&predictor, &bare));
    CHECK_OK(vs_held_rooms(&bare, &bare.shot[0], &predictor.haze, NAN, k));
    CHECK_OK(vs_frame_open(&frame, &predictor, 0, WIDTH, HEIGHT, NULL));
    CHECK_OK(vs_frame_render(&frame, k, VS_FRAME_COARSE, false, &seen));
    CHECK_OK(vs_still_open(&still, scene, 0, camera, WIDTH, HEIGHT, NULL, NULL));
    CHECK_OK(vs_still_haze(&still, k));
    layers l = layers_of(WIDTH, HEIGHT);
    CHECK_OK(vs_still_composite(&still, &photo, NULL, 0, 0, &l.planes, &clipped));
    for (size_t i = 0; i < PIXELS; i++) {
        size_t x = random_index(random, WIDTH), y = random_index(random, HEIGHT);
        size_t at = y * WIDTH + x;
        vs_frame_ray ray;
        CHECK_OK(vs_frame_render_ray(&frame, (double)x + 0.5, (double)y + 0.5, &ray));
        vs_bands hazed;
        for (int band = 0; band < 3; band++) {
            hazed.v[band] = (double)l.planes.hazed[band][at] / 0.18 * vs_camera_grey_nits(camera);
            ray.veil.v[band] +=
                vs_camera_grey_nits(camera) * 0.18 / 0.18 * (double)l.planes.transmission[band][at];
        }
        double stops = fabs(vs_camera_stops_between(camera, vs_bands_luminance(hazed),
                                                    vs_bands_luminance(ray.veil)));
        CHECK_TRUE(stops >= 0); /* no NaN */
        bool edge = vs_frame_on_edge(&frame, x, y);
        *(edge ? &t->edges : &t->count) += 1;
        *(edge ? &t->edges_within : &t->within) += stops <= WITHIN;
        double *worst = edge ? &t->edge_worst : &t->worst;
        *worst = fmax(*worst, stops);
    }
    free(l.memory);
    vs_still_close(&still);
    vs_frame_close(&frame);
    vs_predictor_free(&predictor);
    vs_picture_free(&grey);
}

static void against_full_integrals(void **state) {
    (void)state;
    random_stream random = {FIRST_SEED};
    tally t = {0};
    for (uint64_t i = 0; i < LOCATIONS; i++) {
        vs_scene_file file;
        location_read(FIRST_SEED + i, 1 + i % 2, &file);
        compare(&file.scene, &random, &t);
        vs_scene_file_free(&file);
    }
    print_message("off edges %zu pixels, %.2f %% within %.2f stop, worst %.3f; at edges %zu, %.2f "
                  "%%, worst %.3f\n",
                  t.count, 100.0 * (double)t.within / (double)t.count, WITHIN, t.worst, t.edges,
                  100.0 * (double)t.edges_within / (double)t.edges, t.edge_worst);
    CHECK_TRUE((double)t.within >= 0.98 * (double)t.count);
    CHECK_TRUE((double)t.edges_within >= 0.85 * (double)t.edges);
}

/* ---- the first location, in small ---- */

#define SMALL_WIDTH  96
#define SMALL_HEIGHT 54

typedef struct {
    vs_scene_file file;
    const vs_camera *camera;
    double k[VS_ROOMS_MAX], none[VS_ROOMS_MAX];
} small;

static small open_small(void) {
    small s = {0};
    location_read(FIRST_SEED, 1, &s.file);
    s.camera = &s.file.scene.camera[s.file.scene.shot[0].camera];
    for (size_t r = 0; r < s.file.scene.room_count; r++) {
        s.k[r] = 0.06;
    }
    return s;
}

/* Every code value of 8 bits and many of 16, in every form, through clear air. */
static void no_haze_changes_nothing(void **state) {
    (void)state;
    small s = open_small();
    random_stream random = {4};
    vs_still still;
    CHECK_OK(
        vs_still_open(&still, &s.file.scene, 0, s.camera, SMALL_WIDTH, SMALL_HEIGHT, NULL, NULL));
    CHECK_OK(vs_still_haze(&still, s.none));
    for (int form = 0; form < 4; form++) {
        for (int bits = 8; bits <= 16; bits += 8) {
            vs_picture photo = grey_photo(SMALL_WIDTH, SMALL_HEIGHT, bits, 0), out;
            CHECK_OK(vs_picture_init(&out, SMALL_WIDTH, SMALL_HEIGHT, bits));
            for (size_t i = 0; i < 3u * SMALL_WIDTH * SMALL_HEIGHT; i++) {
                photo.sample[i] =
                    (uint16_t)(bits == 8 ? i % 256 * 257 : random_index(&random, 65536));
            }
            vs_still_photo p = photo_of(&photo, s.camera);
            p.as = form < 3 ? (vs_develop_as)form : VS_DEVELOP_LOG;
            p.camera.stops_above_grey = 30;
            p.camera.curve.kind = form == 3 ? VS_CURVE_SRGB : VS_CURVE_ACESCCT;
            double clipped;
            CHECK_OK(vs_still_composite(&still, &p, &out, 0, 0, NULL, &clipped));
            int most = 0;
            for (size_t i = 0; i < 3u * SMALL_WIDTH * SMALL_HEIGHT; i++) {
                int off = abs((int)out.sample[i] - (int)photo.sample[i]);
                most = off > most ? off : most;
            }
            /* BT.709's constants leave a gap of 13 codes of 16 bits at the break (curve.h) */
            if (most > (bits == 8 ? 0 : form == 0 ? 14 : 2)) {
                fail_msg("form %d, %d bits: off by %d", form, bits, most);
            }
            vs_picture_free(&photo);
            vs_picture_free(&out);
        }
    }
    vs_still_close(&still);
    vs_scene_file_free(&s.file);
}

/* Distances by a map: the rooms' own, half of them, and none. */
static void a_map_of_depth(void **state) {
    (void)state;
    small s = open_small();
    vs_picture photo = grey_photo(SMALL_WIDTH, SMALL_HEIGHT, 16, 3000);
    vs_picture map = grey_photo(SMALL_WIDTH, SMALL_HEIGHT, 16, 0);
    vs_still_photo p = photo_of(&photo, s.camera);
    layers own = layers_of(SMALL_WIDTH, SMALL_HEIGHT),
           by_map = layers_of(SMALL_WIDTH, SMALL_HEIGHT);
    double clipped;
    vs_still still;
    CHECK_OK(
        vs_still_open(&still, &s.file.scene, 0, s.camera, SMALL_WIDTH, SMALL_HEIGHT, NULL, NULL));
    CHECK_OK(vs_still_haze(&still, s.k));
    CHECK_OK(vs_still_composite(&still, &p, NULL, 0, 0, &own.planes, &clipped));
    vs_still_close(&still);
    for (int share = 0; share < 3; share++) { /* not known, half, all */
        size_t pixels = (size_t)SMALL_WIDTH * SMALL_HEIGHT, less = 0;
        for (size_t i = 0; i < pixels; i++) {
            double count = (double)own.planes.depth_m[i] * 1000 * share / 2;
            map.sample[3 * i] = (uint16_t)(isfinite(count) ? fmin(lround(count), 65535) : 0);
        }
        vs_still_depth depth = {&map, 0.001};
        CHECK_OK(vs_still_open(&still, &s.file.scene, 0, s.camera, SMALL_WIDTH, SMALL_HEIGHT,
                               &depth, NULL));
        CHECK_OK(vs_still_haze(&still, s.k));
        CHECK_OK(vs_still_composite(&still, &p, NULL, 0, 0, &by_map.planes, &clipped));
        vs_still_close(&still);
        for (size_t i = 0; i < pixels; i++) {
            double t = (double)own.planes.transmission[1][i];
            double want = share == 1 && isfinite(own.planes.depth_m[i]) ? sqrt(t) : t;
            CHECK_NEAR((double)by_map.planes.transmission[1][i], want, 0, 3e-3);
            double veil = (double)own.planes.veil[1][i], half = (double)by_map.planes.veil[1][i];
            if (share != 1) {
                CHECK_NEAR(half, veil, 0.02, 1e-6);
            } else {
                CHECK_TRUE(half <= veil * 1.0001);
                less += half < 0.98 * veil;
            }
        }
        CHECK_TRUE(share != 1 || less > pixels / 2);
    }
    free(own.memory);
    free(by_map.memory);
    vs_picture_free(&photo);
    vs_picture_free(&map);
    vs_scene_file_free(&s.file);
}

/* The veil before a half-way map against lines of sight that end there. */
static void the_veil_before_a_map(void **state) {
    (void)state;
    small s = open_small();
    vs_picture photo = grey_photo(SMALL_WIDTH, SMALL_HEIGHT, 16, 3000);
    vs_picture map = grey_photo(SMALL_WIDTH, SMALL_HEIGHT, 16, 1500); /* 1.5 m */
    vs_still_photo p = photo_of(&photo, s.camera);
    vs_still_depth depth = {&map, 0.001};
    layers l = layers_of(SMALL_WIDTH, SMALL_HEIGHT);
    double clipped, off = 0, worst = 0;
    vs_still still;
    vs_predictor predictor;
    vs_rays rays;
    CHECK_OK(
        vs_still_open(&still, &s.file.scene, 0, s.camera, SMALL_WIDTH, SMALL_HEIGHT, &depth, NULL));
    CHECK_OK(vs_still_haze(&still, s.k));
    CHECK_OK(vs_still_composite(&still, &p, NULL, 0, 0, &l.planes, &clipped));
    CHECK_OK(vs_predictor_init(&predictor, &s.file.scene));
    CHECK_OK(vs_rays_init(&rays, &predictor));
    CHECK_OK(vs_rays_set(&rays, 0, s.k));
    vs_camera camera = *s.camera;
    double pixel_m = vs_view_pixel_m(&camera, SMALL_WIDTH, SMALL_HEIGHT);
    camera.sensor_width_m = pixel_m * SMALL_WIDTH;
    camera.sensor_height_m = pixel_m * SMALL_HEIGHT;
    vs_view view = vs_view_make(&camera);
    size_t columns = vs_rays_columns(&rays), count = 0;
    vs_bands *veil = calloc(2 * columns, sizeof *veil);
    CHECK_TRUE(veil != NULL);
    for (size_t y = 2; y < SMALL_HEIGHT; y += 7) {
        for (size_t x = 2; x < SMALL_WIDTH; x += 7) {
            vs_vec3 way = vs_view_direction(&view, 2 * (x + 0.5) / SMALL_WIDTH - 1,
                                            1 - 2 * (y + 0.5) / SMALL_HEIGHT);
            double length = 1.5 / vs_vec3_dot(way, view.forward), nits = 0;
            vs_rays_block block = {1, &way, &length, 0};
            vs_rays_light light = {.veil = veil, .bounced_veil = veil + columns};
            CHECK_OK(vs_rays_ask(&rays, &block, &light));
            for (size_t i = 0; i < 2 * columns; i++) {
                nits += vs_bands_luminance(veil[i]);
            }
            size_t at = y * SMALL_WIDTH + x;
            vs_bands got = {{(double)l.planes.veil[0][at], (double)l.planes.veil[1][at],
                             (double)l.planes.veil[2][at]}};
            double seen = vs_bands_luminance(got) * vs_camera_grey_nits(s.camera) / 0.18;
            double stops = fabs(vs_camera_stops_between(s.camera, seen, nits));
            CHECK_TRUE(stops >= 0);
            off += stops;
            worst = fmax(worst, stops);
            count++;
        }
    }
    print_message("veil before 1.5 m: off by %.3f stop in the mean, worst %.3f\n",
                  off / (double)count, worst);
    CHECK_TRUE(off / (double)count < 0.1);
    free(veil);
    free(l.memory);
    vs_rays_free(&rays);
    vs_predictor_free(&predictor);
    vs_still_close(&still);
    vs_picture_free(&photo);
    vs_picture_free(&map);
    vs_scene_file_free(&s.file);
}

static void patches(void **state) {
    (void)state;
    small s = open_small();
    random_stream random = {6};
    vs_picture photo = grey_photo(200, 200, 8, 100 * 257);
    vs_still_photo p = photo_of(&photo, s.camera);
    p.as = VS_DEVELOP_LOG;
    p.camera.curve.kind = VS_CURVE_SRGB;
    p.camera.stops_above_grey = 30;
    for (size_t i = 0; i < 3 * 200 * 200; i++) {
        int code = 100 + (int)lround(random_uniform(&random, -6, 6));
        photo.sample[i] = (uint16_t)(257 * (random_index(&random, 10) ? code : 250)); /* specks */
    }
    vs_still_patch patch;
    CHECK_OK(vs_still_patch_at(&p, 100, 100, &patch));
    CHECK_TRUE(patch.side_px == 5 && patch.clipped == 0 && patch.dark == 0);
    double want = vs_curve_decode(&p.camera.curve, 100 / 255.0);
    CHECK_NEAR(patch.linear.v[1], want, 0.06, 0);
    CHECK_NEAR(patch.linear.v[1], want, 0, 4 * patch.linear_sd.v[1]);
    CHECK_STATUS(vs_still_patch_at(&p, 1, 100, &patch), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_still_patch_at(&p, 100, 199.5, &patch), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_still_patch_at(&p, NAN, 100, &patch), VS_ERR_DOMAIN);
    CHECK_OK(vs_still_expose(&p, 100, 100, 30, &patch));
    CHECK_NEAR(p.nits_per_linear * vs_bands_luminance(patch.linear), 30, 1e-12, 0);
    CHECK_STATUS(vs_still_expose(&p, 1, 100, 40, &patch), VS_ERR_DOMAIN);
    for (size_t i = 0; i < 3 * 200 * 200; i++) {
        photo.sample[i] = i % 3 == 0 ? 65535 : 257;
    }
    CHECK_OK(vs_still_patch_at(&p, 100, 100, &patch));
    CHECK_NEAR(patch.clipped, 1, 0, 0);
    CHECK_NEAR(patch.dark, 2 / 3.0, 1e-12, 0);
    double was = p.nits_per_linear;
    CHECK_STATUS(vs_still_expose(&p, 100, 100, 40, &patch), VS_ERR_INPUT);
    CHECK_NEAR(p.nits_per_linear, was, 0, 0);
    vs_picture_free(&photo);
    vs_scene_file_free(&s.file);
}

static void bad_sizes(void **state) {
    (void)state;
    small s = open_small();
    vs_still still;
    vs_camera outside = *s.camera;
    outside.at_m.z = 1e3;
    CHECK_STATUS(vs_still_open(&still, &s.file.scene, 0, s.camera, 8, 54, NULL, NULL),
                 VS_ERR_DOMAIN);
    CHECK_STATUS(vs_still_open(&still, &s.file.scene, 0, &outside, 96, 54, NULL, NULL),
                 VS_ERR_DOMAIN);
    CHECK_STATUS(vs_still_open(&still, &s.file.scene, 9, s.camera, 96, 54, NULL, NULL),
                 VS_ERR_DOMAIN);
    CHECK_OK(vs_still_open(&still, &s.file.scene, 0, s.camera, 96, 54, NULL, NULL));
    vs_picture photo = grey_photo(96, 54, 8, 257);
    vs_still_photo p = photo_of(&photo, s.camera);
    double clipped;
    CHECK_STATUS(vs_still_composite(&still, &p, NULL, 0, 0, NULL, &clipped),
                 VS_ERR_DOMAIN); /* no haze */
    CHECK_NAN(clipped);
    vs_picture_free(&photo);
    vs_still_close(&still);
    vs_still_close(&still);
    vs_scene_file_free(&s.file);
}

int main(void) {
    vs_numerics_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(against_full_integrals),
        cmocka_unit_test(no_haze_changes_nothing),
        cmocka_unit_test(a_map_of_depth),
        cmocka_unit_test(the_veil_before_a_map),
        cmocka_unit_test(patches),
        cmocka_unit_test(bad_sizes),
    };
    return RUN_TESTS(tests);
}
