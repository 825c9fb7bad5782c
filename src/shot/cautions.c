/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "veilstop/shot/cautions.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/base/bands.h"
#include "veilstop/base/lognormal.h"
#include "veilstop/base/units.h"
#include "veilstop/shot/fluid.h"

#define SIZES 9 /* droplet sizes considered, from smaller to larger: our choice */

_Static_assert(VS_SAFETY_CLASS_COUNT == VS_FLUID_CLASS_COUNT, "a range for every class of fluid");

/* ---- extinction of a gram ---- */

/* Sets all figures to unknown. */
static void forget(vs_caution_optics *optics) {
    memset(optics, 0, sizeof *optics);
    optics->extinction_m2_per_g = optics->low_m2_per_g = optics->high_m2_per_g = (double)NAN;
    for (size_t kind = 0; kind < VS_DETECTOR_KIND_COUNT; kind++) {
        optics->at_detector[kind] = (double)NAN;
    }
}

static void hold(vs_caution_optics *optics, double extinction_m2_per_g) {
    optics->low_m2_per_g = fmin(optics->low_m2_per_g, extinction_m2_per_g);
    optics->high_m2_per_g = fmax(optics->high_m2_per_g, extinction_m2_per_g);
}

/* The fluid with droplets `factor` times its size, as far as haze.h allows. */
static vs_fluid resized(const vs_fluid *fluid, double factor) {
    double to_mass = vs_lognormal_diameter(1, fluid->gsd, VS_LOGNORMAL_MASS_MEDIAN);
    double least_m = fmax(VS_FLUID_MEDIAN_MIN_M, VS_FLUID_MASS_MEDIAN_MIN_M / to_mass);
    double most_m = VS_FLUID_MASS_MEDIAN_MAX_M / to_mass;
    vs_fluid other = *fluid;
    other.median_m = fmin(fmax(factor * fluid->median_m, least_m), most_m);
    return other;
}

static vs_status bracket_sizes(vs_caution_optics *optics, const vs_fluid *fluid) {
    vs_status status = VS_OK;
    for (int i = 0; i < SIZES && status == VS_OK; i++) {
        double step = (VS_FLUID_LARGER - VS_FLUID_SMALLER) / (SIZES - 1);
        vs_fluid other = resized(fluid, VS_FLUID_SMALLER + i * step);
        double extinction;
        status = vs_haze_extinction_at(&other, VS_BAND_GREEN_NM * VS_M_PER_NM, &extinction);
        hold(optics, extinction);
    }
    if (status != VS_OK) {
        optics->low_m2_per_g = optics->high_m2_per_g = (double)NAN;
    }
    return status;
}

static vs_status optics_of_detectors(vs_caution_optics *optics, const vs_fluid *fluid,
                                     const vs_safety_tables *tables) {
    vs_status first = VS_OK;
    for (size_t kind = 0; kind < VS_DETECTOR_KIND_COUNT; kind++) {
        double wavelength_m = tables->detector[kind].wavelength_m, extinction;
        size_t same = 0; /* kinds often share a wavelength */
        while (same < kind && tables->detector[same].wavelength_m != wavelength_m) {
            same++;
        }
        if (same < kind) {
            optics->at_detector[kind] = optics->at_detector[same];
            continue;
        }
        vs_status status = vs_haze_extinction_at(fluid, wavelength_m, &extinction);
        optics->at_detector[kind] = extinction / optics->extinction_m2_per_g;
        first = first == VS_OK ? status : first;
    }
    return first;
}

vs_status vs_caution_optics_init(vs_caution_optics *optics, const vs_fluid *fluid,
                                 const vs_safety_tables *tables) {
    forget(optics);
    double extinction;
    vs_status status = vs_haze_extinction_at(fluid, VS_BAND_GREEN_NM * VS_M_PER_NM, &extinction);
    if (status != VS_OK) {
        return status;
    }
    optics->extinction_m2_per_g = optics->low_m2_per_g = optics->high_m2_per_g = extinction;
    optics->size_known = !fluid->measured;
    if (fluid->measured) {
        const vs_class_extinction *range = &tables->class_extinction[fluid->class_];
        hold(optics, range->low_m2_per_g);
        hold(optics, range->high_m2_per_g);
        for (size_t kind = 0; kind < VS_DETECTOR_KIND_COUNT; kind++) {
            optics->at_detector[kind] = 1;
        }
        return VS_OK;
    }
    status = bracket_sizes(optics, fluid);
    vs_status seen = optics_of_detectors(optics, fluid, tables);
    return status == VS_OK ? seen : status;
}

vs_caution_mass vs_caution_mass_of(const vs_caution_optics *optics, double extinction_per_m) {
    vs_caution_mass mass = {extinction_per_m / optics->high_m2_per_g,
                            extinction_per_m / optics->extinction_m2_per_g,
                            extinction_per_m / optics->low_m2_per_g};
    return mass;
}

/* ---- one density ---- */

