/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Level by level: the samples for all cells of one size are computed together; then each cell is
 * accepted or divided. */
#include "picture/interpolation/cells.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/growable.h"
#include "picture/interpolation/cells_plane.h"

#define FEW       4   /* up to this many pixels of a thing in a cell are computed one by one */
#define KINDS_MAX 256 /* things distinguished within one of the first cells */

typedef struct vs_cells_item {
    uint16_t x, y, side; /* within the part; [pixels] */
    uint16_t kind, label;
    bool whole; /* entirely of one kind, closing row and column included */
    bool edged; /* an edge may cross it */
    uint8_t count;
    uint32_t sample[VS_CELLS_SAMPLES];
} item;

vs_status vs_cells_init(vs_cells *cells, size_t width, size_t height) {
    memset(cells, 0, sizeof *cells);
    cells->width = width;
    cells->height = height;
    cells->index = malloc((width + 1) * (height + 1) * sizeof *cells->index);
    return cells->index ? VS_OK : VS_ERR_MEMORY;
}

void vs_cells_free(vs_cells *cells) {
    free(cells->index);
    free(cells->place);
    free(cells->value);
    free(cells->item);
    free(cells->next);
    free(cells->region);
    free(cells->dot);
    memset(cells, 0, sizeof *cells);
}

void vs_cells_begin(vs_cells *cells, size_t width, size_t height) {
    cells->width = width;
    cells->height = height;
    cells->sample_count = cells->computed = cells->region_count = cells->dot_count = 0;
    memset(cells->index, 0, (width + 1) * (height + 1) * sizeof *cells->index);
}

/* Adds a sample, not computed yet. Returns its number; 0 when memory runs out. */
static uint32_t new_sample(vs_cells *c, size_t x, size_t y) {
    vs_cells_place *place =
        vs_growable_reserve(c->place, c->sample_count, &c->place_size, sizeof *place);
    c->place = place ? place : c->place;
    vs_cells_value *value =
        vs_growable_reserve(c->value, c->sample_count, &c->value_size, sizeof *value);
    c->value = value ? value : c->value;
    if (!place || !value) {
        c->failed = true;
        return 0;
    }
    c->place[c->sample_count].x = (uint16_t)x;
    c->place[c->sample_count].y = (uint16_t)y;
    return (uint32_t)c->sample_count++;
}

void vs_cells_know(vs_cells *cells, size_t x, size_t y, size_t in_x, size_t in_y,
                   const vs_cells_value *value) {
    uint32_t at = new_sample(cells, x, y);
    if (!cells->failed) {
        cells->value[at] = *value;
        cells->index[in_y * (cells->width + 1) + in_x] = at + 1;
        cells->computed = cells->sample_count;
    }
}

/* What a part is found on. */
typedef struct {
    vs_cells *c;
    const vs_cells_grid *grid;
    const vs_cells_field *field;
    size_t x, y; /* of the part on the grid */
} part;

static uint16_t label_at(const part *p, size_t x, size_t y) {
    return p->grid->label[(p->y + y) * p->grid->across + p->x + x];
}

static uint16_t kind_at(const part *p, size_t x, size_t y) {
    return p->field->kind[label_at(p, x, y)];
}

static void push(part *p, const item *it) {
    vs_cells *c = p->c;
    item *next = vs_growable_reserve(c->next, c->next_count, &c->next_size, sizeof *next);
    c->next = next ? next : c->next;
    c->failed = c->failed || !next;
    if (next) {
        next[c->next_count++] = *it;
    }
}

/* The sample of a place of the part. */
static uint32_t want(part *p, size_t x, size_t y) {
    vs_cells *c = p->c;
    uint32_t *index = &c->index[y * (c->width + 1) + x];
    if (*index == 0) {
        *index = new_sample(c, p->x + x, p->y + y) + 1;
    }
    return *index - 1;
}

static bool take_sample(part *p, item *it, size_t x, size_t y) {
    uint32_t at = want(p, x, y);
    for (int i = 0; i < it->count; i++) {
        if (it->sample[i] == at) {
            return false;
        }
    }
    it->sample[it->count++] = at;
    return true;
}

/* Whether all of a square and its closing row and column are of one kind. */
static bool all_of_kind(const part *p, size_t x, size_t y, size_t side, uint16_t kind) {
    if (kind_at(p, x, y) != kind || kind_at(p, x + side, y) != kind ||
        kind_at(p, x, y + side) != kind || kind_at(p, x + side, y + side) != kind) {
        return false;
    }
    for (size_t j = 0; j <= side; j++) {
        const uint16_t *label = &p->grid->label[(p->y + y + j) * p->grid->across + p->x + x];
        for (size_t i = 0; i <= side; i++) {
            if (p->field->kind[label[i]] != kind) {
                return false;
            }
        }
    }
    return true;
}

