/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Cameras: position, framing, exposure, curve. */
#include "scene/parts/read_cameras.h"

#include <stdint.h>

#include "scene/place/lengths.h"
#include "scene/place/read_figures.h"
#include "scene/reader.h"
#include "veilstop/base/units.h"
#include "veilstop/light/colour.h"

#define DEFAULT_FPS     24.0  /* [1/s] of cinema; common practice, no source */
#define DEFAULT_SHUTTER 180.0 /* [deg] common practice, no source */

/* A time, or the shutter angle: 180 deg at 24 frames a second is 1/48 s. */
static double read_shutter_s(const vs_json_value *value) {
    static const vs_json_range shutter_s = {1e-6, 3600, false, false};
    static const vs_json_range fps = {0.001, 1e5, false, false};
    static const vs_json_range shutter_deg = {0.01, 360, false, false};
    vs_json_value time = vs_json_get(value, "shutter_s");
    if (!vs_json_exists(&time)) {
        double open_deg = vs_json_take_number(value, "shutter_deg", shutter_deg, DEFAULT_SHUTTER);
        return open_deg / 360.0 / vs_json_take_number(value, "fps", fps, DEFAULT_FPS);
    }
    static const char *const other[] = {"fps", "shutter_deg"};
    for (size_t i = 0; i < 2; i++) {
        vs_json_value member = vs_json_get(value, other[i]);
        if (vs_json_exists(&member)) {
            vs_json_fault(&member, "must not stand beside shutter_s: give one of the two");
        }
    }
    return vs_json_need_number(&time, NULL, shutter_s);
}

static void read_log_curve(const vs_json_value *value, vs_curve *curve) {
    static const vs_json_range parameter = {-1e6, 1e6, false, false};
    vs_json_value log = vs_json_get(value, "log");
    if (!vs_scene_check_keys(value, VS_KEYS_CURVE, VS_KIND_UNKNOWN) ||
        !vs_scene_check_keys(&log, VS_KEYS_LOG, VS_KIND_UNKNOWN)) {
        return;
    }
    curve->kind = VS_CURVE_LOG;
    double *const slot[] = {&curve->a, &curve->b, &curve->c,  &curve->d,
                            &curve->e, &curve->f, &curve->cut};
    bool whole = true;
    for (size_t i = 0; i < sizeof slot / sizeof slot[0]; i++) {
        *slot[i] = vs_json_need_number(&log, vs_scene_keys[VS_KEYS_LOG].key[i], parameter);
        whole = whole && !isnan(*slot[i]);
    }
    if (whole && vs_curve_check(curve) != VS_OK) {
        vs_json_fault(&log, "must be a curve that rises on both sides of its cut and does not "
                            "fall at it (got another)");
    }
}

/* A name (curve.h), or an object with a log curve of the user's own. */
static void read_curve(const vs_json_value *camera, vs_curve *curve) {
    vs_json_value value = vs_json_get(camera, "curve");
    curve->kind = VS_CURVE_ACESCCT;
    if (vs_json_is_object(&value)) {
        read_log_curve(&value, curve);
        return;
    }
    size_t choice =
        vs_json_take_choice(&value, NULL, vs_curve_names(), VS_CURVE_NAMED_COUNT, VS_CURVE_ACESCCT);
    if (choice != SIZE_MAX) {
        curve->kind = (vs_curve_kind)choice;
    }
}

static void read_sensor(const vs_json_value *value, vs_camera *camera) {
    static const vs_json_range side_mm = {1, 200, false, false};
    double side[2] = {24.9, 14.0}; /* [mm] */
    vs_json_value sensor = vs_json_get(value, "sensor_mm");
    if (vs_json_exists(&sensor)) {
        (void)vs_json_need_numbers(&sensor, NULL, side_mm, side, 2);
    }
    camera->sensor_width_m = side[0] * VS_M_PER_MM;
    camera->sensor_height_m = side[1] * VS_M_PER_MM;
}

