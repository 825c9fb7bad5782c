/* SPDX-License-Identifier: GPL-3.0-or-later */
/* veilstop fluid as a user runs it: goldens of table and JSON, bad fluids, width, time. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "program.h"
#include "veilstop/base/units.h"

/* Figures to the digits printed; a rounding edge may fall either way. */
#define GOLDEN_RELATIVE 1e-5
#define GOLDEN_ABSOLUTE 1.1e-5

static const char *const names[] = {"glycol", "glycol-fine", "glycerol", "oil", "oil-coarse"};

static void goldens_agree(void **state) {
    (void)state;
    program_check_goldens("fluid", 14, GOLDEN_RELATIVE, GOLDEN_ABSOLUTE);
}

static void no_line_is_too_wide_and_no_verdict_is_given(void **state) {
    (void)state;
    for (size_t i = 0; i < 5; i++) {
        program_run_result run = program_run(NULL, (const char *const[]){"fluid", names[i], NULL});
        CHECK_TRUE(run.status == 0);
        CHECK_TRUE(strstr(run.out, "ASSUMED") && strstr(run.out, "Defer to local code"));
        program_check_lines(run.out);
        program_free(&run);
    }
}

/* The phase function as printed, by whole degrees, integrates to 1 and has the mean cosine printed
 * (trapezoidal rule; what it misses of a forward peak some degrees wide is under 0.2 %). */
static void the_printed_phase_function_is_whole(void **state) {
    (void)state;
    for (size_t i = 0; i < 5; i++) {
        program_run_result run =
            program_run(NULL, (const char *const[]){"fluid", names[i], "--json", NULL});
        CHECK_TRUE(run.status == 0);
        int bands = 0;
        for (const char *band = run.out; (band = strstr(band, "\"nm\":")); bands++) {
            double g = strtod(strstr(band, "\"g\":") + 4, NULL), sum = 0, cosine_sum = 0;
            for (int deg = 0; deg <= 180; deg++) {
                band = strstr(band, "\"value\":") + 8;
                double angle_rad = deg * VS_RAD_PER_DEG;
                double part = strtod(band, NULL) * sin(angle_rad) * 2 * VS_PI * VS_RAD_PER_DEG;
                sum += part;
                cosine_sum += part * cos(angle_rad);
            }
            CHECK_NEAR(sum, 1, 2e-3, 0);
            CHECK_NEAR(cosine_sum, g, 2e-3, 0);
        }
        CHECK_TRUE(bands == 3);
        program_free(&run);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(goldens_agree),
        cmocka_unit_test(no_line_is_too_wide_and_no_verdict_is_given),
        cmocka_unit_test(the_printed_phase_function_is_whole),
    };
    return RUN_TESTS(tests);
}
