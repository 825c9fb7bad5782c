/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sums over droplets of many sizes. Sources: the header.
 * In outline: lay nodes over ln d, take each sphere's efficiencies, add its light on a grid of
 * angles that fits it, add up the grids' cosine series, tabulate the sum. */
#include "veilstop/optics/ensemble.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "optics/angles.h"
#include "optics/nodes.h"
#include "optics/spheres.h"
#include "veilstop/base/units.h"
#include "veilstop/optics/mie.h"
#include "veilstop/optics/phase.h"

#define G_PER_KG       1000.0 /* [g/kg] */
#define GRIDS          24 /* sizes of angle grids, each half as large again as the last but one */
#define GRID_TERMS_MIN 12 /* [1] terms of the smallest grid */
#define WORK_MAX       2.5e6 /* [1] sum of terms^2 that goes into the phase function of a band */
#define INTEGRAL_ERROR 1e-4  /* [1] of the phase function, over which something is wrong */
#define TABLE_FIRST    257   /* [1] values of the coarsest table */
#define TABLE_LAST     32769 /* [1] of the finest */

/* The workspaces of the sums, made once and freed together. */
typedef struct {
    vs_nodes nodes;
    vs_spheres spheres;
    vs_mie_workspace work; /* the sphere whose light is added */
    vs_angles grid[GRIDS];
} tools;

static void tools_free(tools *t) {
    vs_nodes_free(&t->nodes);
    vs_spheres_free(&t->spheres);
    vs_mie_workspace_free(&t->work);
    for (int i = 0; i < GRIDS; i++) {
        vs_angles_free(&t->grid[i]);
    }
}

static void ensemble_clear(vs_ensemble *e) {
    memset(e, 0, sizeof *e);
    e->extinction_m2_per_g = e->albedo = e->g = NAN;
}

void vs_ensemble_free(vs_ensemble *ensemble) {
    free(ensemble->phase_per_sr);
    free(ensemble->series);
    ensemble_clear(ensemble);
}

/* ---- sums ---- */

/* Sums over nodes, of weight x size^2 x efficiency and the like, in size parameters. */
typedef struct {
    double extinction, scattering, asymmetry, volume;
    double shown; /* scattering by the spheres that enter the phase function */
} sums;

static void add_efficiencies(sums *s, double weight, double x, const vs_mie *sphere) {
    double area = weight * x * x;
    s->extinction += area * sphere->extinction;
    s->scattering += area * sphere->scattering;
    s->asymmetry += area * sphere->scattering * sphere->asymmetry;
    s->volume += area * x;
}

/* Terms of grid i: 12, 16, 24, 32, 48, 64, ... */
static size_t grid_terms(int i) {
    size_t power = (size_t)1 << (i / 2);
    return i % 2 ? 16 * power : GRID_TERMS_MIN * power;
}

static vs_status add_light(tools *t, double weight) {
    int i = 0;
    while (i + 1 < GRIDS && grid_terms(i) < t->work.terms) {
        i++;
    }
    vs_angles *grid = &t->grid[i];
    if (!grid->memory) {
        vs_status status = vs_angles_init(grid, grid_terms(i));
        if (status != VS_OK) {
            return status;
        }
    }
    vs_angles_add(grid, &t->work, weight);
    return VS_OK;
}

/* Eight nodes, or the last few, padded with the last one. */
static vs_status take_eight(tools *t, const vs_droplets *d, size_t first, vs_mie sphere[LANES]) {
    double size[LANES];
    for (size_t l = 0; l < LANES; l++) {
        size_t i = first + l;
        size[l] = t->nodes.size[i < t->nodes.count ? i : t->nodes.count - 1];
    }
    return vs_spheres_take(&t->spheres, size, d->n, d->k, sphere);
}

