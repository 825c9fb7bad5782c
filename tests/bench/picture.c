/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a picture of the demo's cellar costs on two threads: from scratch, at one more density,
 * coarse; compared with every pixel's own integrals; by pixels, lights and densities; memory. PNG
 * separately. */
#include "check.h"
#include "demo.h"

#include <math.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <time.h>

#include "veilstop/air/rooms.h"
#include "veilstop/picture/develop.h"
#include "veilstop/picture/frame.h"
#include "veilstop/scene/scene_file.h"
#include "veilstop/shot/held.h"

#define THREADS 2
#define BEST_OF 3
#define RAYS    400 /* of brute force, timed */

typedef struct {
    size_t count;
    void (*job)(void *context, size_t worker, size_t i);
    void *context;
    atomic_size_t next;
    atomic_size_t worker;
} queue;

static void *work(void *argument) {
    queue *q = argument;
    size_t worker = atomic_fetch_add(&q->worker, 1);
    for (size_t i; (i = atomic_fetch_add(&q->next, 1)) < q->count;) {
        q->job(q->context, worker, i);
    }
    return NULL;
}

static size_t workers(void *context, size_t count) {
    (void)context;
    (void)count;
    return THREADS;
}

static void each(void *self, size_t count, void (*job)(void *context, size_t worker, size_t i),
                 void *context) {
    pthread_t other;
    queue q = {.count = count, .job = job, .context = context};
    (void)self;
    CHECK_TRUE(pthread_create(&other, NULL, work, &q) == 0);
    work(&q);
    pthread_join(other, NULL);
}

