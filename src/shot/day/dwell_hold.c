/* SPDX-License-Identifier: GPL-3.0-or-later */
/* While a shot lasts: equal, evenly spaced bursts that hold the mean density at the target.
 * Candidates are tried from the longest interval down, each on a copy of the room's trace. */
#include <math.h>

#include "shot/day/dwell_hold.h"
#include "shot/day/dwell_log.h"
#include "shot/day/dwell_uneven.h"
#include "veilstop/base/root.h"

#define LOST              0.5  /* [1] a shot that strays further is not divided: our choice */
#define HOPELESS          0.2  /* [1] one that strays further is not worth a trim: our choice */
#define BURST_TOLERANCE_S 1e-5 /* [s] far finer than any hazer's clock */
#define GROUP_MAX         3    /* bursts in one reset, if one cannot be long enough: our choice */
#define BURSTS_MAX        240  /* bursts in one series: no run sheet has more */
#define ROUND_S           30.0 /* [s] step of intervals longer than those of the list: our choice */
#define SEEN_TOLERANCE    1e-6 /* [1] rounding at the edge of the band */
#define SHORTEST_HOLD_S   1e-9 /* [s] shorter shots need no holding */

static const double interval_s[VS_HOLD_INTERVAL_COUNT] = VS_HOLD_INTERVALS;

/* [1] Factors on the burst that keeps the mean, tried in this order: our choice. */
static const double trim[] = {0.95, 1.05, 0.9, 1.1};
#define TRIM_COUNT (sizeof trim / sizeof trim[0])

/* Parts into which a shot is divided if one pattern cannot hold it, at most VS_DWELL_BURSTS_MAX:
 * our choice. */
static const size_t cut_into[] = {1, 2, 3, 4, 6};
#define CUT_COUNT (sizeof cut_into / sizeof cut_into[0])

/* A pattern and how well it holds. */
typedef struct {
    vs_dwell_bursts bursts;
    double worst;             /* largest |density/aim - 1| */
    vs_dwell_trouble trouble; /* what prevents a better one */
} pattern;

/* Where in its interval a burst lies; with takes, where the reset is. */
typedef enum { PHASE_RESET, PHASE_MIDDLE, PHASE_EARLY } phase;

/* [1] How far over the target the shortest bursts may peak, tried in this order: our choice. */
static const double over[] = {0.06, 0.04, 0.08, 0.095};
#define OVER_COUNT (sizeof over / sizeof over[0])

typedef struct {
    const vs_hold *h;
    const vs_rooms_trace *from; /* the room as the series begins */
    vs_dwell_bursts bursts;
    phase phase;
} burst_search;

static void set_burst(vs_dwell_bursts *s, phase where, double burst_s) {
    s->burst_s = burst_s;
    if (where != PHASE_RESET) {
        s->first_s = where == PHASE_MIDDLE ? 0.5 * (s->every_s - burst_s) : 0;
    }
}

static double mean_over_aim_g(double burst_s, void *context) {
    burst_search *b = context;
    set_burst(&b->bursts, b->phase, burst_s);
    vs_rooms_trace end;
    return vs_hold_follow(b->h, b->from, &b->bursts, NULL, &end) - b->h->aim_g;
}

/* A burst limited to what the machine can do, 0 for none; reports whether that changed it. */
static double allowed_burst_s(const vs_hold *h, double burst_s, double longest_s, bool *changed) {
    double allowed_s = burst_s > 0 ? fmin(fmax(burst_s, h->burst_min_s), longest_s) : 0;
    *changed = allowed_s < burst_s || allowed_s > burst_s;
    return allowed_s;
}

/* Tries a burst and keeps it in `best` if it strays less. */
static void try_burst(const burst_search *search, double wanted_s, double longest_s,
                      vs_dwell_trouble trouble, pattern *best) {
    bool changed;
    double burst_s = allowed_burst_s(search->h, wanted_s, longest_s, &changed);
    pattern tried = {search->bursts, 0, trouble};
    set_burst(&tried.bursts, search->phase, burst_s);
    if (!(burst_s > 0)) {
        tried.bursts = (vs_dwell_bursts){
            .from_s = search->bursts.from_s, .length_s = search->bursts.length_s, .group = 1};
    }
    if (changed && trouble == VS_DWELL_DRIFT) {
        tried.trouble = VS_DWELL_BURSTS;
    }
    vs_hold_watch w = {0, best->worst};
    vs_rooms_trace end;
    vs_hold_follow(search->h, search->from, &tried.bursts, &w, &end);
    if (w.worst < best->worst - VS_HOLD_BETTER) {
        tried.worst = w.worst;
        *best = tried;
    }
}

