/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See written.h. */
#include "written.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "check.h"

/* A copy with " for '. */
static char *quoted(const char *text) {
    char *copy = calloc(1, strlen(text) + 1);
    assert_non_null(copy);
    for (size_t i = 0; text[i]; i++) {
        copy[i] = text[i] == '\'' ? '"' : text[i];
    }
    return copy;
}

void written_init(written_scene *w, const char *text) {
    vs_faults faults = {0};
    char *json = quoted(text);
    vs_status status = vs_scene_file_init(&w->file, json, strlen(json), NULL, &faults);
    for (size_t i = 0; i < faults.count; i++) {
        print_error("%s: %s\n", faults.item[i].where, faults.item[i].text);
    }
    free(json);
    CHECK_OK(status);
    CHECK_OK(vs_predictor_init(&w->predictor, &w->file.scene));
    CHECK_OK(vs_predict_shot(&w->predictor, 0, NULL, &w->shot));
}

void written_free(written_scene *w) {
    vs_shot_prediction_free(&w->shot);
    vs_predictor_free(&w->predictor);
    vs_scene_file_free(&w->file);
}

bool written_refused(const char *text, const char *pointer, const char *words) {
    vs_scene_file file;
    vs_faults faults = {0};
    char *json = quoted(text);
    vs_status status = vs_scene_file_init(&file, json, strlen(json), NULL, &faults);
    bool found = false;
    for (size_t i = 0; i < faults.count; i++) {
        found = found ||
                (strcmp(faults.item[i].where, pointer) == 0 && strstr(faults.item[i].text, words));
    }
    vs_scene_file_free(&file);
    free(json);
    return status == VS_ERR_INPUT && found;
}

double written_veil(const written_scene *w, size_t point) {
    return vs_bands_luminance(w->shot.point[point].veil_nits);
}

double written_clear(const written_scene *w, size_t point) {
    return vs_bands_luminance(w->shot.point[point].clear_nits);
}
