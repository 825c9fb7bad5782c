/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Fluids from files: each figure is read once and reported with its pointer if wrong.
 * Form and ranges: docs/scene.md, "Fluids"; optics/haze.h. */
#include "veilstop/scene/fluid.h"

#include <math.h>
#include <stdint.h>

#include "veilstop/base/bands.h"
#include "veilstop/base/lognormal.h"
#include "veilstop/base/units.h"

/* What is beyond these is a typing error; under the least of them figures would be none. */
#define EXTINCTION_MIN  1e-3 /* [m2/g] millimetre drops have 0.003: 3 over diameter and density */
#define EXTINCTION_MAX  1000 /* [m2/g] */
#define SETTLING_MAX    1    /* [m/s] */
#define HALF_LIFE_MIN   0.01 /* [min] what lasts less is no haze */
#define HALF_LIFE_MAX   1e6  /* [min] */
#define DENSITY_MIN     0.1  /* [g/ml] the lightest liquids have 0.5 */
#define NONVOLATILE_MIN 1e-6 /* [1] */
#define CAUCHY_MAX      10   /* [um2, um4] */
#define COUNT_OF(list)  (sizeof(list) / sizeof(list)[0])

static const char *const keys[] = {"class",
                                   "density_g_per_ml",
                                   "nonvolatile_fraction",
                                   "refractive_index",
                                   "median_um",
                                   "mass_median_um",
                                   "gsd",
                                   "half_life_min",
                                   "extinction_m2_per_g",
                                   "g",
                                   "settling_m_per_s",
                                   "title",
                                   "sources"};
/* The keys that Mie theory needs, and those of a measured fluid in their place. */
static const char *const droplet_keys[] = {"refractive_index", "median_um", "mass_median_um",
                                           "gsd"};
static const char *const measured_keys[] = {"g", "settling_m_per_s"};

static const vs_json_range index_range = {VS_FLUID_INDEX_MIN, VS_FLUID_INDEX_MAX, true, false};

/* ---- the refractive index ---- */

static bool read_cauchy(const vs_json_value *value, vs_refractive_index *index) {
    static const char *const cauchy_key[] = {"cauchy"};
    static const vs_json_range terms = {-CAUCHY_MAX, CAUCHY_MAX, false, false};
    static const double wavelength_nm[] = {VS_BAND_RED_NM, VS_BAND_GREEN_NM, VS_BAND_BLUE_NM};
    index->kind = VS_INDEX_CAUCHY;
    if (!vs_json_check_object(value, cauchy_key, 1) ||
        !vs_json_need_numbers(value, "cauchy", terms, index->n, 3)) {
        return false;
    }
    vs_json_value list = vs_json_get(value, "cauchy");
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        double n = vs_index_real_at(index, wavelength_nm[band] * VS_M_PER_NM);
        if (!(n > VS_FLUID_INDEX_MIN && n <= VS_FLUID_INDEX_MAX)) {
            vs_json_fault(&list, "must give an index over %g and at most %g at %g nm (got %.6g)",
                          VS_FLUID_INDEX_MIN, VS_FLUID_INDEX_MAX, wavelength_nm[band], n);
            return false;
        }
    }
    return true;
}

static bool read_index(const vs_json_value *object, vs_refractive_index *index) {
    vs_json_value value = vs_json_get(object, "refractive_index");
    index->k = 0;
    if (vs_json_is_number(&value)) {
        index->kind = VS_INDEX_CONSTANT;
        index->n[0] = vs_json_need_number(&value, NULL, index_range);
        return !isnan(index->n[0]);
    }
    if (vs_json_is_array(&value)) {
        index->kind = VS_INDEX_BANDS;
        return vs_json_need_numbers(&value, NULL, index_range, index->n, VS_BAND_COUNT);
    }
    if (vs_json_is_object(&value)) {
        return read_cauchy(&value, index);
    }
    vs_json_fault_got(&value, "must be a number, [red, green, blue] or {\"cauchy\": [A, B, C]}");
    return false;
}

/* ---- the droplets ---- */

/* The median given, by count or by mass, and the other derived from it, both in range. */
static bool read_median(const vs_json_value *object, vs_fluid *fluid) {
    vs_json_value count = vs_json_get(object, "median_um");
    vs_json_value mass = vs_json_get(object, "mass_median_um");
    bool by_mass = vs_json_exists(&mass);
    if (by_mass == vs_json_exists(&count)) {
        vs_json_fault(by_mass ? &mass : &count, "must be given, or %s, but not both",
                      by_mass ? "median_um" : "mass_median_um");
        return false;
    }
    const vs_json_value *given = by_mass ? &mass : &count;
    vs_json_range range = {by_mass ? VS_FLUID_MASS_MEDIAN_MIN_M : VS_FLUID_MEDIAN_MIN_M,
                           VS_FLUID_MASS_MEDIAN_MAX_M, false, false};
    vs_json_range range_um = {range.low / VS_M_PER_UM, range.high / VS_M_PER_UM, false, false};
    double median_m = vs_json_need_number(given, NULL, range_um) * VS_M_PER_UM;
    if (isnan(median_m) || isnan(fluid->gsd)) {
        return false;
    }
    double b = by_mass ? -VS_LOGNORMAL_MASS_MEDIAN : VS_LOGNORMAL_MASS_MEDIAN;
    double other_m = vs_lognormal_diameter(median_m, fluid->gsd, b);
    fluid->median_m = by_mass ? other_m : median_m;
    double low = by_mass ? VS_FLUID_MEDIAN_MIN_M : VS_FLUID_MASS_MEDIAN_MIN_M;
    if (!(other_m >= low && other_m <= VS_FLUID_MASS_MEDIAN_MAX_M)) {
        vs_json_fault(given,
                      "must give, with this gsd, a median by %s of %g to %g um (got %.4g um)",
                      by_mass ? "count" : "mass", low / VS_M_PER_UM,
                      VS_FLUID_MASS_MEDIAN_MAX_M / VS_M_PER_UM, other_m / VS_M_PER_UM);
        return false;
    }
    return true;
}

