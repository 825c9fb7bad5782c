/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The figures behind the cautions: every one in the data files has a source and a status; a file of
 * the user's own takes precedence and is read strictly. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "veilstop/base/lognormal.h"
#include "veilstop/base/units.h"
#include "veilstop/optics/haze.h"
#include "veilstop/scene/data.h"
#include "veilstop/scene/fluid.h"
#include "veilstop/scene/json.h"
#include "veilstop/scene/safety_file.h"

static const char *const files[] = {"limits.json", "detectors.json", "notices.json"};

static void the_files_compiled_in_are_read(void **state) {
    (void)state;
    vs_safety_file file;
    vs_faults faults = {0};
    char *path;
    vs_status status = vs_safety_file_init(&file, NULL, NULL, &faults, &path);
    if (status != VS_OK) {
        print_error("%s:%s: %s\n", path, faults.item[0].where, faults.item[0].text);
    }
    CHECK_OK(status);
    CHECK_TRUE(path == NULL);
    const vs_safety_tables *t = &file.tables;
    CHECK_TRUE(t->limit_count >= 11 && t->notice_count >= 10 && t->exit_count >= 1);
    for (unsigned fluid = 0; fluid < VS_FLUID_CLASS_COUNT; fluid++) {
        bool shift = false, peak = false;
        for (size_t i = 0; i < t->limit_count; i++) {
            bool mine = vs_exposure_limit_is_for(&t->limit[i], fluid);
            shift = shift || (mine && t->limit[i].average == VS_AVERAGE_SHIFT);
            peak = peak || (mine && t->limit[i].average == VS_AVERAGE_PEAK);
        }
        CHECK_TRUE(shift && peak);
        CHECK_TRUE(t->class_extinction[fluid].low_m2_per_g <
                   t->class_extinction[fluid].high_m2_per_g);
    }
    for (size_t kind = 0; kind < VS_DETECTOR_KIND_COUNT; kind++) {
        CHECK_TRUE(t->detector[kind].title && t->detector[kind].threshold_count >= 1);
        CHECK_TRUE(t->detector[kind].wavelength_m > 3e-7);
    }
    vs_safety_file_free(&file);
    vs_safety_file_free(&file);
}

/* The published figures, as in the file. */
static void limits_are_as_published(void **state) {
    (void)state;
    static const struct {
        unsigned fluid;
        vs_average average;
        double hours, mg_per_m3;
        const char *source; /* a word of it */
    } want[] = {
        {VS_FLUID_GLYCOL, VS_AVERAGE_SHIFT, 8, 10, "E1.5"},
        {VS_FLUID_GLYCOL, VS_AVERAGE_PEAK, 0, 40, "E1.5"},
        {VS_FLUID_GLYCEROL, VS_AVERAGE_SHIFT, 8, 15, "OSHA"},
        {VS_FLUID_GLYCEROL, VS_AVERAGE_SHIFT, 8, 5, "OSHA"},
        {VS_FLUID_GLYCEROL, VS_AVERAGE_PEAK, 0, 50, "E1.5"},
        {VS_FLUID_OIL, VS_AVERAGE_SHIFT, 8, 5, "OSHA"},
        {VS_FLUID_OIL, VS_AVERAGE_SHIFT, 10, 5, "NIOSH"},
        {VS_FLUID_OIL, VS_AVERAGE_SHORT, 0.25, 10, "NIOSH"},
        {VS_FLUID_OIL, VS_AVERAGE_PEAK, 0, 25, "theatre league"},
    };
    vs_safety_file file;
    vs_faults faults = {0};
    char *path;
    CHECK_OK(vs_safety_file_init(&file, NULL, NULL, &faults, &path));
    for (size_t i = 0; i < sizeof want / sizeof want[0]; i++) {
        bool found = false;
        for (size_t k = 0; k < file.tables.limit_count && !found; k++) {
            const vs_exposure_limit *l = &file.tables.limit[k];
            found = vs_exposure_limit_is_for(l, want[i].fluid) && l->average == want[i].average &&
                    fabs(l->length_s - want[i].hours * VS_S_PER_H) < 1e-6 &&
                    fabs(l->limit_g_per_m3 - 1e-3 * want[i].mg_per_m3) < 1e-12 &&
                    strstr(l->source, want[i].source);
        }
        if (!found) {
            fail_msg("no limit %g mg/m3 of %s", want[i].mg_per_m3, want[i].source);
        }
    }
    vs_safety_file_free(&file);
}

/* The ranges of the classes, from Mie theory for the sizes that the file names, rounded
 * outwards. */
