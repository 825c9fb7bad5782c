/* SPDX-License-Identifier: GPL-3.0-or-later */
/* veilstop choose: the density for each shot, the order of the day, and where to place a lamp. */
#include "ask/choose/choose.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ask/day_plan.h"
#include "veilstop/report/rooms.h"
#include "veilstop/shot/held.h"

/* The state of one run. */
typedef struct {
    const vs_ask_args *args;
    const vs_ask_scene *scene;
    vs_predictor predictor;
    vs_choices choices;
    double *planned_per_m; /* one per shot */
    vs_order order;
    vs_spread_figure *spread;
    vs_turn *turn;
    char no_waits[256];
    vs_ask_peaks peaks;
    vs_choose_answer answer;
} choose_run;

/* With one shot shown, the day still has the others: their open densities are chosen too, if
 * possible. */
static vs_exit plan_others(choose_run *run) {
    vs_scene_with_densities filled;
    vs_status status = vs_scene_with_densities_by(&filled, &run->predictor, VS_NONE);
    for (size_t i = 0; i < run->scene->scene->shot_count && status == VS_OK; i++) {
        double k = filled.chosen_per_m[i];
        run->planned_per_m[i] = isnan(run->planned_per_m[i]) ? k : run->planned_per_m[i];
    }
    vs_scene_with_densities_free(&filled);
    return status == VS_OK || status == VS_ERR_INPUT ? VS_EXIT_DONE
                                                     : vs_ask_fail_status(status, run->scene->path);
}

static vs_exit choose_densities(choose_run *run) {
    const vs_scene *s = run->scene->scene;
    /* the spread follows the whole day, whatever is shown */
    bool all = vs_ask_flag(run->args, "spread");
    vs_status status = vs_ask_predictor_init(&run->predictor, run->scene);
    if (status == VS_OK) {
        status = vs_choose(&run->predictor, all ? VS_NONE : run->answer.only, VS_CHOOSE_ADVICE,
                           &run->choices);
    }
    if (status != VS_OK) {
        return vs_ask_fail_choice(run->scene->path, status, run->choices.culprit);
    }
    run->answer.choices = &run->choices;
    run->planned_per_m = calloc(s->shot_count + 1, sizeof *run->planned_per_m);
    if (!run->planned_per_m) {
        return vs_ask_fail_status(VS_ERR_MEMORY, run->scene->path);
    }
    for (size_t i = 0; i < s->shot_count; i++) {
        const vs_choice *c = &run->choices.shot[i];
        run->planned_per_m[i] = isnan(c->planned_per_m) ? c->given_per_m : c->planned_per_m;
    }
    return run->answer.only == VS_NONE ? VS_EXIT_DONE : plan_others(run);
}

/* Why the waits cannot be calculated; false if the scene is not the reason. */
static bool why_no_waits(choose_run *run, vs_status status, size_t culprit) {
    const vs_scene *s = run->scene->scene;
    if (status == VS_ERR_INPUT && s->hazer.room == VS_NONE) {
        snprintf(run->no_waits, sizeof run->no_waits, "the scene has no hazer");
    } else if (status == VS_ERR_UNREACHABLE && culprit != VS_NONE) {
        vs_text why;
        vs_text_init(&why);
        vs_report_no_way(&why, s, &s->shot[culprit]);
        snprintf(run->no_waits, sizeof run->no_waits, "%.64s: %.180s", s->shot[culprit].name,
                 vs_text_words(&why, &why));
        vs_text_free(&why);
    } else if (status == VS_ERR_DOMAIN) {
        snprintf(run->no_waits, sizeof run->no_waits,
                 "more than %d shots, or a day longer than a month", VS_ORDER_SHOTS_MAX);
    } else {
        return false;
    }
    run->answer.no_waits = run->no_waits;
    return true;
}

