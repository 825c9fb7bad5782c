/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whole pictures against every pixel's own full integrals, on locations drawn at random and on the
 * demo; then pixels of them against random walks of every order. Writes a section of
 * docs/accuracy.md to standard output; ends with status 1 where a bound is broken. VS_WALKS: walks
 * a pixel, 20000 where not set; VS_PICTURES: how many random locations, 20. */
#include "check.h"
#include "demo.h"
#include "location.h"
#include "walked.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "picture/view/kept.h"
#include "veilstop/air/rooms.h"
#include "veilstop/base/random.h"
#include "veilstop/scene/scene_file.h"
#include "veilstop/shot/held.h"

#define WIDTH      160
#define HEIGHT     90
#define FIRST_SEED 78101 /* of locations that no rule was set on */
#define WITHIN     0.05  /* [stops] 99 % of pixels */
#define WORST      0.25  /* [stops] off edges */
#define MEAN       0.005 /* [1] of the veil */
#define UNSEEN     0.05  /* [1] of the floor: added to a veil's mean */
#define SCENES     30
#define WALKED     200 /* pixels, in all */

/* Bounds of pixels against walks: those of `walks`. */
#define BOUND_THIN  0.05
#define BOUND_THICK 0.10
#define SIGMAS      3

static int broken;

typedef struct {
    vs_scene_file file;
    size_t shot;
    double extinction_per_m; /* NaN: the shot's own */
    char name[64];
} subject;

static double luminance(const vs_frame_plane *plane, size_t at) {
    vs_bands bands = {
        {(double)plane->band[0][at], (double)plane->band[1][at], (double)plane->band[2][at]}};
    return vs_bands_luminance(bands);
}

static void open_subject(const subject *s, vs_predictor *predictor, vs_frame *frame,
                         vs_frame_layers *layers, double *k) {
    const vs_scene *scene = &s->file.scene;
    CHECK_OK(vs_predictor_init(predictor, scene));
    CHECK_OK(vs_held_rooms(scene, &scene->shot[s->shot], &predictor->haze, s->extinction_per_m, k));
    CHECK_OK(vs_frame_open(frame, predictor, s->shot, WIDTH, HEIGHT, NULL));
    CHECK_OK(vs_frame_render(frame, k, VS_FRAME_FINE, false, layers));
}

static void close_subject(vs_predictor *predictor, vs_frame *frame) {
    vs_frame_close(frame);
    vs_predictor_free(predictor);
}

/* ---- every pixel ---- */

typedef struct {
    size_t count, within, edges, edges_over;
    double worst, worst_edge, veil, want_veil, worst_veil;
    size_t worst_x, worst_y;
} tally;

static void count_pixel(vs_frame *frame, const vs_frame_layers *l, const vs_camera *camera,
                        size_t x, size_t y, tally *t) {
    size_t at = y * l->width + x;
    vs_frame_ray ray;
    CHECK_OK(vs_frame_render_ray(frame, (double)x + 0.5, (double)y + 0.5, &ray));
    double stops = fabs(
        vs_camera_stops_between(camera, luminance(&l->hazed, at), vs_bands_luminance(ray.hazed)));
    double veil = fabs(
        vs_camera_stops_between(camera, luminance(&l->veil, at), vs_bands_luminance(ray.veil)));
    CHECK_TRUE(stops >= 0 && veil >= 0); /* no NaN */
    t->veil += luminance(&l->veil, at);
    t->want_veil += vs_bands_luminance(ray.veil);
    if (vs_frame_on_edge(frame, x, y)) { /* a mean of several rays, and asked as one */
        t->edges++;
        return;
    }
    t->count++;
    t->within += stops <= WITHIN;
    t->worst_veil = fmax(t->worst_veil, veil);
    if (stops > t->worst) {
        t->worst = stops;
        t->worst_x = x;
        t->worst_y = y;
    }
}

static void add_up(tally *all, const tally *t) {
    all->count += t->count;
    all->within += t->within;
    all->edges += t->edges;
    all->worst = fmax(all->worst, t->worst);
    all->worst_veil = fmax(all->worst_veil, t->worst_veil);
    all->veil += t->veil / t->want_veil;
    all->want_veil += 1;
}

static void print_row(const char *name, const tally *t) {
    printf("| %s | %zu | %zu | %.2f %% | %.3f | %.3f | %+.2f %% |\n", name, t->count, t->edges,
           100.0 * (double)t->within / (double)t->count, t->worst, t->worst_veil,
           100 * (t->veil / t->want_veil - 1));
    fflush(stdout);
}

