/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A shot's grade as a table for people and as JSON for programs (docs/output.md). */
#ifndef VEILSTOP_REPORT_GRADE_H
#define VEILSTOP_REPORT_GRADE_H

#include "veilstop/report/json.h"
#include "veilstop/report/style.h"
#include "veilstop/report/text.h"
#include "veilstop/shot/grade.h"

#ifdef __cplusplus
extern "C" {
#endif

/** The ten numbers of a CDL: as keys of an open object, as lines. */
void vs_report_cdl_json(vs_json *json, const vs_cdl *cdl);
void vs_report_cdl_text(vs_text *out, const vs_cdl *cdl);

void vs_report_grade_text(vs_text *out, const vs_style *style, const vs_scene *scene,
                          const vs_shot_prediction *prediction, const vs_shot_grade *grade);

/** A table of several grades of a camera's shot: its head, one line per grade. */
void vs_report_grade_head(vs_text *out, const vs_style *style, const vs_camera *camera);
void vs_report_grade_row(vs_text *out, const vs_shot_prediction *prediction,
                         const vs_shot_grade *grade);

/** The share of the haze that is best taken out: as a line, as a key of an open object. */
void vs_report_grade_best_text(vs_text *out, const vs_scene_shot *shot,
                               const vs_shot_grade_share *best);
void vs_report_grade_best_json(vs_json *json, const vs_scene_shot *shot,
                               const vs_shot_grade_share *best);

/** As keys of an open object. */
void vs_report_grade_json(vs_json *json, const vs_scene *scene,
                          const vs_shot_prediction *prediction, const vs_shot_grade *grade);

#ifdef __cplusplus
}
#endif
#endif
