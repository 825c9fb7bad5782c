/* Brent's minimiser on GSL. */
#include "veilstop/base/minimum.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_min.h>
#include <math.h>

#define ITERATION_MAX 200 /* golden section alone needs about 80 for full double precision */

static vs_status iterate(gsl_min_fminimizer *search, double relative, double stop_under,
                         vs_minimum *out) {
    for (int i = 0; i < ITERATION_MAX; i++) {
        int code = gsl_min_fminimizer_iterate(search);
        double low = gsl_min_fminimizer_x_lower(search);
        double high = gsl_min_fminimizer_x_upper(search);
        out->x = gsl_min_fminimizer_x_minimum(search);
        out->value = gsl_min_fminimizer_f_minimum(search);
        if (code != GSL_SUCCESS || !isfinite(out->value)) {
            return VS_ERR_CONVERGENCE;
        }
        if (out->value < stop_under ||
            gsl_min_test_interval(low, high, 0, relative) == GSL_SUCCESS) {
            return VS_OK;
        }
    }
    return VS_ERR_CONVERGENCE;
}

vs_status vs_minimum_brent(vs_function f, void *context, double a, double middle, double b,
                           double relative, double stop_under, vs_minimum *out) {
    const vs_minimum none = {NAN, NAN};
    double at_a = f(a, context), at_middle = f(middle, context), at_b = f(b, context);
    *out = none;
    if (!(a < middle && middle < b && relative >= VS_MINIMUM_RELATIVE_MIN) || !isfinite(at_a) ||
        !isfinite(at_middle) || !isfinite(at_b) || !(at_middle < at_a && at_middle < at_b)) {
        return VS_ERR_DOMAIN;
    }
    gsl_min_fminimizer *search = gsl_min_fminimizer_alloc(gsl_min_fminimizer_brent);
    if (!search) {
        return VS_ERR_MEMORY;
    }
    gsl_function function = {f, context};
    vs_status status = VS_ERR_DOMAIN;
    if (gsl_min_fminimizer_set_with_values(search, &function, middle, at_middle, a, at_a, b,
                                           at_b) == GSL_SUCCESS) {
        status = iterate(search, relative, stop_under, out);
    }
    gsl_min_fminimizer_free(search);
    if (status != VS_OK) {
        *out = none;
    }
    return status;
}
