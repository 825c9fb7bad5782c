/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Scan, search, solve. See the header. */
#include "shot/choose/margins.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/base/minimum.h"
#include "veilstop/base/root.h"

#define MARGIN_MAX        1e6   /* [1] in place of more: solvers take finite values only */
#define ROOT_RELATIVE     1e-10 /* [1] tolerance on a crossing */
#define BEST_RELATIVE     1e-6 /* [1] tolerance on the place where the smallest margin is largest */
#define POLISH_FIRST      1e-4 /* [1] of x: first width of the search for a crossing */
#define POLISH_LAST       0.5  /* [1] of x: last width */
#define POLISH_WIDER      10   /* [1] growth of each step: our choice */
#define NEWTON_MAX        5    /* steps; needing more means that the slopes mislead */
#define NEWTON_REACH      0.1  /* [1] of x: a longer step is not trusted */
#define NEWTON_ENOUGH     1e-4 /* [1] of x: a step this small leaves an error a hundredth of it */
#define SLOPE_PART        1e-5 /* [1] of x, on either side, for a slope */
#define BETWEEN           3    /* places tried in an interval between grid points: our choice */
#define SEARCH_FIRST_PART 0.38 /* [1] where a search from an edge looks first: golden section */

vs_status vs_margin_scan_init(vs_margin_scan *scan, const vs_margins *margins, const double *x,
                              size_t places) {
    const vs_margin_scan blank = {.places = places, .count = margins->count};
    *scan = blank;
    scan->x = malloc((places + 1) * sizeof *scan->x);
    scan->margin = malloc((places * margins->count + 1) * sizeof *scan->margin);
    vs_status status = scan->x && scan->margin ? VS_OK : VS_ERR_MEMORY;
    for (size_t i = 0; i < places && status == VS_OK; i++) {
        scan->x[i] = x[i];
        status = margins->at(margins->context, x[i], NULL, scan->margin + i * margins->count);
    }
    if (status != VS_OK) {
        vs_margin_scan_free(scan);
    }
    return status;
}

void vs_margin_scan_free(vs_margin_scan *scan) {
    const vs_margin_scan blank = {0};
    free(scan->x);
    free(scan->margin);
    *scan = blank;
}

/* A place and a margin there. */
typedef struct {
    double x, margin;
} node;

/* A margin as a function for the solvers: a single one, or the smallest of those asked for. */
typedef struct {
    const vs_margins *margins;
    const bool *asked;
    double sign;    /* -1 turns a maximum into a minimum */
    double *margin; /* workspace for all margins */
    node known[3];  /* computed before: solvers begin with the ends of their bracket */
    vs_status status;
} probe;

static double smallest(const double *margin, const bool *asked, size_t count) {
    double least = MARGIN_MAX;
    for (size_t i = 0; i < count; i++) {
        if (!asked || asked[i]) {
            least = isnan(margin[i]) ? -MARGIN_MAX : fmin(least, margin[i]);
        }
    }
    return fmax(least, -MARGIN_MAX);
}

static double probe_at(double x, void *context) {
    probe *p = context;
    for (size_t i = 0; i < 3; i++) {
        if (p->known[i].x == x) {
            return p->sign * p->known[i].margin;
        }
    }
    if (p->status == VS_OK) {
        p->status = p->margins->at(p->margins->context, x, p->asked, p->margin);
    }
    return p->status == VS_OK ? p->sign * smallest(p->margin, p->asked, p->margins->count)
                              : (double)NAN;
}

static void know(probe *p, const node *at, size_t count) {
    for (size_t i = 0; i < 3; i++) {
        p->known[i] = at[i < count ? i : 0];
    }
}

/* The status to report: a failure of the margins takes precedence over that of the solver. */
static vs_status reported(const probe *p, vs_status status) {
    return p->status != VS_OK ? p->status : status;
}

/* Searches between three places for where the margin crosses zero and returns: a hump over it or a
 * dip under it. found->x is NaN if there is none. */
static vs_status find_turn(probe *p, const node *at, node *found) {
    bool hump = at[1].margin < 0 && at[0].margin < at[1].margin && at[2].margin < at[1].margin;
    bool dip = at[1].margin >= 0 && at[0].margin > at[1].margin && at[2].margin > at[1].margin;
    found->x = found->margin = NAN;
    if (!hump && !dip) {
        return VS_OK;
    }
    vs_minimum turn;
    p->sign = hump ? -1 : 1;
    know(p, at, 3);
    vs_status status =
        vs_minimum_brent(probe_at, p, at[0].x, at[1].x, at[2].x, VS_MINIMUM_RELATIVE_MIN, 0, &turn);
    if (status == VS_OK && turn.value < 0) {
        found->x = turn.x;
        found->margin = p->sign * turn.value;
    }
    p->sign = 1;
    return reported(p, status);
}

