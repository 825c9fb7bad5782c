/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A scene from a file, part by part: all faults are listed before any is acted on. */
#include "veilstop/scene/scene_file.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "scene/parts/read_air.h"
#include "scene/parts/read_cameras.h"
#include "scene/parts/read_lights.h"
#include "scene/parts/read_photometry.h"
#include "scene/parts/read_readings.h"
#include "scene/parts/read_shots.h"
#include "scene/parts/read_venue.h"
#include "scene/place/read_figures.h"
#include "scene/place/read_rooms.h"
#include "scene/reader.h"
#include "veilstop/base/units.h"
#include "veilstop/scene/data.h"
#include "veilstop/scene/file.h"
#include "veilstop/scene/fluid.h"
#include "veilstop/shot/scene_geometry.h"

/* The memory a scene borrows from: the texts of its file and the arrays made from it. */
typedef struct {
    vs_json_document document;
    vs_arena arena;
    vs_scene_places places; /* own copies, in the arena */
} scene_memory;

static void read_version(const vs_scene_reader *reader) {
    vs_json_value version = vs_json_get(&reader->root, "veilstop");
    static const vs_json_range any = {-HUGE_VAL, HUGE_VAL, false, false};
    if (!vs_json_is_number(&version) || vs_json_need_number(&version, NULL, any) != 1.0) {
        vs_json_fault_got(&version, "must be 1, the version of the scene file");
    }
}

static void read_unit(vs_scene_reader *reader) {
    static const char *const word[] = {"m", "ft"};
    size_t choice = vs_json_take_choice(&reader->root, "lengths", word, 2, VS_LENGTH_M);
    reader->scene->lengths = choice == VS_LENGTH_FT ? VS_LENGTH_FT : VS_LENGTH_M;
    reader->unit_m = vs_length_unit_m(reader->scene->lengths);
}

/* Two digits of a clock time at `text`; -1 if there are none. */
static int two_digits(const char *text) {
    bool digits = strspn(text, "0123456789") >= 2;
    return digits ? (text[0] - '0') * 10 + (text[1] - '0') : -1;
}

static void read_start(vs_scene_reader *reader) {
    vs_json_value value = vs_json_get(&reader->root, "start");
    reader->scene->start_s = NAN;
    if (!vs_json_exists(&value)) {
        return;
    }
    const char *text = vs_json_is_text(&value) ? vs_json_need_text(&value, NULL) : "";
    bool shaped = text && strlen(text) == 5 && text[2] == ':';
    int hours = shaped ? two_digits(text) : -1, minutes = shaped ? two_digits(text + 3) : -1;
    if (hours < 0 || hours > 23 || minutes < 0 || minutes > 59) {
        vs_json_fault_got(&value, "must be a clock time with four figures, \"00:00\" to \"23:59\"");
        return;
    }
    reader->scene->start_s = hours * VS_S_PER_H + minutes * VS_S_PER_MIN;
}

static void read_head(vs_scene_reader *reader) {
    read_version(reader);
    (void)vs_json_take_text(&reader->root, "$schema", NULL); /* for editors */
    reader->scene->title = vs_json_take_text(&reader->root, "title", NULL);
    read_unit(reader);
    read_start(reader);
}

/* Part by part, in order of dependence. If memory runs out, a later part may lack what it refers
 * to, so reading stops. */
static void read_scene(vs_scene_reader *reader) {
    static void (*const part[])(vs_scene_reader *) = {read_head,
                                                      vs_scene_read_rooms,
                                                      vs_scene_read_openings,
                                                      vs_scene_read_blockers,
                                                      vs_scene_read_figures,
                                                      vs_scene_read_air,
                                                      vs_scene_read_lights,
                                                      vs_scene_read_cameras,
                                                      vs_scene_read_shots,
                                                      vs_scene_read_readings,
                                                      vs_scene_read_venue,
                                                      vs_scene_read_uncertain};
    if (!vs_scene_check_keys(&reader->root, VS_KEYS_SCENE, VS_KIND_UNKNOWN)) {
        return;
    }
    for (size_t i = 0; i < sizeof part / sizeof part[0] && !reader->out_of_memory; i++) {
        part[i](reader);
    }
}

