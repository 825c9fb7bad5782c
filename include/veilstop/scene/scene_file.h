/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A scene from a file: read strictly, every fault listed with its JSON pointer, nothing guessed.
 * The form of the file, each key's unit, range and default: docs/scene.md and
 * docs/scene.schema.json. */
#ifndef VEILSTOP_SCENE_SCENE_FILE_H
#define VEILSTOP_SCENE_SCENE_FILE_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/error.h"
#include "veilstop/base/status.h"
#include "veilstop/scene/file.h"
#include "veilstop/shot/scene.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Where to find the files that a scene names. Borrowed; any may be NULL. */
typedef struct {
    const char *data_directory;  /* searched before the data compiled in; NULL: only those */
    const char *scene_directory; /* photometry paths are relative to it; NULL: none can be read */
    const vs_file_reader
        *reader; /* of all these; NULL: the system's files. Must outlive the file */
} vs_scene_places;

/** Owns the scene's memory; the scene is valid until it is freed. */
typedef struct {
    vs_scene scene;
    void *memory;
} vs_scene_file;

/** Reads a scene from the bytes of its file.
 *  bytes   UTF-8 JSON, need not end in NUL, borrowed for the call
 *  places  may be NULL: only the data compiled in
 *  faults  gets all faults, up to VS_FAULT_MAX
 *  Errors: VS_ERR_INPUT with at least one fault, VS_ERR_FILE with one for each file named by the
 *  scene that cannot be read (and any other faults), VS_ERR_MEMORY. The file is then empty.
 *  Left out: faults that only calculation can find, such as a want that no density meets.
 *  Checked: tests/unit/test_scene_file.c, tests/cli/test_bad_scenes.c,
 *  tests/property/test_scene_bytes.c */
VS_WARN_UNUSED vs_status vs_scene_file_init(vs_scene_file *file, const char *bytes, size_t length,
                                            const vs_scene_places *places, vs_faults *faults);

/** Reads a scene from a file. Relative paths in it start from its own folder.
 *  data_directory  as in vs_scene_places, may be NULL
 *  Errors: those of vs_scene_file_init, and VS_ERR_FILE with one fault that says why. */
VS_WARN_UNUSED vs_status vs_scene_file_load(vs_scene_file *file, const char *path,
                                            const char *data_directory, vs_faults *faults);

/** The same scene with its uncertain numbers changed, read anew.
 *  from    borrowed for the call
 *  factor  each of the scene's uncertain numbers is multiplied by its own, in order
 *  faults  gets the faults of the changed file
 *  Errors: those of vs_scene_file_init. Like all readers here it is not thread-safe: the JSON
 *  library keeps its last error in a global.  Checked: tests/unit/test_scene_file.c */
VS_WARN_UNUSED vs_status vs_scene_file_vary(const vs_scene_file *from, const double *factor,
                                            vs_scene_file *file, vs_faults *faults);

/** Whether the file at a path is one the scene reads from: a photometry file, its fluid's file or
 *  another in its data directory. Compared by device and inode, so that links do not hide it.
 *  Checked: tests/cli/test_files.c */
bool vs_scene_file_reads(const vs_scene_file *file, const char *path);

/** Whether the number at a JSON pointer affects only how haze comes and goes (the hazer, air
 *  changes, losses, mixing, exchange), not light in haze of a given extinction. */
bool vs_scene_moves_air_alone(const char *pointer);

void vs_scene_file_free(vs_scene_file *file);

#ifdef __cplusplus
}
#endif
#endif
