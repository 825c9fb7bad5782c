/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A prediction as a table for people and as JSON for programs (docs/output.md). */
#ifndef VEILSTOP_REPORT_PREDICT_H
#define VEILSTOP_REPORT_PREDICT_H

#include <stddef.h>

#include "veilstop/report/json.h"
#include "veilstop/report/style.h"
#include "veilstop/report/text.h"
#include "veilstop/shot/predict.h"
#include "veilstop/shot/want.h"

#ifdef __cplusplus
extern "C" {
#endif

/** One shot's prediction and how it meets the shot's wants. Borrowed. */
typedef struct {
    const vs_shot_prediction *prediction;
    const vs_want_result *want; /* one per want of the shot */
} vs_predict_answer;

/** The table of one shot, what the crew sets and sees first. No line over VS_REPORT_COLUMNS. */
void vs_report_predict_text(vs_text *out, const vs_style *style, const vs_scene *scene,
                            const vs_predict_answer *answer);

/** One shot as an element of the answer's array "shots". */
void vs_report_predict_json(vs_json *json, const vs_scene *scene, const vs_predict_answer *answer);

/** What a user should know about a prediction beyond its figures: appends notice number i and
 *  returns true, or returns false if there are no more. If memory runs out `out` notes it, whatever
 *  is returned. */
bool vs_report_predict_notice(vs_text *out, const vs_style *style, const vs_scene *scene,
                              const vs_shot_prediction *prediction, size_t i);

/** How a beam reads: "no", "barely", "soft", "clear", "strong". */
const char *vs_report_reads_word(vs_reads reads);
/** The same for people: "not seen" instead of "no". */
const char *vs_report_beam_word(vs_reads reads);

/** What a want asks for, in words: "face / far wall lose at most 0.5 stops". */
void vs_report_want(vs_text *out, const vs_style *style, const vs_scene *scene,
                    const vs_scene_shot *shot, const vs_scene_want *want);

/** A want in short: "black at face". */
void vs_report_want_subject(vs_text *out, const vs_scene *scene, const vs_scene_shot *shot,
                            const vs_scene_want *want);

/** A value in the unit of a want's limit, with that unit. */
void vs_report_want_value(vs_text *out, const vs_style *style, const vs_scene_want *want,
                          double value);

/** The unit of a kind's limit and values, for people: "stops", "%", "m" or "ft", "deg". */
const char *vs_report_want_unit(const vs_style *style, vs_want_kind kind);

/** A value or limit of a kind in that unit. */
double vs_report_want_figure(const vs_style *style, vs_want_kind kind, double value);

/** The key of a want's kind in a scene file. */
const char *vs_report_want_name(vs_want_kind kind);

#ifdef __cplusplus
}
#endif
#endif