/* The trouble is exchange with other rooms or, if there are none, that bursts are too coarse. */
static vs_dwell_trouble unsteady(const vs_dwell_planner *p) {
    return p->scene->room_count > 1 ? VS_DWELL_DRIFT : VS_DWELL_BURSTS;
}

/* The trouble if the bursts themselves are as wanted. */
static vs_dwell_trouble usual_trouble(const vs_hold *h) {
    return vs_dwell_share_in(h->planner->scene, h->shot->room) == 0 ? VS_DWELL_REMOTE
           : h->cycle_s > 0                                         ? VS_DWELL_TAKES
                                                                    : unsteady(h->planner);
}

/* Why bursts of at most longest_s cannot keep the mean up. */
static vs_dwell_trouble why_too_little(const vs_hold *h, double every_s, double longest_s) {
    double lost_per_roll = h->planner->closed->loss[h->shot->room].total * h->roll_s;
    if (h->cycle_s > 0 &&
        (lost_per_roll > 2 * VS_DWELL_HOLD_WITHIN || longest_s < h->burst_max_s)) {
        return VS_DWELL_TAKES;
    }
    return longest_s < every_s ? VS_DWELL_BURSTS : VS_DWELL_WEAK;
}

/* Bursts at one place in the interval: those whose mean is the target, slightly trimmed if that
 * keeps the extremes closer, and those that would hold the target indefinitely. */
static void fit_burst(const vs_hold *h, const vs_rooms_trace *from, vs_dwell_bursts bursts,
                      phase where, pattern *best) {
    burst_search search = {h, from, bursts, where};
    double longest_s = fmin(h->burst_max_s, bursts.spacing_s);
    if (longest_s < h->burst_min_s) {
        return;
    }
    vs_dwell_trouble trouble = usual_trouble(h);
    double burst_s = longest_s;
    if (mean_over_aim_g(longest_s, &search) < 0) {
        trouble = why_too_little(h, bursts.every_s, longest_s);
    } else if (vs_root_brent(mean_over_aim_g, &search, 0, longest_s, 0, BURST_TOLERANCE_S,
                             &burst_s) != VS_OK) {
        burst_s = 0; /* thick enough without bursts */
    }
    try_burst(&search, burst_s, longest_s, trouble, best);
    for (size_t i = 0; i < TRIM_COUNT && best->worst > VS_HOLD_COMFORT && best->worst < HOPELESS;
         i++) {
        try_burst(&search, burst_s * trim[i], longest_s, trouble, best);
    }
    if (best->worst > VS_HOLD_COMFORT) {
        double steady_s = bursts.every_s * h->steady_duty / (double)bursts.group;
        try_burst(&search, steady_s, longest_s, trouble, best);
    }
}

/* Bursts in the resets between takes, one group in every `each` of them. */
static vs_dwell_bursts in_resets(const vs_hold *h, vs_dwell_bursts bare, size_t each,
                                 size_t group) {
    size_t cycles = (size_t)(bare.length_s / h->cycle_s + 1e-9);
    vs_dwell_bursts s = bare;
    s.every_s = (double)each * h->cycle_s;
    s.group = group;
    s.spacing_s = (h->cycle_s - h->roll_s) / (double)group;
    s.count = cycles / each * group;
    size_t before = (each - 1) / 2; /* whole cycles before the group, which lies in their middle */
    s.first_s = h->roll_s + (double)before * h->cycle_s;
    return s;
}

/* Groups of bursts, every so many resets as come closest to the intervals a person can keep.
 */
