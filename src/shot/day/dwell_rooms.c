/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From a scene to its rooms as plain numbers: volumes, losses, exchanges. */
#include "shot/day/dwell_rooms.h"

#include <math.h>
#include <string.h>

#include "veilstop/air/settling.h"
#include "veilstop/base/units.h"
#include "veilstop/shot/dwell.h"

/* [K] between linked rooms if no exchange is given; docs/scene.md, "Openings" */
#define DOORWAY_DIFFERENCE_K   0.5
#define DOORWAY_AIR_K          293.0  /* [K] docs/scene.md, "Openings" */
#define KG_PER_M3_PER_G_PER_ML 1000.0 /* [(kg/m3)/(g/ml)] */

double vs_dwell_settling_m_per_s(const vs_fluid *fluid) {
    if (fluid->measured) {
        return fluid->settling_m_per_s;
    }
    vs_air_gas gas = vs_air_gas_hinds();
    return vs_settling_lognormal_m_per_s(&gas, fluid->median_m, fluid->gsd,
                                         fluid->density_g_per_ml * KG_PER_M3_PER_G_PER_ML);
}

double vs_dwell_output_g_per_s(const vs_scene *scene) {
    if (scene->hazer.room == VS_NONE) {
        return 0;
    }
    return scene->hazer.fluid_ml_per_s * scene->fluid.density_g_per_ml *
           scene->fluid.nonvolatile_fraction * scene->hazer.airborne_fraction;
}

double vs_dwell_share_in(const vs_scene *scene, size_t room) {
    return scene->hazer.share && room != VS_OUTSIDE ? scene->hazer.share[room]
                                                    : room == scene->hazer.room;
}

size_t vs_dwell_room_at(const vs_scene *scene, vs_vec3 at_m) {
    for (size_t i = 0; i < scene->room_count; i++) {
        vs_vec3 in = vs_vec3_sub(at_m, scene->room[i].corner_m);
        vs_vec3 size = scene->room[i].size_m;
        if (in.x >= 0 && in.y >= 0 && in.z >= 0 && in.x <= size.x && in.y <= size.y &&
            in.z <= size.z) {
            return i;
        }
    }
    return VS_OUTSIDE;
}

double vs_dwell_exchange_m3_per_s(const vs_scene_opening *opening) {
    if (!isnan(opening->exchange_m3_per_s)) {
        return opening->exchange_m3_per_s;
    }
    if (opening->room[1] == VS_OUTSIDE) {
        return 0;
    }
    vs_vec3 across = vs_vec3_sub(opening->corner_m[1], opening->corner_m[0]);
    if (across.z == 0) {
        return vs_hole_exchange_m3_per_s(fabs(across.x), fabs(across.y), DOORWAY_DIFFERENCE_K,
                                         DOORWAY_AIR_K);
    }
    return vs_opening_exchange_m3_per_s(hypot(across.x, across.y), fabs(across.z),
                                        DOORWAY_DIFFERENCE_K, DOORWAY_AIR_K);
}

size_t vs_dwell_figures_size(size_t n) {
    return 6 * n + n * n;
}

vs_dwell_figures vs_dwell_figures_in(double *memory, size_t n) {
    vs_dwell_figures f = {memory,         memory + n,     memory + 2 * n, memory + 3 * n,
                          memory + 4 * n, memory + 5 * n, memory + 6 * n};
    return f;
}

bool vs_dwell_figures_fill(const vs_scene *scene, vs_dwell_figures *f) {
    bool can_purge = false;
    for (size_t i = 0; i < scene->room_count; i++) {
        const vs_scene_room *room = &scene->room[i];
        bool purges = room->purge_air_change_per_s > room->air_change_per_s;
        f->volume[i] = room->size_m.x * room->size_m.y * room->size_m.z;
        f->floor[i] = room->size_m.x * room->size_m.y;
        f->air[i] = room->air_change_per_s;
        f->purge[i] = purges ? room->purge_air_change_per_s : room->air_change_per_s;
        f->deposition[i] = room->deposition_per_s;
        can_purge = can_purge || purges;
    }
    return can_purge;
}

void vs_dwell_figures_open(const vs_scene *scene, const double *open, const vs_dwell_figures *f) {
    size_t n = scene->room_count;
    memset(f->outside, 0, n * sizeof *f->outside);
    memset(f->exchange, 0, n * n * sizeof *f->exchange);
    for (size_t i = 0; i < scene->opening_count; i++) {
        const vs_scene_opening *opening = &scene->opening[i];
        size_t a = opening->room[0], b = opening->room[1];
        double each_way = vs_dwell_exchange_m3_per_s(opening) * (open ? open[i] : 1);
        if (b == VS_OUTSIDE) {
            f->outside[a] += each_way;
        } else {
            f->exchange[a * n + b] += each_way;
            f->exchange[b * n + a] += each_way;
        }
    }
}

/* The mixing time of the hazer's room; with hazers in several rooms, their average. */
static double mixing_s(const vs_scene *scene) {
    const vs_scene_hazer *hazer = &scene->hazer;
    double mean_s = hazer->room == VS_NONE ? 0 : scene->room[hazer->room].mixing_s;
    if (hazer->room != VS_NONE && hazer->share) {
        mean_s = 0;
        for (size_t i = 0; i < scene->room_count; i++) {
            mean_s += hazer->share[i] * scene->room[i].mixing_s;
        }
    }
    return mean_s;
}

vs_rooms vs_dwell_rooms(const vs_scene *scene, const vs_dwell_figures *f) {
    size_t hazer = scene->hazer.room;
    vs_rooms rooms = {
        .count = scene->room_count,
        .volume_m3 = f->volume,
        .floor_m2 = f->floor,
        .air_change_per_s = f->air,
        .deposition_per_s = f->deposition,
        .exchange_m3_per_s = f->exchange,
        .outside_m3_per_s = f->outside,
        .settling_m_per_s = vs_dwell_settling_m_per_s(&scene->fluid),
        .evaporation_per_s = log(2) / scene->fluid.half_life_s,
        .hazer = hazer == VS_NONE ? VS_ROOMS_NO_HAZER : hazer,
        .hazer_share = scene->hazer.share,
        .mixing_s = mixing_s(scene),
    };
    return rooms;
}
