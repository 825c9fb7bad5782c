/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One sample through choose, predict and dwell; then the statistics of many. */
#include "veilstop/shot/spread.h"

#include <math.h>
#include <stdlib.h>

#include "veilstop/base/quasi_random.h"
#include "veilstop/base/statistics.h"
#include "veilstop/shot/dwell.h"
#include "veilstop/shot/held.h"

#define CHANCE 2.0 /* [1] over sqrt(samples): two standard errors if there is no correlation */

#define WORD(member, word) [member] = word,
const char *vs_spread_word(vs_spread_kind kind) {
    static const char *const words[] = {VS_SPREAD_LIST(WORD)};
    return (size_t)kind < sizeof words / sizeof words[0] ? words[kind] : "unknown";
}

static void add(vs_spread_figure *list, size_t *count, vs_spread_kind kind, size_t shot,
                size_t want) {
    const vs_spread_figure figure = {.kind = kind,
                                     .shot = shot,
                                     .want = want,
                                     .now = NAN,
                                     .p10 = NAN,
                                     .p50 = NAN,
                                     .p90 = NAN,
                                     .main_input = VS_NONE,
                                     .rank_correlation = NAN};
    if (list) {
        list[*count] = figure;
    }
    ++*count;
}

size_t vs_spread_figures(const vs_scene *scene, vs_spread_figure *list) {
    size_t count = 0;
    bool hazer = scene->hazer.room != VS_NONE;
    for (size_t s = 0; s < scene->shot_count; s++) {
        size_t wants = scene->shot[s].want_count;
        for (int kind = VS_SPREAD_LOWEST; kind <= VS_SPREAD_RECOMMENDED && wants > 0; kind++) {
            add(list, &count, (vs_spread_kind)kind, s, VS_NONE);
        }
        for (size_t w = 0; w < wants; w++) {
            add(list, &count, VS_SPREAD_WANT, s, w);
        }
        for (int kind = VS_SPREAD_RUN; kind <= VS_SPREAD_WAIT && hazer; kind++) {
            add(list, &count, (vs_spread_kind)kind, s, VS_NONE);
        }
    }
    for (int kind = VS_SPREAD_DAY; kind <= VS_SPREAD_FLUID && hazer; kind++) {
        add(list, &count, (vs_spread_kind)kind, VS_NONE, VS_NONE);
    }
    return count;
}

vs_status vs_spread_factors(const vs_scene *scene, size_t samples, double *factor) {
    size_t inputs = scene->uncertain_count;
    vs_status status = vs_sobol_points(inputs, samples, factor);
    for (size_t i = 0; i < samples * inputs && status == VS_OK; i++) {
        factor[i] = 1 + scene->uncertain[i % inputs].half_width * (2 * factor[i] - 1);
    }
    return status;
}

/* The sample being evaluated. */
typedef struct {
    const vs_scene *scene;
    const vs_spread_plan *plan;
    const vs_spread_figure *figure;
    size_t count;
    double *value;
} sample;

/* Sets the value of a figure of a kind, by its shot and want. */
static void put(const sample *s, vs_spread_kind kind, size_t shot, size_t want, double value) {
    for (size_t i = 0; i < s->count; i++) {
        const vs_spread_figure *f = &s->figure[i];
        if (f->kind == kind && f->shot == shot && (kind != VS_SPREAD_WANT || f->want == want)) {
            s->value[i] = value;
        }
    }
}

static void put_choices(const sample *s, const vs_choices *choices) {
    for (size_t i = 0; i < choices->shot_count; i++) {
        const vs_choice *c = &choices->shot[i];
        put(s, VS_SPREAD_LOWEST, i, VS_NONE, c->lowest_per_m);
        put(s, VS_SPREAD_HIGHEST, i, VS_NONE, c->highest_per_m);
        put(s, VS_SPREAD_RECOMMENDED, i, VS_NONE, c->met ? c->recommended_per_m : (double)NAN);
    }
}

