/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Limits, detectors, exits and notices from the data files. Form: docs/scene.md, "Figures for the
 * cautions". Ranges catch typing errors; they are far wider than any figure in use. */
#include "veilstop/scene/safety_file.h"

#include <errno.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "scene/arena.h"
#include "veilstop/base/units.h"
#include "veilstop/optics/haze.h"
#include "veilstop/scene/data.h"
#include "veilstop/scene/file.h"
#include "veilstop/scene/json.h"

#define LIST_MAX       64 /* most limits, notices, thresholds of a kind, criteria: our choice */
#define COUNT_OF(list) (sizeof(list) / sizeof(list)[0])

enum { LIMITS, DETECTORS, NOTICES, FILE_COUNT };
static const char *const file_names[FILE_COUNT] = {"limits.json", "detectors.json", "notices.json"};

typedef struct {
    vs_json_document document[FILE_COUNT];
    vs_arena arena;
} safety_memory;

typedef struct {
    vs_safety_tables *tables;
    vs_arena *arena;
    bool out_of_memory;
} reader;

/* Zeroed memory for the elements of a list; NULL if there are none, or when memory runs out. */
static void *new_list(reader *r, size_t count, size_t size) {
    void *list = vs_arena_new(r->arena, count, size);
    r->out_of_memory = r->out_of_memory || (count > 0 && !list);
    return list;
}

/* Number of elements of the required list `key` of an object; 0 after a fault. */
static size_t need_list(const vs_json_value *object, const char *key, vs_json_value *list) {
    *list = vs_json_get(object, key);
    return vs_json_check_array(list, 1, LIST_MAX, key) ? vs_json_count(list) : 0;
}

static void read_source(const vs_json_value *value, vs_source_status *status, const char **source) {
    size_t choice = vs_json_need_choice(value, "status", vs_source_words, VS_SOURCE_STATUS_COUNT);
    *status = choice == SIZE_MAX ? VS_SOURCE_ASSUMED : (vs_source_status)choice;
    *source = vs_json_need_text(value, "source");
}

/* The classes of fluid named by "fluids", as bits. */
static unsigned read_fluids(const vs_json_value *value, bool needed) {
    vs_json_value list = vs_json_get(value, "fluids");
    if (!needed && !vs_json_exists(&list)) {
        return ~0u;
    }
    unsigned fluids = 0;
    if (!vs_json_check_array(&list, 1, VS_FLUID_CLASS_COUNT, "fluids")) {
        return 0;
    }
    for (size_t i = 0; i < vs_json_count(&list); i++) {
        vs_json_value word = vs_json_at(&list, i);
        size_t choice =
            vs_json_need_choice(&word, NULL, vs_fluid_class_words, VS_FLUID_CLASS_COUNT);
        fluids |= choice == SIZE_MAX ? 0 : 1u << choice;
    }
    return fluids;
}

/* ---- limits.json ---- */

static void read_limit(const vs_json_value *value, vs_exposure_limit *limit) {
    static const char *const keys[] = {"name", "fluids", "average", "minutes", "limit_mg_per_m3",
                                       "kind", "status", "source",  "remark"};
    static const vs_json_range minutes = {1, 1440, false, false};
    static const vs_json_range mg_per_m3 = {0, 1e5, true, false};
    if (!vs_json_check_object(value, keys, COUNT_OF(keys))) {
        return;
    }
    limit->name = vs_json_need_text(value, "name");
    limit->fluids = read_fluids(value, true);
    size_t average = vs_json_need_choice(value, "average", vs_average_words, VS_AVERAGE_COUNT);
    limit->average = average == SIZE_MAX ? VS_AVERAGE_PEAK : (vs_average)average;
    vs_json_value length = vs_json_get(value, "minutes");
    if (average != VS_AVERAGE_PEAK) {
        limit->length_s = vs_json_need_number(value, "minutes", minutes) * VS_S_PER_MIN;
    } else if (vs_json_exists(&length)) {
        vs_json_fault(&length, "must stand with average \"shift\" or \"short\" (got \"peak\")");
    }
    limit->limit_g_per_m3 = vs_json_need_number(value, "limit_mg_per_m3", mg_per_m3) * VS_G_PER_MG;
    size_t kind = vs_json_need_choice(value, "kind", vs_limit_kind_words, VS_LIMIT_KIND_COUNT);
    limit->kind = kind == SIZE_MAX ? VS_LIMIT_ADVICE : (vs_limit_kind)kind;
    read_source(value, &limit->status, &limit->source);
    limit->remark = vs_json_take_text(value, "remark", NULL);
}

static void read_class(const vs_json_value *classes, const char *name, vs_class_extinction *out) {
    static const char *const keys[] = {"low", "high", "status", "source"};
    static const vs_json_range m2_per_g = {0, 1000, true, false};
    vs_json_value value = vs_json_get(classes, name);
    if (!vs_json_check_object(&value, keys, COUNT_OF(keys))) {
        return;
    }
    out->low_m2_per_g = vs_json_need_number(&value, "low", m2_per_g);
    out->high_m2_per_g = vs_json_need_number(&value, "high", m2_per_g);
    if (out->high_m2_per_g < out->low_m2_per_g) {
        vs_json_value high = vs_json_get(&value, "high");
        vs_json_fault_got(&high, "must be at least \"low\", %g", out->low_m2_per_g);
    }
    read_source(&value, &out->status, &out->source);
}

