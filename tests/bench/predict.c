/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whole processes of `veilstop predict`, against one that only starts and prints its version: the
 * cellar, one shot of it, and a long day of 200 shots in a brewery lit by 20 lights, its bounced
 * light given or computed. */
#include "check.h"

#include <stdio.h>
#include <stdlib.h>
#include <sys/wait.h>

#define SHOTS     200
#define SPOTS     8
#define LAMPS     6
#define CAMERAS   10
#define DENSITIES 8
#define BEST_OF   5

/* A vaulted store of two rooms with a door, a window, a net and a black board. */
static void write_place(FILE *f, const char *indirect) {
    fprintf(f, "{\"veilstop\":1,\"lengths\":\"m\",\"fluid\":\"glycol\",\"indirect\":%s,", indirect);
    fputs("\"rooms\":[{\"name\":\"store\",\"corner\":[0,0,0],\"size\":[9,5,3.2],"
          "\"reflectance\":0.5},"
          "{\"name\":\"stairs\",\"corner\":[9,1,0],\"size\":[3,3,5],\"reflectance\":0.4}],"
          "\"openings\":[{\"name\":\"door\",\"rooms\":[\"store\",\"stairs\"],"
          "\"corners\":[[9,2,0],[9,3.1,2.1]]},"
          "{\"name\":\"hatch\",\"rooms\":[\"store\",\"outside\"],"
          "\"corners\":[[3,5,1.4],[4.2,5,2.6]],\"transmittance\":0.8}],"
          "\"blockers\":[{\"name\":\"board\",\"at\":[5,3.9,1.2],\"aim\":[6,3.4,1.2],"
          "\"size\":[1,1.6],\"reflectance\":0.03},"
          "{\"name\":\"net\",\"at\":[6.2,1.4,1.8],\"aim\":[6,3,1.2],\"size\":[1,1],"
          "\"transmittance\":0.5}],",
          f);
}

/* Six of other kinds, eight spots, six lamps: 20. */
static void write_lights(FILE *f) {
    fputs("\"lights\":["
          "{\"name\":\"key\",\"kind\":\"panel\",\"at\":[6.5,0.6,2.2],\"aim\":[6,3,1.2],"
          "\"size\":[0.6,0.4],\"lux\":300,\"lux_at\":2},"
          "{\"name\":\"silk\",\"kind\":\"panel\",\"at\":[2.4,2.6,1.9],\"aim\":[6,2.6,1.3],"
          "\"size\":[1.2,1.2],\"fed_by\":{\"light\":\"spot 0\",\"transmittance\":0.4}},"
          "{\"name\":\"tube\",\"kind\":\"tube\",\"from\":[7,4.6,2.8],\"to\":[8.2,4.6,2.8],"
          "\"lumens\":1500},"
          "{\"name\":\"sun\",\"kind\":\"sun\",\"through\":\"hatch\",\"direction\":[0.3,-1,-0.6],"
          "\"lux\":20000},"
          "{\"name\":\"sky\",\"kind\":\"sky\",\"through\":\"hatch\",\"nits\":2000},"
          "{\"name\":\"stairs\",\"kind\":\"lamp\",\"at\":[10.5,2.5,3.4],\"lumens\":800}",
          f);
    for (int i = 0; i < SPOTS; i++) {
        fprintf(f,
                ",{\"name\":\"spot %d\",\"kind\":\"spot\",\"at\":[%g,%g,%g],\"aim\":[%g,%g,1],"
                "\"beam_deg\":%d,\"field_deg\":%d,\"candela\":%d}",
                i, 0.4 + i, 2.6 + 0.2 * i, 1.6 + 0.1 * i, 5.0 + 0.4 * i, 2.6 - 0.2 * i, 8 + i,
                18 + 2 * i, 3000 + 500 * i);
    }
    for (int i = 0; i < LAMPS; i++) {
        fprintf(f, ",{\"name\":\"lamp %d\",\"kind\":\"lamp\",\"at\":[%g,%g,%g],\"lumens\":%d}", i,
                0.8 + 1.3 * i, 0.4 + 0.1 * i, 2.0 + 0.1 * i, 200 + 50 * i);
    }
    fputs("],", f);
}

