/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Droplets of many sizes: published phase functions, brute-force sums, limits in closed form. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "optics/angles.h"
#include "veilstop/base/quadrature.h"
#include "veilstop/base/units.h"
#include "veilstop/optics/ensemble.h"
#include "veilstop/optics/mie.h"
#include "veilstop/optics/phase.h"

#define ANGLES 37 /* 0 to 180 deg in steps of 5 */

static vs_droplets lognormal(double mass_median_um, double gsd, double n, double wavelength_um) {
    double width = log(gsd);
    vs_droplets d = {.sizes = {.kind = VS_SIZES_LOGNORMAL,
                               .median_m = mass_median_um * 1e-6 * exp(-3 * width * width),
                               .gsd = gsd},
                     .n = n,
                     .density_kg_per_m3 = 1000,
                     .wavelength_m = wavelength_um * 1e-6};
    return d;
}

static vs_phase phase_of(const vs_ensemble *e) {
    vs_phase phase = {VS_PHASE_TABLE, e->g, e->phase_per_sr, e->phase_count};
    return phase;
}

static double series_at(const vs_ensemble *e, double cosine) {
    double value;
    vs_angles_series_at(e->series, e->series_count, &cosine, &value, 1);
    return value;
}

/* ---- published phase functions ---- */

/* (2 l + 1) times the Legendre moment, l = 1 .. count, of the series by Gauss-Legendre: exact to
 * degree 1023, more than the series has. */
static void moments_of(const vs_ensemble *e, double *moment, size_t count) {
    double node[512], weight[512], value[512];
    CHECK_OK(vs_gauss_legendre(512, node, weight));
    CHECK_TRUE(e->series_count - 1 + count <= 1023);
    vs_angles_series_at(e->series, e->series_count, node, value, 512);
    for (size_t l = 1; l <= count; l++) {
        moment[l - 1] = 0;
    }
    for (int i = 0; i < 512; i++) {
        double before = 1, p = node[i], part = 2 * VS_PI * weight[i] * value[i];
        for (size_t l = 1; l <= count; l++) {
            moment[l - 1] += (double)(2 * l + 1) * part * p;
            double next =
                ((double)(2 * l + 1) * node[i] * p - (double)l * before) / (double)(l + 1);
            before = p;
            p = next;
        }
    }
}

/* The tables were computed with their authors' own steps over sizes: the last printed digit may be
 * `units` off. */
static void check_moments(const char *file, size_t rows, const vs_sizes *sizes, double units,
                          const char *name) {
    vs_droplets d = {*sizes, 1.33, 0, 1000, 0.7e-6, false};
    vs_ensemble e;
    CHECK_OK(vs_ensemble_init(&e, &d));
    double moment[128], worst = 0;
    moments_of(&e, moment, rows);
    table t = table_read(file, rows);
    for (size_t i = 0; i < rows; i++) {
        double want = table_number(&t, i, "moment"), unit = table_unit(&t, i, "moment");
        CHECK_NEAR(moment[i], want, 0, units * unit);
        worst = fmax(worst, fabs(moment[i] - want) / unit);
    }
    CHECK_NEAR(moment[0] / 3, e.g, 0, 2e-6);
    printf("measured: %s, %zu moments: within %.1f units of the last printed digit\n", name, rows,
           worst);
    table_free(&t);
    vs_ensemble_free(&e);
}

static void haze_l_and_cloud_c1_have_their_moments(void **state) {
    (void)state;
    vs_sizes haze = {.kind = VS_SIZES_MODIFIED_GAMMA, .alpha = 2, .b = 15.1186, .gamma = 0.5};
    check_moments("moments_haze_l.csv", 71, &haze, 2.5, "Haze L");
    vs_sizes cloud = {.kind = VS_SIZES_MODIFIED_GAMMA, .alpha = 6, .b = 1.5, .gamma = 1};
    check_moments("moments_cloud_c1.csv", 100, &cloud, 2.5, "Cloud C.1");
}

/* ---- brute force ---- */

typedef struct {
    double extinction_m2_per_g, g;
    double phase_per_sr[ANGLES];
} brute;

