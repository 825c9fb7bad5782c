/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Predictions against random walks on random locations, by what is hard in each kind; writes a
 * section of docs/accuracy.md to standard output. Ends with status 1 where too few are within their
 * bound. The walks are kept in tests/reference/walks_random.csv.
 *     walks_random                the section
 *     walks_random walk ROOMS     walks again: that file's rows to standard output
 *     walks_random SEED ROOMS     the scene of a seed */
#include "check.h"
#include "location.h"
#include "walked.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/base/statistics.h"

/* Reserved for this table: rules of the light must be chosen on other seeds, or the table would
 * only show how well they were fitted. */
#define FIRST_SEED 8001
#define ONE_ROOM   200 /* locations of one room */
#define TWO_ROOMS  100 /* of two */
/* Looked at only after a rule was chosen on those above. */
#define FRESH_SEED   9001
#define FRESH        40    /* locations of each */
#define WALKS        20000 /* a point; as many times MORE where those leave too much error */
#define MORE         10
#define TELLING      (1.0 / 3)     /* [1] of the bound: walks with more error tell nothing */
#define DARKEST      (1.0 / 25600) /* of middle grey: a hundredth of the camera's floor */
#define WITHIN_SHARE 0.95          /* [1] to be within the bound */
#define MOST         (6 * (ONE_ROOM + TWO_ROOMS + 2 * FRESH))

static const double bound[WALKED_CLASSES] = {0.05, 0.10, INFINITY}; /* [1] */

/* A luminance by walks. */
typedef struct {
    size_t rooms;
    uint64_t seed;
    int depths;
    size_t point;
    bool is_veil;
    double nits, error_nits;
} walked;

typedef struct {
    double off[MOST];
    double sum; /* with their signs */
    size_t count, within, left_out;
    walked worst;
    double worst_off;
} tally;

static tally by_kind[2][LOCATION_KINDS], by_class[2][2][2]; /* veil; rooms; class of depth */
static tally fresh[2];                                      /* rooms */

/* ---- walking ---- */

static bool tells(const vs_tally *t, int depths, double floor_nits) {
    double nits = vs_bands_luminance(vs_tally_mean(t));
    return nits < floor_nits || depths == 2 || vs_tally_error(t) < TELLING * bound[depths] * nits;
}

static void write_row(size_t rooms, uint64_t seed, int depths, size_t point, const char *what,
                      const vs_tally *t) {
    printf("%zu,%llu,%d,%zu,%s,%.6g,%.3g\n", rooms, (unsigned long long)seed, depths, point, what,
           vs_bands_luminance(vs_tally_mean(t)), vs_tally_error(t));
}

static bool walk(vs_predictor *predictor, size_t rooms, uint64_t seed, double walks, bool last) {
    vs_trust trust;
    bool telling = true;
    CHECK_OK(vs_trust_init(&trust, predictor, 0, NULL, walks, 1));
    walked_run(&trust);
    const vs_shot_prediction *p = &trust.prediction;
    int depths = walked_class(p);
    for (size_t i = 0; i < p->shot->point_count; i++) {
        telling = telling && tells(&trust.point[i].veil, depths, DARKEST * p->grey_nits) &&
                  tells(&trust.point[i].hazed, depths, DARKEST * p->grey_nits);
    }
    for (size_t i = 0; i < p->shot->point_count && (telling || last); i++) {
        write_row(rooms, seed, depths, i, "veil", &trust.point[i].veil);
        write_row(rooms, seed, depths, i, "hazed", &trust.point[i].hazed);
    }
    vs_trust_free(&trust);
    return telling;
}

static void walk_some(size_t rooms, uint64_t first, uint64_t count) {
    for (uint64_t seed = first; seed < first + count; seed++) {
        vs_scene_file file;
        vs_predictor predictor;
        location_read(seed, rooms, &file);
        CHECK_OK(vs_predictor_init(&predictor, &file.scene));
        if (!walk(&predictor, rooms, seed, WALKS, false)) {
            walk(&predictor, rooms, seed, MORE * WALKS, true);
        }
        fflush(stdout);
        vs_predictor_free(&predictor);
        vs_scene_file_free(&file);
    }
}

