/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Curves by table: a float's upper bits find the place, its lower bits go between two of them. */
#ifndef VEILSTOP_PICTURE_VIEW_SIGNAL_TABLE_H
#define VEILSTOP_PICTURE_VIEW_SIGNAL_TABLE_H

#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/picture/develop.h"

#define VS_SIGNAL_BITS_BETWEEN 15  /* of a float, between two places of the table */
#define VS_SIGNAL_EXPONENT_LOW 100 /* of a float: 2^-27, black in any curve */
#define VS_SIGNAL_EXPONENT_TOP 140 /* 2^13 */
#define VS_SIGNAL_TABLE_SIZE                                                                       \
    ((VS_SIGNAL_EXPONENT_TOP - VS_SIGNAL_EXPONENT_LOW) << (23 - VS_SIGNAL_BITS_BETWEEN))

#define VS_SIGNAL_BELOW 1e-3 /* [scene-linear] under 0, where curves are straight */

typedef struct {
    float *at;
    float below; /* slope under 0: what noise makes of black in a log curve */
} vs_signal_table;

static inline float vs_signal_float_of(uint32_t bits) {
    float value;
    memcpy(&value, &bits, sizeof value);
    return value;
}

/* Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED static inline vs_status
vs_signal_table_init(vs_signal_table *table, double (*signal)(const void *context, double x),
                     const void *context) {
    table->at = malloc((VS_SIGNAL_TABLE_SIZE + 1) * sizeof *table->at);
    if (!table->at) {
        return VS_ERR_MEMORY;
    }
    for (uint32_t i = 0; i <= VS_SIGNAL_TABLE_SIZE; i++) {
        uint32_t bits = ((uint32_t)VS_SIGNAL_EXPONENT_LOW << 23) + (i << VS_SIGNAL_BITS_BETWEEN);
        table->at[i] = (float)signal(context, (double)vs_signal_float_of(bits));
    }
    table->below =
        (float)((signal(context, 0) - signal(context, -VS_SIGNAL_BELOW)) / VS_SIGNAL_BELOW);
    return VS_OK;
}

static inline void vs_signal_table_free(vs_signal_table *table) {
    free(table->at);
    table->at = NULL;
}

static inline float vs_signal_table_at(const vs_signal_table *table, float x) {
    const float low = vs_signal_float_of((uint32_t)VS_SIGNAL_EXPONENT_LOW << 23);
    const float top = vs_signal_float_of((uint32_t)VS_SIGNAL_EXPONENT_TOP << 23);
    if (!(x > low)) {
        float signal = x < 0 ? table->at[0] + table->below * x : table->at[0];
        return signal > 0 ? signal : 0;
    }
    if (x >= top) {
        return table->at[VS_SIGNAL_TABLE_SIZE];
    }
    uint32_t bits;
    memcpy(&bits, &x, sizeof bits);
    bits -= (uint32_t)VS_SIGNAL_EXPONENT_LOW << 23;
    uint32_t i = bits >> VS_SIGNAL_BITS_BETWEEN;
    float share = (float)(bits & ((1u << VS_SIGNAL_BITS_BETWEEN) - 1)) /
                  (float)(1u << VS_SIGNAL_BITS_BETWEEN);
    return table->at[i] + share * (table->at[i + 1] - table->at[i]);
}

/* The signals of scene-linear light, as of vs_develop_signal.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_develop_table(const vs_camera *camera, vs_develop_as as,
                                          vs_signal_table *table);

/* The code value of a signal, 0 to VS_PICTURE_FULL. dither: by a fixed pattern of half a code value
 * with 8 bits, which leaves whole code values as they are */
uint16_t vs_develop_code(float signal, int bits, bool dither, size_t x, size_t y);

#endif
