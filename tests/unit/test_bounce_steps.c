/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The bounced veil is smooth from ray to ray and from density to density: a step would stand in a
 * still as an edge that no location has, and hold up a search for a density. Light in air changes
 * evenly from one line of sight to the next as long as what ends them does. A beam alone is held
 * against an integral over lines, too. No outside source: an invented location, our own bounds. */
#include "written.h"

#include "check.h"

#include <math.h>
#include <stdio.h>

#include "veilstop/shot/rays.h"

#define STEP_RAD 1e-3 /* from ray to ray of a fan */
#define FAN_MAX  1200
#define HALVINGS 11 /* of that where neighbours differ, to half a microradian */
#define SUSPECTS 12 /* a fan and light: where the change from ray to ray changes most */

/* The most that is left of a change, as a share of the light. The bounds are our own: what is
 * measured, and a margin. */
#define ROOM_MOST    0.002  /* measured 0.0013, of rays along a wall into a pool on it */
#define BEAM_MOST    0.0003 /* measured 0.00001 */
#define DOOR_MOST    0.0015 /* measured 0.0003 */
#define DENSITY_MOST 1e-6   /* measured 3.3e-7 */
#define TWICE_MOST   0.02   /* measured 0.006 */

#define DENSITY_STEP 3e-5  /* of the ladder: densities 1e-6 apart */
#define END_MOST_M   0.005 /* farther apart the ends of two rays are not on one surface */
#define LIGHTS       8     /* of the location: seven, and what is due to none */
#define PARTS        400   /* of a line, integrated */
#define BEYOND       6     /* the first of those beyond the door */

/* A small pool on a near wall, a narrow beam across the room, four pools in a row, a lamp beyond a
 * door: each its own light; three cameras, the last along the row. */
static const char *const LOCATION =
    "{'veilstop': 1, 'title': 'steps', 'lengths': 'm', 'indirect': 'computed',"
    " 'fluid': {'extinction_m2_per_g': 4, 'g': 0.7},"
    " 'rooms': [{'name': 'cellar', 'corner': [0, 0, 0], 'size': [7, 5, 3], 'reflectance': 0.5},"
    "  {'name': 'passage', 'corner': [7, 1, 0], 'size': [4, 2.5, 2.6], 'reflectance': 0.7}],"
    " 'openings': [{'name': 'door', 'rooms': ['cellar', 'passage'],"
    "  'corners': [[7, 1.6, 0], [7, 2.6, 2.1]]}],"
    " 'lights': ["
    "  {'name': 'pool', 'kind': 'spot', 'at': [3.2, 3.9, 1.3], 'aim': [3.3, 5, 1.4],"
    "   'beam_deg': 14, 'candela': 4000},"
    "  {'name': 'beam', 'kind': 'spot', 'at': [6.5, 4.6, 2.6], 'aim': [0, 0.6, 0.9],"
    "   'beam_deg': 3, 'candela': 60000},"
    "  {'name': 'row 1', 'kind': 'spot', 'at': [2.0, 0.9, 2.6], 'aim': [2.0, 0, 1.2],"
    "   'beam_deg': 9, 'candela': 4000},"
    "  {'name': 'row 2', 'kind': 'spot', 'at': [2.9, 0.9, 2.6], 'aim': [2.9, 0, 1.2],"
    "   'beam_deg': 9, 'candela': 4000},"
    "  {'name': 'row 3', 'kind': 'spot', 'at': [3.8, 0.9, 2.6], 'aim': [3.8, 0, 1.2],"
    "   'beam_deg': 9, 'candela': 4000},"
    "  {'name': 'row 4', 'kind': 'spot', 'at': [4.7, 0.9, 2.6], 'aim': [4.7, 0, 1.2],"
    "   'beam_deg': 9, 'candela': 4000},"
    "  {'name': 'bulb', 'kind': 'lamp', 'at': [9.4, 1.5, 2.1], 'lumens': 900}],"
    " 'cameras': [{'name': 'A', 'at': [0.6, 2.3, 1.5], 'aim': [7, 2.3, 1.4], 'focal_mm': 25},"
    "  {'name': 'B', 'at': [6.4, 1.2, 1.2], 'aim': [2, 3.5, 1.3], 'focal_mm': 25},"
    "  {'name': 'C', 'at': [0.5, 0.35, 1.3], 'aim': [7, 0.35, 1.3], 'focal_mm': 25}],"
    " 'shots': ["
    "  {'name': '1', 'camera': 'A', 'extinction_per_m': 0.05, 'points': ["
    "   {'name': 'end', 'at': [6.9, 3.5, 1.4], 'reflectance': 0.3, 'facing': [-1, 0, 0]}]},"
    "  {'name': '2', 'camera': 'B', 'extinction_per_m': 0.05, 'points': ["
    "   {'name': 'end', 'at': [0.1, 3.5, 1.4], 'reflectance': 0.3, 'facing': [1, 0, 0]}]},"
    "  {'name': '3', 'camera': 'C', 'extinction_per_m': 0.05, 'points': ["
    "   {'name': 'end', 'at': [6.9, 0.5, 1.3], 'reflectance': 0.3, 'facing': [-1, 0, 0]}]}]}";

