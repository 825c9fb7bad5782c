/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Cautions of a day worked by hand: one hall, then two; a fluid as measured, so that mass is
 * extinction over 4 to 7 m2/g by its class. */
#include "check.h"

#include <math.h>
#include <stdio.h>

#include "day.h"
#include "veilstop/shot/cautions.h"

#define MIN VS_S_PER_MIN

static const vs_exposure_limit limits[] = {
    {"a", 1u << VS_FLUID_GLYCOL, VS_AVERAGE_SHIFT, 480 * MIN, 0.010, VS_LIMIT_GUIDANCE,
     VS_SOURCE_READ, "test", NULL},
    {"b", 1u << VS_FLUID_OIL, VS_AVERAGE_SHIFT, 480 * MIN, 0.005, VS_LIMIT_LAW, VS_SOURCE_READ,
     "test", NULL},
    {"c", 1u << VS_FLUID_GLYCOL, VS_AVERAGE_PEAK, 0, 0.040, VS_LIMIT_GUIDANCE, VS_SOURCE_READ,
     "test", NULL},
    {"d", 1u << VS_FLUID_GLYCOL, VS_AVERAGE_PEAK, 0, 0.030, VS_LIMIT_GUIDANCE, VS_SOURCE_READ,
     "test", NULL},
};
static const vs_detector_threshold point_threshold[] = {
    {"least", VS_OBSCURATION_DB_PER_M, 0.05, 0.05, VS_SOURCE_READ, "test"},
    {"window", VS_OBSCURATION_PERCENT_PER_FT, 0.5, 4, VS_SOURCE_READ, "test"}};
static const vs_detector_threshold beam_threshold[] = {
    {"beam", VS_OBSCURATION_PERCENT_OF_PATH, 25, 35, VS_SOURCE_READ, "test"}};
static const vs_exit_criterion criterion = {10, "large places", VS_SOURCE_READ, "test"};

static vs_safety_tables make_tables(void) {
    vs_safety_tables t = {.limit = limits, .limit_count = 4, .exit = &criterion, .exit_count = 1};
    for (size_t i = 0; i < VS_SAFETY_CLASS_COUNT; i++) {
        t.class_extinction[i] = (vs_class_extinction){4, 7, VS_SOURCE_DERIVED, "test"};
    }
    for (size_t i = 0; i < VS_DETECTOR_KIND_COUNT; i++) {
        t.detector[i].wavelength_m = 900e-9;
    }
    t.detector[VS_DETECTOR_POINT] =
        (vs_detector_type){"head", 900e-9, VS_SOURCE_MEMORY, "test", point_threshold, 2};
    t.detector[VS_DETECTOR_BEAM] =
        (vs_detector_type){"beam", 900e-9, VS_SOURCE_MEMORY, "test", beam_threshold, 1};
    return t;
}

/* Everything a case needs, from the scene's shots. */
typedef struct {
    vs_safety_tables tables;
    vs_caution_optics optics;
    vs_day day;
    vs_cautions cautions;
} look;

static void look_at(look *l, day_set *s) {
    size_t culprit;
    l->tables = make_tables();
    CHECK_OK(vs_caution_optics_init(&l->optics, &s->scene.fluid, &l->tables));
    CHECK_OK(vs_day_from_shots(&l->day, &s->scene, &s->haze, NULL, &culprit));
    CHECK_OK(vs_cautions_init(&l->cautions, &s->scene, &l->tables, &l->optics, &l->day));
}

static void look_away(look *l) {
    vs_cautions_free(&l->cautions);
    vs_cautions_free(&l->cautions);
    vs_day_free(&l->day);
}

static void a_measured_fluid_has_its_classs_range(void **state) {
    (void)state;
    day_set s;
    vs_caution_optics optics;
    vs_safety_tables tables = make_tables();
    day_init(&s);
    CHECK_OK(vs_caution_optics_init(&optics, &s.scene.fluid, &tables));
    CHECK_TRUE(!optics.size_known);
    CHECK_NEAR(optics.extinction_m2_per_g, DAY_M2_PER_G, 1e-15, 0);
    CHECK_NEAR(optics.low_m2_per_g, 4, 1e-15, 0);
    CHECK_NEAR(optics.high_m2_per_g, 7, 1e-15, 0);
    vs_caution_mass mass = vs_caution_mass_of(&optics, 0.07);
    CHECK_NEAR(mass.low, 0.010, 1e-14, 0);
    CHECK_NEAR(mass.likely, 0.014, 1e-14, 0);
    CHECK_NEAR(mass.high, 0.0175, 1e-14, 0);
    /* a figure out of the range widens it */
    s.scene.fluid.extinction_m2_per_g = 2;
    CHECK_OK(vs_caution_optics_init(&optics, &s.scene.fluid, &tables));
    CHECK_NEAR(optics.low_m2_per_g, 2, 1e-15, 0);
    s.scene.fluid.extinction_m2_per_g = NAN;
    CHECK_STATUS(vs_caution_optics_init(&optics, &s.scene.fluid, &tables), VS_ERR_DOMAIN);
}

