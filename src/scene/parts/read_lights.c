/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lights as a gaffer describes them: kind, place, strength, colour, and what feeds what.
 * Windows are in read_windows.c.
 * Strengths are kept as given; src/light works out what they mean in each direction. */
#include "scene/parts/read_lights.h"

#include <stdint.h>

#include "scene/parts/read_photometry.h"
#include "scene/parts/read_windows.h"
#include "scene/place/lengths.h"
#include "scene/reader.h"
#include "veilstop/base/units.h"
#include "veilstop/light/colour.h"

#define SHARE_ROUNDING 1e-12 /* [1] rounding may take a sum of 1 slightly over it */

static const vs_json_range share = {0, 1, false, false};           /* [1] */
static const vs_json_range strength = {0, 1e10, false, false};     /* cd, lm, lx or cd/m2 */
static const vs_json_range full_angle_deg = {0, 180, true, false}; /* [deg] */

/* The ways to give a strength, in the order of the keys below. */
static const char *const strength_key[] = {"candela", "lumens", "lux", "nits", "fed_by"};
static const vs_strength_kind strength_kind[] = {
    VS_STRENGTH_CANDELA, VS_STRENGTH_LUMENS, VS_STRENGTH_LUX, VS_STRENGTH_NITS, VS_STRENGTH_FED};
enum { STRENGTH_WAYS = sizeof strength_key / sizeof strength_key[0] };

static bool takes(vs_light_kind kind, const char *key) {
    return vs_light_kind_takes(kind, key);
}

/* The distance at which its lux were measured; only for lights given in lux. */
static void read_lux_at(vs_scene_reader *reader, const vs_json_value *value, vs_light *light) {
    static const vs_json_range distance_m = {0.01, VS_SCENE_FAR_M, false, false};
    bool wanted = light->strength == VS_STRENGTH_LUX && takes(light->kind, "lux_at");
    vs_json_value lux_at = vs_json_get(value, "lux_at");
    light->lux_at_m = NAN;
    if (wanted) {
        light->lux_at_m = vs_scene_need_length(reader, &lux_at, NULL, distance_m);
    } else if (vs_json_exists(&lux_at) && takes(light->kind, "lux_at")) {
        vs_json_fault(&lux_at, "must stand beside \"lux\" (got it alone)");
    }
}

static void read_feed(vs_scene_reader *reader, const vs_json_value *value, vs_light *light) {
    static const char *const share_key[] = {"transmittance", "reflectance"};
    vs_json_value feed = vs_json_get(value, "fed_by");
    light->fed_by = VS_NONE;
    if (!vs_scene_check_keys(&feed, VS_KEYS_FED_BY, VS_KIND_UNKNOWN)) {
        return;
    }
    light->fed_by = vs_scene_need_reference(&feed, "light", &reader->lights);
    light->fed_direct = vs_json_take_number(&feed, "direct", share, 0.0);
    size_t way = vs_scene_only_one(&feed, share_key, 2, true);
    if (way == SIZE_MAX) {
        return;
    }
    light->fed_front = way == 1;
    light->fed_share = vs_json_need_number(&feed, share_key[way], share);
    if (light->fed_share + light->fed_direct > 1 + SHARE_ROUNDING) {
        vs_json_value direct = vs_json_get(&feed, "direct");
        vs_json_fault_got(&direct, "must be at most 1 together with the %s %.6g", share_key[way],
                          light->fed_share);
    }
}

/* Exactly one of the ways that the kind accepts. */
static void read_strength(vs_scene_reader *reader, const vs_json_value *value, vs_light *light) {
    const char *key[STRENGTH_WAYS];
    vs_strength_kind way_of[STRENGTH_WAYS];
    size_t count = 0;
    for (size_t i = 0; i < STRENGTH_WAYS; i++) {
        if (takes(light->kind, strength_key[i])) {
            key[count] = strength_key[i];
            way_of[count++] = strength_kind[i];
        }
    }
    light->value = NAN;
    light->strength = VS_STRENGTH_TABLE;
    size_t way = count > 0 ? vs_scene_only_one(value, key, count, true) : SIZE_MAX;
    if (way == SIZE_MAX) {
        return;
    }
    light->strength = way_of[way];
    if (light->strength == VS_STRENGTH_FED) {
        read_feed(reader, value, light);
    } else {
        light->value = vs_json_need_number(value, key[way], strength);
    }
    read_lux_at(reader, value, light);
}

