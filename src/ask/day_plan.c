/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "ask/day_plan.h"

#include <stdlib.h>
#include <string.h>

#include "veilstop/report/rooms.h"
#include "veilstop/shot/density.h"
#include "veilstop/shot/order.h"

vs_exit vs_ask_fail_plan(const vs_ask_scene *scene, vs_status status, size_t culprit) {
    const vs_scene *s = scene->scene;
    if (culprit == VS_NONE && status == VS_ERR_DOMAIN) {
        return vs_ask_fail(VS_EXIT_INPUT,
                           "%s:/rooms: must be larger: under a million room volumes may pass in a "
                           "second (got one where more do)",
                           scene->path);
    }
    if (culprit == VS_NONE) {
        return vs_ask_fail_status(status, scene->path);
    }
    const char *name = s->shot[culprit].name;
    if (status == VS_ERR_UNREACHABLE) {
        vs_text why;
        vs_text_init(&why);
        vs_report_no_way(&why, s, &s->shot[culprit]);
        vs_exit code = vs_ask_fail(VS_EXIT_INPUT, "%s:/shots/%zu: %s", scene->path, culprit,
                                   why.bytes && !why.failed ? why.bytes : "no haze gets there");
        vs_text_free(&why);
        return code;
    }
    if (status == VS_ERR_INPUT) { /* no fluid and no hazer of a scene puts nothing into the air */
        return vs_ask_fail(VS_EXIT_INPUT, "%s:/hazer: must be given for the haze of %s (got none)",
                           scene->path, name);
    }
    return vs_ask_fail(VS_EXIT_INPUT,
                       "%s:/shots/%zu/minutes: must keep the day within 30 days (got more, up to "
                       "and with %s)",
                       scene->path, culprit, name);
}

static vs_exit plan_filed(const vs_ask_scene *scene, const vs_haze *haze, vs_dwell *dwell) {
    vs_status status = vs_dwell_plan(scene->scene, haze, NULL, NULL, dwell);
    return status == VS_OK ? VS_EXIT_DONE : vs_ask_fail_plan(scene, status, dwell->culprit);
}

/* The density of each shot in its camera's room [1/m]. */
static void densities_of(const vs_scene *s, const vs_haze *haze, double *extinction_per_m) {
    for (size_t i = 0; i < s->shot_count; i++) {
        size_t room = vs_dwell_room_at(s, s->camera[s->shot[i].camera].at_m);
        extinction_per_m[i] =
            room == VS_OUTSIDE ? 0 : vs_density_extinction_per_m(&s->shot[i], room, haze);
    }
}

static vs_exit plan_chosen(const vs_ask_scene *scene, const vs_haze *haze, vs_dwell *dwell) {
    const vs_scene *s = scene->scene;
    double *extinction_per_m = calloc(s->shot_count + 1, sizeof *extinction_per_m);
    vs_order order = {0};
    order.culprit = VS_NONE;
    vs_status status = VS_ERR_MEMORY;
    size_t culprit = VS_NONE;
    if (extinction_per_m) {
        densities_of(s, haze, extinction_per_m);
        status = vs_order_day(s, haze, extinction_per_m, VS_ORDER_EXACT_MAX, &order);
        culprit = order.culprit;
    }
    if (status == VS_OK) {
        status = vs_dwell_plan(s, haze, order.shot, NULL, dwell);
        culprit = dwell->culprit;
        vs_order_free(&order);
    }
    free(extinction_per_m);
    return status == VS_OK ? VS_EXIT_DONE : vs_ask_fail_plan(scene, status, culprit);
}

vs_exit vs_ask_day_plan(const vs_ask_scene *scene, const vs_haze *haze, bool chosen,
                        vs_dwell *dwell) {
    return chosen ? plan_chosen(scene, haze, dwell) : plan_filed(scene, haze, dwell);
}

vs_exit vs_ask_order(const vs_ask_args *args, bool *chosen) {
    const char *order = vs_ask_value(args, "order");
    *chosen = order && strcmp(order, "chosen") == 0;
    return !order || *chosen || strcmp(order, "file") == 0
               ? VS_EXIT_DONE
               : vs_ask_fail(VS_EXIT_USAGE, "--order: must be file or chosen (got %s)", order);
}

vs_ask_peaks vs_ask_plan_peaks(const vs_dwell *dwell) {
    vs_ask_peaks peaks = {.basis = VS_CAUTIONS_BY_PLAN};
    for (size_t room = 0; room < dwell->room_count; room++) {
        peaks.room_extinction_per_m[room] =
            dwell->room[room].peak_g_per_m3 * dwell->extinction_m2_per_g;
    }
    return peaks;
}

vs_ask_peaks vs_ask_shown_peaks(const vs_scene *scene, const double *shown_per_m) {
    vs_ask_peaks peaks = {.basis = VS_CAUTIONS_BY_ANSWER};
    for (size_t room = 0; room < scene->room_count; room++) {
        peaks.room_extinction_per_m[room] = shown_per_m[room];
    }
    return peaks;
}

static void peaks_of_shots(const vs_day *day, vs_ask_peaks *peaks) {
    peaks->basis = VS_CAUTIONS_BY_SHOTS;
    for (size_t room = 0; room < day->room_count; room++) {
        vs_day_curve curve = vs_day_curve_of(day, room);
        peaks->room_extinction_per_m[room] = vs_day_curve_peak(&curve, NULL);
    }
}

vs_status vs_ask_day_peaks(const vs_scene *scene, const vs_haze *haze, const double *planned_per_m,
                           const double *shown_per_m, vs_ask_peaks *peaks) {
    vs_dwell dwell;
    vs_day day;
    size_t open;
    *peaks = vs_ask_shown_peaks(scene, shown_per_m);
    vs_status status = scene->hazer.room == VS_NONE
                           ? VS_ERR_INPUT
                           : vs_dwell_plan(scene, haze, NULL, planned_per_m, &dwell);
    if (status == VS_OK) {
        *peaks = vs_ask_plan_peaks(&dwell);
        vs_dwell_free(&dwell);
    } else if (status != VS_ERR_MEMORY) {
        status = vs_day_from_shots(&day, scene, haze, planned_per_m, &open);
        if (status == VS_OK) {
            peaks_of_shots(&day, peaks);
            vs_day_free(&day);
        }
    }
    return status == VS_ERR_MEMORY ? status : VS_OK;
}