static vs_status measure_choices(const sample *s, vs_predictor *predictor) {
    vs_choices choices;
    vs_status status = vs_choose_again(predictor, s->plan->choices, &choices);
    if (status == VS_OK) {
        put_choices(s, &choices);
        vs_choices_free(&choices);
    }
    return status;
}

static void put_wants(const sample *s, const vs_shot_prediction *prediction) {
    for (size_t i = 0; i < s->scene->shot_count; i++) {
        const vs_scene_shot *shot = &s->scene->shot[i];
        for (size_t w = 0; w < shot->want_count; w++) {
            const vs_shot_prediction *like =
                shot->want[w].kind == VS_WANT_LIKE ? &prediction[shot->want[w].shot] : NULL;
            double value =
                vs_want_evaluate(&prediction[i], w, &s->scene->camera[shot->camera], like).value;
            put(s, VS_SPREAD_WANT, i, w, isfinite(value) ? value : (double)NAN);
        }
    }
}

/* Every shot at its planned density. */
static vs_status measure_wants(const sample *s, vs_predictor *predictor) {
    static const vs_predict_part part = {NULL, true, false, NULL};
    vs_shot_prediction *prediction = calloc(s->scene->shot_count + 1, sizeof *prediction);
    double *room = calloc(s->scene->room_count + 1, sizeof *room);
    vs_status status = prediction && room ? VS_OK : VS_ERR_MEMORY;
    for (size_t i = 0; i < s->scene->shot_count && status == VS_OK; i++) {
        status = vs_held_rooms(s->scene, &s->scene->shot[i], &predictor->haze,
                               s->plan->choices->shot[i].planned_per_m, room);
        if (status == VS_OK) {
            status = vs_predict_part_of_shot(predictor, i, &part, room, &prediction[i]);
        }
    }
    if (status == VS_OK) {
        put_wants(s, prediction);
    }
    for (size_t i = 0; prediction && i < s->scene->shot_count; i++) {
        vs_shot_prediction_free(&prediction[i]);
    }
    free(prediction);
    free(room);
    return status;
}

static void put_day(const sample *s, const vs_dwell *dwell) {
    double wait_s = dwell->end_s;
    for (size_t i = 0; i < dwell->shot_count; i++) {
        const vs_dwell_shot *shot = &dwell->shot[i];
        wait_s -= s->scene->shot[i].length_s;
        put(s, VS_SPREAD_RUN, shot->shot, VS_NONE, shot->run_s / VS_S_PER_MIN);
        put(s, VS_SPREAD_WAIT, shot->shot, VS_NONE, shot->wait_s / VS_S_PER_MIN);
    }
    put(s, VS_SPREAD_DAY, VS_NONE, VS_NONE, wait_s / VS_S_PER_MIN);
    put(s, VS_SPREAD_CLEAR, VS_NONE, VS_NONE, dwell->clear_s / VS_S_PER_MIN);
    put(s, VS_SPREAD_FLUID, VS_NONE, VS_NONE, dwell->fluid_ml);
}

/* The planned day; a day that cannot be planned has no figures. */
static vs_status measure_day(const sample *s, const vs_haze *haze) {
    vs_dwell dwell;
    if (s->scene->hazer.room == VS_NONE) {
        return VS_OK;
    }
    double *planned_per_m = calloc(s->scene->shot_count + 1, sizeof *planned_per_m);
    if (!planned_per_m) {
        return VS_ERR_MEMORY;
    }
    for (size_t i = 0; i < s->scene->shot_count; i++) {
        planned_per_m[i] = s->plan->choices->shot[i].planned_per_m;
    }
    vs_status status = vs_dwell_plan(s->scene, haze, s->plan->order, planned_per_m, &dwell);
    free(planned_per_m);
    if (status == VS_OK) {
        put_day(s, &dwell);
        vs_dwell_free(&dwell);
    }
    return status == VS_ERR_MEMORY || status == VS_ERR_CONVERGENCE ? status : VS_OK;
}