/* The sums over all nodes; the light of every stride-th one is added (stride 0: of none). */
static vs_status sum_spheres(tools *t, const vs_droplets *d, size_t stride, sums *s) {
    vs_mie sphere[LANES];
    vs_status status = VS_OK;
    memset(s, 0, sizeof *s);
    for (size_t i = 0; i < t->nodes.count && status == VS_OK; i++) {
        double x = t->nodes.size[i], weight = t->nodes.weight[i];
        size_t lane = i % LANES;
        status = lane == 0 ? take_eight(t, d, i, sphere) : VS_OK;
        if (status != VS_OK) {
            return status;
        }
        add_efficiencies(s, weight, x, &sphere[lane]);
        if (stride > 0 && i % stride == stride / 2) {
            vs_spheres_hand_over(&t->spheres, (int)lane, &t->work);
            status = add_light(t, weight);
            s->shown += weight * x * x * sphere[lane].scattering;
        }
    }
    return status;
}

/* Extinction per mass: sum of w pi/4 d^2 Q_ext over sum of w rho pi/6 d^3. Albedo: the same sums of
 * Q_sca over Q_ext. Mean cosine: of g Q_sca over Q_sca (van de Hulst 1957, 2.2: cross-sections of
 * independent droplets add up). */
static void report_sums(vs_ensemble *e, const vs_droplets *d, const sums *s, size_t spheres) {
    double per_m = VS_PI / d->wavelength_m;
    double m2_per_kg = 1.5 * per_m * s->extinction / (s->volume * d->density_kg_per_m3);
    e->extinction_m2_per_g = m2_per_kg / G_PER_KG;
    e->albedo = s->scattering / s->extinction;
    e->g = s->asymmetry / s->scattering;
    e->spheres = spheres;
}

/* ---- the phase function ---- */

/* Joins the grids' series and scales them to 1/sr: |S|^2/(k^2 Csca) = |S|^2/(pi x^2 Qsca). */
static vs_status join_series(vs_ensemble *e, const tools *t, double shown) {
    size_t terms = 0;
    for (int i = 0; i < GRIDS; i++) {
        terms = t->grid[i].terms > terms ? t->grid[i].terms : terms;
    }
    e->series_count = 2 * terms + 1;
    e->series = calloc(e->series_count, sizeof *e->series);
    if (!e->series) {
        return VS_ERR_MEMORY;
    }
    for (int i = 0; i < GRIDS; i++) {
        vs_status status = t->grid[i].memory ? vs_angles_add_series(&t->grid[i], e->series) : VS_OK;
        if (status != VS_OK) {
            return status;
        }
    }
    for (size_t m = 0; m < e->series_count; m++) {
        e->series[m] /= VS_PI * shown;
    }
    return VS_OK;
}

/* Integral over 4 pi sr: cos(m angle) sin(angle) gives 2/(1 - m^2) for even m, 0 for odd. */
static double series_integral(const vs_ensemble *e) {
    double sum = 0;
    for (size_t m = 0; m < e->series_count; m += 2) {
        sum += e->series[m] * 2 / (1 - (double)m * (double)m);
    }
    return 2 * VS_PI * sum;
}

/* Whether linear interpolation in a table comes close to the values half way between its places. */
static bool table_is_fine(const double *value, const double *middle, size_t count) {
    for (size_t i = 0; i + 1 < count; i++) {
        double line = 0.5 * (value[i] + value[i + 1]);
        if (!(fabs(line - middle[i]) <= VS_ENSEMBLE_TABLE_ERROR * fabs(middle[i]))) {
            return false;
        }
    }
    return true;
}

/* Values of the series at places (i + offset)/(steps), i = 0 .. count - 1. */
static void fill_table(const vs_ensemble *e, double offset, size_t steps, double *cosine,
                       double *value, size_t count) {
    for (size_t i = 0; i < count; i++) {
        cosine[i] = vs_phase_table_cosine(((double)i + offset) / (double)steps);
    }
    vs_angles_series_at(e->series, e->series_count, cosine, value, count);
}

/* Doubles the table until it is fine: the values half way between become entries of the next
 * one. */