/* A copy of a text in the arena; NULL stays NULL. */
static const char *keep_text(vs_arena *arena, const char *text, bool *failed) {
    if (!text) {
        return NULL;
    }
    size_t size = strlen(text) + 1;
    char *copy = vs_arena_new(arena, size, 1);
    *failed = *failed || !copy;
    return copy ? memcpy(copy, text, size) : NULL;
}

static double least_reflectance(const vs_scene_room *room) {
    double least = INFINITY;
    for (int face = 0; face < VS_FACE_COUNT; face++) {
        least = fmin(least, room->reflectance[face]);
    }
    return least;
}

/* Bounced light has no finite solution where nothing absorbs it: such a room is refused by name. */
static vs_status refuse_light_trap(const vs_scene *scene, vs_faults *faults) {
    vs_scene_geometry geometry;
    size_t trap;
    if (scene->indirect != VS_INDIRECT_COMPUTED) {
        return VS_OK;
    }
    vs_status status = vs_scene_geometry_init(&geometry, scene, NULL);
    if (status != VS_OK) {
        return status;
    }
    status = vs_surfaces_light_trap(&geometry.space, &geometry.surfaces, &trap);
    vs_scene_geometry_free(&geometry);
    if (status == VS_OK && trap != VS_SPACE_OUTSIDE) {
        char where[VS_FAULT_WHERE_SIZE];
        snprintf(where, sizeof where, "/rooms/%zu/reflectance", trap);
        vs_faults_add(faults, where,
                      "must be under %g on some face, or open to outside, or light stays "
                      "(got at least %.10g)",
                      VS_REFLECTANCE_ALL, least_reflectance(&scene->room[trap]));
        return VS_ERR_INPUT;
    }
    return status;
}

/* Reads the scene from the document in its memory; frees the file on error. */
static vs_status read_document(vs_scene_file *file, const vs_scene_places *places, size_t before,
                               vs_faults *faults) {
    scene_memory *memory = file->memory;
    vs_scene_reader reader = {.scene = &file->scene,
                              .arena = &memory->arena,
                              .places = &memory->places,
                              .root = vs_json_root(&memory->document, faults)};
    memory->places.data_directory =
        keep_text(&memory->arena, places->data_directory, &reader.out_of_memory);
    memory->places.scene_directory =
        keep_text(&memory->arena, places->scene_directory, &reader.out_of_memory);
    memory->places.reader = places->reader;
    if (!reader.out_of_memory) {
        read_scene(&reader);
    }
    return reader.out_of_memory                    ? VS_ERR_MEMORY
           : reader.file_unread                    ? VS_ERR_FILE
           : faults->count + faults->more > before ? VS_ERR_INPUT
                                                   : refuse_light_trap(&file->scene, faults);
}

/* Gives a file its memory, empty so far. */
static vs_status begin(vs_scene_file *file, scene_memory **memory) {
    memset(file, 0, sizeof *file);
    file->memory = *memory = calloc(1, sizeof **memory);
    return *memory ? VS_OK : VS_ERR_MEMORY;
}

vs_status vs_scene_file_init(vs_scene_file *file, const char *bytes, size_t length,
                             const vs_scene_places *places, vs_faults *faults) {
    static const vs_scene_places nowhere = {NULL, NULL, NULL};
    size_t before = faults->count + faults->more;
    scene_memory *memory;
    vs_status status = begin(file, &memory);
    if (status == VS_OK) {
        status = vs_json_document_init(&memory->document, bytes, length, faults);
    }
    if (status == VS_OK) {
        status = read_document(file, places ? places : &nowhere, before, faults);
    }
    if (status != VS_OK) {
        vs_scene_file_free(file);
    }
    return status;
}

