/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The order with the least waiting: first from a table of waits from shot to shot, by
 * dynamic programming (Held & Karp 1962, J. SIAM 10, 196) or, for many shots, by moving runs (Or
 * 1976); then by whole plans (order_search.c). */
#include "veilstop/shot/order.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "shot/order/order_moves.h"
#include "shot/order/order_search.h"

#define EQUAL_S    VS_ORDER_EQUAL_S
#define RUN_MAX    3  /* shots moved together: our choice */
#define STARTS_MAX 16 /* first shots tried if there are many; our choice */
#define NOWHERE    SIZE_MAX
#define NO_SHOT    255 /* never an index, as sets have at most VS_ORDER_TABLE_MAX */

/* The wait from one shot to another; from NOWHERE: from the start of the day. Waits that were not
 * calculated are all equal. */
static double wait_s(const vs_waits *w, size_t from, size_t to) {
    if (!w->first_s) {
        return 0;
    }
    return from == NOWHERE ? w->first_s[to] : w->between_s[from * w->count + to];
}

/* An order that respects every `after`, choosing as the next shot the one with the least wait or
 * (greedy false) the first in the file. start NOWHERE: any shot may come first. False if no order
 * respects them all. */
static bool next_by_next(const vs_waits *w, const vs_scene_shot *shot, size_t start, bool greedy,
                         bool *placed, size_t *order) {
    memset(placed, 0, w->count * sizeof *placed);
    for (size_t i = 0; i < w->count; i++) {
        size_t best = NOWHERE, from = i > 0 ? order[i - 1] : NOWHERE;
        for (size_t j = 0; j < w->count; j++) {
            if (placed[j] || !vs_order_may_follow(shot, j, placed) ||
                (i == 0 && start != NOWHERE && j != start)) {
                continue;
            }
            if (best == NOWHERE || (greedy && wait_s(w, from, j) < wait_s(w, from, best))) {
                best = j;
            }
        }
        if (best == NOWHERE) {
            return false;
        }
        order[i] = best;
        placed[best] = true;
    }
    return true;
}

/* Per subset of shots (as bits) and last shot: the least waiting, and the shot before the last. */
typedef struct {
    const vs_waits *w;
    double *least_s;       /* subset x count */
    unsigned char *before; /* likewise */
} subset_table;

/* Whether a subset contains all that must come before a shot. */
static bool allowed(const vs_scene_shot *shot, size_t next, size_t subset) {
    for (size_t i = 0; i < shot[next].after_count; i++) {
        if (!(subset >> shot[next].after[i] & 1)) {
            return false;
        }
    }
    return true;
}

/* Extends every order of a subset by each shot that may follow. */
static void extend(const subset_table *t, const vs_scene_shot *shot, size_t subset) {
    size_t n = t->w->count;
    for (size_t next = 0; next < n; next++) {
        if (subset >> next & 1 || !allowed(shot, next, subset)) {
            continue;
        }
        size_t larger = subset | (size_t)1 << next;
        double *least_s = &t->least_s[larger * n + next];
        if (subset == 0) {
            *least_s = t->w->first_s[next];
        }
        for (size_t last = 0; last < n; last++) {
            double sum_s = subset >> last & 1
                               ? t->least_s[subset * n + last] + wait_s(t->w, last, next)
                               : (double)INFINITY;
            if (sum_s < *least_s) {
                *least_s = sum_s;
                t->before[larger * n + next] = (unsigned char)last;
            }
        }
    }
}

static void read_back(const subset_table *t, size_t *order) {
    size_t n = t->w->count, subset = ((size_t)1 << n) - 1, last = 0;
    for (size_t i = 1; i < n; i++) {
        last = t->least_s[subset * n + i] < t->least_s[subset * n + last] ? i : last;
    }
    for (size_t i = n; i-- > 0;) {
        order[i] = last;
        size_t before = t->before[subset * n + last];
        subset &= ~((size_t)1 << last);
        last = before;
    }
}

