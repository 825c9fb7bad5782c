/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The veil of one light on a line of sight, three ways on the same rays in one run on one core: the
 * fast integral, adaptive quadrature asked for 0.5 %, and plain marching in as many equal steps as
 * bring 19 rays in 20 within 0.5 %. Beside it the machine's own limit: nodes x one vector exp. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "base/lanes.h"
#include "check.h"
#include "rays.h"
#include "spread.h"
#include "veilstop/light/airlight_fast.h"
#include "veilstop/light/shaft.h"

#define PLACES       12   /* random locations of a kind */
#define LINES        48   /* lines in each, the dark ones dropped */
#define REPEATS      7    /* of which the median counts */
#define SAME         5e-3 /* [1] the accuracy that is compared */
#define STEPS_FIRST  16
#define STEPS_LAST   16384
#define MARCH_SHARE  0.95
#define MARCHED      40 /* lines of a kind that are marched */
#define DARK_OF_GREY 1e-6
#define EXPS         4096
#define POINT_FINE   0.5

static double seconds(void) {
    struct timespec now;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static volatile double sink;

LANES_CLONES static void exp_all(const double *x, double *y) {
    for (int i = 0; i < EXPS; i++) {
        y[i] = lane_exp(x[i]);
    }
}

static double vector_exp_ns(void) {
    static double x[EXPS], y[EXPS];
    double best = INFINITY;
    for (int i = 0; i < EXPS; i++) {
        x[i] = -10.0 * i / EXPS;
    }
    for (int k = 0; k < 200; k++) {
        double start = seconds();
        exp_all(x, y);
        best = fmin(best, seconds() - start);
        sink = y[k];
    }
    return best / EXPS * 1e9;
}

static double plain_exp_ns(void) {
    double best = INFINITY, sum = 0;
    for (int k = 0; k < 50; k++) {
        double start = seconds();
        for (int i = 0; i < EXPS; i++) {
            sum += exp(-10.0 * i / EXPS - k * 1e-9);
        }
        best = fmin(best, seconds() - start);
    }
    sink = sum;
    return best / EXPS * 1e9;
}

/* One light, lines that it lights, and their veils. */
static ray_case place[PLACES];
static vs_bands veil[RAY_LINES_MAX];

static size_t gather(vs_airlight *work, ray_kind kind, const ray_hazes *hazes) {
    random_stream r = {77 + (uint64_t)kind};
    size_t rays = 0;
    for (int p = 0; p < PLACES; p++) {
        ray_case *c = &place[p];
        ray_case_make(c, &r, kind, hazes, LINES);
        if (vs_airlight_fast_many(work, &c->room.medium, &c->emitter, c->sight, c->count, veil) !=
            VS_OK) {
            exit(1);
        }
        size_t kept = 0;
        for (size_t i = 0; i < c->count; i++) {
            if (vs_bands_luminance(veil[i]) > DARK_OF_GREY * RAY_GREY_NITS) {
                c->sight[kept++] = c->sight[i];
            }
        }
        c->count = kept;
        rays += kept;
    }
    return rays;
}

static double fast_run(vs_airlight *work, size_t rays) {
    int loops = 1 + (int)(20000 / rays);
    double start = seconds();
    for (int k = 0; k < loops; k++) {
        for (int p = 0; p < PLACES; p++) {
            const ray_case *c = &place[p];
            if (vs_airlight_fast_many(work, &c->room.medium, &c->emitter, c->sight, c->count,
                                      veil) != VS_OK) {
                exit(1);
            }
            sink = veil[0].v[1];
        }
    }
    return (seconds() - start) / loops;
}

static double adaptive_run(vs_airlight *work) {
    double start = seconds();
    for (int p = 0; p < PLACES; p++) {
        const ray_case *c = &place[p];
        for (size_t i = 0; i < c->count; i++) {
            if (vs_airlight_adaptive(work, &c->room.medium, &c->sight[i], &c->emitter, SAME,
                                     &veil[0]) != VS_OK) {
                exit(1);
            }
        }
    }
    return seconds() - start;
}

/* Light of a point source that reaches a place, times what it scatters towards the camera. */
static void add_point(const vs_medium *medium, const vs_camera_ray *sight,
                      const vs_ray_segment *segment, const vs_point_source *source, vs_vec3 q,
                      double depth, double step_m, vs_bands *nits) {
    vs_vec3 way = vs_vec3_sub(q, source->at_m);
    double way_m = fmax(vs_vec3_length(way), VS_SHAFT_APART_MIN_M);
    vs_vec3 direction = vs_vec3_scale(way, 1 / way_m);
    double profile = vs_point_source_profile(source, direction);
    if (profile <= 0) {
        return;
    }
    double open = 1, behind = segment->extinction_per_m * way_m;
    if (source->emitter->room != segment->room || medium->space->blocker_count > 0) {
        open = vs_space_passage(medium->space, source->at_m, q).transmittance;
        behind =
            vs_space_optical_depth(medium->space, medium->room_extinction_per_m, source->at_m, q);
    }
    if (open == 0) {
        return;
    }
    double cosine = -vs_vec3_dot(direction, sight->direction);
    vs_bands through = vs_medium_transmission(medium, depth + behind);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        nits->v[band] += medium->haze->albedo.v[band] * medium->ratio.v[band] *
                         segment->extinction_per_m * segment->open * open *
                         source->candela.v[band] * profile *
                         vs_phase_per_sr(&medium->haze->phase[band], cosine) * through.v[band] /
                         (way_m * way_m) * step_m;
    }
}

