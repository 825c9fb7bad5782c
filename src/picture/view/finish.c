/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Planes to the picture: hazed = surface x transmission + veil, band by band, pixel by pixel; then
 * the means over pixels that an edge crosses. */
#include <math.h>
#include <stdlib.h>

#include "picture/view/kept.h"
#include "veilstop/base/units.h"

/* The skies behind an opening: its pane is counted with the way. */
static vs_bands sky_nits(const vs_frame_kept *k, size_t opening) {
    vs_bands nits = vs_bands_grey(0);
    double pane = k->predictor->geometry->opening[opening].transmittance;
    for (size_t i = 0; i < k->scene->light_count; i++) {
        const vs_light *light = &k->scene->light[i];
        if (light->kind == VS_LIGHT_SKY && light->through == opening && pane > 0) {
            nits =
                vs_bands_add(nits, vs_bands_scale(k->predictor->hazed_light[i].strength, 1 / pane));
        }
    }
    return nits;
}

static vs_bands card_nits(const vs_frame_kept *k, const vs_scene_point *point) {
    return vs_bands_grey(point->kind == VS_POINT_NITS ? point->value
                         : point->kind == VS_POINT_STOPS
                             ? vs_camera_grey_nits(k->camera) * exp2(point->value)
                             : 0);
}

vs_bands vs_frame_own_nits(const vs_frame_kept *k, const vs_way *way) {
    const vs_scene_geometry *geometry = k->predictor->geometry;
    if (way->end == VS_WAY_OUTSIDE) {
        return sky_nits(k, way->index);
    }
    if (way->end == VS_WAY_BLOCKER) {
        size_t light = geometry->blocker_light[way->index];
        return light != VS_NONE && way->side ? k->predictor->hazed_light[light].strength
                                             : vs_bands_grey(0);
    }
    if (way->end == VS_WAY_BODY) {
        const vs_body *body = &k->bodies.item[way->index];
        return body->kind == VS_BODY_CARD
                   ? card_nits(k, &k->shot->point[body->index])
                   : vs_body_nits(body, &k->predictor->hazed_light[body->index], k->view.at_m);
    }
    return vs_bands_grey(0);
}

void vs_frame_finish_rows(vs_frame_kept *k, size_t first, size_t count) {
    vs_frame_layers *l = &k->layers;
    for (size_t y = first; y < first + count && y < k->height; y++) {
        for (size_t x = 0; x < k->width; x++) {
            size_t at = y * k->width + x, label = k->label[y * k->grid.across + x];
            const vs_way *way = &k->ways.item[label];
            double depth_m;
            vs_bands through = vs_frame_dimming(k, way, (double)x, (double)y, &depth_m);
            l->depth_m[at] = (float)depth_m;
            for (int band = 0; band < VS_BAND_COUNT; band++) {
                double lit = (double)k->lux.band[band][at] + (double)k->bounced_lux.band[band][at];
                double nits = k->own[label].v[band] + way->reflectance / VS_PI * lit;
                double bounced = (double)l->indirect.band[band][at] * (1 - through.v[band]);
                double veil = (double)l->veil.band[band][at] + bounced;
                l->indirect.band[band][at] = (float)bounced;
                l->veil.band[band][at] = (float)veil;
                l->transmission.band[band][at] = (float)(through.v[band] * way->open);
                l->hazed.band[band][at] = (float)(nits * through.v[band] * way->open + veil);
            }
        }
    }
}

void vs_frame_finish_edges(vs_frame_kept *k) {
    double full = vs_camera_nits(k->camera, vs_camera_clip_linear(k->camera));
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        float *plane = k->layers.hazed.band[band], *mean = k->edge_mean;
        for (size_t e = 0; e < k->edge_count; e++) {
            const vs_frame_edge *edge = &k->edge[e];
            double sum = 0;
            int rays = 0;
            for (int r = 0; r < VS_FRAME_RAYS; r++) {
                if (edge->dx[r] != VS_FRAME_NO_RAY) {
                    ptrdiff_t step = edge->dy[r] * (ptrdiff_t)k->width + edge->dx[r];
                    sum += fmin((double)plane[(ptrdiff_t)edge->pixel + step], full);
                    rays++;
                }
            }
            mean[e] = rays > 0 ? (float)(sum / rays) : plane[edge->pixel];
        }
        for (size_t e = 0; e < k->edge_count; e++) {
            plane[k->edge[e].pixel] = mean[e];
        }
    }
}
