/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. Barycentric interpolation (Berrut & Trefethen 2004, SIAM Rev. 46, 501), at nodes
 * in any order, so that more can be added. */
#include "shot/choose/choose_indirect.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "shot/choose/choose_work.h"

/* Measured together on the demo's scenes and rooms of tests/accuracy: with them five densities tell
 * nearly all light to a thousandth, and six nearly as well as nine did on log(1 + k length). */
#define BEND      0.35 /* [1] of a length over which the search ends: what the logarithm bends at */
#define VEIL_PART 0.5  /* [1] of that length: the haze that a veil is taken to be made by */

static double length_m(const vs_indirect_curve *curve) {
    return VS_CHOOSE_DEPTH_MAX / curve->end_per_m;
}

double vs_indirect_curve_place(const vs_indirect_curve *curve, double extinction_per_m) {
    return log1p(BEND * extinction_per_m * length_m(curve)) / log1p(BEND * VS_CHOOSE_DEPTH_MAX);
}

double vs_indirect_curve_per_m(const vs_indirect_curve *curve, double place) {
    return expm1(place * log1p(BEND * VS_CHOOSE_DEPTH_MAX)) / (BEND * length_m(curve));
}

size_t vs_indirect_curve_notes(const vs_indirect_curve *curve) {
    return vs_note_count(curve->points, curve->beams);
}

/* What a veil grows with, and what is left of it is smooth. */
static double veil_scale(const vs_indirect_curve *curve, double k_per_m) {
    return -expm1(-VEIL_PART * k_per_m * length_m(curve));
}

/* The shares of the nodes, but for one to leave out, in the value at a density; they sum to 1. */
static void set_shares(const vs_indirect_curve *curve, double k_per_m, size_t without,
                       double *share) {
    double at = vs_indirect_curve_place(curve, k_per_m), sum = 0, place[VS_INDIRECT_NODES_MAX];
    memset(share, 0, VS_INDIRECT_NODES_MAX * sizeof *share);
    for (size_t i = 0; i < curve->count; i++) {
        place[i] = vs_indirect_curve_place(curve, curve->k_per_m[i]);
        if (i != without && curve->k_per_m[i] == k_per_m) {
            share[i] = 1;
            return;
        }
    }
    for (size_t i = 0; i < curve->count; i++) {
        double product = at - place[i];
        for (size_t j = 0; j < curve->count; j++) {
            product *= j == i || j == without ? 1 : place[i] - place[j];
        }
        share[i] = i == without ? 0 : 1 / product;
        sum += share[i];
    }
    for (size_t i = 0; i < curve->count; i++) {
        share[i] /= sum;
    }
}

/* One place's light of one lamp. */
static vs_bands light_at(const vs_indirect_curve *curve, const double *share, double k_per_m,
                         size_t note, size_t light) {
    vs_bands sum = vs_bands_grey(0);
    double scale = vs_note_is_veil(curve->points, note) ? veil_scale(curve, k_per_m) : 1;
    for (size_t i = 0; i < curve->count; i++) {
        double part = share[i];
        if (part == 0) {
            continue;
        }
        if (part != 1) {
            part *= vs_note_is_veil(curve->points, note)
                        ? scale / veil_scale(curve, curve->k_per_m[i])
                        : 1;
        }
        sum = vs_bands_add(sum, vs_bands_scale(curve->node[i][note * curve->lights + light], part));
    }
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        sum.v[band] = fmax(sum.v[band], 0);
    }
    return sum;
}

/* The light that the nodes tell, but for one to leave out. */
static vs_indirect_notes *read_at(vs_indirect_curve *curve, double extinction_per_m,
                                  size_t without) {
    double share[VS_INDIRECT_NODES_MAX];
    set_shares(curve, extinction_per_m, without, share);
    for (size_t note = 0; note < vs_indirect_curve_notes(curve); note++) {
        for (size_t light = 0; light < curve->lights; light++) {
            curve->read.note[note * curve->lights + light] =
                light_at(curve, share, extinction_per_m, note, light);
        }
    }
    return &curve->read;
}

vs_indirect_notes *vs_indirect_curve_at(vs_indirect_curve *curve, double extinction_per_m) {
    bool reaches = curve->count > 0 && extinction_per_m <= curve->end_per_m;
    return reaches ? read_at(curve, extinction_per_m, curve->count) : NULL;
}

size_t vs_indirect_curve_newest(const vs_indirect_curve *curve) {
    size_t i = curve->count - 1;
    while (i > 0 && !(curve->k_per_m[i] <= curve->search_end_per_m)) {
        i--;
    }
    return i;
}

vs_indirect_notes *vs_indirect_curve_foretold(vs_indirect_curve *curve) {
    size_t newest = vs_indirect_curve_newest(curve);
    return read_at(curve, curve->k_per_m[newest], newest);
}

vs_indirect_notes *vs_indirect_curve_exactly(vs_indirect_curve *curve, double extinction_per_m) {
    for (size_t i = 0; i < curve->count; i++) {
        if (curve->k_per_m[i] == extinction_per_m) {
            return vs_indirect_curve_at(curve, extinction_per_m);
        }
    }
    return NULL;
}

static double off(double estimated, double is) {
    return estimated == is ? 0 : fabs(estimated - is) / is;
}

double vs_indirect_most_off(const vs_shot_prediction *estimated, const vs_shot_prediction *is) {
    double most = 0;
    for (size_t i = 0; i < is->shot->point_count; i++) {
        const vs_point_prediction *a = &estimated->point[i], *b = &is->point[i];
        double veil = off(vs_bands_luminance(a->veil_nits), vs_bands_luminance(b->veil_nits));
        double hazed = off(vs_bands_luminance(a->hazed_nits), vs_bands_luminance(b->hazed_nits));
        most = fmax(most, fmax(veil, hazed));
    }
    for (size_t i = 0; i < is->beam_count; i++) {
        most = fmax(most, off(estimated->beam[i].background_nits, is->beam[i].background_nits));
    }
    return most;
}

void vs_indirect_curve_free(vs_indirect_curve *curve) {
    const vs_indirect_curve blank = {0};
    for (size_t i = 0; i < VS_INDIRECT_NODES_MAX; i++) {
        free(curve->node[i]);
    }
    free(curve->read.note);
    free(curve->newest_direct);
    vs_shot_prediction_free(&curve->newest);
    vs_direct_curve_free(&curve->direct);
    *curve = blank;
}
