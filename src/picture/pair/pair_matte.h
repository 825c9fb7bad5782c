/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A map of transmission between two frames, for haze that varies over the frame. */
#ifndef VEILSTOP_PICTURE_PAIR_PAIR_MATTE_H
#define VEILSTOP_PICTURE_PAIR_PAIR_MATTE_H

#include "picture/pair/pair_blocks.h"
#include "veilstop/camera/curve.h"
#include "veilstop/picture/pair.h"

/* Fills `matte`, of the frames' size in 16 bits, code 65535 = 1, equal in all channels, and the
 * pair's source and error_matte.
 *  linear  scene-linear light of each code value
 *  Assumes haze of one colour and brightness S throughout, of varying thickness: hazed = clear t +
 *  S (1 - t).
 *  Method: given S, t by least squares over windows of blocks, drawn towards a wider window's where
 *  the window is as bright as the haze itself; S by minimising the remaining error, for all bands
 *  together and for each alone (Brent); blocks that fit badly (moved objects) are weighted down by
 *  the biweight. Then a
 * guided filter (He, Sun, Tang 2013, IEEE TPAMI 35, 1397; on blocks as in He & Sun 2015) with the
 * clear frame as guide: smooth, but with its edges. Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_pair_draw_matte(const vs_pair_blocks *blocks,
                                            const vs_pair_frames *frames, const vs_curve *curve,
                                            const float *linear, vs_pair *pair, vs_picture *matte);

#endif
