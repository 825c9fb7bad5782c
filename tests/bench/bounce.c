/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What bounced light costs in the demo's cellar: opening it with a first shot, a new density, a
 * camera ray and a place on a wall - the first time, and again at another density where what they
 * see is kept - compared with the once-scattered light of the same rays. */
#include "check.h"
#include "demo.h"

#include <math.h>
#include <stdio.h>

#include "shot/sight/camera_setup.h"
#include "veilstop/light/airlight_fast.h"
#include "veilstop/scene/scene_file.h"
#include "veilstop/shot/predict.h"

#define BEST_OF 5
#define ACROSS  20
#define DOWN    12
#define RAYS    (ACROSS * DOWN) /* and as many places */
#define LAMPS   64

typedef struct {
    const vs_bounce *bounce;
    vs_camera_setup *setup;
    vs_bounce_view along[RAYS], on[RAYS];
    vs_bands once[LAMPS], more[LAMPS];
} subject;

static vs_camera_ray ray_of(const subject *s, int n) {
    vs_vec3 way = {1, (n % ACROSS - ACROSS / 2 + 0.5) * 0.05, (n / ACROSS - DOWN / 2 + 0.5) * 0.04};
    return vs_camera_ray_along(&s->setup->hazed, s->setup->camera->at_m, vs_vec3_unit(way),
                               INFINITY);
}

static vs_vec3 place_of(int n) {
    const vs_vec3 at = {9, 1 + 0.003 * n, 1.5};
    return at;
}

static const vs_vec3 west = {-1, 0, 0};

static void ask_once_scattered(subject *s, int n) {
    vs_predictor *p = s->setup->predictor;
    vs_camera_ray ray = ray_of(s, n);
    for (size_t i = 0; i < p->scene->light_count; i++) {
        CHECK_OK(
            vs_airlight_fast(&p->work, &s->setup->hazed, &ray, &p->hazed_light[i], &s->more[i]));
    }
}

static void ask_ray(subject *s, int n) {
    vs_camera_ray ray = ray_of(s, n);
    CHECK_OK(vs_bounce_veil(s->bounce, &s->setup->hazed, &ray, s->once, s->more));
}

static void ask_ray_again(subject *s, int n) {
    CHECK_OK(vs_bounce_view_veil(s->bounce, &s->setup->hazed, &s->along[n], s->once, s->more));
}

static void ask_place(subject *s, int n) {
    CHECK_OK(vs_bounce_lux(s->bounce, &s->setup->hazed, place_of(n), west, NULL, s->more));
}

static void ask_place_again(subject *s, int n) {
    CHECK_OK(vs_bounce_view_lux(s->bounce, &s->setup->hazed, &s->on[n], NULL, s->more));
}

static double best_s(double before_s, subject *s, void (*ask)(subject *, int)) {
    double began = clock_now_s();
    for (int n = 0; n < RAYS; n++) {
        ask(s, n);
    }
    return fmin(before_s, (clock_now_s() - began) / RAYS);
}

/* Views of all rays and places, each used once. Returns bytes per ray and place. */
static void keep_views(subject *s, size_t *ray_bytes, size_t *place_bytes) {
    vs_predictor *p = s->setup->predictor;
    *ray_bytes = *place_bytes = 0;
    for (int n = 0; n < RAYS; n++) {
        vs_camera_ray ray = ray_of(s, n);
        CHECK_OK(vs_bounce_view_ray(&s->along[n], &p->bounces[p->in_hand], &ray));
        CHECK_OK(vs_bounce_view_place(&s->on[n], &p->bounces[p->in_hand], place_of(n), west));
        ask_ray_again(s, n);
        ask_place_again(s, n);
        *ray_bytes += vs_bounce_view_bytes(&s->along[n]);
        *place_bytes += vs_bounce_view_bytes(&s->on[n]);
    }
    *ray_bytes /= RAYS;
    *place_bytes /= RAYS;
}

static void free_views(subject *s) {
    for (int n = 0; n < RAYS; n++) {
        vs_bounce_view_free(&s->along[n]);
        vs_bounce_view_free(&s->on[n]);
    }
}

int main(void) {
    static subject s;
    vs_scene_file file;
    double open = INFINITY, density = INFINITY, once = INFINITY, ray = INFINITY, place = INFINITY;
    double ray_again = INFINITY, place_again = INFINITY;
    size_t ray_bytes = 0, place_bytes = 0;
    tests_begin();
    demo_scene("../data/demo/cellar.json", &file);
    for (int n = 0; n < BEST_OF; n++) {
        vs_predictor p;
        vs_shot_prediction shot;
        vs_bounce next;
        double k[] = {0.03, 0.03, 0.03, 0.03, 0.03, 0.03, 0.03, 0.03}, began = clock_now_s();
        CHECK_TRUE(file.scene.room_count <= sizeof k / sizeof *k);
        CHECK_OK(vs_predictor_init(&p, &file.scene));
        CHECK_OK(vs_predict_shot(&p, 0, k, &shot));
        open = fmin(open, clock_now_s() - began);
        for (size_t r = 0; r < file.scene.room_count; r++) {
            k[r] = 0.031;
        }
        vs_camera_setup setup = vs_camera_setup_make(&p, &file.scene.shot[0], k);
        began = clock_now_s();
        CHECK_OK(vs_bounce_solve(&p.bounces[p.in_hand], &setup.hazed, p.hazed_light, &next));
        density = fmin(density, clock_now_s() - began);
        s.bounce = &next;
        s.setup = &setup;
        once = best_s(once, &s, ask_once_scattered);
        ray = best_s(ray, &s, ask_ray);
        place = best_s(place, &s, ask_place);
        keep_views(&s, &ray_bytes, &place_bytes);
        ray_again = best_s(ray_again, &s, ask_ray_again);
        place_again = best_s(place_again, &s, ask_place_again);
        free_views(&s);
        vs_shot_prediction_free(&shot);
        vs_bounce_free(&next);
        vs_predictor_free(&p);
    }
    printf("bounced light in the cellar, eight lights, one core: open and predict %.0f ms; a new "
           "density %.0f ms, %.2f of that\n",
           1e3 * open, 1e3 * density, density / open);
    printf(
        "  a camera ray %.0f us, %.2f times its once-scattered light (%.0f us); again at another "
        "density %.1f us, %.3f of that, %.0f kB kept\n",
        1e6 * ray, ray / once, 1e6 * once, 1e6 * ray_again, ray_again / ray,
        1e-3 * (double)ray_bytes);
    printf("  a place %.0f us; again %.1f us, %.3f of that, %.0f kB kept\n", 1e6 * place,
           1e6 * place_again, place_again / place, 1e-3 * (double)place_bytes);
    vs_scene_file_free(&file);
    return 0;
}
