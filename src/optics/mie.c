/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Mie's series for one homogeneous sphere. Names follow Bohren & Huffman 1983, ch. 4: x the size
 * parameter, m the index, z = m x, D_n(z) the logarithmic derivative of psi_n(z), psi_n and chi_n
 * the Riccati-Bessel functions of x, xi_n = psi_n - i chi_n. */
#include "veilstop/optics/mie.h"

#include <complex.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "optics/recurrence.h"

#ifndef CMPLX /* C11 7.3.9.3, which the C library gives to gcc alone */
#define CMPLX(re, im) __builtin_complex((double)(re), (double)(im))
#endif

#define ARRAYS 10 /* of doubles in a workspace: a, b, D (re, im), psi, chi, two weights */

size_t vs_mie_terms(double size_parameter) {
    return (size_t)ceil(size_parameter + 4.05 * cbrt(size_parameter) + 2);
}

/* The scratch arrays after the coefficients, each with an entry for every term and for n = 0. */
typedef struct {
    double *d_re, *d_im, *psi, *chi;
    double *across; /* (2n + 1)/(n (n + 1)) at [n]: between a_n and b_n */
    double *along;  /* n (n + 2)/(n + 1) at [n]: between a_n and a_{n+1} */
} scratch;

static size_t stride_of(const vs_mie_workspace *work) {
    return (size_t)(work->a_im - work->a_re);
}

static scratch scratch_of(const vs_mie_workspace *work) {
    size_t stride = stride_of(work);
    double *base = work->memory + 4 * stride;
    scratch s = {base,
                 base + stride,
                 base + 2 * stride,
                 base + 3 * stride,
                 base + 4 * stride,
                 base + 5 * stride};
    return s;
}

static void fill_weights(vs_mie_workspace *work) {
    scratch s = scratch_of(work);
    s.across[0] = s.along[0] = 0;
    for (size_t i = 1; i < stride_of(work); i++) {
        s.across[i] = vs_term_across((double)i);
        s.along[i] = vs_term_along((double)i);
    }
}

vs_status vs_mie_workspace_init(vs_mie_workspace *work, double size_max) {
    memset(work, 0, sizeof *work);
    if (!(size_max >= VS_MIE_SIZE_MIN && size_max <= VS_MIE_SIZE_MAX)) {
        return VS_ERR_DOMAIN;
    }
    size_t stride = vs_mie_terms(size_max) + 1;
    work->memory = malloc(ARRAYS * stride * sizeof *work->memory);
    if (!work->memory) {
        return VS_ERR_MEMORY;
    }
    work->size_max = size_max;
    work->a_re = work->memory;
    work->a_im = work->a_re + stride;
    work->b_re = work->a_im + stride;
    work->b_im = work->b_re + stride;
    fill_weights(work);
    return VS_OK;
}

void vs_mie_workspace_free(vs_mie_workspace *work) {
    free(work->memory);
    memset(work, 0, sizeof *work);
}

static inline double complex reciprocal(double complex z) {
    double re = creal(z), im = cimag(z);
    double scale = 1 / (re * re + im * im);
    return CMPLX(re * scale, -im * scale);
}

/* Bohren & Huffman eq. 4.89: D_{n-1} = n/z - 1/(D_n + n/z), downwards; in real arithmetic for real
 * z. */
static void log_derivative_real(double z, size_t terms, double *d_re) {
    double inverse = 1 / z, d = 0;
    for (size_t n = vs_recurrence_start(z, terms); n > 0; n--) {
        if (n <= terms) {
            d_re[n] = d;
        }
        double over = (double)n * inverse;
        d = over - 1 / (d + over);
    }
}

static void log_derivative(double complex z, size_t terms, double *d_re, double *d_im) {
    double complex inverse = reciprocal(z), d = 0;
    for (size_t n = vs_recurrence_start(cabs(z), terms); n > 0; n--) {
        if (n <= terms) {
            d_re[n] = creal(d);
            d_im[n] = cimag(d);
        }
        double complex over = CMPLX((double)n * creal(inverse), (double)n * cimag(inverse));
        d = over - reciprocal(d + over);
    }
}

