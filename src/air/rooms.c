/* The linear system of linked rooms, and what is asked of it. A state's parts, n rooms:
 * m[n], u, integral of m over time [n], output | vented, deposited, settled, evaporated, injected.
 * Those before the bar flow by the matrix; the sums after it are booked at each advance. */
#include "veilstop/air/rooms.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#define GRAVITY_M_PER_S2 9.81   /* ASHRAE Fundamentals 1997, ch. 25 */
#define DOORWAY_CD       0.40   /* [1] ASHRAE Fundamentals 1997, ch. 25 */
#define DOORWAY_CD_PER_K 0.0045 /* [1/K] ASHRAE Fundamentals 1997, ch. 25 */
#define SCAN_FIRST_S     0.5    /* [s] first step of a scan: no event is shorter */
#define SCAN_GROWTH      1.12   /* [1] each step over the one before: our choice */
#define BISECTION_STEPS  45     /* halvings: the bracket shrinks to rounding */

enum { SUM_VENTED, SUM_DEPOSITED, SUM_SETTLED, SUM_EVAPORATED, SUM_INJECTED };

static size_t at_unmixed(size_t n) {
    return n;
}
static size_t at_exposure(size_t n, size_t room) {
    return n + 1 + room;
}
static size_t at_output(size_t n) {
    return 2 * n + 1;
}
static size_t flow_size(size_t n) {
    return 2 * n + 2;
}

vs_rooms_loss vs_rooms_loss_of(const vs_rooms *rooms, size_t room) {
    vs_rooms_loss loss = {NAN, NAN, NAN, NAN, NAN};
    if (room >= rooms->count) {
        return loss;
    }
    double volume_m3 = rooms->volume_m3[room];
    loss.air = rooms->air_change_per_s[room] + rooms->outside_m3_per_s[room] / volume_m3;
    loss.deposition = rooms->deposition_per_s[room];
    loss.settling = rooms->settling_m_per_s * rooms->floor_m2[room] / volume_m3;
    loss.evaporation = rooms->evaporation_per_s;
    loss.total = loss.air + loss.deposition + loss.settling + loss.evaporation;
    return loss;
}

static bool in_range(double value) {
    return value >= 0 && isfinite(value);
}

static bool rooms_are_valid(const vs_rooms *rooms) {
    size_t n = rooms->count;
    if (n < 1 || n > VS_ROOMS_MAX || (rooms->hazer >= n && rooms->hazer != VS_ROOMS_NO_HAZER) ||
        !in_range(rooms->settling_m_per_s) || !in_range(rooms->evaporation_per_s) ||
        !in_range(rooms->mixing_s)) {
        return false;
    }
    for (size_t i = 0; i < n; i++) {
        if (!(rooms->volume_m3[i] > 0) || !isfinite(rooms->volume_m3[i]) ||
            !in_range(rooms->floor_m2[i]) || !in_range(rooms->air_change_per_s[i]) ||
            !in_range(rooms->deposition_per_s[i]) || !in_range(rooms->outside_m3_per_s[i])) {
            return false;
        }
        for (size_t k = 0; k < n; k++) {
            double each_way = rooms->exchange_m3_per_s[i * n + k];
            if (!in_range(each_way) || each_way != rooms->exchange_m3_per_s[k * n + i]) {
                return false;
            }
        }
    }
    return true;
}

/* The matrix of the system, flow_size x flow_size, from zeros. */
static void fill_rates(const vs_rooms *rooms, const vs_rooms_loss *loss, double *rate) {
    size_t n = rooms->count, size = flow_size(n);
    for (size_t i = 0; i < n; i++) {
        rate[i * size + i] -= loss[i].total;
        for (size_t k = 0; k < n; k++) {
            if (k != i) {
                double each_way = rooms->exchange_m3_per_s[i * n + k];
                rate[i * size + i] -= each_way / rooms->volume_m3[i];
                rate[i * size + k] += each_way / rooms->volume_m3[k];
            }
        }
        rate[at_exposure(n, i) * size + i] = 1;
    }
    if (rooms->hazer == VS_ROOMS_NO_HAZER) {
        return;
    }
    if (rooms->mixing_s > 0) {
        rate[at_unmixed(n) * size + at_output(n)] = 1;
        rate[at_unmixed(n) * size + at_unmixed(n)] = -1 / rooms->mixing_s;
        rate[rooms->hazer * size + at_unmixed(n)] = 1 / rooms->mixing_s;
    } else {
        rate[rooms->hazer * size + at_output(n)] = 1;
    }
}

