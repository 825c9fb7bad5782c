/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Prediction and random walks side by side, as a table for people and as JSON. */
#ifndef VEILSTOP_REPORT_TRUST_H
#define VEILSTOP_REPORT_TRUST_H

#include "veilstop/report/json.h"
#include "veilstop/report/style.h"
#include "veilstop/report/text.h"
#include "veilstop/shot/trust.h"

#ifdef __cplusplus
extern "C" {
#endif

/** The table of a finished test. No line over VS_REPORT_COLUMNS. */
void vs_report_trust_text(vs_text *out, const vs_style *style, const vs_scene *scene,
                          const vs_trust *trust);

/** Its keys in the open JSON object: shot, paths, points, beams, notices. */
void vs_report_trust_json(vs_json *json, const vs_scene *scene, const vs_trust *trust);

#ifdef __cplusplus
}
#endif
#endif
