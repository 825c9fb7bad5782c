/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One reading: contrast kept, extinction, its uncertainty, and where the card should stand. */
#include "veilstop/shot/reading.h"

#include <math.h>

#include "shot/reading/reading_card.h"

vs_status vs_reading_of(const vs_scene_reading *given, const vs_camera *camera, double longest_m,
                        vs_reading *out) {
    vs_reading_card_light card;
    vs_reading_blank(out);
    vs_status status = vs_reading_card(given, camera, &card);
    if (status == VS_OK && !(given->lit_from_m >= 0)) {
        status = VS_ERR_DOMAIN;
    }
    if (status != VS_OK) {
        return status;
    }
    out->path_m = given->distance_m + given->lit_from_m;
    out->log_kept = log(card.kept);
    out->extinction_per_m = fmax(0, -out->log_kept) / out->path_m;
    vs_reading_judge(given, &card, longest_m, out);
    return VS_OK;
}

double vs_reading_longest_m(const vs_scene_room *room) {
    return fmax(room->size_m.x, room->size_m.y);
}
