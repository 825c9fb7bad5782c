/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The figures behind the cautions from three data files: limits.json, detectors.json, notices.json.
 * Read strictly; every figure must state its source and status. Form: docs/scene.md, "Figures for
 * the cautions". */
#ifndef VEILSTOP_SCENE_SAFETY_FILE_H
#define VEILSTOP_SCENE_SAFETY_FILE_H

#include "veilstop/base/error.h"
#include "veilstop/base/status.h"
#include "veilstop/safety/tables.h"
#include "veilstop/scene/file.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Owns what the tables borrow; they are valid until it is freed. */
typedef struct {
    vs_safety_tables tables;
    void *memory;
} vs_safety_file;

/** Reads the files.
 *  directory  of the user's own data files, which take precedence one by one; NULL for none
 *  files      where they come from, as for vs_data_init; NULL: the system's
 *  faults     gets the faults of the first file that has any
 *  path       out: that file's path; the caller frees it with free(); NULL on VS_OK and when memory
 *             runs out
 *  Errors: VS_ERR_INPUT with at least one fault, VS_ERR_FILE with one that says why, VS_ERR_MEMORY.
 *  Nothing else to free then.
 *  Checked: tests/unit/test_safety_file.c */
VS_WARN_UNUSED vs_status vs_safety_file_init(vs_safety_file *file, const char *directory,
                                             const vs_file_reader *files, vs_faults *faults,
                                             char **path);
/** Safe to call twice, or on a zeroed one. */
void vs_safety_file_free(vs_safety_file *file);

#ifdef __cplusplus
}
#endif
#endif
