/* Readings of a black-and-white card on the set: how thick the haze is, how fast the room loses it,
 * what the hazer really gives, when to top up.
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

#define VS_READING_GOAL     0.20  /* [1] the uncertainty a card's distance is chosen for */
#define VS_READING_NINETIES 1.645 /* [1] standard deviations of a 90 % interval: normal errors */

/** What one reading says. */
typedef struct {
    double kept;   /* q [1]: (white - black) with haze over the same without */
    double path_m; /* over which that was lost: card to camera and lamp to card. With refill by
                      scattered light, the slope -d ln q / d extinction */
    double extinction_per_m;
    double sd_per_m;                       /* one standard deviation */
    double clear_variance, hazed_variance; /* of ln q, by patch pair */
    double goal_distance_m; /* the least distance of the card for VS_READING_GOAL; NaN: none does */
    double best_distance_m, best_share; /* the best distance, and sd over extinction there */
} vs_reading;

/** Works out one reading.
 *  given   white over black in both pairs (percentages: through the camera's curve)
 *  camera  for percentages; may be NULL where given->percent is false
 *  out     NaN on error
 *  Errors: VS_ERR_DOMAIN (white not over black, a percentage that the curve has no light for,
 *  distance or uncertainty not over 0), VS_ERR_UNREACHABLE where haze raised contrast.
 *  Method: kept = exp(-k (distance + lit_from)). `uncertainty_stops` is one standard deviation of
 *  each figure, independent: var ln q = (u ln 2)^2 sum (w^2 + b^2)/(w - b)^2. The distances: the
 *  white and black that the same haze would show there, its veil as read.
 *  Left out: refill by scattered light (vs_reading_by_lamp), colour of the haze.
 *  Checked: tests/unit/test_reading.c */
VS_WARN_UNUSED vs_status vs_reading_of(const vs_scene_reading *given, const vs_camera *camera,
                                       vs_reading *out);

/** The same where a lamp of the scene lights the card, `lit_by`: its light is dimmed on the way and
 *  refilled by what haze scatters towards the card. The card stands on the camera's axis at the
 *  reading's distance and faces the camera; the haze is taken to be alike in all rooms.
 *  given  with a camera and lit_by
 *  Errors: those of vs_reading_of and of predict; VS_ERR_INPUT where the camera does not see the
 *  card there or the lamp does not reach it. */
VS_WARN_UNUSED vs_status vs_reading_by_lamp(const vs_scene *scene, const vs_scene_reading *given,
                                            vs_reading *out);

/** A reading as a point of a decay. */
typedef struct {
    double at_s;
    double log_kept; /* ln q */
    double path_m;
    double clear_variance, hazed_variance; /* of ln q */
    size_t clear; /* readings that share one look at the card without haze have one number here */
} vs_decay_point;

/** Haze that only goes away: k(t) = k0 exp(-loss t). */
typedef struct {
    double loss_per_s, loss_sd_per_s;
    double first_s, first_per_m, first_sd_per_m; /* fitted extinction at the first point */
    double first_loss_covariance;                /* of the two above [1/m 1/s] */
    double last_s, last_per_m, last_sd_per_m;    /* and at the last */
    double chi_square;
    size_t parameters; /* of the fit, for comparing models */
    size_t stretches;  /* 1, or more where haze was added in between */
} vs_decay;

/** Fits a room's loss rate through its readings.
 *  point  `count` of them in the order of time; at least one stretch must hold two points apart
 *         in time
 *  Method: least squares on ln q, weighted by its variances; readings that share a clear pair share
 *  its error. Where extinction rises by over three standard deviations from one point to the next
 *  haze was added, and a new stretch begins with the same loss.
 *  Errors: VS_ERR_DOMAIN, VS_ERR_MEMORY, VS_ERR_CONVERGENCE.
 *  Checked: tests/unit/test_reading_fit.c: its 90 % interval over 500 sets of meter errors */
VS_WARN_UNUSED vs_status vs_decay_fit(const vs_decay_point *point, size_t count, vs_decay *out);

/** How a set of readings was taken to have come about. */
typedef enum {
    VS_READ_ALONE, /* too few readings to tell anything over time */
    VS_READ_DECAY, /* the hazer was off from the first reading on */
    VS_READ_PLAN   /* the day's plan was played */
} vs_read_as;

typedef struct {
    size_t count;                     /* readings in this room */
    double loss_per_s, loss_sd_per_s; /* fitted, all ways together; NaN: not fitted */
    double planned_loss_per_s;        /* as the scene has it */
    double floor_loss_per_s;   /* of that, what no key of the room can lower: settling, evaporation,
                                  openings to outside */
    double last_s, last_per_m; /* extinction at the last reading, fitted where there is a fit */
} vs_room_readings;

/** What to do next. */
typedef struct {
    size_t shot; /* whose density is held; VS_NONE: none known */
    size_t room;
    double target_per_m;
    double at_s;  /* of the day; NaN: not within the horizon of a day */
    double run_s; /* full output; INFINITY: the hazer cannot reach it; NaN: no hazer in the room */
} vs_top_up;

/** All readings of a scene. Owns its arrays. */
typedef struct {
    vs_reading *reading; /* as the scene's */
    size_t count;
    vs_room_readings *room; /* as the scene's rooms */
    size_t room_count;
    double *planned_per_m; /* one a reading: extinction by the plan; NaN: no plan */
    vs_read_as as;
    bool planned;                         /* whether a plan could be made to hold them against */
    double chi_square;                    /* of the chosen fit */
    double output_ratio, output_ratio_sd; /* haze the hazer gave over the plan's; NaN: not told */
    vs_top_up top_up;
    size_t culprit; /* the reading that stands in the way, on error; VS_NONE: none of them */
} vs_readings;

/** What is asked beyond the readings themselves. */
typedef struct {
    size_t shot;   /* whose density to top up to; VS_NONE: the one that is on or comes next */
    vs_read_as as; /* VS_READ_ALONE: let the readings decide */
} vs_reading_ask;

/** Works out all readings of a scene.
 *  haze  of the scene's fluid
 *  out   to be freed; on error nothing needs to be, and culprit is set
 *  Method: each reading alone; then two stories are fitted, a decay in each room and the day's plan
 *  (shot/dwell.h) played with another hazer output and another loss, and the better one is kept:
 *  by Akaike's criterion (Akaike 1974), the decay where they are as good as each other and it does
 *  decay. The top-up is for the room of the shot: from the last reading, when the haze
 *  will have fallen to 10 % under the target, and how long the hazer must run to bring it back.
 *  Errors: those of vs_reading_of and vs_reading_by_lamp, VS_ERR_MEMORY, VS_ERR_CONVERGENCE.
 *  Checked: tests/unit/test_readings.c */
VS_WARN_UNUSED vs_status vs_readings_init(const vs_scene *scene, const vs_haze *haze,
                                          vs_reading_ask ask, vs_readings *out);
void vs_readings_free(vs_readings *readings);

/** Air changes and deposition [1/s] that give a room a loss: air changes first, the deposition only
 *  where air changes of 0 still lose too fast.
 *  exact  out: false where even both at 0 lose faster; may be NULL */
void vs_room_loss_to_rates(const vs_scene_room *room, double floor_loss_per_s, double loss_per_s,
                           double *air_change_per_s, double *deposition_per_s, bool *exact);

#ifdef __cplusplus
}
#endif
#endif
