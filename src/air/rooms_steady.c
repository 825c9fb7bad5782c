/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "veilstop/air/rooms_steady.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

/* The balance of every room: flows to each other room, and losses. */
typedef struct {
    size_t count;
    double *to;     /* count x count [m3/s]; the diagonal does not matter */
    double *gone;   /* [m3/s of clean air] */
    double *source; /* as given */
    double *pivot;  /* of the rooms eliminated */
} balance;

static vs_status fill(balance *b, const vs_rooms *rooms, const double *source) {
    size_t n = rooms->count;
    memcpy(b->to, rooms->exchange_m3_per_s, n * n * sizeof *b->to);
    for (size_t i = 0; i < n; i++) {
        b->gone[i] = vs_rooms_loss_of(rooms, i).total * rooms->volume_m3[i];
        b->source[i] = source[i];
        if (!(b->gone[i] >= 0 && isfinite(b->gone[i]) && source[i] >= 0 && isfinite(source[i]))) {
            return VS_ERR_DOMAIN;
        }
    }
    return VS_OK;
}

/* Eliminates a room (Grassmann, Taksar & Heyman 1985): its flows pass on to the rooms that remain,
 * marked by `left`, in proportion to where its air goes. */
static void eliminate(balance *b, size_t room, const bool *left) {
    size_t n = b->count;
    double pivot = b->gone[room];
    for (size_t k = 0; k < n; k++) {
        pivot += left[k] ? b->to[room * n + k] : 0;
    }
    b->pivot[room] = pivot;
    for (size_t i = 0; i < n && pivot > 0; i++) {
        double share = b->to[i * n + room] / pivot;
        if (!left[i] || share == 0) {
            continue;
        }
        b->gone[i] += share * b->gone[room];
        b->source[i] += share * b->source[room];
        for (size_t k = 0; k < n; k++) {
            b->to[i * n + k] += left[k] && k != i ? share * b->to[room * n + k] : 0;
        }
    }
}

/* Back-substitution from the held room; false where a density would grow without limit. */
static bool substitute_back(const balance *b, const size_t *order, double per_source,
                            double *ratio) {
    size_t n = b->count;
    for (size_t place = n - 1; place-- > 0;) {
        size_t i = order[place];
        double comes = per_source * b->source[i];
        for (size_t later = place + 1; later < n; later++) {
            comes += b->to[i * n + order[later]] * ratio[order[later]];
        }
        if (comes > 0 && !(b->pivot[i] > 0)) {
            return false;
        }
        ratio[i] = comes > 0 ? comes / b->pivot[i] : 0;
    }
    return true;
}

static vs_status solve(balance *b, size_t room, size_t *order, bool *left, double *ratio) {
    size_t n = b->count, place = 0;
    for (size_t i = 0; i < n; i++) {
        left[i] = true;
        if (i != room) {
            order[place++] = i;
        }
    }
    order[place] = room;
    for (size_t i = 0; i + 1 < n; i++) {
        left[order[i]] = false;
        eliminate(b, order[i], left);
    }
    if (!(b->source[room] > 0)) {
        return VS_ERR_UNREACHABLE;
    }
    ratio[room] = 1;
    double per_source = b->gone[room] / b->source[room]; /* 0: no room loses haze */
    return isfinite(per_source) && substitute_back(b, order, per_source, ratio) ? VS_OK
                                                                                : VS_ERR_DOMAIN;
}

vs_status vs_rooms_steady(const vs_rooms *rooms, const double *source, size_t room, double *ratio) {
    size_t n = rooms->count;
    if (n < 1 || n > VS_ROOMS_MAX || room >= n) {
        return VS_ERR_DOMAIN;
    }
    double *memory = calloc(n * n + 3 * n, sizeof *memory);
    if (!memory) {
        return VS_ERR_MEMORY;
    }
    bool left[VS_ROOMS_MAX];
    size_t order[VS_ROOMS_MAX];
    balance b = {n, memory, memory + n * n, memory + n * n + n, memory + n * n + 2 * n};
    vs_status status = fill(&b, rooms, source);
    if (status == VS_OK) {
        status = solve(&b, room, order, left, ratio);
    }
    for (size_t i = 0; i < n; i++) {
        if (status == VS_OK && !isfinite(ratio[i])) {
            status = VS_ERR_DOMAIN;
        }
    }
    for (size_t i = 0; i < n && status != VS_OK; i++) {
        ratio[i] = NAN;
    }
    free(memory);
    return status;
}
