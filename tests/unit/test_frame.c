/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pictures against every pixel's own full integrals, on locations drawn at random and on the demo;
 * against predict where a ray is a point's; and against themselves: the same question gives the
 * same bits. The bounds are those that were set for pictures: 99 % of pixels within 0.05 stop over
 * the camera's floor, none over 0.25 but where an edge crosses, the veil's mean within 0.5 %. */
#include "check.h"
#include "demo.h"
#include "runner.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "location.h"
#include "picture/view/ray_paths.h"
#include "veilstop/air/rooms.h"
#include "veilstop/base/numerics.h"
#include "veilstop/picture/frame.h"
#include "veilstop/shot/held.h"

#define WIDTH       160
#define HEIGHT      90
#define PIXELS      220 /* of each picture, drawn at random */
#define LOCATIONS   20
#define FIRST_SEED  77001 /* of locations not used to set any rule */
#define WITHIN      0.05  /* [stops] 99 % */
#define WORST       0.25  /* [stops] off edges */
#define MEAN        0.005 /* [1] of the veil */
#define COARSE_MEAN 0.03  /* [1] of a coarse picture and its veil */

typedef struct {
    size_t count, within;
    double worst, veil, want_veil;
} tally;

static double luminance(const vs_frame_plane *plane, size_t at) {
    vs_bands bands = {
        {(double)plane->band[0][at], (double)plane->band[1][at], (double)plane->band[2][at]}};
    return vs_bands_luminance(bands);
}

static void compare(vs_frame *frame, const vs_frame_layers *l, const vs_camera *camera,
                    random_stream *random, tally *t) {
    for (size_t i = 0; i < PIXELS; i++) {
        size_t x = random_index(random, l->width), y = random_index(random, l->height);
        size_t at = y * l->width + x;
        vs_frame_ray ray;
        if (vs_frame_on_edge(frame, x, y)) {
            continue;
        }
        CHECK_OK(vs_frame_render_ray(frame, (double)x + 0.5, (double)y + 0.5, &ray));
        double stops = fabs(vs_camera_stops_between(camera, luminance(&l->hazed, at),
                                                    vs_bands_luminance(ray.hazed)));
        CHECK_TRUE(stops >= 0); /* no NaN */
        t->count++;
        t->within += stops <= WITHIN;
        t->worst = fmax(t->worst, stops);
        t->veil += luminance(&l->veil, at);
        t->want_veil += vs_bands_luminance(ray.veil);
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            CHECK_NEAR((double)l->transmission.band[band][at], ray.transmission.v[band], 1e-5,
                       1e-7);
        }
        CHECK_TRUE(isinf(ray.depth_m)
                       ? isinf(l->depth_m[at])
                       : fabs((double)l->depth_m[at] - ray.depth_m) <= 1e-5 * ray.depth_m);
    }
}

/* One shot, whole. extinction_per_m: NaN: the shot's own */
static void look_at(const vs_scene *scene, size_t shot, double extinction_per_m, size_t width,
                    size_t height, random_stream *random, tally *t) {
    vs_predictor predictor;
    vs_frame frame;
    vs_frame_layers layers;
    double k[VS_ROOMS_MAX];
    CHECK_OK(vs_predictor_init(&predictor, scene));
    CHECK_OK(vs_held_rooms(scene, &scene->shot[shot], &predictor.haze, extinction_per_m, k));
    CHECK_OK(vs_frame_open(&frame, &predictor, shot, width, height, NULL));
    CHECK_OK(vs_frame_render(&frame, k, VS_FRAME_FINE, false, &layers));
    compare(&frame, &layers, &scene->camera[scene->shot[shot].camera], random, t);
    vs_frame_close(&frame);
    vs_predictor_free(&predictor);
}

static void say(const char *what, const tally *t) {
    print_message(
        "%s: %zu pixels, %.2f %% within %.2f stop, worst %.3f, veil's mean off by %+.3f %%\n", what,
        t->count, 100.0 * (double)t->within / (double)t->count, WITHIN, t->worst,
        100 * (t->veil / t->want_veil - 1));
}

static void against_every_pixel(void **state) {
    (void)state;
    random_stream random = {FIRST_SEED};
    tally all = {0};
    for (uint64_t i = 0; i < LOCATIONS; i++) {
        vs_scene_file file;
        tally t = {0};
        char name[64];
        location_read(FIRST_SEED + i, 1 + i % 2, &file);
        look_at(&file.scene, 0, NAN, WIDTH, HEIGHT, &random, &t);
        snprintf(name, sizeof name, "location %llu", (unsigned long long)(FIRST_SEED + i));
        say(name, &t);
        CHECK_TRUE(t.worst <= WORST);
        all.count += t.count;
        all.within += t.within;
        all.veil += t.veil / t.want_veil;
        all.want_veil += 1;
        vs_scene_file_free(&file);
    }
    CHECK_TRUE((double)all.within >= 0.99 * (double)all.count);
    CHECK_NEAR(all.veil, all.want_veil, MEAN, 0);
}