static int walk_all(size_t rooms) {
    printf("# rooms,seed,class of depth,point,what,cd/m2,standard error\n");
    walk_some(rooms, FIRST_SEED, rooms == 1 ? ONE_ROOM : TWO_ROOMS);
    walk_some(rooms, FRESH_SEED, FRESH);
    return 0;
}

/* ---- the table ---- */

static void add(tally *t, const walked *w, double nits, double grey_nits) {
    double off = nits / w->nits - 1;
    if (!(w->nits > DARKEST * grey_nits) ||
        !(w->error_nits < TELLING * bound[w->depths] * w->nits)) {
        t->left_out++;
        return;
    }
    t->off[t->count++] = fabs(off);
    t->sum += off;
    t->within += fabs(off) <= bound[w->depths];
    if (!(fabs(off) <= fabs(t->worst_off))) { /* a NaN too is the worst */
        t->worst = *w;
        t->worst_off = off;
    }
}

static bool read_row(FILE *file, walked *w) {
    char what[8] = "";
    unsigned long long seed = 0;
    int read = fscanf(file, "%zu,%llu,%d,%zu,%7[a-z],%lf,%lf\n", &w->rooms, &seed, &w->depths,
                      &w->point, what, &w->nits, &w->error_nits);
    w->seed = seed;
    w->is_veil = strcmp(what, "veil") == 0;
    return read == 7;
}

static void measure(void) {
    char path[TESTS_PATH_SIZE];
    vs_scene_file scene;
    vs_predictor predictor;
    vs_shot_prediction p;
    walked w, before = {.rooms = 0};
    tests_path(path, "reference/walks_random.csv");
    FILE *file = fopen(path, "r");
    CHECK_TRUE(file && fscanf(file, "# %*[^\n]\n") == 0);
    while (read_row(file, &w)) {
        if (w.rooms != before.rooms || w.seed != before.seed) {
            if (before.rooms) {
                vs_shot_prediction_free(&p);
                vs_predictor_free(&predictor);
                vs_scene_file_free(&scene);
            }
            location_read(w.seed, w.rooms, &scene);
            CHECK_OK(vs_predictor_init(&predictor, &scene.scene));
            CHECK_OK(vs_predict_shot(&predictor, 0, NULL, &p));
            before = w;
        }
        const vs_point_prediction *point = &p.point[w.point];
        double nits = vs_bands_luminance(w.is_veil ? point->veil_nits : point->hazed_nits);
        if (w.depths < 2 && w.seed >= FRESH_SEED) {
            add(&fresh[w.rooms - 1], &w, nits, p.grey_nits);
        } else if (w.depths < 2) {
            add(&by_class[w.is_veil][w.rooms - 1][w.depths], &w, nits, p.grey_nits);
            add(&by_kind[w.is_veil][location_kind_of(w.seed, w.rooms)], &w, nits, p.grey_nits);
        }
    }
    CHECK_TRUE(feof(file) && before.rooms == 2);
    fclose(file);
    vs_shot_prediction_free(&p);
    vs_predictor_free(&predictor);
    vs_scene_file_free(&scene);
}

/* A row of the table. */
static void tell(const char *what, const char *which, tally *t) {
    double sum = 0, count = (double)t->count;
    if (t->count == 0) {
        printf("| %s | %s | 0 | %zu | - | - | - | - | - |\n", what, which, t->left_out);
        return;
    }
    for (size_t i = 0; i < t->count; i++) {
        sum += t->off[i];
    }
    vs_sort(t->off, t->count);
    printf("| %s | %s | %zu | %zu | %.1f %% | %.1f %% | %+.1f %% | %.1f %% | %+.1f ± %.1f %% "
           "(%zu, %llu) |\n",
           what, which, t->count, t->left_out, 100 * (double)t->within / count, 100 * sum / count,
           100 * t->sum / count, 100 * vs_quantile(t->off, t->count, 0.95), 100 * t->worst_off,
           100 * t->worst.error_nits / t->worst.nits, t->worst.rooms,
           (unsigned long long)t->worst.seed);
}

