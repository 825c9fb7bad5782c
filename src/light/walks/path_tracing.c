/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A path goes from the eye to the lights. Straight paths are cut at rooms' walls; on each segment
 * the walk either meets a droplet, drawn with the density of free paths, or goes on to what ends
 * the segment. At every vertex one light is sampled (next-event estimation); where the direction
 * that a vertex draws hits a shining rectangle, both estimates are weighed by the balance heuristic
 * (Veach 1997, 9.2). */
#include "veilstop/light/path_tracing.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "light/geometry/ray_casting.h"
#include "light/lamps/light_sampling.h"
#include "light/walks/path_guiding.h"
#include "veilstop/base/units.h"

#define HIT_SKIN_M 1e-6 /* [m] a rectangle nearer than this to a vertex is the one it lies on */

/* Share of draws by band for a scattering angle: any would do; these keep each weight under 4. */
static const double band_share[VS_BAND_COUNT] = {0.25, 0.5, 0.25};

/* ---- making ready ---- */

static bool same_phase(const vs_phase *a, const vs_phase *b) {
    return a->kind == VS_PHASE_HENYEY_GREENSTEIN && b->kind == VS_PHASE_HENYEY_GREENSTEIN &&
           a->g == b->g;
}

static vs_status collect_emitters(vs_path_tracer *paths, const vs_emitter *emitter, size_t count) {
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
    return paths->emitter_count <= VS_LIGHT_SELECTION_MAX ? VS_OK : VS_ERR_DOMAIN;
}

vs_status vs_path_tracer_init(vs_path_tracer *paths, const vs_medium *medium,
                              const vs_surfaces *surfaces, const vs_emitter *emitter,
                              size_t emitter_count, size_t vertex_limit) {
    const vs_path_tracer blank = {
        .medium = medium, .surfaces = surfaces, .vertex_limit = vertex_limit};
    const vs_phase *phase = medium->haze->phase;
    size_t trap;
    *paths = blank;
    vs_status status = vs_surfaces_light_trap(medium->space, surfaces, &trap);
    if (status == VS_OK && trap != VS_SPACE_OUTSIDE) {
        status = VS_ERR_DOMAIN;
    }
    if (status == VS_OK) {
        status = collect_emitters(paths, emitter, emitter_count);
    }
    for (int band = 0; band < VS_BAND_COUNT && status == VS_OK; band++) {
        status = vs_phase_sampler_init(&paths->phase_sampler[band], &phase[band]);
    }
    paths->one_phase = same_phase(&phase[0], &phase[1]) && same_phase(&phase[1], &phase[2]);
    if (status != VS_OK) {
        vs_path_tracer_free(paths);
    }
    return status;
}

void vs_path_tracer_free(vs_path_tracer *paths) {
    const vs_path_tracer blank = {0};
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        vs_phase_sampler_free(&paths->phase_sampler[band]);
    }
    free(paths->emitter);
    free(paths->emitter_index);
    *paths = blank;
}

/* ---- the walk ---- */

/* The last vertex of the path: how else its direction might have been drawn. */
typedef enum { VERTEX_AT_SURFACE, VERTEX_AT_DROPLET } vertex_kind;

typedef struct {
    vertex_kind kind;
    vs_vec3 at_m;
    vs_vec3 start_m, along; /* DROPLET: the straight segment it was met on */
    double length_m, extinction_per_m;
    double at_along_m;
    double per_m, per_sr; /* densities of the distance and the direction taken */
} vertex;

typedef struct {
    const vs_path_tracer *paths;
    vs_random *random;
    vs_vec3 at_m, direction;
    size_t room;
    vs_bands weight;
    size_t vertices;
    size_t watched;
    vertex last;
    vs_path_light light;
} walk;

static void bring_home(walk *w, vs_bands nits, size_t emitter) {
    bool watched = w->vertices == 1 && w->paths->emitter_index[emitter] == w->watched;
    vs_bands *sum = watched ? &w->light.watched : &w->light.rest;
    *sum = vs_bands_add(*sum, nits);
}

static double balance(double mine, double other) {
    return mine / (mine + other);
}

/* Density of the direction that a droplet scatters into: the bands' phase functions mixed. */
static double scatter_per_sr(const vs_path_tracer *paths, double cosine, vs_bands *phase) {
    double mixed = 0;
    if (paths->one_phase) {
        double p = vs_phase_sampler_per_sr(&paths->phase_sampler[0], cosine);
        *phase = vs_bands_grey(p);
        return p;
    }
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        const vs_phase_sampler *d = &paths->phase_sampler[band];
        phase->v[band] = vs_phase_per_sr(d->phase, cosine);
        mixed += band_share[band] * phase->v[band] / d->whole;
    }
    return mixed;
}

