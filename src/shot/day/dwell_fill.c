/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Before a shot: run the hazer, wait, or purge, until the density is right. Everything is worked
 * out on a copy of the rooms' state first, then carried out. */
#include <math.h>

#include "shot/day/dwell_fill.h"
#include "shot/day/dwell_log.h"
#include "shot/day/dwell_plan.h"
#include "veilstop/base/root.h"

#define PURGE_SAVES_S     120.0   /* [s] doors and fans open only if that saves more; our choice */
#define PEAK_HORIZON_S    86400.0 /* [s] 24 h: haze still unmixed by then is ignored */
#define OF_THE_MOST       0.95    /* [1] the last few percent below it take too long: our choice */
#define RUN_TOLERANCE_S   1e-6    /* [s] far finer than any hazer's clock */
#define PURGE_TOLERANCE_S 0.5     /* [s] doors are not opened more precisely */

typedef struct {
    vs_dwell_planner *planner;
    size_t room;
    double aim_g;
} fill;

/* The room's trace from now. */
static vs_rooms_trace trace_now(const fill *f, const vs_rooms_model *model) {
    vs_rooms_trace trace;
    vs_rooms_trace_begin(model, f->planner->state, f->room, &trace);
    return trace;
}

/* The highest mass the room will reach if nothing is done. */
static double peak_g(const fill *f) {
    vs_rooms_trace trace = trace_now(f, f->planner->closed);
    return vs_rooms_peak_g(&trace, PEAK_HORIZON_S, NULL);
}

/* The mass at which the room peaks if the hazer runs for run_s from now. */
static double peak_after_run_g(const fill *f, double run_s) {
    vs_rooms_trace trace = trace_now(f, f->planner->closed);
    vs_rooms_trace_advance(&trace, f->planner->output_g_per_s, run_s);
    return vs_rooms_peak_g(&trace, PEAK_HORIZON_S, NULL);
}

static double peak_over_aim_g(double run_s, void *context) {
    const fill *f = context;
    return peak_after_run_g(f, run_s) - f->aim_g;
}

/* Lowers a target that cannot be reached in time to what can. */
static void lower_aim(fill *f, vs_dwell_shot *shot) {
    double in_time_g = peak_after_run_g(f, VS_DWELL_LIMIT_S);
    if (in_time_g >= f->aim_g) {
        return;
    }
    double at_most_g = vs_dwell_most_g(f->planner, f->room);
    double per_m = shot->target_extinction_per_m / f->aim_g;
    shot->fill_trouble = VS_DWELL_SLOW_FILL;
    if (at_most_g < f->aim_g) {
        shot->fill_trouble = VS_DWELL_WEAK;
        shot->within_reach_per_m = at_most_g * per_m;
    }
    f->aim_g = fmin(in_time_g, OF_THE_MOST * at_most_g);
    shot->held_extinction_per_m = f->aim_g * per_m;
}

/* Runs the hazer so that the room, once mixed, peaks at the aim. */
static vs_status run_hazer(fill *f, vs_dwell_shot *shot) {
    vs_dwell_planner *p = f->planner;
    lower_aim(f, shot);
    double run_s;
    vs_status status =
        vs_root_brent(peak_over_aim_g, f, 0, VS_DWELL_LIMIT_S, 0, RUN_TOLERANCE_S, &run_s);
    if (status == VS_ERR_DOMAIN) {
        /* The lowered target is at the end of the bracket, or the room is there already. */
        run_s = peak_over_aim_g(0, f) < 0 ? VS_DWELL_LIMIT_S : 0;
    } else if (status != VS_OK) {
        return status;
    }
    double shortest_s = p->scene->hazer.burst_min_s;
    if (run_s < shortest_s) {
        run_s = shortest_s;
        double reached_g = peak_after_run_g(f, run_s);
        if (reached_g > (1 + VS_DWELL_HOLD_WITHIN) * f->aim_g) {
            shot->fill_trouble = VS_DWELL_OVERSHOOT;
            shot->within_reach_per_m = shot->target_extinction_per_m * reached_g / f->aim_g;
        }
    }
    shot->run_s = run_s;
    status = vs_dwell_blow(p, VS_DWELL_RUN, shot->shot, run_s);
    double target_g = vs_dwell_mass_g(p, f->room, shot->target_extinction_per_m);
    shot->stop_ratio = p->state[f->room] / target_g;
    return status;
}

static vs_status wait(vs_dwell_planner *p, vs_dwell_shot *shot, double wait_s) {
    if (!(wait_s > 0)) {
        return VS_OK;
    }
    vs_status status = vs_dwell_book(p, VS_DWELL_WAIT, shot->shot, wait_s);
    shot->wait_s += wait_s;
    return status == VS_OK ? vs_dwell_pass(p, p->closed, 0, wait_s) : status;
}

