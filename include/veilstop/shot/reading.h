/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Readings of a black-and-white card on the set: how thick the haze is, how fast the room loses it,
 * the hazer's actual output, when to top up.
 * Sources: the veil cancels in the difference of two patches at one distance (Koschmieder 1924);
 * uncertainties by the propagation law of JCGM 100:2008 (GUM); well-mixed decay as in ASTM E741. */
#ifndef VEILSTOP_SHOT_READING_H
#define VEILSTOP_SHOT_READING_H

#include <stdbool.h>

#include "veilstop/optics/haze.h"
#include "veilstop/shot/dwell.h"
#include "veilstop/shot/predict.h"
#include "veilstop/shot/scene.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_READING_GOAL     0.20  /* [1] the uncertainty for which a card's distance is chosen */
#define VS_READING_NINETIES 1.645 /* [1] standard deviations of a 90 % interval: normal errors */

/* [1] above this uncertainty the only advice is to read again */
#define VS_READING_PLENTY 0.50
#define VS_READING_SIGMAS 4.0  /* [1] contrast raised by more deviations is not a valid reading */
#define VS_READING_LEAST  1e-9 /* [cd/m2, or 1 after a curve] least light of a white patch */
#define VS_READING_MOST   1e10 /* and the most */
/* [1] the scene's output and losses are right within this factor nine times in ten: our
 * assumption */
#define VS_READING_FACTOR     2.0
#define VS_READING_PRIOR_SD   0.4214 /* [1] ln VS_READING_FACTOR/VS_READING_NINETIES */
#define VS_READING_TOGETHER_S 30.0   /* [s] readings of a room this close are pooled; our choice */

/** The result of one reading. */
typedef struct {
    double kept; /* q [1]: (white - black) with haze over the same without; over 1 only by noise */
    double log_kept; /* ln q */
    double path_m;   /* over which it was lost: card to camera and lamp to card. If a lamp lights
                      * the card, the slope -d ln q / d extinction */
    double extinction_per_m;               /* 0 if q is 1 or over */
    double sd_per_m;                       /* one standard deviation */
    double clear_variance, hazed_variance; /* of ln q, by patch pair */
    /* the shortest distance of the card that reaches VS_READING_GOAL; NaN: none does */
    double goal_distance_m;
    double best_distance_m, best_share; /* the best distance, and sd over extinction there */
} vs_reading;

/** Evaluates one reading.
 *  given      white brighter than black in both pairs (percentages: through the camera's curve),
 *             the whites from VS_READING_LEAST to VS_READING_MOST
 *  camera     for percentages; may be NULL if given->percent is false
 *  longest_m  the card can be no further away (over 0; INFINITY: anywhere)
 *  out        NaN on error
 *  Errors: VS_ERR_DOMAIN (white not brighter than black, a figure out of its range, a percentage
 *  for which the curve has no light, distance or uncertainty not over 0), VS_ERR_UNREACHABLE if
 *  haze raised contrast by over VS_READING_SIGMAS deviations. If raised by less, it is a reading of
 *  no haze.
 *  Method: kept = exp(-k (distance + lit_from)). `uncertainty_stops` is one standard deviation of
 *  each figure, independent: var ln q = (u ln 2)^2 sum (w^2 + b^2)/(w - b)^2. For the distances:
 *  the white and black that the same haze, with its veil as read, would show there.
 *  Left out: light scattered towards the card (vs_reading_by_lamp), colour of the haze.
 *  Checked: tests/unit/test_reading.c */
VS_WARN_UNUSED vs_status vs_reading_of(const vs_scene_reading *given, const vs_camera *camera,
                                       double longest_m, vs_reading *out);

/** How far from the camera a card can be in a room [m]: the room's longer side. */
double vs_reading_longest_m(const vs_scene_room *room);

/** The same for a card lit by a lamp of the scene, `lit_by`, whose light is dimmed on its way but
 *  increased by what haze scatters towards the card. The card is on the camera's axis at the
 *  reading's distance and faces the camera; the haze is assumed equal in all rooms.
 *  given  with a camera and lit_by
 *  Errors: those of vs_reading_of and of predict; VS_ERR_INPUT if the camera does not see the card
 *  there or the lamp does not reach it. */
VS_WARN_UNUSED vs_status vs_reading_by_lamp(const vs_scene *scene, const vs_scene_reading *given,
                                            vs_reading *out);

/** A reading as a point of a day. */
typedef struct {
    double at_s;
    size_t room;
    double log_kept; /* ln q, as read: over 0 by noise if there is hardly any haze */
    double path_m;
    double clear_variance, hazed_variance; /* of ln q */
    size_t clear; /* readings that share a clear reading of the card have the same number */
} vs_reading_point;

