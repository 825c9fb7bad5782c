/* The vector routines under indirect light, each held against its plain form: phase functions,
 * legs past screens and through haze, droplets. Rooms and hazes here are invented. */
#include "check.h"

#include <math.h>
#include <stdlib.h>

#include "light/kernel_droplets.h"
#include "light/kernel_legs.h"
#include "light/kernel_phase.h"
#include "light/views.h"
#include "rays.h"
#include "veilstop/light/radiosity.h"

#define SAMPLES 2000

static vs_vec3 random_place(random_stream *r, const vs_box *box) {
    vs_vec3 p = {random_uniform(r, box->low_m.x, box->high_m.x),
                 random_uniform(r, box->low_m.y, box->high_m.y),
                 random_uniform(r, box->low_m.z, box->high_m.z)};
    return p;
}

static void check_phase(const vs_phase *phase, random_stream *r) {
    for (int i = 0; i < SAMPLES; i++) {
        double cosine[LANES] = {1, -1, 0, 1 - 1e-9, 1e-9 - 1}, got[LANES];
        for (int l = 5; l < LANES; l++) {
            cosine[l] = random_uniform(r, -1, 1);
        }
        lanes_phase(phase, cosine, got);
        for (int l = 0; l < LANES; l++) {
            CHECK_NEAR(got[l], vs_phase_per_sr(phase, cosine[l]), 1e-9, 0);
        }
    }
}

static void phase_functions_against_plain_ones(void **state) {
    (void)state;
    random_stream r = {1};
    ray_hazes hazes;
    ray_hazes_make(&hazes);
    for (int h = 0; h < RAY_HAZES; h++) {
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            check_phase(&hazes.haze[h].phase[band], &r);
        }
    }
    static const double g[] = {-0.6, 0, 0.5, 0.9};
    for (size_t i = 0; i < sizeof g / sizeof *g; i++) {
        vs_phase phase = vs_phase_henyey_greenstein(g[i]);
        check_phase(&phase, &r);
    }
    ray_hazes_free(&hazes);
}

/* A room with two screens, one of them a net; its patches. */
typedef struct {
    room_model room;
    double face[ROOM_MAX * VS_SURFACE_FACES], screen[ROOM_MAX];
    vs_radiosity radiosity;
    const vs_mesh *mesh;
} hung_room;

static void hung_room_make(hung_room *h, double extinction_per_m, double g) {
    const vs_vec3 low = {0, 0, 0}, high = {5, 4, 2.7};
    room_make(&h->room, low, high, extinction_per_m, g);
    const vs_vec3 cloth = {2, 1.5, 1.2}, cloth_aim = {3, 2, 1.1}, net = {3.4, 2.8, 1.4},
                  net_aim = {3, 0, 1};
    room_add_screen(&h->room, vs_rect_facing(cloth, cloth_aim, 1.2, 0.9), 0);
    room_add_screen(&h->room, vs_rect_facing(net, net_aim, 1.7, 1.8), 0.4);
    for (int i = 0; i < ROOM_MAX * VS_SURFACE_FACES; i++) {
        h->face[i] = 0.5;
    }
    for (int i = 0; i < ROOM_MAX; i++) {
        h->screen[i] = 0.3;
    }
    vs_surfaces surfaces = {.face = h->face, .screen = h->screen};
    CHECK_OK(vs_radiosity_init(&h->radiosity, &h->room.space, &surfaces));
    h->mesh = &((const vs_views *)h->radiosity.rows)->mesh;
}

static void hung_room_free(hung_room *h) {
    vs_radiosity_free(&h->radiosity);
    vs_haze_free(&h->room.haze);
}

static vs_gatherer gatherer_at(const hung_room *h, vs_vec3 at_m, vs_vec3 axis) {
    vs_gatherer g = {.mesh = h->mesh,
                     .medium = &h->room.medium,
                     .dimming = vs_gather_dimming(&h->room.medium),
                     .at_m = at_m,
                     .how = VS_GATHER_SCATTERED,
                     .axis = axis};
    return g;
}

