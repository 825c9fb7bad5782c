/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the optimised parts of the droplet sums save, side by side in one run. */
#include "check.h"

#include <math.h>
#include <stdio.h>

#include "veilstop/base/units.h"
#include "veilstop/optics/ensemble.h"
#include "veilstop/optics/mie.h"

#define ANGLES 257 /* of a plain phase function: as many as the table has */

static vs_droplets haze_droplets(void) {
    double width = log(1.6);
    vs_droplets d = {.sizes = {.kind = VS_SIZES_LOGNORMAL,
                               .median_m = 1e-6 * exp(-3 * width * width),
                               .gsd = 1.6},
                     .n = 1.4468,
                     .density_kg_per_m3 = 1080,
                     .wavelength_m = 549e-9,
                     .quick = true};
    return d;
}

/* As many spheres as the sums take, each with its amplitudes at as many angles as the table has. */
static double plain(size_t spheres, double *value) {
    vs_mie_workspace work;
    vs_mie sphere;
    if (vs_mie_workspace_init(&work, 80) != VS_OK) {
        return NAN;
    }
    double start = clock_now_s();
    for (size_t i = 0; i < spheres; i++) {
        double x = 0.1 * exp(log(800.0) * (double)i / (double)spheres);
        if (vs_mie_sphere(&work, x, 1.4468, 0, &sphere) == VS_OK) {
            for (int j = 0; j < ANGLES; j++) {
                double cosine = cos(VS_PI * j / (ANGLES - 1));
                *value += vs_mie_intensity(vs_mie_amplitudes_at(&work, cosine));
            }
        }
    }
    double taken = clock_now_s() - start;
    vs_mie_workspace_free(&work);
    return taken;
}

int main(void) {
    vs_droplets d = haze_droplets();
    vs_ensemble e = {0};
    double sums = INFINITY, whole = INFINITY, each = INFINITY, value = 0;
    size_t spheres = 0;
    for (int turn = 0; turn < 9; turn++) {
        double start = clock_now_s();
        if (vs_ensemble_sums(&e, &d) != VS_OK) {
            return 1;
        }
        sums = fmin(sums, clock_now_s() - start);
        start = clock_now_s();
        if (vs_ensemble_init(&e, &d) != VS_OK) {
            return 1;
        }
        whole = fmin(whole, clock_now_s() - start);
        spheres = e.spheres;
        vs_ensemble_free(&e);
        each = fmin(each, plain(spheres, &value));
    }
    printf("phase function of %zu spheres: %.2f times the sums without it (%.2f ms)\n", spheres,
           whole / sums, 1e3 * whole);
    printf("the same angle by angle: %.1f times that (%.2f ms)\n", each / whole, 1e3 * each);
    return value > 0 ? 0 : 1;
}
