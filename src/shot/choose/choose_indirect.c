/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. Barycentric interpolation at Chebyshev points of the second kind (Berrut &
 * Trefethen 2004, SIAM Rev. 46, 501), nested so that none is asked for twice. */
#include "shot/choose/choose_indirect.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "shot/choose/choose_model.h"
#include "shot/choose/choose_shot.h"
#include "veilstop/base/units.h"
#include "veilstop/shot/held.h"

#define FIRST_COUNT 5    /* nodes at first, to tell by them how the next do */
#define NEARLY_NONE 1e-9 /* [1] of the end: for clear air, where veil over density is 0/0 */
#define SHARED_MOST 2.5  /* [1] ends of searches further apart have densities of their own */
/* [1] by which the light at new nodes may be off what the half of them told: measured on the demo
 * scenes, twice as many nodes are then off by at most about its square, under 1e-3 */
#define HALF_WITHIN 0.03

static double length_m(const vs_indirect_curve *curve) {
    return VS_CHOOSE_DEPTH_MAX / curve->end_per_m;
}

static double place_of(const vs_indirect_curve *curve, double k_per_m) {
    return log1p(k_per_m * length_m(curve));
}

static double node_per_m(const vs_indirect_curve *curve, size_t i, size_t count) {
    double part = 0.5 - 0.5 * cos(VS_PI * (double)i / (double)(count - 1));
    double k = expm1(part * place_of(curve, curve->end_per_m)) / length_m(curve);
    return fmax(k, NEARLY_NONE * curve->end_per_m);
}

static size_t notes_of(const vs_indirect_curve *curve) {
    return vs_note_count(curve->points, curve->beams);
}

static bool is_veil(const vs_indirect_curve *curve, size_t note) {
    size_t of_points = vs_note_count(curve->points, 0);
    return note < of_points ? note % VS_NOTES_OF_POINT == VS_NOTE_VEIL
                            : (note - of_points) % VS_NOTES_OF_BEAM == VS_NOTE_ALONG;
}

/* Each node's share in the value at a density; they sum to 1.  step  2: every other node */
static void set_shares(const vs_indirect_curve *curve, double k_per_m, size_t step, double *share) {
    double sum = 0, at = place_of(curve, k_per_m);
    size_t last = (curve->count - 1) / step;
    memset(share, 0, curve->count * sizeof *share);
    for (size_t i = 0; i <= last; i++) {
        double off = at - place_of(curve, curve->k_per_m[i * step]);
        if (off == 0) {
            memset(share, 0, curve->count * sizeof *share);
            share[i * step] = 1;
            return;
        }
        share[i * step] = (i % 2 ? -1 : 1) * (i == 0 || i == last ? 0.5 : 1) / off;
        sum += share[i * step];
    }
    for (size_t i = 0; i < curve->count; i++) {
        share[i] /= sum;
    }
}

/* One place's light of one lamp. A veil is proportional to the density at first. */
static vs_bands light_at(const vs_indirect_curve *curve, const double *share, double k_per_m,
                         size_t note, size_t light) {
    vs_bands sum = vs_bands_grey(0);
    bool veil = is_veil(curve, note);
    for (size_t i = 0; i < curve->count; i++) {
        double part = share[i] * (veil ? k_per_m / curve->k_per_m[i] : 1);
        const vs_bands *node = &curve->node[i][note * curve->lights + light];
        sum = part != 0 ? vs_bands_add(sum, vs_bands_scale(*node, part)) : sum;
    }
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        sum.v[band] = fmax(sum.v[band], 0);
    }
    return sum;
}

vs_indirect_notes *vs_indirect_curve_at(vs_indirect_curve *curve, double extinction_per_m) {
    double share[VS_INDIRECT_NODES_MAX];
    if (curve->count == 0 || !(extinction_per_m <= curve->end_per_m)) {
        return NULL;
    }
    set_shares(curve, extinction_per_m, 1, share);
    for (size_t note = 0; note < notes_of(curve); note++) {
        for (size_t light = 0; light < curve->lights; light++) {
            curve->read.note[note * curve->lights + light] =
                light_at(curve, share, extinction_per_m, note, light);
        }
    }
    return &curve->read;
}

void vs_indirect_curve_free(vs_indirect_curve *curve) {
    const vs_indirect_curve blank = {0};
    for (size_t i = 0; i < VS_INDIRECT_NODES_MAX; i++) {
        free(curve->node[i]);
    }
    free(curve->read.note);
    *curve = blank;
}

