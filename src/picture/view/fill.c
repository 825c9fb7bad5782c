/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A plan's cells to the picture of one density: part by part, then rows to what is seen. */
#include <string.h>

#include "picture/view/kept.h"

#define ROWS          16 /* rows per finishing job */
#define REGIONS_A_JOB 64 /* of bounced light, filled together */

/* One quantity of one light over one part. */
static void fill(vs_frame_kept *k, vs_frame_worker *w, const vs_cells_plan *plan, bool all,
                 double unit, const vs_frame_plane *plane) {
    vs_cells_planes planes = {{plane->band[0], plane->band[1], plane->band[2]}};
    const float(*value)[VS_CELLS_CHANNELS] = (const float(*)[VS_CELLS_CHANNELS])w->value;
    if (plan->region_count + plan->dot_count == 0) {
        return;
    }
    vs_cells_values(plan, all, k->weight, unit, w->value);
    vs_cells_fill_regions(plan, &k->grid, value, 0, plan->region_count, &planes);
    vs_cells_fill_dots(plan, value, &planes);
}

static size_t bounced_jobs(const vs_cells_plan *plan) {
    return (plan->region_count + REGIONS_A_JOB - 1) / REGIONS_A_JOB;
}

static void fill_bounced(vs_frame_kept *k, const vs_cells_plan *plan,
                         float (*value)[VS_CELLS_CHANNELS], const vs_frame_plane *plane, size_t i) {
    vs_cells_planes planes = {{plane->band[0], plane->band[1], plane->band[2]}};
    const float(*at)[VS_CELLS_CHANNELS] = (const float(*)[VS_CELLS_CHANNELS])value;
    vs_cells_fill_regions(plan, &k->grid, at, i * REGIONS_A_JOB, REGIONS_A_JOB, &planes);
    if (i == 0) {
        vs_cells_fill_dots(plan, at, &planes);
    }
}

/* First the parts, light by light, then bounced light some regions at a time. */
static void fill_job(void *context, size_t worker, size_t i) {
    vs_frame_kept *k = context;
    const vs_frame_plan *plan = &k->plan[k->detail];
    size_t lights = k->scene->light_count, parts = vs_frame_part_count(k);
    for (size_t light = 0; i < parts && light < lights; light++) {
        vs_frame_worker *w = &k->worker[worker];
        const vs_cells_plan *veil = &plan->veil[i * lights + light];
        if (!vs_frame_shines(&k->predictor->hazed_light[light])) {
            continue;
        }
        if (k->hazed_air) {
            fill(k, w, veil, true, k->most_per_m, &k->layers.veil);
        }
        if (k->hazed_air && k->layers.veil_by_light) {
            fill(k, w, veil, false, k->most_per_m, &k->layers.veil_by_light[light]);
        }
        fill(k, w, &plan->lux[i * lights + light], false, 1, &k->lux);
    }
    size_t veils = bounced_jobs(&plan->bounced_veil);
    if (i >= parts && i < parts + veils && k->hazed_air) {
        fill_bounced(k, &plan->bounced_veil, k->wide_veil, &k->layers.indirect, i - parts);
    } else if (i >= parts + veils) {
        fill_bounced(k, &plan->bounced_lux, k->wide_lux, &k->bounced_lux, i - parts - veils);
    }
}

static void third_job(void *context, size_t worker, size_t i) {
    (void)worker;
    vs_frame_finish_rows(context, i * ROWS, ROWS);
}

void vs_frame_fill(vs_frame_kept *k) {
    const vs_runner *r = k->runner;
    const vs_frame_plan *plan = &k->plan[k->detail];
    memset(k->memory, 0,
           k->width * k->height * (VS_BAND_COUNT * VS_FRAME_PLANES + 1) * sizeof(float));
    for (size_t i = 0; i < k->paths.count; i++) {
        k->own[i] = vs_frame_own_nits(k, &k->paths.item[i]);
    }
    vs_ladder_weights(&plan->ladder, k->most_per_m, k->weight);
    vs_cells_values(&plan->bounced_veil, false, k->weight, 1, k->wide_veil);
    vs_cells_values(&plan->bounced_lux, false, k->weight, 1, k->wide_lux);
    r->each(r->context,
            vs_frame_part_count(k) + bounced_jobs(&plan->bounced_veil) +
                bounced_jobs(&plan->bounced_lux),
            fill_job, k);
    r->each(r->context, (k->height + ROWS - 1) / ROWS, third_job, k);
    vs_frame_finish_edges(k);
}
