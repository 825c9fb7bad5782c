/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From planes to the picture: hazed = surface x transmission + veil, band by band, pixel by pixel;
 * then means for pixels crossed by an edge. */
#include <math.h>
#include <stdlib.h>

#include "base/lanes.h"
#include "picture/view/kept.h"
#include "veilstop/base/units.h"

/* The skies behind an opening; its pane is part of the path. */
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

vs_bands vs_frame_own_nits(const vs_frame_kept *k, const vs_ray_path *path) {
    const vs_scene_geometry *geometry = k->predictor->geometry;
    if (path->end == VS_RAY_PATH_OUTSIDE) {
        return sky_nits(k, path->index);
    }
    if (path->end == VS_RAY_PATH_BLOCKER) {
        size_t light = geometry->blocker_light[path->index];
        return light != VS_NONE && path->side ? k->predictor->hazed_light[light].strength
                                              : vs_bands_grey(0);
    }
    if (path->end == VS_RAY_PATH_BODY) {
        const vs_body *body = &k->bodies.item[path->index];
        return body->kind == VS_BODY_CARD
                   ? card_nits(k, &k->shot->point[body->index])
                   : vs_body_nits(body, &k->predictor->hazed_light[body->index], k->view.at_m);
    }
    return vs_bands_grey(0);
}

/* Neighbouring pixels of a row whose rays share one path. */
#define PIXELS_MAX 64
typedef struct {
    const vs_ray_path *path;
    size_t at;    /* index of the first in the planes */
    int count;    /* up to PIXELS_MAX */
    double x, dx; /* position across at distance 1, and its step from pixel to pixel */
    double y;     /* the same vertically */
} row_pixels;

/* The distance to a plane n . p = c is (c - n . camera)/(n . direction), and the direction is
 * linear in x. */
LANES_CLONES static void add_depths(int count, double above, double below, double step,
                                    double extinction_per_m, double *before_m, double *depth) {
    for (int i = 0; i < count; i++) {
        double at_m = above / (below + step * i);
        depth[i] += (at_m - before_m[i]) * extinction_per_m;
        before_m[i] = at_m;
    }
}

/* Optical depths along the rays, and the distance of their ends along the axis. */
static void depths_of(const vs_frame_kept *k, const row_pixels *r, double *end_m, double *depth) {
    for (int i = 0; i < r->count; i++) {
        end_m[i] = depth[i] = 0;
    }
    vs_vec3 first = vs_vec3_along(k->view.forward, k->view.right, r->x);
    first = vs_vec3_along(first, k->view.up, r->y);
    for (size_t c = 0; c <= r->path->crossing_count; c++) {
        const vs_ray_path_plane *plane = &r->path->at[c];
        add_depths(r->count, plane->offset_m - vs_vec3_dot(plane->normal, k->view.at_m),
                   vs_vec3_dot(plane->normal, first),
                   vs_vec3_dot(plane->normal, k->view.right) * r->dx,
                   vs_medium_extinction_per_m(&k->setup.hazed, r->path->room[c]), end_m, depth);
    }
}

LANES_CLONES static void slant_depths(const row_pixels *r, double *depth) {
    for (int i = 0; i < r->count; i++) {
        double x = r->x + r->dx * i;
        depth[i] *= sqrt(1 + x * x + r->y * r->y);
    }
}

/* One band of such pixels: haze in front of what is seen. */
typedef struct {
    double ratio, own, share, open; /* share: luminance of a surface per lux */
    const float *lux, *bounced;
    float *hazed, *transmission, *veil, *indirect;
} band_of_row;

LANES_CLONES static void fill_haze(const band_of_row *b, int count, const double *depth) {
    for (int i = 0; i < count; i++) {
        double through = lane_exp(-depth[i] * b->ratio);
        double nits = b->own + b->share * ((double)b->lux[i] + (double)b->bounced[i]);
        double bounced = (double)b->indirect[i] * (1 - through);
        double veil = (double)b->veil[i] + bounced;
        b->indirect[i] = (float)bounced;
        b->veil[i] = (float)veil;
        b->transmission[i] = (float)(through * b->open);
        b->hazed[i] = (float)(nits * through * b->open + veil);
    }
}

static void finish_pixels(vs_frame_kept *k, const row_pixels *r) {
    double end_m[PIXELS_MAX], depth[PIXELS_MAX];
    const vs_bands *own = &k->own[r->path - k->paths.item];
    depths_of(k, r, end_m, depth);
    slant_depths(r, depth);
    for (int i = 0; i < r->count; i++) {
        k->layers.depth_m[r->at + (size_t)i] = r->path->far ? INFINITY : (float)end_m[i];
    }
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        band_of_row b = {
            k->setup.hazed.ratio.v[band],       own->v[band],
            r->path->reflectance / VS_PI,       r->path->open,
            k->lux.band[band] + r->at,          k->bounced_lux.band[band] + r->at,
            k->layers.hazed.band[band] + r->at, k->layers.transmission.band[band] + r->at,
            k->layers.veil.band[band] + r->at,  k->layers.indirect.band[band] + r->at};
        fill_haze(&b, r->count, depth);
    }
}

static void finish_row(vs_frame_kept *k, size_t y) {
    const uint16_t *label = k->label + y * k->grid.across;
    double dx = 2 * k->view.half_width / (double)k->width;
    for (size_t x = 0, next; x < k->width; x = next) {
        for (next = x + 1; next < k->width && next - x < PIXELS_MAX && label[next] == label[x];
             next++) {
        }
        row_pixels r = {&k->paths.item[label[x]],
                        y * k->width + x,
                        (int)(next - x),
                        ((double)x + 0.5) * dx - k->view.half_width,
                        dx,
                        k->view.half_height * (1 - 2 * ((double)y + 0.5) / (double)k->height)};
        finish_pixels(k, &r);
    }
}

/* All of the veil but what each light's is, once scattered. */
static void set_indirect(vs_frame_kept *k, size_t y) {
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        const float *veil = k->layers.veil.band[band] + y * k->width;
        float *indirect = k->layers.indirect.band[band] + y * k->width;
        for (size_t x = 0; x < k->width; x++) {
            double once = 0;
            for (size_t i = 0; i < k->scene->light_count; i++) {
                const float *plane = k->layers.veil_by_light[i].band[band];
                once += plane ? (double)plane[y * k->width + x] : 0;
            }
            indirect[x] = (float)fmax(0, (double)veil[x] - once);
        }
    }
}

void vs_frame_finish_rows(vs_frame_kept *k, size_t first, size_t count) {
    for (size_t y = first; y < first + count && y < k->height; y++) {
        finish_row(k, y);
        if (k->layers.veil_by_light) {
            set_indirect(k, y);
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
