/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Nodes over ln d for the trapezoidal rule: s runs evenly, dt/ds = 1/density(t), t = ln d. The rule
 * stays exponentially accurate under any smooth map (Trefethen & Weideman 2014, SIAM Rev. 56, 385);
 * the map only decides where the nodes go. Its constants were found by experiment. */
#include "optics/nodes.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/base/units.h"
#include "veilstop/optics/ensemble.h"
#include "veilstop/optics/mie.h"

#define SCAN           400   /* [1] steps of the first scan of a distribution */
#define SIZE_STEP      0.015 /* [1] step in size parameter where most light is scattered */
#define SIZE_LEVEL     40.0  /* [1] size parameter from which steps grow with size */
#define TAIL_POWER     0.4   /* [1] node density falls as this power of the light scattered */
#define TAIL_DENSITY   7.5   /* [per unit of ln d] least density of nodes */
#define STEPS_A_SIGMA  2.5   /* [1] nodes per width of a lognormal, at least */
#define GAMMA_DENSITY  15.0  /* [per unit of ln d] least density of nodes for a modified gamma */
#define TABLE_DENSITY  200.0 /* [per unit of ln d] for a table, which has corners */
#define KEEP           1e-7 /* [1] of the greatest density of mass and scattering: tails end here */
#define KEEP_FORWARD   3e-5 /* [1] the same for the forward peak */
#define RAYLEIGH       30.0 /* [1] x^4 at which scattering leaves the x^4 law, roughly */
#define DIAMETER_MIN_M 1e-9 /* [m] smallest droplet considered */
#define NODES_MAX      100000 /* sizes: no usable distribution needs more */

typedef struct {
    const vs_sizes *sizes;
    double ln_median, width; /* of a lognormal, over ln d */
    double per_m;            /* size parameter per diameter: pi/wavelength [1/m] */
    double least;            /* least node density */
    double scatter_max;      /* greatest scattering density */
    double low, high;        /* ln d between which nodes are laid */
} layout;

/* A place on ln d. */
typedef struct {
    double t, x;    /* ln d, size parameter */
    double number;  /* of droplets, over ln d */
    double density; /* of nodes, over ln d; once the greatest scattering is known */
} place;

static double number_at(const layout *l, double t, double d) {
    if (l->sizes->kind ==
        VS_SIZES_LOGNORMAL) { /* vs_sizes_density(d) d without taking logarithms again */
        double off = (t - l->ln_median) / l->width;
        return exp(-0.5 * off * off);
    }
    return vs_sizes_density(l->sizes, d) * d;
}

/* Light scattered by the droplets about ln d: as d^2, and as x^4 d^2 in the Rayleigh range. */
static double scatter(double number, double x) {
    double x4 = x * x * x * x;
    return number * x * x * x4 / (x4 + RAYLEIGH);
}

static place place_at(const layout *l, double t) {
    double d = exp(t);
    place p = {t, l->per_m * d, number_at(l, t, d), 0};
    double share = scatter(p.number, p.x) / l->scatter_max;
    double fine = 1 / SIZE_STEP + p.x / (SIZE_STEP * (1 + p.x / SIZE_LEVEL));
    p.density = l->least + fine * pow(share, TAIL_POWER);
    return p;
}

/* An interval of ln d that surely holds all that matters. */
static bool find_window(const vs_sizes *s, layout *l) {
    double width = 0;
    switch (s->kind) {
    case VS_SIZES_LOGNORMAL:
        l->ln_median = log(s->median_m);
        l->width = width = log(s->gsd);
        l->low = l->ln_median + 2 * width * width - 7 * width;
        l->high = l->ln_median + 6 * width * width + 7 * width;
        l->least = fmax(TAIL_DENSITY, STEPS_A_SIGMA / width);
        break;
    case VS_SIZES_MODIFIED_GAMMA:
        l->low = log(DIAMETER_MIN_M);
        l->high = log(VS_ENSEMBLE_SIZE_MAX / l->per_m);
        l->least = GAMMA_DENSITY;
        break;
    case VS_SIZES_TABLE:
        l->low = log(s->diameter_m[0]);
        l->high = log(s->diameter_m[s->count - 1]);
        l->least = TABLE_DENSITY;
        break;
    }
    l->low = fmax(l->low, log(VS_MIE_SIZE_MIN / l->per_m));
    l->high = fmin(l->high, log(VS_ENSEMBLE_SIZE_MAX / l->per_m));
    return l->low < l->high;
}