/* Samples one light (next-event estimation) from a droplet somewhere on a straight segment.
 * weight  what one unit of in-scattered light at the segment's start is worth */
static void sample_light_on_segment(walk *w, vs_vec3 start_m, vs_vec3 along, double length_m,
                                    double k, vs_bands weight) {
    const vs_path_tracer *paths = w->paths;
    const vs_medium *medium = paths->medium;
    vs_distance_sampler distances[VS_LIGHT_SELECTION_MAX];
    vs_light_selection b = {.sum = 0, .over_zero = 0};
    size_t drawn;
    for (size_t i = 0; i < paths->emitter_count; i++) {
        distances[i] =
            vs_distance_sampler_make(paths->emitter[i], medium->space, start_m, along, length_m);
        vs_light_selection_add(&b, i, distances[i].about);
    }
    if (!vs_light_selection_draw(&b, paths->emitter_count, w->random, &drawn)) {
        return;
    }
    const vs_emitter *emitter = paths->emitter[drawn];
    double at_m = vs_distance_sampler_draw(&distances[drawn], k, w->random), depth;
    vs_vec3 p_m = vs_vec3_along(start_m, along, at_m);
    vs_light_sample sample;
    if (!vs_light_sample_draw(emitter, medium->space, p_m, w->random, &sample)) {
        return;
    }
    double open =
        vs_light_sample_transmittance(paths->medium, emitter, p_m, w->room, &sample, &depth);
    if (open == 0) {
        return;
    }
    vs_bands phase, nits;
    double cosine = vs_vec3_dot(along, sample.toward);
    double droplet_per_sr = scatter_per_sr(paths, cosine, &phase);
    double per_m = vs_light_selection_probability(&b, drawn) *
                   vs_distance_sampler_per_m(&distances[drawn], k, at_m);
    double mine = per_m * sample.per_sr;
    double share = sample.per_sr > 0
                       ? balance(mine, vs_free_path_per_m(k, length_m, at_m) * droplet_per_sr)
                       : 1;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        double ratio = medium->ratio.v[band];
        nits.v[band] = weight.v[band] * medium->haze->albedo.v[band] * ratio * k *
                       exp(-ratio * (k * at_m + depth)) * phase.v[band] * sample.lux.v[band] *
                       open * share / per_m;
    }
    bring_home(w, nits, drawn);
}

static void light_selection_at_surface(const vs_path_tracer *paths, vs_vec3 p_m,
                                       vs_light_selection *b) {
    b->sum = 0;
    b->over_zero = 0;
    for (size_t i = 0; i < paths->emitter_count; i++) {
        vs_light_selection_add(
            b, i, vs_light_sample_about_lux(paths->emitter[i], paths->medium->space, p_m));
    }
}

/* Samples one light (next-event estimation) from a surface; weight is what its luminance per
 * reflectance is worth. */
static void sample_light_at_surface(walk *w, vs_vec3 p_m, vs_vec3 normal, vs_bands weight) {
    const vs_path_tracer *paths = w->paths;
    vs_light_selection b;
    size_t drawn;
    double depth;
    vs_light_sample sample;
    light_selection_at_surface(paths, p_m, &b);
    if (!vs_light_selection_draw(&b, paths->emitter_count, w->random, &drawn) ||
        !vs_light_sample_draw(paths->emitter[drawn], paths->medium->space, p_m, w->random,
                              &sample)) {
        return;
    }
    double cosine = vs_vec3_dot(sample.toward, normal);
    if (cosine <= 0) {
        return;
    }
    double open = vs_light_sample_transmittance(paths->medium, paths->emitter[drawn], p_m, w->room,
                                                &sample, &depth);
    if (open == 0) {
        return;
    }
    double part = vs_light_selection_probability(&b, drawn);
    double share = sample.per_sr > 0 ? balance(part * sample.per_sr, cosine / VS_PI) : 1;
    vs_bands nits = vs_bands_mul(
        weight, vs_bands_mul(sample.lux, vs_medium_transmission(paths->medium, depth)));
    bring_home(w, vs_bands_scale(nits, open * share * cosine / (VS_PI * part)), drawn);
}

