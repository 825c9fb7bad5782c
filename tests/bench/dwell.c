/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A day's plan for a growing number of rooms, on one core: 20 shots of 25 minutes in rooms in a
 * row, the median of several runs. */
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "check.h"
#include "spread.h"
#include "veilstop/base/units.h"
#include "veilstop/shot/dwell.h"

#define SHOTS   20
#define REPEATS 5

static double seconds(void) {
    struct timespec now;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

/* Points into itself: not to be moved. */
typedef struct {
    vs_scene scene;
    vs_scene_room room[VS_ROOMS_MAX];
    vs_scene_opening opening[VS_ROOMS_MAX];
    vs_camera camera[VS_ROOMS_MAX];
    vs_scene_shot shot[SHOTS];
    double density[SHOTS][VS_ROOMS_MAX];
    vs_haze haze;
} row_of_rooms;

static void lay_out(row_of_rooms *r, size_t rooms) {
    memset(r, 0, sizeof *r);
    r->scene = (vs_scene){.title = "row", .start_s = NAN, .room = r->room, .room_count = rooms};
    for (size_t i = 0; i < rooms; i++) {
        double west_m = 8.0 * (double)i;
        r->room[i] = (vs_scene_room){.name = "room",
                                     .corner_m = {west_m, 0, 0},
                                     .size_m = {8, 4, 3},
                                     .air_change_per_s = (0.4 + 0.02 * (double)i) / VS_S_PER_H,
                                     .deposition_per_s = 0.3 / VS_S_PER_H,
                                     .mixing_s = 240,
                                     .purge_air_change_per_s = 6 / VS_S_PER_H};
        r->camera[i] = (vs_camera){.name = "camera", .at_m = {west_m + 1, 1, 1.5}};
        if (i > 0) {
            r->opening[i - 1] = (vs_scene_opening){.name = "door",
                                                   .room = {i - 1, i},
                                                   .corner_m = {{west_m, 1, 0}, {west_m, 1.9, 2}},
                                                   .transmittance = 1,
                                                   .exchange_m3_per_s = 90 / VS_S_PER_H};
        }
    }
    for (size_t i = 0; i < SHOTS; i++) {
        for (size_t k = 0; k < rooms; k++) {
            r->density[i][k] = 0.01 + 0.004 * (double)(i * 7 % 9);
        }
        r->shot[i] = (vs_scene_shot){.name = "shot",
                                     .camera = i % (rooms < 2 ? rooms : 2),
                                     .density = VS_DENSITY_EXTINCTION,
                                     .room_density = r->density[i],
                                     .length_s = 1500,
                                     .roll_s = NAN,
                                     .reset_s = NAN};
    }
    r->scene.opening = r->opening;
    r->scene.opening_count = rooms - 1;
    r->scene.camera = r->camera;
    r->scene.camera_count = rooms;
    r->scene.shot = r->shot;
    r->scene.shot_count = SHOTS;
    r->scene.fluid = (vs_fluid){.name = "bench",
                                .density_g_per_ml = 1.04,
                                .nonvolatile_fraction = 0.35,
                                .half_life_s = 7200,
                                .measured = true,
                                .settling_m_per_s = 3e-5};
    r->scene.hazer = (vs_scene_hazer){.room = 0,
                                      .fluid_ml_per_s = 90 / VS_S_PER_H,
                                      .airborne_fraction = 0.9,
                                      .burst_min_s = 5,
                                      .burst_max_s = 120};
    r->haze.extinction_m2_per_g = vs_bands_grey(5);
}

int main(void) {
    static row_of_rooms r;
    static const size_t rooms[] = {1, 4, 16, VS_ROOMS_MAX};
    for (size_t i = 0; i < sizeof rooms / sizeof rooms[0]; i++) {
        double took_s[REPEATS];
        lay_out(&r, rooms[i]);
        for (int k = 0; k < REPEATS; k++) {
            vs_dwell d;
            double start = seconds();
            if (vs_dwell_plan(&r.scene, &r.haze, NULL, NULL, &d) != VS_OK) {
                return 1;
            }
            took_s[k] = seconds() - start;
            vs_dwell_free(&d);
        }
        printf("dwell, %2zu rooms x %d shots: %.1f ms\n", rooms[i], SHOTS,
               1000 * spread_quantile(took_s, REPEATS, 0.5));
    }
    return 0;
}
