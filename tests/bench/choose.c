/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Choosing densities, on one core, processor time, next to the plain way of the same run: bounced
 * light solved at every density that is asked about, and every lamp that might mend a shot switched
 * off in a prediction of its own. On the demo's cellar, and in a hall with rows of nets and panels. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "veilstop/air/rooms.h"
#include "veilstop/base/numerics.h"
#include "veilstop/scene/scene_file.h"
#include "veilstop/shot/choose.h"
#include "veilstop/shot/held.h"

#define DENSITIES                                                                                  \
    9            /* of a shot that choose at least predicts: seven to interpolate, two to check */
#define LAMPS  6 /* switched off the plain way; the rest take as long */
#define NETS   64
#define PANELS 60

static double seconds(void) {
    struct timespec now;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static double choose_s(const vs_scene *scene) {
    vs_predictor p;
    vs_choices choices;
    if (vs_predictor_init(&p, scene) != VS_OK) {
        return NAN;
    }
    double start = seconds();
    vs_status status = vs_choose(&p, VS_NONE, VS_CHOOSE_ADVICE, &choices);
    double took = seconds() - start;
    if (status == VS_OK) {
        vs_choices_free(&choices);
    }
    vs_predictor_free(&p);
    return status == VS_OK ? took : (double)NAN;
}

/* Every shot at the densities that choose interpolates between, all solved. */
static double plain_densities_s(const vs_scene *scene) {
    static const vs_predict_part wants = {NULL, false, false, NULL};
    vs_predictor p;
    double room[VS_ROOMS_MAX];
    if (vs_predictor_init(&p, scene) != VS_OK) {
        return NAN;
    }
    double start = seconds();
    for (size_t i = 0; i < scene->shot_count; i++) {
        for (int d = 0; d < DENSITIES; d++) {
            double k = 0.004 * exp2(0.7 * d) * (1 + 0.01 * (double)i);
            vs_shot_prediction out;
            if (vs_held_rooms(scene, &scene->shot[i], &p.haze, k, room) != VS_OK ||
                vs_predict_part_of_shot(&p, i, &wants, room, &out) != VS_OK) {
                return NAN;
            }
            vs_shot_prediction_free(&out);
        }
    }
    double took = seconds() - start;
    vs_predictor_free(&p);
    return took;
}

/* One shot at one density with each of its lamps off in turn; what some take, times all. */
static double plain_lamps_s(const vs_scene *scene) {
    static const vs_predict_part wants = {NULL, false, false, NULL};
    vs_predictor p;
    vs_shot_prediction out;
    if (vs_predictor_init(&p, scene) != VS_OK ||
        vs_predict_part_of_shot(&p, 0, &wants, NULL, &out) != VS_OK) { /* its fields are kept */
        return NAN;
    }
    vs_shot_prediction_free(&out);
    double start = seconds();
    for (size_t i = 0; i < LAMPS; i++) {
        p.dim[i] = 0;
        if (vs_predict_part_of_shot(&p, 0, &wants, NULL, &out) != VS_OK) {
            return NAN;
        }
        p.dim[i] = 1;
        vs_shot_prediction_free(&out);
    }
    double took = (seconds() - start) * (double)scene->light_count / LAMPS;
    vs_predictor_free(&p);
    return took;
}

static void tell(const char *what, double took_s, const char *plain, double plain_s) {
    printf("choose, %s: %.0f ms; %s: %.0f ms\n", what, 1e3 * took_s, plain, 1e3 * plain_s);
}

static void write_rows(FILE *f) {
    fputs("{\"veilstop\":1,\"fluid\":\"glycol\",\"rooms\":[{\"name\":\"store\","
          "\"corner\":[0,0,0],\"size\":[16,8,4],\"reflectance\":0.4}],\"blockers\":[",
          f);
    for (int i = 0; i < NETS; i++) {
        double x = 2 + 0.8 * (i % 16);
        fprintf(f,
                "%s{\"name\":\"net %d\",\"at\":[%g,%g,1.6],\"aim\":[%g,4.5,1.4],"
                "\"size\":[0.5,0.8],\"transmittance\":0.6}",
                i ? "," : "", i, x, 1 + 1.8 * (i / 16), x);
    }
    fputs("],\"lights\":[{\"name\":\"spot\",\"kind\":\"spot\",\"at\":[0.5,1,3],"
          "\"aim\":[12,5,1],\"beam_deg\":10,\"field_deg\":20,\"candela\":20000}",
          f);
    for (int i = 0; i < PANELS; i++) {
        double x = 1 + 0.45 * (i % 30);
        fprintf(f,
                ",{\"name\":\"panel %d\",\"kind\":\"panel\",\"at\":[%g,%g,2.6],\"aim\":[%g,4,1.2],"
                "\"size\":[0.3,0.3],\"lux\":20,\"lux_at\":3}",
                i, x, i < PANELS / 2 ? 0.3 : 7.7, x);
    }
    fputs("],\"cameras\":[{\"name\":\"A\",\"at\":[0.5,4.1,1.5],\"aim\":[16,4,1.4],"
          "\"focal_mm\":28}],\"shots\":[{\"name\":\"1\",\"camera\":\"A\","
          "\"extinction_per_m\":0.02,\"points\":[{\"name\":\"face\",\"at\":[6,4,1.6],"
          "\"nits\":12},{\"name\":\"wall\",\"at\":[16,3,1.5],\"reflectance\":0.4,"
          "\"facing\":[-1,0,0]},{\"name\":\"dark\",\"at\":[12,0,1.2],\"stops\":-4}],"
          "\"wants\":[{\"want\":\"contrast\",\"between\":[\"face\",\"wall\"],"
          "\"lose_at_most_stops\":0.5},{\"want\":\"black\",\"at\":\"dark\","
          "\"lift_at_most_percent\":10},{\"want\":\"beam\",\"light\":\"spot\","
          "\"near\":[7,3.2,1.8],\"at_least_stops\":0.2}]}]}\n",
          f);
}

static int load(vs_scene_file *file, const char *path) {
    vs_faults faults = {0};
    if (vs_scene_file_load(file, path, NULL, &faults) != VS_OK) {
        fprintf(stderr, "%s: %s %s\n", path, faults.item[0].where, faults.item[0].text);
        return 1;
    }
    return 0;
}

int main(void) {
    char path[TESTS_PATH_SIZE];
    vs_scene_file file;
    vs_numerics_handler_off();
    tests_path(path, "../data/demo/cellar.json");
    if (load(&file, path)) {
        return 1;
    }
    tell("the cellar", choose_s(&file.scene), "4 x 9 densities solved",
         plain_densities_s(&file.scene));
    vs_scene_file_free(&file);
    FILE *f = fopen("bench-rows.json", "w");
    if (!f) {
        return 1;
    }
    write_rows(f);
    if (fclose(f) != 0 || load(&file, "bench-rows.json")) {
        return 1;
    }
    tell("64 nets and 60 panels", choose_s(&file.scene), "lamps off, predicted one by one, alone",
         plain_lamps_s(&file.scene));
    vs_scene_file_free(&file);
    remove("bench-rows.json");
    return 0;
}
