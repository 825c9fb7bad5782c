/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See intervals.h. */
#include "veilstop/base/intervals.h"

#include <math.h>
#include <stdlib.h>

#include "base/growable.h"

void vs_intervals_free(vs_intervals *set) {
    const vs_intervals blank = {0};
    free(set->item);
    *set = blank;
}

vs_status vs_intervals_add(vs_intervals *set, double low, double high) {
    vs_interval *item = vs_growable_reserve(set->item, set->count, &set->size, sizeof *set->item);
    if (!item) {
        return VS_ERR_MEMORY;
    }
    set->item = item;
    const vs_interval interval = {low, high};
    set->item[set->count++] = interval;
    return VS_OK;
}

bool vs_intervals_hold(const vs_intervals *set, double x) {
    for (size_t i = 0; i < set->count; i++) {
        if (x >= set->item[i].low && x <= set->item[i].high) {
            return true;
        }
    }
    return false;
}

vs_status vs_intervals_meet(const vs_intervals *a, const vs_intervals *b, vs_intervals *out) {
    vs_status status = VS_OK;
    out->count = 0;
    for (size_t i = 0, j = 0; i < a->count && j < b->count && status == VS_OK;) {
        double low = fmax(a->item[i].low, b->item[j].low);
        double high = fmin(a->item[i].high, b->item[j].high);
        if (low <= high) {
            status = vs_intervals_add(out, low, high);
        }
        if (a->item[i].high < b->item[j].high) {
            i++;
        } else {
            j++;
        }
    }
    return status;
}
