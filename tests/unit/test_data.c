/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Data files: compiled in, with a user's directory taking precedence. */
#include "check.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "veilstop/scene/data.h"
#include "veilstop/scene/file.h"

static void write_file(const char *path, const void *bytes, size_t length) {
    FILE *file = fopen(path, "wb");
    CHECK_TRUE(file != NULL);
    CHECK_TRUE(fwrite(bytes, 1, length, file) == length);
    CHECK_TRUE(fclose(file) == 0);
}

static void files_are_compiled_in_whole(void **state) {
    (void)state;
    CHECK_TRUE(vs_data_file_count >= 5);
    for (size_t i = 0; i < vs_data_file_count; i++) {
        const vs_data_file *file = &vs_data_files[i];
        vs_data data;
        CHECK_OK(vs_data_init(&data, NULL, file->name, NULL));
        CHECK_TRUE(data.bytes == file->bytes && data.length == file->length && !data.path);
        CHECK_TRUE(data.length > 2 && data.bytes[data.length] == '\0');
        CHECK_TRUE(strlen(data.bytes) == data.length);
        vs_data_free(&data);
        vs_data_free(&data);
    }
    vs_data data;
    CHECK_STATUS(vs_data_init(&data, NULL, "fluids/none.json", NULL), VS_ERR_INPUT);
    vs_data_free(&data);
}

static void a_directory_goes_first_file_by_file(void **state) {
    (void)state;
    CHECK_TRUE(mkdir("own", 0700) == 0 && mkdir("own/fluids", 0700) == 0);
    write_file("own/fluids/glycol.json", "{}", 2);
    vs_data data;
    CHECK_OK(vs_data_init(&data, "own", "fluids/glycol.json", NULL));
    CHECK_TRUE(data.length == 2 && strcmp(data.bytes, "{}") == 0);
    CHECK_TRUE(strcmp(data.path, "own/fluids/glycol.json") == 0);
    vs_data_free(&data);
    CHECK_OK(vs_data_init(&data, "own", "fluids/oil.json", NULL));
    CHECK_TRUE(data.length > 2 && !data.path);
    vs_data_free(&data);
}

static void what_cannot_be_read_is_an_error(void **state) {
    (void)state;
    vs_data data;
    /* a missing directory is reported, not ignored */
    CHECK_STATUS(vs_data_init(&data, "nowhere", "fluids/oil.json", NULL), VS_ERR_FILE);
    CHECK_TRUE(strcmp(data.path, "nowhere/") == 0);
    vs_data_free(&data);
    /* a directory in the place of the file */
    CHECK_TRUE(mkdir("odd", 0700) == 0 && mkdir("odd/fluids", 0700) == 0);
    CHECK_TRUE(mkdir("odd/fluids/oil.json", 0700) == 0);
    CHECK_STATUS(vs_data_init(&data, "odd", "fluids/oil.json", NULL), VS_ERR_FILE);
    vs_data_free(&data);
    /* a link that leads nowhere, as the file or on the way to it */
    CHECK_TRUE(mkdir("linked", 0700) == 0 && mkdir("linked/fluids", 0700) == 0);
    CHECK_TRUE(symlink("gone.json", "linked/fluids/oil.json") == 0);
    CHECK_STATUS(vs_data_init(&data, "linked", "fluids/oil.json", NULL), VS_ERR_FILE);
    CHECK_TRUE(errno == ENOENT && strcmp(data.path, "linked/fluids/oil.json") == 0);
    vs_data_free(&data);
    CHECK_TRUE(mkdir("far", 0700) == 0 && symlink("gone", "far/fluids") == 0);
    CHECK_STATUS(vs_data_init(&data, "far", "fluids/oil.json", NULL), VS_ERR_FILE);
    vs_data_free(&data);
    CHECK_OK(
        vs_data_init(&data, "far", "limits.json", NULL)); /* what is not behind it is ours still */
    vs_data_free(&data);
    /* names cannot lead out of the directory */
    write_file("outside.json", "{}", 2);
    CHECK_STATUS(vs_data_init(&data, "odd", "../outside.json", NULL), VS_ERR_INPUT);
    CHECK_STATUS(vs_data_init(&data, "odd", "/etc/hostname", NULL), VS_ERR_INPUT);
}

static void a_file_is_read_whole_or_not_at_all(void **state) {
    (void)state;
    char bytes[70000];
    for (size_t i = 0; i < sizeof bytes; i++) {
        bytes[i] = (char)(i * 37);
    }
    write_file("blob", bytes, sizeof bytes);
    char *got;
    size_t length;
    CHECK_OK(vs_file_read_whole("blob", sizeof bytes, &got, &length));
    CHECK_TRUE(length == sizeof bytes && memcmp(got, bytes, length) == 0 && got[length] == '\0');
    free(got);
    CHECK_STATUS(vs_file_read_whole("blob", sizeof bytes - 1, &got, &length), VS_ERR_FILE);
    CHECK_TRUE(errno == EFBIG && !got && length == 0);
    write_file("empty", bytes, 0);
    CHECK_OK(vs_file_read_whole("empty", 10, &got, &length));
    CHECK_TRUE(length == 0 && got[0] == '\0');
    free(got);
    CHECK_STATUS(vs_file_read_whole("absent", 10, &got, &length), VS_ERR_FILE);
    CHECK_TRUE(errno == ENOENT && !got);
    CHECK_STATUS(vs_file_read_whole(".", 10, &got, &length), VS_ERR_FILE);
    CHECK_TRUE(errno == EISDIR);
    /* a pipe without a writer: no waiting */
    CHECK_TRUE(mkfifo("pipe", 0600) == 0);
    CHECK_STATUS(vs_file_read_whole("pipe", 10, &got, &length), VS_ERR_FILE);
    CHECK_TRUE(errno == ENXIO);
    CHECK_STATUS(vs_file_read_whole("/dev/zero", 10, &got, &length), VS_ERR_FILE);
    CHECK_TRUE(errno == ENXIO);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(files_are_compiled_in_whole),
        cmocka_unit_test(a_directory_goes_first_file_by_file),
        cmocka_unit_test(what_cannot_be_read_is_an_error),
        cmocka_unit_test(a_file_is_read_whole_or_not_at_all),
    };
    return RUN_TESTS(tests);
}
