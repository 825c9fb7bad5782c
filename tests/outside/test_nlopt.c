/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Fits compared with NLopt (S. G. Johnson), which shares no code and no method with ours: Nelder
 * and Mead's simplex on subspaces (Rowan's Subplex), without derivatives. */
#include "check.h"

#include <math.h>
#include <nlopt.h>
#include <stdio.h>

#include "veiled.h"
#include "veilstop/base/fit.h"

typedef struct {
    vs_fit_model model;
    void *context;
    size_t residuals;
} sum_problem;

static double sum_of_squares(unsigned n, const double *x, double *gradient, void *context) {
    (void)n;
    (void)gradient;
    const sum_problem *p = context;
    double residual[64], sum = 0;
    p->model(x, residual, p->context);
    for (size_t i = 0; i < p->residuals; i++) {
        sum += residual[i] * residual[i];
    }
    return sum;
}

/* Minimises in place; returns the least value. */
static double subplex(unsigned n, nlopt_func f, void *context, double step, int most, double *x) {
    nlopt_opt opt = nlopt_create(NLOPT_LN_SBPLX, n);
    CHECK_TRUE(opt != NULL);
    CHECK_TRUE(nlopt_set_min_objective(opt, f, context) > 0);
    nlopt_set_initial_step1(opt, step);
    nlopt_set_xtol_rel(opt, 1e-9);
    nlopt_set_ftol_rel(opt, 1e-13);
    nlopt_set_maxeval(opt, most);
    double least = NAN;
    CHECK_TRUE(nlopt_optimize(opt, x, &least) > 0);
    nlopt_destroy(opt);
    return least;
}

/* A decay to a floor, read at 40 times with errors, like readings of haze. */
typedef struct {
    double time[40], value[40];
} decay;

static void decay_residuals(const double *parameter, double *residual, void *context) {
    const decay *d = context;
    for (int i = 0; i < 40; i++) {
        residual[i] = parameter[0] * exp(-parameter[1] * d->time[i]) + parameter[2] - d->value[i];
    }
}

static void least_squares_ends_at_the_same_place(void **state) {
    (void)state;
    random_stream r = {31};
    for (int round = 0; round < 10; round++) {
        decay d;
        double a = random_uniform(&r, 0.5, 2), k = random_uniform(&r, 0.5, 3), c = 0.2;
        for (int i = 0; i < 40; i++) {
            d.time[i] = i / 10.0;
            d.value[i] = a * exp(-k * d.time[i]) + c + random_uniform(&r, -0.05, 0.05);
        }
        double ours[3] = {1, 1, 0}, theirs[3] = {1, 1, 0}, sum;
        CHECK_OK(vs_fit_least_squares(decay_residuals, &d, 40, 3, 1e-12, ours, NULL, &sum));
        sum_problem p = {decay_residuals, &d, 40};
        double least = subplex(3, sum_of_squares, &p, 0.3, 20000, theirs);
        CHECK_NEAR(sum, least, 1e-7, 0);
        for (int i = 0; i < 3; i++) {
            CHECK_NEAR(ours[i], theirs[i], 1e-3, 1e-4);
        }
    }
}

static double cost(unsigned n, const double *x, double *gradient, void *context) {
    (void)n;
    (void)gradient;
    vs_cdl cdl = veiled_cdl(x);
    return veiled_cost(context, &cdl);
}

/* Starting from our CDL, or from random starts, no simplex finds a much better one. */
static void no_cdl_is_nearer(void **state) {
    (void)state;
    const vs_curve_kind kind[] = {VS_CURVE_BT709, VS_CURVE_ACESCCT, VS_CURVE_PQ};
    random_stream r = {32};
    double worst = 0;
    for (int i = 0; i < 6; i++) {
        static veiled v;
        if (!veiled_random(&v, &r, kind[i % 3], 0.15)) {
            continue;
        }
        double ours = veiled_cost(&v, &v.fit.cdl), least = INFINITY;
        for (int s = 0; s < 2; s++) {
            double number[10];
            veiled_start(&v, &r, number);
            for (int b = 0; s == 0 && b < VS_BAND_COUNT; b++) {
                number[b] = log(v.fit.cdl.slope.v[b]);
                number[3 + b] = v.fit.cdl.offset.v[b];
                number[6 + b] = log(v.fit.cdl.power.v[b]);
                number[9] = log(v.fit.cdl.saturation);
            }
            least = fmin(least, subplex(10, cost, &v, s == 0 ? 0.05 : 0.3, 4000, number));
        }
        worst = fmax(worst, ours / least);
        CHECK_TRUE(ours <= 1.01 * least);
    }
    printf("measured: cost of the CDL at most %.4f times what NLopt's Subplex ends at\n", worst);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(least_squares_ends_at_the_same_place),
        cmocka_unit_test(no_cdl_is_nearer),
    };
    return RUN_TESTS(tests);
}
