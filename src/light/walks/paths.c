/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A walk goes from the eye to the lights. Straight ways are cut at rooms' walls; on each piece the
 * walk either meets a droplet, drawn as haze thins light, or goes on to what ends the piece. At
 * every turn one light is aimed at; where a turn's own direction hits a shining rectangle, both
 * estimates are weighed by the balance heuristic (Veach 1997, 9.2). */
#include "veilstop/light/paths.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "light/geometry/ray_casting.h"
#include "light/lamps/light_sampling.h"
#include "light/walks/path_guiding.h"
#include "veilstop/base/units.h"

#define HIT_SKIN_M 1e-6 /* [m] a rectangle nearer than this to a turn is the place itself */

/* Share of draws by band for a scattering angle: any would do; these keep each weight under 4. */
static const double band_share[VS_BAND_COUNT] = {0.25, 0.5, 0.25};

/* ---- making ready ---- */

static bool same_phase(const vs_phase *a, const vs_phase *b) {
    return a->kind == VS_PHASE_HENYEY_GREENSTEIN && b->kind == VS_PHASE_HENYEY_GREENSTEIN &&
           a->g == b->g;
}

static vs_status gather_emitters(vs_paths *paths, const vs_emitter *emitter, size_t count) {
    paths->emitter = calloc(count + 1, sizeof *paths->emitter);
    paths->emitter_index = calloc(count + 1, sizeof *paths->emitter_index);
    if (!paths->emitter || !paths->emitter_index) {
        return VS_ERR_MEMORY;
    }
    for (size_t i = 0; i < count; i++) {
        if (vs_bands_luminance(emitter[i].strength) > 0) {
            paths->emitter_index[paths->emitter_count] = i;
            paths->emitter[paths->emitter_count++] = &emitter[i];
        }
    }
    return paths->emitter_count <= VS_BALLOT_MAX ? VS_OK : VS_ERR_DOMAIN;
}

vs_status vs_paths_init(vs_paths *paths, const vs_medium *medium, const vs_surfaces *surfaces,
                        const vs_emitter *emitter, size_t emitter_count, size_t turn_limit) {
    const vs_paths blank = {.medium = medium, .surfaces = surfaces, .turn_limit = turn_limit};
    const vs_phase *phase = medium->haze->phase;
    size_t trap;
    *paths = blank;
    vs_status status = vs_surfaces_light_trap(medium->space, surfaces, &trap);
    if (status == VS_OK && trap != VS_SPACE_OUTSIDE) {
        status = VS_ERR_DOMAIN;
    }
    if (status == VS_OK) {
        status = gather_emitters(paths, emitter, emitter_count);
    }
    for (int band = 0; band < VS_BAND_COUNT && status == VS_OK; band++) {
        status = vs_deflector_init(&paths->deflector[band], &phase[band]);
    }
    paths->one_phase = same_phase(&phase[0], &phase[1]) && same_phase(&phase[1], &phase[2]);
    if (status != VS_OK) {
        vs_paths_free(paths);
    }
    return status;
}

void vs_paths_free(vs_paths *paths) {
    const vs_paths blank = {0};
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        vs_deflector_free(&paths->deflector[band]);
    }
    free(paths->emitter);
    free(paths->emitter_index);
    *paths = blank;
}

/* ---- the walk ---- */

/* A turn that the walk has taken: how else its way might have been found. */
typedef enum { TURN_AT_SURFACE, TURN_AT_DROPLET } turn_kind;

typedef struct {
    turn_kind kind;
    vs_vec3 at_m;
    vs_vec3 start_m, along; /* DROPLET: the straight piece it was met on */
    double length_m, extinction_per_m;
    double at_along_m;
    double per_m, per_sr; /* densities of the distance and the direction taken */
} turn;

typedef struct {
    const vs_paths *paths;
    vs_random *random;
    vs_vec3 at_m, direction;
    size_t room;
    vs_bands weight;
    size_t turns;
    size_t watched;
    turn last;
    vs_path_light light;
} walk;