/* ---- making ---- */

static size_t beams_of(const vs_scene_shot *shot) {
    size_t count = 0;
    for (size_t i = 0; i < shot->want_count; i++) {
        count += shot->want[i].kind == VS_WANT_BEAM;
    }
    return count;
}

static vs_status begin(const vs_scene *scene, vs_indirect_curve *curve) {
    const vs_scene_shot *shot = &scene->shot[curve->shot];
    curve->points = shot->point_count;
    curve->beams = beams_of(shot);
    curve->lights = scene->light_count;
    curve->read.known = true;
    curve->read.points = curve->points;
    curve->read.note = calloc(notes_of(curve) * curve->lights + 1, sizeof *curve->read.note);
    return curve->read.note ? VS_OK : VS_ERR_MEMORY;
}

/* Ends of searches that are nearly alike become one, so that the same hazes serve several shots. */
static void share_ends(vs_indirect_curve *curve, size_t count) {
    for (;;) {
        double most = 0;
        for (size_t i = 0; i < count; i++) {
            most = curve[i].end_per_m == 0 ? fmax(most, curve[i].search_end_per_m) : most;
        }
        if (!(most > 0)) {
            return;
        }
        for (size_t i = 0; i < count; i++) {
            bool near = curve[i].search_end_per_m * SHARED_MOST >= most;
            curve[i].end_per_m = curve[i].end_per_m == 0 && near ? most : curve[i].end_per_m;
        }
    }
}

/* Curves being made. */
typedef struct {
    vs_predictor *predictor;
    vs_indirect_curve *curve;
    size_t count;
    double *room_per_m; /* one a room */
    vs_emitter *light;  /* one a light of the scene */
} filling;

/* Writes down a shot's indirect light at one density. */
static vs_status ask_node(filling *f, vs_indirect_curve *curve, size_t node) {
    vs_predictor *p = f->predictor;
    vs_indirect_notes notes = {false, curve->points, NULL};
    const vs_predict_part part = {NULL, true, false, &notes};
    vs_shot_prediction prediction;
    notes.note = calloc(notes_of(curve) * curve->lights + 1, sizeof *notes.note);
    vs_status status = notes.note ? VS_OK : VS_ERR_MEMORY;
    if (status == VS_OK) {
        status = vs_held_rooms(p->scene, &p->scene->shot[curve->shot], &p->haze,
                               curve->k_per_m[node], f->room_per_m);
    }
    if (status == VS_OK) {
        status = vs_predict_part_of_shot(p, curve->shot, &part, f->room_per_m, &prediction);
    }
    if (status != VS_OK) {
        free(notes.note);
        return status;
    }
    vs_shot_prediction_free(&prediction);
    curve->node[node] = notes.note;
    return VS_OK;
}

/* Room for twice as many nodes, those there are in their places. */
static void spread_nodes(vs_indirect_curve *curve) {
    size_t before = curve->count, count = before ? 2 * before - 1 : FIRST_COUNT;
    for (size_t i = before; i-- > 1;) { /* from the last, so that none is overwritten */
        curve->node[2 * i] = curve->node[i];
        curve->node[i] = NULL;
    }
    curve->count = count;
    for (size_t i = 0; i < count; i++) {
        curve->k_per_m[i] = node_per_m(curve, i, count);
    }
}

/* Whether the new half of the nodes is about where the other half says. */
static bool half_tells(const vs_indirect_curve *curve) {
    double share[VS_INDIRECT_NODES_MAX];
    for (size_t i = 1; i < curve->count; i += 2) {
        set_shares(curve, curve->k_per_m[i], 2, share);
        for (size_t note = 0; note < notes_of(curve); note++) {
            double told = 0, is = 0;
            for (size_t e = 0; e < curve->lights; e++) {
                told += vs_bands_luminance(light_at(curve, share, curve->k_per_m[i], note, e));
                is += vs_bands_luminance(curve->node[i][note * curve->lights + e]);
            }
            if (!(fabs(told - is) <= HALF_WITHIN * is)) {
                return false;
            }
        }
    }
    return true;
}

static bool needs_more(const vs_indirect_curve *curve) {
    return curve->end_per_m > 0 && (curve->count == 0 || curve->count == FIRST_COUNT ||
                                    (curve->count < VS_INDIRECT_NODES_MAX && !half_tells(curve)));
}

