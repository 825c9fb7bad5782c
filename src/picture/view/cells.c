/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Level by level: places that the cells of one size need are asked together; then each cell is
 * taken as it is or halved. */
#include "picture/view/cells.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/vector.h"

#define SAMPLES_MAX 5    /* of a cell: its corners and its middle */
#define RIDGE       0.25 /* [pixels^2] a plane through samples on one line is level across it */
#define FEW         4    /* pixels of a thing in a cell that are each asked for */
#define KINDS_MAX   256  /* things told apart within one of the first cells */

typedef struct vs_cells_item {
    uint16_t x, y, side; /* within the part; [pixels] */
    uint16_t kind, label;
    bool whole; /* all of it and its closing row and column are of one kind */
    bool edged; /* an edge may cross */
    uint8_t count;
    uint32_t sample[SAMPLES_MAX];
} item;

vs_status vs_cells_init(vs_cells *cells, size_t width, size_t height) {
    memset(cells, 0, sizeof *cells);
    size_t places = (width + 1) * (height + 1);
    cells->width = width;
    cells->height = height;
    cells->value = malloc(places * sizeof *cells->value);
    cells->known = calloc(places, 1);
    if (!cells->value || !cells->known) {
        vs_cells_free(cells);
        return VS_ERR_MEMORY;
    }
    return VS_OK;
}

void vs_cells_free(vs_cells *cells) {
    free(cells->value);
    free(cells->known);
    free(cells->item);
    free(cells->next);
    free(cells->want);
    free(cells->place);
    free(cells->answer);
    memset(cells, 0, sizeof *cells);
}

void vs_cells_begin(vs_cells *cells, size_t width, size_t height) {
    cells->width = width;
    cells->height = height;
    memset(cells->known, 0, (width + 1) * (height + 1));
}

static uint32_t place_of(const vs_cells *c, size_t x, size_t y) {
    return (uint32_t)(y * (c->width + 1) + x);
}

void vs_cells_know(vs_cells *cells, size_t x, size_t y, const float value[VS_CELLS_CHANNELS]) {
    uint32_t at = place_of(cells, x, y);
    memcpy(cells->value[at], value, sizeof cells->value[at]);
    cells->known[at] = 1;
}

/* What a part is laid on. */
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
    if (c->next_count == c->next_size) {
        size_t size = c->next_size ? 2 * c->next_size : 256;
        item *grown = realloc(c->next, size * sizeof *grown);
        if (!grown) {
            c->failed = true;
            return;
        }
        c->next = grown;
        c->next_size = size;
    }
    c->next[c->next_count++] = *it;
}

static void want(part *p, uint32_t at) {
    vs_cells *c = p->c;
    if (c->known[at]) {
        return;
    }
    if (c->want_count == c->want_size) {
        size_t size = c->want_size ? 2 * c->want_size : 1024;
        uint32_t *grown = realloc(c->want, size * sizeof *grown);
        if (grown) {
            c->want = grown;
        }
        vs_cells_place *place = realloc(c->place, size * sizeof *place);
        if (place) {
            c->place = place;
        }
        float(*answer)[VS_CELLS_CHANNELS] = realloc(c->answer, size * sizeof *answer);
        if (answer) {
            c->answer = answer;
        }
        if (!grown || !place || !answer) {
            c->failed = true;
            return;
        }
        c->want_size = size;
    }
    c->known[at] = 1;
    c->want[c->want_count++] = at;
}

static bool take_sample(item *it, uint32_t at) {
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
    take_sample(it, place_of(p->c, it->x, it->y));
    if (s > 1) {
        take_sample(it, place_of(p->c, it->x + s, it->y));
        take_sample(it, place_of(p->c, it->x, it->y + s));
        take_sample(it, place_of(p->c, it->x + s, it->y + s));
        take_sample(it, place_of(p->c, it->x + s / 2, it->y + s / 2));
    }
}

/* Of the pixels of its kind: those nearest to the corners, and that nearest to their middle.
 * Returns how many pixels there are. */
