/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Random scenes through every command: one density for each room and shot, the same alarms. The
 * program's answers are compared with each other; no outside source. */
#include "check.h"
#include "location.h"
#include "program.h"

#include <cjson/cJSON.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "veilstop/report/file_out.h"
#include "veilstop/report/text.h"

#define SCENES  24
#define FIRST   9100
#define DIGITS  1e-6 /* [1] six digits */
#define ROOMS   2
#define SHOTS   2
#define COMMAND 8

static const char *const room_name[ROOMS] = {"cellar", "passage"};

/* A location with a hazer in three of four, detectors, and a second shot whose density is open. */
static void write_scene(uint64_t seed, const char *path) {
    random_stream r = {seed ^ 0x5eed};
    vs_text drawn, scene;
    location_write(seed, ROOMS, &drawn);
    char *computed = strstr(drawn.bytes, "\"computed\"");
    CHECK_TRUE(computed != NULL);
    memcpy(computed, "\"none\"    ", strlen("\"computed\"")); /* light changes no density */
    char *end = strrchr(drawn.bytes, ']');
    *end = '\0';
    vs_text_init(&scene);
    vs_text_addf(&scene, "{");
    if (random_index(&r, 4)) {
        double ml = random_log_uniform(&r, 5, 200);
        vs_text_addf(&scene, "\"hazer\":{\"room\":\"%s\",\"fluid_ml_per_h\":%g},",
                     room_name[random_index(&r, ROOMS)], ml);
    }
    vs_text_addf(&scene, "\"venue\":{\"detectors\":[");
    for (int i = 0; i < 4; i++) {
        double alarm = random_log_uniform(&r, 0.05, 3);
        size_t room = random_index(&r, ROOMS);
        vs_text_addf(
            &scene,
            "%s{\"name\":\"head %d\",\"room\":\"%s\",\"kind\":\"%s\",\"alarm_db_per_m\":%g}",
            i ? "," : "", i, room_name[room], i % 2 ? "ionisation" : "point", alarm);
    }
    double sight_m = random_log_uniform(&r, 30, 400);
    vs_text_addf(
        &scene,
        "]},%s,{\"name\":\"2\",\"camera\":\"A\",\"minutes\":%g,\"wants\":[{\"want\":\"sight\","
        "\"at_least_m\":%g}]}]}\n",
        drawn.bytes + 1, random_uniform(&r, 5, 60), sight_m);
    CHECK_TRUE(!scene.failed);
    CHECK_OK(vs_file_write_whole(path, scene.bytes, scene.length));
    vs_text_free(&scene);
    vs_text_free(&drawn);
}

/* A command's JSON for a scene; it may report that a want is not met. */
static cJSON *ask(const char *const *words) {
    program_run_result run = program_run(".", words);
    if (run.status > 1) {
        fprintf(stderr, "%s %s: %s", words[0], words[1], run.err);
    }
    CHECK_TRUE(run.status == 0 || run.status == 1);
    cJSON *answer = cJSON_Parse(run.out);
    CHECK_TRUE(answer != NULL);
    program_free(&run);
    return answer;
}

static const char *text_of(const cJSON *object, const char *key) {
    return cJSON_GetStringValue(cJSON_GetObjectItem(object, key));
}

/* Compares densities by room with those of the first command that gave them. */
static size_t hold(const cJSON *by_room, double *density) {
    CHECK_TRUE(cJSON_GetArraySize(by_room) == ROOMS);
    for (int room = 0; room < ROOMS; room++) {
        double k = cJSON_GetNumberValue(cJSON_GetObjectItem(by_room, room_name[room]));
        if (isnan(density[room])) {
            density[room] = k;
        }
        CHECK_NEAR(k, density[room], DIGITS, 1e-15);
    }
    return 1;
}

/* All shots of an answer's list; `inside` names the object of a shot that contains its rooms. */
static size_t hold_shots(const cJSON *answer, const char *list, const char *name,
                         const char *inside, double density[SHOTS][ROOMS]) {
    size_t held = 0;
    const cJSON *shot;
    cJSON_ArrayForEach(shot, cJSON_GetObjectItem(answer, list)) {
        const cJSON *holder = inside ? cJSON_GetObjectItem(shot, inside) : shot;
        int index = text_of(shot, name)[0] - '1';
        held += hold(cJSON_GetObjectItem(holder, "extinction_by_room"), density[index]);
    }
    return held;
}

