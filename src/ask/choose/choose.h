/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The slower parts of the command choose. */
#ifndef VEILSTOP_ASK_CHOOSE_CHOOSE_H
#define VEILSTOP_ASK_CHOOSE_CHOOSE_H

#include "ask/scene_args.h"
#include "veilstop/report/choose.h"

/* Samples the uncertain numbers of a scene on all cores and summarises the results.
 * haze     of the scene
 * answer   has choices and order; its spread and counts of samples are set
 * figures  out, the spread, to be freed
 * Anything but VS_EXIT_DONE comes after a message. */
vs_exit vs_ask_choose_spread(const vs_ask_scene *scene, const vs_haze *haze, size_t samples,
                             vs_choose_answer *answer, vs_spread_figure **figures);

#endif
