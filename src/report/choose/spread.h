/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The uncertainty of the answers. See veilstop/report/choose.h. */
#ifndef VEILSTOP_REPORT_CHOOSE_SPREAD_H
#define VEILSTOP_REPORT_CHOOSE_SPREAD_H

#include "veilstop/report/choose.h"

void vs_report_spread_text(vs_text *out, const vs_style *style, const vs_scene *scene,
                           const vs_choose_answer *answer);
void vs_report_spread_json(vs_json *json, const vs_scene *scene, const vs_choose_answer *answer);

#endif