/* A plain sum over evenly spaced diameters, no map, no grids. */
static brute brute_force(const vs_droplets *d, double size_max, double step) {
    brute b = {0};
    double cosine[ANGLES], extinction = 0, scattering = 0, asymmetry = 0, volume = 0;
    vs_mie_workspace work;
    CHECK_OK(vs_mie_workspace_init(&work, size_max));
    for (int j = 0; j < ANGLES; j++) {
        cosine[j] = cos(VS_PI * j / (ANGLES - 1));
    }
    for (double x = 0.5 * step; x < size_max; x += step) {
        double diameter_m = x * d->wavelength_m / VS_PI;
        double area = vs_sizes_density(&d->sizes, diameter_m) * x * x;
        vs_mie s;
        if (!(area > 0)) { /* so far from the median that there are none */
            continue;
        }
        CHECK_OK(vs_mie_sphere(&work, x, d->n, d->k, &s));
        extinction += area * s.extinction;
        scattering += area * s.scattering;
        asymmetry += area * s.scattering * s.asymmetry;
        volume += area * diameter_m;
        for (int j = 0; j < ANGLES; j++) {
            b.phase_per_sr[j] +=
                area / (x * x) * vs_mie_intensity(vs_mie_amplitudes_at(&work, cosine[j]));
        }
    }
    for (int j = 0; j < ANGLES; j++) {
        b.phase_per_sr[j] /= VS_PI * scattering;
    }
    b.extinction_m2_per_g = 1.5 * extinction / (volume * d->density_kg_per_m3 * 1000);
    b.g = asymmetry / scattering;
    vs_mie_workspace_free(&work);
    return b;
}

static void a_lognormal_agrees_with_a_brute_force_sum(void **state) {
    (void)state;
    static const struct {
        double mass_median_um, gsd, n, wavelength_um, size_max, step;
        double phase_error; /* allowed [1] */
    } c[] = {
        {0.5, 1.6, 1.4468, 0.549, 50, 0.01, 1e-3},  {1.0, 1.6, 1.4521, 0.464, 110, 0.01, 1.5e-3},
        {1.0, 1.3, 1.4442, 0.611, 40, 0.01, 2e-3},  {1.2, 1.6, 1.4780, 0.464, 130, 0.01, 2e-3},
        {2.0, 1.6, 1.4749, 0.549, 180, 0.01, 6e-3}, {0.05, 1.8, 1.4468, 0.549, 8, 0.001, 1e-3}};
    for (size_t i = 0; i < sizeof c / sizeof c[0]; i++) {
        vs_droplets d = lognormal(c[i].mass_median_um, c[i].gsd, c[i].n, c[i].wavelength_um);
        d.quick = true;
        vs_ensemble e;
        CHECK_OK(vs_ensemble_init(&e, &d));
        brute b = brute_force(&d, c[i].size_max, c[i].step);
        CHECK_NEAR(e.extinction_m2_per_g, b.extinction_m2_per_g, 1e-4, 0);
        CHECK_NEAR(e.g, b.g, 0, 1e-4);
        CHECK_NEAR(e.albedo, 1, 1e-10, 0);
        double worst = 0;
        for (int j = 0; j < ANGLES; j++) {
            double got = series_at(&e, cos(VS_PI * j / (ANGLES - 1)));
            CHECK_NEAR(got, b.phase_per_sr[j], c[i].phase_error, 0);
            worst = fmax(worst, fabs(got / b.phase_per_sr[j] - 1));
        }
        printf("measured: lognormal %.2g um gsd %.1f at %g nm, %zu spheres: extinction %.1e, g "
               "%.1e, phase at %d angles %.1e from brute force\n",
               c[i].mass_median_um, c[i].gsd, 1e3 * c[i].wavelength_um, e.spheres,
               fabs(e.extinction_m2_per_g / b.extinction_m2_per_g - 1), fabs(e.g - b.g), ANGLES,
               worst);
        vs_ensemble_free(&e);
    }
}

/* Droplets of almost one size: the nodes must fall within a width far below the steps between them
 * elsewhere. Checked by extinction per gram, which is sensitive to a node off the median by a
 * fraction of the width. */
