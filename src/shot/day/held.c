/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "veilstop/shot/held.h"

#include <math.h>
#include <stdlib.h>

#include "shot/day/dwell_rooms.h"
#include "veilstop/air/rooms_steady.h"
#include "veilstop/shot/density.h"
#include "veilstop/shot/dwell.h"

size_t vs_held_room(const vs_scene *scene, const vs_scene_shot *shot) {
    size_t room = vs_dwell_room_at(scene, scene->camera[shot->camera].at_m);
    return room == VS_OUTSIDE ? 0 : room;
}

/* Density of each room over that of `room`, in its steady hold.
 * open       as in a shot
 * lost_m3_s  out, may be NULL: what the rooms lose together, in air of the held room's density */
static vs_status steady_ratios(const vs_scene *scene, const double *open, size_t room,
                               double *ratio, double *lost_m3_s) {
    size_t n = scene->room_count;
    double *memory = calloc(vs_dwell_figures_size(n) + n, sizeof *memory);
    if (!memory) {
        return VS_ERR_MEMORY;
    }
    vs_dwell_figures figures = vs_dwell_figures_in(memory + n, n);
    double *source = memory;
    vs_dwell_figures_fill(scene, &figures);
    vs_dwell_figures_open(scene, open, &figures);
    for (size_t i = 0; i < n; i++) {
        source[i] = vs_dwell_share_in(scene, i);
    }
    vs_rooms rooms = vs_dwell_rooms(scene, &figures);
    vs_status status = vs_rooms_steady(&rooms, source, room, ratio);
    for (size_t i = 0; i < n && lost_m3_s; i++) {
        *lost_m3_s = (i ? *lost_m3_s : 0) +
                     vs_rooms_loss_of(&rooms, i).total * rooms.volume_m3[i] * ratio[i];
    }
    free(memory);
    return status;
}

static void fill(const vs_scene *scene, double value, double *room) {
    for (size_t r = 0; r < scene->room_count; r++) {
        room[r] = value;
    }
}

/* The densities the file gives the rooms, scaled to another density in the camera's room. */
static void scale_own(const vs_scene *scene, const vs_scene_shot *shot, const vs_haze *haze,
                      double extinction_per_m, double *room) {
    double own = vs_density_extinction_per_m(shot, vs_held_room(scene, shot), haze);
    for (size_t r = 0; r < scene->room_count; r++) {
        double given = vs_density_extinction_per_m(shot, r, haze);
        room[r] = extinction_per_m == own ? given
                  : own > 0               ? extinction_per_m * given / own
                                          : extinction_per_m;
    }
}

/* The steady hold by the hazer; the same density everywhere if its haze does not reach the camera's
 * room. */
static vs_status hold_by_hazer(const vs_scene *scene, const vs_scene_shot *shot,
                               double extinction_per_m, double *room) {
    size_t here = vs_held_room(scene, shot);
    vs_status status = steady_ratios(scene, shot->open, here, room, NULL);
    if (status == VS_ERR_UNREACHABLE) {
        fill(scene, extinction_per_m, room);
        return VS_OK;
    }
    for (size_t r = 0; r < scene->room_count && status == VS_OK; r++) {
        room[r] = r == here ? extinction_per_m : room[r] * extinction_per_m;
    }
    return status;
}

vs_status vs_held_rooms(const vs_scene *scene, const vs_scene_shot *shot, const vs_haze *haze,
                        double extinction_per_m, double *room_extinction_per_m) {
    vs_status status = VS_OK;
    double k = extinction_per_m;
    if (isnan(k)) {
        k = vs_density_extinction_per_m(shot, vs_held_room(scene, shot), haze);
        status = isnan(k) ? VS_ERR_INPUT : VS_OK;
    }
    if (status == VS_OK && shot->density_by_room) {
        scale_own(scene, shot, haze, k, room_extinction_per_m);
    } else if (status == VS_OK && scene->hazer.room != VS_NONE && scene->room_count > 1) {
        status = hold_by_hazer(scene, shot, k, room_extinction_per_m);
    } else {
        fill(scene, k, room_extinction_per_m);
    }
    if (status != VS_OK) {
        fill(scene, NAN, room_extinction_per_m);
    }
    return status;
}