static void read_exits(reader *r, const vs_json_value *root) {
    static const char *const keys[] = {"needed_m", "where", "status", "source"};
    static const vs_json_range metres = {0, 1000, true, false};
    vs_json_value list;
    size_t count = need_list(root, "exits", &list);
    vs_exit_criterion *exit = new_list(r, count, sizeof *exit);
    for (size_t i = 0; exit && i < count; i++) {
        vs_json_value value = vs_json_at(&list, i);
        if (vs_json_check_object(&value, keys, COUNT_OF(keys))) {
            exit[i].needed_m = vs_json_need_number(&value, "needed_m", metres);
            exit[i].where = vs_json_need_text(&value, "where");
            read_source(&value, &exit[i].status, &exit[i].source);
        }
    }
    r->tables->exit = exit;
    r->tables->exit_count = exit ? count : 0;
}

static void read_limits(reader *r, const vs_json_value *root) {
    static const char *const keys[] = {"limits", "extinction_m2_per_g", "exits"};
    vs_json_value list;
    if (!vs_json_check_object(root, keys, COUNT_OF(keys))) {
        return;
    }
    size_t count = need_list(root, "limits", &list);
    vs_exposure_limit *limit = new_list(r, count, sizeof *limit);
    for (size_t i = 0; limit && i < count; i++) {
        vs_json_value value = vs_json_at(&list, i);
        read_limit(&value, &limit[i]);
    }
    r->tables->limit = limit;
    r->tables->limit_count = limit ? count : 0;
    vs_json_value classes = vs_json_get(root, "extinction_m2_per_g");
    if (vs_json_check_object(&classes, vs_fluid_class_words, VS_FLUID_CLASS_COUNT)) {
        for (size_t i = 0; i < VS_FLUID_CLASS_COUNT; i++) {
            read_class(&classes, vs_fluid_class_words[i], &r->tables->class_extinction[i]);
        }
    }
    read_exits(r, root);
}

/* ---- detectors.json ---- */

/* A number, or [low, high]. */
static void read_range(const vs_json_value *value, vs_json_range range,
                       vs_detector_threshold *threshold) {
    if (!vs_json_is_array(value)) {
        threshold->low = threshold->high = vs_json_need_number(value, NULL, range);
        return;
    }
    double ends[2];
    if (vs_json_need_numbers(value, NULL, range, ends, 2) && !(ends[1] >= ends[0])) {
        vs_json_fault_got(value, "must go from low to high");
    }
    threshold->low = ends[0];
    threshold->high = ends[1];
}

/* The unit of a threshold; none or more than one is a fault. */
static size_t read_unit(const vs_json_value *value) {
    size_t unit = SIZE_MAX, given = 0;
    for (size_t i = 0; i < VS_OBSCURATION_UNIT_COUNT; i++) {
        vs_json_value member = vs_json_get(value, vs_obscuration_keys[i]);
        if (vs_json_exists(&member)) {
            unit = i;
            given++;
        }
    }
    if (given != 1) {
        vs_json_fault(value,
                      "must hold just one of db_per_m, percent_per_m, percent_per_ft and "
                      "percent_of_path (got %s)",
                      given ? "more" : "none");
        return SIZE_MAX;
    }
    return unit;
}

static void read_threshold(const vs_json_value *value, vs_detector_threshold *threshold) {
    static const char *const keys[] = {"name",         "status",         "source",
                                       "db_per_m",     "percent_per_ft", "percent_of_path",
                                       "percent_per_m"};
    static const vs_json_range db = {0, 100, true, false}, percent = {0, 100, true, true};
    if (!vs_json_check_object(value, keys, COUNT_OF(keys))) {
        return;
    }
    threshold->name = vs_json_need_text(value, "name");
    read_source(value, &threshold->status, &threshold->source);
    size_t unit = read_unit(value);
    if (unit != SIZE_MAX) {
        vs_json_value figure = vs_json_get(value, vs_obscuration_keys[unit]);
        threshold->unit = (vs_obscuration_unit)unit;
        read_range(&figure, threshold->unit == VS_OBSCURATION_DB_PER_M ? db : percent, threshold);
    }
}

static void read_wavelength(const vs_json_value *value, vs_detector_type *type) {
    static const char *const keys[] = {"nm", "status", "source"};
    static const vs_json_range nm = {300, 2000, false, false};
    vs_json_value wavelength = vs_json_get(value, "wavelength");
    if (vs_json_check_object(&wavelength, keys, COUNT_OF(keys))) {
        type->wavelength_m = vs_json_need_number(&wavelength, "nm", nm) * VS_M_PER_NM;
        read_source(&wavelength, &type->status, &type->source);
    }
}