static vs_status least_of_all(const vs_waits *w, const vs_scene_shot *shot, size_t *order) {
    size_t n = w->count, subsets = (size_t)1 << n;
    subset_table t = {w, malloc(subsets * n * sizeof *t.least_s), malloc(subsets * n)};
    vs_status status = t.least_s && t.before ? VS_OK : VS_ERR_MEMORY;
    if (status == VS_OK) {
        for (size_t i = 0; i < subsets * n; i++) {
            t.least_s[i] = INFINITY;
            t.before[i] = NO_SHOT;
        }
        for (size_t subset = 0; subset + 1 < subsets; subset++) {
            extend(&t, shot, subset);
        }
        read_back(&t, order);
    }
    free(t.least_s);
    free(t.before);
    return status;
}

/* The wait between the shots at two places of an order; before the first comes the start of the
 * day, after the last nothing. */
static double link_s(const vs_waits *w, const size_t *order, size_t from, size_t to) {
    return to >= w->count ? 0 : wait_s(w, from == NOWHERE ? NOWHERE : order[from], order[to]);
}

/* How much moving a run shortens the total. `to` counts places of the order without the run. */
static double move_gain_s(const vs_waits *w, const size_t *order, size_t from, size_t length,
                          size_t to) {
    size_t before = from > 0 ? from - 1 : NOWHERE, last = from + length - 1;
    size_t right = to < from ? to : to + length; /* the shot it will precede */
    size_t left = right == 0 ? NOWHERE : right - 1;
    double now_s = link_s(w, order, before, from) + link_s(w, order, last, last + 1) +
                   link_s(w, order, left, right);
    double then_s = link_s(w, order, before, last + 1) + link_s(w, order, left, from) +
                    link_s(w, order, last, right);
    return to == from ? 0 : now_s - then_s;
}

/* Moves runs as long as that shortens the waiting. */
static void improve(const vs_waits *w, const vs_scene_shot *shot, bool *placed, size_t *trial,
                    size_t *order) {
    for (bool better = true; better;) {
        better = false;
        for (size_t length = 1; length <= RUN_MAX && length < w->count; length++) {
            for (size_t from = 0; from + length <= w->count; from++) {
                for (size_t to = 0; to + length <= w->count; to++) {
                    if (!(move_gain_s(w, order, from, length, to) > EQUAL_S)) {
                        continue;
                    }
                    vs_order_move_run(order, w->count, from, length, to, trial);
                    if (vs_order_keeps_after(shot, trial, w->count, placed)) {
                        memcpy(order, trial, w->count * sizeof *order);
                        better = true;
                    }
                }
            }
        }
    }
}

/* The best of several starts, improved. */
static vs_status least_found(const vs_waits *w, const vs_scene_shot *shot, bool *placed,
                             size_t *order) {
    size_t *work = malloc(2 * w->count * sizeof *work);
    if (!work) {
        return VS_ERR_MEMORY;
    }
    size_t *candidate = work, *trial = work + w->count;
    size_t starts = w->count < STARTS_MAX ? w->count : STARTS_MAX;
    double best_s = INFINITY;
    for (size_t i = 0; i <= starts; i++) {
        bool file = i == 0;
        size_t start = file ? NOWHERE : (i - 1) * w->count / starts;
        if (!next_by_next(w, shot, start, !file, placed, candidate)) {
            continue;
        }
        improve(w, shot, placed, trial, candidate);
        double total_s = vs_waits_total_s(w, candidate);
        if (total_s < best_s) {
            best_s = total_s;
            memcpy(order, candidate, w->count * sizeof *order);
        }
    }
    free(work);
    return VS_OK;
}

vs_status vs_order_least(const vs_waits *waits, const vs_scene_shot *shot, size_t *order,
                         bool *exact) {
    size_t n = waits->count;
    *exact = n <= VS_ORDER_TABLE_MAX;
    if (n == 0) {
        return VS_OK;
    }
    bool *placed = calloc(n, sizeof *placed);
    size_t *file = malloc(n * sizeof *file);
    vs_status status = placed && file ? VS_OK : VS_ERR_MEMORY;
    if (status == VS_OK && !next_by_next(waits, shot, NOWHERE, false, placed, file)) {
        status = VS_ERR_INPUT;
    }
    if (status == VS_OK) {
        status =
            *exact ? least_of_all(waits, shot, order) : least_found(waits, shot, placed, order);
    }
    if (status == VS_OK &&
        vs_waits_total_s(waits, file) <= vs_waits_total_s(waits, order) + EQUAL_S) {
        memcpy(order, file, n * sizeof *order);
    }
    free(placed);
    free(file);
    return status;
}

