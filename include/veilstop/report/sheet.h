/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The day on paper: two printed pages for the crew and one for the venue, as one HTML file that
 * loads nothing and runs nothing. Its content: docs/sheet.md. */
#ifndef VEILSTOP_REPORT_SHEET_H
#define VEILSTOP_REPORT_SHEET_H

#include "veilstop/report/cautions.h"
#include "veilstop/report/style.h"
#include "veilstop/shot/choose.h"
#include "veilstop/shot/dwell.h"
#include "veilstop/shot/grade.h"
#include "veilstop/shot/order.h"
#include "veilstop/shot/predict.h"
#include "veilstop/shot/want.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef enum { VS_PAPER_A4, VS_PAPER_LETTER } vs_paper;

/** What a shot's row is made from. Borrowed. */
typedef struct {
    const vs_shot_prediction *prediction;
    const vs_want_result *want;   /* one a want of the shot */
    const vs_shot_grade *grade;   /* NULL: there is none */
    const char *no_grade;         /* why, as a clause; NULL with a grade */
    const void *png;              /* the hazed picture's file; NULL: none */
    size_t png_length;            /* [bytes] */
    size_t png_width, png_height; /* [pixels] */
} vs_sheet_shot;

/** What the sheet is made from: the answers of choose, predict, dwell, grade and cautions.
 *  Borrowed. */
typedef struct {
    const char *title;
    const vs_scene *scene;       /* its open densities chosen */
    const vs_choices *choices;   /* every shot's */
    const vs_dwell *dwell;       /* NULL: the scene has no hazer, so no times are planned */
    double shorter_s;            /* [s] what the order of choose would save; NaN: nothing known */
    vs_cautions_answer cautions; /* of the same day */
    const vs_sheet_shot *shot;   /* one a shot of the scene */
    vs_paper paper;
} vs_sheet_answer;

/** Writes the file.
 *  style  its units; its colour is not looked at
 *  Every figure that the commands' JSON has is a `data` element: its value with the nine digits of
 *  the JSON, its place there in data-of ("predict/shots/0/density/extinction_per_m"; of grade: the
 *  shot's place in the scene, then the keys of its own answer).
 *  Checked: tests/cli/test_sheet.c, figure by figure against those answers. */
void vs_report_sheet(vs_text *out, const vs_style *style, const vs_sheet_answer *answer);

#ifdef __cplusplus
}
#endif
#endif