static void read_detector(reader *r, const vs_json_value *value) {
    static const char *const keys[] = {"kind", "title", "wavelength", "thresholds"};
    if (!vs_json_check_object(value, keys, COUNT_OF(keys))) {
        return;
    }
    size_t kind =
        vs_json_need_choice(value, "kind", vs_detector_kind_words, VS_DETECTOR_KIND_COUNT);
    if (kind == SIZE_MAX) {
        return;
    }
    vs_detector_type *type = &r->tables->detector[kind];
    if (type->title) {
        vs_json_value word = vs_json_get(value, "kind");
        vs_json_fault_got(&word, "must be given once");
        return;
    }
    type->title = vs_json_need_text(value, "title");
    read_wavelength(value, type);
    vs_json_value list;
    size_t count = need_list(value, "thresholds", &list);
    vs_detector_threshold *threshold = new_list(r, count, sizeof *threshold);
    for (size_t i = 0; threshold && i < count; i++) {
        vs_json_value element = vs_json_at(&list, i);
        read_threshold(&element, &threshold[i]);
    }
    type->threshold = threshold;
    type->threshold_count = threshold ? count : 0;
}

static void read_detectors(reader *r, const vs_json_value *root) {
    static const char *const keys[] = {"detectors"};
    vs_json_value list;
    if (!vs_json_check_object(root, keys, COUNT_OF(keys))) {
        return;
    }
    size_t count = need_list(root, "detectors", &list);
    for (size_t i = 0; i < count; i++) {
        vs_json_value value = vs_json_at(&list, i);
        read_detector(r, &value);
    }
    for (size_t kind = 0; count > 0 && kind < VS_DETECTOR_KIND_COUNT; kind++) {
        if (!r->tables->detector[kind].title) {
            vs_json_fault(&list, "must hold every kind of detector (got none of kind \"%s\")",
                          vs_detector_kind_words[kind]);
        }
    }
}

/* ---- notices.json ---- */

static void read_notices(reader *r, const vs_json_value *root) {
    static const char *const root_keys[] = {"notices"};
    static const char *const keys[] = {"when", "who", "do", "fluids", "status", "source"};
    vs_json_value list;
    if (!vs_json_check_object(root, root_keys, COUNT_OF(root_keys))) {
        return;
    }
    size_t count = need_list(root, "notices", &list);
    vs_notice *notice = new_list(r, count, sizeof *notice);
    for (size_t i = 0; notice && i < count; i++) {
        vs_json_value value = vs_json_at(&list, i);
        if (vs_json_check_object(&value, keys, COUNT_OF(keys))) {
            notice[i].when = vs_json_need_text(&value, "when");
            notice[i].who = vs_json_need_text(&value, "who");
            notice[i].text = vs_json_need_text(&value, "do");
            notice[i].fluids = read_fluids(&value, false);
            read_source(&value, &notice[i].status, &notice[i].source);
        }
    }
    r->tables->notice = notice;
    r->tables->notice_count = notice ? count : 0;
}

/* ---- the files ---- */

/* One file; on a fault, its path in *path. */
static vs_status read_file(reader *r, vs_json_document *document, size_t which,
                           const char *directory, const vs_file_reader *files, vs_faults *faults,
                           char **path) {
    static void (*const part[])(reader *, const vs_json_value *) = {read_limits, read_detectors,
                                                                    read_notices};
    vs_data data;
    vs_status status = vs_data_init(&data, directory, file_names[which], files);
    if (status == VS_ERR_FILE) {
        vs_faults_add(faults, "", "must be a file that can be read (got: %s)",
                      vs_file_reason_by(files, data.path, errno));
    }
    if (status == VS_OK) {
        status = vs_json_document_init(document, data.bytes, data.length, faults);
    }
    if (status == VS_OK) {
        vs_json_value root = vs_json_root(document, faults);
        part[which](r, &root);
        status = r->out_of_memory ? VS_ERR_MEMORY : vs_faults_any(faults) ? VS_ERR_INPUT : VS_OK;
    }
    if (status == VS_ERR_INPUT || status == VS_ERR_FILE) {
        *path = strdup(data.path ? data.path : file_names[which]);
    }
    vs_data_free(&data);
    return status;
}

vs_status vs_safety_file_init(vs_safety_file *file, const char *directory,
                              const vs_file_reader *files, vs_faults *faults, char **path) {
    memset(file, 0, sizeof *file);
    *path = NULL;
    safety_memory *memory = calloc(1, sizeof *memory);
    if (!memory) {
        return VS_ERR_MEMORY;
    }
    file->memory = memory;
    reader r = {.tables = &file->tables, .arena = &memory->arena};
    vs_status status = VS_OK;
    for (size_t i = 0; i < FILE_COUNT && status == VS_OK; i++) {
        status = read_file(&r, &memory->document[i], i, directory, files, faults, path);
    }
    if (status != VS_OK) {
        vs_safety_file_free(file);
    }
    return status;
}

void vs_safety_file_free(vs_safety_file *file) {
    safety_memory *memory = file->memory;
    if (memory) {
        vs_arena_free(&memory->arena);
        for (size_t i = 0; i < FILE_COUNT; i++) {
            vs_json_document_free(&memory->document[i]);
        }
        free(memory);
    }
    memset(file, 0, sizeof *file);
}