/* The steady ratios of a shot, for free(); NULL on VS_OK: no haze reaches its camera's room. */
static vs_status ratios_of(const vs_scene *scene, const vs_scene_shot *shot, double **ratio,
                           double *lost_m3_s) {
    *ratio = calloc(scene->room_count, sizeof **ratio);
    vs_status status =
        *ratio ? steady_ratios(scene, shot->open, vs_held_room(scene, shot), *ratio, lost_m3_s)
               : VS_ERR_MEMORY;
    if (status != VS_OK) {
        free(*ratio);
        *ratio = NULL;
    }
    return status == VS_ERR_UNREACHABLE ? VS_OK : status;
}

vs_status vs_held_reaches(const vs_scene *scene, const vs_scene_shot *shot, bool *reaches) {
    *reaches = false;
    if (scene->hazer.room == VS_NONE) {
        return VS_OK;
    }
    double *ratio;
    vs_status status = ratios_of(scene, shot, &ratio, NULL);
    *reaches = ratio != NULL;
    free(ratio);
    return status;
}

size_t vs_held_thicker(const vs_scene *scene, const vs_scene_shot *shot,
                       const double *room_extinction_per_m) {
    size_t here = vs_held_room(scene, shot), thickest = here;
    for (size_t r = 0; r < scene->room_count; r++) {
        if (room_extinction_per_m[r] > room_extinction_per_m[thickest]) {
            thickest = r;
        }
    }
    return thickest == here ? VS_NONE : thickest;
}

/* The air volume, at the camera's room's density, that holds the haze of the rooms with hazers. */
static double hazed_m3(const vs_scene *scene, const double *ratio) {
    double all_m3 = 0;
    for (size_t i = 0; i < scene->room_count; i++) {
        vs_vec3 size = scene->room[i].size_m;
        all_m3 += vs_dwell_share_in(scene, i) > 0 ? ratio[i] * size.x * size.y * size.z : 0;
    }
    return all_m3;
}

vs_status vs_held_least(const vs_scene *scene, const vs_scene_shot *shot, const vs_haze *haze,
                        double *least_per_m) {
    *least_per_m = VS_HELD_LEAST_PER_M;
    if (scene->hazer.room == VS_NONE) {
        return VS_OK;
    }
    double *ratio;
    vs_status status = ratios_of(scene, shot, &ratio, NULL);
    if (ratio) {
        double burst_g = vs_dwell_output_g_per_s(scene) * scene->hazer.burst_min_s;
        double burst_per_m =
            burst_g / hazed_m3(scene, ratio) * haze->extinction_m2_per_g.v[VS_BAND_GREEN];
        *least_per_m = fmax(VS_HELD_LEAST_PER_M, burst_per_m);
    }
    free(ratio);
    *least_per_m = status == VS_OK ? *least_per_m : (double)NAN;
    return status;
}

vs_status vs_held_most_g_per_m3(const vs_scene *scene, const vs_scene_shot *shot,
                                double *g_per_m3) {
    *g_per_m3 = INFINITY;
    if (scene->hazer.room == VS_NONE) {
        return VS_OK;
    }
    double *ratio, lost_m3_s = 0;
    vs_status status = ratios_of(scene, shot, &ratio, &lost_m3_s);
    if (ratio && lost_m3_s > 0) {
        *g_per_m3 = vs_dwell_output_g_per_s(scene) / lost_m3_s;
    }
    free(ratio);
    *g_per_m3 = status == VS_OK ? *g_per_m3 : (double)NAN;
    return status;
}
