/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Direct light worked out at a dozen densities, four at a time, and laid between them, against the
 * same recorded by a prediction at densities drawn at random. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "shot/choose/choose_direct.h"
#include "shot/choose/choose_shot.h"
#include "veilstop/scene/scene_file.h"
#include "veilstop/shot/held.h"

#define DENSITIES 5
#define SEED      20261129
#define WITHIN    1e-3 /* [1] of the light: the fast integral's own nodes differ by density */
#define DARK      1e-5 /* [1] of the most at that place: less does not count */

typedef struct {
    size_t count;
    double worst, sum;
} tally;

static void compare(const vs_direct_curve *curve, const vs_bands *read, const vs_bands *is,
                    tally *t) {
    for (size_t place = 0; place < curve->places; place++) {
        const vs_bands *a = read + place * curve->lights, *b = is + place * curve->lights;
        double most = 0;
        for (size_t i = 0; i < curve->lights; i++) {
            most = fmax(most, vs_bands_luminance(b[i]));
        }
        for (size_t i = 0; i < curve->lights; i++) {
            double want = vs_bands_luminance(b[i]);
            CHECK_NEAR(vs_bands_luminance(a[i]), want, WITHIN, DARK * most);
            if (want > DARK * most) {
                double off = fabs(vs_bands_luminance(a[i]) / want - 1);
                t->worst = fmax(t->worst, off);
                t->sum += off;
                t->count++;
            }
        }
    }
}

/* What a prediction at a density records. */
static void record(vs_predictor *p, size_t shot, double k, vs_bands *none, vs_bands *direct) {
    double *room_per_m = calloc(p->scene->room_count, sizeof *room_per_m);
    const vs_scene_shot *s = &p->scene->shot[shot];
    vs_indirect_notes notes = {
        .known = true, .points = s->point_count, .note = none, .direct = direct};
    const vs_predict_part part = {NULL, true, false, &notes};
    vs_shot_prediction out;
    CHECK_OK(vs_held_rooms(p->scene, s, &p->haze, k, room_per_m));
    CHECK_OK(vs_predict_part_of_shot(p, shot, &part, room_per_m, &out));
    vs_shot_prediction_free(&out);
    free(room_per_m);
}

static void check_shot(vs_predictor *p, size_t shot, random_stream *r, tally *t) {
    vs_direct_curve curve;
    double end_per_m = vs_choose_search_end_per_m(p, &p->scene->shot[shot]);
    CHECK_OK(vs_direct_curve_begin(&curve, p->scene, shot, end_per_m));
    for (size_t part = VS_DIRECT_PARTS; part-- > 0;) {
        CHECK_OK(vs_direct_curve_part(&curve, p, shot, part));
    }
    vs_direct_curve_end(&curve, end_per_m, true);
    size_t count = curve.places * curve.lights;
    vs_bands *none = calloc(count, sizeof *none), *is = calloc(count, sizeof *is);
    vs_bands *read = calloc(count, sizeof *read);
    CHECK_TRUE(none && is && read);
    CHECK_TRUE(!vs_direct_curve_at(&curve, 1.001 * end_per_m, read));
    for (int i = 0; i < DENSITIES; i++) {
        double k = end_per_m * random_log_uniform(r, 1e-3, 1);
        CHECK_TRUE(vs_direct_curve_at(&curve, k, read));
        record(p, shot, k, none, is);
        compare(&curve, read, is, t);
    }
    free(none);
    free(is);
    free(read);
    vs_direct_curve_free(&curve);
}

static void light_between_densities_is_as_recorded(void **state) {
    (void)state;
    static const char *const demo[] = {"../data/demo/cellar.json", "../data/demo/yard.json",
                                       "../data/demo/loft.json", "../data/demo/washroom.json"};
    random_stream r = {SEED};
    for (size_t d = 0; d < sizeof demo / sizeof demo[0]; d++) {
        char path[TESTS_PATH_SIZE];
        vs_faults faults = {0};
        vs_scene_file file;
        vs_predictor p;
        tally t = {0};
        tests_path(path, demo[d]);
        CHECK_OK(vs_scene_file_load(&file, path, NULL, &faults));
        CHECK_OK(vs_predictor_init(&p, &file.scene));
        for (size_t i = 0; i < file.scene.shot_count; i++) {
            check_shot(&p, i, &r, &t);
        }
        CHECK_TRUE(t.count > 0);
        printf("measured: %s: %zu direct lights between densities, mean %.1e, worst %.1e off\n",
               demo[d], t.count, t.sum / (double)t.count, t.worst);
        vs_predictor_free(&p);
        vs_scene_file_free(&file);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(light_between_densities_is_as_recorded),
    };
    return RUN_TESTS(tests);
}
