/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Predictions against random walks of every order, on the demo's cellar and five scenes of this
 * folder, in thin and thick haze; writes a section of docs/accuracy.md to standard output. Ends
 * with status 1 where a bound is broken. VS_WALKS: walks a point, 200000 where not set. */
#include "check.h"
#include "walked.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "veilstop/scene/scene_file.h"
#include "veilstop/shot/trust.h"

#define BOUND_THIN  0.05      /* [1] to an optical depth of 0.5, of a room's mean path 0.15 */
#define BOUND_THICK 0.10      /* [1] to an optical depth of 1 */
#define SIGMAS      3         /* of the walks' own error, allowed on top */
#define TELLING     (1.0 / 3) /* [1] of its bound: a larger error of the walks asks for more walks */
#define MORE        10        /* times as many */

/* The worst of a class of depths, beyond the walks' own errors or not. */
typedef struct {
    double worst, mean;
    size_t count, broken;
} class_of_depths;

static class_of_depths classes[WALKED_CLASSES];

static void count(int depths, double ratio, double error) {
    class_of_depths *c = &classes[depths];
    double off = fabs(ratio - 1), bound = depths == 0 ? BOUND_THIN : BOUND_THICK;
    c->worst = fmax(c->worst, off);
    c->mean += off;
    c->count++;
    c->broken += depths < 2 && !(off <= bound + SIGMAS * error);
}

static void add_rows(const char *scene, const vs_trust *trust) {
    const vs_shot_prediction *p = &trust->prediction;
    int depths = walked_class(p);
    for (size_t i = 0; i < p->shot->point_count; i++) {
        double clear_error, veil_error, hazed_error;
        double clear = walked_ratio(p->point[i].clear_nits, &trust->point[i].clear, &clear_error);
        double veil = walked_ratio(p->point[i].veil_nits, &trust->point[i].veil, &veil_error);
        double hazed = walked_ratio(p->point[i].hazed_nits, &trust->point[i].hazed, &hazed_error);
        printf("| %s, %s | %s | %.2f | %.2f | %.3f | %.3f ± %.3f | %.3f ± %.3f |\n", scene,
               p->shot->name, p->shot->point[i].name, p->longest_way_depth, p->room_depth, clear,
               veil, veil_error, hazed, hazed_error);
        count(depths, veil, veil_error);
        count(depths, hazed, hazed_error);
    }
}

/* Whether the walks' own errors are small enough to tell whether the bound is kept. */
static bool is_telling(const vs_trust *trust) {
    static const double bound[] = {BOUND_THIN, BOUND_THICK, INFINITY};
    const vs_shot_prediction *p = &trust->prediction;
    double worst = 0;
    for (size_t i = 0; i < p->shot->point_count; i++) {
        double veil_error, hazed_error;
        walked_ratio(p->point[i].veil_nits, &trust->point[i].veil, &veil_error);
        walked_ratio(p->point[i].hazed_nits, &trust->point[i].hazed, &hazed_error);
        worst = fmax(worst, fmax(veil_error, hazed_error));
    }
    return worst <= TELLING * bound[walked_class(p)];
}

static void run_shot(const char *name, vs_predictor *predictor, size_t shot, double factor,
                     double walks) {
    const vs_scene *scene = predictor->scene;
    double *k = calloc(scene->room_count + 1, sizeof *k);
    vs_trust trust;
    for (size_t r = 0; r < scene->room_count; r++) {
        k[r] = factor * vs_density_extinction_per_m(&scene->shot[shot], r, &predictor->haze);
    }
    CHECK_OK(vs_trust_init(&trust, predictor, shot, k, walks, 1));
    walked_run(&trust);
    if (!is_telling(&trust)) {
        vs_trust_free(&trust);
        CHECK_OK(vs_trust_init(&trust, predictor, shot, k, MORE * walks, 1));
        walked_run(&trust);
    }
    add_rows(name, &trust);
    fflush(stdout);
    vs_trust_free(&trust);
    free(k);
}

static void run_scene(const char *name, const char *path, double walks) {
    static const double factor[] = {1, 2, 5};
    vs_scene_file file;
    vs_predictor predictor;
    vs_faults faults = {0};
    CHECK_OK(vs_scene_file_load(&file, path, NULL, &faults));
    CHECK_OK(vs_predictor_init(&predictor, &file.scene));
    for (size_t shot = 0; shot < file.scene.shot_count; shot++) {
        for (size_t i = 0; i < sizeof factor / sizeof *factor; i++) {
            run_shot(name, &predictor, shot, factor[i], walks);
        }
    }
    vs_predictor_free(&predictor);
    vs_scene_file_free(&file);
}

static int finish(void) {
    static const char *const bound[] = {"bound 5 %", "bound 10 %", "no bound"};
    int broken = 0;
    printf(
        "\n| optical depth of the longest way | veils and hazed luminances | mean off | worst off "
        "| over bound + 3 errors |\n| --- | --- | --- | --- | --- |\n");
    for (int i = 0; i < WALKED_CLASSES; i++) {
        const class_of_depths *c = &classes[i];
        printf("| %s (%s) | %zu | %.1f %% | %.1f %% | %zu |\n", walked_class_name[i], bound[i],
               c->count, c->count ? 100 * c->mean / (double)c->count : 0, 100 * c->worst,
               c->broken);
        broken += c->broken > 0;
    }
    return broken > 0;
}

int main(void) {
    const char *given = getenv("VS_WALKS");
    double walks = given ? strtod(given, NULL) : 200000;
    char path[TESTS_PATH_SIZE];
    tests_begin();
    printf(
        "\n## Light of every order\n\nPrediction over random walks, `veilstop trust` with %.0f "
        "walks a point - ten times as many where that leaves an error over a third of the bound -, "
        "every order of scattering and reflection; ± is the walks' standard error. "
        "Depths are optical depths at 549 nm: of the longest sight line or way from a light to a "
        "point, and of the camera's room's mean way, extinction x 4 volume / surface. Scenes: the "
        "demo's cellar, and those of tests/accuracy, each at its own density, twice and five "
        "times that. The black corridor with the torch beside the camera is the hard case.\n\n"
        "| scene, shot | point | way | room | clear | veil | hazed |\n"
        "| --- | --- | --- | --- | --- | --- | --- |\n",
        walks);
    const char *scene[][2] = {{"cellar", "../data/demo/cellar.json"},
                              {"white office", "accuracy/office.json"},
                              {"black studio", "accuracy/studio.json"},
                              {"corridor", "accuracy/corridor.json"},
                              {"high hall", "accuracy/hall.json"},
                              {"black corridor", "accuracy/black-corridor.json"}};
    for (size_t i = 0; i < sizeof scene / sizeof *scene; i++) {
        tests_path(path, scene[i][1]);
        run_scene(scene[i][0], path, walks);
    }
    return finish();
}
