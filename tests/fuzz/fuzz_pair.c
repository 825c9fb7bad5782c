/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Two frames of made-up code values: the first four bytes are their width, their height, the curve
 * and how the second comes of the first (a veil, a shift, or other bytes); then code values, again
 * from the start where there are too few. */
#include "fuzz.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

#include "veilstop/base/numerics.h"
#include "veilstop/picture/pair.h"

#define SIDE_MIN 1
#define SIDE_MAX 12 /* [pixels] the more, the longer a fit takes */

int LLVMFuzzerInitialize(int *argc, char ***argv) {
    (void)argc;
    (void)argv;
    vs_numerics_handler_off();
    return 0;
}

static void fill(vs_picture *p, const uint8_t *data, size_t size, size_t shift, double keep,
                 double veil) {
    for (size_t y = 0; y < p->height; y++) {
        for (size_t x = 0; x < p->width; x++) {
            size_t at = 3 * (y * p->width + x) + shift;
            for (size_t c = 0; c < 3; c++) {
                double value = 257.0 * data[(at + c) % size];
                vs_picture_at(p, x, y)[c] = (uint16_t)fmin(65535, keep * value + veil);
            }
        }
    }
}

static void check(const vs_pair *pair) {
    for (int c = 0; c < 3; c++) {
        FUZZ_TRUE(isfinite(pair->cdl.slope.v[c]) && isfinite(pair->cdl.offset.v[c]) &&
                  isfinite(pair->cdl.power.v[c]));
        for (int k = 0; k < 4; k++) {
            FUZZ_TRUE(isfinite(pair->matrix.m[c][k]));
        }
    }
    FUZZ_TRUE(isfinite(pair->cdl.saturation) && pair->error_before >= 0 && pair->error_after >= 0);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    static const vs_curve_kind curves[] = {VS_CURVE_LINEAR,  VS_CURVE_BT709, VS_CURVE_SRGB,
                                           VS_CURVE_ACESCCT, VS_CURVE_HLG,   VS_CURVE_PQ};
    vs_picture clear, hazed, map = {0}, matte = {0};
    vs_faults faults[2] = {{.count = 0}, {.count = 0}};
    vs_pair pair;
    if (size < 8) {
        return 0;
    }
    size_t span = SIDE_MAX - SIDE_MIN + 1;
    size_t width = SIDE_MIN + data[0] % span, height = SIDE_MIN + data[1] % span;
    vs_curve curve = {.kind = curves[data[2] % (sizeof curves / sizeof curves[0])]};
    bool drawn = data[2] & 0x80;
    FUZZ_TRUE(vs_picture_init(&clear, width, height, 16) == VS_OK);
    FUZZ_TRUE(vs_picture_init(&hazed, width, height, 16) == VS_OK);
    fill(&clear, data + 4, size - 4, 0, 1, 0);
    fill(&hazed, data + 4, size - 4,
         data[3] & 0x80   ? 7
         : data[3] & 0x40 ? 3
                          : 0,
         1 - (data[3] & 7) / 9.0, 2000.0 * (data[3] >> 3 & 7));
    vs_status status = vs_pair_compare(&clear, &hazed, &curve, &pair, drawn ? &map : NULL,
                                       drawn ? &matte : NULL, &faults[0], &faults[1]);
    if (status == VS_OK) {
        check(&pair);
    } else {
        FUZZ_TRUE(status != VS_ERR_INPUT || faults[0].count + faults[1].count > 0);
        FUZZ_TRUE(status == VS_ERR_INPUT || status == VS_ERR_CONVERGENCE);
    }
    vs_picture_free(&map);
    vs_picture_free(&matte);
    vs_picture_free(&clear);
    vs_picture_free(&hazed);
    return 0;
}
