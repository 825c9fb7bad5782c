/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Gauss-Legendre rules of 1 to 8 points, and the test that shows one to be too small. Private to
 * src.
 * Source: Abramowitz & Stegun 1964, table 25.4 (nodes, weights); 22.2 and 22.7 (Legendre
 * polynomials). Held against vs_gauss_legendre by tests/unit/test_lanes.c. */
#ifndef VEILSTOP_BASE_NUMERICS_LEGENDRE_RULES_H
#define VEILSTOP_BASE_NUMERICS_LEGENDRE_RULES_H

#define VS_LEGENDRE_ORDER_MAX 8

/** A rule on [-1, 1]; entries past its count are 0. With v = weight x value the sums of v x last
 *  and v x before are the integrand's two highest Legendre coefficients that the rule resolves:
 *  where they are not small beside the integral, more points are needed. */
typedef struct {
    int count;
    double node[VS_LEGENDRE_ORDER_MAX], weight[VS_LEGENDRE_ORDER_MAX];
    double last[VS_LEGENDRE_ORDER_MAX];   /* (2n - 1)/2 P(n - 1) at the nodes */
    double before[VS_LEGENDRE_ORDER_MAX]; /* (2n - 3)/2 P(n - 2) */
} vs_legendre_rule;

extern const vs_legendre_rule vs_legendre_rules[VS_LEGENDRE_ORDER_MAX + 1];

#endif
