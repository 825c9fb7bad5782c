/* SPDX-License-Identifier: GPL-3.0-or-later */
/* choose --spread: each sample is the scene's file read again with its uncertain numbers
 * changed. */
#include <math.h>
#include <stdlib.h>

#include "ask/choose/choose.h"
#include "ask/context.h"

#define TOGETHER 32 /* samples in memory at a time: our choice */

typedef struct {
    const vs_ask_scene *scene;
    vs_spread_plan plan;
    const vs_spread_figure *figure;
    size_t figures, inputs;
    double *factor, *value;
    const vs_haze *haze;
    double *now;         /* the figures of the original scene */
    vs_status *status;   /* one per sample */
    size_t first;        /* of the current samples */
    vs_scene_file *file; /* TOGETHER of them */
} spread_run;

/* The JSON library is not thread-safe: samples are read here one by one, then measured in
 * parallel. */
static vs_status read_sample(const spread_run *run, const double *factor, vs_scene_file *file,
                             vs_faults *faults) {
    return vs_scene_file_vary(run->scene->file, factor, file, faults);
}

static void measure_sample(void *context, size_t worker, size_t i) {
    spread_run *run = context;
    size_t sample = run->first + i;
    (void)worker;
    if (run->status[sample] == VS_OK) {
        run->status[sample] = vs_spread_measure(&run->file[i].scene, &run->plan, run->figure,
                                                run->figures, run->value + sample * run->figures);
    }
}

/* Measures `count` samples from the first of the current ones. */
static void measure_some(spread_run *run, size_t count) {
    for (size_t i = 0; i < count; i++) {
        vs_faults faults = {0};
        run->status[run->first + i] =
            read_sample(run, run->factor + (run->first + i) * run->inputs, &run->file[i], &faults);
    }
    vs_ask_each(count, NULL, measure_sample, run);
    for (size_t i = 0; i < count; i++) {
        vs_scene_file_free(&run->file[i]);
    }
}

/* Each number must be valid at both ends of its range, the others as they are. */
static vs_exit check_ends(spread_run *run) {
    const vs_scene *scene = run->scene->scene;
    for (size_t i = 0; i < run->inputs; i++) {
        run->factor[i] = 1;
    }
    for (size_t i = 0; i < 2 * run->inputs; i++) {
        const vs_scene_uncertain *input = &scene->uncertain[i / 2];
        double share = 1 + (i % 2 ? input->half_width : -input->half_width);
        vs_scene_file file;
        vs_faults faults = {0};
        run->factor[i / 2] = share;
        vs_status status = read_sample(run, run->factor, &file, &faults);
        run->factor[i / 2] = 1;
        if (status != VS_OK) {
            const vs_fault *fault = &faults.item[0];
            return faults.count == 0
                       ? vs_ask_fail_status(status, run->scene->path)
                       : vs_ask_fail(VS_EXIT_INPUT, "%s:/uncertain: at %.6g times its value %s %s",
                                     run->scene->path, share, fault->where, fault->text);
        }
        vs_scene_file_free(&file);
    }
    return VS_EXIT_DONE;
}

/* Moves the valid samples to the front and returns their number. *status: the last failure. */
static size_t keep_good(spread_run *run, size_t samples, vs_status *status) {
    size_t kept = 0;
    *status = VS_OK;
    for (size_t i = 0; i < samples; i++) {
        if (run->status[i] != VS_OK) {
            *status = run->status[i];
            continue;
        }
        for (size_t k = 0; k < run->inputs; k++) {
            run->factor[kept * run->inputs + k] = run->factor[i * run->inputs + k];
        }
        for (size_t k = 0; k < run->figures; k++) {
            run->value[kept * run->figures + k] = run->value[i * run->figures + k];
        }
        kept++;
    }
    return kept;
}

/* Whether any uncertain number affects more than the air. */
static bool moves_light(const vs_scene *scene) {
    for (size_t i = 0; i < scene->uncertain_count; i++) {
        if (!vs_scene_moves_air_alone(scene->uncertain[i].pointer)) {
            return true;
        }
    }
    return false;
}

/* The figures of the original scene, then all samples. */
static vs_exit sample_all(spread_run *run, size_t samples, vs_spread_figure *figure,
                          vs_choose_answer *answer) {
    vs_status status = vs_spread_now(run->scene->scene, &run->plan, figure, run->figures, run->now);
    for (size_t i = 0; i < run->figures; i++) {
        figure[i].now = run->now[i];
    }
    if (!moves_light(run->scene->scene)) {
        run->plan.light_value = run->now;
        run->plan.haze = run->haze;
    }
    if (status == VS_OK) {
        status = vs_spread_factors(run->scene->scene, samples, run->factor);
    }
    if (status != VS_OK) {
        return vs_ask_fail_status(status, run->scene->path);
    }
    vs_ask_doing("trials");
    for (run->first = 0; run->first < samples; run->first += TOGETHER) {
        measure_some(run, samples - run->first < TOGETHER ? samples - run->first : TOGETHER);
        vs_ask_share_done(run->first, samples);
    }
    size_t kept = keep_good(run, samples, &status);
    if (status == VS_ERR_MEMORY || 2 * kept < samples) {
        return vs_ask_fail_status(status, run->scene->path);
    }
    status = vs_spread_sum_up(run->factor, run->inputs, run->value, kept, figure, run->figures);
    answer->samples = samples;
    answer->left_out = samples - kept;
    return status == VS_OK ? VS_EXIT_DONE : vs_ask_fail_status(status, run->scene->path);
}

vs_exit vs_ask_choose_spread(const vs_ask_scene *scene, const vs_haze *haze, size_t samples,
                             vs_choose_answer *answer, vs_spread_figure **figures) {
    const vs_scene *s = scene->scene;
    if (s->uncertain_count == 0) {
        return vs_ask_fail(VS_EXIT_INPUT,
                           "%s:/uncertain: must name at least one number for --spread (got none)",
                           scene->path);
    }
    size_t count = vs_spread_figures(s, NULL);
    spread_run run = {
        .scene = scene,
        .plan = {answer->choices, answer->order ? answer->order->shot : NULL, NULL, NULL},
        .haze = haze,
        .figures = count,
        .inputs = s->uncertain_count};
    vs_spread_figure *figure = calloc(count + 1, sizeof *figure);
    run.factor = calloc(samples * run.inputs, sizeof *run.factor);
    run.value = calloc(samples * count + 1, sizeof *run.value);
    run.now = calloc(count + 1, sizeof *run.now);
    run.status = calloc(samples, sizeof *run.status);
    run.file = calloc(TOGETHER, sizeof *run.file);
    vs_exit code = VS_EXIT_DONE;
    if (!figure || !run.factor || !run.value || !run.now || !run.status || !run.file) {
        code = vs_ask_fail_status(VS_ERR_MEMORY, scene->path);
        goto cleanup;
    }
    vs_spread_figures(s, figure);
    run.figure = figure;
    code = check_ends(&run);
    if (code == VS_EXIT_DONE) {
        code = sample_all(&run, samples, figure, answer);
    }
cleanup:
    free(run.factor);
    free(run.value);
    free(run.now);
    free(run.status);
    free(run.file);
    answer->spread = *figures = figure;
    answer->spread_count = count;
    return code;
}