vs_status vs_rooms_model_init(vs_rooms_model *model, const vs_rooms *rooms) {
    memset(model, 0, sizeof *model);
    if (!rooms_are_valid(rooms)) {
        return VS_ERR_DOMAIN;
    }
    size_t size = flow_size(rooms->count);
    double *rate = calloc(size * size, sizeof *rate);
    model->loss = calloc(rooms->count, sizeof *model->loss);
    vs_status status = VS_ERR_MEMORY;
    if (!rate || !model->loss) {
        goto cleanup;
    }
    model->count = rooms->count;
    model->hazer = rooms->hazer;
    for (size_t i = 0; i < rooms->count; i++) {
        model->loss[i] = vs_rooms_loss_of(rooms, i);
    }
    fill_rates(rooms, model->loss, rate);
    status = vs_flow_init(&model->flow, rate, size);
cleanup:
    free(rate);
    if (status != VS_OK) {
        vs_rooms_model_free(model);
    }
    return status;
}

void vs_rooms_model_free(vs_rooms_model *model) {
    vs_flow_free(&model->flow);
    free(model->loss);
    memset(model, 0, sizeof *model);
}

void vs_rooms_advance(vs_rooms_model *model, double output_g_per_s, double duration_s,
                      double *state) {
    size_t n = model->count;
    double *sum = state + flow_size(n);
    bool good = in_range(output_g_per_s) && in_range(duration_s) &&
                (output_g_per_s == 0 || model->hazer != VS_ROOMS_NO_HAZER);
    state[at_output(n)] = good ? output_g_per_s : (double)NAN;
    for (size_t i = 0; i < n; i++) {
        double before = state[at_exposure(n, i)];
        sum[SUM_VENTED] -= model->loss[i].air * before;
        sum[SUM_DEPOSITED] -= model->loss[i].deposition * before;
        sum[SUM_SETTLED] -= model->loss[i].settling * before;
        sum[SUM_EVAPORATED] -= model->loss[i].evaporation * before;
    }
    vs_flow_advance(&model->flow, duration_s, state);
    for (size_t i = 0; i < n; i++) {
        double after = state[at_exposure(n, i)];
        sum[SUM_VENTED] += model->loss[i].air * after;
        sum[SUM_DEPOSITED] += model->loss[i].deposition * after;
        sum[SUM_SETTLED] += model->loss[i].settling * after;
        sum[SUM_EVAPORATED] += model->loss[i].evaporation * after;
    }
    sum[SUM_INJECTED] += output_g_per_s * duration_s;
    state[at_output(n)] = 0;
}

double vs_rooms_exposure_g_s(const vs_rooms_model *model, const double *state, size_t room) {
    return state[at_exposure(model->count, room)];
}

vs_rooms_budget vs_rooms_budget_of(const vs_rooms_model *model, const double *state) {
    size_t n = model->count;
    const double *sum = state + flow_size(n);
    vs_rooms_budget budget = {.injected = sum[SUM_INJECTED],
                              .airborne = state[at_unmixed(n)],
                              .vented = sum[SUM_VENTED],
                              .deposited = sum[SUM_DEPOSITED],
                              .settled = sum[SUM_SETTLED],
                              .evaporated = sum[SUM_EVAPORATED]};
    for (size_t i = 0; i < n; i++) {
        budget.airborne += state[i];
    }
    return budget;
}

static void copy_state(const vs_rooms_model *model, const double *from, double *to) {
    memcpy(to, from, vs_rooms_state_size(model->count) * sizeof *to);
}

/* Where the value `what` of a state changes sign within `length` seconds after it. */
typedef double (*probe)(const vs_rooms_model *model, const double *state, size_t room,
                        double level);

