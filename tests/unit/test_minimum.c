/* base/minimum: minima with closed forms, early stops, what is no bracket. */
#include "check.h"

#include <math.h>

#include "veilstop/base/minimum.h"

static double parabola(double x, void *context) {
    double at = *(double *)context;
    return 2.5 * (x - at) * (x - at) - 1.75;
}

/* x^x has its minimum at 1/e; |x - a| its kink at a. */
static double self_power(double x, void *context) {
    (void)context;
    return exp(x * log(x));
}

static double kink(double x, void *context) {
    return fabs(x - *(double *)context);
}

static void minima_with_closed_forms(void **state) {
    (void)state;
    double at = 0.7319;
    vs_minimum m;
    CHECK_OK(vs_minimum_brent(parabola, &at, -1, 0.5, 3, 1e-7, -INFINITY, &m));
    CHECK_NEAR(m.x, at, 1e-7, 0);
    CHECK_NEAR(m.value, -1.75, 1e-14, 0);
    CHECK_OK(vs_minimum_brent(self_power, NULL, 0.01, 0.5, 1, 1e-7, -INFINITY, &m));
    CHECK_NEAR(m.x, exp(-1), 1e-7, 0);
    CHECK_NEAR(m.value, exp(-exp(-1)), 1e-14, 0);
    CHECK_OK(vs_minimum_brent(kink, &at, 0.1, 0.6, 2.2, 1e-7, -INFINITY, &m));
    CHECK_NEAR(m.x, at, 1e-7, 0);
}

static void it_stops_as_soon_as_it_is_low_enough(void **state) {
    (void)state;
    double at = 0.7319;
    vs_minimum m;
    CHECK_OK(vs_minimum_brent(kink, &at, 0.1, 0.6, 2.2, 1e-7, 0.05, &m));
    CHECK_TRUE(m.value < 0.05 && m.value > 1e-6);
}

static double nowhere(double x, void *context) {
    (void)context;
    return x == 0.5 ? 0 : (double)NAN;
}

static void what_is_no_bracket_says_so(void **state) {
    (void)state;
    double at = 5;
    vs_minimum m;
    CHECK_STATUS(vs_minimum_brent(parabola, &at, 0, 1, 2, 1e-7, -INFINITY, &m), VS_ERR_DOMAIN);
    CHECK_NAN(m.x);
    CHECK_STATUS(vs_minimum_brent(parabola, &at, 7, 5, 2, 1e-7, -INFINITY, &m), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_minimum_brent(parabola, &at, 2, 5, 7, 0, -INFINITY, &m), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_minimum_brent(nowhere, NULL, 0, 0.5, 1, 1e-7, -INFINITY, &m), VS_ERR_DOMAIN);
    CHECK_NAN(m.value);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(minima_with_closed_forms),
        cmocka_unit_test(it_stops_as_soon_as_it_is_low_enough),
        cmocka_unit_test(what_is_no_bracket_says_so),
    };
    return RUN_TESTS(tests);
}
