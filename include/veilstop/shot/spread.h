/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The uncertainty of the answers, given that of the scene's figures: many samples of the uncertain
 * numbers through predict, choose and dwell, and which of the numbers matters most. */
#ifndef VEILSTOP_SHOT_SPREAD_H
#define VEILSTOP_SHOT_SPREAD_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/shot/choose.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_SPREAD_SAMPLES     256  /* samples unless stated otherwise */
#define VS_SPREAD_SAMPLES_MIN 16   /* fewer say nothing about the tails */
#define VS_SPREAD_SAMPLES_MAX 4096 /* more add nothing */

/** The figures followed, with their words in files. */
#define VS_SPREAD_LIST(X)                                                                          \
    X(VS_SPREAD_LOWEST, "lowest_per_m")           /* of a shot, by choose */                       \
    X(VS_SPREAD_HIGHEST, "highest_per_m")         /* likewise */                                   \
    X(VS_SPREAD_RECOMMENDED, "recommended_per_m") /* likewise */                                   \
    X(VS_SPREAD_WANT, "want")        /* a want's value at the shot's planned density */            \
    X(VS_SPREAD_RUN, "run_min")      /* the hazer's run before a shot of the plan */               \
    X(VS_SPREAD_WAIT, "wait_min")    /* the wait after it */                                       \
    X(VS_SPREAD_DAY, "day_wait_min") /* all waiting of the day */                                  \
    X(VS_SPREAD_CLEAR, "clear_min")  /* until the rooms are clear after the last shot */           \
    X(VS_SPREAD_FLUID, "fluid_ml")   /* used on the day */

typedef enum {
#define VS_SPREAD_MEMBER(member, word) member,
    VS_SPREAD_LIST(VS_SPREAD_MEMBER)
#undef VS_SPREAD_MEMBER
} vs_spread_kind;

/** The word for it; never NULL. */
const char *vs_spread_word(vs_spread_kind kind);

typedef struct {
    vs_spread_kind kind;
    size_t shot;             /* VS_NONE: of the day */
    size_t want;             /* WANT */
    double now;              /* with the scene's own numbers; NaN: none */
    double p10, p50, p90;    /* a tenth, half, nine tenths of the samples are under these */
    size_t known;            /* number of samples in which the figure exists */
    size_t main_input;       /* the uncertain number it depends on most; VS_NONE: on none */
    double rank_correlation; /* Spearman's, with that number */
} vs_spread_figure;

/** A plan whose outcome is followed. Borrowed. */
typedef struct {
    const vs_choices *choices; /* of the original scene: planned densities, for every shot */
    const size_t *order;       /* of the day; NULL: the file's */
    const double *light_value; /* if no uncertain number affects the light: the figures of the
                                * original scene, from which those of choose and predict are taken;
                                * else NULL */
    const vs_haze *haze; /* if light_value is given: of the original scene, and so of every sample;
                          * else NULL */
} vs_spread_plan;

/** Lists the figures of a scene; returns their number. list may be NULL. */
size_t vs_spread_figures(const vs_scene *scene, vs_spread_figure *list);

/** Factors on the scene's uncertain numbers: Sobol's points over 1 - half width to 1 + half width.
 *  factor  out, samples x uncertain_count
 *  Errors: VS_ERR_DOMAIN if the scene has no uncertain number, VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_spread_factors(const vs_scene *scene, size_t samples, double *factor);

/** The figures of one sample.
 *  scene   the sample: same shots and wants as in the scene listed
 *  figure  the list; count of it
 *  value   out, one per figure; NaN if it does not exist, as for the densities of a shot that
 *          cannot be met, or a day without a plan
 *  Errors: those of vs_choose and vs_predict_shot. */
VS_WARN_UNUSED vs_status vs_spread_measure(const vs_scene *scene, const vs_spread_plan *plan,
                                           const vs_spread_figure *figure, size_t count,
                                           double *value);

/** The figures of the original scene: those of choose are the plan's own.
 *  Arguments and errors as above. */
VS_WARN_UNUSED vs_status vs_spread_now(const vs_scene *scene, const vs_spread_plan *plan,
                                       const vs_spread_figure *figure, size_t count, double *value);

/** Quantiles and main inputs of all samples, into the figures.
 *  factor  samples x inputs, as from vs_spread_factors
 *  value   samples x count, as from vs_spread_measure
 *  Errors: VS_ERR_MEMORY.  Checked: tests/unit/test_spread.c */
VS_WARN_UNUSED vs_status vs_spread_sum_up(const double *factor, size_t inputs, const double *value,
                                          size_t samples, vs_spread_figure *figure, size_t count);

#ifdef __cplusplus
}
#endif
#endif