static bool read_droplets(const vs_json_value *object, vs_fluid *fluid) {
    static const vs_json_range gsd = {VS_FLUID_GSD_MIN, VS_FLUID_GSD_MAX, false, false};
    bool good = true;
    for (size_t i = 0; i < COUNT_OF(measured_keys); i++) {
        vs_json_value value = vs_json_get(object, measured_keys[i]);
        if (vs_json_exists(&value)) {
            vs_json_fault(&value, "has a place only beside extinction_m2_per_g");
            good = false;
        }
    }
    fluid->gsd = vs_json_need_number(object, "gsd", gsd);
    good = read_index(object, &fluid->index) && good;
    good = read_median(object, fluid) && good;
    return good && !isnan(fluid->gsd);
}

static bool read_measured(const vs_json_value *object, vs_fluid *fluid) {
    static const vs_json_range extinction = {EXTINCTION_MIN, EXTINCTION_MAX, false, false};
    static const vs_json_range g = {-1, 1, true, true};
    static const vs_json_range settling = {0, SETTLING_MAX, false, false};
    bool good = true;
    for (size_t i = 0; i < COUNT_OF(droplet_keys); i++) {
        vs_json_value value = vs_json_get(object, droplet_keys[i]);
        if (vs_json_exists(&value)) {
            vs_json_fault(&value, "has no place beside extinction_m2_per_g, which replaces it");
            good = false;
        }
    }
    fluid->measured = true;
    fluid->extinction_m2_per_g = vs_json_need_number(object, "extinction_m2_per_g", extinction);
    fluid->g = vs_json_need_number(object, "g", g);
    fluid->settling_m_per_s = vs_json_take_number(object, "settling_m_per_s", settling, 0);
    return good && !isnan(fluid->extinction_m2_per_g) && !isnan(fluid->g) &&
           !isnan(fluid->settling_m_per_s);
}

/* ---- the liquid ---- */

static double read_half_life_s(const vs_json_value *object) {
    static const vs_json_range minutes = {HALF_LIFE_MIN, HALF_LIFE_MAX, false, false};
    vs_json_value value = vs_json_get(object, "half_life_min");
    if (!vs_json_exists(&value) || vs_json_is_null(&value)) {
        return INFINITY;
    }
    return vs_json_need_number(&value, NULL, minutes) * VS_S_PER_MIN;
}

static bool read_liquid(const vs_json_value *object, vs_fluid *fluid) {
    static const vs_json_range density = {DENSITY_MIN, VS_FLUID_DENSITY_MAX, false, false};
    static const vs_json_range fraction = {NONVOLATILE_MIN, 1, false, false};
    size_t class_ =
        vs_json_take_choice(object, "class", vs_fluid_class_words, VS_FLUID_CLASS_COUNT, 0);
    fluid->class_ = class_ == SIZE_MAX ? VS_FLUID_GLYCOL : (vs_fluid_class)class_;
    fluid->density_g_per_ml = vs_json_take_number(object, "density_g_per_ml", density, 1);
    fluid->nonvolatile_fraction = vs_json_take_number(object, "nonvolatile_fraction", fraction, 1);
    fluid->half_life_s = read_half_life_s(object);
    return class_ != SIZE_MAX && !isnan(fluid->density_g_per_ml) &&
           !isnan(fluid->nonvolatile_fraction) && !isnan(fluid->half_life_s);
}

bool vs_fluid_read(const vs_json_value *value, vs_fluid *fluid) {
    vs_fluid blank = {
        .extinction_m2_per_g = NAN, .g = NAN, .settling_m_per_s = NAN, .median_m = NAN, .gsd = NAN};
    *fluid = blank;
    size_t faults = value->faults->count + value->faults->more;
    if (!vs_json_check_object(value, keys, COUNT_OF(keys))) {
        return false;
    }
    vs_json_value extinction = vs_json_get(value, "extinction_m2_per_g");
    bool good = read_liquid(value, fluid);
    good = (vs_json_exists(&extinction) ? read_measured : read_droplets)(value, fluid) && good;
    return good && value->faults->count + value->faults->more == faults;
}
