/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Points of the shot in photos. */
#ifndef VEILSTOP_CLI_STILL_STILL_POINTS_H
#define VEILSTOP_CLI_STILL_STILL_POINTS_H

#include "cli/still/still.h"

/* Reads each point's light off the photo. */
vs_exit vs_cli_still_read_points(vs_cli_still *s);

/* Reads the haze off the photo of --hazed and the points; they are read before. */
vs_exit vs_cli_still_read_haze(vs_cli_still *s);

/* Prints both, as text and as keys of an open object. */
void vs_cli_still_points_text(vs_text *out, const vs_cli_still *s);
void vs_cli_still_points_json(vs_json *json, const vs_cli_still *s);

#endif