static vs_status lay_out_table(vs_ensemble *e) {
    double *value = malloc((size_t)TABLE_LAST * sizeof *value);
    double *middle = malloc(2 * (size_t)TABLE_LAST * sizeof *middle);
    vs_status status = value && middle ? VS_OK : VS_ERR_MEMORY;
    size_t count = TABLE_FIRST;
    if (status == VS_OK) {
        double *cosine = middle + TABLE_LAST;
        fill_table(e, 0, count - 1, cosine, value, count);
        for (;;) {
            fill_table(e, 0.5, count - 1, cosine, middle, count - 1);
            if (count == TABLE_LAST || table_is_fine(value, middle, count)) {
                break;
            }
            for (size_t i = count; i-- > 0;) {
                value[2 * i] = value[i];
            }
            for (size_t i = 0; i + 1 < count; i++) {
                value[2 * i + 1] = middle[i];
            }
            count = 2 * count - 1;
        }
    }
    free(middle);
    e->phase_per_sr = value;
    e->phase_count = count;
    return status;
}

/* Integral of a table as it is read, linear in w: with cos = (1 - 2w)/q and
 * q = (1 - w)^2 + w^2, -d cos/dw = 4 w (1 - w)/q^2; Gauss's 3-point rule in each cell. */
static double table_integral(const double *value, size_t count) {
    static const double node[3] = {0.112701665379258, 0.5, 0.887298334620742}; /* [1] */
    static const double weight[3] = {5.0 / 18, 8.0 / 18, 5.0 / 18};            /* [1] */
    double step = 1 / (double)(count - 1), sum = 0;
    for (size_t i = 0; i + 1 < count; i++) {
        for (int k = 0; k < 3; k++) {
            double w = ((double)i + node[k]) * step;
            double q = (1 - w) * (1 - w) + w * w;
            double line = value[i] + node[k] * (value[i + 1] - value[i]);
            sum += weight[k] * step * line * 4 * w * (1 - w) / (q * q);
        }
    }
    return 2 * VS_PI * sum;
}

/* Linear interpolation overestimates a convex curve slightly: scales the table so that, as it is
 * read, it integrates to 1. */
static void scale_table(double *value, size_t count) {
    double integral = table_integral(value, count);
    for (size_t i = 0; i < count; i++) {
        value[i] /= integral;
    }
}

static vs_status make_phase(vs_ensemble *e, const tools *t, double shown) {
    vs_status status = join_series(e, t, shown);
    if (status != VS_OK) {
        return status;
    }
    if (!(fabs(series_integral(e) - 1) <= INTEGRAL_ERROR)) {
        return VS_ERR_CONVERGENCE;
    }
    status = lay_out_table(e);
    if (status == VS_OK) {
        scale_table(e->phase_per_sr, e->phase_count);
    }
    return status;
}

/* ---- the public functions ---- */

static vs_status run(vs_ensemble *e, const vs_droplets *d, bool with_phase) {
    ensemble_clear(e);
    tools t = {0};
    sums s;
    if (!(d->density_kg_per_m3 > 0) || !isfinite(d->density_kg_per_m3)) {
        return VS_ERR_DOMAIN;
    }
    vs_status status = vs_nodes_init(&t.nodes, &d->sizes, d->wavelength_m);
    if (status != VS_OK) {
        return status;
    }
    status = vs_spheres_init(&t.spheres, t.nodes.size_max);
    if (status == VS_OK) {
        status = vs_mie_workspace_init(&t.work, t.nodes.size_max);
    }
    if (status != VS_OK) {
        goto cleanup;
    }
    size_t stride = !with_phase ? 0 : d->quick ? 1 + (size_t)(t.nodes.work / WORK_MAX) : 1;
    status = sum_spheres(&t, d, stride, &s);
    if (status == VS_OK && with_phase) {
        status = make_phase(e, &t, s.shown);
    }
cleanup:
    if (status == VS_OK) {
        report_sums(e, d, &s, t.nodes.count);
    } else {
        vs_ensemble_free(e);
    }
    tools_free(&t);
    return status;
}

vs_status vs_ensemble_sums(vs_ensemble *ensemble, const vs_droplets *droplets) {
    return run(ensemble, droplets, false);
}

vs_status vs_ensemble_init(vs_ensemble *ensemble, const vs_droplets *droplets) {
    return run(ensemble, droplets, true);
}