/* Density with which the last vertex might have sampled this place of a rectangle. */
static double light_sampling_density(const walk *w, size_t i, vs_vec3 direction) {
    const vs_path_tracer *paths = w->paths;
    const vertex *last = &w->last;
    vs_light_selection b = {.sum = 0, .over_zero = 0};
    if (last->kind == VERTEX_AT_SURFACE) {
        light_selection_at_surface(paths, last->at_m, &b);
        return vs_light_selection_probability(&b, i) *
               vs_light_sample_rect_per_sr(paths->emitter[i], last->at_m, direction);
    }
    vs_distance_sampler mine = {0};
    for (size_t j = 0; j < paths->emitter_count; j++) {
        vs_distance_sampler distances = vs_distance_sampler_make(
            paths->emitter[j], paths->medium->space, last->start_m, last->along, last->length_m);
        vs_light_selection_add(&b, j, distances.about);
        mine = j == i ? distances : mine;
    }
    return vs_light_selection_probability(&b, i) *
           vs_distance_sampler_per_m(&mine, last->extinction_per_m, last->at_along_m) *
           vs_light_sample_rect_per_sr(paths->emitter[i], last->at_m, direction);
}

/* Shining rectangles that this segment happens to hit, seen from the last vertex. */
static void meet_rectangles(walk *w, double length_m, double k) {
    const vs_path_tracer *paths = w->paths;
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
            w->last.kind == VERTEX_AT_SURFACE ? w->last.per_sr : w->last.per_m * w->last.per_sr;
        double share = balance(taken, light_sampling_density(w, i, w->direction));
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
    double cosine = vs_phase_sampler_cosine(&w->paths->phase_sampler[drawn], share);
    return vs_vec3_tilted(along, cosine, 2 * VS_PI * vs_random_uniform(w->random));
}

/* The path scatters at a droplet somewhere on the segment. False: it ends there. */
static bool scatter_at_droplet(walk *w, double length_m, double k) {
    const vs_path_tracer *paths = w->paths;
    const vs_medium *medium = paths->medium;
    vs_vec3 start_m = w->at_m, along = w->direction;
    double albedo = medium->haze->albedo.v[VS_BAND_GREEN];
    if (w->vertices == paths->vertex_limit) {
        return false;
    }
    w->vertices++;
    sample_light_on_segment(w, start_m, along, length_m, k, w->weight);
    if (vs_random_uniform(w->random) >= albedo) {
        return false;
    }
    double at_m = vs_free_path_draw(k, length_m, vs_random_uniform(w->random));
    vertex last = {.kind = VERTEX_AT_DROPLET,
                   .at_m = vs_vec3_along(start_m, along, at_m),
                   .start_m = start_m,
                   .along = along,
                   .length_m = length_m,
                   .extinction_per_m = k,
                   .at_along_m = at_m,
                   .per_m = vs_free_path_per_m(k, length_m, at_m)};
    vs_bands phase;
    vs_path_guide g;
    vs_path_guide_make(&g, paths->emitter, paths->emitter_count, last.at_m, k);
    bool guided = vs_random_uniform(w->random) < g.share;
    w->direction = guided ? vs_path_guide_draw(&g, w->random) : scattered(w, along);
    double natural = scatter_per_sr(paths, vs_vec3_dot(along, w->direction), &phase);
    last.per_sr = vs_path_guide_mixed_per_sr(&g, w->direction, natural);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        double ratio = medium->ratio.v[band];
        w->weight.v[band] *= medium->haze->albedo.v[band] / albedo * ratio * k *
                             exp(-ratio * k * at_m) * phase.v[band] / (last.per_m * last.per_sr);
    }
    w->last = last;
    w->at_m = last.at_m;
    return true;
}

/* A new direction from a matt surface, by the cosine law. False: into the surface. */
static bool leave_surface(walk *w, vs_vec3 p_m, vs_vec3 normal) {
    vs_path_guide g;
    vs_path_guide_make(&g, w->paths->emitter, w->paths->emitter_count, p_m,
                       vs_medium_extinction_per_m(w->paths->medium, w->room));
    if (vs_random_uniform(w->random) < g.share) {
        w->direction = vs_path_guide_draw(&g, w->random);
    } else {
        double cosine = sqrt(vs_random_uniform(w->random));
        w->direction = vs_vec3_tilted(normal, cosine, 2 * VS_PI * vs_random_uniform(w->random));
    }
    double natural = fmax(0, vs_vec3_dot(w->direction, normal)) / VS_PI;
    vertex last = {.kind = VERTEX_AT_SURFACE,
                   .at_m = p_m,
                   .per_sr = vs_path_guide_mixed_per_sr(&g, w->direction, natural)};
    w->weight = vs_bands_scale(w->weight, natural / last.per_sr);
    w->last = last;
    w->at_m = p_m;
    return natural > 0;
}

/* The path scatters at a matt surface. False: it ends there. */
static bool scatter_at_surface(walk *w, vs_vec3 p_m, vs_vec3 normal, double reflectance) {
    if (reflectance <= 0 || w->vertices == w->paths->vertex_limit) {
        return false;
    }
    w->vertices++;
    sample_light_at_surface(w, p_m, normal, vs_bands_scale(w->weight, reflectance));
    if (vs_random_uniform(w->random) >= reflectance) {
        return false;
    }
    return leave_surface(w, p_m, normal);
}