/* Legs from random places far off, given as area x distance from their planes. */
static void random_legs(vs_legs *legs, const hung_room *h, vs_vec3 at_m, random_stream *r) {
    legs->count = 61;
    for (size_t i = 0; i < legs->count; i++) {
        vs_vec3 way = vs_vec3_sub(random_place(r, &h->room.box[0]), at_m);
        legs->x_m[i] = way.x;
        legs->y_m[i] = way.y;
        legs->z_m[i] = way.z;
        legs->view[i] = i % 2 ? random_uniform(r, 0, 1) : 0;
        legs->facing_m3[i] = i % 2 ? 0 : random_uniform(r, 0, 0.1);
        legs->open[i] = random_uniform(r, 0.2, 1);
    }
    vs_legs_close(legs);
}

static void check_leg(const vs_legs *legs, size_t i, const vs_gatherer *g, double facing_m3,
                      double view, double open) {
    const vs_vec3 way = {legs->x_m[i], legs->y_m[i], legs->z_m[i]};
    double length_m = vs_vec3_length(way), cosine = -vs_vec3_dot(way, g->axis) / length_m;
    CHECK_NEAR(legs->way_m[i], length_m, 1e-14, 0);
    CHECK_NEAR(legs->depth[i], length_m * g->medium->room_extinction_per_m[0], 1e-14, 0);
    CHECK_TRUE((size_t)legs->cell[i] == vs_mesh_cell(g->mesh, 0, vs_vec3_along(g->at_m, way, 0.5)));
    double all = (view + facing_m3 / (length_m * length_m * length_m)) * open;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        const vs_phase *phase = &g->medium->haze->phase[band];
        vs_phase twice = vs_phase_henyey_greenstein(phase->g * phase->g);
        CHECK_NEAR(legs->share[band][i], all * vs_phase_per_sr(phase, cosine), 1e-12, 0);
        CHECK_NEAR(legs->spread[band][i], all * vs_phase_per_sr(&twice, cosine), 1e-12, 0);
    }
}

static void legs_against_plain_formulas(void **state) {
    (void)state;
    random_stream r = {2};
    hung_room h;
    vs_legs *legs = malloc(sizeof *legs);
    assert_non_null(legs);
    hung_room_make(&h, 0.3, 0.7);
    for (int n = 0; n < SAMPLES / 20; n++) {
        vs_vec3 at_m = random_place(&r, &h.room.box[0]);
        vs_vec3 axis = vs_vec3_unit(vs_vec3_sub(random_place(&r, &h.room.box[0]), at_m));
        vs_gatherer g = gatherer_at(&h, at_m, axis);
        random_legs(legs, &h, at_m, &r);
        double facing_m3[64], view[64], open[64];
        for (size_t i = 0; i < legs->count; i++) {
            vs_vec3 to_m = {at_m.x + legs->x_m[i], at_m.y + legs->y_m[i], at_m.z + legs->z_m[i]};
            facing_m3[i] = legs->facing_m3[i];
            view[i] = legs->view[i];
            open[i] = legs->open[i] * vs_space_past_screens(&h.room.space, at_m, to_m);
        }
        vs_legs_past_screens(legs, &h.room.space, at_m);
        vs_legs_worth(legs, &g);
        vs_legs_depths(legs, h.room.extinction_per_m[0]);
        double share = legs->share[1][7], spread = legs->spread[1][7], depth = legs->depth[7];
        for (size_t i = 0; i < legs->count; i++) {
            CHECK_NEAR(legs->open[i], open[i], 1e-14, 0);
            check_leg(legs, i, &g, facing_m3[i], view[i], open[i]);
        }
        vs_legs_dim(legs, &g, vs_bands_grey(1.3), vs_bands_grey(0.7));
        double direct = exp(-depth), all = exp(-depth * g.dimming.v[1]);
        CHECK_NEAR(legs->share[1][7], 1.3 * share * direct + 0.7 * spread * (all - direct), 1e-12,
                   1e-16);
        CHECK_NEAR(legs->spread[1][7], 0.7 * spread * (1 - all), 1e-12, 1e-16);
    }
    hung_room_free(&h);
    free(legs);
}

