/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Light of many spheres on one grid of angles. The forward and backward halves share their sums:
 * pi_n(-mu) = (-1)^(n-1) pi_n(mu), tau_n(-mu) = (-1)^n tau_n(mu) (Bohren & Huffman 1983, 4.3). */
#include "optics/angles.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/vector.h"
#include "veilstop/base/units.h"

#define SUMS 8 /* X, Y, U, V, each re and im: see add_two_terms */

/* pi_n and tau_n by Wiscombe 1980 eqs. 15, at every angle of the first half. */
static void fill_angular_functions(vs_angles *angles) {
    for (size_t j = 0; j < angles->half; j++) {
        double mu = cos(VS_PI * (double)j / (double)(2 * angles->terms));
        double pi = 1, before = 0;
        for (size_t i = 0; i < angles->terms; i++) {
            double n = (double)(i + 1);
            double step = mu * pi, rest = step - before;
            angles->pi[i * angles->half + j] = pi;
            angles->tau[i * angles->half + j] = n * rest - before;
            before = pi;
            pi = step + rest * (n + 1) / n;
        }
    }
}

vs_status vs_angles_init(vs_angles *angles, size_t terms) {
    memset(angles, 0, sizeof *angles);
    angles->terms = terms + terms % 2;
    angles->half = angles->terms + 1;
    size_t table = angles->terms * angles->half, sums = SUMS * angles->half;
    angles->memory = calloc(2 * table + sums + 2 * angles->half, sizeof *angles->memory);
    if (!angles->memory) {
        return VS_ERR_MEMORY;
    }
    angles->pi = angles->memory;
    angles->tau = angles->pi + table;
    angles->sum = angles->tau + table;
    angles->intensity = angles->sum + sums;
    fill_angular_functions(angles);
    return VS_OK;
}

void vs_angles_free(vs_angles *angles) {
    free(angles->memory);
    memset(angles, 0, sizeof *angles);
}

/* Adds c_p p + c_t t and d_p p + d_t t, complex c and d, real p and t, angle by angle. A separate
 * function, so that `restrict` lets the compiler vectorise over angles. */
typedef struct {
    double p_re, p_im, t_re, t_im;
} pair;

LANES_CLONES static void add_pairs(double *restrict cr, double *restrict ci, double *restrict dr,
                                   double *restrict di, const double *restrict p,
                                   const double *restrict t, pair c, pair d, size_t count) {
    for (size_t j = 0; j < count; j++) {
        cr[j] += c.p_re * p[j] + c.t_re * t[j];
        ci[j] += c.p_im * p[j] + c.t_im * t[j];
        dr[j] += d.p_re * p[j] + d.t_re * t[j];
        di[j] += d.p_im * p[j] + d.t_im * t[j];
    }
}

/* The coefficient of p is that of term i, that of t is that of term k; zero past the last term. */
static pair take_pair(const vs_mie_workspace *w, const double *p_re, const double *p_im, size_t i,
                      const double *t_re, const double *t_im, size_t k) {
    pair c = {0, 0, 0, 0};
    if (i < w->terms) {
        c.p_re = p_re[i];
        c.p_im = p_im[i];
    }
    if (k < w->terms) {
        c.t_re = t_re[k];
        c.t_im = t_im[k];
    }
    return c;
}

/* With X = sum over odd n of a pi plus over even n of b tau, Y = even a pi + odd b tau,
 * U = odd b pi + even a tau, V = even b pi + odd a tau:
 * S1 = X + Y in the forward and X - Y in the backward half, S2 = U + V and U - V. Adds the odd term
 * at index i and the even one after it. */
static void add_two_terms(vs_angles *angles, const vs_mie_workspace *w, size_t i) {
    size_t half = angles->half;
    double *x = angles->sum, *y = x + 2 * half, *u = x + 4 * half, *v = x + 6 * half;
    const double *odd_pi = angles->pi + i * half, *even_pi = odd_pi + half;
    const double *odd_tau = angles->tau + i * half, *even_tau = odd_tau + half;
    add_pairs(x, x + half, u, u + half, odd_pi, even_tau,
              take_pair(w, w->a_re, w->a_im, i, w->b_re, w->b_im, i + 1),
              take_pair(w, w->b_re, w->b_im, i, w->a_re, w->a_im, i + 1), half);
    add_pairs(y, y + half, v, v + half, even_pi, odd_tau,
              take_pair(w, w->a_re, w->a_im, i + 1, w->b_re, w->b_im, i),
              take_pair(w, w->b_re, w->b_im, i + 1, w->a_re, w->a_im, i), half);
}