static vs_status measure_light(const sample *s, bool chosen) {
    vs_predictor predictor;
    vs_status status = vs_predictor_init(&predictor, s->scene);
    if (status != VS_OK) {
        return status;
    }
    if (chosen) {
        put_choices(s, s->plan->choices);
    } else {
        status = measure_choices(s, &predictor);
    }
    if (status == VS_OK) {
        status = measure_wants(s, &predictor);
    }
    vs_predictor_free(&predictor);
    return status;
}

/* chosen: the plan's choices are those of this scene itself */
static vs_status measure(const vs_scene *scene, const vs_spread_plan *plan, bool chosen,
                         const vs_spread_figure *figure, size_t count, double *value) {
    const sample s = {scene, plan, figure, count, value};
    vs_haze own;
    for (size_t i = 0; i < count; i++) {
        bool light = figure[i].kind <= VS_SPREAD_WANT;
        value[i] = light && plan->light_value ? plan->light_value[i] : (double)NAN;
    }
    if (plan->light_value && plan->haze) {
        return measure_day(&s, plan->haze);
    }
    vs_status status = vs_haze_init(&own, &scene->fluid);
    if (status != VS_OK) {
        return status;
    }
    if (!plan->light_value) {
        status = measure_light(&s, chosen);
    }
    if (status == VS_OK) {
        status = measure_day(&s, &own);
    }
    vs_haze_free(&own);
    return status;
}

vs_status vs_spread_measure(const vs_scene *scene, const vs_spread_plan *plan,
                            const vs_spread_figure *figure, size_t count, double *value) {
    return measure(scene, plan, false, figure, count, value);
}

vs_status vs_spread_now(const vs_scene *scene, const vs_spread_plan *plan,
                        const vs_spread_figure *figure, size_t count, double *value) {
    return measure(scene, plan, true, figure, count, value);
}

/* The uncertain number that a figure depends on most closely, over the samples that have the
 * figure.
 * known  the figure's values; input  workspace for as many values of a number */
static vs_status find_main_input(const double *factor, size_t inputs, const double *value,
                                 size_t samples, size_t count, const double *known, double *input,
                                 vs_spread_figure *out) {
    double most = CHANCE / sqrt((double)samples);
    for (size_t k = 0; k < inputs; k++) {
        size_t n = 0;
        double rho;
        for (size_t i = 0; i < samples; i++) {
            if (!isnan(value[i * count])) {
                input[n++] = factor[i * inputs + k];
            }
        }
        vs_status status = vs_rank_correlation(input, known, n, &rho);
        if (status != VS_OK) {
            return status;
        }
        if (fabs(rho) > most) {
            most = fabs(rho);
            out->main_input = k;
            out->rank_correlation = rho;
        }
    }
    return VS_OK;
}

/* value  the figure's in the first sample; that of the next is `count` further */
static vs_status sum_up_one(const double *factor, size_t inputs, const double *value,
                            size_t samples, size_t count, double *work, vs_spread_figure *out) {
    double *known = work, *input = work + samples;
    out->known = 0;
    for (size_t i = 0; i < samples; i++) {
        if (!isnan(value[i * count])) {
            known[out->known++] = value[i * count];
        }
    }
    out->main_input = VS_NONE;
    out->rank_correlation = NAN;
    vs_status status = find_main_input(factor, inputs, value, samples, count, known, input, out);
    vs_sort(known, out->known);
    out->p10 = vs_quantile(known, out->known, 0.1);
    out->p50 = vs_quantile(known, out->known, 0.5);
    out->p90 = vs_quantile(known, out->known, 0.9);
    return status;
}

vs_status vs_spread_sum_up(const double *factor, size_t inputs, const double *value, size_t samples,
                           vs_spread_figure *figure, size_t count) {
    double *work = malloc((2 * samples + 1) * sizeof *work);
    vs_status status = work ? VS_OK : VS_ERR_MEMORY;
    for (size_t i = 0; i < count && status == VS_OK; i++) {
        status = sum_up_one(factor, inputs, value + i, samples, count, work, &figure[i]);
    }
    free(work);
    return status;
}