static void fit_groups(const vs_hold *h, const vs_rooms_trace *from, vs_dwell_bursts bare,
                       size_t group, pattern *best) {
    size_t cycles = (size_t)(bare.length_s / h->cycle_s + 1e-9), last = 0;
    for (size_t i = 0; i < VS_HOLD_INTERVAL_COUNT && best->worst > VS_HOLD_COMFORT; i++) {
        size_t each = (size_t)fmin(fmax(floor(interval_s[i] / h->cycle_s), 1), (double)cycles);
        if (each != last && each > 0 && cycles / each <= BURSTS_MAX) {
            fit_burst(h, from, in_resets(h, bare, each, group), PHASE_RESET, best);
        }
        last = each;
    }
}

static void fit_resets(const vs_hold *h, const vs_rooms_trace *from, vs_dwell_bursts bare,
                       pattern *best) {
    for (size_t group = 1; group <= GROUP_MAX && best->worst > VS_HOLD_COMFORT; group++) {
        fit_groups(h, from, bare, group, best);
    }
}

static void fit_interval(const vs_hold *h, const vs_rooms_trace *from, vs_dwell_bursts bare,
                         double every_s, pattern *best) {
    vs_dwell_bursts s = bare;
    s.every_s = s.spacing_s = every_s;
    s.group = 1;
    s.count = (size_t)(s.length_s / s.every_s + 1e-9);
    if (s.count == 0 || s.count > BURSTS_MAX) {
        return;
    }
    fit_burst(h, from, s, PHASE_MIDDLE, best);
    if (best->worst > VS_HOLD_COMFORT) {
        fit_burst(h, from, s, PHASE_EARLY, best);
    }
}

static void fit_intervals(const vs_hold *h, const vs_rooms_trace *from, vs_dwell_bursts bare,
                          pattern *best) {
    /* If the shortest burst is too much for the longest interval, use the interval it is right
     * for. */
    double rare_s = floor(h->burst_min_s / h->steady_duty / ROUND_S + 0.5) * ROUND_S;
    if (rare_s > interval_s[0]) {
        fit_interval(h, from, bare, rare_s, best);
    }
    for (size_t i = 0; i < VS_HOLD_INTERVAL_COUNT && best->worst > VS_HOLD_COMFORT; i++) {
        fit_interval(h, from, bare, interval_s[i], best);
    }
}

/* The best pattern for part of a shot. from: the room as it begins. */
static pattern best_pattern(const vs_hold *h, const vs_rooms_trace *from, double from_s,
                            double length_s) {
    vs_dwell_bursts bare = {.from_s = from_s, .length_s = length_s, .group = 1};
    pattern best = {bare, 0, usual_trouble(h)};
    vs_hold_watch w = {0, INFINITY};
    vs_rooms_trace end;
    vs_hold_follow(h, from, &bare, &w, &end);
    best.worst = w.worst;
    if (best.worst <= VS_DWELL_START_WITHIN || h->planner->output_g_per_s <= 0) {
        return best;
    }
    if (h->cycle_s > 0) {
        fit_resets(h, from, bare, &best);
    } else {
        fit_intervals(h, from, bare, &best);
    }
    return best;
}

/* Where part `i` of `parts` begins; with takes, at the start of one. */
static double part_start_s(const vs_hold *h, double length_s, size_t i, size_t parts) {
    double at_s = length_s * (double)i / (double)parts;
    if (!(h->cycle_s > 0) || i >= parts) {
        return at_s;
    }
    return fmin(floor(at_s / h->cycle_s + 0.5) * h->cycle_s, length_s);
}

/* Patterns for part of a shot that is divided: appends the series of bursts to out, with the
 * trouble of the worst; returns how far that one strays. */
static double try_parts(const vs_hold *h, const vs_rooms_trace *from, double start_s, double end_s,
                        size_t parts, vs_dwell_shot *out) {
    vs_rooms_trace now = *from, next;
    double worst = 0;
    for (size_t i = 0; i < parts; i++) {
        double from_s = start_s + part_start_s(h, end_s - start_s, i, parts);
        double to_s = start_s + part_start_s(h, end_s - start_s, i + 1, parts);
        if (!(to_s - from_s > SHORTEST_HOLD_S)) {
            continue;
        }
        pattern best = best_pattern(h, &now, from_s, to_s - from_s);
        out->bursts[out->bursts_count++] = best.bursts;
        if (best.worst > worst) {
            worst = best.worst;
            out->hold_trouble = best.trouble;
        }
        vs_hold_follow(h, &now, &best.bursts, NULL, &next);
        now = next;
    }
    return worst;
}

