/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Equations and names as in mie.c (Bohren & Huffman 1983, ch. 4); every lane runs to the most terms
 * of the eight and holds zeros past its own. */
#include "optics/spheres.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "optics/recurrence.h"

#define ROWS 8 /* arrays, one row per term: D (re, im), psi, chi, a, b (re, im) */

vs_status vs_spheres_init(vs_spheres *s, double size_max) {
    memset(s, 0, sizeof *s);
    if (!(size_max >= VS_MIE_SIZE_MIN && size_max <= VS_MIE_SIZE_MAX)) {
        return VS_ERR_DOMAIN;
    }
    size_t count = vs_mie_terms(size_max) + 1;
    s->memory = calloc(count, ROWS * sizeof(vs_spheres_row) + 2 * sizeof(double));
    if (!s->memory) {
        return VS_ERR_MEMORY;
    }
    s->size_max = size_max;
    s->d_re = s->memory;
    s->d_im = s->d_re + count;
    s->psi = s->d_im + count;
    s->chi = s->psi + count;
    s->a_re = s->chi + count;
    s->a_im = s->a_re + count;
    s->b_re = s->a_im + count;
    s->b_im = s->b_re + count;
    s->across = (double *)(s->b_im + count);
    s->along = s->across + count;
    for (size_t i = 1; i < count; i++) {
        s->across[i] = vs_term_across((double)i);
        s->along[i] = vs_term_along((double)i);
    }
    return VS_OK;
}

void vs_spheres_free(vs_spheres *s) {
    free(s->memory);
    memset(s, 0, sizeof *s);
}

/* Eq. 4.89, D_{n-1} = n/z - 1/(D_n + n/z), downwards. inverse: 1/z. */
LANES_CLONES static void log_derivatives(vs_spheres *s, size_t start, const double *inverse_re,
                                         const double *inverse_im) {
    double re[LANES] = {0}, im[LANES] = {0};
    for (size_t i = start; i > 0; i--) {
        double n = (double)i;
        if (i <= s->most) {
            memcpy(s->d_re[i], re, sizeof re);
            memcpy(s->d_im[i], im, sizeof im);
        }
        EACH_LANE(l) {
            double over_re = n * inverse_re[l], over_im = n * inverse_im[l];
            double sum_re = re[l] + over_re, sum_im = im[l] + over_im;
            double scale = 1 / (sum_re * sum_re + sum_im * sum_im);
            re[l] = over_re - sum_re * scale;
            im[l] = over_im + sum_im * scale;
        }
    }
}

/* psi_n/psi_{n-1} = 1/((2n+1)/x - psi_{n+1}/psi_n), downwards, into psi. */
LANES_CLONES static void ratios(vs_spheres *s, size_t start, const double *inverse) {
    double ratio[LANES] = {0};
    for (size_t i = start; i > 0; i--) {
        double odd = (double)(2 * i + 1);
        EACH_LANE(l) {
            ratio[l] = 1 / (odd * inverse[l] - ratio[l]);
        }
        if (i <= s->most) {
            memcpy(s->psi[i], ratio, sizeof ratio);
        }
    }
}

/* f_{n+1} = (2n+1)/x f_n - f_{n-1} upwards: chi throughout, psi while n <= x; above that psi by its
 * ratios. first: psi_0 and chi_0, and those of n = -1, from which the recurrence reaches n = 1. */
LANES_CLONES static void riccati_bessel(vs_spheres *s, const double *inverse, const double *sine,
                                        const double *cosine) {
    double psi[LANES], psi_before[LANES], chi[LANES], chi_before[LANES];
    EACH_LANE(l) {
        psi[l] = s->psi[0][l] = sine[l];
        chi[l] = s->chi[0][l] = cosine[l];
        psi_before[l] = cosine[l];
        chi_before[l] = -sine[l];
    }
    for (size_t i = 1; i <= s->most; i++) {
        double n = (double)i, odd = (double)(2 * i - 1);
        double *ratio = s->psi[i], *chi_row = s->chi[i];
        EACH_LANE(l) {
            double up = odd * inverse[l] * psi[l] - psi_before[l];
            double next = n <= s->size[l] ? up : ratio[l] * psi[l];
            double next_chi = odd * inverse[l] * chi[l] - chi_before[l];
            psi_before[l] = psi[l];
            chi_before[l] = chi[l];
            psi[l] = ratio[l] = n <= s->terms[l] ? next : 0;
            chi[l] = chi_row[l] = n <= s->terms[l] ? next_chi : 0;
        }
    }
}

/* Eqs. 4.88, (f psi_n - psi_{n-1})/(f xi_n - xi_{n-1}), f = slope D_n + n/x; in the form p/(p - i
 * c) for complex p and c. */
LANES_CLONES static void coefficients(const vs_spheres *s, const double *inverse, double slope_re,
                                      double slope_im, vs_spheres_row *re, vs_spheres_row *im) {
    for (size_t i = 1; i <= s->most; i++) {
        double n = (double)i;
        const double *d_re = s->d_re[i], *d_im = s->d_im[i];
        const double *psi = s->psi[i], *psi_before = s->psi[i - 1];
        const double *chi = s->chi[i], *chi_before = s->chi[i - 1];
        double *to_re = re[i], *to_im = im[i];
        EACH_LANE(l) {
            double f_re = slope_re * d_re[l] - slope_im * d_im[l] + n * inverse[l];
            double f_im = slope_re * d_im[l] + slope_im * d_re[l];
            double p_re = f_re * psi[l] - psi_before[l], p_im = f_im * psi[l];
            double c_re = f_re * chi[l] - chi_before[l], c_im = f_im * chi[l];
            double q_re = p_re + c_im, q_im = p_im - c_re;
            double square = q_re * q_re + q_im * q_im;
            bool own = n <= s->terms[l];
            double scale = 1 / (own ? square : 1);
            to_re[l] = own ? (p_re * q_re + p_im * q_im) * scale : 0;
            to_im[l] = own ? (p_im * q_re - p_re * q_im) * scale : 0;
        }
    }
}

