/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One shot's figures while its haze is being changed, by the predictor that the open scene keeps, so
 * that what does not depend on the haze is found once. */
#include <math.h>
#include <stdlib.h>

#include "ask/kept.h"
#include "page/core/page.h"
#include "veilstop/air/rooms.h"
#include "veilstop/report/predict.h"
#include "veilstop/shot/held.h"

void vs_page_close_numbers(vs_page *page) {
    vs_page_numbers *n = &page->numbers;
    for (size_t i = 0; n->own && i < n->count; i++) {
        vs_shot_prediction_free(&n->own[i]);
    }
    free(n->own);
    free(n->known);
    n->own = NULL;
    n->known = NULL;
    vs_text_free(&n->text);
}

static vs_status open_numbers(vs_page *page, size_t shots) {
    vs_page_numbers *n = &page->numbers;
    if (!n->own) {
        n->count = shots;
        n->own = calloc(shots + 1, sizeof *n->own);
        n->known = calloc(shots + 1, sizeof *n->known);
    }
    return n->own && n->known ? VS_OK : VS_ERR_MEMORY;
}

static vs_status predict(const vs_page *page, size_t shot, double extinction_per_m,
                         vs_shot_prediction *out) {
    vs_ask_kept *kept = page->ask.kept;
    const vs_scene *scene = &kept->scene;
    double rooms[VS_ROOMS_MAX];
    vs_status status =
        vs_held_rooms(scene, &scene->shot[shot], &kept->predictor.haze, extinction_per_m, rooms);
    return status == VS_OK ? vs_predict_shot(&kept->predictor, shot, rooms, out) : status;
}

/* A shot at its own density, worked out once. */
static vs_status own_of(vs_page *page, size_t shot, const vs_shot_prediction **out) {
    vs_page_numbers *n = &page->numbers;
    vs_status status = VS_OK;
    if (!n->known[shot]) {
        status = predict(page, shot, NAN, &n->own[shot]);
        n->known[shot] = status == VS_OK;
    }
    *out = n->known[shot] ? &n->own[shot] : NULL;
    return status;
}

/* Each want held against the shot. Those that it is to be like stay at their own densities; one
 * that is open yet says nothing. */
static vs_status hold_wants(vs_page *page, size_t shot, const vs_shot_prediction *prediction,
                            vs_want_result *result) {
    const vs_scene *scene = vs_ask_scene_of(&page->ask);
    const vs_scene_shot *s = &scene->shot[shot];
    vs_status status = VS_OK;
    for (size_t i = 0; i < s->want_count && status == VS_OK; i++) {
        const vs_shot_prediction *like = NULL;
        if (s->want[i].kind == VS_WANT_LIKE) {
            status = own_of(page, s->want[i].shot, &like);
            status = status == VS_ERR_INPUT ? VS_OK : status;
        }
        result[i] = vs_want_evaluate(prediction, i, &scene->camera[s->camera], like);
    }
    return status;
}

static vs_status write_answer(vs_page *page, size_t shot, const vs_shot_prediction *prediction) {
    const vs_scene *scene = vs_ask_scene_of(&page->ask);
    vs_want_result *result = calloc(scene->shot[shot].want_count + 1, sizeof *result);
    vs_status status = result ? hold_wants(page, shot, prediction, result) : VS_ERR_MEMORY;
    if (status == VS_OK) {
        vs_predict_answer answer = {prediction, result};
        vs_json json;
        vs_text_free(&page->numbers.text);
        vs_text_init(&page->numbers.text);
        vs_json_begin(&json, &page->numbers.text);
        vs_report_predict_json(&json, scene, &answer);
        status = json.broken[0] ? VS_ERR_CONVERGENCE : VS_OK;
    }
    free(result);
    return status;
}

PAGE_EXPORT(vs_page_predict)
const char *vs_page_predict(vs_page *page, int shot, double extinction_per_m) {
    vs_shot_prediction prediction;
    vs_status status = open_numbers(page, vs_ask_scene_of(&page->ask)->shot_count);
    if (status == VS_OK) {
        status = predict(page, (size_t)shot, extinction_per_m, &prediction);
    }
    if (status != VS_OK) {
        return NULL;
    }
    status = write_answer(page, (size_t)shot, &prediction);
    vs_shot_prediction_free(&prediction);
    return status == VS_OK ? page->numbers.text.bytes : NULL;
}