vs_detector_caution vs_caution_detector(const vs_scene_detector *detector,
                                        const vs_safety_tables *tables,
                                        const vs_caution_optics *optics, double extinction_per_m) {
    vs_detector_caution caution = {.peak_per_m =
                                       extinction_per_m * optics->at_detector[detector->kind],
                                   .alarm_per_m = detector->alarm_per_m,
                                   .own = !isnan(detector->alarm_per_m),
                                   .reached_s = NAN};
    if (!caution.own) {
        caution.alarm_per_m =
            vs_detector_lowest_alarm_per_m(&tables->detector[detector->kind], detector->path_m);
    }
    caution.reached = !(caution.peak_per_m < caution.alarm_per_m); /* unknown counts as reached */
    return caution;
}

vs_exit_caution vs_caution_exit(const vs_scene *scene, const vs_safety_tables *tables,
                                const double *room_extinction_per_m) {
    vs_exit_caution exit = {.exit_seen = true, .light_share = 1};
    for (size_t room = 0; room < scene->room_count; room++) {
        double k = room_extinction_per_m[room];
        exit.extinction_per_m = fmax(exit.extinction_per_m, k);
        exit.light_share = fmin(exit.light_share, exp(-k * scene->room[room].size_m.z));
    }
    exit.lit_m = vs_exit_lit_m(exit.extinction_per_m);
    exit.reflecting_m = vs_exit_reflecting_m(exit.extinction_per_m);
    exit.sign_m = scene->venue.exit_reflecting ? exit.reflecting_m : exit.lit_m;
    exit.exit_seen = !(exit.sign_m < scene->venue.exit_m);
    exit.criterion_met = tables->exit_count == 0 || exit.sign_m >= tables->exit[0].needed_m;
    return exit;
}

/* [s] how finely alarms are told, and until when: our choice */
#define ABOUT_S       300.0
#define ABOUT_FIRST_S 60.0
#define FIRST_S       600.0

double vs_caution_about_s(double at_s) {
    double step_s = at_s < FIRST_S ? ABOUT_FIRST_S : ABOUT_S;
    return floor(at_s / step_s) * step_s;
}

const vs_exposure_limit *vs_caution_lowest_limit(const vs_safety_tables *tables,
                                                 vs_fluid_class fluid, vs_average average) {
    const vs_exposure_limit *lowest = NULL;
    for (size_t i = 0; i < tables->limit_count; i++) {
        const vs_exposure_limit *limit = &tables->limit[i];
        if (limit->average == average && vs_exposure_limit_is_for(limit, fluid) &&
            (!lowest || limit->limit_g_per_m3 < lowest->limit_g_per_m3)) {
            lowest = limit;
        }
    }
    return lowest;
}

/* ---- the day ---- */

static size_t limits_for(const vs_safety_tables *tables, vs_fluid_class fluid) {
    size_t count = 0;
    for (size_t i = 0; i < tables->limit_count; i++) {
        count += vs_exposure_limit_is_for(&tables->limit[i], fluid);
    }
    return count;
}

static size_t thresholds_of(const vs_safety_tables *tables) {
    size_t count = 0;
    for (size_t kind = 0; kind < VS_DETECTOR_KIND_COUNT; kind++) {
        count += tables->detector[kind].threshold_count;
    }
    return count;
}

static vs_status allocate(vs_cautions *c, const vs_scene *scene, const vs_safety_tables *tables) {
    size_t exposures = c->person_count * limits_for(tables, scene->fluid.class_);
    c->exposure = calloc(exposures + 1, sizeof *c->exposure);
    c->peak_per_m = calloc(scene->room_count, sizeof *c->peak_per_m);
    c->peak_at_s = calloc(scene->room_count, sizeof *c->peak_at_s);
    c->detector = calloc(scene->venue.detector_count + 1, sizeof *c->detector);
    c->threshold = calloc(scene->room_count * thresholds_of(tables) + 1, sizeof *c->threshold);
    return c->exposure && c->peak_per_m && c->peak_at_s && c->detector && c->threshold
               ? VS_OK
               : VS_ERR_MEMORY;
}

static void judge_peaks(vs_cautions *c, const vs_caution_optics *optics, const vs_day *day) {
    for (size_t room = 0; room < day->room_count; room++) {
        vs_day_curve curve = vs_day_curve_of(day, room);
        c->peak_per_m[room] = vs_day_curve_peak(&curve, &c->peak_at_s[room]);
        if (c->peak_per_m[room] > c->peak_per_m[c->thickest]) {
            c->thickest = room;
        }
    }
    c->peak_mass = vs_caution_mass_of(optics, c->peak_per_m[c->thickest]);
}

