/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The phase functions of the three bands side by side, as fast loops read them: by the angle and by
 * the solid angle under which the light comes; and cut down to low orders, their peak counted as
 * light that goes on (delta-M). Private to src/light. */
#ifndef VEILSTOP_LIGHT_MESH_SCATTERING_H
#define VEILSTOP_LIGHT_MESH_SCATTERING_H

#include <stdbool.h>

#include "base/lanes.h"
#include "base/single.h"
#include "light/mesh/harmonics.h"
#include "veilstop/optics/haze.h"
#include "veilstop/optics/moments.h"

#define VS_SPLIT_ORDER_MAX 7
#define CAP_WIDEST         8 /* [1] of a solid angle: a rectangle 16 by 1; our choice */

/* A phase function p is taken as share x (exactly forward) + the rest, whose moments past an order
 * are then zero: rest_l = moment_l - share, share = moment_(order + 1) (delta-M: Wiscombe 1977,
 * J. Atmos. Sci. 34, 1408). Light on its way is dimmed by extinction x dimming; only the last
 * droplet before the lens scatters by the whole of p (Nakajima & Tanaka 1988, J. Quant. Spectrosc.
 * Radiat. Transfer 40, 51). */
typedef struct {
    int order;
    double rest[VS_BAND_COUNT][VS_SPLIT_ORDER_MAX + 1]; /* (2 l + 1) rest_l/(4 pi) [1/sr] */
    float power[VS_BAND_COUNT][VS_SPLIT_ORDER_MAX + 1]; /* that in powers of the cosine [1/sr] */
    double straight[VS_BAND_COUNT];                     /* share */
    vs_bands dimming;                                   /* 1 - albedo x share [1] */
} vs_split_phase;

/* The rest of a band's phase function [1/sr]; it integrates to 1 - share. */
double vs_split_phase_per_sr(const vs_split_phase *split, int band, double cosine);

typedef struct {
    float per_sr[VS_CAP_SIZES][VS_CAP_ANGLES][4]; /* the fourth is room for vectors */
    double moment[VS_BAND_COUNT][VS_SH_ORDER + 1];
    vs_split_phase wide;   /* to the harmonics' order: of light that fills rooms */
    vs_split_phase narrow; /* to a higher one: of light straight from a narrow beam */
    double gather; /* how nodes gather towards forward: tan(angle/2) = gather (1 + t)/(1 - t) */
} vs_scattering;

void vs_scattering_make(vs_scattering *scattering, const vs_haze *haze);

/* The split used for light straight from an emitter, or for other light. */
static inline const vs_split_phase *vs_split_of(const vs_scattering *s, bool beam) {
    return beam ? &s->narrow : &s->wide;
}

/* Places in the table of eight angles by their cosines. */
LANES_INLINE void lanes_scattering_angles(const float *cosine, float *place) {
    EACH_LANE(l) {
        float sine = sqrtf(single_max(1 - cosine[l] * cosine[l], SINGLE_TINY));
        place[l] = single_min(sine / (1 + cosine[l] + sine), 1) * (VS_CAP_ANGLES - 1);
    }
}

/* Solid angle of a cap that is as wide as what unit vectors over a solid angle sum to: its mean
 * cosine to its middle is the same. Rounding may not make it wide. */
LANES_INLINE float lane_cap_sr(float sum_sr, float solid_sr) {
    float spread = 1 - sum_sr / (solid_sr + SINGLE_TINY);
    return single_min(4 * SINGLE_PI * single_max(0, spread), CAP_WIDEST * solid_sr);
}

/* Turns eight fours, bands and room for a fourth, into bands of eight. */
LANES_INLINE void lanes_of_fours(float four[LANES][4], float band[VS_BAND_COUNT][LANES]) {
    EACH_LANE(l) {
        band[0][l] = four[l][0];
        band[1][l] = four[l][1];
        band[2][l] = four[l][2];
    }
}

/* Eight phase functions of single directions in all bands. */
LANES_INLINE void lanes_phases(const float of[VS_CAP_ANGLES][4], const float *cosine,
                               float per_sr[VS_BAND_COUNT][LANES]) {
    float angle[LANES], four[LANES][4];
    lanes_scattering_angles(cosine, angle);
    for (int l = 0; l < LANES; l++) {
        int k = (int)single_min(angle[l], VS_CAP_ANGLES - 2);
        float along = angle[l] - (float)k;
        const float *a = of[k], *b = of[k + 1];
        EACH_OF_FOUR(n) {
            four[l][n] = a[n] + along * (b[n] - a[n]);
        }
    }
    lanes_of_fours(four, per_sr);
}

/* Eight phase functions in all bands: per_sr[band][lane] of caps of a solid angle. */
LANES_INLINE void lanes_scattering(const vs_scattering *s, const float *cosine,
                                   const float *solid_sr, float per_sr[VS_BAND_COUNT][LANES]) {
    float angle[LANES], size[LANES], four[LANES][4];
    lanes_scattering_angles(cosine, angle);
    EACH_LANE(l) {
        float share = single_min(single_max(solid_sr[l], 0) * (0.5f / SINGLE_PI), 1);
        size[l] = sqrtf(share) * (VS_CAP_SIZES - 1);
    }
    for (int l = 0; l < LANES; l++) {
        int i = (int)single_min(size[l], VS_CAP_SIZES - 2),
            k = (int)single_min(angle[l], VS_CAP_ANGLES - 2);
        float across = size[l] - (float)i, along = angle[l] - (float)k;
        const float *a = s->per_sr[i][k], *b = s->per_sr[i][k + 1];
        const float *c = s->per_sr[i + 1][k], *d = s->per_sr[i + 1][k + 1];
        EACH_OF_FOUR(n) {
            float low = a[n] + along * (b[n] - a[n]);
            float high = c[n] + along * (d[n] - c[n]);
            four[l][n] = low + across * (high - low);
        }
    }
    lanes_of_fours(four, per_sr);
}

#endif
