/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Places for the words of a drawing, so that they do not cover one another. */
#ifndef VEILSTOP_REPORT_SHEET_LABELS_H
#define VEILSTOP_REPORT_SHEET_LABELS_H

#include <stddef.h>

#define VS_SHEET_LABELS_MAX 256 /* remembered; later ones may cover others */

typedef struct {
    double x, y, width, height; /* x, y: the lower left corner, where letters begin */
} vs_sheet_label;

typedef struct {
    vs_sheet_label taken[VS_SHEET_LABELS_MAX];
    size_t count;
    double right, bottom; /* where the drawing ends; words stay within */
} vs_sheet_labels;

/* Finds room for words beside a point and takes it: the nearest of places around it that covers
 * nothing, or the first of them. */
vs_sheet_label vs_sheet_labels_place(vs_sheet_labels *labels, double x, double y,
                                     const char *words);

/* The same for words at the right end of a line, over it or under it, or further left. */
vs_sheet_label vs_sheet_labels_at_end(vs_sheet_labels *labels, double x, double y,
                                      const char *words);

/* Takes a box: x, y its upper left corner. */
void vs_sheet_labels_take(vs_sheet_labels *labels, double x, double y, double width, double height);

#endif
