/* Cautions told: the short ones that end every text answer, and the whole of them as text and JSON
 * (the contract's section 8). The words for alarms and for who decides are fixed. */
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

/** Short cautions where no density is at hand: breathing, detectors, exits, who decides. */
void vs_report_short_cautions(vs_text *out, const vs_scene *scene);

/** Short cautions for an answer's own densities: which detectors are reached, mass against the
 *  lowest limits, how far exits show.
 *  optics   what of it is NaN is told as not worked out, and an alarm is expected
 *  why_not  why there is such a figure, as a clause; NULL where all is known
 *  room_extinction_per_m  the thickest that the answer has in each room [1/m at 549 nm]
 *  Checked: tests/unit/test_cautions.c, tests/cli/test_cautions.c */
void vs_report_density_cautions(vs_text *out, const vs_style *style, const vs_scene *scene,
                                const vs_safety_tables *tables, const vs_caution_optics *optics,
                                const char *why_not, const double *room_extinction_per_m);

/** What the whole of the cautions is told from. Borrowed. */
typedef struct {
    const vs_scene *scene;
    const vs_safety_tables *tables;
    const vs_caution_optics *optics;
    const vs_day *day;
    const vs_cautions *cautions;
} vs_cautions_answer;

/** The whole: exposure, detectors, exits, clearing, checklist. At most VS_REPORT_COLUMNS wide. */
void vs_report_cautions_text(vs_text *out, const vs_style *style, const vs_cautions_answer *answer);

/** Writes the answer's keys into an open object: exposure, detectors, exits, notices, and what the
 *  contract leaves free (docs/scene.md). */
void vs_report_cautions_json(vs_json *json, const vs_cautions_answer *answer);

#ifdef __cplusplus
}
#endif
#endif