/* The grid and, between its places, those where a hump or dip crosses zero. `list` has room for
 * twice the grid. */
static vs_status list_nodes(probe *p, const vs_margin_scan *scan, size_t which, node *list,
                            size_t *count) {
    vs_status status = VS_OK;
    *count = 0;
    for (size_t i = 0; i < scan->places && status == VS_OK; i++) {
        node at[3], turn = {NAN, NAN};
        for (size_t k = 0; k < 3; k++) {
            size_t place = i + k > 0 ? i + k - 1 : 0;
            place = place < scan->places ? place : scan->places - 1;
            at[k].x = scan->x[place];
            at[k].margin = smallest(&scan->margin[place * scan->count + which], NULL, 1);
        }
        if (i > 0 && i + 1 < scan->places) {
            status = find_turn(p, at, &turn);
        }
        if (turn.x < at[1].x) {
            list[(*count)++] = turn;
        }
        list[(*count)++] = at[1];
        if (turn.x > at[1].x) {
            list[(*count)++] = turn;
        }
    }
    return status;
}

static vs_status crossing(probe *p, const node *ends, double *x) {
    know(p, ends, 2);
    return reported(p, vs_root_brent(probe_at, p, ends[0].x, ends[1].x, ROOT_RELATIVE, 0, x));
}

static vs_status intervals_of(probe *p, const node *list, size_t count, vs_intervals *out) {
    vs_status status = VS_OK;
    double low = list[0].margin >= 0 ? list[0].x : (double)NAN;
    for (size_t i = 1; i < count && status == VS_OK; i++) {
        bool was = list[i - 1].margin >= 0, is = list[i].margin >= 0;
        double x = NAN;
        if (was != is) {
            status = crossing(p, &list[i - 1], &x);
        }
        if (status == VS_OK && !was && is) {
            low = x;
        }
        if (status == VS_OK && was && !is) {
            status = vs_intervals_add(out, low, x);
            low = NAN;
        }
    }
    return status == VS_OK && !isnan(low) ? vs_intervals_add(out, low, list[count - 1].x) : status;
}

vs_status vs_margin_feasible(const vs_margins *margins, const vs_margin_scan *scan, size_t which,
                             vs_intervals *out) {
    bool *asked = calloc(margins->count + 1, sizeof *asked);
    double *margin = calloc(margins->count + 1, sizeof *margin);
    node *list = calloc(2 * scan->places + 1, sizeof *list);
    probe p = {.margins = margins, .asked = asked, .sign = 1, .margin = margin};
    vs_status status = asked && margin && list ? VS_OK : VS_ERR_MEMORY;
    size_t count = 0;
    out->count = 0;
    if (status == VS_OK) {
        asked[which] = true;
        status = list_nodes(&p, scan, which, list, &count);
    }
    if (status == VS_OK) {
        status = intervals_of(&p, list, count, out);
    }
    free(asked);
    free(margin);
    free(list);
    return status;
}

static void forget(probe *p) {
    const node nowhere = {NAN, NAN};
    know(p, &nowhere, 1);
}

/* Where the margin crosses near x, between low and high, by widening brackets; x if it does not. */
static vs_status crossing_around(probe *p, double low, double high, double x, double *out) {
    *out = x;
    for (double off = POLISH_FIRST; off < POLISH_LAST; off *= POLISH_WIDER) {
        forget(p);
        node ends[2] = {{fmax(x * (1 - off), low), 0}, {fmin(x * (1 + off), high), 0}};
        for (int i = 0; i < 2; i++) {
            ends[i].margin = probe_at(ends[i].x, p);
        }
        if (p->status != VS_OK) {
            return p->status;
        }
        if ((ends[0].margin >= 0) != (ends[1].margin >= 0)) {
            return crossing(p, ends, out);
        }
    }
    return VS_OK;
}

/* The same by Newton's method with the slope of nearly the same margin: once a step is small, the
 * remaining error is a small part of it. */
static vs_status crossing_near(probe *p, probe *nearly, double low, double high, double *x) {
    double at = *x;
    forget(p);
    forget(nearly);
    for (int i = 0; i < NEWTON_MAX; i++) {
        double margin = probe_at(at, p), off = SLOPE_PART * at;
        double slope = (probe_at(at + off, nearly) - probe_at(at - off, nearly)) / (2 * off);
        if (p->status != VS_OK) {
            return p->status;
        }
        double step = slope != 0 ? -margin / slope : (double)INFINITY;
        if (!(fabs(step) < NEWTON_REACH * at) || at + step <= low || at + step >= high) {
            break;
        }
        at += step;
        if (fabs(step) <= NEWTON_ENOUGH * at) {
            *x = at;
            return VS_OK;
        }
    }
    return crossing_around(p, low, high, *x, x);
}