static void every_pixel(const subject *s, tally *all) {
    vs_predictor predictor;
    vs_frame frame;
    vs_frame_layers l;
    double k[VS_ROOMS_MAX];
    tally t = {0};
    const vs_camera *camera = &s->file.scene.camera[s->file.scene.shot[s->shot].camera];
    open_subject(s, &predictor, &frame, &l, k);
    for (size_t y = 0; y < HEIGHT; y++) {
        for (size_t x = 0; x < WIDTH; x++) {
            count_pixel(&frame, &l, camera, x, y, &t);
        }
    }
    print_row(s->name, &t);
    fprintf(stderr, "%s: %.2f %% within, worst %.3f stop at %zu, %zu, veil off by %+.2f %%\n",
            s->name, 100.0 * (double)t.within / (double)t.count, t.worst, t.worst_x, t.worst_y,
            100 * (t.veil / t.want_veil - 1));
    /* a veil far under the camera's floor is not seen, and only told to a share of that */
    double unseen = UNSEEN * vs_camera_floor_nits(camera) * WIDTH * HEIGHT;
    broken += !(t.worst <= WORST) || !(fabs(t.veil - t.want_veil) <= MEAN * (t.want_veil + unseen));
    add_up(all, &t);
    close_subject(&predictor, &frame);
}

/* ---- walks ---- */

/* Makes a point of what a pixel sees; false where that is no surface that reflects. */
static bool point_at(const vs_frame_kept *k, size_t x, size_t y, vs_scene_point *point) {
    const vs_ray_path *path = vs_frame_path(k, x, y);
    if (!(path->reflectance > 0) ||
        (path->end != VS_RAY_PATH_WALL && path->end != VS_RAY_PATH_BLOCKER)) {
        return false;
    }
    const vs_scene_point found = {.name = "pixel",
                                  .at_m = vs_frame_surface_at(k, path, (double)x, (double)y),
                                  .kind = VS_POINT_REFLECTANCE,
                                  .value = path->reflectance,
                                  .facing = path->normal};
    *point = found;
    return true;
}

/* Pixels drawn at random, off edges, on surfaces. Returns how many there are. */
static size_t draw_pixels(vs_frame *frame, random_stream *random, size_t count, size_t *pixel,
                          vs_scene_point *point) {
    size_t found = 0;
    for (size_t i = 0; i < 50 * count && found < count; i++) {
        size_t x = random_index(random, WIDTH), y = random_index(random, HEIGHT);
        if (!vs_frame_on_edge(frame, x, y) && point_at(frame->kept, x, y, &point[found])) {
            pixel[found++] = y * WIDTH + x;
        }
    }
    return found;
}

typedef struct {
    size_t count, broken;
    double mean, worst, worst_error;
} walked;

static walked classes[WALKED_CLASSES];

static void compare_walks(const vs_trust *trust, const vs_frame_layers *l, const size_t *pixel,
                          double floor_nits) {
    int depths = walked_class(&trust->prediction);
    walked *w = &classes[depths];
    for (size_t i = 0; i < trust->prediction.shot->point_count; i++) {
        double got = luminance(&l->hazed, pixel[i]), error;
        vs_bands seen = vs_bands_grey(got + floor_nits);
        double nits = vs_bands_luminance(vs_tally_mean(&trust->point[i].hazed));
        double ratio =
            walked_ratio(seen, &trust->point[i].hazed, &error) * nits / (nits + floor_nits);
        error *= nits / (nits + floor_nits);
        double off = fabs(ratio - 1), bound = depths == 0 ? BOUND_THIN : BOUND_THICK;
        w->count++;
        w->mean += off;
        w->broken += depths < 2 && !(off <= bound + SIGMAS * error);
        if (off > w->worst) {
            w->worst = off;
            w->worst_error = error;
        }
    }
}

