/* Sweeps over cells and patches, each taking the newest of the others (Gauss & Seidel), until they
 * rest. Weights: exp(-t) of a patch that is seen over the depth t, 1 - exp(-t) of the air before
 * it. */
#include <stdlib.h>
#include <string.h>

#include "light/exchange.h"

#define SWEEP_MAX  2000 /* a white room without exit, reflectance 0.999, takes some hundreds */
#define SWEEP_REST 2e-4 /* [1] of the largest luminance: a change that no longer counts */

static size_t whole_lanes(size_t count) {
    return (count + LANES - 1) / LANES * LANES;
}

vs_status vs_exchange_init(vs_exchange *x, const vs_views *views) {
    const vs_exchange fresh = {.views = views};
    *x = fresh;
    x->depth = calloc(whole_lanes(views->view_count) + 1, sizeof *x->depth);
    x->transmitted = calloc(whole_lanes(views->view_count) + 1, sizeof *x->transmitted);
    x->weight = calloc(views->entry_count + 1, sizeof *x->weight);
    x->factor = calloc(views->place_count + 1, sizeof *x->factor);
    x->value = calloc(views->place_count * LANES + 1, sizeof *x->value);
    if (!x->depth || !x->transmitted || !x->weight || !x->factor || !x->value) {
        vs_exchange_free(x);
        return VS_ERR_MEMORY;
    }
    return VS_OK;
}

void vs_exchange_free(vs_exchange *x) {
    const vs_exchange blank = {0};
    free(x->depth);
    free(x->transmitted);
    free(x->weight);
    free(x->factor);
    free(x->value);
    *x = blank;
}

void vs_exchange_set_air(vs_exchange *x, const vs_medium *medium) {
    const vs_views *views = x->views;
    size_t piece = 0;
    for (size_t n = 0; n < views->view_count; n++) {
        x->depth[n] = 0;
        for (; piece < views->view[n].piece_end; piece++) {
            x->depth[n] += medium->room_extinction_per_m[views->piece[piece].room] *
                           views->piece[piece].length_m;
        }
    }
}

LANES_CLONES static void set_transmitted(const double *depth, double rate, double *transmitted,
                                         size_t count) {
    for (size_t i = 0; i < count; i += LANES) {
        EACH_LANE(l) {
            transmitted[i + (size_t)l] = lane_exp(-rate * depth[i + (size_t)l]);
        }
    }
}

static void set_factors(vs_exchange *x, const vs_medium *medium, double albedo) {
    const vs_mesh *mesh = &x->views->mesh;
    for (size_t r = 0; r < mesh->space->room_count; r++) {
        const vs_cell_grid *g = &mesh->cells[r];
        for (size_t c = 0; c < vs_mesh_cell_count(g); c++) {
            x->factor[g->first + c] = medium->room_extinction_per_m[r] > 0 ? albedo : 0;
        }
    }
    for (size_t i = 0; i < mesh->patch_count; i++) {
        const vs_patch *patch = &mesh->patch[i];
        x->factor[mesh->cell_count + i] = patch->portal == VS_MESH_NONE ? patch->reflectance : 0;
    }
}

void vs_exchange_set_band(vs_exchange *x, const vs_medium *medium, double rate, double albedo) {
    const vs_views *views = x->views;
    set_transmitted(x->depth, rate, x->transmitted, views->view_count);
    for (size_t i = 0; i < views->entry_count; i++) {
        x->weight[i] = 0;
    }
    for (size_t n = 0; n < views->view_count; n++) {
        const vs_view *view = &views->view[n];
        x->weight[view->patch] += view->share * x->transmitted[n];
        x->weight[view->air] += view->share * (1 - x->transmitted[n]);
    }
    set_factors(x, medium, albedo);
}

/* One sweep over some places. rest: out, lane by lane whether none changed by much. */
LANES_CLONES static void sweep(const vs_exchange *x, const double *source, size_t first, size_t end,
                               bool *rest) {
    double change[LANES] = {0}, largest[LANES] = {0};
    for (size_t i = first; i < end; i++) {
        double sum[LANES], *value = x->value + i * LANES, factor = x->factor[i];
        if (factor == 0) {
            continue;
        }
        EACH_LANE(l) {
            sum[l] = source[i * LANES + (size_t)l];
        }
        for (size_t e = x->views->entry_first[i]; e < x->views->entry_first[i + 1]; e++) {
            const double *seen = x->value + x->views->entry[e] * LANES, weight = x->weight[e];
            EACH_LANE(l) {
                sum[l] += weight * seen[l];
            }
        }
        EACH_LANE(l) {
            double now = factor * sum[l];
            change[l] = lane_max(change[l], lane_max(now - value[l], value[l] - now));
            largest[l] = lane_max(largest[l], now);
            value[l] = now;
        }
    }
    for (int l = 0; l < LANES; l++) {
        rest[l] = rest[l] && change[l] <= SWEEP_REST * largest[l];
    }
}

/* Lights that have come to rest are taken out, so that none is swept for another's sake. Returns
 * how many still move. */
static int take_rested(const vs_exchange *x, const bool *rest, bool *taken, double *nits) {
    int moving = 0;
    for (size_t l = 0; l < LANES; l++) {
        for (size_t i = 0; i < x->views->place_count && rest[l] && !taken[l]; i++) {
            nits[i * LANES + l] = x->value[i * LANES + l];
        }
        taken[l] = taken[l] || rest[l];
        moving += !taken[l];
    }
    return moving;
}

vs_status vs_exchange_solve(const vs_exchange *x, const double *source, double *nits) {
    size_t cells = x->views->mesh.cell_count, places = x->views->place_count;
    bool taken[LANES] = {false};
    int moving = LANES;
    memcpy(x->value, nits, places * LANES * sizeof *nits);
    for (int n = 0; n < SWEEP_MAX && moving > 0; n++) {
        bool rest[LANES] = {true, true, true, true, true, true, true, true};
        sweep(x, source, 0, cells, rest);
        sweep(x, source, cells, places, rest);
        moving = take_rested(x, rest, taken, nits);
    }
    return moving == 0 ? VS_OK : VS_ERR_CONVERGENCE;
}
