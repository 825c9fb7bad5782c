/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See demo.h. */
#include "demo.h"

#include <stdio.h>

#include "check.h"
#include "veilstop/scene/file.h"

static vs_status read_project_file(void *context, const char *path, size_t most, char **bytes,
                                   size_t *length) {
    char name[TESTS_PATH_SIZE], full[TESTS_PATH_SIZE];
    (void)context;
    snprintf(name, sizeof name, "../%s", path);
    tests_path(full, name);
    return vs_file_read_whole(full, most, bytes, length);
}

void demo_scene(const char *name, vs_scene_file *file) {
    char path[TESTS_PATH_SIZE];
    vs_faults faults = {0};
    tests_path(path, name);
    CHECK_OK(vs_scene_file_load(file, path, NULL, &faults));
}

const vs_ask_means demo_means = {.read = read_project_file};