static vs_exit find_order(choose_run *run) {
    const vs_scene *s = run->scene->scene;
    if (run->answer.only != VS_NONE) {
        return VS_EXIT_DONE;
    }
    vs_status status =
        vs_order_day(s, &run->predictor.haze, run->planned_per_m, VS_ORDER_EXACT_MAX, &run->order);
    if (status != VS_OK && why_no_waits(run, status, run->order.culprit)) {
        status = vs_order_filed(s, &run->order);
    }
    run->answer.order = &run->order;
    return status == VS_OK ? VS_EXIT_DONE : vs_ask_fail_status(status, run->scene->path);
}

static vs_exit find_spread(choose_run *run) {
    double samples = VS_SPREAD_SAMPLES;
    if (!vs_ask_number(run->args, "samples", VS_SPREAD_SAMPLES_MIN, VS_SPREAD_SAMPLES_MAX,
                       &samples)) {
        return VS_EXIT_USAGE;
    }
    if (!vs_ask_flag(run->args, "spread")) {
        return VS_EXIT_DONE;
    }
    return vs_ask_choose_spread(run->scene, &run->predictor.haze, (size_t)samples, &run->answer,
                                &run->spread);
}

/* The light that --turn names. */
static vs_exit find_light(const choose_run *run, size_t *light) {
    const vs_scene *s = run->scene->scene;
    const char *name = vs_ask_value(run->args, "turn");
    for (*light = 0; *light < s->light_count; ++*light) {
        if (strcmp(s->light[*light].name, name) == 0) {
            return vs_turn_can(&s->light[*light])
                       ? VS_EXIT_DONE
                       : vs_ask_fail(VS_EXIT_USAGE,
                                     "--turn: must be a spot that does not stand straight over or "
                                     "under its aim (got %s)",
                                     name);
        }
    }
    return vs_ask_fail(VS_EXIT_USAGE, "--turn: %s has no light named %s", run->scene->path, name);
}

static vs_exit turn_light(choose_run *run) {
    const vs_scene *s = run->scene->scene;
    size_t light;
    if (!vs_ask_value(run->args, "turn")) {
        return VS_EXIT_DONE;
    }
    vs_exit code = find_light(run, &light);
    if (code != VS_EXIT_DONE) {
        return code;
    }
    run->turn = calloc(s->shot_count + 1, sizeof *run->turn);
    if (!run->turn) {
        return vs_ask_fail_status(VS_ERR_MEMORY, run->scene->path);
    }
    for (size_t i = 0; i < s->shot_count; i++) {
        bool selected = run->answer.only == VS_NONE || run->answer.only == i;
        bool hazed = run->planned_per_m[i] > 0;
        if (!selected || !hazed || !vs_shot_uses_light(&s->shot[i], light)) {
            continue;
        }
        vs_status status = vs_turn_sweep(&run->predictor, i, light, run->planned_per_m,
                                         &run->turn[run->answer.turn_count++]);
        if (status != VS_OK) {
            return vs_ask_fail_status(status, run->scene->path);
        }
    }
    run->answer.turn = run->turn;
    return run->answer.turn_count > 0
               ? VS_EXIT_DONE
               : vs_ask_fail(VS_EXIT_USAGE, "--turn: no shot that is asked for uses %s in haze",
                             s->light[light].name);
}

/* The thickest planned density of each room, and the day's peaks. */
static vs_status find_peaks(choose_run *run) {
    const vs_scene *scene = run->scene->scene;
    double shown[VS_ROOMS_MAX] = {0}, room[VS_ROOMS_MAX] = {0};
    vs_status status = VS_OK;
    for (size_t i = 0; i < run->choices.shot_count && status == VS_OK; i++) {
        double k = run->planned_per_m[i];
        if (!isnan(k)) {
            status = vs_held_rooms(scene, &scene->shot[i], &run->predictor.haze, k, room);
        }
        for (size_t r = 0; r < scene->room_count && status == VS_OK && !isnan(k); r++) {
            shown[r] = fmax(shown[r], room[r]);
        }
    }
    return status == VS_OK ? vs_ask_day_peaks(scene, &run->predictor.haze, run->planned_per_m,
                                              shown, &run->peaks)
                           : status;
}