static double square(double a) {
    return a * a;
}

LANES_CLONES static void add_intensity(vs_angles *angles, double weight) {
    size_t half = angles->half, last = 2 * angles->terms;
    const double *s = angles->sum;
    for (size_t j = 0; j < half; j++) {
        const double *x = s + j, *y = x + 2 * half, *u = x + 4 * half, *v = x + 6 * half;
        double ahead = square(x[0] + y[0]) + square(x[half] + y[half]) + square(u[0] + v[0]) +
                       square(u[half] + v[half]);
        double behind = square(x[0] - y[0]) + square(x[half] - y[half]) + square(u[0] - v[0]) +
                        square(u[half] - v[half]);
        angles->intensity[j] += 0.5 * weight * ahead;
        if (j + 1 < half) { /* 90 deg is its own mirror image */
            angles->intensity[last - j] += 0.5 * weight * behind;
        }
    }
}

void vs_angles_add(vs_angles *angles, const vs_mie_workspace *sphere, double weight) {
    memset(angles->sum, 0, SUMS * angles->half * sizeof *angles->sum);
    for (size_t i = 0; i < sphere->terms; i += 2) {
        add_two_terms(angles, sphere, i);
    }
    add_intensity(angles, weight);
}

/* Clenshaw's recurrence b_m = c_m + 2 cos(angle) b_{m+1} - b_{m+2} (Clenshaw 1955, MTAC 9, 118) for
 * LANES arguments side by side, which hides the latency of each step. */
LANES_CLONES static void series_at_lanes(const double *series, size_t count,
                                         const double *cos_angle, double *value) {
    double b1[LANES] = {0}, b2[LANES] = {0}, twice[LANES];
    EACH_LANE(l) {
        twice[l] = 2 * cos_angle[l];
    }
    for (size_t m = count; m-- > 1;) {
        EACH_LANE(l) {
            double b = series[m] + (twice[l] * b1[l] - b2[l]);
            b2[l] = b1[l];
            b1[l] = b;
        }
    }
    EACH_LANE(l) {
        value[l] = series[0] + (cos_angle[l] * b1[l] - b2[l]);
    }
}

void vs_angles_series_at(const double *series, size_t count, const double *cos_angle, double *value,
                         size_t points) {
    for (size_t i = 0; i < points; i += LANES) {
        size_t here = points - i < LANES ? points - i : LANES;
        double cosine[LANES] = {0}, sum[LANES];
        memcpy(cosine, cos_angle + i, here * sizeof *cosine);
        series_at_lanes(series, count, cosine, sum);
        memcpy(value + i, sum, here * sizeof *sum);
    }
}

/* The cosine transform that takes f(pi j / K), j = 0 .. K, to its series: c_m = (2/K) times the sum
 * of f cos(pi j m / K) with both ends halved; c_0 and c_K are halved once more. */
vs_status vs_angles_add_series(const vs_angles *angles, double *series) {
    size_t last = 2 * angles->terms;
    const double *f = angles->intensity;
    double *cosine = malloc(2 * (last + 1) * sizeof *cosine);
    if (!cosine) {
        return VS_ERR_MEMORY;
    }
    double *sum = cosine + last + 1;
    for (size_t m = 0; m <= last; m++) {
        cosine[m] = cos(VS_PI * (double)m / (double)last);
    }
    vs_angles_series_at(f, last + 1, cosine, sum, last + 1);
    for (size_t m = 0; m <= last; m++) {
        double ends = 0.5 * (f[0] + (m % 2 ? -f[last] : f[last]));
        series[m] += 2 * (sum[m] - ends) / (double)last * (m == 0 || m == last ? 0.5 : 1);
    }
    free(cosine);
    return VS_OK;
}