/* Even bursts, the shot divided into as few parts as suffice; returns how far they stray. */
static double hold_evenly(const vs_hold *h, const vs_rooms_trace *from, double length_s,
                          vs_dwell_shot *shot) {
    double best = INFINITY;
    for (size_t i = 0; i < CUT_COUNT && best > VS_DWELL_HOLD_WITHIN; i++) {
        if (i > 0 && best > LOST) {
            break;
        }
        vs_dwell_shot attempt = *shot;
        attempt.bursts_count = 0;
        double worst = try_parts(h, from, 0, length_s, cut_into[i], &attempt);
        if (worst < best - VS_HOLD_BETTER) {
            best = worst;
            *shot = attempt;
        }
    }
    return best;
}

/* The search over uneven bursts for the first part of a shot. */
typedef struct {
    const vs_hold *h;
    const vs_rooms_trace *from;
    double length_s, best;
    vs_dwell_shot *shot; /* the best so far */
} uneven_search;

/* Even bursts from where uneven ones end; kept if the whole strays less than the best so far. */
static void finish_evenly(uneven_search *u, double covered_s, double worst, vs_dwell_shot *attempt,
                          const vs_rooms_trace *end) {
    if (!(covered_s > 0) || !(worst < u->best - VS_HOLD_BETTER)) {
        return;
    }
    worst = fmax(worst, try_parts(u->h, end, covered_s, u->length_s, 1, attempt));
    if (worst < u->best - VS_HOLD_BETTER) {
        u->best = worst;
        *u->shot = *attempt;
    }
}

/* Bursts at uneven times first, even ones from where they suffice; kept if they stray less than
 * `best`. Returns how far the kept ones stray. */
static double hold_unevenly(const vs_hold *h, const vs_rooms_trace *from, double length_s,
                            double best, vs_dwell_shot *shot) {
    uneven_search u = {h, from, length_s, best, shot};
    for (size_t i = 0; i < VS_HOLD_INTERVAL_COUNT && u.best > VS_HOLD_COMFORT; i++) {
        double every_s = interval_s[i];
        if (h->cycle_s > 0) {
            every_s = fmax(floor(every_s / h->cycle_s), 1) * h->cycle_s;
        }
        vs_dwell_shot attempt = *shot;
        vs_rooms_trace end;
        double worst;
        double covered_s = vs_hold_by_slots(h, from, length_s, every_s, &attempt, &worst, &end);
        finish_evenly(&u, covered_s, worst, &attempt, &end);
    }
    for (size_t i = 0; i < OVER_COUNT && u.best > VS_HOLD_COMFORT; i++) {
        vs_dwell_shot attempt = *shot;
        vs_rooms_trace end;
        double worst;
        double covered_s = vs_hold_by_peaks(h, from, length_s, over[i], &attempt, &worst, &end);
        finish_evenly(&u, covered_s, worst, &attempt, &end);
    }
    return u.best;
}

static void summarise(vs_dwell_shot *shot) {
    for (size_t i = 0; i < shot->bursts_count; i++) {
        if (i == 0 || shot->bursts[i].length_s > shot->hold.length_s) {
            shot->hold = shot->bursts[i];
        }
    }
}