/** Readings of one room at one time, pooled with weights by their variances. */
typedef struct {
    size_t room, count;
    double at_s; /* of the first reading */
    double extinction_per_m, sd_per_m;
} vs_pooled_reading;

/** How a set of readings is interpreted. */
typedef enum {
    VS_READ_ALONE, /* too few readings to say anything over time */
    VS_READ_DECAY, /* the hazer was off from the first reading on */
    VS_READ_PLAN   /* the day's plan was carried out */
} vs_read_as;

typedef struct {
    size_t count;                           /* readings in this room */
    double loss_per_s, loss_sd_per_s;       /* fitted, all causes together; NaN: not fitted */
    double loss_low_per_s, loss_high_per_s; /* 90 %, over 0 */
    double planned_loss_per_s;              /* as in the scene */
    /* the part that no key of the room can lower: settling, evaporation, outside openings */
    double floor_loss_per_s;
    double last_s, last_per_m; /* extinction at the last reading, fitted if there is a fit */
    double last_sd_per_m;
    double share; /* [1] uncertainty of a density from the readings alone, all together */
} vs_room_readings;

/** What to do next. */
typedef struct {
    size_t shot; /* whose density is held; VS_NONE: none known */
    size_t room;
    double target_per_m;
    double at_s;  /* time of day; NaN: not within a day */
    double run_s; /* at full output; INFINITY: out of its reach; NaN: no hazer in the room */
    double share; /* [1] uncertainty of its first density; over VS_READING_PLENTY at_s and run_s are
                   * NaN */
} vs_top_up;

/** All readings of a scene. Owns its arrays. */
typedef struct {
    vs_reading *reading; /* as in the scene */
    size_t count;
    vs_room_readings *room; /* as the scene's rooms */
    size_t room_count;
    double *planned_per_m; /* one per reading: extinction by the plan; NaN: no plan */
    vs_read_as as;
    bool may_be_decay;                    /* interpreted as the plan, though a decay fits better */
    bool planned;                         /* whether there is a plan to compare with */
    double chi_square;                    /* of the chosen fit */
    double output_ratio, output_ratio_sd; /* the hazer's output over the plan's; NaN: unknown */
    double output_low, output_high;       /* 90 % */
    vs_pooled_reading *pool;              /* in order of time */
    size_t pool_count;
    vs_top_up top_up;
    size_t culprit; /* the reading that caused an error; VS_NONE: none of them */
} vs_readings;

/** Options. */
typedef struct {
    size_t shot;   /* whose density to top up to; VS_NONE: the current or next one */
    vs_read_as as; /* VS_READ_ALONE: as the readings suggest */
} vs_reading_ask;

/** Evaluates all readings of a scene.
 *  haze  of the scene's fluid
 *  out  free on VS_OK only; culprit is set on an error
 *  Method: each reading alone, then those at one time pooled; then two models are fitted to ln q by
 *  least squares: the plan (shot/dwell.h) with another hazer output and other losses, and a decay
 *  of all rooms with the hazer off from the first reading on, starting from fitted densities. Prior
 *  knowledge: output and losses are over 0 and right within VS_READING_FACTOR nine times in ten
 *  (normal priors of their logarithms). If runs or bursts of the plan lie between the first and the
 *  last reading, the plan was carried out, unless a decay is far likelier (by Akaike's criterion,
 *  Akaike 1974, by over e^3 to 1); if none do, the hazer was off. The top-up is for the shot's
 *  room: when, from the last reading, the haze will have fallen to 10 % under the target, and how
 *  long the hazer must run to bring it back.
 *  Errors: those of vs_reading_of and vs_reading_by_lamp, VS_ERR_MEMORY, VS_ERR_CONVERGENCE.
 *  Checked: tests/unit/test_readings.c */
VS_WARN_UNUSED vs_status vs_readings_init(const vs_scene *scene, const vs_haze *haze,
                                          vs_reading_ask ask, vs_readings *out);
void vs_readings_free(vs_readings *readings);

/** The air changes and deposition [1/s] that give a room a loss: adjusts air changes first,
 *  deposition only if air changes of 0 still lose too fast.
 *  exact  out: false if even both at 0 lose faster; may be NULL */
void vs_room_loss_to_rates(const vs_scene_room *room, double floor_loss_per_s, double loss_per_s,
                           double *air_change_per_s, double *deposition_per_s, bool *exact);

#ifdef __cplusplus
}
#endif
#endif