/* A narrow beam alone, from wall to wall of a black room, in next to no haze. */
#define BLACK(g)                                                                                   \
    "{'veilstop': 1, 'title': 'a beam', 'lengths': 'm', 'indirect': 'computed',"                   \
    " 'fluid': {'extinction_m2_per_g': 4, 'g': " g "},"                                            \
    " 'rooms': [{'name': 'cellar', 'corner': [0, 0, 0], 'size': [7, 5, 3], 'reflectance': 0}],"    \
    " 'lights': [{'name': 'beam', 'kind': 'spot', 'at': [3.5, 4.9, 1.5], 'aim': [3.5, 0, 1.5],"    \
    "  'beam_deg': 0.6, 'candela': 60000}],"                                                       \
    " 'cameras': [{'name': 'A', 'at': [0.6, 2.3, 1.5], 'aim': [7, 2.3, 1.4], 'focal_mm': 25}],"    \
    " 'shots': [{'name': '1', 'camera': 'A', 'extinction_per_m': 0.0001, 'points': ["              \
    "  {'name': 'end', 'at': [6.9, 3.5, 1.4], 'reflectance': 0.3, 'facing': [-1, 0, 0]}]}]}"

typedef struct {
    written_scene scene;
    vs_rays rays;
    size_t columns; /* the lights, and what is due to none */
} place;

static void place_init(place *p, const char *location) {
    written_init(&p->scene, location);
    CHECK_OK(vs_rays_init(&p->rays, &p->scene.predictor));
    p->columns = vs_rays_columns(&p->rays);
    CHECK_TRUE(p->columns <= LIGHTS);
}

static void place_free(place *p) {
    vs_rays_free(&p->rays);
    written_free(&p->scene);
}

/* What a ray sees: by light and, last, of all lights [cd/m2]; where it ends. */
typedef struct {
    double nits[LIGHTS + 1], out_m;
} seen;

/* Rays side by side, or one above the other. */
typedef struct {
    size_t shot, count;
    bool up;
    double from_rad, other_rad; /* of the first ray; of all of them the other way */
} fan;

/*     at  in steps from the first ray */
static vs_vec3 fan_direction(const fan *f, double at) {
    double turn = f->from_rad + at * STEP_RAD;
    double side = f->up ? f->other_rad : turn, rise = f->up ? turn : f->other_rad;
    vs_vec3 way = {cos(rise) * cos(side), cos(rise) * sin(side), sin(rise)};
    return way;
}

