/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whether two frames show one framing, and by how many whole pixels one is shifted. */
#ifndef VEILSTOP_PICTURE_PAIR_PAIR_MATCH_H
#define VEILSTOP_PICTURE_PAIR_PAIR_MATCH_H

#include "veilstop/base/status.h"
#include "veilstop/picture/pair.h"

/* Finds the shift, up to a quarter of the frame each way, at which the frames' edges agree best:
 * b(x + dx, y + dy) shows what a(x, y) shows; 0, 0 if none is clearly better, as in frames without
 * edges. Also whether they agree there and, if not, whether another zoom or a wider shift makes
 * them agree (another framing) or nothing does (another set).
 * Method: correlation of gradients, whose direction haze does not change, from thumbnails up.
 * Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_pair_find_match(const vs_picture *a, const vs_picture *b, int *dx,
                                            int *dy, vs_pair_match *match);

#endif