/* Droplets of half the size to half as much again: the ends are those of Mie theory there, and the
 * fluid's own lies between; 900 nm against 549 nm likewise. Fine droplets scatter infrared less,
 * coarse ones more (anomalous diffraction: the first maximum of Q passes with growing size). */
static void droplets_span_their_sizes(void **state) {
    (void)state;
    vs_safety_tables tables = make_tables();
    static const double um[] = {0.1, 0.3, 1.2};
    for (size_t i = 0; i < 3; i++) {
        vs_fluid fluid = {.density_g_per_ml = 1.08,
                          .nonvolatile_fraction = 0.4,
                          .index = {.kind = VS_INDEX_CONSTANT, .n = {1.445}},
                          .median_m = um[i] * 1e-6,
                          .gsd = 1.6};
        vs_caution_optics optics;
        double green, infrared;
        CHECK_OK(vs_caution_optics_init(&optics, &fluid, &tables));
        CHECK_TRUE(optics.size_known);
        CHECK_OK(vs_haze_extinction_at(&fluid, 549e-9, &green));
        CHECK_OK(vs_haze_extinction_at(&fluid, 900e-9, &infrared));
        CHECK_NEAR(optics.extinction_m2_per_g, green, 1e-12, 0);
        CHECK_NEAR(optics.at_detector[VS_DETECTOR_POINT], infrared / green, 1e-12, 0);
        CHECK_TRUE((infrared > green) == (um[i] > 1));
        for (double factor = 0.5; factor < 1.6; factor += 0.5) {
            vs_fluid other = fluid;
            double extinction;
            other.median_m *= factor;
            CHECK_OK(vs_haze_extinction_at(&other, 549e-9, &extinction));
            CHECK_TRUE(optics.low_m2_per_g <= extinction * (1 + 1e-12) &&
                       optics.high_m2_per_g >= extinction * (1 - 1e-12));
        }
        printf("measured: droplets of %.1f um (count median): %.2f m2/g, %.2f to %.2f for half to "
               "half again; at 900 nm %.2f of it\n",
               um[i], green, optics.low_m2_per_g, optics.high_m2_per_g,
               optics.at_detector[VS_DETECTOR_POINT]);
    }
    /* at the limit of what can be computed the range is cut, not refused */
    vs_fluid edge = {.density_g_per_ml = 1,
                     .index = {.kind = VS_INDEX_CONSTANT, .n = {1.45}},
                     .median_m = VS_FLUID_MEDIAN_MIN_M * 1.2,
                     .gsd = 2.4};
    vs_caution_optics optics;
    CHECK_OK(vs_caution_optics_init(&optics, &edge, &tables));
    CHECK_TRUE(optics.low_m2_per_g > 0 && optics.low_m2_per_g < optics.high_m2_per_g);
}

/* 2 h at 0.056 /m, 1 h at 0.014 /m: at 7 m2/g 8 and 2, at 4 m2/g 14 and 3.5 mg/m3. */
static void a_day_by_hand(void **state) {
    (void)state;
    day_set s;
    look l;
    const vs_scene_person people[] = {{"crew", 720 * MIN}, {"guest", 60 * MIN}};
    day_init(&s);
    day_add_shot(&s, 0, 0.056, 120);
    day_add_shot(&s, 0, 0.014, 60);
    s.scene.venue.person = people;
    s.scene.venue.person_count = 2;
    look_at(&l, &s);
    CHECK_TRUE(l.cautions.exposure_count == 6); /* three limits of the class, two people */
    const vs_exposure_caution *crew = &l.cautions.exposure[0], *guest = &l.cautions.exposure[3];
    CHECK_TRUE(crew->limit == &limits[0] && guest->limit == &limits[0] && guest->person == 1);
    CHECK_NEAR(crew->low, 1e-3 * (2 * 8 + 1 * 2) / 12, 1e-13, 0);
    CHECK_NEAR(crew->high, 1e-3 * (2 * 14 + 1 * 3.5) / 12, 1e-13, 0);
    CHECK_NEAR(crew->limit_g_per_m3, 0.010 * 8 / 12, 1e-13, 0);
    CHECK_NEAR(guest->low, 0.008, 1e-13, 0);
    CHECK_NEAR(guest->high, 0.014, 1e-13, 0);
    CHECK_NEAR(guest->spread_high, 0.014 / 8, 1e-13, 0);
    CHECK_NEAR(guest[1].high, 0.014, 1e-13, 0);       /* the peak */
    CHECK_TRUE(vs_cautions_any_reached(&l.cautions)); /* 14 over 10 */
    CHECK_NEAR(l.cautions.peak_mass.high, 0.014, 1e-13, 0);
    printf(
        "measured: 2 h of 8 to 14 and 1 h of 2 to 3.5 mg/m3 in a day of 12 h: %.4f to %.4f mg/m3 "
        "(by hand 1.5000 to 2.6250)\n",
        1e3 * crew->low, 1e3 * crew->high);
    look_away(&l);
}