/* `count` rays of a fan, `from` steps after its first. */
static void look(place *p, const fan *f, double from, size_t count, seen *s) {
    static vs_vec3 direction[FAN_MAX];
    static double out_m[FAN_MAX];
    static vs_bands veil[FAN_MAX * LIGHTS];
    for (size_t i = 0; i < count; i++) {
        direction[i] = fan_direction(f, from + (double)i);
    }
    vs_rays_block lines = {count, direction, NULL, 0};
    vs_rays_light light = {.length_m = out_m, .bounced_veil = veil};
    CHECK_OK(vs_rays_ask(&p->rays, &lines, &light));
    for (size_t i = 0; i < count; i++) {
        s[i].out_m = out_m[i];
        s[i].nits[LIGHTS] = 0;
        for (size_t c = 0; c < p->columns; c++) {
            s[i].nits[c] = vs_bands_luminance(veil[i * p->columns + c]);
            CHECK_TRUE(s[i].nits[c] > 0 || c + 1 == p->columns);
            s[i].nits[LIGHTS] += s[i].nits[c];
        }
    }
}

/* Change from ray to ray in one light, as a share of it; none where there is no light. */
static double change(const seen *a, const seen *b, size_t light) {
    double both = a->nits[light] + b->nits[light];
    return both > 0 ? 2 * (b->nits[light] - a->nits[light]) / both : 0;
}

/* How far the change from ray i to the next stands out of those before and after it. */
static double stands_out(const seen *s, size_t i, size_t light) {
    double before = change(&s[i - 1], &s[i], light), here = change(&s[i], &s[i + 1], light);
    double after = change(&s[i + 1], &s[i + 2], light);
    return fmin(fabs(here - before), fabs(here - after));
}

/* What is left of the change from ray i to the next when the interval shrinks to the half that has
 * more of it, again and again: a jump stays, a slope shrinks. 0 where what ends the rays jumps. */
static double jump_at(place *p, const fan *f, size_t i, const seen *s, size_t light) {
    double low = (double)i, width = 1;
    seen a = s[i], b = s[i + 1], middle;
    for (int n = 0; n < HALVINGS; n++) {
        width /= 2;
        look(p, f, low + width, 1, &middle);
        if (fabs(change(&a, &middle, light)) > fabs(change(&middle, &b, light))) {
            b = middle;
        } else {
            a = middle;
            low += width;
        }
    }
    return fabs(a.out_m - b.out_m) < END_MOST_M ? fabs(change(&a, &b, light)) : 0;
}

static double worst_jump(place *p, const fan *f, const seen *s, size_t light) {
    bool looked_at[FAN_MAX] = {false};
    double worst = 0;
    for (int n = 0; n < SUSPECTS; n++) {
        size_t most = 0;
        double most_out = -1;
        for (size_t i = 1; i + 2 < f->count; i++) {
            double out = looked_at[i] ? -1 : stands_out(s, i, light);
            most = out > most_out ? i : most;
            most_out = fmax(most_out, out);
        }
        looked_at[most] = true;
        worst = fmax(worst, jump_at(p, f, most, s, light));
    }
    return worst;
}

/* The worst jump of some lights' columns on some fans. */
static double worst_of(const char *location, const fan *fans, size_t count, size_t first,
                       size_t end) {
    static seen s[FAN_MAX];
    double worst = 0;
    place p;
    place_init(&p, location);
    for (size_t i = 0; i < count; i++) {
        CHECK_OK(vs_rays_set(&p.rays, fans[i].shot, NULL));
        look(&p, &fans[i], 0, fans[i].count, s);
        for (size_t light = first; light < end; light++) {
            worst = fmax(worst, worst_jump(&p, &fans[i], s, light));
        }
    }
    place_free(&p);
    return worst;
}

#define COUNT(list) (sizeof(list) / sizeof *(list))