vs_status vs_scene_file_vary(const vs_scene_file *from, const double *factor, vs_scene_file *file,
                             vs_faults *faults) {
    const scene_memory *origin = from->memory;
    size_t before = faults->count + faults->more;
    scene_memory *memory;
    vs_status status = begin(file, &memory);
    if (status == VS_OK) {
        status = vs_json_document_copy(&origin->document, &memory->document);
    }
    for (size_t i = 0; i < from->scene.uncertain_count && status == VS_OK; i++) {
        const char *pointer = from->scene.uncertain[i].pointer;
        if (!vs_json_document_scale(&memory->document, pointer, factor[i])) {
            vs_faults_add(faults, pointer, "must be a number");
            status = VS_ERR_INPUT;
        }
    }
    if (status == VS_OK) {
        status = read_document(file, &origin->places, before, faults);
    }
    if (status != VS_OK) {
        vs_scene_file_free(file);
    }
    return status;
}

/* Whether two paths lead to one file that is there. */
static bool is_one_file(const char *a, const char *b) {
    struct stat at_a, at_b;
    return stat(a, &at_a) == 0 && stat(b, &at_b) == 0 && at_a.st_dev == at_b.st_dev &&
           at_a.st_ino == at_b.st_ino;
}

/* Whether a file in a folder is the one at `path`. */
static bool is_file_in(const char *folder, const char *name, const char *path) {
    char *own = folder ? vs_scene_path_of(folder, name) : NULL;
    bool same = own && is_one_file(own, path);
    free(own);
    return same;
}

bool vs_scene_file_reads(const vs_scene_file *file, const char *path) {
    const scene_memory *memory = file->memory;
    const char *data = memory->places.data_directory;
    char fluid[VS_FLUID_PATH_SIZE];
    vs_faults faults = {0};
    vs_json_value root = vs_json_root(&memory->document, &faults);
    vs_json_value lights = vs_json_get(&root, "lights");
    const char *name = file->scene.fluid.name;
    bool reads = name && vs_fluid_path(name, fluid) && is_file_in(data, fluid, path);
    for (size_t i = 0; i < vs_data_file_count && !reads; i++) {
        reads = is_file_in(data, vs_data_files[i].name, path);
    }
    for (size_t i = 0; i < vs_json_count(&lights) && !reads; i++) {
        vs_json_value light = vs_json_at(&lights, i);
        name = vs_json_take_text(&light, "file", NULL);
        reads = name && is_file_in(memory->places.scene_directory, name, path);
    }
    return reads;
}

bool vs_scene_moves_air_alone(const char *pointer) {
    static const char *const key[] = {
        "air_changes_per_h", "deposition_per_h", "mixing_min",       "purge_air_changes_per_h",
        "exchange_m3_per_h", "half_life_min",    "settling_m_per_s", "nonvolatile_fraction"};
    if (strncmp(pointer, "/hazer/", strlen("/hazer/")) == 0) {
        return true;
    }
    const char *last = strrchr(pointer, '/');
    for (size_t i = 0; last && i < sizeof key / sizeof key[0]; i++) {
        if (strcmp(last + 1, key[i]) == 0) {
            return true;
        }
    }
    return false;
}

vs_status vs_scene_file_load(vs_scene_file *file, const char *path, const char *data_directory,
                             vs_faults *faults) {
    memset(file, 0, sizeof *file);
    char *bytes = NULL, *folder = NULL;
    size_t length = 0;
    vs_status status = vs_file_read_whole(path, VS_JSON_BYTES_MAX, &bytes, &length);
    if (status == VS_ERR_FILE && errno == EFBIG) {
        vs_faults_add(faults, "", "must be a file of at most 4 MiB (got a longer one)");
        status = VS_ERR_INPUT;
    } else if (status == VS_ERR_FILE) {
        vs_faults_add(faults, "", "must be a file that can be read (got: %s)",
                      vs_file_reason(path, errno));
    }
    if (status != VS_OK) {
        goto cleanup;
    }
    folder = vs_file_folder(path);
    if (!folder) {
        status = VS_ERR_MEMORY;
        goto cleanup;
    }
    vs_scene_places places = {.data_directory = data_directory, .scene_directory = folder};
    status = vs_scene_file_init(file, bytes, length, &places, faults);
cleanup:
    free(folder);
    free(bytes);
    return status;
}

void vs_scene_file_free(vs_scene_file *file) {
    scene_memory *memory = file->memory;
    if (memory) {
        vs_arena_free(&memory->arena);
        vs_json_document_free(&memory->document);
        free(memory);
    }
    memset(file, 0, sizeof *file);
}