static double peak_after_purge_g(const fill *f, double purge_s) {
    vs_dwell_planner *p = f->planner;
    vs_rooms_trace trace;
    vs_dwell_copy(p, p->state, p->trial);
    vs_rooms_advance(p->purged, 0, purge_s, p->trial);
    vs_rooms_trace_begin(p->closed, p->trial, f->room, &trace);
    return vs_rooms_peak_g(&trace, PEAK_HORIZON_S, NULL);
}

/* How long a room left alone takes to fall to a mass and stay at or below it. */
static double fall_s(const fill *f, double at_most_g) {
    vs_rooms_trace trace = trace_now(f, f->planner->closed);
    return vs_rooms_fall_s(&trace, at_most_g, VS_DWELL_LIMIT_S);
}

/* The shortest purge after which the room stays at or below a mass; the limit if there is none. */
static double purge_time_s(const fill *f, double at_most_g) {
    double low_s = 0, high_s = VS_DWELL_LIMIT_S;
    while (high_s - low_s > PURGE_TOLERANCE_S) {
        double middle_s = 0.5 * (low_s + high_s);
        if (peak_after_purge_g(f, middle_s) <= at_most_g) {
            high_s = middle_s;
        } else {
            low_s = middle_s;
        }
    }
    return high_s;
}

static vs_status purge(const fill *f, vs_dwell_shot *shot, double purge_s) {
    vs_dwell_planner *p = f->planner;
    vs_status status = vs_dwell_book(p, VS_DWELL_PURGE, shot->shot, purge_s);
    shot->purge_s = purge_s;
    shot->wait_s += purge_s;
    return status == VS_OK ? vs_dwell_pass(p, p->purged, 0, purge_s) : status;
}

/* Lets a room that is too thick thin out to a mass and stay there. */
static vs_status thin_out(const fill *f, vs_dwell_shot *shot, double at_most_g) {
    vs_dwell_planner *p = f->planner;
    double wait_s = fall_s(f, at_most_g);
    if (p->can_purge && !(wait_s <= PURGE_SAVES_S)) {
        double purge_s = purge_time_s(f, at_most_g);
        if (!(wait_s - purge_s <= PURGE_SAVES_S)) {
            vs_status status = purge(f, shot, purge_s);
            if (status != VS_OK) {
                return status;
            }
            wait_s = fall_s(f, at_most_g);
        }
    }
    if (isnan(wait_s)) {
        shot->fill_trouble = VS_DWELL_SLOW_FALL;
        wait_s = fmax(VS_DWELL_LIMIT_S - shot->wait_s, 0);
    }
    return wait(p, shot, wait_s);
}

/* Waits until a room that is too thin, with enough haze still mixing in, is within the band. */
static vs_status wait_for_rise(const fill *f, vs_dwell_shot *shot) {
    vs_dwell_planner *p = f->planner;
    double enough_g = (1 - VS_DWELL_START_WITHIN) * f->aim_g;
    vs_rooms_trace trace = trace_now(f, p->closed);
    double wait_s = vs_rooms_rise_s(&trace, 0, enough_g, PEAK_HORIZON_S);
    if (isnan(wait_s)) {
        shot->fill_trouble = VS_DWELL_SLOW_MIXING;
        vs_rooms_peak_g(&trace, PEAK_HORIZON_S, &wait_s);
    }
    return wait(p, shot, wait_s);
}

vs_status vs_dwell_fill(vs_dwell_planner *p, vs_dwell_shot *shot) {
    double target = shot->target_extinction_per_m;
    fill f = {p, shot->room, vs_dwell_mass_g(p, shot->room, target)};
    vs_dwell_set_openings(p, shot->shot);
    if (!(target > 0)) {
        return thin_out(&f, shot, vs_dwell_mass_g(p, f.room, p->out->clear_extinction_per_m));
    }
    vs_status status = VS_OK;
    if (peak_g(&f) < (1 - VS_DWELL_START_WITHIN) * f.aim_g) {
        status = run_hazer(&f, shot);
    }
    double most_allowed_g = (1 + VS_DWELL_START_WITHIN) * f.aim_g;
    if (status == VS_OK && peak_g(&f) > most_allowed_g) {
        status = thin_out(&f, shot, most_allowed_g);
    }
    if (status == VS_OK && p->state[f.room] < (1 - VS_DWELL_START_WITHIN) * f.aim_g) {
        status = wait_for_rise(&f, shot);
    }
    if (status == VS_OK && shot->fill_trouble == VS_DWELL_FINE &&
        shot->run_s + shot->wait_s > VS_DWELL_LIMIT_S) {
        shot->fill_trouble = VS_DWELL_SLOW_MIXING;
    }
    return status;
}
