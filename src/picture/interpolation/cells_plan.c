/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is kept of the cells of a part once they are found. */
#include <stdlib.h>
#include <string.h>

#include "picture/interpolation/cells.h"

/* A list of its own size; NULL for an empty one. */
static void *copy_of(vs_cells *c, const void *list, size_t bytes) {
    void *copy = bytes > 0 ? malloc(bytes) : NULL;
    if (copy) {
        memcpy(copy, list, bytes);
    }
    c->failed = c->failed || (bytes > 0 && !copy);
    return copy;
}

/* What the samples are interpolated from. */
static void keep_samples(vs_cells *c, const vs_cells_field *field, vs_cells_plan *plan) {
    plan->kept = malloc(c->sample_count * VS_CELLS_CHANNELS * sizeof *plan->kept);
    if (!plan->kept) {
        c->failed = true;
        return;
    }
    for (size_t i = 0; i < c->sample_count * VS_CELLS_CHANNELS; i++) {
        const float *value = c->value[i / VS_CELLS_CHANNELS].at[i % VS_CELLS_CHANNELS];
        float kept[VS_LADDER_STEPS] = {0};
        for (int step = 0; step < VS_LADDER_STEPS; step++) {
            kept[step] = (float)((double)value[step] / field->unit[step]);
        }
        if (field->straight) {
            memcpy(plan->kept[i], kept, sizeof kept);
        } else {
            vs_ladder_log(kept, plan->kept[i]);
        }
    }
}

/* The sample of a place of the part, where there is one. */
static uint32_t sample_of(const vs_cells *c, size_t x, size_t y) {
    uint32_t index = c->index[y * (c->width + 1) + x];
    return index == 0 ? VS_CELLS_NONE : index - 1;
}

/* Samples in the middles of whole regions' sides, so that these meet smaller ones without a seam. */
static void stitch(vs_cells *c, size_t from_x, size_t from_y) {
    for (size_t i = 0; i < c->region_count; i++) {
        vs_cells_region *it = &c->region[i];
        size_t s = it->side, h = s / 2, x = it->x - from_x, y = it->y - from_y;
        if (it->whole) {
            it->edge[VS_CELLS_TOP] = sample_of(c, x + h, y);
            it->edge[VS_CELLS_LEFT] = sample_of(c, x, y + h);
            it->edge[VS_CELLS_RIGHT] = sample_of(c, x + s, y + h);
            it->edge[VS_CELLS_BOTTOM] = sample_of(c, x + h, y + s);
        }
    }
}

void vs_cells_plan_make(vs_cells *c, const vs_cells_field *field, size_t x, size_t y,
                        vs_cells_plan *plan) {
    stitch(c, x, y);
    plan->kind = field->kind;
    plan->straight = field->straight;
    if (c->region_count + c->dot_count == 0) {
        return;
    }
    plan->place = copy_of(c, c->place, c->sample_count * sizeof *c->place);
    plan->region = copy_of(c, c->region, c->region_count * sizeof *c->region);
    plan->dot = copy_of(c, c->dot, c->dot_count * sizeof *c->dot);
    keep_samples(c, field, plan);
    plan->sample_count = c->sample_count;
    plan->region_count = c->region_count;
    plan->dot_count = c->dot_count;
}

void vs_cells_plan_free(vs_cells_plan *plan) {
    free(plan->place);
    free(plan->kept);
    free(plan->all);
    free(plan->region);
    free(plan->dot);
    memset(plan, 0, sizeof *plan);
}
