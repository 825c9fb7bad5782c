/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every file of tests/cli/bad through the real program: exit status 3 (4 if a file that it names is
 * missing), nothing on standard output, and on standard error exactly the contents of
 * NAME.expected. With VS_RENEW set the goldens are rewritten, to be read before they are kept. */
#include "check.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "program.h"

#define FEWEST_FILES 160

static int compare_names(const void *a, const void *b) {
    return strcmp(*(char *const *)a, *(char *const *)b);
}

/* The names in the folder that end in ".json", sorted, without it. */
static size_t list_names(const char *folder, char **name, size_t most) {
    DIR *listing = opendir(folder);
    size_t count = 0;
    assert_non_null(listing);
    for (struct dirent *entry; (entry = readdir(listing));) {
        size_t length = strlen(entry->d_name);
        if (length > 5 && strcmp(entry->d_name + length - 5, ".json") == 0) {
            CHECK_TRUE(count < most);
            name[count] = calloc(1, length);
            assert_non_null(name[count]);
            memcpy(name[count++], entry->d_name, length - 5);
        }
    }
    closedir(listing);
    qsort(name, count, sizeof *name, compare_names);
    return count;
}

static void renew(const char *path, const char *text) {
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    fputs(text, file);
    CHECK_TRUE(fclose(file) == 0);
}

/* True if the program says of this file exactly what its golden contains. */
static bool is_as_expected(const char *folder, const char *name) {
    char file[512], path[2048];
    snprintf(file, sizeof file, "%s.json", name);
    snprintf(path, sizeof path, "%s/%s.expected", folder, name);
    program_run_result got = program_run(folder, (const char *[]){"predict", file, NULL});
    if (getenv("VS_RENEW")) {
        renew(path, got.err);
    }
    char *want = file_read(path, NULL);
    int status = strstr(name, "_not_there") ? 4 : 3;
    bool same = want && strcmp(got.err, want) == 0 && got.out[0] == '\0' && got.status == status;
    if (!same) {
        print_error("%s: exit status %d, said\n%swant\n%s", name, got.status, got.err,
                    want ? want : "(no golden)\n");
    }
    free(want);
    program_free(&got);
    return same;
}

static void each_fault_has_its_exact_words(void **state) {
    (void)state;
    char folder[TESTS_PATH_SIZE], *name[400];
    tests_path(folder, "cli/bad");
    size_t count = list_names(folder, name, sizeof name / sizeof name[0]), wrong = 0;
    for (size_t i = 0; i < count; i++) {
        wrong += !is_as_expected(folder, name[i]);
        free(name[i]);
    }
    printf("measured: %zu bad scene files, each with its exact message\n", count);
    CHECK_TRUE(wrong == 0);
    CHECK_TRUE(count >= FEWEST_FILES);
}

/* Each line: "veilstop: FILE:PLACE: what would be right". */
static void messages_have_one_form(void **state) {
    (void)state;
    char folder[TESTS_PATH_SIZE], *name[400];
    tests_path(folder, "cli/bad");
    size_t count = list_names(folder, name, sizeof name / sizeof name[0]);
    for (size_t i = 0; i < count; i++) {
        char path[2048], start[512];
        snprintf(path, sizeof path, "%s/%s.expected", folder, name[i]);
        snprintf(start, sizeof start, "veilstop: %s.json:", name[i]);
        char *text = file_read(path, NULL), *save = NULL;
        assert_non_null(text);
        size_t lines = 0;
        for (char *line = strtok_r(text, "\n", &save); line; line = strtok_r(NULL, "\n", &save)) {
            CHECK_TRUE(strncmp(line, start, strlen(start)) == 0);
            CHECK_TRUE(strstr(line, "must ") || strstr(line, "unknown key") ||
                       strstr(line, ": and "));
            CHECK_TRUE(strlen(line) < 512);
            lines++;
        }
        CHECK_TRUE(lines >= 1 && lines <= 21);
        free(text);
        free(name[i]);
    }
}

/* Too big to keep in the tree: generated here. */
static void a_huge_file_is_refused(void **state) {
    (void)state;
    FILE *file = fopen("huge.json", "wb");
    assert_non_null(file);
    for (long i = 0; i < (5L << 20) / 16; i++) {
        fputs("[0, 1, 2, 3, 4]\n", file);
    }
    CHECK_TRUE(fclose(file) == 0);
    program_run_result got = program_run(".", (const char *[]){"predict", "huge.json", NULL});
    CHECK_TRUE(got.status == 3);
    assert_string_equal(
        got.err, "veilstop: huge.json: must be a file of at most 4 MiB (got a longer one)\n");
    program_free(&got);
}

static void a_missing_file_is_another_matter(void **state) {
    (void)state;
    program_run_result got = program_run(".", (const char *[]){"predict", "nothing.json", NULL});
    CHECK_TRUE(got.status == 4 && got.out[0] == '\0');
    assert_string_equal(got.err, "veilstop: nothing.json: must be a file that can be read (got: No "
                                 "such file or directory)\n");
    program_free(&got);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_fault_has_its_exact_words),
        cmocka_unit_test(messages_have_one_form),
        cmocka_unit_test(a_huge_file_is_refused),
        cmocka_unit_test(a_missing_file_is_another_matter),
    };
    return RUN_TESTS(tests);
}