static void narrow_lognormals_are_summed_within_their_width(void **state) {
    (void)state;
    static const double c[][3] = {{0.1, 1.02, 2e-5}, {0.1, 1.01, 1e-5}, {0.17, 1.005, 5e-6}};
    double worst = 0;
    for (size_t i = 0; i < sizeof c / sizeof c[0]; i++) {
        vs_droplets d = lognormal(c[i][0], c[i][1], 1.45, 0.549);
        vs_ensemble e;
        CHECK_OK(vs_ensemble_sums(&e, &d));
        brute b = brute_force(&d, 2, c[i][2]);
        CHECK_NEAR(e.extinction_m2_per_g, b.extinction_m2_per_g, 1e-7, 0);
        worst = fmax(worst, fabs(e.extinction_m2_per_g / b.extinction_m2_per_g - 1));
        vs_ensemble_free(&e);
    }
    printf("measured: lognormals of gsd 1.005 to 1.02: extinction %.1e from brute force\n", worst);
}

/* ---- the table ---- */

/* Integral over 4 pi sr of phase x cos^power, by 200000 midpoints in the angle: a hundred or more
 * in each cell of the table, whose corners would stop an adaptive rule. */
static double integral_of(const vs_phase *phase, int power) {
    double step = VS_PI / 200000, sum = 0;
    for (int i = 0; i < 200000; i++) {
        double angle_rad = (i + 0.5) * step, cosine = cos(angle_rad);
        sum += sin(angle_rad) * vs_phase_per_sr(phase, cosine) * (power ? cosine : 1);
    }
    return 2 * VS_PI * step * sum;
}

static void the_table_is_fine_and_integrates_to_one(void **state) {
    (void)state;
    static const double c[][3] = {
        {0.5, 1.6, 1.4468}, {1, 1.6, 1.4468}, {2, 1.6, 1.4749}, {8, 1.4, 1.45}, {0.05, 2, 1.45}};
    double worst = 0, worst_integral = 0, worst_g = 0;
    random_stream r = {3};
    for (size_t i = 0; i < sizeof c / sizeof c[0]; i++) {
        vs_droplets d = lognormal(c[i][0], c[i][1], c[i][2], 0.549);
        d.quick = true;
        vs_ensemble e;
        CHECK_OK(vs_ensemble_init(&e, &d));
        vs_phase phase = phase_of(&e);
        for (int k = 0; k < 4000; k++) {
            /* angles spread evenly, and close to both ends */
            double angle_rad = k % 2   ? random_uniform(&r, 0, VS_PI)
                               : k % 4 ? random_log_uniform(&r, 1e-5, 0.3)
                                       : VS_PI - random_log_uniform(&r, 1e-5, 0.3);
            double cosine = cos(angle_rad);
            double want = series_at(&e, cosine), got = vs_phase_per_sr(&phase, cosine);
            CHECK_NEAR(got, want, 2e-3, 0);
            worst = fmax(worst, fabs(got / want - 1));
        }
        double integral = integral_of(&phase, 0);
        double g = integral_of(&phase, 1);
        CHECK_NEAR(integral, 1, 1e-4, 0);
        CHECK_NEAR(g, e.g, 0, 1e-3);
        worst_integral = fmax(worst_integral, fabs(integral - 1));
        worst_g = fmax(worst_g, fabs(g - e.g));
        vs_ensemble_free(&e);
    }
    printf("measured: phase table against its series at 20000 angles %.1e, integral 1 within %.1e, "
           "mean cosine within %.1e of g\n",
           worst, worst_integral, worst_g);
}

/* ---- limits in closed form ---- */

/* Rayleigh droplets (Bohren & Huffman 1983 eq. 5.8) over a lognormal: Q = (8/3) x^4 p^2, and
 * <d^6>/<d^3> = median^3 exp(13.5 ln^2 gsd). Phase (3/16 pi)(1 + cos^2). */
static void tiny_droplets_follow_rayleigh(void **state) {
    (void)state;
    vs_droplets d = lognormal(0.002, 1.5, 1.45, 0.6);
    double median_m = d.sizes.median_m, width = log(1.5), m2 = 1.45 * 1.45;
    double p = (m2 - 1) / (m2 + 2);
    double want_per_kg = 1.5 / 1000 * 8.0 / 3 * pow(VS_PI / 0.6e-6, 4) * p * p * pow(median_m, 3) *
                         exp(13.5 * width * width);
    vs_ensemble e;
    CHECK_OK(vs_ensemble_init(&e, &d));
    CHECK_NEAR(e.extinction_m2_per_g, want_per_kg / 1000, 2e-3, 0);
    CHECK_NEAR(e.g, 0, 0, 1e-3);
    vs_phase phase = phase_of(&e);
    for (int deg = 0; deg <= 180; deg += 15) {
        double cosine = cos(deg * VS_RAD_PER_DEG);
        CHECK_NEAR(vs_phase_per_sr(&phase, cosine), 3 / (16 * VS_PI) * (1 + cosine * cosine), 3e-3,
                   0);
    }
    vs_ensemble_free(&e);
}