static void demo(const char *name, size_t shot, double extinction_per_m) {
    vs_scene_file file;
    random_stream random = {4711};
    tally t = {0};
    demo_scene(name, &file);
    look_at(&file.scene, shot, extinction_per_m, 2 * WIDTH, 2 * HEIGHT, &random, &t);
    say(name, &t);
    CHECK_TRUE(t.worst <= WORST);
    CHECK_TRUE((double)t.within >= 0.99 * (double)t.count);
    CHECK_NEAR(t.veil, t.want_veil, MEAN, 0);
    vs_scene_file_free(&file);
}

static void the_demo(void **state) {
    (void)state;
    demo("../data/demo/cellar.json", 0, 0.03);
    demo("../data/demo/cellar.json", 1, 0.05);
    demo("../data/demo/loft.json", 1, 0.02);
    demo("../data/demo/yard.json", 0, 0.02);
}

static void points_as_predicted(void **state) {
    (void)state;
    vs_scene_file file;
    vs_predictor predictor;
    vs_shot_prediction want;
    vs_frame frame;
    vs_frame_layers layers;
    double k[VS_ROOMS_MAX];
    size_t seen = 0;
    demo_scene("../data/demo/cellar.json", &file);
    CHECK_OK(vs_predictor_init(&predictor, &file.scene));
    CHECK_OK(vs_held_rooms(&file.scene, &file.scene.shot[0], &predictor.haze, NAN, k));
    CHECK_OK(vs_predict_shot(&predictor, 0, k, &want));
    CHECK_OK(vs_frame_open(&frame, &predictor, 0, 640, 360, NULL));
    CHECK_OK(vs_frame_render(&frame, k, VS_FRAME_FINE, false, &layers));
    for (size_t i = 0; i < want.shot->point_count; i++) {
        double x, y;
        vs_frame_ray ray;
        if (!vs_frame_pixel_of(&frame, want.shot->point[i].at_m, &x, &y)) {
            continue;
        }
        CHECK_OK(vs_frame_render_ray(&frame, x, y, &ray));
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            CHECK_NEAR(ray.veil.v[band], want.point[i].veil_nits.v[band], 1e-6, 0);
            CHECK_NEAR(ray.transmission.v[band], want.point[i].transmission.v[band], 1e-6, 0);
            CHECK_NEAR(ray.hazed.v[band], want.point[i].hazed_nits.v[band], 1e-6, 0);
        }
        seen++;
    }
    CHECK_TRUE(seen == 3);
    vs_frame_close(&frame);
    vs_shot_prediction_free(&want);
    vs_predictor_free(&predictor);
    vs_scene_file_free(&file);
}

static void same_plane(const vs_frame_plane *a, const vs_frame_plane *b, size_t pixels) {
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        CHECK_TRUE(memcmp(a->band[band], b->band[band], pixels * sizeof(float)) == 0);
    }
}

static void same_bits(void **state) {
    (void)state;
    vs_scene_file file;
    vs_predictor one, other;
    vs_frame used, fresh;
    vs_frame_layers a, b;
    size_t jobs = 0;
    const vs_runner backwards = backwards_runner(&jobs);
    double thin[VS_ROOMS_MAX], thick[VS_ROOMS_MAX];
    for (size_t r = 0; r < VS_ROOMS_MAX; r++) {
        thin[r] = 0.01;
        thick[r] = 0.06;
    }
    demo_scene("../data/demo/yard.json", &file);
    CHECK_OK(vs_predictor_init(&one, &file.scene));
    CHECK_OK(vs_predictor_init(&other, &file.scene));
    CHECK_OK(vs_frame_open(&used, &one, 0, WIDTH, HEIGHT, NULL));
    CHECK_OK(vs_frame_render(&used, thin, VS_FRAME_FINE, true, &a));
    CHECK_OK(vs_frame_render(&used, thin, VS_FRAME_COARSE, false, &a));
    CHECK_OK(vs_frame_render(&used, thick, VS_FRAME_FINE, false, &a));
    CHECK_OK(vs_frame_open(&fresh, &other, 0, WIDTH, HEIGHT, &backwards));
    CHECK_OK(vs_frame_render(&fresh, thick, VS_FRAME_FINE, true, &b));
    CHECK_TRUE(jobs > 3);
    same_plane(&a.hazed, &b.hazed, WIDTH * HEIGHT);
    same_plane(&a.veil, &b.veil, WIDTH * HEIGHT);
    same_plane(&a.transmission, &b.transmission, WIDTH * HEIGHT);
    vs_frame_close(&used);
    vs_frame_close(&fresh);
    vs_predictor_free(&one);
    vs_predictor_free(&other);
    vs_scene_file_free(&file);
}

