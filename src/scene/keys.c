/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every key that a scene file may hold, object by object. docs/scene.md gives their meaning,
 * docs/scene.schema.json their form; tests/unit/test_scene_keys.c checks that the three agree. */
#include "scene/keys.h"

#include <string.h>

static const char *const scene_keys[] = {"veilstop",  "title",    "lengths", "start",    "rooms",
                                         "openings",  "blockers", "fluid",   "hazer",    "indirect",
                                         "lights",    "cameras",  "shots",   "readings", "venue",
                                         "uncertain", "figures",  "$schema"};
static const char *const room_keys[] = {"name",
                                        "corner",
                                        "size",
                                        "reflectance",
                                        "air_changes_per_h",
                                        "deposition_per_h",
                                        "mixing_min",
                                        "purge_air_changes_per_h"};
static const char *const reflectance_keys[] = {"walls", "ceiling", "floor", "north",
                                               "south", "east",    "west"};
static const char *const opening_keys[] = {"name", "rooms", "corners", "transmittance",
                                           "exchange_m3_per_h"};
static const char *const blocker_keys[] = {"name", "at",          "aim",
                                           "size", "reflectance", "transmittance"};
static const char *const figure_keys[] = {"name", "at", "height", "facing_deg", "reflectance"};
static const char *const hazer_keys[] = {"room", "fluid_ml_per_h", "airborne_fraction", "warm_up_s",
                                         "burst_s"};
static const char *const indirect_keys[] = {"nits"};
static const char *const fed_by_keys[] = {"light", "transmittance", "reflectance", "direct"};
static const char *const camera_keys[] = {"name",
                                          "at",
                                          "aim",
                                          "roll_deg",
                                          "focal_mm",
                                          "sensor_mm",
                                          "t_stop",
                                          "iso",
                                          "fps",
                                          "shutter_deg",
                                          "shutter_s",
                                          "nd_stops",
                                          "white_kelvin",
                                          "stops_above_grey",
                                          "stops_below_grey",
                                          "curve"};
static const char *const curve_keys[] = {"log"};
static const char *const log_keys[] = {"a", "b", "c", "d", "e", "f", "cut"};
static const char *const shot_keys[] = {"name",
                                        "camera",
                                        "lights",
                                        "extinction_per_m",
                                        "mass_mg_per_m3",
                                        "visible_range_m",
                                        "minutes",
                                        "after",
                                        "takes",
                                        "points",
                                        "wants",
                                        "dimmers",
                                        "open",
                                        "t_stop",
                                        "iso",
                                        "nd_stops",
                                        "sun"};
static const char *const sun_keys[] = {"azimuth_deg", "elevation_deg"};
static const char *const takes_keys[] = {"roll_min", "reset_min"};
static const char *const point_keys[] = {"name",   "at",    "nits", "reflectance",
                                         "facing", "stops", "on",   "height"};
static const char *const reading_keys[] = {
    "min",    "room",  "camera", "distance_m", "lit_from_m",
    "lit_by", "clear", "hazed",  "percent",    "uncertainty_stops"};
static const char *const patches_keys[] = {"white", "black"};
static const char *const venue_keys[] = {"detectors", "people", "exit_m", "exit_sign", "rules"};
static const char *const detector_keys[] = {
    "name", "room", "kind", "alarm_db_per_m", "alarm_percent_per_ft", "alarm_percent", "path_m"};
static const char *const person_keys[] = {"who", "minutes"};

static const char *const light_keys[] = {
    "name",      "kind",      "dimmer",    "on",  "tint",   "kelvin",
    "gel",       "gel_mired", /* every light */
    "at",        "aim",       "from",      "to",  "size",   "beam_deg",
    "field_deg", "candela",   "lumens",    "lux", "lux_at", "nits",
    "fed_by",    "through",   "direction", "sun", "file",   "roll_deg"};
#define EVERY_LIGHT_KEYS 8

#define LIMIT_KEY(member, key, bound, unit) key,
static const char *const want_keys[] = {
    "want", "between", "at", "light", "near", "shot", VS_WANT_LIMIT_LIST(LIMIT_KEY)};

static bool light_takes(size_t kind, const char *key) {
    for (size_t i = 0; i < EVERY_LIGHT_KEYS; i++) {
        if (strcmp(light_keys[i], key) == 0) {
            return true;
        }
    }
    return vs_light_kind_takes((vs_light_kind)kind, key);
}

static bool want_takes(size_t kind, const char *key) {
    return vs_want_takes((vs_want_kind)kind, key);
}

#define LIST(name, keys)                                                                           \
    { name, keys, sizeof keys / sizeof keys[0], NULL, NULL, NULL, 0 }
#define LIST_OF_KINDS(name, keys, noun, takes, words)                                              \
    { name, keys, sizeof keys / sizeof keys[0], noun, takes, words, sizeof words / sizeof words[0] }

#define LIGHT_WORD(member, word, ...) word,
static const char *const light_words[] = {VS_LIGHT_LIST(LIGHT_WORD)};
#define WANT_WORD(member, word, ...) word,
static const char *const want_words[] = {VS_WANT_LIST(WANT_WORD)};

const vs_scene_key_list vs_scene_keys[VS_KEYS_COUNT] = {
    [VS_KEYS_SCENE] = LIST("scene", scene_keys),
    [VS_KEYS_ROOM] = LIST("room", room_keys),
    [VS_KEYS_REFLECTANCE] = LIST("reflectance", reflectance_keys),
    [VS_KEYS_OPENING] = LIST("opening", opening_keys),
    [VS_KEYS_BLOCKER] = LIST("blocker", blocker_keys),
    [VS_KEYS_FIGURE] = LIST("figure", figure_keys),
    [VS_KEYS_HAZER] = LIST("hazer", hazer_keys),
    [VS_KEYS_INDIRECT] = LIST("indirect", indirect_keys),
    [VS_KEYS_LIGHT] = LIST_OF_KINDS("light", light_keys, "kind", light_takes, light_words),
    [VS_KEYS_SUN] = LIST("sun", sun_keys),
    [VS_KEYS_FED_BY] = LIST("fed_by", fed_by_keys),
    [VS_KEYS_CAMERA] = LIST("camera", camera_keys),
    [VS_KEYS_CURVE] = LIST("curve", curve_keys),
    [VS_KEYS_LOG] = LIST("log", log_keys),
    [VS_KEYS_SHOT] = LIST("shot", shot_keys),
    [VS_KEYS_TAKES] = LIST("takes", takes_keys),
    [VS_KEYS_POINT] = LIST("point", point_keys),
    [VS_KEYS_WANT] = LIST_OF_KINDS("want", want_keys, "want", want_takes, want_words),
    [VS_KEYS_READING] = LIST("reading", reading_keys),
    [VS_KEYS_PATCHES] = LIST("patches", patches_keys),
    [VS_KEYS_VENUE] = LIST("venue", venue_keys),
    [VS_KEYS_DETECTOR] = LIST("detector", detector_keys),
    [VS_KEYS_PERSON] = LIST("person", person_keys),
};

const char *const *vs_scene_words(vs_scene_object which) {
    return vs_scene_keys[which].word;
}
