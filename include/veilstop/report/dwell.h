/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The day's plan for people (a run sheet with a curve) and as JSON (docs/output.md). */
#ifndef VEILSTOP_REPORT_DWELL_H
#define VEILSTOP_REPORT_DWELL_H

#include "veilstop/report/json.h"
#include "veilstop/report/style.h"
#include "veilstop/report/text.h"
#include "veilstop/shot/dwell.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Appends the run sheet: losses, what to do when (with clock times if the scene has a start),
 *  fluid, the density of each room over the day, and what cannot be done. At most VS_REPORT_COLUMNS
 *  wide.  scene  the one the plan was made from */
void vs_report_dwell_text(vs_text *out, const vs_style *style, const vs_scene *scene,
                          const vs_dwell *dwell);

/** Writes the answer's keys into an open object: rooms, shots, clear, fluid_ml, events, curve
 *  (docs/output.md). */
void vs_report_dwell_json(vs_json *json, const vs_scene *scene, const vs_dwell *dwell);

/** The same for a scene that wants haze but has no hazer: the rooms' losses, and that there is no
 *  plan.  dwell  a plan of clear air, for its rooms */
void vs_report_no_hazer_text(vs_text *out, const vs_style *style, const vs_scene *scene,
                             const vs_dwell *dwell);
void vs_report_no_hazer_json(vs_json *json, const vs_scene *scene, const vs_dwell *dwell);

#ifdef __cplusplus
}
#endif
#endif