static double slope_probe(const vs_rooms_model *model, const double *state, size_t room,
                          double level) {
    (void)level;
    return vs_flow_slope(&model->flow, room, state);
}

static double mass_probe(const vs_rooms_model *model, const double *state, size_t room,
                         double level) {
    (void)model;
    return state[room] - level;
}

static double bisect(vs_rooms_model *model, const double *state, size_t room, double level,
                     probe what, double length_s, double *work) {
    double low = 0, high = length_s;
    bool positive_first = what(model, state, room, level) > 0;
    for (int i = 0; i < BISECTION_STEPS; i++) {
        double middle = 0.5 * (low + high);
        copy_state(model, state, work);
        vs_rooms_advance(model, 0, middle, work);
        if ((what(model, work, room, level) > 0) == positive_first) {
            low = middle;
        } else {
            high = middle;
        }
    }
    return high;
}

double vs_rooms_peak_g(vs_rooms_model *model, const double *state, size_t room, double horizon_s,
                       double *after_s, double *scratch) {
    double *now = scratch, *work = scratch + vs_rooms_state_size(model->count);
    double best_g = state[room], best_s = 0;
    copy_state(model, state, now);
    double step = SCAN_FIRST_S;
    for (double time = 0; time < horizon_s; step *= SCAN_GROWTH) {
        step = fmin(step, horizon_s - time);
        bool rising = slope_probe(model, now, room, 0) > 0;
        copy_state(model, now, work);
        vs_rooms_advance(model, 0, step, work);
        /* A top lies inside the step, or at its end where the scan stops. */
        double inside = step;
        if (rising && !(slope_probe(model, work, room, 0) > 0)) {
            inside = bisect(model, now, room, 0, slope_probe, step, work);
            copy_state(model, now, work);
            vs_rooms_advance(model, 0, inside, work);
        }
        if (work[room] > best_g) {
            best_g = work[room];
            best_s = time + inside;
        }
        vs_rooms_advance(model, 0, step, now);
        time += step;
    }
    if (after_s) {
        *after_s = best_s;
    }
    return best_g;
}

/* The last (or first) crossing of a mass within the horizon, from above (or from below). */
static double crossing_s(vs_rooms_model *model, const double *state, size_t room, double mass_g,
                         double horizon_s, bool falling, double *scratch) {
    double *now = scratch, *work = scratch + vs_rooms_state_size(model->count);
    double found_s = state[room] <= mass_g ? 0 : (double)NAN;
    if (!falling) {
        found_s = state[room] >= mass_g ? 0 : (double)NAN;
    }
    copy_state(model, state, now);
    double step = SCAN_FIRST_S;
    for (double time = 0; time < horizon_s && (falling || isnan(found_s)); step *= SCAN_GROWTH) {
        step = fmin(step, horizon_s - time);
        copy_state(model, now, work);
        vs_rooms_advance(model, 0, step, work);
        bool above = now[room] > mass_g, above_after = work[room] > mass_g;
        if (falling && !above && above_after) {
            found_s = NAN; /* it comes up again */
        } else if (above != above_after) {
            found_s = time + bisect(model, now, room, mass_g, mass_probe, step, work);
        }
        vs_rooms_advance(model, 0, step, now);
        time += step;
    }
    return found_s;
}

double vs_rooms_fall_s(vs_rooms_model *model, const double *state, size_t room, double mass_g,
                       double horizon_s, double *scratch) {
    return crossing_s(model, state, room, mass_g, horizon_s, true, scratch);
}

double vs_rooms_rise_s(vs_rooms_model *model, const double *state, size_t room, double mass_g,
                       double horizon_s, double *scratch) {
    return crossing_s(model, state, room, mass_g, horizon_s, false, scratch);
}

double vs_doorway_m3_per_s(double width_m, double height_m, double difference_k, double air_k) {
    if (!in_range(width_m) || !in_range(height_m) || !in_range(difference_k) || !(air_k > 0)) {
        return NAN;
    }
    double discharge = DOORWAY_CD + DOORWAY_CD_PER_K * difference_k;
    return discharge / 3 * width_m * height_m * sqrt(height_m) *
           sqrt(GRAVITY_M_PER_S2 * difference_k / air_k);
}