static void bring_home(walk *w, vs_bands nits, size_t emitter) {
    bool watched = w->turns == 1 && w->paths->emitter_index[emitter] == w->watched;
    vs_bands *sum = watched ? &w->light.watched : &w->light.rest;
    *sum = vs_bands_add(*sum, nits);
}

static double balance(double mine, double other) {
    return mine / (mine + other);
}

/* Density of the direction that a turn at a droplet takes: the bands' phase functions mixed. */
static double scatter_per_sr(const vs_paths *paths, double cosine, vs_bands *phase) {
    double mixed = 0;
    if (paths->one_phase) {
        double p = vs_deflector_per_sr(&paths->deflector[0], cosine);
        *phase = vs_bands_grey(p);
        return p;
    }
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        const vs_deflector *d = &paths->deflector[band];
        phase->v[band] = vs_phase_per_sr(d->phase, cosine);
        mixed += band_share[band] * phase->v[band] / d->whole;
    }
    return mixed;
}

/* Aims at one light from a droplet somewhere on a straight piece.
 * weight  what one unit of in-scattered light at the piece's start is worth */
static void aim_from_piece(walk *w, vs_vec3 start_m, vs_vec3 along, double length_m, double k,
                           vs_bands weight) {
    const vs_paths *paths = w->paths;
    const vs_medium *medium = paths->medium;
    vs_reach reach[VS_BALLOT_MAX];
    vs_ballot b = {.sum = 0, .over_zero = 0};
    size_t drawn;
    for (size_t i = 0; i < paths->emitter_count; i++) {
        reach[i] = vs_reach_make(paths->emitter[i], medium->space, start_m, along, length_m);
        vs_ballot_add(&b, i, reach[i].about);
    }
    if (!vs_ballot_draw(&b, paths->emitter_count, w->random, &drawn)) {
        return;
    }
    const vs_emitter *emitter = paths->emitter[drawn];
    double at_m = vs_reach_draw(&reach[drawn], k, w->random), depth;
    vs_vec3 p_m = vs_vec3_along(start_m, along, at_m);
    vs_aim aim;
    if (!vs_aim_draw(emitter, medium->space, p_m, w->random, &aim)) {
        return;
    }
    double open = vs_aim_open(paths->medium, emitter, p_m, w->room, &aim, &depth);
    if (open == 0) {
        return;
    }
    vs_bands phase, nits;
    double cosine = vs_vec3_dot(along, aim.toward);
    double turn_per_sr = scatter_per_sr(paths, cosine, &phase);
    double per_m = vs_ballot_share(&b, drawn) * vs_reach_per_m(&reach[drawn], k, at_m);
    double mine = per_m * aim.per_sr;
    double share =
        aim.per_sr > 0 ? balance(mine, vs_free_way_per_m(k, length_m, at_m) * turn_per_sr) : 1;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        double ratio = medium->ratio.v[band];
        nits.v[band] = weight.v[band] * medium->haze->albedo.v[band] * ratio * k *
                       exp(-ratio * (k * at_m + depth)) * phase.v[band] * aim.lux.v[band] * open *
                       share / per_m;
    }
    bring_home(w, nits, drawn);
}

static void ballot_at_surface(const vs_paths *paths, vs_vec3 p_m, vs_ballot *b) {
    b->sum = 0;
    b->over_zero = 0;
    for (size_t i = 0; i < paths->emitter_count; i++) {
        vs_ballot_add(b, i, vs_aim_about_lux(paths->emitter[i], paths->medium->space, p_m));
    }
}

/* Aims at one light from a surface; weight is what its luminance per reflectance is worth. */
static void aim_from_surface(walk *w, vs_vec3 p_m, vs_vec3 normal, vs_bands weight) {
    const vs_paths *paths = w->paths;
    vs_ballot b;
    size_t drawn;
    double depth;
    vs_aim aim;
    ballot_at_surface(paths, p_m, &b);
    if (!vs_ballot_draw(&b, paths->emitter_count, w->random, &drawn) ||
        !vs_aim_draw(paths->emitter[drawn], paths->medium->space, p_m, w->random, &aim)) {
        return;
    }
    double cosine = vs_vec3_dot(aim.toward, normal);
    if (cosine <= 0) {
        return;
    }
    double open = vs_aim_open(paths->medium, paths->emitter[drawn], p_m, w->room, &aim, &depth);
    if (open == 0) {
        return;
    }
    double part = vs_ballot_share(&b, drawn);
    double share = aim.per_sr > 0 ? balance(part * aim.per_sr, cosine / VS_PI) : 1;
    vs_bands nits =
        vs_bands_mul(weight, vs_bands_mul(aim.lux, vs_medium_transmission(paths->medium, depth)));
    bring_home(w, vs_bands_scale(nits, open * share * cosine / (VS_PI * part)), drawn);
}

