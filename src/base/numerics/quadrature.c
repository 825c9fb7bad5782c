/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Integration on GSL, with its error codes folded into ours. */
#include "veilstop/base/quadrature.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_integration.h>
#include <math.h>

#define LIMIT_MAX          1000000u /* subintervals: 40 MB of them; our choice */
#define RULE_MAX           512u     /* nodes: more than any smooth function asks for; our choice */
#define ROUNDING_TOLERANCE 1e-10    /* [1] as small as rounding lets an error estimate get */

vs_status vs_quadrature_init(vs_quadrature *quadrature, size_t limit) {
    quadrature->workspace = NULL;
    quadrature->limit = 0;
    if (limit < 1 || limit > LIMIT_MAX) {
        return VS_ERR_DOMAIN;
    }
    quadrature->workspace = gsl_integration_workspace_alloc(limit);
    if (!quadrature->workspace) {
        return VS_ERR_MEMORY;
    }
    quadrature->limit = limit;
    return VS_OK;
}

void vs_quadrature_free(vs_quadrature *quadrature) {
    if (quadrature->workspace) {
        gsl_integration_workspace_free(quadrature->workspace);
    }
    quadrature->workspace = NULL;
    quadrature->limit = 0;
}

vs_status vs_quadrature_adaptive(vs_quadrature *quadrature, vs_integrand f, void *context, double a,
                                 double b, double relative, double absolute, double *value,
                                 double *error) {
    *value = NAN;
    if (error) {
        *error = NAN;
    }
    if (!isfinite(a) || !isfinite(b) || !(relative >= 0) || !(absolute >= 0)) {
        return VS_ERR_DOMAIN;
    }
    gsl_function function = {f, context};
    double result = 0, estimate = 0;
    int code = gsl_integration_qag(&function, a, b, absolute, relative, quadrature->limit,
                                   GSL_INTEG_GAUSS21, quadrature->workspace, &result, &estimate);
    int good = code == GSL_SUCCESS || estimate <= ROUNDING_TOLERANCE * fabs(result);
    if (!isfinite(result) || !good) {
        return VS_ERR_CONVERGENCE;
    }
    *value = result;
    if (error) {
        *error = estimate;
    }
    return VS_OK;
}

vs_status vs_gauss_legendre(size_t n, double *node, double *weight) {
    if (n < 1 || n > RULE_MAX) {
        return VS_ERR_DOMAIN;
    }
    gsl_integration_glfixed_table *table = gsl_integration_glfixed_table_alloc(n);
    if (!table) {
        return VS_ERR_MEMORY;
    }
    for (size_t i = 0; i < n; i++) {
        gsl_integration_glfixed_point(-1.0, 1.0, i, &node[i], &weight[i], table);
    }
    gsl_integration_glfixed_table_free(table);
    return VS_OK;
}
