/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Data sheets of fluids: the source of each figure; and fluids by name.
 * Form: docs/scene.md, "Fluids". */
#include <errno.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/scene/data.h"
#include "veilstop/scene/file.h"
#include "veilstop/scene/fluid.h"

#define NAME_MAX_BYTES 64 /* [bytes] of a fluid's name: our choice */
#define NAMES_MAX      32 /* most fluids compiled in: our choice */
#define COUNT_OF(list) (sizeof(list) / sizeof(list)[0])

/* The figures that need a source. */
static const char *const figures[] = {
    "density_g_per_ml", "nonvolatile_fraction", "refractive_index",
    "median_um",        "mass_median_um",       "gsd",
    "half_life_min",    "extinction_m2_per_g",  "g",
    "settling_m_per_s"};

/* ---- sources ---- */

/* One member of "sources"; unknown keys have been reported already. */
static bool read_source(const vs_json_value *entry, vs_fluid_source *source) {
    static const char *const keys[] = {"status", "source"};
    if (!vs_json_check_object(entry, keys, COUNT_OF(keys))) {
        return false;
    }
    size_t status = vs_json_need_choice(entry, "status", vs_source_words, VS_SOURCE_STATUS_COUNT);
    source->figure = vs_json_key(entry);
    source->text = vs_json_need_text(entry, "source");
    source->status = status == SIZE_MAX ? VS_SOURCE_ASSUMED : (vs_source_status)status;
    return status != SIZE_MAX && source->text;
}

/* The sources in the order of `figures`; `list` has room for all. Returns their number. */
static size_t read_sources(const vs_json_value *object, bool needed, vs_fluid_source *list) {
    size_t count = 0;
    vs_json_value sources = vs_json_get(object, "sources");
    if (vs_json_exists(&sources) && !vs_json_check_object(&sources, figures, COUNT_OF(figures))) {
        return 0;
    }
    for (size_t i = 0; i < COUNT_OF(figures); i++) {
        vs_json_value figure = vs_json_get(object, figures[i]);
        vs_json_value entry = vs_json_get(&sources, figures[i]);
        if (vs_json_exists(&entry) && !vs_json_exists(&figure)) {
            vs_json_fault(&entry, "must belong to a figure of this fluid, which has no %s",
                          figures[i]);
        } else if (vs_json_exists(&entry)) {
            count += read_source(&entry, &list[count]);
        } else if (needed && vs_json_exists(&figure)) {
            vs_json_fault(&entry, "must tell where %s comes from: {\"status\", \"source\"}",
                          figures[i]);
        }
    }
    return count;
}

/* The figures and, into a list that has room for all, their sources. */
static bool read_object(const vs_json_value *object, bool needed, vs_fluid *fluid,
                        vs_fluid_source *list, size_t *count) {
    size_t before = object->faults->count + object->faults->more;
    bool good = vs_fluid_read(object, fluid);
    *count = read_sources(object, needed, list);
    vs_json_take_text(object, "title", NULL);
    return good && object->faults->count + object->faults->more == before;
}

vs_status vs_fluid_sheet_init(vs_fluid_sheet *sheet, const char *name, const char *bytes,
                              size_t length, bool sources_needed, vs_faults *faults) {
    memset(sheet, 0, sizeof *sheet);
    vs_status status = vs_json_document_init(&sheet->document, bytes, length, faults);
    if (status != VS_OK) {
        return status;
    }
    vs_fluid_source *list = calloc(COUNT_OF(figures), sizeof *list);
    if (!list) {
        status = VS_ERR_MEMORY;
        goto cleanup;
    }
    sheet->memory = list;
    sheet->source = list;
    vs_json_value root = vs_json_root(&sheet->document, faults);
    if (!read_object(&root, sources_needed, &sheet->fluid, list, &sheet->source_count)) {
        status = VS_ERR_INPUT;
    }
    sheet->fluid.name = name;
    sheet->title = status == VS_OK ? vs_json_take_text(&root, "title", NULL) : NULL;
cleanup:
    if (status != VS_OK) {
        vs_fluid_sheet_free(sheet);
    }
    return status;
}

void vs_fluid_sheet_free(vs_fluid_sheet *sheet) {
    free(sheet->memory);
    vs_json_document_free(&sheet->document);
    memset(sheet, 0, sizeof *sheet);
}

/* ---- fluids by name ---- */

