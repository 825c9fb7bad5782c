/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Cautions in words: the short ones at the end of every text answer, and all of them as text and
 * JSON (docs/output.md). The words about alarms and about who decides are fixed. */
#ifndef VEILSTOP_REPORT_CAUTIONS_H
#define VEILSTOP_REPORT_CAUTIONS_H

#include "veilstop/report/json.h"
#include "veilstop/report/style.h"
#include "veilstop/report/text.h"
#include "veilstop/shot/cautions.h"
#include "veilstop/shot/scene.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Short cautions when no density is known: breathing, detectors, exits, who decides. */
void vs_report_short_cautions(vs_text *out, const vs_scene *scene);

/** Origin of the densities behind the cautions. */
typedef enum {
    VS_CAUTIONS_BY_PLAN,  /* peaks of the day's plan for the hazer */
    VS_CAUTIONS_BY_SHOTS, /* the densities of the scene's shots; there is no plan */
    VS_CAUTIONS_BY_ANSWER /* the densities that the answer shows, and no others */
} vs_cautions_basis;

/** The thickest haze of each room. */
typedef struct {
    const double *room_extinction_per_m; /* one per room [1/m at 549 nm]; borrowed */
    vs_cautions_basis basis;
} vs_cautions_peaks;

/** Short cautions for densities: detectors that are reached, mass against the lowest limits, how
 *  far exits can be seen, and whether by the day's plan or by the shots.
 *  optics   figures that are NaN are reported as unknown, with "expect an alarm"
 *  why_not  the reason for such a figure, as a clause; NULL if all are known
 *  Checked: tests/unit/test_cautions.c, tests/cli/test_cautions.c */
void vs_report_density_cautions(vs_text *out, const vs_style *style, const vs_scene *scene,
                                const vs_safety_tables *tables, const vs_caution_optics *optics,
                                const char *why_not, const vs_cautions_peaks *peaks);

/** The one line at the end of an answer about light alone, with the venue's detectors that the haze
 *  reaches, if there is a scene.
 *  scene  NULL: none, and tables, optics and peaks are ignored */
void vs_report_light_caution(vs_text *out, const vs_scene *scene, const vs_safety_tables *tables,
                             const vs_caution_optics *optics, const vs_cautions_peaks *peaks);

/** Writes into an open object `alarms`, the venue's detectors that are reached, and `alarms_from`:
 *  "plan", "shots" or "answer". */
void vs_report_alarms_json(vs_json *json, const vs_scene *scene, const vs_safety_tables *tables,
                           const vs_caution_optics *optics, const vs_cautions_peaks *peaks);

/** Everything the cautions are made from. Borrowed. */
typedef struct {
    const vs_scene *scene;
    const vs_safety_tables *tables;
    const vs_caution_optics *optics;
    const vs_day *day;
    const vs_cautions *cautions;
} vs_cautions_answer;

/** All of them: exposure, detectors, exits, clearing, checklist. At most VS_REPORT_COLUMNS wide. */
void vs_report_cautions_text(vs_text *out, const vs_style *style, const vs_cautions_answer *answer);

/** Writes the answer's keys into an open object: exposure, detectors, exits, notices
 *  (docs/output.md). */
void vs_report_cautions_json(vs_json *json, const vs_cautions_answer *answer);

#ifdef __cplusplus
}
#endif
#endif