/* Marching: the line in equal steps, each seen from its middle. */
static vs_bands march(const vs_point_sources *sources, const ray_case *c,
                      const vs_camera_ray *sight, int steps) {
    vs_bands nits = vs_bands_grey(0);
    double step_m = sight->length_m / steps;
    size_t p = 0;
    for (int i = 0; i < steps; i++) {
        double x = (i + 0.5) * step_m;
        while (p + 1 < sight->segment_count && x > sight->segment[p].to_m) {
            p++;
        }
        const vs_ray_segment *segment = &sight->segment[p];
        double depth = segment->depth + segment->extinction_per_m * (x - segment->from_m);
        vs_vec3 q = vs_camera_ray_point(sight, x);
        for (size_t k = 0; k < sources->count; k++) {
            add_point(&c->room.medium, sight, segment, &sources->item[k], q, depth, step_m, &nits);
        }
    }
    return nits;
}

/* The fewest steps that bring 19 rays in 20 within 0.5 %, and the time a ray takes then. */
static double march_ns(vs_airlight *work, int *steps) {
    static double error[PLACES * LINES];
    vs_point_sources sources;
    double took = 0;
    vs_point_sources_init(&sources);
    for (*steps = STEPS_FIRST; *steps <= STEPS_LAST; *steps *= 2) {
        size_t count = 0;
        took = 0;
        for (int i = 0; i < LINES && count < MARCHED; i++) {
            for (int p = 0; p < PLACES && count < MARCHED; p++) {
                const ray_case *c = &place[p];
                if ((size_t)i >= c->count) {
                    continue;
                }
                const vs_camera_ray *sight = &c->sight[i];
                vs_bands want;
                if (vs_airlight_fast(work, &c->room.medium, sight, &c->emitter, &want) != VS_OK) {
                    exit(1);
                }
                double start = seconds();
                if (vs_emitter_points(&c->emitter, sight->at_m,
                                      vs_camera_ray_point(sight, sight->length_m), POINT_FINE,
                                      &sources) != VS_OK) {
                    exit(1);
                }
                vs_bands got = march(&sources, c, sight, *steps);
                took += seconds() - start;
                error[count++] = fabs(vs_bands_luminance(got) / vs_bands_luminance(want) - 1);
            }
        }
        took /= (double)count;
        if (spread_quantile(error, count, MARCH_SHARE) <= SAME) {
            break;
        }
    }
    vs_point_sources_free(&sources);
    return took * 1e9;
}

static double median_of(double *value) {
    return spread_quantile(value, REPEATS, 0.5);
}

int main(void) {
    static ray_hazes hazes;
    vs_airlight work;
    double exp_ns, all_fast = 0, all_adaptive = 0, all_march = 0, all_fast_marched = 0;
    tests_begin();
    CHECK_OK(vs_airlight_init(&work));
    ray_hazes_make(&hazes);
    exp_ns = vector_exp_ns();
    printf("veil of one light on one line, one core; vector exp %.2f ns (libm %.2f ns)\n", exp_ns,
           plain_exp_ns());
    printf("%-20s %5s %9s %9s %7s %11s %7s %11s %7s %7s\n", "light", "rays", "fast ns", "limit ns",
           "nodes", "adaptive ns", "times", "marching ns", "times", "steps");
    for (int kind = 0; kind < RAY_KINDS; kind++) {
        if (kind == RAY_SUN) {
            continue; /* a closed form in all three */
        }
        size_t rays = gather(&work, (ray_kind)kind, &hazes);
        double fast[REPEATS], adaptive[REPEATS], a_ray = 1e9 / (double)rays;
        int repeats = ray_kind_is_surface((ray_kind)kind) ? 1 : REPEATS, steps;
        for (int k = 0; k < REPEATS; k++) {
            fast[k] = fast_run(&work, rays);
            adaptive[k] = k < repeats ? adaptive_run(&work) : adaptive[0];
        }
        work.nodes = 0;
        int loops = 1 + (int)(20000 / rays);
        fast_run(&work, rays);
        double nodes = (double)work.nodes / (double)rays / loops;
        double fast_ns = median_of(fast) * a_ray, adaptive_ns = median_of(adaptive) * a_ray;
        double marching_ns = march_ns(&work, &steps);
        bool reached = steps <= STEPS_LAST;
        printf("%-20s %5zu %9.0f %9.0f %7.0f %11.0f %7.0f %11.0f %7.0f %6d%s\n",
               ray_kind_name((ray_kind)kind), rays, fast_ns, nodes * exp_ns, nodes, adaptive_ns,
               adaptive_ns / fast_ns, marching_ns, marching_ns / fast_ns,
               reached ? steps : STEPS_LAST, reached ? "" : "+");
        all_fast += median_of(fast);
        all_adaptive += median_of(adaptive);
        all_march += marching_ns / a_ray;
        all_fast_marched += fast_ns / a_ray;
    }
    printf("all: fast is %.0f times as fast as adaptive quadrature, %.0f times as marching\n",
           all_adaptive / all_fast, all_march / all_fast_marched);
    ray_hazes_free(&hazes);
    vs_airlight_free(&work);
    return 0;
}