/* Density with which the last turn might have aimed at this place of a rectangle. */
static double aimed_density(const walk *w, size_t i, vs_vec3 direction) {
    const vs_paths *paths = w->paths;
    const turn *last = &w->last;
    vs_ballot b = {.sum = 0, .over_zero = 0};
    if (last->kind == TURN_AT_SURFACE) {
        ballot_at_surface(paths, last->at_m, &b);
        return vs_ballot_share(&b, i) *
               vs_aim_rect_per_sr(paths->emitter[i], last->at_m, direction);
    }
    vs_reach mine = {0};
    for (size_t j = 0; j < paths->emitter_count; j++) {
        vs_reach reach = vs_reach_make(paths->emitter[j], paths->medium->space, last->start_m,
                                       last->along, last->length_m);
        vs_ballot_add(&b, j, reach.about);
        mine = j == i ? reach : mine;
    }
    return vs_ballot_share(&b, i) *
           vs_reach_per_m(&mine, last->extinction_per_m, last->at_along_m) *
           vs_aim_rect_per_sr(paths->emitter[i], last->at_m, direction);
}

/* Rectangles that the way happens to hit on this piece: seen from the last turn. */
static void meet_rectangles(walk *w, double length_m, double k) {
    const vs_paths *paths = w->paths;
    for (size_t i = 0; i < paths->emitter_count; i++) {
        const vs_emitter *emitter = paths->emitter[i];
        bool inside;
        if (emitter->kind != VS_EMITTER_RECT ||
            vs_vec3_dot(w->direction, emitter->rect.normal) >= 0) {
            continue;
        }
        double t = vs_rect_pierced_at(&emitter->rect, w->at_m, w->direction, &inside);
        if (!inside || !(t > HIT_SKIN_M && t <= length_m + HIT_SKIN_M)) {
            continue;
        }
        double taken =
            w->last.kind == TURN_AT_SURFACE ? w->last.per_sr : w->last.per_m * w->last.per_sr;
        double share = balance(taken, aimed_density(w, i, w->direction));
        vs_bands nits = vs_bands_mul(vs_bands_mul(w->weight, emitter->strength),
                                     vs_medium_transmission(paths->medium, k * t));
        bring_home(w, vs_bands_scale(nits, share), i);
    }
}

/* A direction drawn as droplets scatter. */
static vs_vec3 scattered(walk *w, vs_vec3 along) {
    double u = vs_random_uniform(w->random);
    int drawn = u < band_share[0] ? 0 : u < band_share[0] + band_share[1] ? 1 : 2;
    double share = vs_random_uniform(w->random);
    double cosine = vs_deflector_cosine(&w->paths->deflector[drawn], share);
    return vs_vec3_tilted(along, cosine, 2 * VS_PI * vs_random_uniform(w->random));
}