/* Large droplets: Q to 2, so extinction per mass to 3/(rho d32), d32 the Sauter diameter. */
static void large_droplets_cast_twice_their_shadow(void **state) {
    (void)state;
    vs_droplets d = lognormal(40, 1.3, 1.45, 0.5);
    double width = log(1.3), sauter_m = d.sizes.median_m * exp(2.5 * width * width);
    vs_ensemble e;
    CHECK_OK(vs_ensemble_sums(&e, &d));
    double x = VS_PI * sauter_m / 0.5e-6;
    CHECK_NEAR(e.extinction_m2_per_g, 3 / (1e6 * sauter_m), 1.5 * pow(x, -2.0 / 3), 0);
    CHECK_TRUE(e.phase_per_sr == NULL && e.series == NULL);
}

/* ---- distributions ---- */

static void droplets_all_alike_are_one_sphere(void **state) {
    (void)state;
    vs_droplets d = lognormal(1, 1, 1.45, 0.55);
    d.k = 0.01;
    vs_mie_workspace work;
    vs_mie s;
    vs_ensemble e;
    double x = VS_PI / 0.55;
    CHECK_OK(vs_mie_workspace_init(&work, x));
    CHECK_OK(vs_mie_sphere(&work, x, 1.45, 0.01, &s));
    CHECK_OK(vs_ensemble_init(&e, &d));
    CHECK_NEAR(e.extinction_m2_per_g, 1.5 * s.extinction / (1e-6 * 1e6), 1e-12, 0);
    CHECK_NEAR(e.albedo, s.scattering / s.extinction, 1e-12, 0);
    CHECK_NEAR(e.g, s.asymmetry, 1e-12, 0);
    for (int deg = 0; deg <= 180; deg += 3) {
        double cosine = cos(deg * VS_RAD_PER_DEG);
        CHECK_NEAR(series_at(&e, cosine),
                   vs_mie_intensity(vs_mie_amplitudes_at(&work, cosine)) /
                       (VS_PI * x * x * s.scattering),
                   1e-10, 0);
    }
    vs_ensemble narrow;
    vs_droplets almost = lognormal(1, 1.001, 1.45, 0.55);
    almost.k = 0.01;
    CHECK_OK(vs_ensemble_sums(&narrow, &almost));
    CHECK_NEAR(narrow.extinction_m2_per_g, e.extinction_m2_per_g, 1e-3, 0);
    vs_ensemble_free(&e);
    vs_mie_workspace_free(&work);
}

static void a_table_of_a_lognormal_is_that_lognormal(void **state) {
    (void)state;
    vs_droplets d = lognormal(1, 1.6, 1.45, 0.55);
    double diameter_m[600], density[600];
    for (int i = 0; i < 600; i++) {
        diameter_m[i] = 0.02e-6 * exp(i * 0.012);
        density[i] = vs_sizes_density(&d.sizes, diameter_m[i]);
    }
    vs_droplets t = d;
    vs_sizes sizes = {
        .kind = VS_SIZES_TABLE, .diameter_m = diameter_m, .density = density, .count = 600};
    t.sizes = sizes;
    vs_ensemble smooth, tabulated;
    CHECK_OK(vs_ensemble_sums(&smooth, &d));
    CHECK_OK(vs_ensemble_sums(&tabulated, &t));
    CHECK_NEAR(tabulated.extinction_m2_per_g, smooth.extinction_m2_per_g, 2e-4, 0);
    CHECK_NEAR(tabulated.g, smooth.g, 2e-4, 0);
}