static double mean_of(const vs_frame_plane *plane) {
    double sum = 0;
    for (size_t i = 0; i < WIDTH * HEIGHT; i++) {
        sum += luminance(plane, i);
    }
    return sum / (WIDTH * HEIGHT);
}

/* A coarse picture is the fine one on the whole, at every density of a range: its bounced light is that
 * of a density nearby. */
static void coarse_on_the_whole(void **state) {
    (void)state;
    static const double density[] = {0.006, 0.02, 0.035, 0.06, 0.1};
    vs_scene_file file;
    vs_predictor predictor;
    vs_frame frame;
    vs_frame_layers l;
    demo_scene("../data/demo/washroom.json", &file);
    CHECK_OK(vs_predictor_init(&predictor, &file.scene));
    CHECK_OK(vs_frame_open(&frame, &predictor, 0, WIDTH, HEIGHT, NULL));
    for (size_t i = 0; i < sizeof density / sizeof *density; i++) {
        double k[VS_ROOMS_MAX];
        for (size_t r = 0; r < VS_ROOMS_MAX; r++) {
            k[r] = density[i];
        }
        CHECK_OK(vs_frame_render(&frame, k, VS_FRAME_FINE, false, &l));
        double hazed = mean_of(&l.hazed), veil = mean_of(&l.veil);
        CHECK_OK(vs_frame_render(&frame, k, VS_FRAME_COARSE, false, &l));
        CHECK_NEAR(mean_of(&l.hazed), hazed, COARSE_MEAN, 0);
        CHECK_NEAR(mean_of(&l.veil), veil, COARSE_MEAN, 0);
    }
    vs_frame_close(&frame);
    vs_predictor_free(&predictor);
    vs_scene_file_free(&file);
}

/* hazed = surface x transmission + veil, and the veil is the sum of its lights and bounced light,
 * pixel by pixel; without haze there is none. */
static void layers_add_up(void **state) {
    (void)state;
    vs_scene_file file;
    vs_predictor predictor;
    vs_frame frame;
    vs_frame_layers l;
    double k[VS_ROOMS_MAX] = {0};
    location_read(FIRST_SEED + 500, 2, &file);
    CHECK_OK(vs_predictor_init(&predictor, &file.scene));
    CHECK_OK(vs_frame_open(&frame, &predictor, 0, WIDTH, HEIGHT, NULL));
    CHECK_OK(vs_frame_render(&frame, k, VS_FRAME_FINE, false, &l));
    for (size_t i = 0; i < WIDTH * HEIGHT; i++) {
        CHECK_TRUE(l.veil.band[1][i] == 0 && l.hazed.band[1][i] >= 0);
        CHECK_TRUE(l.transmission.band[0][i] <= 1 && l.transmission.band[0][i] > 0);
    }
    CHECK_OK(vs_held_rooms(&file.scene, &file.scene.shot[0], &predictor.haze, NAN, k));
    CHECK_OK(vs_frame_render(&frame, k, VS_FRAME_FINE, true, &l));
    for (size_t i = 0; i < WIDTH * HEIGHT; i += 7) {
        double sum = (double)l.indirect.band[1][i];
        for (size_t e = 0; e < file.scene.light_count; e++) {
            const float *plane = l.veil_by_light[e].band[1];
            sum += plane ? (double)plane[i] : 0;
        }
        CHECK_NEAR((double)l.veil.band[1][i], sum, 1e-5, 1e-9);
    }
    vs_frame_close(&frame);
    vs_predictor_free(&predictor);
    vs_scene_file_free(&file);
}