/* Rays that end in the room that the lamps are in; each light's own. */
static void no_steps_beside_pools_and_beams(void **state) {
    (void)state;
    static const fan fans[] = {
        {0, 500, false, 0.55, -0.02}, {0, 500, false, -1.1, -0.05}, {0, 500, false, -0.65, 0.1},
        {0, 400, true, -0.2, 0.785},  {0, 400, true, -0.2, 0.35},   {1, 500, false, 2.0, 0.03},
        {1, 400, false, 3.35, 0.02},  {1, 400, true, -0.2, 2.25},   {1, 400, true, -0.2, 3.6},
        {2, 400, true, -0.2, -0.02},  {2, 220, false, -0.25, 0.01},
    };
    double worst = worst_of(LOCATION, fans, COUNT(fans), 0, BEYOND);
    printf("measured: bounced veil of one light: jumps of at most %.2f %%\n", 100 * worst);
    CHECK_NEAR(worst, 0, 0, ROOM_MOST);
}

/* Of a beam in a black room, from where it is near to where it is not. */
static void no_steps_beside_a_beam_alone(void **state) {
    (void)state;
    static const fan fans[] = {
        {0, 400, true, -0.45, 0.1},
        {0, 400, true, 0.05, -0.2},
        {0, 450, false, -0.2, -0.3},
        {0, 450, false, -0.2, 0.25},
    };
    double worst = worst_of(BLACK("0.8"), fans, COUNT(fans), 0, 1);
    printf("measured: bounced veil of a beam alone: jumps of at most %.3f %%\n", 100 * worst);
    CHECK_NEAR(worst, 0, 0, BEAM_MOST);
}

/* Henyey & Greenstein's phase function [1/sr] of the cosine (1941, Astrophys. J. 93, 70). */
static double phase(double cosine) {
    const double g = 0.4, square = 1 + g * g - 2 * g * cosine;
    return (1 - g * g) / (4 * VS_PI * square * sqrt(square));
}

/* Light of a thin beam scattered twice, on it and into a lens, over the beam's lumens and the square
 * of the scattering: of a line of no width, by equal steps of both lines. */
static double twice(const place *p, const fan *f, double at, double out_m) {
    const vs_vec3 lamp_m = {3.5, 4.9, 1.5}, way = {0, -1, 0}, sight = fan_direction(f, at);
    const vs_vec3 camera_m = p->scene.file.scene.camera[0].at_m;
    const double length_m = 4.9;
    double sum = 0;
    for (int i = 0; i < PARTS; i++) {
        vs_vec3 to_m = vs_vec3_along(camera_m, sight, (i + 0.5) / PARTS * out_m);
        for (int n = 0; n < PARTS; n++) {
            vs_vec3 from_m = vs_vec3_along(lamp_m, way, (n + 0.5) / PARTS * length_m);
            vs_vec3 between = vs_vec3_sub(to_m, from_m), on = vs_vec3_unit(between);
            sum += phase(vs_vec3_dot(on, way)) * phase(-vs_vec3_dot(on, sight)) /
                   vs_vec3_dot(between, between);
        }
    }
    return sum * out_m * length_m / (PARTS * PARTS);
}

/* Light scattered twice, beside a beam from near to far: in proportion to the integral over both
 * lines. In next to no haze nothing is scattered more often or dimmed. Our own quadrature. */
static void a_beam_alone_is_its_integral(void **state) {
    (void)state;
    static const fan fans[] = {{0, 22, true, -0.44, 0.1}, {0, 21, true, 0.02, -0.2}};
    double lowest = HUGE_VAL, highest = 0;
    place p;
    place_init(&p, BLACK("0.4"));
    CHECK_OK(vs_rays_set(&p.rays, 0, NULL));
    for (size_t i = 0; i < COUNT(fans); i++) {
        for (size_t n = 0; n < fans[i].count; n++) {
            seen s;
            double at = 20 * (double)n;
            look(&p, &fans[i], at, 1, &s);
            double share = s.nits[0] / twice(&p, &fans[i], at, s.out_m);
            CHECK_TRUE(share > 0);
            lowest = fmin(lowest, share);
            highest = fmax(highest, share);
        }
    }
    place_free(&p);
    printf("measured: light of a beam scattered twice: within %.2f %%\n",
           100 * (highest / lowest - 1));
    CHECK_NEAR(highest / lowest, 1, 0, TWICE_MOST);
}

