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

/** Where files lie that a scene names. Borrowed; either may be NULL. */
typedef struct {
    const char *data_directory;  /* looked in before the data compiled in; NULL: only those */
    const char *scene_directory; /* photometry files are relative to it; NULL: none can be read */
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
 *  places  may be NULL: no files but the data compiled in
 *  faults  gets all that is wrong, up to VS_FAULT_MAX
 *  Errors: VS_ERR_INPUT with at least one fault, VS_ERR_FILE with one for each file that the scene
 *  names and that cannot be read (and what else is wrong), VS_ERR_MEMORY. The file is empty then.
 *  Left out: what can only be known by calculating, such as a want that no density meets.
 *  Checked: tests/unit/test_scene_file.c, tests/cli/test_bad_scenes.c,
 *  tests/property/test_scene_bytes.c */
VS_WARN_UNUSED vs_status vs_scene_file_init(vs_scene_file *file, const char *bytes, size_t length,
                                            const vs_scene_places *places, vs_faults *faults);

/** Reads a scene from a file. Places relative to it are those of its own folder.
 *  data_directory  as in vs_scene_places, may be NULL
 *  Errors: those of vs_scene_file_init, and VS_ERR_FILE with one fault that says why. */
VS_WARN_UNUSED vs_status vs_scene_file_load(vs_scene_file *file, const char *path,
                                            const char *data_directory, vs_faults *faults);

/** The same scene with its uncertain numbers changed, read anew.
 *  from    borrowed for the call
 *  factor  each of the scene's uncertain numbers is multiplied by its own, in order
 *  faults  gets what makes the changed file no scene
 *  Errors: as of vs_scene_file_init. Like all readers here it is not thread-safe: the JSON library
 *  keeps its last error in one place.  Checked: tests/unit/test_scene_file.c */
VS_WARN_UNUSED vs_status vs_scene_file_vary(const vs_scene_file *from, const double *factor,
                                            vs_scene_file *file, vs_faults *faults);

/** Whether the file at a path is one that the scene takes figures from: a photometry file, its
 *  fluid's or another of its own data directory. By device and inode, so that links do not hide it.
 *  Checked: tests/cli/test_files.c */
bool vs_scene_file_reads(const vs_scene_file *file, const char *path);

/** Whether the number at a JSON pointer changes only how haze comes and goes (the hazer, air
 *  changes, losses, mixing, exchange), not what light does in haze of a given extinction. */
bool vs_scene_moves_air_alone(const char *pointer);

void vs_scene_file_free(vs_scene_file *file);

#ifdef __cplusplus
}
#endif
#endif