/* For large droplets the quick phase function takes fewer spheres, the sums do not. */
static void quick_phase_functions_stay_close(void **state) {
    (void)state;
    vs_droplets d = lognormal(3, 1.6, 1.45, 0.549);
    vs_ensemble whole, quick;
    CHECK_OK(vs_ensemble_init(&whole, &d));
    d.quick = true;
    CHECK_OK(vs_ensemble_init(&quick, &d));
    CHECK_NEAR(quick.extinction_m2_per_g, whole.extinction_m2_per_g, 1e-14, 0);
    double worst = 0, worst_back = 0;
    for (int deg = 0; deg <= 180; deg++) {
        double cosine = cos(deg * VS_RAD_PER_DEG);
        double off = fabs(series_at(&quick, cosine) / series_at(&whole, cosine) - 1);
        CHECK_TRUE(off < (deg > 160 ? 0.05 : 0.02));
        *(deg > 160 ? &worst_back : &worst) = fmax(deg > 160 ? worst_back : worst, off);
    }
    printf("measured: quick phase function of 3 um droplets: within %.1e to 160 deg, %.1e beyond\n",
           worst, worst_back);
    vs_ensemble_free(&whole);
    vs_ensemble_free(&quick);
    vs_ensemble_free(&quick);
}

static void what_is_no_haze_is_refused(void **state) {
    (void)state;
    vs_droplets good = lognormal(1, 1.6, 1.45, 0.55), bad[8];
    for (int i = 0; i < 8; i++) {
        bad[i] = good;
    }
    bad[0].sizes.median_m = 0;
    bad[1].sizes.gsd = 0.9;
    bad[2].sizes.gsd = NAN;
    bad[3].n = 0;
    bad[4].k = -0.1;
    bad[5].density_kg_per_m3 = 0;
    bad[6].wavelength_m = -1;
    bad[7].wavelength_m = INFINITY;
    for (int i = 0; i < 8; i++) {
        vs_ensemble e;
        CHECK_STATUS(vs_ensemble_init(&e, &bad[i]), VS_ERR_DOMAIN);
        CHECK_NAN(e.extinction_m2_per_g);
        CHECK_TRUE(e.phase_per_sr == NULL && e.series == NULL);
        CHECK_STATUS(vs_ensemble_sums(&e, &bad[i]), VS_ERR_DOMAIN);
    }
}

/* ---- the grid of angles ---- */

/* The grid gives the plain sum at each angle, for odd and even numbers of terms, and its series is
 * exact between its angles. */
static void the_grid_agrees_with_the_plain_amplitudes(void **state) {
    (void)state;
    random_stream r = {17};
    vs_mie_workspace work;
    CHECK_OK(vs_mie_workspace_init(&work, 60));
    for (int i = 0; i < 20; i++) {
        double x = random_log_uniform(&r, 0.01, 60), k = i % 2 ? 0 : 0.05;
        vs_mie s;
        vs_angles grid;
        CHECK_OK(vs_mie_sphere(&work, x, 1.45, k, &s));
        CHECK_OK(vs_angles_init(&grid, work.terms + (size_t)i % 3));
        vs_angles_add(&grid, &work, 0.75);
        vs_angles_add(&grid, &work, 0.25);
        size_t count = 2 * grid.terms + 1;
        double *series = calloc(count, sizeof *series);
        CHECK_TRUE(series != NULL);
        CHECK_OK(vs_angles_add_series(&grid, series));
        double top = vs_mie_intensity(vs_mie_amplitudes_at(&work, 1));
        for (int j = 0; j < 50; j++) {
            double cosine = random_uniform(&r, -1, 1), got;
            double want = vs_mie_intensity(vs_mie_amplitudes_at(&work, cosine));
            vs_angles_series_at(series, count, &cosine, &got, 1);
            CHECK_NEAR(got, want, 1e-9, 1e-13 * top);
        }
        free(series);
        vs_angles_free(&grid);
    }
    vs_mie_workspace_free(&work);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(haze_l_and_cloud_c1_have_their_moments),
        cmocka_unit_test(a_lognormal_agrees_with_a_brute_force_sum),
        cmocka_unit_test(narrow_lognormals_are_summed_within_their_width),
        cmocka_unit_test(the_table_is_fine_and_integrates_to_one),
        cmocka_unit_test(tiny_droplets_follow_rayleigh),
        cmocka_unit_test(large_droplets_cast_twice_their_shadow),
        cmocka_unit_test(droplets_all_alike_are_one_sphere),
        cmocka_unit_test(a_table_of_a_lognormal_is_that_lognormal),
        cmocka_unit_test(quick_phase_functions_stay_close),
        cmocka_unit_test(what_is_no_haze_is_refused),
        cmocka_unit_test(the_grid_agrees_with_the_plain_amplitudes),
    };
    return RUN_TESTS(tests);
}
