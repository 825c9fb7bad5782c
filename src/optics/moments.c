/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Legendre moments of a phase function and its means over caps. Sources: the header. */
#include "veilstop/optics/moments.h"

#include <math.h>

#include "veilstop/base/units.h"

#define ORDERS 128 /* terms of the sums over moments */

/* Gauss-Legendre on [-1, 1], four points; Abramowitz & Stegun 1964, table 25.4. */
static const double node[4] = {-0.861136311594053, -0.339981043584856, 0.339981043584856,
                               0.861136311594053};
static const double weight[4] = {0.347854845137454, 0.652145154862546, 0.652145154862546,
                                 0.347854845137454};

#define ABREAST 4 /* cosines at a time */

/* Adds the sum of strength x P_l(mu) over a few cosines, for all l, by (l + 1) P_{l+1} =
 * (2l + 1) mu P_l - l P_{l-1} (Abramowitz & Stegun 1964, 22.7). */
static void add_legendre(const double mu[ABREAST], const double strength[ABREAST], size_t count,
                         double *sum) {
    double before[ABREAST] = {0}, now[ABREAST] = {1, 1, 1, 1};
    for (size_t l = 0; l < count; l++) {
        double per = 1 / ((double)l + 1), up = (2 * (double)l + 1) * per, down = (double)l * per;
        double part[ABREAST];
        for (int i = 0; i < ABREAST; i++) {
            double next = up * mu[i] * now[i] - down * before[i];
            part[i] = strength[i] * now[i];
            before[i] = now[i];
            now[i] = next;
        }
        sum[l] += (part[0] + part[1]) + (part[2] + part[3]);
    }
}

/* chi_l = g^l (Henyey & Greenstein 1941), or 2 pi times the integral of p P_l over mu, summed cell
 * by cell. */
void vs_phase_moments(const vs_phase *phase, size_t count, double *moment) {
    for (size_t l = 0; l < count; l++) {
        moment[l] = phase->kind == VS_PHASE_TABLE ? 0 : pow(phase->g, (double)l);
    }
    if (phase->kind != VS_PHASE_TABLE) {
        return;
    }
    double half = 0.5 / (double)(phase->count - 1);
    for (size_t cell = 0; cell + 1 < phase->count; cell++) {
        double mu[ABREAST], strength[ABREAST];
        for (int i = 0; i < ABREAST; i++) {
            double w = (2 * (double)cell + 1 + node[i]) * half;
            /* mu = cos(2 atan(w/(1 - w))): d mu = -4 w (1 - w) (1 - 2 w + 2 w^2)^-2 d w */
            double square = 1 - 2 * w + 2 * w * w;
            double slope = 4 * w * (1 - w) / (square * square);
            double p = phase->value[cell] +
                       (node[i] + 1) / 2 * (phase->value[cell + 1] - phase->value[cell]);
            mu[i] = (1 - 2 * w) / square;
            strength[i] = 2 * VS_PI * p * slope * weight[i] * half;
        }
        add_legendre(mu, strength, count, moment);
    }
}

/* The factor (P_{l-1}(c) - P_{l+1}(c))/((2l + 1)(1 - c)) by which averaging over a cap scales each
 * moment, c the cosine of its half angle (Sloan, Kautz & Snyder 2002: zonal harmonics). */
static void cap_weights(double cosine, double *share) {
    double legendre[ORDERS + 1] = {0};
    for (int l = 0; l <= ORDERS; l++) {
        legendre[l] =
            l == 0   ? 1
            : l == 1 ? cosine
                     : ((2 * l - 1) * cosine * legendre[l - 1] - (l - 1) * legendre[l - 2]) / l;
    }
    share[0] = 1;
    for (int l = 1; l < ORDERS; l++) {
        share[l] = (legendre[l - 1] - legendre[l + 1]) / ((2 * l + 1) * (1 - cosine));
    }
}

/* p(mu) = sum over l of (2l + 1)/(4 pi) chi_l P_l(mu) (Chandrasekhar 1950, ch. I, 3), each term
 * times the cap's factor. */
void vs_cap_phase_make(const vs_phase *phase, vs_cap_phase *cap) {
    double moment[ORDERS], share[VS_CAP_SIZES][ORDERS];
    vs_phase_moments(phase, ORDERS, moment);
    for (int size = 1; size < VS_CAP_SIZES; size++) {
        double root = size / (VS_CAP_SIZES - 1.0);
        cap_weights(1 - root * root, share[size]);
    }
    for (int angle = 0; angle < VS_CAP_ANGLES; angle++) {
        double mu = vs_phase_table_cosine(angle / (VS_CAP_ANGLES - 1.0)), term[ORDERS] = {0};
        const double alone[ABREAST] = {1}, cosine[ABREAST] = {mu};
        add_legendre(cosine, alone, ORDERS, term);
        cap->value[0][angle] = (float)vs_phase_per_sr(phase, mu);
        for (int l = 0; l < ORDERS; l++) {
            term[l] *= moment[l] * (2 * l + 1) / (4 * VS_PI);
        }
        for (int size = 1; size < VS_CAP_SIZES; size++) {
            double sum[ABREAST] = {0};
            for (int l = 0; l < ORDERS; l++) {
                sum[l % ABREAST] += term[l] * share[size][l];
            }
            double all = (sum[0] + sum[1]) + (sum[2] + sum[3]);
            cap->value[size][angle] = (float)fmax(all, 0);
        }
    }
}
