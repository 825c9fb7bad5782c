/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Places for words, tried one after another around what they name. */
#include "report/sheet/labels.h"

#include <stdbool.h>

#include "veilstop/report/text.h"

#define LETTER_WIDE 5.6  /* [units] of a mean letter of the drawings' size */
#define LETTER_HIGH 10.0 /* [units] descenders included */
#define END_PLACES  12   /* tried for words at the end of a line, over and under it */
#define END_STEP    60.0 /* [units] from one of them to the next */
#define AWAY        5.0  /* [units] from what is named */

static bool is_inside(const vs_sheet_labels *labels, const vs_sheet_label *box) {
    return box->x >= 0 && box->x + box->width <= labels->right && box->y - box->height >= 0 &&
           box->y <= labels->bottom;
}

static bool covers(const vs_sheet_labels *labels, const vs_sheet_label *box) {
    for (size_t i = 0; i < labels->count; i++) {
        const vs_sheet_label *b = &labels->taken[i];
        if (box->x < b->x + b->width && b->x < box->x + box->width && box->y - box->height < b->y &&
            b->y - b->height < box->y) {
            return true;
        }
    }
    return false;
}

static void take(vs_sheet_labels *labels, const vs_sheet_label *box) {
    if (labels->count < VS_SHEET_LABELS_MAX) {
        labels->taken[labels->count++] = *box;
    }
}

void vs_sheet_labels_take(vs_sheet_labels *labels, double x, double y, double width,
                          double height) {
    const vs_sheet_label box = {x, y + height, width, height};
    take(labels, &box);
}

vs_sheet_label vs_sheet_labels_place(vs_sheet_labels *labels, double x, double y,
                                     const char *words) {
    /* right, left, above, below, the corners; then the same further off */
    static const double offset[][2] = {{1, 0.5},  {-1, 0.5}, {0, -0.6},  {0, 1.6},
                                       {1, -0.6}, {1, 1.6},  {-1, -0.6}, {-1, 1.6}};
    enum { WAYS = sizeof offset / sizeof offset[0] };
    double width = LETTER_WIDE * (double)vs_text_columns(words);
    vs_sheet_label first = {x + AWAY, y + LETTER_HIGH / 2 - 1, width, LETTER_HIGH};
    vs_sheet_label found = first;
    for (int i = 0; i < 3 * WAYS; i++) {
        const double *w = offset[i % WAYS];
        double far = 1 + i / WAYS;
        vs_sheet_label box = first;
        box.x = w[0] > 0 ? x + AWAY * far : w[0] < 0 ? x - AWAY * far - width : x - width / 2;
        box.y = y + (w[1] - 0.5) * LETTER_HIGH * far + LETTER_HIGH / 2 - 1;
        if (is_inside(labels, &box) && !covers(labels, &box)) {
            found = box;
            break;
        }
    }
    take(labels, &found);
    return found;
}

vs_sheet_label vs_sheet_labels_at_end(vs_sheet_labels *labels, double x, double y,
                                      const char *words) {
    double width = LETTER_WIDE * (double)vs_text_columns(words);
    const vs_sheet_label first = {x - width, y - 2, width, LETTER_HIGH};
    vs_sheet_label found = first;
    for (int i = 0; i < END_PLACES; i++) {
        vs_sheet_label box = first;
        box.x -= END_STEP * (double)(i / 2);
        box.y += i % 2 ? LETTER_HIGH + 1 : 0;
        if (is_inside(labels, &box) && !covers(labels, &box)) {
            found = box;
            break;
        }
    }
    take(labels, &found);
    return found;
}