static void write_head(void) {
    printf(
        "\n## Random locations\n\nThe same on %d locations of one room and %d of two with a "
        "doorway, drawn at random: anything at all; a line of sight beside a narrow beam; a narrow "
        "beam onto a near wall, seen; a bulb a hand from the wall, seen; dark points between dark "
        "walls; a camera that looks through a door. Reflectances 0.02 to 0.9 a face, boards and "
        "nets, one to six lights of every kind, droplets or a measured fluid of g 0.5 to 0.85, "
        "0.01 "
        "to 0.12 /m. No rule of the light was chosen on these seeds. The walks are kept in "
        "tests/reference/walks_random.csv; those whose error is over a third of the bound, and "
        "luminances under a hundredth of the camera's floor, are left out. Within: off by at most "
        "5 %% where the longest way is to 0.5 and rooms' mean ways to 0.15, 10 %% to 1. ± is the "
        "walks' standard error, in brackets stand rooms and seed; `walks_random SEED ROOMS` writes "
        "the scene.\n\n"
        "| luminance | which | measured | left out | within | mean off | mean, signed | 95 %% off "
        "at most | worst (rooms, seed) |\n"
        "| --- | --- | --- | --- | --- | --- | --- | --- | --- |\n",
        ONE_ROOM, TWO_ROOMS);
}

static int write_scene(const char *seed, const char *rooms) {
    vs_text text;
    location_write(strtoull(seed, NULL, 10), strtoul(rooms, NULL, 10), &text);
    fwrite(text.bytes, 1, text.length, stdout);
    vs_text_free(&text);
    return 0;
}

int main(int argc, char **argv) {
    static const char *const what[2] = {"hazed", "veil"};
    size_t count[2] = {0, 0}, within[2] = {0, 0};
    tests_begin();
    if (argc == 3) {
        return strcmp(argv[1], "walk") == 0 ? walk_all(strtoul(argv[2], NULL, 10))
                                            : write_scene(argv[1], argv[2]);
    }
    measure();
    write_head();
    for (int veil = 1; veil >= 0; veil--) {
        for (int k = 0; k < LOCATION_KINDS; k++) {
            tell(what[veil], location_kind_name[k], &by_kind[veil][k]);
        }
        for (int rooms = 0; rooms < 2; rooms++) {
            for (int depths = 0; depths < 2; depths++) {
                char which[64];
                tally *t = &by_class[veil][rooms][depths];
                snprintf(which, sizeof which, "%s, depth %s", rooms ? "two rooms" : "one room",
                         walked_class_name[depths]);
                tell(what[veil], which, t);
                count[rooms] += t->count;
                within[rooms] += t->within;
            }
        }
    }
    tell("both", "one room, seeds from 9001", &fresh[0]);
    tell("both", "two rooms, seeds from 9001", &fresh[1]);
    int broken = 0;
    for (int rooms = 0; rooms < 2; rooms++) {
        double share = (double)within[rooms] / (double)count[rooms];
        double again = (double)fresh[rooms].within / (double)fresh[rooms].count;
        printf(
            "\n%s: %.1f %% of %zu veils and hazed luminances are within their bound; of seeds that "
            "no rule was chosen on %.1f %% of %zu.\n",
            rooms ? "Two rooms" : "One room", 100 * share, count[rooms], 100 * again,
            fresh[rooms].count);
        broken += !(share >= WITHIN_SHARE) + !(again >= WITHIN_SHARE);
    }
    return broken > 0;
}
