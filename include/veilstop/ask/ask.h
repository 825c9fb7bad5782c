/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The library's front door: a scene opened once and asked often, all in memory. It answers whatever
 * the command line answers, by the same code, and computes a camera's lines of sight light by
 * light. It reads no file, prints nothing and starts no thread: the caller may lend functions for
 * that. How to use it, with a complete program: docs/library.md */
#ifndef VEILSTOP_ASK_ASK_H
#define VEILSTOP_ASK_ASK_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/ask/means.h"
#include "veilstop/base/error.h"
#include "veilstop/base/status.h"
#include "veilstop/shot/rays.h"

#ifdef __cplusplus
extern "C" {
#endif

/** An open scene. One per thread. */
typedef struct {
    void *kept; /* opaque */
} vs_ask;

/** Opens a scene from its JSON text.
 *  text    UTF-8, `length` bytes, borrowed for the call
 *  name    names the scene in messages, and if it has no title: "cellar.json"
 *  means   borrowed; NULL: none
 *  faults  out: all faults of the text, up to VS_FAULT_MAX
 *  Errors: those of vs_scene_file_init and vs_predictor_init. Then there is nothing to close. */
VS_WARN_UNUSED vs_status vs_ask_open(vs_ask *ask, const char *text, size_t length, const char *name,
                                     const vs_ask_means *means, vs_faults *faults);

/** A handle for one more thread: it shares the scene of `first` and everything that no question
 *  changes, with its own settings. `first` must outlive it and must not be in use during this call.
 *  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_ask_open_beside(vs_ask *ask, const vs_ask *first);

/** Closes it; safe to call twice, or on a zeroed one. */
void vs_ask_close(vs_ask *ask);

/** Overrides a shot's settings in the file for everything asked from now on.
 *  shot                   its index
 *  room_extinction_per_m  at 549 nm, one per room, copied; NULL: as in the file
 *  dimmer                 0 to 1, one per light of vs_ask_scene_of, copied; NaN: as in the file;
 *                         NULL: all as in the file
 *  Errors: VS_ERR_DOMAIN, and nothing is changed. */
VS_WARN_UNUSED vs_status vs_ask_set(vs_ask *ask, size_t shot, const double *room_extinction_per_m,
                                    const double *dimmer);

/** The answer to a question. Owns its texts. */
typedef struct {
    vs_exit exit;
    char *text;    /* what the program prints: JSON with --json, else a table; not NULL on VS_OK */
    size_t length; /* of it */
    char
        *messages; /* what it writes to standard error: lines, "veilstop: ..."; not NULL on VS_OK */
} vs_ask_answer;

/** Answers a question as the command line does.
 *  word    the words after "veilstop", without the scene's name: {"predict", "--shot", "1 wide",
 *          "--json", NULL}; of predict, choose, dwell, grade, reading, cautions, trust, sheet and fluid;
 *          of still the camera of a photo whose size --size gives
 *  answer  out; free it on VS_OK. A question that cannot be answered gives VS_OK, an exit over
 *          VS_EXIT_UNMET and a message.
 *  Errors: VS_ERR_MEMORY.  Checked: tests/cli/test_ask.c: byte by byte what the program prints. */
VS_WARN_UNUSED vs_status vs_ask_command_run(vs_ask *ask, const char *const *word,
                                            vs_ask_answer *answer);
void vs_ask_answer_free(vs_ask_answer *answer);

/** Computes lines of sight of a shot's camera, at the densities and dimmers set.
 *  block, light  as for vs_rays_ask; columns of arrays by light: the scene's lights and one
 *  Errors: those of vs_rays_set and vs_rays_ask. */
VS_WARN_UNUSED vs_status vs_ask_rays(vs_ask *ask, size_t shot, const vs_rays_block *block,
                                     const vs_rays_light *light);

/** The surface that a number in vs_rays_light.surface stands for. */
vs_surface_seen vs_ask_surface(const vs_ask *ask, uint32_t surface);

/** The scene with its current settings: names, lights, rooms, shots. Borrowed. */
const vs_scene *vs_ask_scene_of(const vs_ask *ask);

#ifdef __cplusplus
}
#endif
#endif