static size_t choose_part(part *p, item *it) {
    size_t s = it->side, count = 0, best[4] = {0}, far[4];
    double mx = 0, my = 0;
    for (int k = 0; k < 4; k++) {
        far[k] = SIZE_MAX;
    }
    for (size_t j = 0; j < s; j++) {
        for (size_t i = 0; i < s; i++) {
            if (kind_at(p, it->x + i, it->y + j) != it->kind) {
                continue;
            }
            size_t reach[4] = {i + j, s - 1 - i + j, i + s - 1 - j, 2 * s - 2 - i - j};
            for (int k = 0; k < 4; k++) {
                if (reach[k] < far[k]) {
                    far[k] = reach[k];
                    best[k] = place_of(p->c, it->x + i, it->y + j);
                }
            }
            mx += (double)i;
            my += (double)j;
            count++;
        }
    }
    it->count = 0;
    for (int k = 0; k < 4 && count > 0; k++) {
        take_sample(it, (uint32_t)best[k]);
    }
    if (count <= FEW || s == 1) {
        return count;
    }
    mx /= (double)count;
    my /= (double)count;
    double nearest = INFINITY;
    uint32_t middle = it->sample[0];
    for (size_t j = 0; j < s; j++) {
        for (size_t i = 0; i < s; i++) {
            double off = ((double)i - mx) * ((double)i - mx) + ((double)j - my) * ((double)j - my);
            if (off < nearest && kind_at(p, it->x + i, it->y + j) == it->kind) {
                nearest = off;
                middle = place_of(p->c, it->x + i, it->y + j);
            }
        }
    }
    if (!take_sample(it, middle)) { /* the middle last: it is the check */
        for (int k = 0; k < it->count; k++) {
            if (it->sample[k] == middle) {
                it->sample[k] = it->sample[it->count - 1];
                it->sample[it->count - 1] = middle;
                break;
            }
        }
    }
    return count;
}

static bool edge_crosses(const part *p, const item *it) {
    const vs_cells_field *f = p->field;
    return f->edge && vs_lines_cross(f->edge, (double)(p->x + it->x), (double)(p->y + it->y),
                                     (double)it->side);
}

/* A square's part of one kind, made ready to be asked. whole: known to be all of that kind */
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

/* The label of a first square where all of it is of one kind; VS_CELLS_MIXED. */
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

static void ask(part *p) {
    vs_cells *c = p->c;
    for (size_t i = 0; i < c->want_count; i++) {
        uint32_t at = c->want[i];
        c->place[i].x = (uint16_t)(p->x + at % (c->width + 1));
        c->place[i].y = (uint16_t)(p->y + at / (c->width + 1));
    }
    if (c->want_count > 0) {
        p->field->ask(p->field->context, c->place, c->want_count, c->answer);
    }
    for (size_t i = 0; i < c->want_count; i++) {
        memcpy(c->value[c->want[i]], c->answer[i], sizeof c->answer[i]);
    }
    c->asked += c->want_count;
    c->want_count = 0;
}

/* ---- laying ---- */

static bool all_dark(const part *p, const item *it) {
    for (int i = 0; i < it->count; i++) {
        for (int n = 0; n < VS_CELLS_CHANNELS; n++) {
            if (p->c->value[it->sample[i]][n] != 0) {
                return false;
            }
        }
    }
    return true;
}

static void put(const part *p, size_t x, size_t y, int channel, float value) {
    if (x >= p->grid->width || y >= p->grid->height) {
        return;
    }
    size_t at = y * p->grid->width + x;
    for (int t = 0; t < 2; t++) {
        if (p->field->into[t][channel]) {
            p->field->into[t][channel][at] += value;
        }
    }
}

/* left + slope u + arch u (1 - u) along a row, u from 0 by steps. */
LANES_CLONES static void add_row(float *row, int columns, float step, float left, float slope,
                                 float arch) {
    for (int i = 0; i < columns; i++) {
        float u = (float)i * step;
        float value = left + u * (slope + arch * (1 - u));
        row[i] += value > 0 ? value : 0;
    }
}