/* The walk turns at a droplet somewhere on the piece. False: it ends there. */
static bool turn_at_droplet(walk *w, double length_m, double k) {
    const vs_paths *paths = w->paths;
    const vs_medium *medium = paths->medium;
    vs_vec3 start_m = w->at_m, along = w->direction;
    double albedo = medium->haze->albedo.v[VS_BAND_GREEN];
    if (w->turns == paths->turn_limit) {
        return false;
    }
    w->turns++;
    aim_from_piece(w, start_m, along, length_m, k, w->weight);
    if (vs_random_uniform(w->random) >= albedo) {
        return false;
    }
    double at_m = vs_free_way_draw(k, length_m, vs_random_uniform(w->random));
    turn last = {.kind = TURN_AT_DROPLET,
                 .at_m = vs_vec3_along(start_m, along, at_m),
                 .start_m = start_m,
                 .along = along,
                 .length_m = length_m,
                 .extinction_per_m = k,
                 .at_along_m = at_m,
                 .per_m = vs_free_way_per_m(k, length_m, at_m)};
    vs_bands phase;
    vs_guide g;
    vs_guide_make(&g, paths->emitter, paths->emitter_count, last.at_m, k);
    bool guided = vs_random_uniform(w->random) < g.share;
    w->direction = guided ? vs_guide_draw(&g, w->random) : scattered(w, along);
    double natural = scatter_per_sr(paths, vs_vec3_dot(along, w->direction), &phase);
    last.per_sr = vs_guide_mixed_per_sr(&g, w->direction, natural);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        double ratio = medium->ratio.v[band];
        w->weight.v[band] *= medium->haze->albedo.v[band] / albedo * ratio * k *
                             exp(-ratio * k * at_m) * phase.v[band] / (last.per_m * last.per_sr);
    }
    w->last = last;
    w->at_m = last.at_m;
    return true;
}

/* Onward from a matt surface, as the cosine law spreads light. False: into the surface. */
static bool leave_surface(walk *w, vs_vec3 p_m, vs_vec3 normal) {
    vs_guide g;
    vs_guide_make(&g, w->paths->emitter, w->paths->emitter_count, p_m,
                  vs_medium_extinction_per_m(w->paths->medium, w->room));
    if (vs_random_uniform(w->random) < g.share) {
        w->direction = vs_guide_draw(&g, w->random);
    } else {
        double cosine = sqrt(vs_random_uniform(w->random));
        w->direction = vs_vec3_tilted(normal, cosine, 2 * VS_PI * vs_random_uniform(w->random));
    }
    double natural = fmax(0, vs_vec3_dot(w->direction, normal)) / VS_PI;
    turn last = {.kind = TURN_AT_SURFACE,
                 .at_m = p_m,
                 .per_sr = vs_guide_mixed_per_sr(&g, w->direction, natural)};
    w->weight = vs_bands_scale(w->weight, natural / last.per_sr);
    w->last = last;
    w->at_m = p_m;
    return natural > 0;
}

/* The walk turns at a matt surface. False: it ends there. */
static bool turn_at_surface(walk *w, vs_vec3 p_m, vs_vec3 normal, double reflectance) {
    if (reflectance <= 0 || w->turns == w->paths->turn_limit) {
        return false;
    }
    w->turns++;
    aim_from_surface(w, p_m, normal, vs_bands_scale(w->weight, reflectance));
    if (vs_random_uniform(w->random) >= reflectance) {
        return false;
    }
    return leave_surface(w, p_m, normal);
}

/* A screen passes, gives back or keeps. False: the walk ends. */
static bool meet_screen(walk *w, size_t i, vs_vec3 p_m) {
    const vs_screen *screen = &w->paths->medium->space->screen[i];
    if (vs_random_uniform(w->random) < screen->transmittance) {
        w->at_m = p_m;
        return true;
    }
    bool front = vs_vec3_dot(w->direction, screen->rect.normal) < 0;
    vs_vec3 normal = vs_vec3_scale(screen->rect.normal, front ? 1 : -1);
    return turn_at_surface(w, p_m, normal, w->paths->surfaces->screen[i]);
}

static bool meet_end(walk *w, const vs_march *next) {
    const vs_space *space = w->paths->medium->space;
    vs_vec3 p_m = vs_vec3_along(w->at_m, w->direction, next->length_m);
    if (next->end == VS_MARCH_SCREEN) {
        return meet_screen(w, next->index, p_m);
    }
    if (next->end == VS_MARCH_PORTAL) {
        const vs_portal *portal = &space->portal[next->index];
        w->at_m = p_m;
        w->room = vs_march_beyond(portal, w->room);
        return vs_random_uniform(w->random) < portal->transmittance;
    }
    if (next->end == VS_MARCH_NOWHERE) {
        return false;
    }
    size_t place = w->room * VS_SURFACE_FACES + (size_t)next->face;
    return turn_at_surface(w, p_m, vs_surfaces_inward(next->face), w->paths->surfaces->face[place]);
}