static void without_people_a_crew_of_ten_hours(void **state) {
    (void)state;
    day_set s;
    look l;
    day_init(&s);
    day_add_shot(&s, 0, 0.028, 60);
    look_at(&l, &s);
    CHECK_TRUE(l.cautions.person_count == 1);
    CHECK_NEAR(l.cautions.person[0].length_s, 36000, 0, 0);
    CHECK_NEAR(l.cautions.exposure[0].limit_g_per_m3, 0.008, 1e-14, 0);
    CHECK_NEAR(l.cautions.exposure[0].high, 0.0007, 1e-14, 0);
    CHECK_TRUE(!vs_cautions_any_reached(&l.cautions));
    CHECK_TRUE(vs_caution_lowest_limit(&l.tables, VS_FLUID_GLYCOL, VS_AVERAGE_PEAK) == &limits[3]);
    CHECK_TRUE(!vs_caution_lowest_limit(&l.tables, VS_FLUID_OIL, VS_AVERAGE_PEAK));
    look_away(&l);
}

/* The second shot passes the head's threshold; the range in percent per foot in its own units. */
static void detectors_by_hand(void **state) {
    (void)state;
    day_set s;
    look l;
    const vs_scene_detector detector[] = {
        {"far", 0, VS_DETECTOR_POINT, 1, NAN},
        {"usual", 0, VS_DETECTOR_POINT, NAN, NAN},
        {"own", 0, VS_DETECTOR_POINT, 0.1 / 4.342944819032518, NAN},
        {"beam", 0, VS_DETECTOR_BEAM, NAN, 8},
    };
    day_init(&s);
    day_add_shot(&s, 0, 0.02, 30);
    day_add_shot(&s, 0, 0.05, 30);
    s.scene.venue.detector = detector;
    s.scene.venue.detector_count = 4;
    look_at(&l, &s);
    const vs_detector_caution *d = l.cautions.detector;
    CHECK_TRUE(!d[0].reached && d[0].own);
    CHECK_NAN(d[0].reached_s);
    CHECK_TRUE(d[1].reached && !d[1].own); /* from 0.05 dB/m = 0.0115 /m: the first shot */
    CHECK_NEAR(d[1].reached_s, 0, 0, 0);
    CHECK_NEAR(d[1].alarm_per_m, 0.05 * log(10) / 10, 1e-13, 0);
    CHECK_TRUE(d[2].reached);
    CHECK_NEAR(d[2].reached_s, 1800, 0, 0); /* 0.1 dB/m = 0.0230 /m: the second */
    CHECK_NEAR(d[2].peak_per_m, 0.05, 1e-14, 0);
    CHECK_TRUE(d[3].reached); /* 1 - exp(-0.05 x 8) = 33 % */
    CHECK_TRUE(l.cautions.first_detector == 1);
    CHECK_TRUE(l.cautions.threshold_count == 3);
    const vs_threshold_caution *t = l.cautions.threshold;
    CHECK_NEAR(t[1].low_per_m, -log(0.995) / 0.3048, 1e-13, 0); /* 0.0164 /m */
    CHECK_NEAR(t[1].reached_low_s, 0, 0, 0);
    CHECK_NAN(t[1].reached_high_s); /* 4 %/ft is 0.134 /m */
    CHECK_NEAR(t[2].path_m, 8, 0, 0);
    CHECK_NEAR(t[2].reached_low_s, 1800, 0, 0); /* 25 % over 8 m is 0.036 /m */
    CHECK_NAN(t[2].reached_high_s);
    look_away(&l);
}

