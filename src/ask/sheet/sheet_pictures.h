/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The small pictures of the sheet. */
#ifndef VEILSTOP_ASK_SHEET_SHEET_PICTURES_H
#define VEILSTOP_ASK_SHEET_SHEET_PICTURES_H

#include "ask/context.h"
#include "veilstop/shot/predict.h"

typedef struct {
    unsigned char *bytes; /* a PNG; for free() */
    size_t length, width, height;
} vs_ask_sheet_png;

/* What a shot's camera sees in the shot's own haze, as a display shows it.
 *  predictor  of the scene, its open densities chosen; not to be asked by others meanwhile
 *  Errors: those of vs_held_rooms, vs_frame_open, vs_frame_render and of the caller's PNG. */
VS_WARN_UNUSED vs_status vs_ask_sheet_picture(vs_predictor *predictor, size_t shot,
                                              vs_ask_sheet_png *png);

#endif
