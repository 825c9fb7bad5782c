/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Orders of the day judged by whole plans: the planner itself, shot after shot, without recording.
 * For few shots all orders, by branch and bound (Land & Doig 1960): a beginning that already waits
 * as long as the best whole day is dropped. For many, a beam search (Lowerre 1976) and moves of
 * runs. */
#include "shot/order/order_search.h"
#include "shot/day/dwell_fill.h"
#include "shot/day/dwell_hold.h"
#include "shot/order/order_moves.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define EQUAL_S    VS_ORDER_EQUAL_S
#define BEAM_WORK  8000 /* shots reached while orders are built: about a second; our choice */
#define BEAM_MAX   200  /* most beginnings kept: our choice */
#define BEAM_MIN   2
#define MOVES_WORK 3000 /* shots planned while runs are moved; our choice */
#define RUN_MAX    3    /* shots moved together: our choice */
#define ROOMS_FREE 4    /* rooms up to which all that work is done; with more, less */

vs_status vs_order_search_init(vs_order_search *s, const vs_scene *scene, const vs_haze *haze,
                               const double *extinction_per_m, size_t *culprit) {
    const vs_order_search blank = {.best_s = INFINITY};
    size_t n = scene->shot_count;
    *s = blank;
    s->count = n;
    vs_status status =
        vs_dwell_planner_init(&s->planner, scene, haze, NULL, extinction_per_m, &s->dwell);
    *culprit = s->dwell.culprit;
    if (status != VS_OK) {
        return status;
    }
    size_t size = vs_rooms_state_size(scene->room_count);
    s->place = calloc(n + 1, sizeof *s->place);
    s->states = calloc((n + 1) * size, sizeof *s->states);
    s->placed = calloc(n + 1, sizeof *s->placed);
    s->trial = calloc(n + 1, sizeof *s->trial);
    s->best = calloc(n + 1, sizeof *s->best);
    if (!s->place || !s->states || !s->placed || !s->trial || !s->best) {
        return VS_ERR_MEMORY;
    }
    s->planner.rehearses = true;
    for (size_t i = 0; i <= n; i++) {
        s->place[i].state = s->states + i * size;
    }
    for (size_t i = 0; i < n; i++) {
        if (s->dwell.shot[i].target_extinction_per_m > 0) {
            s->place[0].ready_s = scene->hazer.warm_up_s;
        }
    }
    return VS_OK;
}

void vs_order_search_free(vs_order_search *s) {
    vs_dwell_planner_free(&s->planner);
    vs_dwell_free(&s->dwell);
    free(s->place);
    free(s->states);
    free(s->placed);
    free(s->trial);
    free(s->best);
    memset(s, 0, sizeof *s);
}

/* The share of the work done with this many rooms, as each shot takes longer to plan. */
static double work_share(const vs_order_search *s) {
    return fmin(1, ROOMS_FREE / (double)s->planner.scene->room_count);
}

/* ---- one shot after another ---- */

static void stand_at(vs_order_search *s, const vs_order_place *place) {
    vs_dwell_copy(&s->planner, place->state, s->planner.state);
    s->planner.now_s = place->now_s;
    s->planner.ready_s = place->ready_s;
}

/* Reaches a shot from a place, and the day's waiting by then.  shot  out, as reached */
static vs_status reach(vs_order_search *s, const vs_order_place *from, size_t index,
                       vs_dwell_shot *shot, vs_order_place *then) {
    stand_at(s, from);
    *shot = s->dwell.shot[index];
    vs_status status = vs_dwell_fill(&s->planner, shot);
    then->wait_s = from->wait_s + s->planner.now_s - from->now_s;
    return status;
}

/* Plays the shot just reached. */
static vs_status pass(vs_order_search *s, vs_dwell_shot *shot, vs_order_place *then) {
    vs_status status = vs_dwell_work_out_hold(&s->planner, shot);
    if (status == VS_OK) {
        status = vs_dwell_play(&s->planner, shot);
    }
    s->planned++;
    vs_dwell_copy(&s->planner, s->planner.state, then->state);
    then->now_s = s->planner.now_s;
    then->ready_s = s->planner.ready_s;
    return status;
}