/* The names of the fluids compiled in, in `text`; their count. */
static size_t list_names(char text[NAMES_MAX][NAME_MAX_BYTES], const char *name[NAMES_MAX]) {
    static const char folder[] = "fluids/", ending[] = ".json";
    size_t count = 0;
    for (size_t i = 0; i < vs_data_file_count && count < NAMES_MAX; i++) {
        const char *path = vs_data_files[i].name;
        size_t length = strlen(path);
        if (strncmp(path, folder, sizeof folder - 1) == 0 &&
            length > sizeof folder + sizeof ending) {
            int bare = (int)(length - (sizeof folder - 1) - (sizeof ending - 1));
            snprintf(text[count], NAME_MAX_BYTES, "%.*s", bare, path + sizeof folder - 1);
            name[count] = text[count];
            count++;
        }
    }
    return count;
}

void vs_fluid_name_advice(const char *name, char *text, size_t size) {
    char names[NAMES_MAX][NAME_MAX_BYTES];
    const char *known[NAMES_MAX] = {NULL};
    size_t count = list_names(names, known);
    const char *nearest = vs_json_nearest(name, known, count);
    if (nearest) {
        snprintf(text, size, "did you mean \"%s\"?", nearest);
        return;
    }
    size_t used = (size_t)snprintf(text, size, "one of ");
    for (size_t i = 0; i < count && used < size; i++) {
        used += (size_t)snprintf(text + used, size - used, "%s%s", i ? ", " : "", known[i]);
    }
}

static void fault_unknown_name(const vs_json_value *value, const char *got) {
    char advice[VS_FAULT_TEXT_SIZE / 2];
    vs_fluid_name_advice(got, advice, sizeof advice);
    vs_json_fault_got(value, "%s%s",
                      advice[0] == 'd' ? "must name a fluid: " : "must be a fluid object or ",
                      advice);
}

bool vs_fluid_path(const char *name, char path[VS_FLUID_PATH_SIZE]) {
    static const char letters[] = "abcdefghijklmnopqrstuvwxyz0123456789-_";
    size_t length = strlen(name);
    if (length == 0 || length >= NAME_MAX_BYTES || strspn(name, letters) != length) {
        return false;
    }
    return snprintf(path, VS_FLUID_PATH_SIZE, "fluids/%s.json", name) < VS_FLUID_PATH_SIZE;
}

/* Reports the fault of a data file at the place that names the fluid. */
static void pass_on_fault(const vs_json_value *value, const char *path, const vs_faults *inner) {
    const vs_fault *first = &inner->item[0];
    vs_json_fault(value, "names a fluid whose data file is not right: %s:%s%s%s", path,
                  first->where, first->where[0] ? ": " : " ", first->text);
}

static vs_status read_named(const vs_json_value *value, const char *name, const char *path,
                            const char *directory, const vs_file_reader *files, vs_fluid *fluid) {
    vs_data data;
    vs_fluid_sheet sheet;
    vs_faults inner = {0};
    vs_status status = vs_data_init(&data, directory, path, files);
    if (status == VS_ERR_INPUT) {
        fault_unknown_name(value, name);
    } else if (status == VS_ERR_FILE) {
        status = errno == EFBIG ? VS_ERR_INPUT : VS_ERR_FILE;
        vs_json_fault(value, "names a fluid whose data file cannot be read: %s (got: %s)",
                      data.path, vs_file_reason_by(files, data.path, errno));
    } else if (status == VS_OK) {
        status = vs_fluid_sheet_init(&sheet, name, data.bytes, data.length, false, &inner);
        if (status == VS_OK) {
            *fluid = sheet.fluid;
            vs_fluid_sheet_free(&sheet);
        } else if (status == VS_ERR_INPUT) {
            pass_on_fault(value, data.path ? data.path : path, &inner);
        }
    }
    vs_data_free(&data);
    return status;
}

vs_status vs_fluid_resolve(const vs_json_value *value, const char *directory,
                           const vs_file_reader *files, vs_fluid *fluid) {
    if (vs_json_is_object(value)) {
        vs_fluid_source list[COUNT_OF(figures)];
        size_t count;
        return read_object(value, false, fluid, list, &count) ? VS_OK : VS_ERR_INPUT;
    }
    const char *name =
        vs_json_exists(value) ? vs_json_need_text(value, NULL) : VS_FLUID_DEFAULT_NAME;
    char path[VS_FLUID_PATH_SIZE];
    if (!name) {
        return VS_ERR_INPUT;
    }
    if (!vs_fluid_path(name, path)) {
        fault_unknown_name(value, name);
        return VS_ERR_INPUT;
    }
    return read_named(value, name, path, directory, files, fluid);
}
