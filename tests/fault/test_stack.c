/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every command with a small stack: the first thread has what the shell allows, the others what the
 * program sets. 128 KiB is the default of musl, a C library for small systems (musl's own
 * documentation of its default thread stack size, from memory). */
#include "check.h"

#include <stdio.h>
#include <string.h>

#include "frame.h"
#include "program.h"

#if defined(__has_feature)
#define HAS_SANITIZER __has_feature(address_sanitizer)
#else
#define HAS_SANITIZER 0
#endif
#if defined(__SANITIZE_ADDRESS__) || HAS_SANITIZER
#define STACK_KIB 512 /* the sanitizer's frames are larger, and its own calls come on top */
#else
#define STACK_KIB 128
#endif

static size_t asked;

/* Exit statuses 0 and 1 are answers. */
static void answers(const char *words) {
    char command[2048];
    snprintf(command, sizeof command, "ulimit -s %d; cd \"$VS_TESTS\"/..; \"$VS_PROGRAM\" %s",
             STACK_KIB, words);
    program_run_result run = program_run_shell(".", command);
    if (run.status > 1) {
        fail_msg("%s: exit status %d, %s", words, run.status, run.err);
    }
    asked++;
    program_free(&run);
}

static void commands_of_a_scene(void **state) {
    (void)state;
    static const char *const scene[] = {"data/demo/cellar.json", "tests/cli/scenes/dark.json",
                                        "tests/cli/scenes/hall.json",
                                        "tests/cli/scenes/shed-feet.json"};
    static const char *const command[] = {"predict %s",  "predict %s --json", "choose %s",
                                          "cautions %s", "grade %s",          "grade %s --best"};
    for (size_t i = 0; i < sizeof scene / sizeof scene[0]; i++) {
        for (size_t k = 0; k < sizeof command / sizeof command[0]; k++) {
            char words[256];
            snprintf(words, sizeof words, command[k], scene[i]);
            answers(words);
        }
    }
}

static void the_other_commands(void **state) {
    (void)state;
    answers("dwell data/demo/cellar.json");
    answers("sheet data/demo/cellar.json");
    answers("choose data/demo/cellar.json --spread --samples 16");
    answers("choose data/demo/cellar.json --turn 'passage back'");
    answers("trust data/demo/cellar.json --shot '4 down the passage' --paths 1000");
    answers("reading tests/cli/reading/plan.json");
    answers("reading --distance 8m --clear 80,2.4 --hazed 60,9");
    answers("fluid glycol");
    answers("fluid data/fluids/oil.json --nm 900");
}

static void grades_and_frames(void **state) {
    (void)state;
    frame_write("clear.png", FRAME_WIDTH, 1, 0);
    frame_write("hazed.png", FRAME_WIDTH, 0.7, 0.03);
    answers("grade tests/cli/grade/hall.json --shot '2 video' --cdl \"$OLDPWD\"/a.cdl "
            "--clf \"$OLDPWD\"/a.clf");
    answers("pair \"$OLDPWD\"/clear.png \"$OLDPWD\"/hazed.png --curve bt709 "
            "--cdl \"$OLDPWD\"/b.cdl --clf \"$OLDPWD\"/b.clf --map \"$OLDPWD\"/map.png "
            "--matte \"$OLDPWD\"/matte.png");
    answers("picture data/demo/cellar.json --shot '1 wide' --size 64x36 "
            "--out \"$OLDPWD\"/drawn.png --exr \"$OLDPWD\"/drawn.exr");
    static const char *const made[] = {"drawn.png", "drawn.exr", "clear.png", "hazed.png",
                                       "a.cdl",     "a.clf",     "b.cdl",     "b.clf",
                                       "map.png",   "matte.png"};
    for (size_t i = 0; i < sizeof made / sizeof made[0]; i++) {
        CHECK_TRUE(remove(made[i]) == 0);
    }
    printf("measured: %zu command lines answered in %d KiB of stack\n", asked, STACK_KIB);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(commands_of_a_scene),
        cmocka_unit_test(the_other_commands),
        cmocka_unit_test(grades_and_frames),
    };
    return RUN_TESTS(tests);
}