/* Starts a search with the file's order, if allowed, and the best by the table. */
static vs_status weigh_first(vs_order_search *s, const vs_scene *scene, const size_t *by_table) {
    size_t *file = malloc((s->count + 1) * sizeof *file);
    bool done;
    if (!file) {
        return VS_ERR_MEMORY;
    }
    for (size_t i = 0; i < s->count; i++) {
        s->trial[i] = file[i] = i;
    }
    vs_status status = VS_OK;
    if (vs_order_keeps_after(scene->shot, file, s->count, s->placed)) {
        status = vs_order_weigh(s, 0, &done);
    }
    if (status == VS_OK) {
        memcpy(s->trial, by_table, s->count * sizeof *s->trial);
        status = vs_order_weigh(s, 0, &done);
    }
    free(file);
    return status;
}

/* Waiting in the file's order, whether allowed or not. */
static vs_status file_wait_s(const vs_scene *scene, const vs_haze *haze,
                             const double *extinction_per_m, double *wait_s) {
    vs_order_search s;
    size_t culprit;
    bool done;
    vs_status status = vs_order_search_init(&s, scene, haze, extinction_per_m, &culprit);
    for (size_t i = 0; i < scene->shot_count && status == VS_OK; i++) {
        s.trial[i] = i;
    }
    if (status == VS_OK) {
        status = vs_order_weigh(&s, 0, &done);
        *wait_s = s.best_s;
    }
    vs_order_search_free(&s);
    return status;
}

static vs_status search(const vs_scene *scene, const vs_haze *haze, const double *extinction_per_m,
                        const vs_waits *waits, bool all, vs_order *order) {
    vs_order_search s;
    vs_status status = vs_order_search_init(&s, scene, haze, extinction_per_m, &order->culprit);
    if (status == VS_OK) {
        status = weigh_first(&s, scene, order->shot);
    }
    if (status == VS_OK && s.count > 1) {
        status = all ? vs_order_weigh_all(&s) : vs_order_search_beam(&s, waits);
    }
    if (status == VS_OK) {
        memcpy(order->shot, s.best, s.count * sizeof *order->shot);
        order->wait_s = s.best_s;
        order->exact = all || s.count < 2;
    }
    vs_order_search_free(&s);
    return status;
}

vs_status vs_order_day(const vs_scene *scene, const vs_haze *haze, const double *extinction_per_m,
                       size_t all_up_to, vs_order *order) {
    const vs_order blank = {.count = scene->shot_count, .culprit = VS_NONE};
    vs_waits waits;
    bool by_table;
    *order = blank;
    vs_status status = vs_waits_init(&waits, scene, haze, extinction_per_m, &order->culprit);
    if (status != VS_OK) {
        return status;
    }
    order->shot = calloc(order->count + 1, sizeof *order->shot);
    status =
        order->shot ? vs_order_least(&waits, scene->shot, order->shot, &by_table) : VS_ERR_MEMORY;
    if (status == VS_OK) {
        status = file_wait_s(scene, haze, extinction_per_m, &order->file_wait_s);
    }
    if (status == VS_OK) {
        bool all = order->count <= all_up_to && order->count <= VS_ORDER_EXACT_MAX;
        status = search(scene, haze, extinction_per_m, &waits, all, order);
    }
    vs_waits_free(&waits);
    if (status != VS_OK) {
        vs_order_free(order);
    }
    return status;
}

vs_status vs_order_filed(const vs_scene *scene, vs_order *order) {
    const vs_order filed = {
        .count = scene->shot_count, .file_wait_s = NAN, .wait_s = NAN, .culprit = VS_NONE};
    const vs_waits unknown = {.count = scene->shot_count};
    *order = filed;
    order->shot = calloc(order->count + 1, sizeof *order->shot);
    bool *placed = calloc(order->count + 1, sizeof *placed);
    vs_status status = order->shot && placed ? VS_OK : VS_ERR_MEMORY;
    if (status == VS_OK &&
        !next_by_next(&unknown, scene->shot, NOWHERE, false, placed, order->shot)) {
        status = VS_ERR_INPUT;
    }
    free(placed);
    if (status != VS_OK) {
        vs_order_free(order);
    }
    return status;
}

void vs_order_free(vs_order *order) {
    const vs_order blank = {.culprit = VS_NONE};
    free(order->shot);
    *order = blank;
}