/* A blocker transmits, reflects or absorbs. False: the path ends. */
static bool meet_blocker(walk *w, size_t i, vs_vec3 p_m) {
    const vs_blocker *blocker = &w->paths->medium->space->blocker[i];
    if (vs_random_uniform(w->random) < blocker->transmittance) {
        w->at_m = p_m;
        return true;
    }
    bool front = vs_vec3_dot(w->direction, blocker->rect.normal) < 0;
    vs_vec3 normal = vs_vec3_scale(blocker->rect.normal, front ? 1 : -1);
    return scatter_at_surface(w, p_m, normal, w->paths->surfaces->blocker[i]);
}

static bool meet_end(walk *w, const vs_ray_event *next) {
    const vs_space *space = w->paths->medium->space;
    vs_vec3 p_m = vs_vec3_along(w->at_m, w->direction, next->length_m);
    if (next->end == VS_RAY_MEETS_BLOCKER) {
        return meet_blocker(w, next->index, p_m);
    }
    if (next->end == VS_RAY_MEETS_OPENING) {
        const vs_opening *opening = &space->opening[next->index];
        w->at_m = p_m;
        w->room = vs_opening_beyond(opening, w->room);
        return vs_random_uniform(w->random) < opening->transmittance;
    }
    if (next->end == VS_RAY_MEETS_NOTHING) {
        return false;
    }
    size_t place = w->room * VS_SURFACE_FACES + (size_t)next->face;
    return scatter_at_surface(w, p_m, vs_surfaces_inward(next->face),
                              w->paths->surfaces->face[place]);
}

/* One segment of the path. False: it ends. */
static bool step(walk *w) {
    const vs_medium *medium = w->paths->medium;
    vs_ray_event next = vs_ray_next_event(medium->space, w->at_m, w->direction, w->room);
    double k = vs_medium_extinction_per_m(medium, w->room);
    meet_rectangles(w, next.length_m, k);
    if (k > 0) {
        double passes = exp(-k * next.length_m);
        if (vs_random_uniform(w->random) >= passes) {
            w->weight = vs_bands_scale(w->weight, 1 / (1 - passes));
            return scatter_at_droplet(w, next.length_m, k);
        }
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            w->weight.v[band] *= exp(-k * next.length_m * (medium->ratio.v[band] - 1));
        }
    }
    return meet_end(w, &next);
}

static walk begin(const vs_path_tracer *paths, size_t watched, vs_random *random) {
    walk w = {.paths = paths, .random = random, .weight = vs_bands_grey(1), .watched = watched};
    w.light.watched = w.light.rest = vs_bands_grey(0);
    return w;
}

/* Share of unit light that a segment of the line of sight would scatter [1]. */
static double segment_share(const vs_ray_segment *p) {
    return p->open * exp(-p->depth) * -expm1(-p->extinction_per_m * (p->to_m - p->from_m));
}

vs_path_light vs_path_tracer_veil(const vs_path_tracer *paths, const vs_camera_ray *ray,
                                  size_t watched, vs_random *random) {
    walk w = begin(paths, watched, random);
    double sum = 0;
    for (size_t i = 0; i < ray->segment_count; i++) {
        sum += segment_share(&ray->segment[i]);
    }
    double u = vs_random_uniform(random) * sum;
    for (size_t i = 0; i < ray->segment_count && sum > 0; i++) {
        const vs_ray_segment *p = &ray->segment[i];
        double share = segment_share(p);
        if (u >= share) {
            u -= share;
            continue;
        }
        w.weight =
            vs_bands_scale(vs_medium_transmission(paths->medium, p->depth), p->open * sum / share);
        w.at_m = vs_camera_ray_point(ray, p->from_m);
        w.direction = ray->direction;
        w.room = p->room;
        if (scatter_at_droplet(&w, p->to_m - p->from_m, p->extinction_per_m)) {
            while (step(&w)) {
            }
        }
        break;
    }
    return w.light;
}

vs_path_light vs_path_tracer_surface(const vs_path_tracer *paths, vs_vec3 p_m, vs_vec3 normal,
                                     double reflectance, size_t watched, vs_random *random) {
    walk w = begin(paths, watched, random);
    /* its room is the one it looks into */
    w.room =
        vs_space_room_at(paths->medium->space, vs_vec3_along(p_m, normal, 2 * VS_SPACE_SKIN_M));
    w.vertices = 1;
    if (reflectance <= 0) {
        return w.light;
    }
    w.weight = vs_bands_grey(reflectance);
    sample_light_at_surface(&w, p_m, normal, w.weight);
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
