/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Scenes in files of the project, and means for the library's front door (vs_ask): it reads such files
 * by their paths from the project's root, as a scene of data/demo names them. */
#ifndef VEILSTOP_TESTS_DEMO_H
#define VEILSTOP_TESTS_DEMO_H

#include "veilstop/ask/ask.h"
#include "veilstop/scene/scene_file.h"

extern const vs_ask_means demo_means;

/* Loads a scene by its path from the tests' folder; the caller frees it. */
void demo_scene(const char *name, vs_scene_file *file);

#endif