/* The names of the alarms, one after another. */
static void alarms_of(const cJSON *answer, char *names, size_t size) {
    const cJSON *alarms = cJSON_GetObjectItem(answer, "alarms"), *alarm;
    names[0] = '\0';
    CHECK_TRUE(cJSON_IsArray(alarms));
    cJSON_ArrayForEach(alarm, alarms) {
        snprintf(names + strlen(names), size - strlen(names), "%s;", cJSON_GetStringValue(alarm));
    }
}

/* The same for `cautions`, which lists each detector by itself. */
static void reached_of(const cJSON *answer, char *names, size_t size) {
    const cJSON *detector;
    names[0] = '\0';
    cJSON_ArrayForEach(detector, cJSON_GetObjectItem(answer, "detectors")) {
        if (cJSON_IsTrue(cJSON_GetObjectItem(detector, "reached"))) {
            snprintf(names + strlen(names), size - strlen(names), "%s;", text_of(detector, "name"));
        }
    }
}

typedef struct {
    size_t densities, unlike, alarms, planned;
} counts;

static void check_scene(uint64_t seed, counts *count) {
    static const char path[] = "agree.json";
    static const char *const words[COMMAND][8] = {
        {"predict", path, "--json", NULL},
        {"predict", path, "--json", "--shot", "1", NULL},
        {"choose", path, "--json", NULL},
        {"choose", path, "--json", "--shot", "1", NULL},
        {"grade", path, "--json", NULL},
        {"dwell", path, "--json", NULL},
        {"trust", path, "--json", "--shot", "2", "--paths", "200", NULL},
        {"cautions", path, "--json", NULL},
    };
    double density[SHOTS][ROOMS] = {{NAN, NAN}, {NAN, NAN}};
    char first[256] = "", names[256];
    write_scene(seed, path);
    for (int i = 0; i < COMMAND; i++) {
        cJSON *answer = ask(words[i]);
        const char *command = words[i][0];
        if (strcmp(command, "cautions") == 0) {
            reached_of(answer, names, sizeof names);
        } else {
            alarms_of(answer, names, sizeof names);
            count->planned += i == 0 && strcmp(text_of(answer, "alarms_from"), "plan") == 0;
        }
        if (i == 0) {
            memcpy(first, names, sizeof first);
        }
        if (strcmp(first, names) != 0) {
            fprintf(stderr, "seed %llu: %s names %s, predict %s\n", (unsigned long long)seed,
                    command, names, first);
        }
        CHECK_TRUE(strcmp(first, names) == 0);
        bool chooses = strcmp(command, "choose") == 0;
        count->densities +=
            strcmp(command, "trust") == 0
                ? hold(cJSON_GetObjectItem(answer, "extinction_by_room"), density[1])
            : strcmp(command, "grade") == 0
                ? hold_shots(answer, "grades", "shot", NULL, density)
                : hold_shots(answer, "shots", "name", chooses ? "planned" : NULL, density);
        cJSON_Delete(answer);
    }
    count->alarms += first[0] != '\0';
    count->unlike += density[0][0] != density[0][1];
    remove(path);
}

static void every_command_has_the_same_haze(void **state) {
    (void)state;
    counts count = {0};
    for (uint64_t i = 0; i < SCENES; i++) {
        check_scene(FIRST + i, &count);
    }
    CHECK_TRUE(count.densities > 8 * SCENES);
    CHECK_TRUE(count.unlike > SCENES / 2 && count.planned > SCENES / 2);
    CHECK_TRUE(count.alarms > SCENES / 4 && count.alarms < SCENES);
    printf(
        "measured: %zu densities by room of %d scenes alike to six digits (%zu scenes with rooms "
        "that differ), the same alarms from %d commands, %zu scenes with any\n",
        count.densities, SCENES, count.unlike, COMMAND, count.alarms);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_command_has_the_same_haze),
    };
    return RUN_TESTS(tests);
}
