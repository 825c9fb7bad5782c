/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The lights of kind photometry: reads the LM-63 file they name and puts its table into the
 * scene. */
#include "scene/parts/read_photometry.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "scene/place/lengths.h"
#include "scene/reader.h"
#include "veilstop/base/units.h"
#include "veilstop/scene/file.h"
#include "veilstop/scene/lm63.h"

char *vs_scene_path_of(const char *folder, const char *name) {
    size_t size = strlen(folder) + strlen(name) + 2;
    char *path = malloc(size);
    if (path) {
        snprintf(path, size, "%s%s%s", *name == '/' ? "" : folder, *name == '/' ? "" : "/", name);
    }
    return path;
}

/* The angle between straight down and the aim: the luminaire's tilt in LM-63. */
static double tilt_rad(const vs_light *light) {
    vs_vec3 aim = vs_vec3_sub(light->aim_m, light->at_m);
    return atan2(hypot(aim.x, aim.y), -aim.z);
}

/* The factor of the file's tilt table; NaN after a fault, or if the aim is unknown. */
static double tilt_factor(const vs_json_value *value, const vs_light *light, const vs_lm63 *file) {
    if (!vs_scene_is_position(light->at_m) || !vs_scene_is_position(light->aim_m)) {
        return NAN;
    }
    double factor = vs_lm63_tilt_factor(file, tilt_rad(light));
    if (isnan(factor)) {
        vs_json_value aim = vs_json_get(value, "aim");
        vs_json_fault(&aim,
                      "must be at most %g degrees from straight down, where the file's tilt table "
                      "ends (got %g)",
                      file->tilt_rad[file->tilt_count - 1] / VS_RAD_PER_DEG,
                      tilt_rad(light) / VS_RAD_PER_DEG);
    }
    return factor;
}

static const double *keep(vs_scene_reader *reader, const double *from, size_t count,
                          double factor) {
    double *to = vs_scene_new(reader, count, sizeof *to);
    for (size_t i = 0; to && i < count; i++) {
        to[i] = factor * from[i];
    }
    return to;
}

static void keep_table(vs_scene_reader *reader, const vs_photometric_table *from, double factor,
                       vs_photometric_table *to) {
    to->vertical_rad = keep(reader, from->vertical_rad, from->vertical_count, 1);
    to->horizontal_rad = keep(reader, from->horizontal_rad, from->horizontal_count, 1);
    to->candela =
        keep(reader, from->candela, from->vertical_count * from->horizontal_count, factor);
    if (!reader->out_of_memory) {
        to->vertical_count = from->vertical_count;
        to->horizontal_count = from->horizontal_count;
    }
}

/* Reads the table from the bytes; faults are reported at the light's `file`, with the file's
 * name. */
static void read_bytes(vs_scene_reader *reader, const vs_json_value *value, const char *name,
                       const char *bytes, size_t length, vs_light *light) {
    vs_faults faults = {.count = 0};
    vs_lm63 file;
    vs_status status = vs_lm63_init(&file, bytes, length, &faults);
    if (status == VS_ERR_MEMORY) {
        reader->out_of_memory = true;
    }
    if (vs_faults_any(&faults)) {
        vs_json_value member = vs_json_get(value, "file");
        vs_json_fault(&member, "%s, %s: %s", name, faults.item[0].where, faults.item[0].text);
    }
    if (status == VS_OK) {
        double factor = tilt_factor(value, light, &file);
        if (!isnan(factor)) {
            keep_table(reader, &file.table, factor, &light->table);
        }
        vs_lm63_free(&file);
    }
}

static void read_file(vs_scene_reader *reader, const vs_json_value *value, const char *name,
                      vs_light *light) {
    const vs_file_reader *files = reader->places->reader;
    char *bytes = NULL, *path = vs_scene_path_of(reader->places->scene_directory, name);
    size_t length = 0;
    vs_status status =
        path ? vs_file_read_by(files, path, VS_LM63_BYTES_MAX, &bytes, &length) : VS_ERR_MEMORY;
    if (status == VS_OK) {
        read_bytes(reader, value, name, bytes, length, light);
    } else if (status == VS_ERR_FILE) {
        reader->file_unread = reader->file_unread || errno != EFBIG;
        vs_json_value member = vs_json_get(value, "file");
        vs_json_fault(&member, "must be an LM-63 file in the scene's folder (got %s: %s)", name,
                      vs_file_reason_by(files, path, errno));
    } else {
        reader->out_of_memory = true;
    }
    free(bytes);
    free(path);
}

void vs_scene_read_photometry(vs_scene_reader *reader, const vs_json_value *value,
                              vs_light *light) {
    static const vs_json_range turn_deg = {-360, 360, false, false};
    light->roll_rad = vs_json_take_number(value, "roll_deg", turn_deg, 0) * VS_RAD_PER_DEG;
    const char *name = vs_json_need_text(value, "file");
    if (!name) {
        return;
    }
    if (!reader->places->scene_directory) {
        vs_json_value member = vs_json_get(value, "file");
        vs_json_fault(&member, "must stand in a scene that is read from a file: no other file can "
                               "be read here");
        return;
    }
    read_file(reader, value, name, light);
}
