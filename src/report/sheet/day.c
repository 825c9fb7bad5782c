/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The day's shots in their order, and the lamps that shine in any of them. */
#include "report/sheet/sheet.h"

#include "veilstop/report/text.h"

/* What two pages hold in large letters, tried on A4 and Letter. */
#define SHOTS_ROOMY  4  /* rows of shots */
#define NAME_ROOMY   28 /* [columns] of a name in one line */
#define LINES_ROOMY  20 /* of the run sheet */
#define LINES_A_SHOT 4  /* that take as much space as one shot */
#define PEOPLE_ROOMY 3  /* rows */
#define RULES_ROOMY  3  /* of the venue */

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

/* Lines of the run sheet, a series of bursts each its own. */
static size_t run_lines(const vs_dwell *dwell) {
    size_t lines = 0;
    for (size_t i = 0; i < dwell->event_count; i++) {
        lines += dwell->event[i].act != VS_DWELL_BURST && dwell->event[i].act != VS_DWELL_END;
    }
    for (size_t i = 0; i < dwell->shot_count; i++) {
        lines += dwell->shot[i].bursts_count;
    }
    return lines;
}

static size_t over(size_t have, size_t roomy) {
    return have > roomy ? have - roomy : 0;
}

bool vs_sheet_is_crowded(const vs_sheet *s) {
    size_t load = vs_sheet_shot_count(s);
    for (size_t i = 0; i < s->scene->shot_count; i++) {
        load += vs_text_columns(s->scene->shot[i].name) > NAME_ROOMY;
    }
    load += s->dwell ? over(run_lines(s->dwell), LINES_ROOMY) / LINES_A_SHOT : 0;
    load += over(s->cautions->person_count, PEOPLE_ROOMY);
    load += over(s->scene->venue.rule_count, RULES_ROOMY);
    return load > SHOTS_ROOMY;
}
