/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lamps of several shots, each followed once. */
#include <stdlib.h>

#include "shot/sight/camera_setup.h"
#include "veilstop/shot/predict.h"

/* One lamp in one place, as the first shot that uses it there sets it. */
typedef struct {
    size_t place, light;
    vs_emitter emitter;
    vs_status status;
} lamp;

typedef struct {
    vs_predictor *predictor;
    lamp *item;
    size_t count;
} lamps;

static bool is_listed(const lamps *all, size_t place, size_t light) {
    for (size_t i = 0; i < all->count; i++) {
        if (all->item[i].place == place && all->item[i].light == light) {
            return true;
        }
    }
    return false;
}

/* The lamps of one shot that are not listed yet. */
static vs_status list_shot(lamps *all, size_t shot) {
    vs_predictor *p = all->predictor;
    const vs_scene_shot *s = &p->scene->shot[shot];
    vs_status status = vs_predictor_set_openings(p, s);
    if (status != VS_OK) {
        return status;
    }
    vs_camera_setup setup = vs_camera_setup_make(p, s, p->clear_air);
    status = vs_camera_setup_lights(&setup);
    for (size_t e = 0; e < p->scene->light_count && status == VS_OK; e++) {
        const vs_emitter *emitter = &p->clear_light[e];
        if (vs_bands_luminance(emitter->strength) > 0 && !is_listed(all, p->in_hand, e)) {
            all->item[all->count++] = (lamp){p->in_hand, e, *emitter, VS_OK};
        }
    }
    return status;
}

static void trace(void *context, size_t worker, size_t i) {
    const lamps *all = context;
    lamp *one = &all->item[i];
    (void)worker;
    one->status =
        vs_bounce_solver_trace(&all->predictor->bounces[one->place], &one->emitter, one->light);
}

vs_status vs_predictor_trace(vs_predictor *predictor, const size_t *shot, size_t count) {
    const vs_runner *runner = vs_runner_or_plain(predictor->runner);
    lamps all = {.predictor = predictor};
    if (predictor->scene->indirect != VS_INDIRECT_COMPUTED) {
        return VS_OK;
    }
    size_t most = predictor->place_count * predictor->scene->light_count;
    all.item = calloc(most + 1, sizeof *all.item);
    if (!all.item) {
        return VS_ERR_MEMORY;
    }
    vs_status status = VS_OK;
    for (size_t i = 0; i < count && status != VS_ERR_MEMORY; i++) {
        /* a shot that cannot be predicted tells why when it is */
        status = list_shot(&all, shot[i]);
    }
    status = status == VS_ERR_MEMORY ? status : VS_OK;
    if (status == VS_OK) {
        runner->each(runner->context, all.count, trace, &all);
    }
    for (size_t i = 0; i < all.count && status == VS_OK; i++) {
        status = all.item[i].status;
    }
    free(all.item);
    return status;
}