static void hostile_sizes(void **state) {
    (void)state;
    vs_scene_file file;
    vs_predictor predictor;
    vs_frame frame;
    vs_frame_layers l;
    double k[VS_ROOMS_MAX] = {0};
    location_read(FIRST_SEED, 1, &file);
    CHECK_OK(vs_predictor_init(&predictor, &file.scene));
    CHECK_STATUS(vs_frame_open(&frame, &predictor, 0, 0, 90, NULL), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_frame_open(&frame, &predictor, 0, 160, VS_FRAME_SIDE_MAX + 1, NULL),
                 VS_ERR_DOMAIN);
    CHECK_STATUS(vs_frame_open(&frame, &predictor, 0, VS_FRAME_SIDE_MAX, VS_FRAME_SIDE_MAX, NULL),
                 VS_ERR_DOMAIN);
    CHECK_STATUS(vs_frame_open(&frame, &predictor, 99, 160, 90, NULL), VS_ERR_DOMAIN);
    vs_frame_close(&frame); /* harmless */
    CHECK_OK(vs_frame_open(&frame, &predictor, 0, VS_FRAME_SIDE_MIN, VS_FRAME_SIDE_MIN, NULL));
    k[0] = NAN;
    CHECK_STATUS(vs_frame_render(&frame, k, VS_FRAME_FINE, false, &l), VS_ERR_DOMAIN);
    CHECK_TRUE(l.hazed.band[0] == NULL);
    k[0] = 0.02;
    CHECK_OK(vs_frame_render(&frame, k, VS_FRAME_FINE, false, &l));
    vs_frame_close(&frame);
    vs_predictor_free(&predictor);
    vs_scene_file_free(&file);
}

/* Pictures of one lamp a step farther on each time, and which of their pixels an edge crosses or the
 * lamp's own beam lights. */
#define STEPS   5
#define STEP_M  0.03 /* [m] the hand lamp's way from frame to frame: 0.7 m/s at 24 a second */
#define OF_BEAM 0.02 /* [1] of a pixel's light: more is in the beam */
#define FLICKER 0.02 /* [stops] a step off the mean of those before and after it; 99.9 % */
#define JUMP    0.05 /* [stops] all */
typedef struct {
    double nits[WIDTH * HEIGHT];
    bool out[WIDTH * HEIGHT];
} step_of_way;

static void look_on_way(const vs_scene *scene, size_t light, step_of_way *s) {
    vs_predictor predictor;
    vs_frame frame;
    vs_frame_layers l;
    double k[VS_ROOMS_MAX];
    CHECK_OK(vs_predictor_init(&predictor, scene));
    CHECK_OK(vs_held_rooms(scene, &scene->shot[1], &predictor.haze, NAN, k));
    CHECK_OK(vs_frame_open(&frame, &predictor, 1, WIDTH, HEIGHT, NULL));
    CHECK_OK(vs_frame_render(&frame, k, VS_FRAME_FINE, true, &l));
    for (size_t i = 0; i < WIDTH * HEIGHT; i++) {
        s->nits[i] = luminance(&l.hazed, i);
        s->out[i] = luminance(&l.veil_by_light[light], i) > OF_BEAM * s->nits[i] ||
                    vs_frame_on_edge(&frame, i % WIDTH, i / WIDTH);
    }
    vs_frame_close(&frame);
    vs_predictor_free(&predictor);
}

/* Far from the beam of a lamp that moves, light changes smoothly from picture to picture. */
static void moving_lamps_do_not_flicker(void **state) {
    (void)state;
    static step_of_way step[STEPS];
    vs_scene_file file;
    size_t moved = 0, count = 0, within = 0;
    double worst = 0;
    demo_scene("../data/demo/cellar.json", &file);
    vs_scene scene = file.scene;
    vs_light *light = malloc(scene.light_count * sizeof *light);
    CHECK_TRUE(light != NULL);
    memcpy(light, scene.light, scene.light_count * sizeof *light);
    scene.light = light;
    while (moved < scene.light_count && strcmp(light[moved].name, "hand lamp") != 0) {
        moved++;
    }
    CHECK_TRUE(moved < scene.light_count);
    for (int i = 0; i < STEPS; i++) {
        look_on_way(&scene, moved, &step[i]);
        light[moved].at_m.x += STEP_M;
        light[moved].aim_m.x += STEP_M;
    }
    const vs_camera *camera = &scene.camera[scene.shot[1].camera];
    for (int i = 1; i + 1 < STEPS; i++) {
        for (size_t at = 0; at < WIDTH * HEIGHT; at++) {
            double mean = (step[i - 1].nits[at] + step[i + 1].nits[at]) / 2;
            double off = fabs(vs_camera_stops_between(camera, step[i].nits[at], mean));
            if (!step[i - 1].out[at] && !step[i].out[at] && !step[i + 1].out[at]) {
                CHECK_TRUE(off <= JUMP);
                count++;
                within += off <= FLICKER;
                worst = fmax(worst, off);
            }
        }
    }
    print_message("a lamp on its way: %zu pixels far from its beam, %.2f %% within %.3f stop of "
                  "their neighbours' mean, worst %.3f\n",
                  count, 100.0 * (double)within / (double)count, FLICKER, worst);
    CHECK_TRUE(count > WIDTH * HEIGHT);
    CHECK_TRUE((double)within >= 0.999 * (double)count);
    free(light);
    vs_scene_file_free(&file);
}