/* The settings that a shot may override. */
static void read_setting(const vs_json_value *value, vs_camera *camera) {
    static const vs_json_range t_stop = {0.5, 128, false, false};
    static const vs_json_range iso = {1, 1e7, false, false};
    static const vs_json_range nd_stops = {0, 30, false, false};
    camera->t_stop = vs_json_take_number(value, "t_stop", t_stop, camera->t_stop);
    camera->iso = vs_json_take_number(value, "iso", iso, camera->iso);
    camera->nd_stops = vs_json_take_number(value, "nd_stops", nd_stops, camera->nd_stops);
}

static void read_exposure(const vs_json_value *value, vs_camera *camera) {
    static const vs_json_range kelvin = {VS_COLOUR_WHITE_MIN, VS_COLOUR_KELVIN_MAX, false, false};
    static const vs_json_range usable = {0, 30, true, false}; /* [stops] */
    camera->t_stop = 2.8;
    camera->iso = 800;
    camera->nd_stops = 0;
    read_setting(value, camera);
    camera->shutter_s = read_shutter_s(value);
    camera->white_kelvin = vs_json_take_number(value, "white_kelvin", kelvin, 5600);
    camera->stops_above_grey = vs_json_take_number(value, "stops_above_grey", usable, 6);
    camera->stops_below_grey = vs_json_take_number(value, "stops_below_grey", usable, 8);
}

static void read_camera(vs_scene_reader *reader, const vs_json_value *value, vs_camera *camera) {
    static const vs_json_range focal_mm = {1, 5000, false, false};
    static const vs_json_range turn_deg = {-360, 360, false, false};
    camera->at_m = vs_scene_need_inside(reader, value, "at");
    const char *around = vs_scene_figure_around(reader, camera->at_m);
    if (around) {
        vs_json_value at = vs_json_get(value, "at");
        vs_json_fault(&at, "must be outside the body of figure \"%s\" (got a place in it)", around);
    }
    camera->aim_m = vs_scene_need_aim(reader, value, "aim", camera->at_m, "at");
    camera->roll_rad = vs_json_take_number(value, "roll_deg", turn_deg, 0) * VS_RAD_PER_DEG;
    camera->focal_m = vs_json_take_number(value, "focal_mm", focal_mm, 35) * VS_M_PER_MM;
    read_sensor(value, camera);
    read_exposure(value, camera);
    read_curve(value, &camera->curve);
}

void vs_scene_read_cameras(vs_scene_reader *reader) {
    size_t count = vs_scene_read_names(reader, &reader->root, "cameras", 0, VS_SCENE_CAMERAS_MAX,
                                       "camera", &reader->cameras);
    vs_json_value shots = vs_json_get(&reader->root, "shots");
    size_t set = vs_json_count(&shots); /* at most one more per shot, for its own settings */
    vs_camera *camera = vs_scene_new(reader, count ? count + set : 0, sizeof *camera);
    vs_json_value list = vs_json_get(&reader->root, "cameras");
    reader->camera = camera;
    for (size_t i = 0; camera && i < count; i++) {
        vs_json_value value = vs_json_at(&list, i);
        camera[i].name = reader->cameras.name[i];
        camera[i].at_m.x = NAN;
        if (vs_scene_check_keys(&value, VS_KEYS_CAMERA, VS_KIND_UNKNOWN)) {
            read_camera(reader, &value, &camera[i]);
        }
    }
    reader->scene->camera = camera;
    reader->scene->camera_count = camera ? count : 0;
}

size_t vs_scene_read_camera_set(vs_scene_reader *reader, const vs_json_value *shot, size_t camera) {
    static const char *const key[] = {"t_stop", "iso", "nd_stops"};
    vs_camera as_set = {0};
    bool set = false;
    for (size_t i = 0; i < sizeof key / sizeof key[0]; i++) {
        vs_json_value value = vs_json_get(shot, key[i]);
        set = set || vs_json_exists(&value);
    }
    if (!set) {
        return camera;
    }
    if (camera != VS_NONE) {
        as_set = reader->camera[camera];
    }
    read_setting(shot, &as_set);
    if (camera == VS_NONE) {
        return VS_NONE;
    }
    reader->camera[reader->scene->camera_count] = as_set;
    return reader->scene->camera_count++;
}
