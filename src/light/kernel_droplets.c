/* See kernel_droplets.h. Source: similarity, van de Hulst 1980, Multiple Light Scattering, ch. 14.
 */
#include "light/kernel_droplets.h"

#include "light/kernel_phase.h"

/* What all orders are over the second, by similarity: a droplet scatters the share g of its light
 * as good as straight on, the rest evenly. Were the event at the droplet in question itself
 * straight on, n such events in any order make one path: sum of (g t)^(n-1)/n!. An even one stands
 * out among them: sum of (g t)^n/n!. phase_per_sr  there, over 0; what of it is under the even
 * share is taken as even */
LANES_INLINE double higher_orders(double depth, double g, double phase_per_sr) {
    double x = g * depth, all = lane_exp(x);
    double small = 1 + x * (1.0 / 2 + x * (1.0 / 6 + x * (1.0 / 24)));
    double straight = x < 1e-3 && x > -1e-3 ? small : (all - 1) / lane_divisor(x);
    double even = lane_min(1, (1 - g) / (4 * VS_PI * phase_per_sr));
    return straight + even * (all - straight);
}

LANES_INLINE void add_block(const vs_lit_droplets *d, size_t first, const vs_haze *haze, int band,
                            double ratio, bool scattered_again, double *sum) {
    const double *weight = &d->weight[first], *lux = &d->lux[band][first];
    const double *depth = &d->depth[first];
    double phase[LANES], again[LANES], g = haze->albedo.v[band] * haze->phase[band].g;
    lanes_phase(&haze->phase[band], &d->first_cosine[first], phase);
    EACH_LANE(l) {
        again[l] = 1;
    }
    if (scattered_again) {
        lanes_phase(&haze->phase[band], &d->second_cosine[first], again);
    }
    EACH_LANE(l) {
        double t = depth[l] * ratio, there = lane_max(phase[l], LANES_TINY);
        sum[l] +=
            weight[l] * lux[l] * phase[l] * again[l] * lane_exp(-t) * higher_orders(t, g, there);
    }
}

LANES_CLONES void vs_lit_droplets_add(vs_lit_droplets *d, const vs_medium *medium,
                                      bool scattered_again, vs_bands *sum) {
    const vs_haze *haze = medium->haze;
    for (size_t i = d->count; i % LANES != 0; i++) {
        d->weight[i] = d->depth[i] = d->first_cosine[i] = d->second_cosine[i] = 0;
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            d->lux[band][i] = 0;
        }
    }
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        double lane[LANES] = {0}, ratio = medium->ratio.v[band];
        for (size_t first = 0; first < d->count; first += LANES) {
            add_block(d, first, haze, band, ratio, scattered_again, lane);
        }
        sum->v[band] += lanes_sum(lane) * haze->albedo.v[band] * ratio;
    }
    d->count = 0;
}