/* Whether a day that begins like this may still beat the best. */
static bool may_be_better(const vs_order_search *s, const vs_order_place *place) {
    return place->wait_s < s->best_s - EQUAL_S;
}

static void take_if_better(vs_order_search *s) {
    const vs_order_place *end = &s->place[s->count];
    if (may_be_better(s, end)) {
        s->best_s = end->wait_s;
        memcpy(s->best, s->trial, s->count * sizeof *s->best);
    }
}

vs_status vs_order_weigh(vs_order_search *s, size_t from, bool *done) {
    vs_status status = VS_OK;
    *done = false;
    for (size_t i = from; i < s->count && status == VS_OK; i++) {
        vs_dwell_shot shot;
        status = reach(s, &s->place[i], s->trial[i], &shot, &s->place[i + 1]);
        if (status == VS_OK && !may_be_better(s, &s->place[i + 1])) {
            return VS_OK;
        }
        if (status == VS_OK) {
            status = pass(s, &shot, &s->place[i + 1]);
        }
    }
    if (status == VS_OK) {
        take_if_better(s);
        *done = true;
    }
    return status;
}

/* ---- few shots: every order ---- */

/* A shot that may come next, and the day's waiting by then. */
typedef struct {
    size_t shot;
    double wait_s;
} candidate;

static int by_wait(const void *a, const void *b) {
    const candidate *x = a, *y = b;
    if (x->wait_s < y->wait_s || x->wait_s > y->wait_s) {
        return x->wait_s < y->wait_s ? -1 : 1;
    }
    return x->shot < y->shot ? -1 : x->shot > y->shot;
}

static vs_status find_next(vs_order_search *s, size_t depth, candidate *next, size_t *count) {
    const vs_scene_shot *shots = s->planner.scene->shot;
    vs_status status = VS_OK;
    *count = 0;
    for (size_t i = 0; i < s->count && status == VS_OK; i++) {
        if (s->placed[i] || !vs_order_may_follow(shots, i, s->placed)) {
            continue;
        }
        vs_dwell_shot shot;
        vs_order_place then;
        status = reach(s, &s->place[depth], i, &shot, &then);
        if (status == VS_OK && may_be_better(s, &then)) {
            next[(*count)++] = (candidate){i, then.wait_s};
        }
    }
    qsort(next, *count, sizeof *next, by_wait);
    return status;
}

static vs_status branch(vs_order_search *s, size_t depth) {
    candidate next[VS_ORDER_EXACT_MAX];
    size_t count;
    if (depth == s->count) {
        take_if_better(s);
        return VS_OK;
    }
    vs_status status = find_next(s, depth, next, &count);
    for (size_t i = 0; i < count && status == VS_OK; i++) {
        vs_order_place *then = &s->place[depth + 1];
        vs_dwell_shot shot;
        status = reach(s, &s->place[depth], next[i].shot, &shot, then);
        if (status != VS_OK || !may_be_better(s, then)) {
            continue;
        }
        status = pass(s, &shot, then);
        s->placed[next[i].shot] = true;
        s->trial[depth] = next[i].shot;
        if (status == VS_OK) {
            status = branch(s, depth + 1);
        }
        s->placed[next[i].shot] = false;
    }
    return status;
}

vs_status vs_order_weigh_all(vs_order_search *s) {
    memset(s->placed, 0, s->count * sizeof *s->placed);
    return branch(s, 0);
}

/* ---- many shots: the best order found ---- */

/* A beginning of an order. */
typedef struct {
    vs_order_place place;
    size_t *order;
    bool *placed;
} beginning;

/* A possible extension of a beginning. */
typedef struct {
    size_t from, shot;
    double estimate_s; /* of the whole day's waiting */
} extension;

typedef struct {
    vs_order_search *s;
    const vs_waits *waits;
    size_t width;
    beginning *all; /* memory of the next two, width each */
    beginning *now, *next;
    extension *extension; /* width x shots */
    size_t now_count, extension_count;
    double *states;
    size_t *orders;
    bool *flags;
} beam;