static void write_shots(FILE *f) {
    fputs("\"cameras\":[", f);
    for (int i = 0; i < CAMERAS; i++) {
        fprintf(f,
                "%s{\"name\":\"C%d\",\"at\":[%g,%g,1.4],\"aim\":[7,2.2,1.3],\"focal_mm\":%d,"
                "\"sensor_mm\":[24.9,14.0],\"t_stop\":2.8,\"iso\":800,\"fps\":24,"
                "\"shutter_deg\":180}",
                i ? "," : "", i, 0.3 + 0.15 * i, 1.0 + 0.3 * i, 18 + 2 * i);
    }
    fputs("],\"shots\":[", f);
    for (int i = 0; i < SHOTS; i++) {
        fprintf(f,
                "%s{\"name\":\"shot %d\",\"camera\":\"C%d\",\"extinction_per_m\":%g,"
                "\"minutes\":3,\"points\":[{\"name\":\"face\",\"at\":[4.8,2.2,1.6],\"nits\":12},"
                "{\"name\":\"wall\",\"at\":[9,1.6,1.3],\"reflectance\":0.5,\"facing\":[-1,0,0]},"
                "{\"name\":\"deep\",\"at\":[8.4,3.4,1.2],\"stops\":-3}],\"wants\":["
                "{\"want\":\"contrast\",\"between\":[\"face\",\"wall\"],"
                "\"lose_at_most_stops\":0.5},"
                "{\"want\":\"black\",\"at\":\"deep\",\"lift_at_most_percent\":6},"
                "{\"want\":\"beam\",\"light\":\"spot %d\",\"near\":[5,2.4,1.2],"
                "\"at_least_stops\":0.3},"
                "{\"want\":\"separation\",\"between\":[\"face\",\"deep\"],"
                "\"at_least_stops\":0.3},"
                "{\"want\":\"glow\",\"light\":\"key\",\"at_most_deg\":20},"
                "{\"want\":\"sight\",\"at_least_m\":20}]}",
                i ? "," : "", i, i % CAMERAS, 0.01 + 0.005 * (i % DENSITIES), i % SPOTS);
    }
    fputs("]}\n", f);
}

static int write_day(const char *path, const char *indirect) {
    FILE *f = fopen(path, "w");
    if (!f) {
        return 1;
    }
    write_place(f, indirect);
    write_lights(f);
    write_shots(f);
    return fclose(f);
}

/* Wall time of a command, the best of several runs [s]; negative where it failed. An unmet want is
 * not a failure. */
static double time_of(const char *program, const char *arguments, int times) {
    char command[4096];
    double best = -1;
    snprintf(command, sizeof command, "'%s' %s > bench.txt", program, arguments);
    for (int i = 0; i < times; i++) {
        double start = clock_now_s();
        int result = system(command);
        double took = clock_now_s() - start;
        if (!WIFEXITED(result) || WEXITSTATUS(result) > 1) {
            return -1;
        }
        best = best < 0 || took < best ? took : best;
    }
    return best;
}

static int tell(const char *program, const char *what, const char *arguments, int times,
                double least) {
    double took = time_of(program, arguments, times);
    if (took < 0) {
        fprintf(stderr, "failed: %s\n", arguments);
        return 1;
    }
    printf("predict, %-42s %7.1f times a bare start (%.0f ms)\n", what, took / least, 1e3 * took);
    return 0;
}

int main(void) {
    const char *program = getenv("VS_PROGRAM");
    char scene[TESTS_PATH_SIZE], cellar[2048], shot[2100];
    program = program ? program : "veilstop";
    tests_path(scene, "../data/demo/cellar.json");
    snprintf(cellar, sizeof cellar, "predict '%s'", scene);
    snprintf(shot, sizeof shot, "%s --shot '1 wide'", cellar);
    if (write_day("bench-given.json", "{\"nits\":0.3}") ||
        write_day("bench-computed.json", "\"computed\"")) {
        return 1;
    }
    double least = time_of(program, "--version", 2 * BEST_OF);
    int failed =
        least < 0 || tell(program, "one shot of the cellar", shot, BEST_OF, least) ||
        tell(program, "the cellar: 4 shots", cellar, BEST_OF, least) ||
        tell(program, "200 shots, 20 lights, bounce given", "predict bench-given.json", 1, least) ||
        tell(program, "200 shots, 20 lights, bounce computed", "predict bench-computed.json", 1,
             least);
    remove("bench-given.json");
    remove("bench-computed.json");
    remove("bench.txt");
    return failed;
}
