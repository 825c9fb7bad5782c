/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Cells that were found, interpolated into planes of the picture at one density. */
#include <math.h>
#include <stdlib.h>

#include "base/vector.h"
#include "picture/interpolation/cells.h"
#include "picture/interpolation/cells_plane.h"

#define RIDGE 0.25 /* [pixels^2] a plane through samples on one line is level across it */

void vs_cells_values(const vs_cells_plan *plan, bool all, const double weight[VS_LADDER_STEPS],
                     double unit, float (*value)[VS_CELLS_CHANNELS]) {
    const float(*kept)[VS_LADDER_STEPS] =
        (const float(*)[VS_LADDER_STEPS])(all && plan->all ? plan->all : plan->kept);
    size_t count = plan->sample_count * VS_CELLS_CHANNELS;
    if (plan->straight) {
        vs_ladder_sums(kept, count, weight, &value[0][0]);
    } else {
        vs_ladder_values(kept, count, weight, log(unit), &value[0][0]);
    }
}

/* One row of a cell, u from 0 by steps: left + slope u + arch u (1 - u), and a tent over its middle.
 */
typedef struct {
    float left, slope, arch, tent;
} row_of_cell;

LANES_CLONES static void add_row(float *row, int columns, float step, row_of_cell c) {
    for (int i = 0; i < columns; i++) {
        float u = (float)i * step, off = 2 * u - 1;
        float value = c.left + u * (c.slope + c.arch * (1 - u)) + c.tent * (1 - fabsf(off));
        row[i] += value > 0 ? value : 0;
    }
}

/* How far the sample in the middle of a side is from the mean of the corners. */
static float off_mean(const vs_cells_region *it, int side, const float (*value)[VS_CELLS_CHANNELS],
                      int channel, float a, float b) {
    uint32_t at = it->edge[side];
    return at == VS_CELLS_NONE ? 0 : value[at][channel] - (a + b) / 2;
}

/* Corners by their shares; sides that meet smaller cells as those have them (Coons 1967, Surfaces
 * for Computer-Aided Design of Space Forms: a patch between four curves); and a bulge that brings
 * the middle to its own value. */
static void fill_whole(const vs_cells_grid *grid, const vs_cells_region *it,
                       const float (*value)[VS_CELLS_CHANNELS], const vs_cells_planes *into) {
    size_t s = it->side, x0 = it->x, y0 = it->y;
    size_t columns = grid->width - x0 < s ? grid->width - x0 : s;
    size_t rows = grid->height - y0 < s ? grid->height - y0 : s;
    float step = 1 / (float)s;
    for (int n = 0; n < VS_CELLS_CHANNELS; n++) {
        float a = value[it->sample[0]][n], b = value[it->sample[1]][n];
        float d = value[it->sample[2]][n], e = value[it->sample[3]][n];
        float top = off_mean(it, VS_CELLS_TOP, value, n, a, b);
        float bottom = off_mean(it, VS_CELLS_BOTTOM, value, n, d, e);
        float left = off_mean(it, VS_CELLS_LEFT, value, n, a, d);
        float right = off_mean(it, VS_CELLS_RIGHT, value, n, b, e);
        float middle = (a + b + d + e) / 4 + (top + bottom + left + right) / 2;
        float bulge = 16 * (value[it->sample[4]][n] - middle);
        for (size_t j = 0; j < rows; j++) {
            float v = (float)j * step, tent = 1 - fabsf(2 * v - 1);
            float from = a + v * (d - a) + left * tent, to = b + v * (e - b) + right * tent;
            row_of_cell row = {from, to - from, bulge * v * (1 - v), top + v * (bottom - top)};
            add_row(into->band[n] + (y0 + j) * grid->width + x0, (int)columns, step, row);
        }
    }
}

vs_cells_plane vs_cells_plane_through(const vs_cells_place *place, const double *value, int count) {
    vs_cells_plane f = {.low = INFINITY, .high = -INFINITY};
    double xx = RIDGE, xy = 0, yy = RIDGE, xv = 0, yv = 0;
    for (int i = 0; i < count; i++) {
        f.mx += (double)place[i].x / count;
        f.my += (double)place[i].y / count;
        f.at += value[i] / count;
        f.low = fmin(f.low, value[i]);
        f.high = fmax(f.high, value[i]);
    }
    for (int i = 0; i < count; i++) {
        double x = (double)place[i].x - f.mx, y = (double)place[i].y - f.my, v = value[i] - f.at;
        xx += x * x;
        xy += x * y;
        yy += y * y;
        xv += x * v;
        yv += y * v;
    }
    double below = xx * yy - xy * xy;
    f.dx = (xv * yy - yv * xy) / below;
    f.dy = (yv * xx - xv * xy) / below;
    return f;
}