/* Rays past the door, through it and onto the walls beside it: the light of the lamp beyond it, and
 * all light. */
static void no_steps_behind_a_door(void **state) {
    (void)state;
    static const fan fans[] = {
        {0, 1200, false, -0.6, -0.01}, {0, 1200, false, -0.3, 0.06}, {0, 400, true, -0.3, -0.03},
        {0, 400, true, -0.3, 0.06},    {1, 1200, false, 1.9, 0.03},  {2, 400, false, -0.1, 0.02},
    };
    double worst = worst_of(LOCATION, fans, COUNT(fans), BEYOND, LIGHTS + 1);
    printf("measured: bounced veil behind a door: jumps of at most %.2f %%\n", 100 * worst);
    CHECK_NEAR(worst, 0, 0, DOOR_MOST);
}

#define DENSITIES     150
#define DENSITY_RATIO 1.03
#define RAYS          6

/* Rays far apart, in a density `at` steps up a ladder. */
static void look_at_density(place *p, double at, seen s[RAYS]) {
    const double k = 0.005 * pow(DENSITY_RATIO, at), both[2] = {k, k};
    CHECK_OK(vs_rays_set(&p->rays, 0, both));
    for (size_t i = 0; i < RAYS; i++) {
        const fan f = {0, 1, false, 0.3 * (double)i - 0.85, 0.02};
        look(p, &f, 0, 1, &s[i]);
    }
}

/* What is left of a ray's change of all light from a density to the next, as in jump_at. */
static double density_jump(place *p, const seen *s, size_t ray, size_t step) {
    double low = (double)step, width = 1;
    seen a = s[step], b = s[step + 1], middle[RAYS];
    while (width > DENSITY_STEP) {
        width /= 2;
        look_at_density(p, low + width, middle);
        if (fabs(change(&a, &middle[ray], LIGHTS)) > fabs(change(&middle[ray], &b, LIGHTS))) {
            b = middle[ray];
        } else {
            a = middle[ray];
            low += width;
        }
    }
    return fabs(change(&a, &b, LIGHTS));
}

/* Steps of 0.3 % stand out of the ladder's own curve and are found; of 0.05 % they do not. */
static void no_steps_from_density_to_density(void **state) {
    (void)state;
    static seen s[RAYS][DENSITIES];
    double worst = 0;
    place p;
    place_init(&p, LOCATION);
    for (size_t n = 0; n < DENSITIES; n++) {
        seen at[RAYS];
        look_at_density(&p, (double)n, at);
        for (size_t i = 0; i < RAYS; i++) {
            s[i][n] = at[i];
        }
    }
    for (size_t i = 0; i < RAYS; i++) {
        size_t most = 1;
        for (size_t n = 1; n + 2 < DENSITIES; n++) {
            most = stands_out(s[i], n, LIGHTS) > stands_out(s[i], most, LIGHTS) ? n : most;
        }
        worst = fmax(worst, density_jump(&p, s[i], i, most));
    }
    place_free(&p);
    printf("measured: bounced veil of densities 1e-6 apart: within %.2e\n", worst);
    CHECK_NEAR(worst, 0, 0, DENSITY_MOST);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_steps_beside_pools_and_beams),
        cmocka_unit_test(no_steps_beside_a_beam_alone),
        cmocka_unit_test(a_beam_alone_is_its_integral),
        cmocka_unit_test(no_steps_behind_a_door),
        cmocka_unit_test(no_steps_from_density_to_density),
    };
    return RUN_TESTS(tests);
}
