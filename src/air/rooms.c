/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The linear system of linked rooms: its matrix exponential, by the modes of the matrix. Layout of
 * a state of n rooms: m[n], u, time integral of m [n] | vented, deposited, settled, evaporated,
 * injected. */
#include "veilstop/air/rooms.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "air/decays.h"
#include "veilstop/base/eigen.h"

#define GRAVITY_M_PER_S2 9.81   /* ASHRAE Fundamentals 1997, ch. 25 */
#define DOORWAY_CD       0.40   /* [1] ASHRAE Fundamentals 1997, ch. 25 */
#define HOLE_FLOW        0.055  /* [1] Epstein 1988, thin floors, as quoted by others */
#define DOORWAY_CD_PER_K 0.0045 /* [1/K] ASHRAE Fundamentals 1997, ch. 25 */

enum { SUM_VENTED, SUM_DEPOSITED, SUM_SETTLED, SUM_EVAPORATED, SUM_INJECTED };

static size_t at_exposure(size_t n, size_t room) {
    return n + 1 + room;
}
static size_t at_sums(size_t n) {
    return 2 * n + 1;
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
        if (rooms->hazer_share && !in_range(rooms->hazer_share[i])) {
            return false;
        }
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

/* The matrix of y = m/sqrt(V), n x n: A_ii = -loss_i - sum over k of Q_ik/V_i, A_ik = Q_ik/sqrt(V_i
 * V_k), symmetric because Q is. False if a room's flow exceeds VS_ROOMS_RATE_MAX. */
static bool fill_rates(const vs_rooms *rooms, const vs_rooms_loss *loss, double *rate) {
    size_t n = rooms->count;
    for (size_t i = 0; i < n; i++) {
        double gone = loss[i].total;
        for (size_t k = 0; k < n; k++) {
            if (k != i) {
                double each_way = rooms->exchange_m3_per_s[i * n + k];
                gone += each_way / rooms->volume_m3[i];
                rate[i * n + k] = each_way / sqrt(rooms->volume_m3[i] * rooms->volume_m3[k]);
            }
        }
        if (!(gone <= VS_ROOMS_RATE_MAX)) {
            return false;
        }
        rate[i * n + i] = -gone;
    }
    return true;
}

/* work  n x n, twice */
static vs_status find_modes(vs_rooms_model *model, const vs_rooms *rooms, double *work) {
    size_t n = model->count;
    double *rate = work, *vector = work + n * n;
    if (!fill_rates(rooms, model->loss, rate)) {
        return VS_ERR_DOMAIN;
    }
    vs_status status = vs_eigen_symmetric(rate, n, model->rate_per_s, vector);
    for (size_t j = 0; j < n; j++) {
        model->rate_per_s[j] = fmax(0, -model->rate_per_s[j]); /* no mode can grow */
        for (size_t i = 0; i < n; i++) {
            double root = sqrt(rooms->volume_m3[i]);
            model->to_mode[j * n + i] = vector[i * n + j] / root;
            model->from_mode[i * n + j] = vector[i * n + j] * root;
        }
    }
    return status;
}

/* What a gram of new haze, divided among the rooms, adds to each mode. */
static void set_gains(vs_rooms_model *model, const vs_rooms *rooms) {
    size_t n = rooms->count;
    for (size_t j = 0; j < n; j++) {
        const double *row = model->to_mode + j * n;
        model->gain[j] = 0;
        for (size_t i = 0; i < n && model->hazer != VS_ROOMS_NO_HAZER; i++) {
            double share = rooms->hazer_share ? rooms->hazer_share[i] : i == model->hazer;
            model->gain[j] += share > 0 ? share * row[i] : 0;
        }
    }
}

vs_status vs_rooms_model_init(vs_rooms_model *model, const vs_rooms *rooms) {
    memset(model, 0, sizeof *model);
    if (!rooms_are_valid(rooms)) {
        return VS_ERR_DOMAIN;
    }
    size_t n = rooms->count;
    double *work = calloc(2 * n * n, sizeof *work);
    model->loss = calloc(n, sizeof *model->loss);
    model->rate_per_s = calloc(2 * n + 2 * n * n, sizeof *model->rate_per_s);
    vs_status status = VS_ERR_MEMORY;
    if (!work || !model->loss || !model->rate_per_s) {
        goto cleanup;
    }
    model->to_mode = model->rate_per_s + n;
    model->from_mode = model->to_mode + n * n;
    model->gain = model->from_mode + n * n;
    model->count = n;
    model->hazer = rooms->hazer;
    model->mixing_per_s = rooms->mixing_s * VS_ROOMS_RATE_MAX >= 1 ? 1 / rooms->mixing_s : 0;
    for (size_t i = 0; i < n; i++) {
        model->loss[i] = vs_rooms_loss_of(rooms, i);
    }
    status = find_modes(model, rooms, work);
    if (status == VS_OK) {
        set_gains(model, rooms);
    }
cleanup:
    free(work);
    if (status != VS_OK) {
        vs_rooms_model_free(model);
    }
    return status;
}

void vs_rooms_model_free(vs_rooms_model *model) {
    free(model->loss);
    free(model->rate_per_s);
    memset(model, 0, sizeof *model);
}

/* A mode at the end of a step: its amount, and its integral over the step. */
typedef struct {
    double amount, integral;
} mode_end;

/* dy/dt = -rate y + gain mu u, du/dt = output - mu u (without mixing time: gain x output), in
 * closed form: convolutions of the decays (decays.h).
 * gain  what a gram of new haze adds to the mode */
static mode_end advance_mode(const vs_rooms_model *model, double rate, double gain, double amount,
                             double unmixed_g, double output_g_per_s, double t) {
    double mu = model->mixing_per_s, steady = decay_two(rate, 0, t);
    mode_end end = {amount * exp(-rate * t), amount * steady};
    if (gain == 0) {
        return end;
    }
    double all = decay_two_integral(rate, 0, t), out = output_g_per_s;
    if (mu > 0) {
        double part = decay_two(rate, mu, t), part_all = decay_two_integral(rate, mu, t);
        end.amount += gain * (mu * unmixed_g * part + out * (steady - part));
        end.integral += gain * (mu * unmixed_g * part_all + out * (all - part_all));
    } else {
        end.amount += gain * out * steady;
        end.integral += gain * out * all;
    }
    return end;
}

/* Mass lost by each cause: its rate times the time integral of the room's mass. */
static void book_losses(const vs_rooms_model *model, size_t room, double exposure_g_s,
                        double *sum) {
    const vs_rooms_loss *loss = &model->loss[room];
    sum[SUM_VENTED] += loss->air * exposure_g_s;
    sum[SUM_DEPOSITED] += loss->deposition * exposure_g_s;
    sum[SUM_SETTLED] += loss->settling * exposure_g_s;
    sum[SUM_EVAPORATED] += loss->evaporation * exposure_g_s;
}

static void blank(size_t count, double *state) {
    for (size_t i = 0; i < vs_rooms_state_size(count); i++) {
        state[i] = NAN;
    }
}

void vs_rooms_advance(const vs_rooms_model *model, double output_g_per_s, double duration_s,
                      double *state) {
    size_t n = model->count;
    double *sum = state + at_sums(n), *unmixed = state + n;
    bool hazes = model->hazer != VS_ROOMS_NO_HAZER;
    if (!in_range(output_g_per_s) || !in_range(duration_s) || (output_g_per_s > 0 && !hazes)) {
        blank(n, state);
        return;
    }
    mode_end mode[VS_ROOMS_MAX];
    for (size_t j = 0; j < n; j++) {
        const double *row = model->to_mode + j * n;
        double amount = 0;
        for (size_t i = 0; i < n; i++) {
            amount += row[i] * state[i];
        }
        mode[j] = advance_mode(model, model->rate_per_s[j], model->gain[j], amount, *unmixed,
                               output_g_per_s, duration_s);
    }
    for (size_t i = 0; i < n; i++) {
        const double *row = model->from_mode + i * n;
        double mass = 0, integral = 0;
        for (size_t j = 0; j < n; j++) {
            mass += row[j] * mode[j].amount;
            integral += row[j] * mode[j].integral;
        }
        state[i] = mass < 0 ? 0 : mass; /* rounding, where no haze has arrived yet */
        state[at_exposure(n, i)] += integral;
        book_losses(model, i, integral, sum);
    }
    if (model->mixing_per_s > 0) {
        double mu = model->mixing_per_s;
        *unmixed = *unmixed * exp(-mu * duration_s) + output_g_per_s * decay_two(mu, 0, duration_s);
    }
    sum[SUM_INJECTED] += output_g_per_s * duration_s;
}

double vs_rooms_exposure_g_s(const vs_rooms_model *model, const double *state, size_t room) {
    return state[at_exposure(model->count, room)];
}

vs_rooms_budget vs_rooms_budget_of(const vs_rooms_model *model, const double *state) {
    size_t n = model->count;
    const double *sum = state + at_sums(n);
    vs_rooms_budget budget = {.injected = sum[SUM_INJECTED],
                              .airborne = state[n],
                              .vented = sum[SUM_VENTED],
                              .deposited = sum[SUM_DEPOSITED],
                              .settled = sum[SUM_SETTLED],
                              .evaporated = sum[SUM_EVAPORATED]};
    for (size_t i = 0; i < n; i++) {
        budget.airborne += state[i];
    }
    return budget;
}

double vs_opening_exchange_m3_per_s(double width_m, double height_m, double difference_k,
                                    double air_k) {
    if (!in_range(width_m) || !in_range(height_m) || !in_range(difference_k) || !(air_k > 0)) {
        return NAN;
    }
    /* Q = Cd/3 W H^1.5 sqrt(g dT/T), Cd = 0.40 + 0.0045 dT (ASHRAE Fundamentals 1997, ch. 25) */
    double discharge = DOORWAY_CD + DOORWAY_CD_PER_K * difference_k;
    return discharge / 3 * width_m * height_m * sqrt(height_m) *
           sqrt(GRAVITY_M_PER_S2 * difference_k / air_k);
}

double vs_hole_exchange_m3_per_s(double length_m, double width_m, double difference_k,
                                 double air_k) {
    if (!in_range(length_m) || !in_range(width_m) || !in_range(difference_k) || !(air_k > 0)) {
        return NAN;
    }
    double around_m = length_m + width_m;
    double d_m = around_m > 0 ? 2 * length_m * width_m / around_m : 0;
    return HOLE_FLOW * d_m * d_m * sqrt(GRAVITY_M_PER_S2 * d_m * difference_k / air_k);
}
