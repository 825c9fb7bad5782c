/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Settings of a shot that override the scene's: dimmers, openings, the sun. */
#include "scene/parts/read_settings.h"

#include "scene/parts/read_windows.h"
#include "scene/place/lengths.h"
#include "scene/reader.h"
#include "veilstop/light/colour.h"

static const vs_json_range share = {0, 1, false, false}; /* [1] */

/* {NAME: share}: one per name, `fallback` for those not named; NULL if the shot does not have the
 * key. */
static double *read_shares(vs_scene_reader *reader, const vs_json_value *shot, const char *key,
                           const vs_scene_names *names, size_t size, double fallback) {
    vs_json_value value = vs_json_get(shot, key);
    if (!vs_json_exists(&value)) {
        return NULL;
    }
    if (!vs_json_is_object(&value)) {
        vs_json_fault_got(&value, "must be an object of names and shares from 0 to 1");
        return NULL;
    }
    double *of = vs_scene_new(reader, size, sizeof *of);
    for (size_t i = 0; of && i < size; i++) {
        of[i] = fallback;
    }
    for (size_t i = 0; i < vs_json_count(&value); i++) {
        vs_json_value member = vs_json_at(&value, i);
        size_t found = vs_scene_find(names, vs_json_key(&member));
        if (found == VS_NONE && vs_json_is_note(&member)) {
            continue;
        }
        found = vs_scene_key_reference(&member, names);
        double figure = vs_json_need_number(&member, NULL, share);
        if (found != VS_NONE && of) {
            of[found] = figure;
        }
    }
    return of;
}

static bool uses(const vs_scene_shot *shot, size_t light) {
    for (size_t i = 0; i < shot->light_count; i++) {
        if (shot->light[i] == light) {
            return true;
        }
    }
    return false;
}

/* A dimmer on a light that is off has no effect, so it must be a mistake. */
static void read_dimmers(vs_scene_reader *reader, const vs_json_value *shot, vs_scene_shot *out) {
    size_t count = reader->scene->light_count;
    double *dimmer = read_shares(reader, shot, "dimmers", &reader->lights, count, NAN);
    vs_json_value object = vs_json_get(shot, "dimmers"), lights = vs_json_get(shot, "lights");
    for (size_t i = 0; dimmer && i < reader->lights.count; i++) {
        if (!isnan(dimmer[i]) && !uses(out, i) && reader->lights.name[i]) {
            vs_json_value member = vs_json_get(&object, reader->lights.name[i]);
            vs_json_fault(&member, "must be a light that burns in this shot: %s",
                          vs_json_exists(&lights) ? "add it to \"lights\""
                                                  : "it is off (\"on\": false); list \"lights\"");
        }
    }
    for (size_t i = reader->lights.count; dimmer && i < count; i++) {
        dimmer[i] = dimmer[reader->scene->light[i].part_of];
    }
    out->dimmer = dimmer;
}

/* A shot's sun position applies to all its suns: at least one of their openings must let it in. */
static void read_sun(vs_scene_reader *reader, const vs_json_value *shot, vs_scene_shot *out) {
    vs_json_value value = vs_json_get(shot, "sun");
    if (!vs_json_exists(&value)) {
        return;
    }
    size_t suns = 0;
    bool enters = false;
    out->sun_travel = vs_scene_need_sun(&value);
    out->has_sun = vs_scene_is_position(out->sun_travel);
    for (size_t i = 0; i < out->light_count; i++) {
        const vs_light *light = &reader->scene->light[out->light[i]];
        if (light->kind == VS_LIGHT_SUN) {
            suns++;
            enters = enters || vs_scene_sun_enters(reader, light, out->sun_travel);
        }
    }
    if (suns == 0 && !reader->lights.broken) {
        vs_json_fault(&value, "must stand in a shot with a light of kind \"sun\" (got none)");
    } else if (suns > 0 && !enters) {
        vs_json_fault(&value, "must stand where an opening of the shot's sun faces it (got none "
                              "that does)");
    }
}

/* A gel's shift starts from the camera's white if its light has no colour temperature of its
 * own. */
static void check_gels(vs_scene_reader *reader, const vs_scene_shot *shot) {
    vs_json_value lights = vs_json_get(&reader->root, "lights");
    for (size_t i = 0; i < shot->light_count && shot->camera != VS_NONE; i++) {
        const vs_light *light = &reader->scene->light[shot->light[i]];
        double white = reader->scene->camera[shot->camera].white_kelvin;
        double shifted = 1e6 / (1e6 / white + light->gel_mired);
        bool wrong =
            shifted < VS_COLOUR_KELVIN_MIN || shifted > VS_COLOUR_KELVIN_MAX || shifted < 0;
        if (light->colour != VS_COLOUR_KELVIN && !light->is_part && wrong) {
            vs_json_value value = vs_json_at(&lights, shot->light[i]);
            vs_json_value gel = vs_json_get(&value, "gel_mired");
            vs_json_fault_got(&gel,
                              "must leave the light between %g and %g K, from the camera's "
                              "white of %.6g K",
                              VS_COLOUR_KELVIN_MIN, VS_COLOUR_KELVIN_MAX, white);
        }
    }
}

void vs_scene_read_settings(vs_scene_reader *reader, const vs_json_value *shot,
                            vs_scene_shot *out) {
    read_dimmers(reader, shot, out);
    out->open =
        read_shares(reader, shot, "open", &reader->openings, reader->scene->opening_count, 1.0);
    read_sun(reader, shot, out);
    check_gels(reader, out);
}