static void class_ranges_are_those_of_mie_theory(void **state) {
    (void)state;
    static const struct {
        const char *fluid;
        double low_um, high_um; /* mass medians */
    } range[VS_SAFETY_CLASS_COUNT] = {{"fluids/glycol.json", 0.3, 1.0},
                                      {"fluids/glycerol.json", 0.3, 1.2},
                                      {"fluids/oil.json", 0.3, 1.0}};
    vs_safety_file file;
    vs_faults faults = {0};
    char *path;
    CHECK_OK(vs_safety_file_init(&file, NULL, NULL, &faults, &path));
    for (size_t i = 0; i < VS_SAFETY_CLASS_COUNT; i++) {
        vs_data data;
        vs_fluid_sheet sheet;
        double low = INFINITY, high = 0;
        CHECK_OK(vs_data_init(&data, NULL, range[i].fluid, NULL));
        CHECK_OK(vs_fluid_sheet_init(&sheet, "x", data.bytes, data.length, true, &faults));
        CHECK_TRUE(sheet.fluid.class_ == (vs_fluid_class)i);
        vs_fluid fluid = sheet.fluid;
        fluid.gsd = 1.6;
        for (int step = 0; step <= 10; step++) {
            double um = range[i].low_um + (range[i].high_um - range[i].low_um) * step / 10,
                   extinction;
            fluid.median_m = vs_lognormal_diameter(um * 1e-6, fluid.gsd, -VS_LOGNORMAL_MASS_MEDIAN);
            CHECK_OK(vs_haze_extinction_at(&fluid, 549e-9, &extinction));
            low = fmin(low, extinction);
            high = fmax(high, extinction);
        }
        const vs_class_extinction *given = &file.tables.class_extinction[i];
        printf("measured: %s: %.2f to %.2f m2/g by Mie theory, given as %g to %g\n", range[i].fluid,
               low, high, given->low_m2_per_g, given->high_m2_per_g);
        CHECK_NEAR(given->low_m2_per_g, low, 0, 0.5);
        CHECK_NEAR(given->high_m2_per_g, high, 0, 1);
        CHECK_TRUE(given->low_m2_per_g <= low && given->high_m2_per_g >= high);
        vs_fluid_sheet_free(&sheet);
        vs_data_free(&data);
    }
    vs_safety_file_free(&file);
}

/* ---- every figure has its source ---- */

static bool holds_figure(const vs_json_value *value) {
    if (vs_json_is_number(value)) {
        return true;
    }
    vs_json_value first = vs_json_at(value, 0);
    return vs_json_is_array(value) && vs_json_is_number(&first);
}

/* Counts figures; an object that holds one must hold "status", a known word, and "source". */
static size_t check_sources(const vs_json_value *value) {
    size_t figures = 0;
    for (size_t i = 0; i < vs_json_count(value); i++) {
        vs_json_value member = vs_json_at(value, i);
        if (!vs_json_is_object(value) || !holds_figure(&member)) {
            figures += check_sources(&member);
            continue;
        }
        figures++;
        size_t faults = value->faults->count;
        size_t status =
            vs_json_need_choice(value, "status", vs_source_words, VS_SOURCE_STATUS_COUNT);
        const char *source = vs_json_need_text(value, "source");
        if (status == SIZE_MAX || !source || strlen(source) < 8 || value->faults->count > faults) {
            fail_msg("%s: a figure without source and status", member.pointer);
        }
    }
    return figures;
}

static void every_figure_has_source_and_status(void **state) {
    (void)state;
    size_t figures = 0, data_files = 0;
    for (size_t i = 0; i < vs_data_file_count; i++) {
        if (strchr(vs_data_files[i].name, '/')) {
            continue; /* fluids: tests/unit/test_fluid.c */
        }
        vs_json_document document;
        vs_faults faults = {0};
        CHECK_OK(vs_json_document_init(&document, vs_data_files[i].bytes, vs_data_files[i].length,
                                       &faults));
        vs_json_value root = vs_json_root(&document, &faults);
        figures += check_sources(&root);
        data_files++;
        vs_json_document_free(&document);
    }
    CHECK_TRUE(data_files == 3 && figures >= 30);
    /* and each notice, which holds no figure of its own, has both as well: the reader demands it */
    printf(
        "measured: figures in limits.json and detectors.json with source and status: %zu of %zu\n",
        figures, figures);
}

/* ---- strict reading ---- */

static void write_text(const char *path, const char *text) {
    FILE *file = fopen(path, "wb");
    CHECK_TRUE(file != NULL && fputs(text, file) >= 0 && fclose(file) == 0);
}

/* One of our files with the first `from` replaced by `to`, as the only file of a directory. */
static void write_spoiled(const char *name, const char *from, const char *to) {
    vs_data data;
    char path[64];
    mkdir("own", 0700);
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++) {
        snprintf(path, sizeof path, "own/%s", files[i]);
        remove(path);
    }
    CHECK_OK(vs_data_init(&data, NULL, name, NULL));
    const char *at = strstr(data.bytes, from);
    if (!at) {
        fail_msg("%s holds no %s", name, from);
    }
    char *text = malloc(data.length + strlen(to) + 1);
    sprintf(text, "%.*s%s%s", (int)(at - data.bytes), data.bytes, to, at + strlen(from));
    snprintf(path, sizeof path, "own/%s", name);
    write_text(path, text);
    free(text);
    vs_data_free(&data);
}