/* Corners by their shares, and a bulge that brings the middle to its own value. */
static void lay_whole(const part *p, const item *it) {
    size_t s = it->side, x0 = p->x + it->x, y0 = p->y + it->y;
    if (x0 >= p->grid->width || y0 >= p->grid->height) {
        return;
    }
    size_t columns = p->grid->width - x0 < s ? p->grid->width - x0 : s;
    size_t rows = p->grid->height - y0 < s ? p->grid->height - y0 : s;
    const vs_cells *c = p->c;
    if (all_dark(p, it)) {
        return;
    }
    for (int n = 0; n < VS_CELLS_CHANNELS; n++) {
        float a = c->value[it->sample[0]][n];
        if (s == 1) {
            put(p, x0, y0, n, a);
            continue;
        }
        float b = c->value[it->sample[1]][n], d = c->value[it->sample[2]][n];
        float e = c->value[it->sample[3]][n], m = c->value[it->sample[4]][n];
        float bulge = p->field->level ? 0 : 16 * (m - (a + b + d + e) / 4), step = 1 / (float)s;
        for (size_t j = 0; j < rows; j++) {
            float v = (float)j * step, left = a + v * (d - a), right = b + v * (e - b);
            float arch = bulge * v * (1 - v), slope = right - left;
            for (int t = 0; t < 2; t++) {
                float *row = p->field->into[t][n];
                if (row) {
                    add_row(row + (y0 + j) * p->grid->width + x0, (int)columns, step, left, slope,
                            arch);
                }
            }
        }
    }
}

/* The plane nearest to samples: value = at + dx (x - mx) + dy (y - my), held within what they are.
 */
typedef struct {
    double mx, my, at, dx, dy, low, high;
} plane;

static plane plane_through(const vs_cells *c, const item *it, int count, int channel) {
    plane f = {.low = INFINITY, .high = -INFINITY};
    double xx = RIDGE, xy = 0, yy = RIDGE, xv = 0, yv = 0;
    for (int i = 0; i < count; i++) {
        double value = (double)c->value[it->sample[i]][channel];
        f.mx += (double)(it->sample[i] % (c->width + 1)) / count;
        f.my += (double)(it->sample[i] / (c->width + 1)) / count;
        f.at += value / count;
        f.low = fmin(f.low, value);
        f.high = fmax(f.high, value);
    }
    for (int i = 0; i < count; i++) {
        double x = (double)(it->sample[i] % (c->width + 1)) - f.mx;
        double y = (double)(it->sample[i] / (c->width + 1)) - f.my;
        double value = (double)c->value[it->sample[i]][channel] - f.at;
        xx += x * x;
        xy += x * y;
        yy += y * y;
        xv += x * value;
        yv += y * value;
    }
    double below = xx * yy - xy * xy;
    f.dx = (xv * yy - yv * xy) / below;
    f.dy = (yv * xx - xv * xy) / below;
    return f;
}

static double plane_at(const plane *f, double x, double y) {
    double value = f->at + f->dx * (x - f->mx) + f->dy * (y - f->my);
    return fmin(fmax(value, f->low), f->high);
}

static void lay_part(const part *p, const item *it) {
    const vs_cells *c = p->c;
    bool each = it->count < SAMPLES_MAX || it->side == 1;
    plane f[VS_CELLS_CHANNELS];
    for (int n = 0; n < VS_CELLS_CHANNELS; n++) {
        f[n] = plane_through(c, it, it->count, n);
    }
    for (size_t j = 0; j < it->side; j++) {
        for (size_t i = 0; i < it->side; i++) {
            size_t x = it->x + i, y = it->y + j;
            if (kind_at(p, x, y) != it->kind) {
                continue;
            }
            uint32_t at = place_of(c, x, y);
            for (int n = 0; n < VS_CELLS_CHANNELS; n++) {
                double value = each && c->known[at] ? (double)c->value[at][n]
                                                    : plane_at(&f[n], (double)x, (double)y);
                put(p, p->x + x, p->y + y, n, (float)value);
            }
        }
    }
}

/* ---- taking or halving ---- */