static vs_exit print_choice(const choose_run *run) {
    const vs_ask_scene *scene = run->scene;
    vs_exit code = VS_EXIT_DONE;
    for (size_t i = 0; i < run->choices.shot_count; i++) {
        bool selected = run->answer.only == VS_NONE || run->answer.only == i;
        code = selected && !run->choices.shot[i].met ? VS_EXIT_UNMET : code;
    }
    vs_text text;
    vs_json json;
    vs_cautions_peaks peaks = vs_ask_peaks_of(&run->peaks);
    vs_text_init(&text);
    vs_json_begin(&json, &text);
    if (vs_ask_flag(run->args, "json")) {
        vs_ask_scene_head_json(&json, "choose", scene);
        vs_report_choose_json(&json, scene->scene, &run->answer);
        vs_ask_scene_alarms(&json, scene, &peaks);
        vs_json_close_object(&json);
        vs_text_addf(&text, "\n");
    } else {
        vs_ask_scene_head(&text, scene);
        vs_text_addf(&text, "\n");
        vs_report_choose_text(&text, &scene->style, scene->scene, &run->answer);
        code = vs_ask_scene_cautions(&text, scene, &peaks, code);
    }
    code = vs_ask_print_answer(&text, &json, code);
    vs_text_free(&text);
    return code;
}

static vs_exit answer_all(choose_run *run) {
    static vs_exit (*const step[])(choose_run *) = {choose_densities, find_order, find_spread,
                                                    turn_light};
    vs_exit code = VS_EXIT_DONE;
    static const char *const doing[] = {"choosing densities", "trying orders", "trials",
                                        "turning the lamp"};
    for (size_t i = 0; i < sizeof step / sizeof step[0] && code == VS_EXIT_DONE; i++) {
        vs_ask_doing(doing[i]);
        code = step[i](run);
    }
    if (code == VS_EXIT_DONE) {
        vs_status status = find_peaks(run);
        code = status == VS_OK ? VS_EXIT_DONE : vs_ask_fail_status(status, run->scene->path);
    }
    return code == VS_EXIT_DONE ? print_choice(run) : code;
}

static vs_exit run_choose(const vs_ask_args *args) {
    vs_ask_scene scene;
    size_t first, end;
    if (vs_ask_value(args, "samples") && !vs_ask_flag(args, "spread")) {
        return vs_ask_fail(VS_EXIT_USAGE, "--samples: must stand beside --spread");
    }
    vs_exit code = vs_ask_scene_open(args, 0, &scene);
    if (code != VS_EXIT_DONE) {
        return code;
    }
    choose_run run = {.args = args, .scene = &scene};
    code = vs_ask_scene_shots(args, &scene, &first, &end);
    if (code == VS_EXIT_DONE) {
        run.answer.only = vs_ask_value(args, "shot") ? first : VS_NONE;
        code = answer_all(&run);
    }
    free(run.turn);
    free(run.spread);
    vs_order_free(&run.order);
    free(run.planned_per_m);
    vs_choices_free(&run.choices);
    vs_ask_predictor_free(&run.predictor, &scene);
    vs_ask_scene_close(&scene);
    return code;
}

const vs_ask_command vs_ask_command_choose = {
    .name = "choose",
    .operands = "SCENE.json",
    .summary = "the best density for each shot, how thin and thick it may be, the order of the day",
    .operand_min = 1,
    .operand_max = 1,
    .option = {VS_ASK_SHOT,
               {"spread", NULL, "how far it may be off, by the numbers your file calls uncertain"},
               {"samples", "N", "trials of the spread, 16 to 4096 (default 256)"},
               {"turn", "LIGHT",
                "that spot carried round its aim: how its beam reads, what it costs"},
               VS_ASK_JSON,
               VS_ASK_UNITS,
               VS_ASK_DATA},
    .example = {"choose data/demo/cellar.json",
                "choose data/demo/cellar.json --turn \"hand lamp\""},
    .run = run_choose,
};