static void what_is_wrong_is_told_at_its_place(void **state) {
    (void)state;
    static const struct {
        const char *file, *from, *to, *where, *words;
    } bad[] = {
        {"limits.json", "\"kind\": \"guidance\"", "\"kind\": \"rumour\"", "/limits/0/kind",
         "guidance"},
        {"limits.json", "\"status\": \"read\"", "\"status\": \"heard\"", "/limits/0/status",
         "memory"},
        {"limits.json", "\"source\"", "\"sauce\"", "/limits/0/sauce", "did you mean \"source\"?"},
        {"limits.json", "\"limit_mg_per_m3\": 10", "\"limit_mg_per_m3\": 0",
         "/limits/0/limit_mg_per_m3", "got 0"},
        {"limits.json", "\"average\": \"peak\"", "\"average\": \"peak\", \"minutes\": 15",
         "/limits/1/minutes", "must stand with average"},
        {"limits.json", "\"minutes\": 480,", "", "/limits/0/minutes", ""},
        {"limits.json", "\"fluids\": [\"glycol\"]", "\"fluids\": [\"water\"]", "/limits/0/fluids/0",
         "glycerol"},
        {"limits.json", "\"low\": 4, \"high\": 7", "\"low\": 4, \"high\": 3",
         "/extinction_m2_per_g/glycol/high", "at least"},
        {"limits.json", "\"needed_m\": 10", "\"needed_m\": -1", "/exits/0/needed_m", "got -1"},
        {"limits.json", "\"limits\"", "\"limits\": 1, \"limits\"", "/limits", ""},
        {"detectors.json", "\"kind\": \"beam\"", "\"kind\": \"point\"", "/detectors/2/kind",
         "must be given once"},
        {"detectors.json", "\"db_per_m\": 0.05", "\"db_per_m\": 0.05, \"percent_per_m\": 1",
         "/detectors/0/thresholds/0", "just one of"},
        {"detectors.json", "\"db_per_m\": 0.05,", "", "/detectors/0/thresholds/0", "just one of"},
        {"detectors.json", "[0.08, 0.20]", "[0.20, 0.08]", "/detectors/0/thresholds/1/db_per_m",
         "low to high"},
        {"detectors.json", "\"nm\": 900", "\"nm\": \"900\"", "/detectors/0/wavelength/nm", ""},
        {"detectors.json", "\"nm\": 900, \"status\": \"memory\",", "\"nm\": 900,",
         "/detectors/0/wavelength/status", ""},
        {"notices.json", "\"who\": \"production\",", "", "/notices/0/who", ""},
        {"notices.json", "\"status\": \"read\",", "", "/notices/0/status", ""},
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        vs_safety_file file;
        vs_faults faults = {0};
        char *path, want[64];
        write_spoiled(bad[i].file, bad[i].from, bad[i].to);
        CHECK_STATUS(vs_safety_file_init(&file, "own", NULL, &faults, &path), VS_ERR_INPUT);
        snprintf(want, sizeof want, "own/%s", bad[i].file);
        if (strcmp(path, want) != 0 || strcmp(faults.item[0].where, bad[i].where) != 0 ||
            !strstr(faults.item[0].text, bad[i].words)) {
            fail_msg("%s -> %s: %s:%s: %s", bad[i].from, bad[i].to, path, faults.item[0].where,
                     faults.item[0].text);
        }
        free(path);
        vs_safety_file_free(&file);
    }
}

static void a_file_of_ones_own_goes_first(void **state) {
    (void)state;
    vs_safety_file file;
    vs_faults faults = {0};
    char *path;
    write_spoiled("limits.json", "\"limit_mg_per_m3\": 10", "\"limit_mg_per_m3\": 2.5");
    CHECK_OK(vs_safety_file_init(&file, "own", NULL, &faults, &path));
    CHECK_NEAR(file.tables.limit[0].limit_g_per_m3, 0.0025, 1e-15, 0);
    CHECK_TRUE(file.tables.notice_count >= 10); /* those compiled in */
    vs_safety_file_free(&file);
    CHECK_STATUS(vs_safety_file_init(&file, "nowhere", NULL, &faults, &path), VS_ERR_FILE);
    CHECK_TRUE(vs_faults_any(&faults) && strcmp(path, "nowhere/") == 0);
    free(path);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_files_compiled_in_are_read),
        cmocka_unit_test(limits_are_as_published),
        cmocka_unit_test(class_ranges_are_those_of_mie_theory),
        cmocka_unit_test(every_figure_has_source_and_status),
        cmocka_unit_test(what_is_wrong_is_told_at_its_place),
        cmocka_unit_test(a_file_of_ones_own_goes_first),
    };
    return RUN_TESTS(tests);
}