/* A tint is scaled to luminance 1, so that it does not change a light's strength. */
static void read_colour(const vs_json_value *value, vs_light *light) {
    static const char *const colour_key[] = {"tint", "kelvin"};
    static const vs_json_range band = {0, 1000, false, false}; /* [1] of a tint */
    static const vs_json_range kelvin = {VS_COLOUR_KELVIN_MIN, VS_COLOUR_KELVIN_MAX, false, false};
    size_t way = vs_scene_only_one(value, colour_key, 2, false);
    light->colour = VS_COLOUR_NEUTRAL;
    light->tint = vs_bands_grey(1.0);
    light->kelvin = NAN;
    if (way == 1) {
        light->colour = VS_COLOUR_KELVIN;
        light->kelvin = vs_json_need_number(value, "kelvin", kelvin);
    } else if (way == 0) {
        vs_bands tint = {{0}};
        light->colour = VS_COLOUR_TINT;
        if (!vs_json_need_numbers(value, "tint", band, tint.v, VS_BAND_COUNT)) {
            return;
        }
        double luminance = vs_bands_luminance(tint);
        if (luminance > 1e-6) { /* [1] darker ones have no usable colour */
            light->tint = vs_bands_scale(tint, 1.0 / luminance);
        } else {
            vs_json_value member = vs_json_get(value, "tint");
            vs_json_fault(&member, "must have some light in it (got none)");
        }
    }
}

static void read_beam(vs_scene_reader *reader, const vs_json_value *value, vs_light *light) {
    (void)reader;
    light->beam_rad = vs_json_need_number(value, "beam_deg", full_angle_deg) * VS_RAD_PER_DEG;
    light->field_rad =
        vs_json_take_number(value, "field_deg", full_angle_deg, NAN) * VS_RAD_PER_DEG;
    if (light->field_rad <= light->beam_rad) {
        vs_json_value field = vs_json_get(value, "field_deg");
        vs_json_fault_got(&field, "must be wider than beam_deg %.6g",
                          light->beam_rad / VS_RAD_PER_DEG);
    }
}

static void read_nothing(vs_scene_reader *reader, const vs_json_value *value, vs_light *light) {
    (void)reader;
    (void)value;
    (void)light;
}

static void read_size(vs_scene_reader *reader, const vs_json_value *value, vs_light *light) {
    vs_scene_need_size2(reader, value, "size", &light->width_m, &light->height_m);
}

static void read_photometry(vs_scene_reader *reader, const vs_json_value *value, vs_light *light) {
    vs_scene_read_photometry(reader, value, light);
}

/* The keys of a kind besides place, strength and colour, by the names in light_kind.h. */
typedef void read_own(vs_scene_reader *reader, const vs_json_value *value, vs_light *light);
#define READ_OWN(member, word, traits, keys, emitter, reader) read_##reader,
static read_own *const read_own_of[VS_LIGHT_KIND_COUNT] = {VS_LIGHT_LIST(READ_OWN)};

static void read_place(vs_scene_reader *reader, const vs_json_value *value, vs_light *light) {
    bool runs = vs_light_kind_is(light->kind, VS_LIGHT_FROM_TO);
    const char *at = runs ? "from" : "at", *aim = runs ? "to" : "aim";
    if (takes(light->kind, at)) {
        light->at_m = vs_scene_need_position(reader, value, at);
    }
    if (takes(light->kind, aim)) {
        light->aim_m = vs_scene_need_aim(reader, value, aim, light->at_m, at);
    }
}

static void read_kind(vs_scene_reader *reader, const vs_json_value *value, vs_light *light) {
    light->beam_rad = light->field_rad = NAN;
    light->fed_by = light->through = VS_NONE;
    read_place(reader, value, light);
    read_own_of[light->kind](reader, value, light);
    read_strength(reader, value, light);
}

/* The transmission of a gel, by band or as a shift of colour temperature. */
static void read_gel(const vs_json_value *value, vs_light *light) {
    static const char *const gel_key[] = {"gel", "gel_mired"};
    static const vs_json_range mired = {-500, 500, false, false};
    size_t way = vs_scene_only_one(value, gel_key, 2, false);
    vs_json_value gel = vs_json_get(value, way == 1 ? "gel_mired" : "gel");
    if (way == 1) {
        light->gel_mired = vs_json_need_number(&gel, NULL, mired);
        double shifted_mired = 1e6 / light->kelvin + light->gel_mired; /* NaN without kelvin */
        if (shifted_mired < 1e6 / VS_COLOUR_KELVIN_MAX ||
            shifted_mired > 1e6 / VS_COLOUR_KELVIN_MIN) {
            vs_json_fault_got(&gel, "must leave the light between %g and %g K",
                              VS_COLOUR_KELVIN_MIN, VS_COLOUR_KELVIN_MAX);
        }
    } else if (way == 0 && vs_json_need_numbers(&gel, NULL, share, light->gel.v, VS_BAND_COUNT)) {
        light->has_gel = true;
        if (!(vs_bands_luminance(light->gel) > 0)) {
            vs_json_fault(&gel, "must let some light through (got none)");
        }
    }
}