static void choose_whole(part *p, item *it) {
    size_t s = it->side;
    it->count = 0;
    take_sample(p, it, it->x, it->y);
    if (s > 1) {
        take_sample(p, it, it->x + s, it->y);
        take_sample(p, it, it->x, it->y + s);
        take_sample(p, it, it->x + s, it->y + s);
        take_sample(p, it, it->x + s / 2, it->y + s / 2);
    }
}

/* Pixels of one kind in a cell. */
typedef struct {
    size_t count;
    size_t near[4], middle; /* those nearest to the corners, and to their middle; in the cell */
} pixels_of_kind;

static pixels_of_kind pixels_of(const part *p, const item *it) {
    size_t s = it->side, far[4];
    pixels_of_kind found = {0};
    double mx = 0, my = 0, nearest = INFINITY;
    for (int k = 0; k < 4; k++) {
        far[k] = SIZE_MAX;
    }
    for (size_t at = 0; at < s * s; at++) {
        size_t i = at % s, j = at / s;
        if (kind_at(p, it->x + i, it->y + j) != it->kind) {
            continue;
        }
        size_t distance[4] = {i + j, s - 1 - i + j, i + s - 1 - j, 2 * s - 2 - i - j};
        for (int k = 0; k < 4; k++) {
            if (distance[k] < far[k]) {
                far[k] = distance[k];
                found.near[k] = at;
            }
        }
        mx += (double)i;
        my += (double)j;
        found.count++;
    }
    mx /= fmax((double)found.count, 1); /* without any there is no middle, and no search */
    my /= fmax((double)found.count, 1);
    for (size_t at = 0; at < s * s && found.count > FEW; at++) {
        double i = (double)(at % s) - mx, j = (double)(at / s) - my, off = i * i + j * j;
        if (off < nearest && kind_at(p, it->x + at % s, it->y + at / s) == it->kind) {
            nearest = off;
            found.middle = at;
        }
    }
    return found;
}

/* Those nearest to the corners, and last that nearest to their middle. Returns how many pixels
 * there are. */
static size_t choose_part(part *p, item *it) {
    pixels_of_kind found = pixels_of(p, it);
    size_t s = it->side;
    it->count = 0;
    for (int k = 0; k < 4 && found.count > 0; k++) {
        take_sample(p, it, it->x + found.near[k] % s, it->y + found.near[k] / s);
    }
    if (found.count <= FEW || s == 1) {
        return found.count;
    }
    size_t x = it->x + found.middle % s, y = it->y + found.middle / s;
    if (!take_sample(p, it, x, y)) { /* it is the check: last */
        uint32_t middle = want(p, x, y);
        for (int k = 0; k < it->count; k++) {
            if (it->sample[k] == middle) {
                it->sample[k] = it->sample[it->count - 1];
                it->sample[it->count - 1] = middle;
                break;
            }
        }
    }
    return found.count;
}

static bool edge_crosses(const part *p, const item *it) {
    const vs_cells_field *f = p->field;
    return f->edge && vs_lines_cross(f->edge, (double)(p->x + it->x), (double)(p->y + it->y),
                                     (double)it->side);
}

/* Begins the item for a square's part of one kind. whole: the square is known to be all of that
 * kind */
static void begin_item(part *p, size_t x, size_t y, size_t side, uint16_t label, bool whole,
                       bool edged) {
    uint16_t kind = p->field->kind[label];
    if (p->field->scale[label] == 0) {
        return;
    }
    item it = {
        .x = (uint16_t)x, .y = (uint16_t)y, .side = (uint16_t)side, .kind = kind, .label = label};
    it.whole = whole || all_of_kind(p, x, y, side, kind);
    if (it.whole) {
        choose_whole(p, &it);
    } else if (choose_part(p, &it) == 0) {
        return;
    }
    it.edged = edged && edge_crosses(p, &it);
    push(p, &it);
}

