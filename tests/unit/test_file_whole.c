/* A file appears whole or not at all, and nothing that is no file is ever replaced by one. */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "check.h"
#include "veilstop/report/text.h"

static const char folder[] = "whole"; /* in the scratch folder that tests run in */

static const char *in_folder(const char *name) {
    static char path[2][256];
    static int turn;
    turn = !turn;
    snprintf(path[turn], sizeof path[turn], "%s/%s", folder, name);
    return path[turn];
}

static void expect_text(const char *path, const char *want) {
    char got[64] = "";
    FILE *file = fopen(path, "rb");
    assert_non_null(file);
    size_t length = fread(got, 1, sizeof got - 1, file);
    assert_int_equal(fclose(file), 0);
    assert_int_equal(length, strlen(want));
    assert_string_equal(got, want);
}

static mode_t kind_of(const char *path) {
    struct stat there;
    assert_int_equal(lstat(path, &there), 0);
    return there.st_mode & S_IFMT;
}

static void a_new_file_and_an_old_one(void **state) {
    (void)state;
    const char *path = in_folder("new");
    CHECK_OK(vs_file_write_whole(path, "first", 5));
    expect_text(path, "first");
    CHECK_OK(vs_file_write_whole(path, "2nd", 3));
    expect_text(path, "2nd");
}

static void a_link_stays_and_its_file_is_written(void **state) {
    (void)state;
    const char *target = in_folder("target"), *link = in_folder("link");
    CHECK_OK(vs_file_write_whole(target, "old", 3));
    assert_int_equal(symlink("target", link), 0);
    CHECK_OK(vs_file_write_whole(link, "new", 3));
    assert_int_equal(kind_of(link), S_IFLNK);
    expect_text(target, "new");
}

static void a_pipe_is_written_into(void **state) {
    (void)state;
    const char *path = in_folder("pipe");
    char got[8] = "";
    assert_int_equal(mkfifo(path, 0600), 0);
    int reader = open(path, O_RDONLY | O_NONBLOCK);
    assert_true(reader >= 0);
    CHECK_OK(vs_file_write_whole(path, "through", 7));
    assert_int_equal(read(reader, got, 7), 7);
    assert_string_equal(got, "through");
    assert_int_equal(close(reader), 0);
    assert_int_equal(kind_of(path), S_IFIFO);
}

static void what_cannot_be_written_leaves_nothing(void **state) {
    (void)state;
    assert_int_equal(vs_file_write_whole(in_folder("none/file"), "x", 1), VS_ERR_FILE);
    assert_int_equal(errno, ENOENT);
    assert_int_equal(mkdir(in_folder("folder"), 0700), 0);
    assert_int_equal(vs_file_write_whole(in_folder("folder"), "x", 1), VS_ERR_FILE);
    assert_int_equal(errno, EISDIR);
    assert_int_equal(rmdir(in_folder("folder")), 0);
}

static int make_folder(void **state) {
    (void)state;
    return mkdir(folder, 0700);
}

/* The folder must hold nothing but what the tests made: no neighbour of a file is left. */
static int remove_folder(void **state) {
    (void)state;
    static const char *const made[] = {"new", "link", "target", "pipe"};
    for (size_t i = 0; i < sizeof made / sizeof made[0]; i++) {
        remove(in_folder(made[i]));
    }
    return rmdir(folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_new_file_and_an_old_one),
        cmocka_unit_test(a_link_stays_and_its_file_is_written),
        cmocka_unit_test(a_pipe_is_written_into),
        cmocka_unit_test(what_cannot_be_written_leaves_nothing),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