/* Whether two shots have the same haze at every density: cameras in one room, openings set alike.
 */
static bool same_haze(vs_predictor *predictor, const vs_indirect_curve *a,
                      const vs_indirect_curve *b) {
    const vs_scene_shot *one = &predictor->scene->shot[a->shot];
    const vs_scene_shot *other = &predictor->scene->shot[b->shot];
    return a->end_per_m == b->end_per_m &&
           vs_predictor_place_of(predictor, one) == vs_predictor_place_of(predictor, other) &&
           vs_choose_camera_room(predictor, one) == vs_choose_camera_room(predictor, other);
}

static bool lacks(const vs_indirect_curve *curve, size_t node) {
    return node < curve->count && !curve->node[node];
}

/* The lights of the shots that share the haze of the first, as the first that uses each sets it. */
static vs_status gather_lights(filling *f, size_t first, size_t node) {
    vs_predictor *p = f->predictor;
    vs_status status = VS_OK;
    memset(f->light, 0, p->scene->light_count * sizeof *f->light);
    for (size_t c = first; c < f->count && status == VS_OK; c++) {
        if (lacks(&f->curve[c], node) && same_haze(p, &f->curve[first], &f->curve[c])) {
            vs_camera_setup setup =
                vs_camera_setup_make(p, &p->scene->shot[f->curve[c].shot], f->room_per_m);
            status = vs_camera_setup_lights(&setup);
            for (size_t e = 0; e < p->scene->light_count && status == VS_OK; e++) {
                bool dark = vs_bands_luminance(f->light[e].strength) == 0;
                f->light[e] = dark ? p->hazed_light[e] : f->light[e];
            }
        }
    }
    return status;
}

/* Works the fields of all those lights out together, which is quicker than shot by shot; the
 * predictor keeps them. */
static vs_status solve_together(filling *f, size_t first, size_t node) {
    vs_predictor *p = f->predictor;
    const vs_scene_shot *shot = &p->scene->shot[f->curve[first].shot];
    vs_status status = vs_predictor_set_openings(p, shot);
    if (status == VS_OK) {
        status =
            vs_held_rooms(p->scene, shot, &p->haze, f->curve[first].k_per_m[node], f->room_per_m);
    }
    if (status == VS_OK) {
        status = gather_lights(f, first, node);
    }
    if (status == VS_OK) {
        vs_camera_setup setup = vs_camera_setup_make(p, shot, f->room_per_m);
        status = vs_camera_setup_solve(&setup, f->light, f->light);
    }
    return status;
}

/* Fills the nodes that are missing, density by density, so that the field of a haze is worked out
 * once for all shots. */
static vs_status fill_nodes(filling *f) {
    for (size_t i = 0; i < VS_INDIRECT_NODES_MAX; i++) {
        for (size_t c = 0; c < f->count; c++) {
            vs_indirect_curve *one = &f->curve[c];
            if (!lacks(one, i)) {
                continue;
            }
            vs_status status = solve_together(f, c, i);
            if (status == VS_OK) {
                status = ask_node(f, one, i);
            }
            if (status == VS_ERR_MEMORY) {
                return status;
            }
            if (status != VS_OK) {
                vs_indirect_curve_free(one);
            }
        }
    }
    return VS_OK;
}

vs_status vs_indirect_curves_make(vs_predictor *predictor, vs_indirect_curve *curve, size_t count) {
    const vs_scene *scene = predictor->scene;
    filling f = {predictor, curve, count, NULL, NULL};
    f.room_per_m = calloc(scene->room_count + 1, sizeof *f.room_per_m);
    f.light = calloc(scene->light_count + 1, sizeof *f.light);
    vs_status status = f.room_per_m && f.light ? VS_OK : VS_ERR_MEMORY;
    for (size_t i = 0; i < count && status == VS_OK; i++) {
        status = begin(scene, &curve[i]);
    }
    share_ends(curve, count);
    for (bool more = true; more && status == VS_OK;) {
        more = false;
        for (size_t i = 0; i < count; i++) {
            if (needs_more(&curve[i])) {
                spread_nodes(&curve[i]);
                more = true;
            }
        }
        status = more ? fill_nodes(&f) : VS_OK;
    }
    free(f.room_per_m);
    free(f.light);
    return status;
}