/* Narrows the window to where mass, scattering or the forward peak is not negligible. */
static bool narrow_window(layout *l) {
    double mass[SCAN + 1], light[SCAN + 1], forward[SCAN + 1];
    double mass_max = 0, light_max = 0, forward_max = 0;
    double step = (l->high - l->low) / SCAN;
    for (int i = 0; i <= SCAN; i++) {
        double t = l->low + i * step, d = exp(t), x = l->per_m * d, n = number_at(l, t, d);
        mass[i] = n * x * x * x;
        light[i] = scatter(n, x);
        forward[i] = light[i] * x * x;
        mass_max = fmax(mass_max, mass[i]);
        light_max = fmax(light_max, light[i]);
        forward_max = fmax(forward_max, forward[i]);
    }
    l->scatter_max = light_max;
    int first = SCAN, last = 0;
    for (int i = 0; i <= SCAN; i++) {
        if (mass[i] > KEEP * mass_max || light[i] > KEEP * light_max ||
            forward[i] > KEEP_FORWARD * forward_max) {
            first = i < first ? i : first;
            last = i;
        }
    }
    l->high = l->low + last * step;
    l->low = l->low + first * step;
    return isfinite(light_max) && light_max > 0 && last > first;
}

/* Integral of the node density over the window: how many nodes there will be. */
static double count_nodes(const layout *l) {
    double sum = 0, step = (l->high - l->low) / SCAN;
    for (int i = 0; i < SCAN; i++) {
        sum += step * place_at(l, l->low + (i + 0.5) * step).density;
    }
    return sum;
}

/* One step of dt/ds = 1/density by the classical Runge-Kutta rule. */
static place advance(const layout *l, const place *from, double ds) {
    double t = from->t;
    double k1 = 1 / from->density;
    double k2 = 1 / place_at(l, t + 0.5 * ds * k1).density;
    double k3 = 1 / place_at(l, t + 0.5 * ds * k2).density;
    double k4 = 1 / place_at(l, t + ds * k3).density;
    return place_at(l, t + ds * (k1 + 2 * k2 + 2 * k3 + k4) / 6);
}

static vs_status allocate(vs_nodes *nodes, size_t count) {
    nodes->memory = malloc(2 * count * sizeof *nodes->memory);
    if (!nodes->memory) {
        return VS_ERR_MEMORY;
    }
    nodes->size = nodes->memory;
    nodes->weight = nodes->memory + count;
    nodes->count = count;
    return VS_OK;
}

static void set_node(vs_nodes *nodes, size_t i, double x, double weight) {
    double terms = (double)vs_mie_terms(x);
    nodes->size[i] = x;
    nodes->weight[i] = weight;
    nodes->size_max = fmax(nodes->size_max, x);
    nodes->work += terms * terms;
}

static vs_status lay_nodes(vs_nodes *nodes, const layout *l) {
    double total = count_nodes(l);
    if (!(total <= NODES_MAX)) {
        return VS_ERR_DOMAIN;
    }
    size_t count = (size_t)ceil(total);
    vs_status status = allocate(nodes, count);
    if (status != VS_OK) {
        return status;
    }
    double ds = total / (double)count;
    place at = place_at(l, l->low);
    for (size_t i = 0; i < count; i++) {
        at = advance(l, &at, i == 0 ? 0.5 * ds : ds);
        set_node(nodes, i, at.x, at.number / at.density);
    }
    return VS_OK;
}

/* All droplets alike: one node. */
static vs_status lay_one(vs_nodes *nodes, double diameter_m, double per_m) {
    double x = diameter_m * per_m;
    if (!(x >= VS_MIE_SIZE_MIN && x <= VS_ENSEMBLE_SIZE_MAX)) {
        return VS_ERR_DOMAIN;
    }
    vs_status status = allocate(nodes, 1);
    if (status == VS_OK) {
        set_node(nodes, 0, x, 1);
    }
    return status;
}

vs_status vs_nodes_init(vs_nodes *nodes, const vs_sizes *sizes, double wavelength_m) {
    memset(nodes, 0, sizeof *nodes);
    layout l = {.sizes = sizes, .per_m = VS_PI / wavelength_m};
    if (!(wavelength_m > 0) || !isfinite(wavelength_m)) {
        return VS_ERR_DOMAIN;
    }
    if (sizes->kind == VS_SIZES_LOGNORMAL && !(sizes->median_m > 0 && sizes->gsd >= 1)) {
        return VS_ERR_DOMAIN;
    }
    if (sizes->kind == VS_SIZES_LOGNORMAL && sizes->gsd == 1) {
        return lay_one(nodes, sizes->median_m, l.per_m);
    }
    if (!find_window(sizes, &l) || !narrow_window(&l)) {
        return VS_ERR_DOMAIN;
    }
    return lay_nodes(nodes, &l);
}

void vs_nodes_free(vs_nodes *nodes) {
    free(nodes->memory);
    memset(nodes, 0, sizeof *nodes);
}