static double cpu_s(void) {
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* Seconds of the clock and of the processors; on a busy machine the second counts, divided by
 * two. */
typedef struct {
    double wall_s, cpu_s;
} cost;

static cost since(cost began) {
    cost spent = {clock_now_s() - began.wall_s, cpu_s() - began.cpu_s};
    return spent;
}

static cost now(void) {
    cost c = {clock_now_s(), cpu_s()};
    return c;
}

static cost least(cost a, cost b) {
    cost c = {fmin(a.wall_s, b.wall_s), fmin(a.cpu_s, b.cpu_s)};
    return c;
}

typedef struct {
    cost open, first, next, range, coarse, coarse_next, develop;
    double ray_s; /* of brute force */
} costs;

static void times(const vs_scene *scene, double *k, double factor) {
    for (size_t r = 0; r < scene->room_count; r++) {
        k[r] *= factor;
    }
}

/* Looks, and keeps the least cost. */
static void time_look(vs_frame *f, const double *k, vs_frame_detail detail, vs_frame_layers *l,
                      cost *least_cost) {
    cost began = now();
    CHECK_OK(vs_frame_render(f, k, detail, false, l));
    *least_cost = least(*least_cost, since(began));
}

/* The coarse picture of a frame that was not looked through yet, and at one more density. */
static void measure_coarse(const vs_scene *scene, size_t shot, size_t width, size_t height,
                           const vs_runner *runner, costs *c) {
    double k[VS_ROOMS_MAX];
    vs_predictor p;
    vs_frame f;
    vs_frame_layers l;
    CHECK_OK(vs_predictor_init(&p, scene));
    CHECK_OK(vs_held_rooms(scene, &scene->shot[shot], &p.haze, NAN, k));
    CHECK_OK(vs_frame_open(&f, &p, shot, width, height, runner));
    time_look(&f, k, VS_FRAME_COARSE, &l, &c->coarse);
    times(scene, k, 1.1);
    time_look(&f, k, VS_FRAME_COARSE, &l, &c->coarse_next);
    vs_frame_close(&f);
    vs_predictor_free(&p);
}

static costs measure(const vs_scene *scene, size_t shot, size_t width, size_t height) {
    const vs_runner runner = {NULL, workers, each};
    const cost long_ago = {INFINITY, INFINITY};
    costs c = {long_ago, long_ago, long_ago, long_ago, long_ago, long_ago, long_ago, NAN};
    for (int n = 0; n < BEST_OF; n++) {
        double k[VS_ROOMS_MAX];
        vs_predictor p;
        vs_frame f;
        vs_frame_layers l;
        vs_picture picture;
        CHECK_OK(vs_predictor_init(&p, scene));
        CHECK_OK(vs_held_rooms(scene, &scene->shot[shot], &p.haze, NAN, k));
        cost began = now();
        CHECK_OK(vs_frame_open(&f, &p, shot, width, height, &runner));
        c.open = least(c.open, since(began));
        CHECK_OK(vs_frame_render(&f, k, VS_FRAME_FINE, false, &l));
        c.first = least(c.first, since(began));
        times(scene, k, 1.1);
        time_look(&f, k, VS_FRAME_FINE, &l, &c.next);
        CHECK_OK(vs_picture_init(&picture, width, height, 8));
        began = now();
        CHECK_OK(vs_develop(&scene->camera[scene->shot[shot].camera], VS_DEVELOP_DISPLAY, &l.hazed,
                            width, height, &picture, 0, 0));
        c.develop = least(c.develop, since(began));
        began = now();
        for (int i = 0; i < RAYS && n == 0; i++) {
            vs_frame_ray ray;
            double at = (i + 0.5) / RAYS;
            CHECK_OK(vs_frame_render_ray(&f, (double)width * fmod(at * 37, 1), (double)height * at,
                                         &ray));
        }
        c.ray_s = n == 0 ? since(began).cpu_s / RAYS : c.ray_s;
        times(scene, k, 3);
        time_look(&f, k, VS_FRAME_FINE, &l, &c.range);
        vs_picture_free(&picture);
        vs_frame_close(&f);
        vs_predictor_free(&p);
        measure_coarse(scene, shot, width, height, &runner, &c);
    }
    return c;
}

static void say(const char *what, size_t width, size_t height, const costs *c) {
    double brute_s = c->ray_s * (double)width * (double)height;
    const cost *list[] = {&c->open, &c->first, &c->next, &c->range, &c->coarse, &c->coarse_next};
    printf("%-34s %4zu x %-4zu", what, width, height);
    for (size_t i = 0; i < sizeof list / sizeof *list; i++) {
        printf(" %6.0f %6.0f |", 1e3 * list[i]->wall_s, 1e3 * list[i]->cpu_s);
    }
    printf(" %4.0f | %6.0f\n", 1e3 * c->develop.cpu_s, brute_s / c->next.cpu_s);
}

/* The shot with the first of its lights alone, and with more. */
static void by_lights(vs_scene *scene, size_t shot) {
    vs_scene_shot *copy = malloc(scene->shot_count * sizeof *copy);
    CHECK_TRUE(copy != NULL);
    const vs_scene_shot *whole = scene->shot;
    for (size_t i = 0; i < scene->shot_count; i++) {
        copy[i] = whole[i];
    }
    scene->shot = copy;
    for (size_t count = 1; count <= whole[shot].light_count; count += count < 2 ? 1 : 2) {
        char what[64];
        copy[shot].light_count = count;
        costs c = measure(scene, shot, 640, 360);
        snprintf(what, sizeof what, "  the first %zu lights of it", count);
        say(what, 640, 360, &c);
    }
    scene->shot = whole;
    free(copy);
}

int main(void) {
    static const size_t side[][2] = {{320, 180}, {640, 360}, {1280, 720}, {1920, 1080}};
    vs_scene_file file;
    struct rusage usage;
    tests_begin();
    demo_scene("../data/demo/cellar.json", &file);
    printf("pictures, ms on the clock and of processors, %d threads, best of %d; next: one more "
           "density of the range, range: of another; brute force: every pixel its own integrals\n"
           "%-34s %-11s %13s | %13s | %13s | %13s | %13s | %13s | %4s | %6s\n",
           THREADS, BEST_OF, "", "", "open", "first", "next density", "next range", "coarse",
           "coarse, next", "dev.", "brute/");
    for (size_t i = 0; i < sizeof side / sizeof *side; i++) {
        costs c = measure(&file.scene, 0, side[i][0], side[i][1]);
        say("cellar, 1 wide: 8 lights, bounce", side[i][0], side[i][1], &c);
    }
    by_lights(&file.scene, 0);
    getrusage(RUSAGE_SELF, &usage);
    printf("  memory at most %.0f MB\n", (double)usage.ru_maxrss / 1024);
    vs_scene_file_free(&file);
    return 0;
}
