/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The choice as one screen that says what to do, and as JSON (docs/output.md). */
#ifndef VEILSTOP_REPORT_CHOOSE_H
#define VEILSTOP_REPORT_CHOOSE_H

#include <stddef.h>

#include "veilstop/report/json.h"
#include "veilstop/report/style.h"
#include "veilstop/report/text.h"
#include "veilstop/shot/choose.h"
#include "veilstop/shot/order.h"
#include "veilstop/shot/scene_with_densities.h"
#include "veilstop/shot/spread.h"
#include "veilstop/shot/turn.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Everything the command `choose` can say of a scene. Borrowed. */
typedef struct {
    const vs_choices *choices;
    size_t only;                    /* this shot alone; VS_NONE: all */
    const vs_order *order;          /* NULL: not asked for */
    const char *no_waits;           /* why the day's waits cannot be calculated; else NULL */
    const vs_spread_figure *spread; /* NULL: none */
    size_t spread_count, samples, left_out;
    const vs_turn *turn; /* NULL: none */
    size_t turn_count;
} vs_choose_answer;

/** What to do, then the spread and the turned lamp if present. No line over VS_REPORT_COLUMNS. */
void vs_report_choose_text(vs_text *out, const vs_style *style, const vs_scene *scene,
                           const vs_choose_answer *answer);

/** The answer's keys, into an open object. */
void vs_report_choose_json(vs_json *json, const vs_scene *scene, const vs_choose_answer *answer);

/** A line for each shot whose open density was chosen. */
void vs_report_chosen_density_text(vs_text *out, const vs_scene_with_densities *filled);
/** The same as the key "chosen" of an open object, [{"shot","extinction_per_m"}]; omitted if none
 *  was chosen. */
void vs_report_chosen_density_json(vs_json *json, const vs_scene_with_densities *filled);

#ifdef __cplusplus
}
#endif
#endif
