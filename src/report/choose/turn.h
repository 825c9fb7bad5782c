/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The turned lamp. See veilstop/report/choose.h. */
#ifndef VEILSTOP_REPORT_CHOOSE_TURN_H
#define VEILSTOP_REPORT_CHOOSE_TURN_H

#include "veilstop/report/choose.h"

void vs_report_turn_text(vs_text *out, const vs_style *style, const vs_scene *scene,
                         const vs_turn *turn);
void vs_report_turn_json(vs_json *json, const vs_scene *scene, const vs_turn *turn);

#endif
