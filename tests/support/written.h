/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A scene from its text, and one shot of it predicted: for tests that compare two ways of writing
 * the same thing. */
#ifndef VEILSTOP_TESTS_WRITTEN_H
#define VEILSTOP_TESTS_WRITTEN_H

#include "veilstop/scene/scene_file.h"
#include "veilstop/shot/predict.h"

typedef struct {
    vs_scene_file file;
    vs_predictor predictor;
    vs_shot_prediction shot; /* the first, at its own density */
} written_scene;

/* The text with ' in place of "; fails the test on any fault. */
void written_init(written_scene *w, const char *text);
void written_free(written_scene *w);
/* Whether the text is refused at a JSON pointer, with a fault that contains `words`. */
bool written_refused(const char *text, const char *pointer, const char *words);

/* Luminance of a point's veil, and of the point itself without haze [cd/m2]. */
double written_veil(const written_scene *w, size_t point);
double written_clear(const written_scene *w, size_t point);

#endif
