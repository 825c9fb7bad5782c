/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Readings as tables for people and as JSON for programs. */
#ifndef VEILSTOP_REPORT_READING_H
#define VEILSTOP_REPORT_READING_H

#include "veilstop/report/json.h"
#include "veilstop/report/style.h"
#include "veilstop/report/text.h"
#include "veilstop/shot/reading.h"

#ifdef __cplusplus
extern "C" {
#endif

/** One reading, without a scene. */
void vs_report_reading_text(vs_text *out, const vs_style *style, const vs_scene_reading *given,
                            const vs_reading *reading);
/** The same as an element of the answer's array "readings". */
void vs_report_reading_json(vs_json *json, const vs_scene_reading *given,
                            const vs_reading *reading);

/** All readings of a scene, what they say of rooms and hazer, the next top-up. */
void vs_report_readings_text(vs_text *out, const vs_style *style, const vs_scene *scene,
                             const vs_readings *readings);
/** The same as keys of an open object. */
void vs_report_readings_json(vs_json *json, const vs_scene *scene, const vs_readings *readings);

#ifdef __cplusplus
}
#endif
#endif