/* One straight piece of the walk. False: it is over. */
static bool step(walk *w) {
    const vs_medium *medium = w->paths->medium;
    vs_march next = vs_march_on(medium->space, w->at_m, w->direction, w->room);
    double k = vs_medium_extinction_per_m(medium, w->room);
    meet_rectangles(w, next.length_m, k);
    if (k > 0) {
        double passes = exp(-k * next.length_m);
        if (vs_random_uniform(w->random) >= passes) {
            w->weight = vs_bands_scale(w->weight, 1 / (1 - passes));
            return turn_at_droplet(w, next.length_m, k);
        }
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            w->weight.v[band] *= exp(-k * next.length_m * (medium->ratio.v[band] - 1));
        }
    }
    return meet_end(w, &next);
}

static walk begin(const vs_paths *paths, size_t watched, vs_random *random) {
    walk w = {.paths = paths, .random = random, .weight = vs_bands_grey(1), .watched = watched};
    w.light.watched = w.light.rest = vs_bands_grey(0);
    return w;
}

/* Light that a piece of the line of sight would scatter out of a whole one [1]. */
static double piece_share(const vs_sight_piece *p) {
    return p->open * exp(-p->depth) * -expm1(-p->extinction_per_m * (p->to_m - p->from_m));
}

vs_path_light vs_paths_veil(const vs_paths *paths, const vs_sight *sight, size_t watched,
                            vs_random *random) {
    walk w = begin(paths, watched, random);
    double sum = 0;
    for (size_t i = 0; i < sight->piece_count; i++) {
        sum += piece_share(&sight->piece[i]);
    }
    double u = vs_random_uniform(random) * sum;
    for (size_t i = 0; i < sight->piece_count && sum > 0; i++) {
        const vs_sight_piece *p = &sight->piece[i];
        double share = piece_share(p);
        if (u >= share) {
            u -= share;
            continue;
        }
        w.weight =
            vs_bands_scale(vs_medium_transmission(paths->medium, p->depth), p->open * sum / share);
        w.at_m = vs_sight_point(sight, p->from_m);
        w.direction = sight->direction;
        w.room = p->room;
        if (turn_at_droplet(&w, p->to_m - p->from_m, p->extinction_per_m)) {
            while (step(&w)) {
            }
        }
        break;
    }
    return w.light;
}

vs_path_light vs_paths_surface(const vs_paths *paths, vs_vec3 p_m, vs_vec3 normal,
                               double reflectance, size_t watched, vs_random *random) {
    walk w = begin(paths, watched, random);
    /* its room is the one it looks into */
    w.room =
        vs_space_room_at(paths->medium->space, vs_vec3_along(p_m, normal, 2 * VS_SPACE_SKIN_M));
    w.turns = 1;
    if (reflectance <= 0) {
        return w.light;
    }
    w.weight = vs_bands_grey(reflectance);
    aim_from_surface(&w, p_m, normal, w.weight);
    if (leave_surface(&w, p_m, normal)) {
        while (step(&w)) {
        }
    }
    return w.light;
}

/* ---- sums ---- */

void vs_tally_add(vs_tally *tally, vs_bands value) {
    double luminance = vs_bands_luminance(value);
    tally->count += 1;
    tally->sum = vs_bands_add(tally->sum, value);
    tally->luminance += luminance;
    tally->luminance_square += luminance * luminance;
}

void vs_tally_join(vs_tally *tally, const vs_tally *more) {
    tally->count += more->count;
    tally->sum = vs_bands_add(tally->sum, more->sum);
    tally->luminance += more->luminance;
    tally->luminance_square += more->luminance_square;
}

vs_bands vs_tally_mean(const vs_tally *tally) {
    return vs_bands_scale(tally->sum, tally->count > 0 ? 1 / tally->count : 0);
}

double vs_tally_error(const vs_tally *tally) {
    if (!(tally->count > 1)) {
        return 0;
    }
    double mean = tally->luminance / tally->count;
    double variance = tally->luminance_square / tally->count - mean * mean;
    return sqrt(fmax(variance, 0) / (tally->count - 1));
}
