/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Each point and each wanted beam is a job; each job is cut into the same number of chunks, whose
 * random streams depend on the seed, the job and the chunk. Chunks are summed in order. */
#include "veilstop/shot/trust.h"

#include <math.h>
#include <stdlib.h>

#include "shot/sight/camera_setup.h"

#define CHUNK_WALKS     2048.0 /* walks: enough to be worth starting a thread */
#define CHUNK_COUNT_MAX 4096.0 /* chunks of a job: keeps memory small */

/* A point or beam: its line of sight and what it ends at, in the haze. */
typedef struct {
    vs_camera_ray ray;
    vs_bands transmission;
    vs_ray_target target;
    const vs_scene_point *point; /* NULL: a beam */
    vs_bands given_nits;         /* point of a given luminance */
    bool seen;                   /* the line ends at the point itself */
    size_t light;                /* beam */
} job;

typedef union {
    vs_trust_point point;
    vs_trust_beam beam;
} chunk_sums;

typedef struct {
    job *item;
    size_t job_count, chunks_a_job;
    double walks_a_chunk, walks;
    uint64_t seed;
    chunk_sums *sums;               /* job x chunk */
    vs_medium clear_air, hazed_air; /* the media of the walks */
} jobs;

static job point_job(const vs_camera_setup *setup, const vs_scene_point *point,
                     const vs_point_prediction *prediction) {
    job j = {.point = point, .light = SIZE_MAX};
    j.ray = vs_camera_ray_to(&setup->hazed, setup->camera->at_m, point->at_m);
    j.seen = j.ray.end == VS_CAMERA_RAY_AT_POINT;
    j.given_nits = prediction->clear_nits;
    return j;
}

static job beam_job(const vs_camera_setup *setup, const vs_beam_prediction *beam) {
    job j = {.light = beam->light};
    vs_vec3 way = vs_vec3_unit(vs_vec3_sub(beam->near_m, setup->camera->at_m));
    j.ray = vs_camera_ray_along(&setup->hazed, setup->camera->at_m, way, INFINITY);
    return j;
}

static void make_jobs(vs_trust *trust, const vs_camera_setup *setup) {
    jobs *all = trust->memory;
    const vs_scene_shot *shot = setup->shot;
    for (size_t i = 0; i < all->job_count; i++) {
        size_t beam = i - shot->point_count;
        job *j = &all->item[i];
        *j = i < shot->point_count ? point_job(setup, &shot->point[i], &trust->prediction.point[i])
                                   : beam_job(setup, &trust->prediction.beam[beam]);
        j->transmission = vs_camera_ray_transmission(&setup->hazed, &j->ray);
        j->target = vs_camera_setup_target(setup, &j->ray);
        if (j->point && j->seen) {
            bool reflects = j->point->kind == VS_POINT_REFLECTANCE;
            j->target.at_m = j->point->at_m;
            j->target.normal = j->point->facing;
            j->target.reflectance = reflects ? j->point->value : 0;
            j->target.own_nits = reflects ? vs_bands_grey(0) : j->given_nits;
        }
    }
}

static vs_status allocate(vs_trust *trust, double walks, uint64_t seed) {
    size_t points = trust->prediction.shot->point_count, beams = trust->prediction.beam_count;
    jobs *all = calloc(1, sizeof *all);
    trust->memory = all;
    trust->point = calloc(points + 1, sizeof *trust->point);
    trust->beam = calloc(beams + 1, sizeof *trust->beam);
    if (!all || !trust->point || !trust->beam) {
        return VS_ERR_MEMORY;
    }
    all->seed = seed;
    all->walks = walks;
    all->job_count = points + beams;
    all->chunks_a_job = (size_t)fmin(CHUNK_COUNT_MAX, ceil(walks / CHUNK_WALKS));
    all->walks_a_chunk = ceil(walks / (double)all->chunks_a_job);
    all->item = calloc(all->job_count + 1, sizeof *all->item);
    all->sums = calloc(all->job_count * all->chunks_a_job + 1, sizeof *all->sums);
    return all->item && all->sums ? VS_OK : VS_ERR_MEMORY;
}

static vs_status make_paths(vs_trust *trust, const vs_camera_setup *setup) {
    const vs_predictor *predictor = trust->predictor;
    const vs_surfaces *surfaces = &predictor->geometry->surfaces;
    size_t lights = predictor->scene->light_count;
    jobs *all = trust->memory;
    all->clear_air = setup->clear;
    all->hazed_air = setup->hazed;
    vs_status status =
        vs_path_tracer_init(&trust->clear, &all->clear_air, surfaces, predictor->clear_light,
                            lights, VS_PATH_TRACER_ALL_ORDERS);
    return status == VS_OK
               ? vs_path_tracer_init(&trust->hazed, &all->hazed_air, surfaces,
                                     predictor->hazed_light, lights, VS_PATH_TRACER_ALL_ORDERS)
               : status;
}

double vs_trust_depth(const vs_scene *scene, const double *room_extinction_per_m, size_t *room) {
    double most = 0;
    *room = 0;
    for (size_t r = 0; r < scene->room_count; r++) {
        double depth = room_extinction_per_m[r] * vs_vec3_length(scene->room[r].size_m);
        *room = depth > most ? r : *room;
        most = fmax(most, depth);
    }
    return most;
}