static size_t beam_width(const vs_order_search *s) {
    size_t n = s->count;
    size_t width = (size_t)fmin(BEAM_WORK * work_share(s) / (0.5 * (double)(n * n)), BEAM_MAX);
    return width > BEAM_MIN ? width : BEAM_MIN;
}

static vs_status beam_init(beam *b, vs_order_search *s, const vs_waits *waits) {
    size_t n = s->count, size = vs_rooms_state_size(s->planner.closed->count);
    const beam blank = {.s = s, .waits = waits};
    *b = blank;
    b->width = beam_width(s);
    size_t all = 2 * b->width;
    b->all = calloc(all, sizeof *b->all);
    b->extension = calloc(b->width * n, sizeof *b->extension);
    b->states = calloc(all * size, sizeof *b->states);
    b->orders = calloc(all * n, sizeof *b->orders);
    b->flags = calloc(all * n, sizeof *b->flags);
    if (!b->all || !b->extension || !b->states || !b->orders || !b->flags) {
        return VS_ERR_MEMORY;
    }
    b->now = b->all;
    b->next = b->all + b->width;
    for (size_t i = 0; i < b->width; i++) {
        size_t half = b->width + i;
        b->now[i] =
            (beginning){{.state = b->states + i * size}, b->orders + i * n, b->flags + i * n};
        b->next[i] = (beginning){
            {.state = b->states + half * size}, b->orders + half * n, b->flags + half * n};
    }
    return VS_OK;
}

static void beam_free(beam *b) {
    free(b->all);
    free(b->extension);
    free(b->states);
    free(b->orders);
    free(b->flags);
}

/* An estimate of the whole day's waiting: so far, plus for each remaining shot its least wait after
 * any other. */
static double estimate_s(const beam *b, const beginning *from, size_t shot) {
    const vs_waits *w = b->waits;
    double sum_s = 0;
    for (size_t j = 0; j < w->count; j++) {
        if (from->placed[j] || j == shot) {
            continue;
        }
        double least_s = w->between_s[shot * w->count + j];
        for (size_t i = 0; i < w->count; i++) {
            if (!from->placed[i] && i != j) {
                least_s = fmin(least_s, w->between_s[i * w->count + j]);
            }
        }
        sum_s += least_s;
    }
    return sum_s;
}

static vs_status extend(beam *b, size_t from) {
    vs_order_search *s = b->s;
    const beginning *begin = &b->now[from];
    vs_status status = VS_OK;
    for (size_t i = 0; i < s->count && status == VS_OK; i++) {
        if (begin->placed[i] || !vs_order_may_follow(s->planner.scene->shot, i, begin->placed)) {
            continue;
        }
        vs_dwell_shot shot;
        vs_order_place then;
        status = reach(s, &begin->place, i, &shot, &then);
        extension *e = &b->extension[b->extension_count++];
        *e = (extension){from, i, then.wait_s + estimate_s(b, begin, i)};
    }
    return status;
}

static int by_estimate(const void *a, const void *b) {
    const extension *x = a, *y = b;
    if (x->estimate_s < y->estimate_s || x->estimate_s > y->estimate_s) {
        return x->estimate_s < y->estimate_s ? -1 : 1;
    }
    if (x->from != y->from) {
        return x->from < y->from ? -1 : 1;
    }
    return x->shot < y->shot ? -1 : x->shot > y->shot;
}

/* Whether a beginning with the same shots and the same last shot is kept already. */
static bool kept_already(const beam *b, size_t kept, size_t depth, const extension *e) {
    for (size_t i = 0; i < kept; i++) {
        const beginning *other = &b->next[i];
        bool same = other->order[depth] == e->shot;
        for (size_t k = 0; k < b->s->count && same; k++) {
            same = other->placed[k] == (b->now[e->from].placed[k] || k == e->shot);
        }
        if (same) {
            return true;
        }
    }
    return false;
}

