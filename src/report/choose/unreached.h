/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Wants out of reach. */
#ifndef VEILSTOP_REPORT_CHOOSE_UNREACHED_H
#define VEILSTOP_REPORT_CHOOSE_UNREACHED_H

#include "veilstop/report/choose.h"

/* Why no density meets want `want` of a choice: "door is hidden from camera A". */
void vs_report_unreached(vs_text *out, const vs_style *style, const vs_scene *scene,
                         const vs_choice *choice, size_t want);

#endif