/* The label of a first square that is all of one kind; otherwise VS_CELLS_MIXED. */
static uint16_t whole_of(const part *p, size_t x, size_t y, size_t side) {
    size_t cell = p->grid->cell, across = (p->grid->across - 1) / cell;
    uint16_t first = p->field->whole[(p->y + y) / cell * across + (p->x + x) / cell];
    for (size_t j = (p->y + y) / cell; j < (p->y + y + side) / cell; j++) {
        for (size_t i = (p->x + x) / cell; i < (p->x + x + side) / cell; i++) {
            uint16_t label = p->field->whole[j * across + i];
            if (label == VS_CELLS_MIXED || first == VS_CELLS_MIXED ||
                p->field->kind[label] != p->field->kind[first]) {
                return VS_CELLS_MIXED;
            }
        }
    }
    return first;
}

static void first_items(part *p, size_t x, size_t y, size_t side) {
    uint16_t seen[KINDS_MAX];
    size_t count = 0;
    uint16_t whole = whole_of(p, x, y, side);
    if (whole != VS_CELLS_MIXED) {
        begin_item(p, x, y, side, whole, true, p->field->edge != NULL);
        return;
    }
    for (size_t j = 0; j < side; j++) {
        for (size_t i = 0; i < side; i++) {
            uint16_t label = label_at(p, x + i, y + j), kind = p->field->kind[label];
            if (count > 0 && seen[count - 1] == kind) {
                continue;
            }
            size_t k = 0;
            while (k < count && seen[k] != kind) {
                k++;
            }
            if (k == count && count < KINDS_MAX) {
                seen[count++] = kind;
                begin_item(p, x, y, side, label, false, p->field->edge != NULL);
            }
        }
    }
}

static void halve(part *p, const item *it) {
    size_t h = it->side / 2;
    for (size_t k = 0; k < 4; k++) {
        size_t x = it->x + (k & 1) * h, y = it->y + (k >> 1) * h;
        begin_item(p, x, y, h, it->label, it->whole, it->edged);
    }
}

static void compute_samples(part *p) {
    vs_cells *c = p->c;
    if (c->computed < c->sample_count && !c->failed) {
        p->field->sample(p->field->context, c->place + c->computed, c->sample_count - c->computed,
                         c->value + c->computed);
        c->computed = c->sample_count;
    }
}

/* ---- accepting or dividing ---- */

static bool all_dark(const part *p, const item *it) {
    for (int i = 0; i < it->count; i++) {
        const vs_cells_value *value = &p->c->value[it->sample[i]];
        for (int n = 0; n < VS_CELLS_CHANNELS; n++) {
            for (int step = 0; step < VS_LADDER_STEPS; step++) {
                if (value->at[n][step] != 0) {
                    return false;
                }
            }
        }
    }
    return true;
}

/* The tolerance from everything seen there, and from the quantity itself, which is part of that. */
static double tolerance_of(const part *p, const item *it, int step) {
    double own = 0;
    for (int i = 0; i < it->count; i++) {
        for (int n = 0; n < VS_CELLS_CHANNELS; n++) {
            own += (double)p->c->value[it->sample[i]].at[n][step] / (VS_CELLS_CHANNELS * it->count);
        }
    }
    size_t across = (p->grid->across - 1) / p->grid->cell;
    size_t x = (p->x + it->x) / p->grid->cell, y = (p->y + it->y) / p->grid->cell;
    const float *list = it->whole ? p->field->tolerance[step] : p->field->tolerance_mixed[step];
    return (double)list[y * across + x] * (double)p->field->scale[it->label] +
           (double)p->field->relative * own;
}

/* How far a plane through all samples but the middle is from that, and from those themselves. */
static double miss_of_plane(const vs_cells_place *place, const double *value, int count) {
    vs_cells_plane f = vs_cells_plane_through(place, value, count - 1);
    double miss = 0;
    for (int i = 0; i < count; i++) {
        double said =
            f.at + f.dx * ((double)place[i].x - f.mx) + f.dy * ((double)place[i].y - f.my);
        miss = fmax(miss, fabs(value[i] - said));
    }
    return miss;
}

/* How far samples are from what is interpolated between the others; the most of all channels. */
static double miss_of(const part *p, const item *it, int step) {
    const vs_cells *c = p->c;
    double miss = 0;
    for (int n = 0; n < VS_CELLS_CHANNELS; n++) {
        vs_cells_place place[VS_CELLS_SAMPLES];
        double v[VS_CELLS_SAMPLES] = {0};
        for (int i = 0; i < it->count; i++) {
            place[i] = c->place[it->sample[i]];
            v[i] = (double)c->value[it->sample[i]].at[n][step];
        }
        miss = fmax(miss, it->whole ? fabs(v[4] - (v[0] + v[1] + v[2] + v[3]) / 4)
                                    : miss_of_plane(place, v, it->count));
    }
    return miss;
}

