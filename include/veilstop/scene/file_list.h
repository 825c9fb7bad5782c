/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Files held in memory, for systems without files: a reader over a list of them. */
#ifndef VEILSTOP_SCENE_FILE_LIST_H
#define VEILSTOP_SCENE_FILE_LIST_H

#include <stddef.h>

#include "veilstop/scene/file.h"

#ifdef __cplusplus
extern "C" {
#endif

/** One file. Borrowed. */
typedef struct {
    const char *path;
    const char *bytes;
    size_t length;
} vs_listed_file;

/** All the files there are. With none, every read fails as for a missing file. */
typedef struct {
    const vs_listed_file *file;
    size_t count;
} vs_file_list;

/** A reader of the list, which must outlive it.  Checked: tests/unit/test_file_list.c */
vs_file_reader vs_file_list_reader(const vs_file_list *list);

#ifdef __cplusplus
}
#endif
#endif