static void judge_people(vs_cautions *c, const vs_scene *scene, const vs_safety_tables *tables,
                         const vs_caution_optics *optics, const vs_day *day) {
    vs_day_curve curve = vs_day_curve_of(day, day->room_count);
    for (size_t person = 0; person < c->person_count; person++) {
        for (size_t i = 0; i < tables->limit_count; i++) {
            const vs_exposure_limit *limit = &tables->limit[i];
            if (!vs_exposure_limit_is_for(limit, scene->fluid.class_)) {
                continue;
            }
            double shift_s = c->person[person].length_s;
            vs_caution_mass over =
                vs_caution_mass_of(optics, vs_exposure_over(limit, &curve, shift_s));
            vs_caution_mass spread =
                vs_caution_mass_of(optics, vs_exposure_spread(limit, &curve, shift_s));
            vs_exposure_caution caution = {
                person,     limit,     vs_exposure_limit_g_per_m3(limit, shift_s),
                over.low,   over.high, spread.low,
                spread.high};
            c->exposure[c->exposure_count++] = caution;
        }
    }
}

/* When a room's haze first reaches this extinction at the wavelength of a kind [s]; NaN: never. */
static double reached_s(const vs_day *day, const vs_caution_optics *optics, size_t room,
                        vs_detector_kind kind, double extinction_per_m) {
    return vs_day_reaches_s(day, room, extinction_per_m / optics->at_detector[kind]);
}

static void judge_detectors(vs_cautions *c, const vs_scene *scene, const vs_safety_tables *tables,
                            const vs_caution_optics *optics, const vs_day *day) {
    c->first_detector = VS_NONE;
    c->detector_count = scene->venue.detector_count;
    for (size_t i = 0; i < c->detector_count; i++) {
        const vs_scene_detector *d = &scene->venue.detector[i];
        c->detector[i] = vs_caution_detector(d, tables, optics, c->peak_per_m[d->room]);
        c->detector[i].reached_s =
            reached_s(day, optics, d->room, d->kind, c->detector[i].alarm_per_m);
        if (c->detector[i].reached &&
            (c->first_detector == VS_NONE ||
             c->detector[i].reached_s < c->detector[c->first_detector].reached_s)) {
            c->first_detector = i;
        }
    }
}

static void judge_thresholds(vs_cautions *c, const vs_scene *scene, const vs_safety_tables *tables,
                             const vs_caution_optics *optics, const vs_day *day) {
    for (size_t room = 0; room < scene->room_count; room++) {
        double path_m = fmax(scene->room[room].size_m.x, scene->room[room].size_m.y);
        for (int k = 0; k < VS_DETECTOR_KIND_COUNT; k++) {
            vs_detector_kind kind = (vs_detector_kind)k;
            const vs_detector_type *type = &tables->detector[kind];
            for (size_t i = 0; i < type->threshold_count; i++) {
                const vs_detector_threshold *t = &type->threshold[i];
                double low = vs_detector_alarm_per_m(t->unit, t->low, path_m);
                double high = vs_detector_alarm_per_m(t->unit, t->high, path_m);
                vs_threshold_caution caution = {
                    .room = room,
                    .kind = kind,
                    .threshold = t,
                    .path_m = path_m,
                    .peak_per_m = c->peak_per_m[room] * optics->at_detector[kind],
                    .low_per_m = low,
                    .high_per_m = high,
                    .reached_low_s = reached_s(day, optics, room, kind, low),
                    .reached_high_s = reached_s(day, optics, room, kind, high)};
                c->threshold[c->threshold_count++] = caution;
            }
        }
    }
}

vs_status vs_cautions_init(vs_cautions *cautions, const vs_scene *scene,
                           const vs_safety_tables *tables, const vs_caution_optics *optics,
                           const vs_day *day) {
    static const vs_scene_person crew = {"crew", VS_CAUTION_CREW_S};
    memset(cautions, 0, sizeof *cautions);
    bool given = scene->venue.person_count > 0;
    cautions->person = given ? scene->venue.person : &crew;
    cautions->person_count = given ? scene->venue.person_count : 1;
    vs_status status = allocate(cautions, scene, tables);
    if (status != VS_OK) {
        vs_cautions_free(cautions);
        return status;
    }
    judge_peaks(cautions, optics, day);
    judge_people(cautions, scene, tables, optics, day);
    judge_detectors(cautions, scene, tables, optics, day);
    judge_thresholds(cautions, scene, tables, optics, day);
    cautions->exit = vs_caution_exit(scene, tables, cautions->peak_per_m);
    return VS_OK;
}

void vs_cautions_free(vs_cautions *cautions) {
    free(cautions->exposure);
    free(cautions->peak_per_m);
    free(cautions->peak_at_s);
    free(cautions->detector);
    free(cautions->threshold);
    memset(cautions, 0, sizeof *cautions);
}

bool vs_cautions_any_reached(const vs_cautions *cautions) {
    bool reached = cautions->first_detector != VS_NONE || !cautions->exit.exit_seen ||
                   !cautions->exit.criterion_met;
    for (size_t i = 0; i < cautions->exposure_count; i++) {
        reached = reached || !(cautions->exposure[i].high < cautions->exposure[i].limit_g_per_m3);
    }
    return reached;
}