/* psi_n and chi_n for n = 0 .. terms. Both obey f_{n+1} = (2n+1)/x f_n - f_{n-1}. Upwards this is
 * stable for chi throughout and for psi while n <= x; above, psi comes from the ratios
 * psi_n/psi_{n-1} = 1/((2n+1)/x - psi_{n+1}/psi_n), run downwards. */
static void riccati_bessel(double x, size_t terms, double *psi, double *chi) {
    double inverse = 1 / x;
    chi[0] = cos(x);
    chi[1] = chi[0] * inverse + sin(x);
    for (size_t n = 1; n < terms; n++) {
        chi[n + 1] = (double)(2 * n + 1) * inverse * chi[n] - chi[n - 1];
    }
    size_t turn = (size_t)x;
    psi[0] = sin(x);
    if (turn > 0) {
        psi[1] = psi[0] * inverse - cos(x);
    }
    for (size_t n = 1; n < turn; n++) {
        psi[n + 1] = (double)(2 * n + 1) * inverse * psi[n] - psi[n - 1];
    }
    double ratio = 0;
    for (size_t n = vs_recurrence_start(x, terms); n > turn; n--) {
        ratio = 1 / ((double)(2 * n + 1) * inverse - ratio);
        if (n <= terms) {
            psi[n] = ratio;
        }
    }
    for (size_t n = turn + 1; n <= terms; n++) {
        psi[n] *= psi[n - 1];
    }
}

/* Eqs. 4.88, (f psi_n - psi_{n-1})/(f xi_n - xi_{n-1}), for real f = D/m + n/x (a) or m D + n/x
 * (b): written p/(p - i c), so that Re = |.|^2 to the last digit: no absorption. */
static void coefficients_real(const scratch *s, size_t terms, double x, double slope,
                              double *restrict re, double *restrict im) {
    const double *d = s->d_re, *psi = s->psi, *chi = s->chi;
    double inverse = 1 / x;
    for (size_t n = 1; n <= terms; n++) {
        double f = slope * d[n] + (double)n * inverse;
        double p = f * psi[n] - psi[n - 1], c = f * chi[n] - chi[n - 1];
        double scale = p / (p * p + c * c);
        re[n - 1] = p * scale;
        im[n - 1] = c * scale;
    }
}

static void coefficients_complex(const scratch *s, size_t terms, double x, double complex slope,
                                 double *re, double *im) {
    for (size_t n = 1; n <= terms; n++) {
        double complex f = slope * CMPLX(s->d_re[n], s->d_im[n]) + (double)n / x;
        double complex top = f * s->psi[n] - s->psi[n - 1];
        double complex chi = f * s->chi[n] - s->chi[n - 1];
        double complex bottom = CMPLX(creal(top) + cimag(chi), cimag(top) - creal(chi));
        double complex c = top * reciprocal(bottom);
        re[n - 1] = creal(c);
        im[n - 1] = cimag(c);
    }
}

/* Fills the workspace with the plain a_n and b_n. */
static void coefficients(vs_mie_workspace *work, double x, double complex m) {
    scratch s = scratch_of(work);
    size_t terms = vs_mie_terms(x);
    work->terms = terms;
    riccati_bessel(x, terms, s.psi, s.chi);
    if (cimag(m) == 0) {
        log_derivative_real(creal(m) * x, terms, s.d_re);
        coefficients_real(&s, terms, x, 1 / creal(m), work->a_re, work->a_im);
        coefficients_real(&s, terms, x, creal(m), work->b_re, work->b_im);
    } else {
        log_derivative(m * x, terms, s.d_re, s.d_im);
        coefficients_complex(&s, terms, x, reciprocal(m), work->a_re, work->a_im);
        coefficients_complex(&s, terms, x, m, work->b_re, work->b_im);
    }
}

