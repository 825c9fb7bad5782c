/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A file appears whole or not at all, and nothing but a regular file is ever replaced by one. */
#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "check.h"
#include "veilstop/report/file_out.h"

static const char folder[] = "whole"; /* in the scratch folder that tests run in */

static const char *in_folder(const char *name) {
    static char path[2][512];
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

/* A link to a file that does not exist yet, relative to the link's own folder. */
static void a_link_ahead_of_its_file(void **state) {
    (void)state;
    assert_int_equal(symlink("ahead", in_folder("early")), 0);
    CHECK_OK(vs_file_write_whole(in_folder("early"), "there", 5));
    assert_int_equal(kind_of(in_folder("early")), S_IFLNK);
    expect_text(in_folder("ahead"), "there");
    assert_int_equal(symlink("round", in_folder("round")), 0);
    assert_int_equal(vs_file_write_whole(in_folder("round"), "x", 1), VS_ERR_FILE);
    assert_int_equal(errno, ELOOP);
}

/* Nothing waits for a reader: no pipe is opened. */
static void what_is_no_file_is_refused_at_once(void **state) {
    (void)state;
    const char *path = in_folder("pipe");
    assert_int_equal(mkfifo(path, 0600), 0);
    assert_int_equal(vs_file_write_whole(path, "x", 1), VS_ERR_FILE);
    assert_int_equal(errno, ENXIO);
    assert_int_equal(kind_of(path), S_IFIFO);
    assert_int_equal(vs_file_write_whole("/dev/null", "x", 1), VS_ERR_FILE);
    assert_int_equal(errno, ENXIO);
}

static struct stat look_at(const char *path) {
    struct stat there;
    assert_int_equal(stat(path, &there), 0);
    return there;
}

static void an_old_file_keeps_its_mode_and_owner(void **state) {
    (void)state;
    const char *path = in_folder("kept");
    CHECK_OK(vs_file_write_whole(path, "old", 3));
    assert_int_equal(chmod(path, 0640), 0);
    bool root = geteuid() == 0; /* only root may give a file away */
    assert_int_equal(root ? chown(path, 1, 2) : 0, 0);
    struct stat before = look_at(path);
    CHECK_OK(vs_file_write_whole(path, "new", 3));
    struct stat after = look_at(path);
    expect_text(path, "new");
    assert_int_equal(after.st_mode & 07777, 0640);
    assert_int_equal(after.st_uid, before.st_uid);
    assert_int_equal(after.st_gid, before.st_gid);
    assert_int_equal(chmod(path, 0666), 0); /* wider than the usual umask */
    CHECK_OK(vs_file_write_whole(path, "2nd", 3));
    assert_int_equal(look_at(path).st_mode & 07777, 0666);
}

static void a_read_only_file_is_not_replaced(void **state) {
    (void)state;
    const char *path = in_folder("locked");
    CHECK_OK(vs_file_write_whole(path, "old", 3));
    assert_int_equal(chmod(path, 0444), 0);
    assert_int_equal(vs_file_write_whole(path, "new", 3), VS_ERR_FILE);
    assert_int_equal(errno, EACCES);
    expect_text(path, "old");
}

static void a_file_of_two_names_is_not_torn_in_two(void **state) {
    (void)state;
    CHECK_OK(vs_file_write_whole(in_folder("one"), "old", 3));
    assert_int_equal(link(in_folder("one"), in_folder("two")), 0);
    assert_int_equal(vs_file_write_whole(in_folder("one"), "new", 3), VS_ERR_FILE);
    assert_int_equal(errno, EMLINK);
    expect_text(in_folder("one"), "old");
    expect_text(in_folder("two"), "old");
}

/* Names of 255 bytes must work: the temporary file's is no longer. A file that another run left
 * under the temporary name is neither used nor in the way. */
static void the_neighbour_has_a_short_name_of_its_own(void **state) {
    (void)state;
    char name[256], other[64];
    memset(name, 'n', 255);
    name[255] = '\0';
    snprintf(other, sizeof other, "veilstop-%ld-0.part", (long)getpid());
    CHECK_OK(vs_file_write_whole(in_folder("made"), "left", 4));
    assert_int_equal(rename(in_folder("made"), in_folder(other)), 0);
    CHECK_OK(vs_file_write_whole(in_folder(name), "long", 4));
    expect_text(in_folder(name), "long");
    expect_text(in_folder(other), "left");
    assert_int_equal(remove(in_folder(name)) + remove(in_folder(other)), 0);
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

/* The folder must contain only what the tests made: no temporary file is left. */
static int remove_folder(void **state) {
    (void)state;
    static const char *const made[] = {"new",   "link", "target", "pipe", "early", "ahead",
                                       "round", "kept", "locked", "one",  "two"};
    for (size_t i = 0; i < sizeof made / sizeof made[0]; i++) {
        remove(in_folder(made[i]));
    }
    return rmdir(folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_new_file_and_an_old_one),
        cmocka_unit_test(a_link_stays_and_its_file_is_written),
        cmocka_unit_test(a_link_ahead_of_its_file),
        cmocka_unit_test(what_is_no_file_is_refused_at_once),
        cmocka_unit_test(an_old_file_keeps_its_mode_and_owner),
        cmocka_unit_test(a_read_only_file_is_not_replaced),
        cmocka_unit_test(a_file_of_two_names_is_not_torn_in_two),
        cmocka_unit_test(the_neighbour_has_a_short_name_of_its_own),
        cmocka_unit_test(what_cannot_be_written_leaves_nothing),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
