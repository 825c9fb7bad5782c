/* Drawing scattering angles. With u = sin(angle/2), d(solid angle) = 8 pi u du.
 * Sources: the header. */
#include "veilstop/optics/deflect.h"

#include <math.h>
#include <stdlib.h>

#include "veilstop/base/units.h"

#define NEWTON_STEPS 6    /* from within the cell they reach rounding in four */
#define G_SMALL      1e-4 /* [1] under it the closed form divides by nearly nothing */

/* Light of a cell up to the share s of its width: 8 pi times the integral of u p du. */
static double cell_light(double u, double width, double p, double step, double s) {
    return 8 * VS_PI * width * s *
           (u * p + s * ((u * step + width * p) / 2 + s * width * step / 3));
}

static double cell_slope(double u, double width, double p, double step, double s) {
    return 8 * VS_PI * width * (u + width * s) * (p + step * s);
}

vs_status vs_deflector_init(vs_deflector *deflector, const vs_phase *phase) {
    deflector->phase = phase;
    deflector->whole = 1;
    deflector->cumulative = NULL;
    if (phase->kind != VS_PHASE_TABLE) {
        return VS_OK;
    }
    size_t cells = phase->count - 1;
    double *sum = malloc((cells + 1) * sizeof *sum);
    if (!sum) {
        return VS_ERR_MEMORY;
    }
    double width = 1 / (double)cells;
    sum[0] = 0;
    for (size_t i = 0; i < cells; i++) {
        double p = phase->value[i], step = phase->value[i + 1] - p;
        sum[i + 1] = sum[i] + cell_light((double)i * width, width, p, step, 1);
    }
    deflector->whole = sum[cells];
    if (!(deflector->whole > 0)) {
        free(sum);
        return VS_ERR_DOMAIN;
    }
    for (size_t i = 0; i <= cells; i++) {
        sum[i] /= deflector->whole;
    }
    deflector->cumulative = sum;
    return VS_OK;
}

void vs_deflector_free(vs_deflector *deflector) {
    free(deflector->cumulative);
    deflector->cumulative = NULL;
}

/* The cell in which a share of the light is reached. */
static size_t find_cell(const double *cumulative, size_t cells, double share) {
    size_t low = 0, high = cells;
    while (high - low > 1) {
        size_t middle = (low + high) / 2;
        if (cumulative[middle] <= share) {
            low = middle;
        } else {
            high = middle;
        }
    }
    return low;
}

static double table_cosine(const vs_deflector *deflector, double share) {
    const vs_phase *phase = deflector->phase;
    size_t cells = phase->count - 1, i = find_cell(deflector->cumulative, cells, share);
    double width = 1 / (double)cells, u = (double)i * width;
    double p = phase->value[i], step = phase->value[i + 1] - p;
    double wanted = (share - deflector->cumulative[i]) * deflector->whole;
    double whole = cell_light(u, width, p, step, 1);
    double s = whole > 0 ? wanted / whole : 0.5;
    /* in the first cell light grows with the square of u */
    s = i == 0 ? sqrt(s) : s;
    for (int n = 0; n < NEWTON_STEPS; n++) {
        double slope = cell_slope(u, width, p, step, s);
        if (!(slope > 0)) {
            break;
        }
        double next = s - (cell_light(u, width, p, step, s) - wanted) / slope;
        next = fmin(fmax(next, 0), 1);
        if (next == s) {
            break;
        }
        s = next;
    }
    double reached = u + width * s;
    return 1 - 2 * reached * reached;
}

double vs_deflector_cosine(const vs_deflector *deflector, double share) {
    if (deflector->cumulative) {
        return table_cosine(deflector, share);
    }
    double g = deflector->phase->g;
    if (fabs(g) < G_SMALL) {
        /* first order in g of the same inverse */
        double even = 1 - 2 * share;
        return fmin(1, even + 1.5 * g * (1 - even * even));
    }
    double part = (1 - g) * (1 + g) / (1 + g - 2 * g * share);
    return fmin(fmax((1 + g * g - part * part) / (2 * g), -1), 1);
}

double vs_deflector_per_sr(const vs_deflector *deflector, double cos_angle) {
    return vs_phase_per_sr(deflector->phase, cos_angle) / deflector->whole;
}
