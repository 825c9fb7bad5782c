/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The library installed into a folder of its own, and the program of docs/library.md built against
 * it by pkg-config, shared and static: checked by the compiler, linker and pkg-config.
 */
#include "check.h"
#include "program.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define COMMAND_SIZE 8192

static char here[TESTS_PATH_SIZE], root[TESTS_PATH_SIZE];

static int run(const char *format, const char *a, const char *b) {
    char command[COMMAND_SIZE];
    int length = snprintf(command, sizeof command, format, a, b);
    CHECK_TRUE(length > 0 && length < (int)sizeof command);
    int status = system(command);
    if (status != 0) {
        fprintf(stderr, "failed: %s\n", command);
    }
    return status;
}

static void write_example(void) {
    size_t length;
    char *page = tests_file("../docs/library.md", &length);
    char *begin = strstr(page, "```c\n"), *end = begin ? strstr(begin + 5, "```") : NULL;
    CHECK_TRUE(begin && end);
    FILE *file = fopen("example.c", "w");
    CHECK_TRUE(file != NULL);
    fwrite(begin + 5, 1, (size_t)(end - begin - 5), file);
    CHECK_TRUE(fclose(file) == 0);
    free(page);
}

/* make takes its own variables from the environment where a test runs under it. */
#define MAKE "env -u MAKEFLAGS -u MAKELEVEL -u MFLAGS make -s -C '%s' "

static void install(void) {
    CHECK_TRUE(getcwd(here, sizeof here) != NULL);
    tests_path(root, "..");
    CHECK_TRUE(run("rm -rf '%s/stage'", here, "") == 0);
    CHECK_TRUE(run(MAKE "DESTDIR='%s/stage' PREFIX=/usr install > install.log 2>&1", root, here) ==
               0);
    write_example();
}

#define PC                                                                                         \
    "PKG_CONFIG_PATH='%s/stage/usr/lib/pkgconfig' PKG_CONFIG_SYSROOT_DIR='%s/stage' pkg-config "

static void check_output(const char *path) {
    size_t length;
    char *text = file_read(path, &length);
    CHECK_TRUE(text != NULL);
    CHECK_TRUE(strstr(text, "at 0.01 /m: veil ") != NULL);
    CHECK_TRUE(strstr(text, "\"command\": \"predict\"") || strstr(text, "\"command\":\"predict\""));
    /* 8 m at 0.04 /m: exp(-0.32) = 72.6 % (Lambert's law) in green, about that of all */
    CHECK_NEAR(program_number_after(text, "at 0.04 /m: veil "), 0.5, 0, 0.5);
    CHECK_NEAR(program_number_after(strstr(text, "at 0.04 /m"), "nits, "), 72.6, 0.02, 0);
    free(text);
}

static void the_example_runs_shared_and_static(void **state) {
    (void)state;
    install();
    CHECK_TRUE(run("cc -std=c11 -Wall -Wextra -Werror -o shared example.c $(" PC
                   "--cflags --libs veilstop) > shared.log 2>&1",
                   here, here) == 0);
    CHECK_TRUE(run("LD_LIBRARY_PATH='%s/stage/usr/lib' ./shared > shared.txt%s", here, "") == 0);
    check_output("shared.txt");
    /* the library itself static, whatever the rest is */
    CHECK_TRUE(run("cc -std=c11 -o static example.c $(" PC
                   "--cflags veilstop) stage/usr/lib/libveilstop.a $(pkg-config --libs gsl "
                   "libcjson) -lm > static.log 2>&1",
                   here, here) == 0);
    CHECK_TRUE(run("./static > static.txt && cmp shared.txt static.txt%s%s", "", "") == 0);
    CHECK_TRUE(run("c++ -std=c++17 -fsyntax-only -x c++ -include veilstop/veilstop.h $(" PC
                   "--cflags veilstop) /dev/null > cxx.log 2>&1",
                   here, here) == 0);
}

/* The shared object states its version and exports no names but those of the headers. */
static void names_are_those_of_the_headers(void **state) {
    (void)state;
    CHECK_TRUE(
        run("objdump -p stage/usr/lib/libveilstop.so | grep -q 'SONAME *libveilstop.so.0'%s%s", "",
            "") == 0);
    CHECK_TRUE(run("nm -D --defined-only stage/usr/lib/libveilstop.so > names.txt%s%s", "", "") ==
               0);
    CHECK_TRUE(run("grep -q ' vs_ask_open@@VEILSTOP_0' names.txt%s%s", "", "") == 0);
    CHECK_TRUE(run("! grep -vE ' (vs_[a-z0-9_]+@@VEILSTOP_0|VEILSTOP_0)$' names.txt%s%s", "", "") ==
               0);
    CHECK_TRUE(run("! grep -q vs_camera_setup_veils names.txt%s%s", "", "") == 0);
    CHECK_TRUE(run("! ldd stage/usr/lib/libveilstop.so | grep -q libpng%s%s", "", "") == 0);
}

static void nothing_is_left_behind(void **state) {
    (void)state;
    CHECK_TRUE(run("stage/usr/bin/veilstop --version | grep -q '^veilstop '%s%s", "", "") == 0);
    CHECK_TRUE(run(MAKE "DESTDIR='%s/stage' PREFIX=/usr uninstall", root, here) == 0);
    CHECK_TRUE(run("test -z \"$(find stage ! -type d)\"%s%s", "", "") == 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_example_runs_shared_and_static),
        cmocka_unit_test(names_are_those_of_the_headers),
        cmocka_unit_test(nothing_is_left_behind),
    };
    return RUN_TESTS(tests);
}
