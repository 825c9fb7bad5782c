/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every key that a scene file may hold, object by object. docs/scene.md says what each means and
 * docs/scene.schema.json its shape; tests/unit/test_scene_keys.c holds the three together. */
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

#define KIND(kind) (1u << (kind))
#define EVERY      (~0u)
#define LAMP       KIND(VS_LIGHT_LAMP)
#define SPOT       KIND(VS_LIGHT_SPOT)
#define PANEL      KIND(VS_LIGHT_PANEL)
#define TUBE       KIND(VS_LIGHT_TUBE)
#define SUN        KIND(VS_LIGHT_SUN)
#define SKY        KIND(VS_LIGHT_SKY)
#define PHOTOMETRY KIND(VS_LIGHT_PHOTOMETRY)
#define CONTRAST   KIND(VS_WANT_CONTRAST)
#define BLACK      KIND(VS_WANT_BLACK)
#define BEAM       KIND(VS_WANT_BEAM)
#define SEPARATION KIND(VS_WANT_SEPARATION)
#define SIGHT      KIND(VS_WANT_SIGHT)
#define LIKE       KIND(VS_WANT_LIKE)
#define GLOW       KIND(VS_WANT_GLOW)

#define LIGHT_KEYS(X)                                                                              \
    X("name", EVERY)                                                                               \
    X("kind", EVERY)                                                                               \
    X("dimmer", EVERY)                                                                             \
    X("on", EVERY)                                                                                 \
    X("tint", EVERY)                                                                               \
    X("kelvin", EVERY)                                                                             \
    X("gel", EVERY)                                                                                \
    X("gel_mired", EVERY)                                                                          \
    X("at", LAMP | SPOT | PANEL | PHOTOMETRY)                                                      \
    X("aim", SPOT | PANEL | PHOTOMETRY)                                                            \
    X("from", TUBE)                                                                                \
    X("to", TUBE)                                                                                  \
    X("size", PANEL)                                                                               \
    X("beam_deg", SPOT)                                                                            \
    X("field_deg", SPOT)                                                                           \
    X("candela", LAMP | SPOT)                                                                      \
    X("lumens", LAMP | SPOT | PANEL | TUBE)                                                        \
    X("lux", SPOT | PANEL | TUBE | SUN)                                                            \
    X("lux_at", SPOT | PANEL | TUBE)                                                               \
    X("nits", PANEL | SKY)                                                                         \
    X("fed_by", PANEL)                                                                             \
    X("through", SUN | SKY)                                                                        \
    X("direction", SUN)                                                                            \
    X("sun", SUN)                                                                                  \
    X("file", PHOTOMETRY)                                                                          \
    X("roll_deg", PHOTOMETRY)

#define WANT_KEYS(X)                                                                               \
    X("want", EVERY)                                                                               \
    X("between", CONTRAST | SEPARATION)                                                            \
    X("at", BLACK | LIKE)                                                                          \
    X("light", BEAM | GLOW)                                                                        \
    X("near", BEAM)                                                                                \
    X("shot", LIKE)                                                                                \
    X("lose_at_most_stops", CONTRAST)                                                              \
    X("lift_at_most_percent", BLACK)                                                               \
    X("at_least_stops", BEAM | SEPARATION)                                                         \
    X("at_least_m", SIGHT)                                                                         \
    X("within_stops", LIKE)                                                                        \
    X("at_most_deg", GLOW)

#define KEY_OF(key, kinds)   key,
#define KINDS_OF(key, kinds) kinds,
static const char *const light_keys[] = {LIGHT_KEYS(KEY_OF)};
static const unsigned light_kinds[] = {LIGHT_KEYS(KINDS_OF)};
static const char *const want_keys[] = {WANT_KEYS(KEY_OF)};
static const unsigned want_kinds[] = {WANT_KEYS(KINDS_OF)};

#define LIST(name, keys, kinds)                                                                    \
    { name, keys, kinds, sizeof keys / sizeof keys[0] }

const vs_scene_key_list vs_scene_keys[VS_KEYS_COUNT] = {
    [VS_KEYS_SCENE] = LIST("scene", scene_keys, NULL),
    [VS_KEYS_ROOM] = LIST("room", room_keys, NULL),
    [VS_KEYS_REFLECTANCE] = LIST("reflectance", reflectance_keys, NULL),
    [VS_KEYS_OPENING] = LIST("opening", opening_keys, NULL),
    [VS_KEYS_BLOCKER] = LIST("blocker", blocker_keys, NULL),
    [VS_KEYS_FIGURE] = LIST("figure", figure_keys, NULL),
    [VS_KEYS_HAZER] = LIST("hazer", hazer_keys, NULL),
    [VS_KEYS_INDIRECT] = LIST("indirect", indirect_keys, NULL),
    [VS_KEYS_LIGHT] = LIST("light", light_keys, light_kinds),
    [VS_KEYS_SUN] = LIST("sun", sun_keys, NULL),
    [VS_KEYS_FED_BY] = LIST("fed_by", fed_by_keys, NULL),
    [VS_KEYS_CAMERA] = LIST("camera", camera_keys, NULL),
    [VS_KEYS_CURVE] = LIST("curve", curve_keys, NULL),
    [VS_KEYS_LOG] = LIST("log", log_keys, NULL),
    [VS_KEYS_SHOT] = LIST("shot", shot_keys, NULL),
    [VS_KEYS_TAKES] = LIST("takes", takes_keys, NULL),
    [VS_KEYS_POINT] = LIST("point", point_keys, NULL),
    [VS_KEYS_WANT] = LIST("want", want_keys, want_kinds),
    [VS_KEYS_READING] = LIST("reading", reading_keys, NULL),
    [VS_KEYS_PATCHES] = LIST("patches", patches_keys, NULL),
    [VS_KEYS_VENUE] = LIST("venue", venue_keys, NULL),
    [VS_KEYS_DETECTOR] = LIST("detector", detector_keys, NULL),
    [VS_KEYS_PERSON] = LIST("person", person_keys, NULL),
};

const char *const vs_light_kind_words[VS_LIGHT_KIND_COUNT] = {[VS_LIGHT_LAMP] = "lamp",
                                                              [VS_LIGHT_SPOT] = "spot",
                                                              [VS_LIGHT_PANEL] = "panel",
                                                              [VS_LIGHT_TUBE] = "tube",
                                                              [VS_LIGHT_SUN] = "sun",
                                                              [VS_LIGHT_SKY] = "sky",
                                                              [VS_LIGHT_PHOTOMETRY] = "photometry"};

const char *const vs_want_kind_words[VS_WANT_KIND_COUNT] = {
    [VS_WANT_CONTRAST] = "contrast", [VS_WANT_BLACK] = "black",
    [VS_WANT_BEAM] = "beam",         [VS_WANT_SEPARATION] = "separation",
    [VS_WANT_SIGHT] = "sight",       [VS_WANT_LIKE] = "like",
    [VS_WANT_GLOW] = "glow"};

bool vs_scene_kind_takes(vs_scene_object which, size_t kind, const char *key) {
    const vs_scene_key_list *list = &vs_scene_keys[which];
    for (size_t i = 0; i < list->count; i++) {
        if (strcmp(list->key[i], key) == 0) {
            return !list->kinds || (list->kinds[i] & (1u << kind));
        }
    }
    return false;
}
