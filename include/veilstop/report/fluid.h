/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A fluid's haze, as a table for people and as JSON. */
#ifndef VEILSTOP_REPORT_FLUID_H
#define VEILSTOP_REPORT_FLUID_H

#include "veilstop/report/json.h"
#include "veilstop/report/style.h"
#include "veilstop/shot/fluid.h"

#ifdef __cplusplus
extern "C" {
#endif

/** What is printed beside the figures. Borrowed. */
typedef struct {
    const char *name;
    const char *title;             /* NULL: none */
    const vs_fluid_source *source; /* source_count of them */
    size_t source_count;
} vs_fluid_label;

/** The table, without the cautions under it. */
void vs_report_fluid_text(vs_text *out, const vs_style *style, const vs_fluid_label *label,
                          const vs_fluid_answer *answer);

/** One object: command, fluid, bands with their phase functions, derived figures, sources. */
void vs_report_fluid_json(vs_json *json, const vs_fluid_label *label,
                          const vs_fluid_answer *answer);

#ifdef __cplusplus
}
#endif
#endif