vs_status vs_margin_polish(const vs_margins *margins, const vs_margins *nearly, size_t which,
                           double low, double high, vs_intervals *set) {
    bool *asked = calloc(margins->count + 1, sizeof *asked);
    double *margin = calloc(2 * margins->count + 1, sizeof *margin);
    vs_status status = asked && margin ? VS_OK : VS_ERR_MEMORY;
    if (status == VS_OK) {
        asked[which] = true;
        probe p = {.margins = margins, .asked = asked, .sign = 1, .margin = margin};
        probe n = {.margins = nearly, .asked = asked, .sign = 1, .margin = margin + margins->count};
        for (size_t i = 0; i < 2 * set->count && status == VS_OK; i++) {
            double *end = i % 2 ? &set->item[i / 2].high : &set->item[i / 2].low;
            if (*end > low && *end < high) {
                status = crossing_near(&p, &n, low, high, end);
            }
        }
    }
    free(asked);
    free(margin);
    return status;
}

/* The smallest margin at a place: from the scan, or zero at an end set by a crossing. */
static double margin_known(const vs_margin_scan *scan, const bool *asked, double x) {
    for (size_t i = 0; i < scan->places; i++) {
        if (scan->x[i] == x) {
            return smallest(scan->margin + i * scan->count, asked, scan->count);
        }
    }
    return 0;
}

/* Places inside one interval: its ends, the grid points between them, or a few if there are none.
 * Returns their number. */
static size_t list_places(probe *p, const vs_margin_scan *scan, double low, double high,
                          node *list) {
    size_t count = 0;
    list[count++].x = low;
    for (size_t i = 0; i < scan->places; i++) {
        if (scan->x[i] > low && scan->x[i] < high) {
            list[count++].x = scan->x[i];
        }
    }
    bool empty = count == 1 && high > low;
    for (int i = 1; i <= BETWEEN && empty; i++) {
        list[count++].x = low + (high - low) * i / (BETWEEN + 1);
    }
    if (high > low) {
        list[count++].x = high;
    }
    for (size_t i = 0; i < count; i++) {
        bool inside = empty && i > 0 && i + 1 < count;
        list[i].margin = inside ? probe_at(list[i].x, p) : margin_known(scan, p->asked, list[i].x);
    }
    return count;
}

/* Refines the best of `count` places between its neighbours; at an edge, only if a place inside is
 * better. */
static vs_status refine(probe *p, const node *list, size_t best, size_t count, node *out) {
    node at[3] = {list[best > 0 ? best - 1 : 0], list[best],
                  list[best + 1 < count ? best + 1 : count - 1]};
    *out = list[best];
    if (count < 2) {
        return VS_OK;
    }
    if (best == 0 || best + 1 == count) {
        double part = best == 0 ? SEARCH_FIRST_PART : 1 - SEARCH_FIRST_PART;
        at[1].x = at[0].x + part * (at[2].x - at[0].x);
        at[1].margin = probe_at(at[1].x, p);
    }
    if (!(at[1].margin > at[0].margin && at[1].margin > at[2].margin)) {
        return reported(p, VS_OK); /* a plateau, or an edge that is best */
    }
    vs_minimum peak;
    p->sign = -1;
    know(p, at, 3);
    vs_status status =
        vs_minimum_brent(probe_at, p, at[0].x, at[1].x, at[2].x, BEST_RELATIVE, -INFINITY, &peak);
    p->sign = 1;
    if (status == VS_OK) {
        out->x = peak.x;
        out->margin = -peak.value;
    }
    return reported(p, status);
}

static vs_status best_in(probe *p, const vs_margin_scan *scan, const vs_interval *in, node *list,
                         node *out) {
    forget(p);
    size_t count = list_places(p, scan, in->low, in->high, list), best = 0;
    for (size_t i = 1; i < count; i++) {
        best = list[i].margin > list[best].margin ? i : best;
    }
    return p->status == VS_OK ? refine(p, list, best, count, out) : p->status;
}

vs_status vs_margin_best(const vs_margins *margins, const vs_margin_scan *scan, const bool *asked,
                         const vs_intervals *within, double *x) {
    const vs_interval whole = {scan->x[0], scan->x[scan->places - 1]};
    node *list = malloc((scan->places + BETWEEN + 2) * sizeof *list);
    double *margin = malloc((margins->count + 1) * sizeof *margin);
    vs_status status = list && margin ? VS_OK : VS_ERR_MEMORY;
    node best = {NAN, -INFINITY};
    probe p = {.margins = margins, .asked = asked, .sign = 1, .margin = margin};
    for (size_t i = 0; i < (within ? within->count : 1) && status == VS_OK; i++) {
        node here;
        status = best_in(&p, scan, within ? &within->item[i] : &whole, list, &here);
        if (status == VS_OK && here.margin > best.margin) {
            best = here;
        }
    }
    *x = status == VS_OK ? best.x : (double)NAN;
    free(list);
    free(margin);
    return status;
}
