/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Haze in linked rooms over time: a hazer, mixing, exchange between rooms and losses. Well-mixed
 * rooms are the model of ASTM E741 and of ventilation practice (ASHRAE Fundamentals, "Ventilation
 * and Infiltration"); plain numbers in and out, no scene. */
#ifndef VEILSTOP_AIR_ROOMS_H
#define VEILSTOP_AIR_ROOMS_H

#include <stddef.h>
#include <stdint.h>

#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_ROOMS_MAX      64       /* rooms of one model */
#define VS_ROOMS_NO_HAZER SIZE_MAX /* in place of the hazer's room */
#define VS_ROOMS_RATE_MAX 1e6      /* [1/s] of a room's volume, in total; keeps slow decays exact */

/** The rooms and what happens to haze in them. Borrowed arrays, one value per room, in the same
 *  order; all 0 or over except volumes, which are over 0. */
typedef struct {
    size_t count; /* 1 to VS_ROOMS_MAX */
    const double *volume_m3;
    const double *floor_m2;          /* the floor on which droplets settle */
    const double *air_change_per_s;  /* to outside, in room volumes */
    const double *deposition_per_s;  /* on walls and objects, settling not included */
    const double *exchange_m3_per_s; /* count x count, symmetric: air that passes each way */
    const double *outside_m3_per_s;  /* air exchanged with outside through openings */
    double settling_m_per_s;         /* mass-weighted, downwards */
    double evaporation_per_s;        /* ln 2 / half-life; 0: none */
    size_t hazer;                    /* its room, or VS_ROOMS_NO_HAZER */
    double mixing_s;           /* time constant in which new haze mixes in; under 1e-6 s: at once */
    const double *hazer_share; /* one per room: share of the output, 0 or over; NULL: all to it */
} vs_rooms;

/** Rates at which a room loses haze, by cause [1/s]. Exchange with other rooms is not a loss. */
typedef struct {
    double air; /* air changes and openings to outside */
    double deposition, settling, evaporation, total;
} vs_rooms_loss;

/** Losses of a room by its index; NaN throughout if there is no such room. */
vs_rooms_loss vs_rooms_loss_of(const vs_rooms *rooms, size_t room);

/** The rooms prepared for calculation. Owns memory; read-only once made, so threads may share
 *  it. */
typedef struct {
    size_t count, hazer;
    double mixing_per_s; /* 1/mixing_s, at most VS_ROOMS_RATE_MAX; 0: at once */
    vs_rooms_loss *loss; /* one per room; owned, as are those below */
    double *gain;        /* one per mode: what a gram of new haze adds to it */
    double *rate_per_s;  /* one per mode: its rate of decay, 0 or over */
    double *to_mode;     /* mode x room: the modes' amounts from the rooms' masses */
    double *from_mode;   /* room x mode: the rooms' masses from the modes' amounts */
} vs_rooms_model;

/** Errors: VS_ERR_DOMAIN for values outside the ranges or a room whose losses and flows exceed
 *  VS_ROOMS_RATE_MAX, VS_ERR_MEMORY, VS_ERR_CONVERGENCE.
 *  Method: for room i, mass m_i [g], and the haze u [g] that has left the hazer but has not mixed
 *    in: dm_i/dt = sum_k Q_ik (m_k/V_k - m_i/V_i) - loss_i m_i + share_i u/mixing
 *    du/dt   = output - u/mixing
 *  With m_i = sqrt(V_i) y_i the matrix of y is symmetric because Q is: its eigenvectors are modes
 *  that decay independently, and the response of each to the hazer has a closed form (decays.h). So
 *  any period of constant output is one exact step. Unmixed haze is airborne and suffers no loss
 *  until it has mixed in.
 *  Leaves out: layers and draughts inside a room, growth and coagulation of droplets, saturation of
 *  the air with vapour, air pressure (each opening passes as much in as out).
 *  Checked: tests/unit/test_rooms.c against closed forms for one and two rooms, an adaptive ODE
 *  solver, CDC and MMWR clearance tables, an ASTM E741 decay. */
VS_WARN_UNUSED vs_status vs_rooms_model_init(vs_rooms_model *model, const vs_rooms *rooms);
void vs_rooms_model_free(vs_rooms_model *model);

/** A state is an array of vs_rooms_state_size(count) values, all 0 for clear rooms. It may be
 *  copied and kept. The first `count` are the mixed masses [g], then the unmixed one; the rest is
 *  private to the model and read through the functions below. */
static inline size_t vs_rooms_state_size(size_t count) {
    return 2 * count + 6;
}

/** Advances a state by duration_s [s, 0 or over] with the hazer emitting output_g_per_s [0 or
 *  over]. Values outside the ranges make the state NaN. */
void vs_rooms_advance(const vs_rooms_model *model, double output_g_per_s, double duration_s,
                      double *state);

/** Time integral of the mixed mass of a room since the state was clear [g s]. */
double vs_rooms_exposure_g_s(const vs_rooms_model *model, const double *state, size_t room);

/** Where all the haze emitted so far has gone [g]. */
typedef struct {
    double injected;
    double airborne; /* mixed and unmixed, all rooms */
    double vented, deposited, settled, evaporated;
} vs_rooms_budget;

vs_rooms_budget vs_rooms_budget_of(const vs_rooms_model *model, const double *state);

/** Air that passes each way through an opening such as a doorway [m3/s].
 *  width_m, height_m  of the opening, 0 or over
 *  difference_k       between the two rooms' temperatures [K], 0 or over
 *  air_k              mean temperature [K], over 0
 *  Returns NaN outside the ranges.
 *  Method: Cd/3 W H^1.5 sqrt(g dT/T), Cd = 0.40 + 0.0045 dT, ASHRAE Fundamentals 1997 ch. 25.
 *  Leaves out: draughts, people walking through, openings that lie flat (they get 0). */
double vs_opening_exchange_m3_per_s(double width_m, double height_m, double difference_k,
                                    double air_k);

/** The same through a hole that lies flat, such as a stairwell, with the cooler air above.
 *  length_m, width_m  of the hole, 0 or over.  Returns NaN outside the ranges, as above.
 *  Method: 0.055 sqrt(g D^5 dT/T), D the hydraulic diameter 2 l w / (l + w): Epstein 1988, J. Heat
 *  Transfer 110, 885, for thin floors, as quoted by others.
 *  Leaves out: warmer air above, which hardly mixes; draughts, the stack effect. */
double vs_hole_exchange_m3_per_s(double length_m, double width_m, double difference_k,
                                 double air_k);

#ifdef __cplusplus
}
#endif
#endif