static bool close_enough(const part *p, const item *it) {
    for (int step = 0; step < VS_LADDER_STEPS; step++) {
        if (!(miss_of(p, it, step) <= tolerance_of(p, it, step))) {
            return false;
        }
    }
    return true;
}

static bool good_enough(const part *p, const item *it) {
    const vs_cells_field *f = p->field;
    if (it->side <= f->least || (!it->whole && it->count < VS_CELLS_SAMPLES && it->side <= 2)) {
        return true;
    }
    if (f->fine &&
        f->fine(f->context, (double)(p->x + it->x), (double)(p->y + it->y), (double)it->side)) {
        return false; /* dark or not: a lamp's beam may begin between the samples */
    }
    if (it->side <= p->grid->cell / 4 && all_dark(p, it)) {
        return true;
    }
    if (it->edged && it->side > f->edge_least) {
        return false;
    }
    if (!it->whole && it->count < 2) {
        return true; /* a single pixel of it */
    }
    return it->side <= f->most && close_enough(p, it);
}

/* ---- what is taken ---- */

static void add_dot(part *p, size_t x, size_t y, uint32_t sample) {
    vs_cells *c = p->c;
    if (x >= p->grid->width || y >= p->grid->height) {
        return;
    }
    vs_cells_dot *dot = vs_growable_reserve(c->dot, c->dot_count, &c->dot_size, sizeof *dot);
    c->dot = dot ? dot : c->dot;
    c->failed = c->failed || !dot;
    if (dot) {
        dot[c->dot_count].pixel = (uint32_t)(y * p->grid->width + x);
        dot[c->dot_count++].sample = sample;
    }
}

/* A pixel that an edge crosses: the mean of several rays. */
static void take_spread(part *p, const item *it) {
    vs_cells *c = p->c;
    uint32_t at = new_sample(c, p->x + it->x, p->y + it->y);
    if (!c->failed) {
        p->field->sample_spread(p->field->context, &c->place[at], 1, &c->value[at]);
        add_dot(p, p->x + it->x, p->y + it->y, at);
    }
}

static void take_region(part *p, const item *it) {
    vs_cells *c = p->c;
    size_t x = p->x + it->x, y = p->y + it->y;
    if (x >= p->grid->width || y >= p->grid->height || all_dark(p, it)) {
        return;
    }
    vs_cells_region *list =
        vs_growable_reserve(c->region, c->region_count, &c->region_size, sizeof *list);
    if (!list) {
        c->failed = true;
        return;
    }
    c->region = list;
    vs_cells_region *region = &list[c->region_count++];
    region->x = (uint16_t)x;
    region->y = (uint16_t)y;
    region->side = it->side;
    region->kind = it->kind;
    region->count = it->count;
    region->whole = it->whole;
    memcpy(region->sample, it->sample, sizeof region->sample);
}

static void accept_or_divide(part *p, const item *it) {
    if (!good_enough(p, it)) {
        halve(p, it);
    } else if (it->side == 1 && it->edged && p->field->edge_spread) {
        take_spread(p, it);
    } else if (it->side == 1) {
        add_dot(p, p->x + it->x, p->y + it->y, it->sample[0]);
    } else {
        take_region(p, it);
    }
}

static void next_level(vs_cells *c) {
    item *list = c->item;
    size_t size = c->item_size;
    c->item = c->next;
    c->item_count = c->next_count;
    c->item_size = c->next_size;
    c->next = list;
    c->next_size = size;
    c->next_count = 0;
}

vs_status vs_cells_find(vs_cells *cells, const vs_cells_grid *grid, const vs_cells_field *field,
                        size_t x, size_t y, size_t start, vs_cells_plan *plan) {
    part p = {cells, grid, field, x, y};
    cells->next_count = 0;
    memset(plan, 0, sizeof *plan);
    for (size_t j = 0; j < cells->height; j += start) {
        for (size_t i = 0; i < cells->width; i += start) {
            first_items(&p, i, j, start);
        }
    }
    while (cells->next_count > 0 && !cells->failed) {
        next_level(cells);
        compute_samples(&p);
        for (size_t i = 0; i < cells->item_count && !cells->failed; i++) {
            accept_or_divide(&p, &cells->item[i]);
        }
    }
    if (!cells->failed) {
        vs_cells_plan_make(cells, field, x, y, plan);
    }
    if (cells->failed) {
        vs_cells_plan_free(plan);
    }
    return cells->failed ? VS_ERR_MEMORY : VS_OK;
}
