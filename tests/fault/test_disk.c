/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The disk is full when a command writes its files: it says so in one line and ends with 4, nothing
 * half written is left, and an older file of that name is unchanged. A limit on file size simulates
 * the full disk. */
#include "check.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "frame.h"
#include "program.h"
#include "veilstop/report/file_out.h"

#define OLD "what stood there before"

static void write_old(const char *name) {
    CHECK_OK(vs_file_write_whole(name, OLD, strlen(OLD)));
}

static size_t entries_here(void) {
    DIR *here = opendir(".");
    CHECK_TRUE(here != NULL);
    size_t count = 0;
    while (readdir(here)) {
        count++;
    }
    closedir(here);
    return count;
}

/* No file may be larger than `blocks` of 512 bytes: the command must fail to write FILE, which must
 * keep its contents. */
static void must_leave(const char *words, const char *file, int blocks) {
    write_old(file);
    size_t before = entries_here();
    char command[2048], says[128];
    /* A program built for coverage writes its counts elsewhere, as they would hit the limit too. */
    snprintf(command, sizeof command,
             "counts=$(mktemp -d); export GCOV_PREFIX=\"$counts\" GCOV_ERROR_FILE=/dev/null; "
             "said=$(trap '' XFSZ; ulimit -f %d; \"$VS_PROGRAM\" %s --json 2>&1 >/dev/null); "
             "code=$?; rm -rf \"$counts\"; printf '%%s\\n' \"$said\"; exit $code",
             blocks, words);
    snprintf(says, sizeof says, "veilstop: %s: ", file);
    program_run_result run = program_run_shell(".", command);
    const char *end = strchr(run.out, '\n');
    if (run.status != 4 || strncmp(run.out, says, strlen(says)) != 0 || !end || end[1]) {
        fail_msg("%s: exit status %d, said %s%s", words, run.status, run.out, run.err);
    }
    program_free(&run);
    char *kept = file_read(file, NULL);
    CHECK_TRUE(kept && strcmp(kept, OLD) == 0);
    free(kept);
    CHECK_TRUE(entries_here() == before);
    CHECK_TRUE(remove(file) == 0);
}

/* A command on a scene of the tests, its words after the scene. */
static void must_leave_of_scene(const char *command, const char *scene, const char *words,
                                const char *file, int blocks) {
    char path[TESTS_PATH_SIZE], all[1536];
    tests_path(path, scene);
    snprintf(all, sizeof all, "%s \"%s\" %s %s", command, path, words, file);
    must_leave(all, file, blocks);
}

static void grade_leaves_nothing_half_written(void **state) {
    (void)state;
    const char *scene = "cli/grade/hall.json";
    must_leave_of_scene("grade", scene, "--shot '1 log' --cdl", "a.cdl", 0);
    must_leave_of_scene("grade", scene, "--shot '1 log' --clf", "a.clf", 0);
    must_leave_of_scene("grade", scene, "--shot '1 log' --clf", "b.clf", 1);
    must_leave_of_scene("grade", scene, "--shot '2 video' --clf", "c.clf", 64); /* 1D tables */
}

static void pair_leaves_nothing_half_written(void **state) {
    (void)state;
    frame_write("clear.png", FRAME_WIDTH, 1, 0);
    frame_write("hazed.png", FRAME_WIDTH, 0.7, 0.03);
    must_leave("pair clear.png hazed.png --curve bt709 --cdl a.cdl", "a.cdl", 0);
    must_leave("pair clear.png hazed.png --curve bt709 --clf a.clf", "a.clf", 0);
    must_leave("pair clear.png hazed.png --curve bt709 --map a.png", "a.png", 0);
}

static void picture_leaves_nothing_half_written(void **state) {
    (void)state;
    const char *scene = "../data/demo/washroom.json";
    must_leave_of_scene("picture", scene, "--shot '1 bulb' --size 64x36 --out", "drawn.png", 0);
    must_leave_of_scene("picture", scene, "--shot '1 bulb' --size 64x36 --out", "drawn.png", 1);
    must_leave_of_scene("picture", scene, "--shot '1 bulb' --size 64x36 --exr", "drawn.exr", 1);
}

static void reading_leaves_nothing_half_written(void **state) {
    (void)state;
    must_leave_of_scene("reading", "cli/reading/plan.json", "--write", "fitted.json", 0);
    must_leave_of_scene("reading", "cli/reading/plan.json", "--write", "fitted.json", 1);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(grade_leaves_nothing_half_written),
        cmocka_unit_test(pair_leaves_nothing_half_written),
        cmocka_unit_test(picture_leaves_nothing_half_written),
        cmocka_unit_test(reading_leaves_nothing_half_written),
    };
    return RUN_TESTS(tests);
}
