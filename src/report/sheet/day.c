/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The day's shots in their order, and the lamps that shine in any of them. */
#include "report/sheet/sheet.h"

size_t vs_sheet_shot_count(const vs_sheet *s) {
    return s->dwell ? s->dwell->shot_count : s->scene->shot_count;
}

size_t vs_sheet_shot_at(const vs_sheet *s, size_t place) {
    return s->dwell ? s->dwell->shot[place].shot : place;
}

bool vs_sheet_shines(const vs_sheet *s, size_t light) {
    for (size_t i = 0; i < s->scene->shot_count; i++) {
        if (vs_shot_uses_light(&s->scene->shot[i], light)) {
            return true;
        }
    }
    return false;
}