/* In a closed room what a place gathers from patches and air sums to the whole, where haze scatters
 * evenly. */
static void weights_sum_to_the_whole(void **state) {
    (void)state;
    random_stream r = {3};
    hung_room h;
    hung_room_make(&h, 0.2, 0);
    vs_bands *weight = calloc(h.mesh->patch_count + h.mesh->cell_count, sizeof *weight);
    assert_non_null(weight);
    for (int how = VS_GATHER_EVEN; how <= VS_GATHER_SCATTERED; how++) {
        vs_vec3 at_m = random_place(&r, &h.room.box[0]), up = {0, 0, 1};
        vs_gatherer g = gatherer_at(&h, at_m, up);
        vs_weights sum = {weight, weight + h.mesh->patch_count, NULL};
        vs_bands whole = vs_bands_grey(0);
        g.how = how;
        for (size_t i = 0; i < h.mesh->patch_count + h.mesh->cell_count; i++) {
            weight[i] = vs_bands_grey(0);
        }
        vs_gather_add(&g, vs_bands_grey(2.5), &sum);
        for (size_t i = 0; i < h.mesh->patch_count + h.mesh->cell_count; i++) {
            whole = vs_bands_add(whole, weight[i]);
        }
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            CHECK_NEAR(whole.v[band], 2.5, 1e-12, 0);
        }
    }
    free(weight);
    hung_room_free(&h);
}

/* Orders by similarity, as series: sum of (g t)^(n-1)/n! and of (g t)^n/n!. */
static double orders_by_series(double x, double even) {
    double straight = 0, all = 0, term = 1;
    for (int n = 1; n < 40; n++) {
        straight += term / n;
        all += term;
        term *= x / n;
    }
    return straight + even * (all - straight);
}

static double plain_droplet(const vs_lit_droplets *d, size_t i, const vs_medium *medium, int band,
                            bool again) {
    const vs_phase *phase = &medium->haze->phase[band];
    double albedo = medium->haze->albedo.v[band], ratio = medium->ratio.v[band];
    double t = d->depth[i] * ratio, g = albedo * phase->g;
    double there = vs_phase_per_sr(phase, d->first_cosine[i]);
    double here = again ? vs_phase_per_sr(phase, d->second_cosine[i]) : 1;
    double even = fmin(1, (1 - g) / (4 * VS_PI * there));
    return albedo * ratio * d->weight[i] * d->lux[band][i] * there * here * exp(-t) *
           orders_by_series(g * t, even);
}

static void droplets_against_plain_formula(void **state) {
    (void)state;
    random_stream r = {4};
    ray_hazes hazes;
    ray_hazes_make(&hazes);
    for (int n = 0; n < SAMPLES / 10; n++) {
        vs_medium medium = vs_medium_make(NULL, &hazes.haze[n % RAY_HAZES], NULL);
        vs_lit_droplets d = {.count = 1 + random_index(&r, VS_LIT_DROPLETS_MAX)};
        vs_bands got = vs_bands_grey(0.5), want = got;
        for (size_t i = 0; i < d.count; i++) {
            d.weight[i] = random_uniform(&r, 0, 1);
            d.depth[i] = random_log_uniform(&r, 1e-6, 4);
            d.first_cosine[i] = random_uniform(&r, -1, 1);
            d.second_cosine[i] = random_uniform(&r, -1, 1);
            for (int band = 0; band < VS_BAND_COUNT; band++) {
                d.lux[band][i] = random_uniform(&r, 0, 100);
                want.v[band] += plain_droplet(&d, i, &medium, band, n % 2);
            }
        }
        vs_lit_droplets_add(&d, &medium, n % 2, &got);
        CHECK_TRUE(d.count == 0);
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            CHECK_NEAR(got.v[band], want.v[band], 1e-9, 0);
        }
    }
    ray_hazes_free(&hazes);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(phase_functions_against_plain_ones),
        cmocka_unit_test(legs_against_plain_formulas),
        cmocka_unit_test(weights_sum_to_the_whole),
        cmocka_unit_test(droplets_against_plain_formula),
    };
    return RUN_TESTS(tests);
}
