/* SPDX-License-Identifier: GPL-3.0-or-later */
/* docs/scene.schema.json against the reader, by a validator of JSON Schema: what the reader accepts
 * is valid by the schema, and most of what it refuses is not (the rest is what a schema cannot
 * express: names that exist, rooms that do not overlap). */
#include "check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "program.h"
#include "veilstop/scene/scene_file.h"

#define TAKEN_FEWEST 30 /* of the tests' scenes */
#define SHAPE_FEWEST 80 /* bad scenes that the schema refuses */

static vs_status read_scene(const char *path) {
    char *bytes, folder[TESTS_PATH_SIZE];
    size_t length;
    vs_scene_file file;
    vs_faults faults = {0};
    snprintf(folder, sizeof folder, "%s", path);
    *strrchr(folder, '/') = '\0';
    vs_scene_places places = {.scene_directory = folder};
    bytes = file_read(path, &length);
    CHECK_TRUE(bytes != NULL);
    vs_status status = vs_scene_file_init(&file, bytes, length, &places, &faults);
    vs_scene_file_free(&file);
    free(bytes);
    return status;
}

static void the_schema_takes_what_the_reader_takes(void **state) {
    (void)state;
    /* the system's own Python has the validator even if another one earlier in PATH does not */
    program_run_result run = program_run_shell(
        NULL,
        "for p in python3 /usr/bin/python3; do $p -c 'import jsonschema' 2>/dev/null && break; "
        "done; $p tests/outside/schema.py docs/scene.schema.json \"$VS_TESTS\"/cli "
        "\"$VS_TESTS\"/../data/demo");
    if (run.status != 0) {
        fail_msg("%s", run.err);
    }
    size_t taken = 0, shape = 0, beyond = 0, wrong = 0;
    for (char *line = strtok(run.out, "\n"); line; line = strtok(NULL, "\n")) {
        char *path = strchr(line, ' ');
        CHECK_TRUE(path != NULL);
        *path++ = '\0';
        bool reads = read_scene(path) == VS_OK, fits = strcmp(line, "ok") == 0;
        if (reads && !fits) {
            print_error("%s: the reader takes it, the schema does not (%s)\n", path, line);
            wrong++;
        }
        taken += reads;
        shape += !reads && strcmp(line, "shape") == 0;
        beyond += !reads && fits;
    }
    printf("measured: %zu scenes taken by reader and schema, %zu refused by both for their shape, "
           "%zu by the reader alone\n",
           taken, shape, beyond);
    CHECK_TRUE(wrong == 0);
    CHECK_TRUE(taken >= TAKEN_FEWEST && shape >= SHAPE_FEWEST);
    program_free(&run);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_schema_takes_what_the_reader_takes),
    };
    return RUN_TESTS(tests);
}
