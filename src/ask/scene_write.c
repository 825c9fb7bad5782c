/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "ask/scene_write.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>

#include "veilstop/scene/json.h"

bool vs_ask_edits_init(vs_ask_edits *edits, size_t size) {
    edits->edit = calloc(size + 1, sizeof *edits->edit);
    edits->pointer = calloc(size + 1, sizeof *edits->pointer);
    edits->count = 0;
    edits->size = size;
    bool good = edits->edit && edits->pointer;
    if (!good) {
        vs_ask_edits_free(edits);
    }
    return good;
}

void vs_ask_edits_free(vs_ask_edits *edits) {
    free(edits->edit);
    free(edits->pointer);
    edits->edit = NULL;
    edits->pointer = NULL;
}

void vs_ask_edits_add(vs_ask_edits *edits, double value, const char *pointer, ...) {
    va_list list;
    va_start(list, pointer);
    vsnprintf(edits->pointer[edits->count], VS_ASK_POINTER_SIZE, pointer, list);
    va_end(list);
    edits->edit[edits->count].pointer = edits->pointer[edits->count];
    edits->edit[edits->count++].value = value;
}

/* The edited text, if it still is a scene. */
static vs_exit check_scene(const vs_ask_args *args, const vs_ask_scene *scene, const char *bytes,
                           size_t length, const char *what) {
    vs_faults faults = {0};
    vs_scene_file file;
    char *folder = vs_file_folder(scene->path);
    if (!folder) {
        return vs_ask_fail_status(VS_ERR_MEMORY, what);
    }
    vs_scene_places places = {vs_ask_value(args, "data"), folder, vs_ask_files()};
    vs_status status = vs_scene_file_init(&file, bytes, length, &places, &faults);
    free(folder);
    if (status == VS_OK) {
        vs_scene_file_free(&file);
        return VS_EXIT_DONE;
    }
    return vs_faults_any(&faults) ? vs_ask_fail_faults(what, &faults)
                                  : vs_ask_fail_status(status, what);
}

vs_exit vs_ask_scene_write(const vs_ask_args *args, const vs_ask_scene *scene,
                           const vs_scene_edit *edit, size_t count, const char *what) {
    const char *path = vs_ask_value(args, "write");
    char *bytes, *edited = NULL;
    size_t length, edited_length;
    vs_status status = vs_ask_file_read(scene->path, VS_JSON_BYTES_MAX, &bytes, &length);
    if (status != VS_OK) {
        return vs_ask_fail_status(status, scene->path);
    }
    status = vs_scene_edit_numbers(bytes, length, edit, count, &edited, &edited_length);
    free(bytes);
    vs_exit code = status == VS_OK ? check_scene(args, scene, edited, edited_length, what)
                                   : vs_ask_fail_status(status, scene->path);
    if (code == VS_EXIT_DONE && vs_ask_file_write(path, edited, edited_length) != VS_OK) {
        code = vs_ask_fail_file(path, "written");
    }
    free(edited);
    return code;
}