/* Some pixels of one picture against walks. */
static void against_walks(const subject *s, size_t count, double walks) {
    vs_predictor predictor, other;
    vs_frame frame;
    vs_frame_layers l;
    vs_trust trust;
    double k[VS_ROOMS_MAX];
    size_t pixel[WALKED];
    vs_scene_point point[WALKED];
    random_stream random = {FIRST_SEED};
    open_subject(s, &predictor, &frame, &l, k);
    vs_scene_shot shot = s->file.scene.shot[s->shot];
    vs_scene scene = s->file.scene;
    shot.point_count = draw_pixels(&frame, &random, count, pixel, point);
    shot.point = point;
    shot.want_count = 0;
    scene.shot = &shot;
    scene.shot_count = 1;
    CHECK_OK(vs_predictor_init(&other, &scene));
    CHECK_OK(vs_trust_init(&trust, &other, 0, k, walks, 1));
    walked_run(&trust);
    compare_walks(&trust, &l, pixel, vs_camera_floor_nits(&scene.camera[shot.camera]));
    vs_trust_free(&trust);
    vs_predictor_free(&other);
    close_subject(&predictor, &frame);
}

/* ---- */

static subject subjects[SCENES];
static size_t subject_count;

static void add_random(uint64_t seed, size_t rooms) {
    subject *s = &subjects[subject_count++];
    s->extinction_per_m = NAN;
    location_read(seed, rooms, &s->file);
    snprintf(s->name, sizeof s->name, "location %zu, %llu", rooms, (unsigned long long)seed);
}

static void add_demo(const char *name, size_t shot, double extinction_per_m) {
    subject *s = &subjects[subject_count++];
    char file[64];
    snprintf(file, sizeof file, "../data/demo/%s.json", name);
    demo_scene(file, &s->file);
    CHECK_TRUE(shot < s->file.scene.shot_count);
    s->shot = shot;
    s->extinction_per_m = extinction_per_m;
    snprintf(s->name, sizeof s->name, "%s, %s", name, s->file.scene.shot[shot].name);
}

static void print_walks(double walks) {
    printf("\n%d of these pixels, on walls and boards, over random walks of every order (%.0f a "
           "pixel); the camera's floor is added to both:\n\n"
           "| optical depth of the longest way | pixels | mean off | worst off | over bound + 3 "
           "errors |\n| --- | --- | --- | --- | --- |\n",
           WALKED, walks);
    static const char *const bound[] = {"bound 5 %", "bound 10 %", "no bound"};
    for (int i = 0; i < WALKED_CLASSES; i++) {
        const walked *w = &classes[i];
        printf("| %s (%s) | %zu | %.1f %% | %.1f ± %.1f %% | %zu |\n", walked_class_name[i],
               bound[i], w->count, w->count ? 100 * w->mean / (double)w->count : 0, 100 * w->worst,
               100 * w->worst_error, w->broken);
        broken += w->broken > 0;
    }
}

int main(void) {
    const char *given = getenv("VS_WALKS"), *some = getenv("VS_PICTURES");
    double walks = given ? strtod(given, NULL) : 20000;
    size_t count = some ? strtoul(some, NULL, 10) : 20;
    tally all = {0};
    tests_begin();
    for (uint64_t i = 0; i < count && i < 20; i++) {
        add_random(FIRST_SEED + i, 1 + i % 2);
    }
    add_demo("cellar", 0, NAN);
    add_demo("cellar", 1, 0.05);
    add_demo("loft", 1, 0.02);
    add_demo("yard", 0, 0.02);
    add_demo("washroom", 0, NAN);
    printf("\n## Whole pictures\n\nPictures of %d x %d pixels against every pixel's own full "
           "integrals, in stops over the camera's floor. Pixels that an edge crosses are the mean "
           "of several rays and left out, but not of the veil's mean. Locations (rooms, seed) are "
           "drawn at random; no rule was chosen on them. Bounds: 99 %% of all pixels within %.2f "
           "stop, none off by over %.2f, each veil's mean, a twentieth of the floor added, within "
           "%.1f %%.\n\n"
           "| picture | pixels | of edges | within %.2f stop | worst | worst of the veil | veil's "
           "mean off by |\n| --- | --- | --- | --- | --- | --- | --- |\n",
           WIDTH, HEIGHT, WITHIN, WORST, 100 * MEAN, WITHIN);
    for (size_t i = 0; i < subject_count; i++) {
        every_pixel(&subjects[i], &all);
    }
    print_row("all", &all);
    broken += !((double)all.within >= 0.99 * (double)all.count);
    for (size_t i = 0; i < subject_count; i++) {
        against_walks(&subjects[i], WALKED / subject_count, walks);
        vs_scene_file_free(&subjects[i].file);
    }
    print_walks(walks);
    return broken > 0;
}
