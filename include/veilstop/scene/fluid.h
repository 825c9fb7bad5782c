/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Fluids from files: an object in a scene, a file of its own, or the name of a data file. Form:
 * docs/scene.md, "Fluids". */
#ifndef VEILSTOP_SCENE_FLUID_H
#define VEILSTOP_SCENE_FLUID_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/error.h"
#include "veilstop/base/status.h"
#include "veilstop/optics/haze.h"
#include "veilstop/scene/file.h"
#include "veilstop/scene/json.h"
#include "veilstop/shot/fluid.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_FLUID_DEFAULT_NAME "glycol" /* used if a scene names no fluid */

/** Reads a fluid object: Mie droplets or a measured haze.
 *  value  the expected object; faults go to its list, with pointers below its own
 *  fluid  out; complete and within the ranges of haze.h only if true is returned. Borrows no text:
 *         its name is NULL, and the document may be freed.
 *  Left out: the texts under "title" and "sources", which the two functions below read.
 *  Checked: tests/unit/test_fluid.c */
VS_WARN_UNUSED bool vs_fluid_read(const vs_json_value *value, vs_fluid *fluid);

/** Reads a scene's fluid: the name of a data file, an object, or nothing, which means
 *  VS_FLUID_DEFAULT_NAME.
 *  directory  of the user's own data files, which take precedence; NULL for none
 *  fluid      out, as above; its name is the text in the scene's document, or VS_FLUID_DEFAULT_NAME
 *  Errors: VS_ERR_INPUT with at least one fault at the value, VS_ERR_FILE with one if the data file
 *  cannot be read, VS_ERR_MEMORY.
 *  Checked: tests/unit/test_fluid.c */
VS_WARN_UNUSED vs_status vs_fluid_resolve(const vs_json_value *value, const char *directory,
                                          const vs_file_reader *files, vs_fluid *fluid);

/** A fluid's data sheet: its figures and the source of each. Owns the texts. */
typedef struct {
    vs_fluid fluid;
    const char *title;             /* NULL: none given */
    const vs_fluid_source *source; /* source_count of them */
    size_t source_count;
    vs_json_document document; /* owned */
    void *memory;              /* owned */
} vs_fluid_sheet;

/** Reads a data sheet: a fluid object as a JSON text.
 *  name            of the fluid, kept as fluid.name: borrowed for the sheet's life
 *  sources_needed  whether each figure must have a source, as in the data files compiled in
 *  faults          gets what is wrong
 *  Errors: VS_ERR_INPUT with at least one fault, VS_ERR_MEMORY. Nothing to free on error.
 *  Checked: tests/unit/test_fluid.c */
VS_WARN_UNUSED vs_status vs_fluid_sheet_init(vs_fluid_sheet *sheet, const char *name,
                                             const char *bytes, size_t length, bool sources_needed,
                                             vs_faults *faults);
/** Safe to call twice, or on a zeroed one. */
void vs_fluid_sheet_free(vs_fluid_sheet *sheet);

#define VS_FLUID_PATH_SIZE 96 /* [bytes] our choice */

/** The data file of a fluid's name, "fluids/NAME.json"; false if no fluid can have that name. */
bool vs_fluid_path(const char *name, char path[VS_FLUID_PATH_SIZE]);
/** A hint for a name that no fluid has: 'did you mean "glycol"?' or 'one of glycerol, ...'. */
void vs_fluid_name_advice(const char *name, char *text, size_t size);

#ifdef __cplusplus
}
#endif
#endif