/* Two rooms, the second thicker: exits by its haze. */
static void the_thickest_room_counts(void **state) {
    (void)state;
    day_set s;
    look l;
    day_init(&s);
    day_add_room(&s, 4, 0.5);
    day_add_shot(&s, 0, 0.1, 30);
    s.density[0][1] = 0.9;
    s.shot[0].density_by_room = true;
    s.scene.venue.exit_m = 5;
    s.scene.venue.exit_reflecting = true;
    look_at(&l, &s);
    const vs_exit_caution *e = &l.cautions.exit;
    CHECK_TRUE(l.cautions.thickest == 1);
    CHECK_NEAR(e->extinction_per_m, 0.9, 1e-14, 0);
    CHECK_NEAR(e->lit_m, 8 / 0.9, 1e-14, 0);
    CHECK_NEAR(e->reflecting_m, 3 / 0.9, 1e-14, 0);
    CHECK_NEAR(e->light_share, exp(-0.9 * DAY_HEIGHT_M), 1e-14, 0);
    CHECK_TRUE(!e->exit_seen && !e->criterion_met);
    CHECK_TRUE(vs_cautions_any_reached(&l.cautions));
    look_away(&l);
    /* by a lit sign it shows at 5 m, under the 10 m of the criterion */
    s.scene.venue.exit_reflecting = false;
    look_at(&l, &s);
    CHECK_TRUE(l.cautions.exit.exit_seen && !l.cautions.exit.criterion_met);
    look_away(&l);
}

static void an_open_density_is_told(void **state) {
    (void)state;
    day_set s;
    vs_day day;
    size_t culprit;
    day_init(&s);
    day_add_shot(&s, 0, 0.02, 30);
    day_add_shot(&s, 0, 0.02, 30)->density = VS_DENSITY_OPEN;
    CHECK_STATUS(vs_day_from_shots(&day, &s.scene, &s.haze, NULL, &culprit), VS_ERR_INPUT);
    CHECK_TRUE(culprit == 1);
}

/* A plan's day: its peaks are those of the plan, even between the curve's samples. */
static void a_plan_keeps_its_peaks(void **state) {
    (void)state;
    day_set s;
    vs_dwell dwell;
    vs_day day;
    day_init(&s);
    s.room[0].mixing_s = 300;
    day_add_room(&s, 6, 1);
    day_add_opening(&s, 0, 1, 120);
    day_add_shot(&s, 0, 0.05, 47);
    day_add_shot(&s, 1, 0.01, 33);
    CHECK_OK(vs_dwell_plan(&s.scene, &s.haze, NULL, NULL, &dwell));
    CHECK_OK(vs_day_from_plan(&day, &dwell));
    CHECK_TRUE(day.planned && day.sample_count >= dwell.sample_count);
    for (size_t room = 0; room < 2; room++) {
        vs_day_curve curve = vs_day_curve_of(&day, room);
        double at_s, peak = vs_day_curve_peak(&curve, &at_s);
        CHECK_NEAR(peak, dwell.room[room].peak_g_per_m3 * DAY_M2_PER_G, 1e-12, 0);
        CHECK_NEAR(at_s, dwell.room[room].peak_at_s, 0, 1e-6);
    }
    vs_day_curve hall = vs_day_curve_of(&day, 0), thickest = vs_day_curve_of(&day, 2);
    for (size_t i = 0; i < day.sample_count; i++) {
        CHECK_TRUE(thickest.value[i] >= hall.value[i]);
        CHECK_TRUE(i == 0 || day.at_s[i] >= day.at_s[i - 1]);
    }
    CHECK_NEAR(hall.after, 0, 0, 0);
    vs_day_free(&day);
    /* rooms that never clear stay as they are */
    dwell.clear_s = NAN;
    CHECK_OK(vs_day_from_plan(&day, &dwell));
    hall = vs_day_curve_of(&day, 0);
    CHECK_TRUE(hall.after > 0 && hall.after == hall.value[day.sample_count - 1]);
    vs_day_free(&day);
    vs_day_free(&day);
    vs_dwell_free(&dwell);
}

/* Down to five minutes, to one in the first ten. */
static void alarms_are_told_roughly(void **state) {
    (void)state;
    CHECK_NEAR(vs_caution_about_s(133), 120, 0, 0);
    CHECK_NEAR(vs_caution_about_s(599), 540, 0, 0);
    CHECK_NEAR(vs_caution_about_s(600), 600, 0, 0);
    CHECK_NEAR(vs_caution_about_s(899), 600, 0, 0);
    CHECK_TRUE(isnan(vs_caution_about_s(NAN)));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_measured_fluid_has_its_classs_range),
        cmocka_unit_test(droplets_span_their_sizes),
        cmocka_unit_test(a_day_by_hand),
        cmocka_unit_test(without_people_a_crew_of_ten_hours),
        cmocka_unit_test(detectors_by_hand),
        cmocka_unit_test(the_thickest_room_counts),
        cmocka_unit_test(an_open_density_is_told),
        cmocka_unit_test(a_plan_keeps_its_peaks),
        cmocka_unit_test(alarms_are_told_roughly),
    };
    return RUN_TESTS(tests);
}