/* The number of a region's sample at a pixel; count where it has none. */
static int sample_at(const vs_cells_plan *plan, const vs_cells_region *it, size_t x, size_t y) {
    int i = 0;
    while (i < it->count &&
           (plan->place[it->sample[i]].x != x || plan->place[it->sample[i]].y != y)) {
        i++;
    }
    return i;
}

/* What a cell sees of one kind: a plane through its samples, held within what they are; where it is
 * but a few pixels these are samples themselves. */
static void fill_part(const vs_cells_plan *plan, const vs_cells_grid *grid,
                      const vs_cells_region *it, const float (*value)[VS_CELLS_CHANNELS],
                      const vs_cells_planes *into) {
    vs_cells_plane f[VS_CELLS_CHANNELS];
    for (int n = 0; n < VS_CELLS_CHANNELS; n++) {
        vs_cells_place place[VS_CELLS_SAMPLES];
        double at[VS_CELLS_SAMPLES];
        for (int i = 0; i < it->count; i++) {
            place[i] = plan->place[it->sample[i]];
            at[i] = (double)value[it->sample[i]][n];
        }
        f[n] = vs_cells_plane_through(place, at, it->count);
    }
    for (size_t y = it->y; y < (size_t)it->y + it->side && y < grid->height; y++) {
        for (size_t x = it->x; x < (size_t)it->x + it->side && x < grid->width; x++) {
            if (plan->kind[grid->label[y * grid->across + x]] != it->kind) {
                continue;
            }
            int own = it->count < VS_CELLS_SAMPLES ? sample_at(plan, it, x, y) : it->count;
            for (int n = 0; n < VS_CELLS_CHANNELS; n++) {
                double here =
                    f[n].at + f[n].dx * ((double)x - f[n].mx) + f[n].dy * ((double)y - f[n].my);
                here = fmin(fmax(here, f[n].low), f[n].high);
                into->band[n][y * grid->width + x] +=
                    own < it->count ? value[it->sample[own]][n] : (float)here;
            }
        }
    }
}

void vs_cells_fill_regions(const vs_cells_plan *plan, const vs_cells_grid *grid,
                           const float (*value)[VS_CELLS_CHANNELS], size_t first, size_t count,
                           const vs_cells_planes *into) {
    for (size_t i = first; i < first + count && i < plan->region_count; i++) {
        const vs_cells_region *it = &plan->region[i];
        if (it->whole) {
            fill_whole(grid, it, value, into);
        } else {
            fill_part(plan, grid, it, value, into);
        }
    }
}

void vs_cells_fill_dots(const vs_cells_plan *plan, const float (*value)[VS_CELLS_CHANNELS],
                        const vs_cells_planes *into) {
    for (size_t i = 0; i < plan->dot_count; i++) {
        for (int n = 0; n < VS_CELLS_CHANNELS; n++) {
            into->band[n][plan->dot[i].pixel] += value[plan->dot[i].sample][n];
        }
    }
}

/* One channel of one step of a region's samples, at a place in it. */
static double region_at(const vs_cells_plan *plan, const vs_cells_value *value, size_t stride,
                        const vs_cells_region *it, const vs_cells_place *at, int channel,
                        int step) {
    vs_cells_place place[VS_CELLS_SAMPLES];
    double v[VS_CELLS_SAMPLES] = {0};
    for (int i = 0; i < it->count; i++) {
        place[i] = plan->place[it->sample[i]];
        v[i] = (double)value[it->sample[i] * stride].at[channel][step];
    }
    if (!it->whole) {
        vs_cells_plane f = vs_cells_plane_through(place, v, it->count);
        double here = f.at + f.dx * ((double)at->x - f.mx) + f.dy * ((double)at->y - f.my);
        return fmin(fmax(here, f.low), f.high);
    }
    double x = (double)(at->x - it->x) / it->side, y = (double)(at->y - it->y) / it->side;
    double above = v[0] + x * (v[1] - v[0]), below = v[2] + x * (v[3] - v[2]);
    double bulge = 16 * (v[4] - (v[0] + v[1] + v[2] + v[3]) / 4);
    return fmax(0, above + y * (below - above) + bulge * x * (1 - x) * y * (1 - y));
}

void vs_cells_read(const vs_cells_plan *plan, const vs_cells_value *value, size_t stride,
                   size_t first, size_t count, const vs_cells_place *place, uint16_t label,
                   vs_cells_value *found) {
    const vs_cells_value none = {{{0}}};
    *found = none;
    for (size_t i = first; i < first + count; i++) {
        const vs_cells_region *it = &plan->region[i];
        bool in = place->x >= it->x && place->x <= it->x + it->side && place->y >= it->y &&
                  place->y <= it->y + it->side && plan->kind[label] == it->kind;
        for (int n = 0; n < VS_CELLS_CHANNELS && in; n++) {
            for (int step = 0; step < VS_LADDER_STEPS; step++) {
                found->at[n][step] = (float)region_at(plan, value, stride, it, place, n, step);
            }
        }
        if (in) {
            return;
        }
    }
}