vs_status vs_dwell_work_out_hold(vs_dwell_planner *p, vs_dwell_shot *shot) {
    const vs_scene_shot *scene_shot = &p->scene->shot[shot->shot];
    double length_s = scene_shot->length_s;
    vs_dwell_set_openings(p, shot->shot);
    if (!(shot->held_extinction_per_m > 0) || !(length_s > SHORTEST_HOLD_S)) {
        shot->bursts_count = 0;
        return VS_OK;
    }
    bool takes = isfinite(scene_shot->roll_s) && isfinite(scene_shot->reset_s);
    vs_hold h = {p,
                 shot,
                 vs_dwell_mass_g(p, shot->room, shot->held_extinction_per_m),
                 takes ? scene_shot->roll_s : 0,
                 takes ? scene_shot->roll_s + scene_shot->reset_s : 0,
                 p->scene->hazer.burst_min_s,
                 p->scene->hazer.burst_max_s,
                 0};
    h.steady_duty = h.aim_g / vs_dwell_most_g(p, shot->room);
    vs_rooms_trace from;
    vs_rooms_trace_begin(p->closed, p->state, shot->room, &from);
    double best = hold_evenly(&h, &from, length_s, shot);
    if (best > VS_DWELL_HOLD_WITHIN && best < LOST && p->output_g_per_s > 0) {
        best = hold_unevenly(&h, &from, length_s, best, shot);
    }
    summarise(shot);
    if (best <= VS_DWELL_HOLD_WITHIN) {
        shot->hold_trouble = VS_DWELL_FINE;
    }
    return VS_OK;
}

/* Carries out one series of bursts. */
static vs_status play_bursts(vs_dwell_planner *p, const vs_dwell_shot *shot,
                             const vs_dwell_bursts *s) {
    double end_s = shot->start_s + s->from_s + s->length_s;
    vs_status status = VS_OK;
    for (size_t i = 0; i < s->count && status == VS_OK; i++) {
        double at_s = shot->start_s + s->from_s + vs_dwell_burst_start_s(s, i);
        status = vs_dwell_pass(p, p->closed, 0, fmax(at_s - p->now_s, 0));
        if (status == VS_OK) {
            status = vs_dwell_blow(p, VS_DWELL_BURST, shot->shot, s->burst_s);
        }
    }
    return status == VS_OK ? vs_dwell_pass(p, p->closed, 0, fmax(end_s - p->now_s, 0)) : status;
}

static bool stayed_within(const vs_dwell_shot *shot, double share) {
    return shot->lowest_ratio * share >= 1 - VS_DWELL_HOLD_WITHIN - SEEN_TOLERANCE &&
           shot->highest_ratio * share <= 1 + VS_DWELL_HOLD_WITHIN + SEEN_TOLERANCE;
}

/* Judges by what happened, not by what was planned: a density that stayed in its band is met,
 * however it got there, unless that took too long. */
static void judge(const vs_dwell_planner *p, vs_dwell_shot *shot) {
    if (!(shot->held_extinction_per_m > 0)) {
        return;
    }
    double share = shot->target_extinction_per_m / shot->held_extinction_per_m;
    if (stayed_within(shot, 1)) {
        shot->hold_trouble = VS_DWELL_FINE;
        if (shot->run_s + shot->wait_s <= VS_DWELL_LIMIT_S * (1 + SEEN_TOLERANCE)) {
            shot->fill_trouble = VS_DWELL_FINE;
            shot->within_reach_per_m = NAN;
        }
    } else if (stayed_within(shot, share)) {
        shot->hold_trouble = VS_DWELL_FINE; /* relative to what could be reached */
    } else if (shot->hold_trouble == VS_DWELL_FINE) {
        shot->hold_trouble = unsteady(p);
    }
}

vs_status vs_dwell_play(vs_dwell_planner *p, vs_dwell_shot *shot) {
    double length_s = p->scene->shot[shot->shot].length_s;
    vs_dwell_set_openings(p, shot->shot);
    shot->start_s = p->now_s;
    shot->end_s = p->now_s + length_s;
    vs_status status = vs_dwell_book(p, VS_DWELL_START, shot->shot, length_s);
    if (shot->target_extinction_per_m > 0) {
        shot->lowest_ratio = INFINITY;
        shot->highest_ratio = 0;
    }
    p->watched = shot;
    for (size_t i = 0; i < shot->bursts_count && status == VS_OK; i++) {
        status = play_bursts(p, shot, &shot->bursts[i]);
    }
    if (status == VS_OK) {
        status = vs_dwell_pass(p, p->closed, 0, fmax(shot->end_s - p->now_s, 0));
    }
    p->watched = NULL;
    if (!p->rehearses) {
        judge(p, shot);
    }
    return status == VS_OK ? vs_dwell_book(p, VS_DWELL_END, shot->shot, 0) : status;
}