/* The sums of eqs. 4.61, 4.62 and of p. 120, from the plain coefficients, small terms first. */
static void sum_efficiencies(const vs_mie_workspace *work, double x, vs_mie *out) {
    const double *ar = work->a_re, *ai = work->a_im, *br = work->b_re, *bi = work->b_im;
    const scratch s = scratch_of(work);
    double extinction = 0, scattering = 0, asymmetry = 0, forward_im = 0, back_re = 0, back_im = 0;
    for (size_t i = work->terms; i-- > 0;) {
        double odd = (double)(2 * i + 3), sign = i % 2 ? 1 : -1;
        extinction += odd * (ar[i] + br[i]);
        forward_im += odd * (ai[i] + bi[i]);
        scattering += odd * (ar[i] * ar[i] + ai[i] * ai[i] + br[i] * br[i] + bi[i] * bi[i]);
        back_re += sign * odd * (ar[i] - br[i]);
        back_im += sign * odd * (ai[i] - bi[i]);
        asymmetry += s.across[i + 1] * (ar[i] * br[i] + ai[i] * bi[i]);
        if (i + 1 < work->terms) {
            asymmetry += s.along[i + 1] * (ar[i] * ar[i + 1] + ai[i] * ai[i + 1] +
                                           br[i] * br[i + 1] + bi[i] * bi[i + 1]);
        }
    }
    double over = 1 / (x * x);
    out->extinction = 2 * over * extinction;
    out->scattering = 2 * over * scattering;
    out->back = over * (back_re * back_re + back_im * back_im);
    out->asymmetry = 2 * asymmetry / scattering;
    out->forward_re = 0.5 * extinction;
    out->forward_im = 0.5 * forward_im;
}

static void weigh_coefficients(vs_mie_workspace *work) {
    const double *across = scratch_of(work).across + 1;
    for (size_t i = 0; i < work->terms; i++) {
        work->a_re[i] *= across[i];
        work->a_im[i] *= across[i];
        work->b_re[i] *= across[i];
        work->b_im[i] *= across[i];
    }
}

static int in_range(double value, double low, double high) {
    return value >= low && value <= high;
}

vs_status vs_mie_sphere(vs_mie_workspace *work, double size_parameter, double n, double k,
                        vs_mie *out) {
    vs_mie nothing = {NAN, NAN, NAN, NAN, NAN, NAN};
    *out = nothing;
    work->terms = 0;
    if (!in_range(size_parameter, VS_MIE_SIZE_MIN, work->size_max) ||
        !(n > 0 && n <= VS_MIE_INDEX_MAX) || !in_range(k, 0, VS_MIE_INDEX_MAX)) {
        return VS_ERR_DOMAIN;
    }
    coefficients(work, size_parameter, CMPLX(n, k));
    sum_efficiencies(work, size_parameter, out);
    weigh_coefficients(work);
    return VS_OK;
}

vs_amplitudes vs_mie_amplitudes_at(const vs_mie_workspace *work, double cos_angle) {
    vs_amplitudes s = {0, 0, 0, 0};
    double pi = 1, pi_before = 0; /* pi_n, pi_{n-1} */
    for (size_t i = 0; i < work->terms; i++) {
        double n = (double)(i + 1);
        double step = cos_angle * pi, rest = step - pi_before;
        double tau = n * rest - pi_before;
        s.s1_re += work->a_re[i] * pi + work->b_re[i] * tau;
        s.s1_im += work->a_im[i] * pi + work->b_im[i] * tau;
        s.s2_re += work->a_re[i] * tau + work->b_re[i] * pi;
        s.s2_im += work->a_im[i] * tau + work->b_im[i] * pi;
        pi_before = pi;
        pi = step + rest * (n + 1) / n;
    }
    return s;
}

double vs_mie_intensity(vs_amplitudes a) {
    return 0.5 * (a.s1_re * a.s1_re + a.s1_im * a.s1_im + a.s2_re * a.s2_re + a.s2_im * a.s2_im);
}