/* The loft's second south window, seen from where the sun shines through it. The sun's disc has a
 * radius of 959.63 seconds of arc (Auwers 1891), and an even disc gives luminance x solid angle. */
#define SUN_LUX  70000.0 /* [lx] of the loft's sun */
#define PANE     0.7     /* [1] of its windows */
#define SUN_RAD  (959.63 / 3600 * VS_PI / 180)
#define TELE_MM  400.0
#define WALLWARD 4.0 /* [m] from the window */
static void the_sun_in_a_window(void **state) {
    (void)state;
    vs_scene_file file;
    vs_predictor predictor;
    vs_frame frame;
    vs_frame_layers l;
    double clear[VS_ROOMS_MAX] = {0}, azimuth = 160 * VS_PI / 180, height = 40 * VS_PI / 180;
    double area = 0; /* [pixels] */
    demo_scene("../data/demo/loft.json", &file);
    vs_scene scene = file.scene;
    vs_camera camera = scene.camera[scene.shot[0].camera];
    vs_vec3 to_sun = {sin(azimuth) * cos(height), cos(azimuth) * cos(height), sin(height)};
    const vs_vec3 window_m = {8.6, 0, 4.25};
    camera.at_m = vs_vec3_along(window_m, to_sun, -WALLWARD);
    camera.aim_m = window_m;
    camera.focal_m = TELE_MM / 1000;
    scene.camera = &camera;
    CHECK_OK(vs_predictor_init(&predictor, &scene));
    CHECK_OK(vs_frame_open(&frame, &predictor, 0, WIDTH, HEIGHT, NULL));
    CHECK_OK(vs_frame_render(&frame, clear, VS_FRAME_FINE, false, &l));
    size_t middle = HEIGHT / 2 * WIDTH + WIDTH / 2;
    double disc_sr = VS_PI * sin(SUN_RAD) * sin(SUN_RAD), want = PANE * SUN_LUX / disc_sr;
    CHECK_NEAR(luminance(&l.hazed, middle), want, 1e-3, 0);
    CHECK_TRUE(isinf(l.depth_m[middle]));
    for (size_t i = 0; i < WIDTH * HEIGHT; i++) {
        bool edge = vs_frame_on_edge(&frame, i % WIDTH, i / WIDTH); /* of it alone, both sides */
        area += edge ? 0.5 : luminance(&l.hazed, i) > want / 2 ? 1 : 0;
    }
    double pixel = camera.sensor_width_m / WIDTH / camera.focal_m;
    CHECK_NEAR(area * pixel * pixel, disc_sr, 0.05, 0);
    vs_frame_close(&frame);
    vs_predictor_free(&predictor);
    vs_scene_file_free(&file);
}

/* A line along a floor never meets it, whichever side it is on. */
static void a_horizon_is_far_away(void **state) {
    (void)state;
    const vs_vec3 eye_m = {0, 0, 1.5}, ahead = {1, 0, 0}, down = {1, 0, -0.5};
    const vs_ray_path_plane floor = {.normal = {0, 0, 1}, .offset_m = 0};
    const vs_ray_path_plane ceiling = {.normal = {0, 0, 1}, .offset_m = 4};
    CHECK_TRUE(vs_ray_path_at(&floor, eye_m, ahead) == (double)INFINITY);
    CHECK_TRUE(vs_ray_path_at(&ceiling, eye_m, ahead) == (double)INFINITY);
    CHECK_NEAR(vs_ray_path_at(&floor, eye_m, down), 3, 0, 1e-12);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(against_every_pixel), cmocka_unit_test(the_demo),
        cmocka_unit_test(points_as_predicted), cmocka_unit_test(same_bits),
        cmocka_unit_test(coarse_on_the_whole), cmocka_unit_test(layers_add_up),
        cmocka_unit_test(hostile_sizes),       cmocka_unit_test(moving_lamps_do_not_flicker),
        cmocka_unit_test(the_sun_in_a_window), cmocka_unit_test(a_horizon_is_far_away),
    };
    return RUN_TESTS(tests);
}
