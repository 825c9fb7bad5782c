/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "veilstop/shot/day.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/shot/held.h"

static vs_status allocate(vs_day *day, size_t rooms, size_t samples) {
    memset(day, 0, sizeof *day);
    day->clear_extinction_per_m = day->longest_sight_m = NAN;
    day->clear_s = day->clear_closed_s = NAN;
    day->at_s = calloc(samples + 1, sizeof *day->at_s);
    day->extinction_per_m = calloc((rooms + 1) * samples + 1, sizeof *day->extinction_per_m);
    if (!day->at_s || !day->extinction_per_m) {
        vs_day_free(day);
        return VS_ERR_MEMORY;
    }
    day->room_count = rooms;
    day->sample_size = samples;
    return VS_OK;
}

static double *room_values(const vs_day *day, size_t room) {
    return day->extinction_per_m + room * day->sample_size;
}

/* The curve of the thickest room at each moment, from those of all rooms. */
static void find_thickest(vs_day *day) {
    double *thickest = room_values(day, day->room_count);
    for (size_t room = 0; room < day->room_count; room++) {
        const double *value = room_values(day, room);
        for (size_t i = 0; i < day->sample_count; i++) {
            thickest[i] = fmax(thickest[i], value[i]);
        }
    }
}

static void copy_curve(vs_day *day, const vs_dwell *dwell) {
    for (size_t i = 0; i < dwell->sample_count; i++) {
        day->at_s[i] = dwell->sample_s[i];
        for (size_t room = 0; room < dwell->room_count; room++) {
            room_values(day, room)[i] =
                dwell->sample_g_per_m3[i * dwell->room_count + room] * dwell->extinction_m2_per_g;
        }
    }
    day->sample_count = dwell->sample_count;
}

/* Inserts a sample between two others, on the straight line between them; returns its index. */
static size_t insert_sample(vs_day *day, size_t before, double at_s) {
    double share = (at_s - day->at_s[before - 1]) / (day->at_s[before] - day->at_s[before - 1]);
    size_t moved = (day->sample_count - before) * sizeof *day->at_s;
    memmove(day->at_s + before + 1, day->at_s + before, moved);
    day->at_s[before] = at_s;
    for (size_t room = 0; room < day->room_count; room++) {
        double *value = room_values(day, room);
        double between = value[before - 1] + share * (value[before] - value[before - 1]);
        memmove(value + before + 1, value + before, moved);
        value[before] = between;
    }
    day->sample_count++;
    return before;
}

/* The plan knows a room's peak better than its samples, a minute apart, do. */
static void set_peak(vs_day *day, size_t room, double at_s, double extinction_per_m) {
    size_t i = 0;
    while (i < day->sample_count && day->at_s[i] < at_s) {
        i++;
    }
    if (i == 0 || i == day->sample_count) {
        return;
    }
    size_t place = day->at_s[i] > at_s ? insert_sample(day, i, at_s) : i;
    room_values(day, room)[place] = fmax(room_values(day, room)[place], extinction_per_m);
}

vs_status vs_day_from_plan(vs_day *day, const vs_dwell *dwell) {
    vs_status status = allocate(day, dwell->room_count, dwell->sample_count + dwell->room_count);
    if (status != VS_OK) {
        return status;
    }
    copy_curve(day, dwell);
    for (size_t room = 0; room < dwell->room_count; room++) {
        set_peak(day, room, dwell->room[room].peak_at_s,
                 dwell->room[room].peak_g_per_m3 * dwell->extinction_m2_per_g);
    }
    day->plan = dwell;
    day->end_s = dwell->end_s;
    day->planned = true;
    day->clear_extinction_per_m = dwell->clear_extinction_per_m;
    day->longest_sight_m = dwell->longest_sight_m;
    day->clear_s = dwell->clear_s;
    day->clear_closed_s = dwell->clear_closed_s;
    day->purged = dwell->purged;
    find_thickest(day);
    return VS_OK;
}

vs_status vs_day_from_shots(vs_day *day, const vs_scene *scene, const vs_haze *haze,
                            const double *extinction_per_m, size_t *culprit) {
    *culprit = VS_NONE;
    double *held_per_m = calloc(scene->room_count + 1, sizeof *held_per_m);
    vs_status status =
        held_per_m ? allocate(day, scene->room_count, 2 * scene->shot_count) : VS_ERR_MEMORY;
    if (status != VS_OK) {
        free(held_per_m);
        memset(day, 0, sizeof *day);
        return status;
    }
    day->sample_count = day->sample_size;
    for (size_t i = 0; i < scene->shot_count && status == VS_OK; i++) {
        const vs_scene_shot *shot = &scene->shot[i];
        day->at_s[2 * i] = day->end_s;
        day->end_s += shot->length_s;
        day->at_s[2 * i + 1] = day->end_s;
        double own = extinction_per_m ? extinction_per_m[i] : (double)NAN;
        status = vs_held_rooms(scene, shot, haze, own, held_per_m);
        for (size_t room = 0; room < scene->room_count && status == VS_OK; room++) {
            room_values(day, room)[2 * i] = room_values(day, room)[2 * i + 1] = held_per_m[room];
        }
        *culprit = status == VS_ERR_INPUT ? i : VS_NONE;
    }
    free(held_per_m);
    if (status == VS_OK) {
        find_thickest(day);
    } else {
        vs_day_free(day);
    }
    return status;
}

void vs_day_free(vs_day *day) {
    free(day->at_s);
    free(day->extinction_per_m);
    memset(day, 0, sizeof *day);
}

vs_day_curve vs_day_curve_of(const vs_day *day, size_t room) {
    const double *value = room_values(day, room);
    bool clears = !day->planned || !isnan(day->clear_s);
    double last = day->sample_count ? value[day->sample_count - 1] : 0;
    vs_day_curve curve = {day->at_s, value, day->sample_count, clears ? 0 : last};
    return curve;
}

double vs_day_reaches_s(const vs_day *day, size_t room, double extinction_per_m) {
    if (day->plan) {
        return vs_dwell_first_at_s(day->plan, room, extinction_per_m);
    }
    vs_day_curve curve = vs_day_curve_of(day, room);
    return vs_day_curve_reaches_s(&curve, extinction_per_m);
}
