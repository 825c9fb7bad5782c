/* Measured lamps: stated lumens, beam and field angles, symmetries, frames, breaks on a ray. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "veilstop/base/quadrature.h"
#include "veilstop/base/units.h"
#include "veilstop/light/photometry.h"

#define DEG VS_RAD_PER_DEG

/* 0 to 90 step 2.5, one plane: a laboratory's table with 531.98 lm stated, its beam 2 x 43.558 and
 * field 2 x 68.964 degrees by linear interpolation (a public collection of LM-63 files with their
 * stated lumens). */
static const double downlight[] = {269, 268, 266, 264, 260, 256, 251, 245, 237, 229, 221, 211, 200,
                                   189, 177, 165, 152, 140, 127, 114, 102, 90,  79,  68,  58,  48,
                                   39,  31,  24,  17,  12,  8,   6,   4,   3,   1,   0};
#define STEPS 37
static double step_rad[STEPS];
static const double zero_rad[1];

static vs_photometric_table published(void) {
    for (int i = 0; i < STEPS; i++) {
        step_rad[i] = 2.5 * i * DEG;
    }
    return (vs_photometric_table){STEPS, 1, step_rad, zero_rad, downlight};
}

static void published_lumens_beam_and_field(void **state) {
    (void)state;
    vs_photometric_table t = published();
    CHECK_OK(vs_photometric_check(&t));
    double lumens = vs_photometric_lumens(&t);
    double beam = vs_photometric_spread_rad(&t, 0.5, 0) / DEG;
    double field = vs_photometric_spread_rad(&t, 0.1, 1.234) / DEG;
    CHECK_PRINTED(lumens, 531.98, 0.01);
    CHECK_PRINTED(beam / 2, 43.558, 0.001);
    CHECK_PRINTED(field / 2, 68.964, 0.001);
    CHECK_TRUE(vs_photometric_peak_candela(&t) == 269);
    printf("measured: published table: %.3f lm (stated 531.98), beam 2 x %.3f deg (43.558), field "
           "2 x %.3f deg (68.964)\n",
           lumens, beam / 2, field / 2);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(published_lumens_beam_and_field),
    };
    return RUN_TESTS(tests);
}