/* Names the trade uses for lights, and the kind to use for each. */
static const struct {
    const char *word, *use;
} spoken[] = {{"led", "\"spot\" or \"panel\""},
              {"hmi", "\"spot\""},
              {"tungsten", "\"spot\""},
              {"fresnel", "\"spot\" (or \"panel\" where it is soft)"},
              {"par", "\"spot\""},
              {"profile", "\"spot\""},
              {"ellipsoidal", "\"spot\""},
              {"projector", "\"spot\""},
              {"flood", "\"spot\" or \"panel\""},
              {"torch", "\"spot\""},
              {"flashlight", "\"spot\""},
              {"headlight", "\"spot\""},
              {"softbox", "\"panel\" (or \"spot\" where it is hard)"},
              {"softlight", "\"panel\""},
              {"soft", "\"panel\""},
              {"diffusion", "\"panel\" with \"fed_by\""},
              {"frame", "\"panel\" with \"fed_by\""},
              {"bounce", "\"panel\" with \"fed_by\""},
              {"lantern", "\"lamp\""},
              {"bulb", "\"lamp\""},
              {"practical", "\"lamp\""},
              {"candle", "\"lamp\""},
              {"fluorescent", "\"tube\""},
              {"neon", "\"tube\""},
              {"strip", "\"tube\" or \"panel\""},
              {"window", "\"sky\" or \"sun\""},
              {"daylight", "\"sky\" or \"sun\""},
              {"moon", "\"sun\" with few lux"},
              {"ies", "\"photometry\""}};

/* Suggests the kind for a name the trade uses. False if it is not such a name. */
static bool suggest_kind(const vs_json_value *value) {
    vs_json_value kind = vs_json_get(value, "kind");
    for (size_t i = 0; i < sizeof spoken / sizeof spoken[0]; i++) {
        if (vs_json_is_word(&kind, spoken[i].word)) {
            vs_json_fault_got(&kind, "must be a kind of light: use %s", spoken[i].use);
            return true;
        }
    }
    return false;
}

static void read_light(vs_scene_reader *reader, const vs_json_value *value, vs_light *light) {
    vs_json_value name = vs_json_get(value, "name");
    if (vs_json_is_word(&name, "indirect")) {
        vs_json_fault(&name, "must be another name than \"indirect\", which is the walls' light");
    }
    light->on = vs_json_take_bool(value, "on", true);
    light->dimmer = vs_json_take_number(value, "dimmer", share, 1.0);
    size_t kind = suggest_kind(value)
                      ? SIZE_MAX
                      : vs_json_need_choice(value, "kind", vs_scene_words(VS_KEYS_LIGHT),
                                            VS_LIGHT_KIND_COUNT);
    light->fed_by = VS_NONE;
    if (kind == SIZE_MAX) {
        vs_scene_check_keys(value, VS_KEYS_LIGHT, VS_KIND_UNKNOWN);
        return;
    }
    light->kind = (vs_light_kind)kind;
    vs_scene_check_keys(value, VS_KEYS_LIGHT, kind);
    read_kind(reader, value, light);
    read_colour(value, light);
    read_gel(value, light);
    if (vs_light_kind_is(light->kind, VS_LIGHT_BY_OPENING)) {
        vs_scene_read_windows(reader, value, light);
    }
}

/* Whether the chain of feeds from a light leads back to it. A loop without it ends the walk after
 * as many steps as there are lights. */
static bool feeds_itself(const vs_light *light, size_t count, size_t start) {
    size_t at = start;
    for (size_t step = 0; step < count; step++) {
        if (light[at].strength != VS_STRENGTH_FED || light[at].fed_by == VS_NONE) {
            return false;
        }
        at = light[at].fed_by;
        if (at == start) {
            return true;
        }
    }
    return false;
}

static void check_loops(const vs_json_value *list, const vs_light *light, size_t count) {
    for (size_t i = 0; i < count; i++) {
        if (feeds_itself(light, count, i)) {
            vs_json_value value = vs_json_at(list, i), feed = vs_json_get(&value, "fed_by");
            vs_json_value name = vs_json_get(&feed, "light");
            vs_json_fault_got(&name, "must not lead back to the light itself");
        }
    }
}

void vs_scene_read_lights(vs_scene_reader *reader) {
    size_t count = vs_scene_read_names(reader, &reader->root, "lights", 0, VS_SCENE_LIGHTS_MAX,
                                       "light", &reader->lights);
    vs_light *light = vs_scene_new(reader, count ? VS_SCENE_LIGHTS_MAX : 0, sizeof *light);
    vs_json_value list = vs_json_get(&reader->root, "lights");
    reader->light = light;
    for (size_t i = 0; light && i < count; i++) {
        vs_json_value value = vs_json_at(&list, i);
        light[i].name = reader->lights.name[i];
        light[i].fed_by = VS_NONE;
        if (vs_json_is_object(&value)) {
            read_light(reader, &value, &light[i]);
        } else {
            vs_json_fault_got(&value, "must be an object, { }");
        }
    }
    reader->scene->light = light;
    reader->scene->light_count = light ? count + reader->parts : 0;
    check_loops(&list, light, light ? count : 0);
}
