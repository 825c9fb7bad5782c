/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lights of kind photometry. */
#ifndef VEILSTOP_SCENE_PARTS_READ_PHOTOMETRY_H
#define VEILSTOP_SCENE_PARTS_READ_PHOTOMETRY_H

#include "scene/reader.h"

/* The file and roll of a light whose place has been read. */
void vs_scene_read_photometry(vs_scene_reader *reader, const vs_json_value *value, vs_light *light);

/* The path of a file named in a scene: as it is if absolute, otherwise relative to the scene's
 * folder. NULL when memory runs out. Caller frees. */
char *vs_scene_path_of(const char *folder, const char *name);

#endif