/* Sums over the terms, one per lane. */
typedef struct {
    double extinction[LANES], scattering[LANES], asymmetry[LANES], forward_im[LANES];
    double back_re[LANES], back_im[LANES];
} sums;

/* Eqs. 4.61, 4.62 and p. 120, small terms first. */
LANES_CLONES static void sum_terms(const vs_spheres *s, sums *sum) {
    for (size_t i = s->most; i > 0; i--) {
        double odd = (double)(2 * i + 1), sign = i % 2 ? -1 : 1;
        double across = s->across[i], along = s->along[i];
        size_t next = i < s->most ? i + 1 : 0; /* row 0 is zero: there is no term past the last */
        const double *ar = s->a_re[i], *ai = s->a_im[i], *br = s->b_re[i], *bi = s->b_im[i];
        const double *next_ar = s->a_re[next], *next_ai = s->a_im[next];
        const double *next_br = s->b_re[next], *next_bi = s->b_im[next];
        EACH_LANE(l) {
            sum->extinction[l] += odd * (ar[l] + br[l]);
            sum->forward_im[l] += odd * (ai[l] + bi[l]);
            sum->scattering[l] +=
                odd * (ar[l] * ar[l] + ai[l] * ai[l] + br[l] * br[l] + bi[l] * bi[l]);
            sum->back_re[l] += sign * odd * (ar[l] - br[l]);
            sum->back_im[l] += sign * odd * (ai[l] - bi[l]);
            sum->asymmetry[l] += across * (ar[l] * br[l] + ai[l] * bi[l]);
            sum->asymmetry[l] += along * (ar[l] * next_ar[l] + ai[l] * next_ai[l] +
                                          br[l] * next_br[l] + bi[l] * next_bi[l]);
        }
    }
}

static void take_efficiencies(const vs_spheres *s, const sums *sum, vs_mie out[LANES]) {
    for (int l = 0; l < LANES; l++) {
        double over = 1 / (s->size[l] * s->size[l]);
        out[l].extinction = 2 * over * sum->extinction[l];
        out[l].scattering = 2 * over * sum->scattering[l];
        out[l].back =
            over * (sum->back_re[l] * sum->back_re[l] + sum->back_im[l] * sum->back_im[l]);
        out[l].asymmetry = 2 * sum->asymmetry[l] / sum->scattering[l];
        out[l].forward_re = 0.5 * sum->extinction[l];
        out[l].forward_im = 0.5 * sum->forward_im[l];
    }
}

/* False where a size is out of range. */
static bool set_sizes(vs_spheres *s, const double size[LANES]) {
    s->most = 0;
    for (int l = 0; l < LANES; l++) {
        if (!(size[l] >= VS_MIE_SIZE_MIN && size[l] <= s->size_max)) {
            return false;
        }
        size_t terms = vs_mie_terms(size[l]);
        s->size[l] = size[l];
        s->terms[l] = (double)terms;
        s->most = terms > s->most ? terms : s->most;
    }
    return true;
}

static void take_all(vs_spheres *s, double n, double k) {
    double square = n * n + k * k, largest = 0;
    double inverse[LANES], inner_re[LANES], inner_im[LANES], sine[LANES], cosine[LANES];
    for (int l = 0; l < LANES; l++) {
        inverse[l] = 1 / s->size[l];
        inner_re[l] = n / square * inverse[l]; /* of 1/(m x) */
        inner_im[l] = -k / square * inverse[l];
        sine[l] = sin(s->size[l]);
        cosine[l] = cos(s->size[l]);
        largest = fmax(largest, s->size[l]);
    }
    log_derivatives(s, vs_recurrence_start(sqrt(square) * largest, s->most), inner_re, inner_im);
    ratios(s, vs_recurrence_start(largest, s->most), inverse);
    riccati_bessel(s, inverse, sine, cosine);
    coefficients(s, inverse, n / square, -k / square, s->a_re, s->a_im);
    coefficients(s, inverse, n, k, s->b_re, s->b_im);
}

vs_status vs_spheres_take(vs_spheres *s, const double size[LANES], double n, double k,
                          vs_mie out[LANES]) {
    sums sum = {{0}, {0}, {0}, {0}, {0}, {0}};
    if (!set_sizes(s, size) || !(n > 0 && n <= VS_MIE_INDEX_MAX) ||
        !(k >= 0 && k <= VS_MIE_INDEX_MAX)) {
        s->most = 0;
        return VS_ERR_DOMAIN;
    }
    take_all(s, n, k);
    sum_terms(s, &sum);
    take_efficiencies(s, &sum, out);
    return VS_OK;
}

void vs_spheres_hand_over(const vs_spheres *s, int lane, vs_mie_workspace *work) {
    work->terms = (size_t)s->terms[lane];
    for (size_t i = 0; i < work->terms; i++) {
        double across = s->across[i + 1];
        work->a_re[i] = across * s->a_re[i + 1][lane];
        work->a_im[i] = across * s->a_im[i + 1][lane];
        work->b_re[i] = across * s->b_re[i + 1][lane];
        work->b_im[i] = across * s->b_im[i + 1][lane];
    }
}
