/* The light of one emitter in one haze, from the ways it goes: one exponential a straight piece and
 * band, eight at a time; along the piece's even parts light falls by equal ratios. */
#include <stdlib.h>
#include <string.h>

#include "light/cast.h"
#include "light/lanes.h"

#define SLOTS 4 /* of a piece: its bands, and one to fill a vector */

typedef struct {
    double v[SLOTS];
} slots;

/* Depth of half a part of each piece, or of all of it, less than nothing, band by band. */
static void set_depths(const vs_ways *ways, const vs_medium *medium, vs_bands dimming, bool whole,
                       double *depth) {
    for (size_t i = 0; i < ways->piece_count; i++) {
        const vs_way_piece *piece = &ways->piece[i];
        double parts = whole ? piece->parts : 0.5;
        double at_549 = medium->room_extinction_per_m[piece->room] * piece->part_m * parts;
        for (int band = 0; band < SLOTS; band++) {
            double ratio = band < VS_BAND_COUNT ? medium->ratio.v[band] * dimming.v[band] : 0;
            depth[i * SLOTS + (size_t)band] = -at_549 * ratio;
        }
    }
}

LANES_CLONES static void set_exponentials(double *x, size_t count) {
    for (size_t i = 0; i < count; i += LANES) {
        EACH_LANE(l) {
            x[i + (size_t)l] = lane_exp(x[i + (size_t)l]);
        }
    }
}

/* Light through the parts of a piece, each seen from its middle. */
LANES_INLINE void through_air(const vs_way_piece *piece, const vs_way_run *run,
                              const vs_way_run *end, const slots *half, slots *light,
                              slots *cell_lm_m) {
    slots ratio, now;
    for (int b = 0; b < SLOTS; b++) {
        ratio.v[b] = half->v[b] * half->v[b];
        now.v[b] = light->v[b] * half->v[b];
    }
    for (; run < end; run++) {
        slots sum = {{0}};
        for (uint32_t i = 0; i < run->parts; i++) {
            for (int b = 0; b < SLOTS; b++) {
                sum.v[b] += now.v[b];
                now.v[b] *= ratio.v[b];
            }
        }
        for (int b = 0; b < SLOTS; b++) {
            cell_lm_m[run->cell].v[b] += sum.v[b] * piece->part_m;
        }
    }
    for (int b = 0; b < SLOTS; b++) {
        light->v[b] = now.v[b] / half->v[b]; /* from the next part's middle back to its start */
    }
}

/* taken: of each piece, over half a part where cells are lit, else over all of it. */
LANES_CLONES static void shine(const vs_ways *ways, const vs_medium *medium, const slots *taken,
                               slots *cell_lm_m, vs_bands *sub_lm) {
    slots light = {{0}};
    for (size_t i = 0; i < ways->piece_count; i++) {
        const vs_way_piece *piece = &ways->piece[i];
        size_t first = i > 0 ? ways->piece[i - 1].run_end : 0;
        for (int b = 0; b < SLOTS && piece->set_out_lm > 0; b++) {
            light.v[b] = piece->set_out_lm;
        }
        if (!cell_lm_m) {
            for (int b = 0; b < SLOTS; b++) {
                light.v[b] *= taken[i].v[b];
            }
        } else if (medium->room_extinction_per_m[piece->room] > 0) {
            through_air(piece, ways->run + first, ways->run + piece->run_end, &taken[i], &light,
                        cell_lm_m);
        }
        for (int b = 0; b < VS_BAND_COUNT && piece->sub != VS_WAY_NONE; b++) {
            sub_lm[piece->sub].v[b] += light.v[b] * piece->stopped;
        }
        for (int b = 0; b < SLOTS; b++) {
            light.v[b] *= piece->open;
        }
    }
}

vs_status vs_ways_shine(const vs_ways *ways, const vs_medium *medium, vs_bands dimming,
                        vs_bands *sub_lm, vs_bands *cell_lm_m, size_t cell_count) {
    size_t pieces = (ways->piece_count + 1) & ~(size_t)1; /* whole vectors */
    slots *taken = malloc((pieces + cell_count + 1) * sizeof *taken);
    if (!taken) {
        return VS_ERR_MEMORY;
    }
    slots *cell = cell_lm_m ? taken + pieces : NULL;
    memset(taken + ways->piece_count, 0, (pieces + cell_count - ways->piece_count) * sizeof *taken);
    set_depths(ways, medium, dimming, !cell, taken->v);
    set_exponentials(taken->v, pieces * SLOTS);
    shine(ways, medium, taken, cell, sub_lm);
    for (size_t c = 0; c < cell_count && cell; c++) {
        for (int b = 0; b < VS_BAND_COUNT; b++) {
            cell_lm_m[c].v[b] += cell[c].v[b];
        }
    }
    free(taken);
    return VS_OK;
}