/* Of all that is seen there, and of the quantity itself, which is part of that. */
static double tolerance_of(const part *p, const item *it) {
    double own = 0;
    for (int i = 0; i < it->count; i++) {
        for (int n = 0; n < VS_CELLS_CHANNELS; n++) {
            own += (double)p->c->value[it->sample[i]][n] / (VS_CELLS_CHANNELS * it->count);
        }
    }
    size_t across = (p->grid->across - 1) / p->grid->cell;
    size_t x = (p->x + it->x) / p->grid->cell, y = (p->y + it->y) / p->grid->cell;
    const float *list = it->whole ? p->field->tolerance : p->field->tolerance_mixed;
    return (double)list[y * across + x] * (double)p->field->scale[it->label] +
           (double)p->field->relative * own;
}

/* How far the middle is from what the corners say; the most of all channels. */
static double miss_of(const part *p, const item *it) {
    const vs_cells *c = p->c;
    double miss = 0;
    for (int n = 0; n < VS_CELLS_CHANNELS; n++) {
        double middle = (double)c->value[it->sample[it->count - 1]][n], said = 0;
        if (it->whole) {
            for (int i = 0; i < 4; i++) {
                said += (double)c->value[it->sample[i]][n] / 4;
            }
        } else {
            uint32_t at = it->sample[it->count - 1];
            plane f = plane_through(c, it, it->count - 1, n);
            said = f.at + f.dx * ((double)(at % (c->width + 1)) - f.mx) +
                   f.dy * ((double)(at / (c->width + 1)) - f.my);
        }
        miss = fmax(miss, fabs(middle - said));
    }
    return miss;
}

static bool good_enough(const part *p, const item *it) {
    const vs_cells_field *f = p->field;
    if (it->side <= f->least || (!it->whole && it->count < SAMPLES_MAX && it->side <= 2)) {
        return true;
    }
    if (it->side <= p->grid->cell / 4 && all_dark(p, it)) {
        return true;
    }
    if (it->edged && it->side > f->edge_least) {
        return false;
    }
    if (f->fine &&
        f->fine(f->context, (double)(p->x + it->x), (double)(p->y + it->y), (double)it->side)) {
        return false;
    }
    if (!it->whole && it->count < 2) {
        return true; /* one pixel of it */
    }
    return miss_of(p, it) <= tolerance_of(p, it);
}

/* A pixel that an edge crosses: the mean of several rays. */
static void lay_spread(const part *p, const item *it) {
    vs_cells_place place = {(uint16_t)(p->x + it->x), (uint16_t)(p->y + it->y)};
    float value[1][VS_CELLS_CHANNELS];
    p->field->ask_spread(p->field->context, &place, 1, value);
    for (int n = 0; n < VS_CELLS_CHANNELS; n++) {
        put(p, place.x, place.y, n, value[0][n]);
    }
}

static void settle(part *p, const item *it) {
    if (!good_enough(p, it)) {
        halve(p, it);
    } else if (it->side == 1 && it->edged && p->field->edge_spread) {
        lay_spread(p, it);
    } else if (it->whole) {
        lay_whole(p, it);
    } else {
        lay_part(p, it);
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

vs_status vs_cells_lay(vs_cells *cells, const vs_cells_grid *grid, const vs_cells_field *field,
                       size_t x, size_t y, size_t width, size_t height, size_t start) {
    part p = {cells, grid, field, x, y};
    cells->next_count = cells->want_count = 0;
    for (size_t j = 0; j < height; j += start) {
        for (size_t i = 0; i < width; i += start) {
            first_items(&p, i, j, start);
        }
    }
    while (cells->next_count > 0 && !cells->failed) {
        next_level(cells);
        for (size_t i = 0; i < cells->item_count; i++) {
            for (int k = 0; k < cells->item[i].count; k++) {
                want(&p, cells->item[i].sample[k]);
            }
        }
        ask(&p);
        for (size_t i = 0; i < cells->item_count && !cells->failed; i++) {
            settle(&p, &cells->item[i]);
        }
    }
    return cells->failed ? VS_ERR_MEMORY : VS_OK;
}