vs_status vs_trust_init(vs_trust *trust, vs_predictor *predictor, size_t shot,
                        const double *room_extinction_per_m, double walks, uint64_t seed) {
    const vs_trust blank = {.predictor = predictor, .walks = walks};
    *trust = blank;
    if (!(walks >= VS_TRUST_WALKS_MIN && walks <= VS_TRUST_WALKS_MAX)) {
        return VS_ERR_DOMAIN;
    }
    vs_status status = vs_predict_shot(predictor, shot, room_extinction_per_m, &trust->prediction);
    if (status != VS_OK) {
        return status;
    }
    size_t thickest;
    if (!(vs_trust_depth(predictor->scene, trust->prediction.room_extinction_per_m, &thickest) <=
          VS_TRUST_DEPTH_MAX)) {
        return VS_ERR_UNREACHABLE;
    }
    vs_camera_setup setup = vs_camera_setup_make(predictor, trust->prediction.shot,
                                                 trust->prediction.room_extinction_per_m);
    status = allocate(trust, walks, seed);
    if (status == VS_OK) {
        status = make_paths(trust, &setup);
    }
    if (status == VS_OK) {
        make_jobs(trust, &setup);
    } else {
        vs_trust_free(trust);
    }
    return status;
}

void vs_trust_free(vs_trust *trust) {
    const vs_trust blank = {0};
    jobs *all = trust->memory;
    vs_path_tracer_free(&trust->clear);
    vs_path_tracer_free(&trust->hazed);
    if (all) {
        free(all->item);
        free(all->sums);
    }
    free(all);
    free(trust->point);
    free(trust->beam);
    vs_shot_prediction_free(&trust->prediction);
    *trust = blank;
}

size_t vs_trust_chunk_count(const vs_trust *trust) {
    const jobs *all = trust->memory;
    return all->job_count * all->chunks_a_job;
}

/* One walk from what a line of sight ends at. */
static vs_bands walk_to_target(const vs_path_tracer *paths, const vs_ray_target *target,
                               vs_random *random) {
    if (target->reflectance <= 0) {
        return target->own_nits;
    }
    vs_path_light light = vs_path_tracer_surface(paths, target->at_m, target->normal,
                                                 target->reflectance, SIZE_MAX, random);
    return light.rest;
}

static vs_bands walk_in_clear_air(const vs_trust *trust, const job *j, vs_random *random) {
    if (j->point->kind != VS_POINT_REFLECTANCE) {
        return j->given_nits;
    }
    vs_path_light light = vs_path_tracer_surface(&trust->clear, j->point->at_m, j->point->facing,
                                                 j->point->value, SIZE_MAX, random);
    return light.rest;
}

static void walk_point(const vs_trust *trust, const job *j, vs_random *random,
                       vs_trust_point *sums) {
    vs_bands clear = walk_in_clear_air(trust, j, random);
    vs_bands surface = walk_to_target(&trust->hazed, &j->target, random);
    vs_bands veil = vs_path_tracer_veil(&trust->hazed, &j->ray, SIZE_MAX, random).rest;
    vs_tally_add(&sums->clear, clear);
    vs_tally_add(&sums->surface, surface);
    vs_tally_add(&sums->veil, veil);
    vs_tally_add(&sums->hazed, vs_bands_add(vs_bands_mul(surface, j->transmission), veil));
}

/* A light through several openings is followed part by part; its background is everything else. */
static void walk_beam(const vs_trust *trust, const job *j, vs_random *random, vs_trust_beam *sums) {
    const vs_scene *scene = trust->predictor->scene;
    vs_bands beam = vs_bands_grey(0), all = beam;
    double parts = 0;
    for (size_t i = 0; i < scene->light_count; i++) {
        if (vs_light_whole(scene, i) == j->light) {
            vs_path_light veil = vs_path_tracer_veil(&trust->hazed, &j->ray, i, random);
            beam = vs_bands_add(beam, veil.watched);
            all = vs_bands_add(all, vs_bands_add(veil.watched, veil.rest));
            parts++;
        }
    }
    vs_bands end = vs_bands_mul(walk_to_target(&trust->hazed, &j->target, random), j->transmission);
    vs_bands rest = vs_bands_add(vs_bands_scale(all, 1 / parts), vs_bands_scale(beam, -1));
    vs_tally_add(&sums->beam, beam);
    vs_tally_add(&sums->background, vs_bands_add(rest, end));
}

void vs_trust_run_chunk(const vs_trust *trust, size_t chunk) {
    const jobs *all = trust->memory;
    const job *j = &all->item[chunk / all->chunks_a_job];
    double before = (double)(chunk % all->chunks_a_job) * all->walks_a_chunk;
    double count = fmin(all->walks_a_chunk, all->walks - before);
    vs_random random = vs_random_make(all->seed, chunk);
    chunk_sums sums = {0};
    for (double i = 0; i < count; i++) {
        if (j->point) {
            walk_point(trust, j, &random, &sums.point);
        } else {
            walk_beam(trust, j, &random, &sums.beam);
        }
    }
    all->sums[chunk] = sums;
}

static void join_point(vs_trust_point *sum, const vs_trust_point *more) {
    vs_tally_join(&sum->clear, &more->clear);
    vs_tally_join(&sum->surface, &more->surface);
    vs_tally_join(&sum->veil, &more->veil);
    vs_tally_join(&sum->hazed, &more->hazed);
}

void vs_trust_finish(vs_trust *trust) {
    const jobs *all = trust->memory;
    size_t points = trust->prediction.shot->point_count;
    for (size_t chunk = 0; chunk < vs_trust_chunk_count(trust); chunk++) {
        size_t i = chunk / all->chunks_a_job;
        if (i < points) {
            join_point(&trust->point[i], &all->sums[chunk].point);
        } else {
            vs_tally_join(&trust->beam[i - points].beam, &all->sums[chunk].beam.beam);
            vs_tally_join(&trust->beam[i - points].background, &all->sums[chunk].beam.background);
        }
    }
}