/* The most promising extensions become the beginnings. */
static vs_status keep_best(beam *b, size_t depth) {
    vs_order_search *s = b->s;
    size_t kept = 0;
    vs_status status = VS_OK;
    qsort(b->extension, b->extension_count, sizeof *b->extension, by_estimate);
    for (size_t i = 0; i < b->extension_count && kept < b->width && status == VS_OK; i++) {
        const extension *e = &b->extension[i];
        if (kept_already(b, kept, depth, e)) {
            continue;
        }
        const beginning *from = &b->now[e->from];
        beginning *to = &b->next[kept++];
        vs_dwell_shot shot;
        memcpy(to->order, from->order, depth * sizeof *to->order);
        memcpy(to->placed, from->placed, s->count * sizeof *to->placed);
        to->order[depth] = e->shot;
        to->placed[e->shot] = true;
        status = reach(s, &from->place, e->shot, &shot, &to->place);
        if (status == VS_OK) {
            status = pass(s, &shot, &to->place);
        }
    }
    beginning *swap = b->now;
    b->now = b->next;
    b->next = swap;
    b->now_count = kept;
    return status;
}

static vs_status build(vs_order_search *s, const vs_waits *waits) {
    beam b;
    vs_status status = beam_init(&b, s, waits);
    if (status == VS_OK) {
        vs_dwell_copy(&s->planner, s->place[0].state, b.now[0].place.state);
        b.now[0].place.now_s = s->place[0].now_s;
        b.now[0].place.ready_s = s->place[0].ready_s;
        b.now_count = 1;
    }
    for (size_t depth = 0; depth < s->count && status == VS_OK; depth++) {
        b.extension_count = 0;
        for (size_t i = 0; i < b.now_count && status == VS_OK; i++) {
            status = extend(&b, i);
        }
        if (status == VS_OK) {
            status = keep_best(&b, depth);
        }
    }
    for (size_t i = 0; i < b.now_count && status == VS_OK; i++) {
        bool done;
        memcpy(s->trial, b.now[i].order, s->count * sizeof *s->trial);
        status = vs_order_weigh(s, 0, &done);
    }
    beam_free(&b);
    return status;
}

/* Plans the best order again, to know the day before each of its places. */
static vs_status follow_best(vs_order_search *s) {
    vs_status status = VS_OK;
    for (size_t i = 0; i < s->count && status == VS_OK; i++) {
        vs_dwell_shot shot;
        status = reach(s, &s->place[i], s->best[i], &shot, &s->place[i + 1]);
        if (status == VS_OK) {
            status = pass(s, &shot, &s->place[i + 1]);
        }
    }
    return status;
}

/* Tries moving one run of the best order; `better`: whether that gained. Places before the run stay
 * those of the best order. */
static vs_status try_move(vs_order_search *s, size_t from, size_t length, size_t to, bool *better) {
    bool done;
    double before_s = s->best_s;
    vs_order_move_run(s->best, s->count, from, length, to, s->trial);
    *better = false;
    if (!vs_order_keeps_after(s->planner.scene->shot, s->trial, s->count, s->placed)) {
        return VS_OK;
    }
    vs_status status = vs_order_weigh(s, from < to ? from : to, &done);
    *better = s->best_s < before_s;
    return status;
}

/* Later places first: they leave the day before earlier places unchanged. */
static vs_status move_runs(vs_order_search *s) {
    size_t limit = s->planned + (size_t)(MOVES_WORK * work_share(s));
    vs_status status = follow_best(s);
    for (size_t first = s->count; first-- > 0 && s->planned < limit && status == VS_OK;) {
        bool better = false;
        for (size_t length = 1; length <= RUN_MAX && status == VS_OK; length++) {
            for (size_t other = first + 1;
                 other + length <= s->count && !better && status == VS_OK && s->planned < limit;
                 other++) {
                status = try_move(s, first, length, other, &better); /* later */
                if (status == VS_OK && !better) {
                    status = try_move(s, other, length, first, &better); /* earlier */
                }
            }
        }
        if (better && status == VS_OK) {
            status = follow_best(s);
            first = s->count;
        }
    }
    return status;
}

vs_status vs_order_search_beam(vs_order_search *s, const vs_waits *waits) {
    vs_status status = build(s, waits);
    return status == VS_OK ? move_runs(s) : status;
}
