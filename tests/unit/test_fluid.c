/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Fluids from files: what is accepted, and what is refused, in which words and at which place. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "veilstop/scene/data.h"
#include "veilstop/scene/fluid.h"

/* Reads a sheet from a text; faults into the list. */
static vs_status read_sheet(vs_fluid_sheet *sheet, const char *text, bool sources_needed,
                            vs_faults *faults) {
    memset(faults, 0, sizeof *faults);
    return vs_fluid_sheet_init(sheet, "test", text, strlen(text), sources_needed, faults);
}

static vs_fluid good_fluid(const char *text) {
    vs_fluid_sheet sheet;
    vs_faults faults;
    vs_status status = read_sheet(&sheet, text, false, &faults);
    if (status != VS_OK) {
        print_error("%s: %s\n", faults.item[0].where, faults.item[0].text);
    }
    CHECK_OK(status);
    vs_fluid fluid = sheet.fluid;
    vs_fluid_sheet_free(&sheet);
    vs_fluid_sheet_free(&sheet);
    return fluid;
}

static void droplets_by_count_median(void **state) {
    (void)state;
    vs_fluid f = good_fluid("{\"class\": \"oil\", \"density_g_per_ml\": 0.85,"
                            "\"nonvolatile_fraction\": 0.9, \"refractive_index\": 1.47,"
                            "\"median_um\": 0.4, \"gsd\": 1.6, \"half_life_min\": 90}");
    CHECK_TRUE(f.class_ == VS_FLUID_OIL && !f.measured);
    CHECK_NEAR(f.density_g_per_ml, 0.85, 0, 0);
    CHECK_NEAR(f.nonvolatile_fraction, 0.9, 0, 0);
    CHECK_NEAR(f.median_m, 0.4e-6, 1e-15, 0);
    CHECK_NEAR(f.gsd, 1.6, 0, 0);
    CHECK_NEAR(f.half_life_s, 5400, 1e-15, 0);
    CHECK_TRUE(f.index.kind == VS_INDEX_CONSTANT);
    CHECK_NEAR(f.index.n[0], 1.47, 0, 0);
}

/* Hatch-Choate (Hinds 1999 eq. 4.47): mass median = count median x exp(3 ln^2 gsd). */
static void a_mass_median_is_converted(void **state) {
    (void)state;
    vs_fluid f = good_fluid("{\"refractive_index\": [1.43, 1.44, 1.45], \"mass_median_um\": 1.0,"
                            "\"gsd\": 1.6, \"note\": \"free text\"}");
    CHECK_NEAR(f.median_m * exp(3 * log(1.6) * log(1.6)), 1e-6, 1e-12, 0);
    CHECK_TRUE(f.index.kind == VS_INDEX_BANDS && f.class_ == VS_FLUID_GLYCOL);
    CHECK_NEAR(f.index.n[2], 1.45, 0, 0);
    CHECK_TRUE(isinf(f.half_life_s));
    CHECK_NEAR(f.density_g_per_ml, 1, 0, 0);
    CHECK_NEAR(f.nonvolatile_fraction, 1, 0, 0);
}

static void a_measured_haze(void **state) {
    (void)state;
    vs_fluid f = good_fluid("{\"extinction_m2_per_g\": 4.0, \"g\": 0.75}");
    CHECK_TRUE(f.measured && f.class_ == VS_FLUID_GLYCOL);
    CHECK_NEAR(f.extinction_m2_per_g, 4, 0, 0);
    CHECK_NEAR(f.g, 0.75, 0, 0);
    CHECK_NEAR(f.settling_m_per_s, 0, 0, 0);
    CHECK_TRUE(isinf(f.half_life_s));
    f = good_fluid("{\"extinction_m2_per_g\": 4.0, \"g\": -0.2, \"settling_m_per_s\": 1e-5,"
                   "\"half_life_min\": null, \"class\": \"glycerol\"}");
    CHECK_NEAR(f.settling_m_per_s, 1e-5, 0, 0);
    CHECK_TRUE(f.class_ == VS_FLUID_GLYCEROL);
}

static void cauchys_formula_is_read(void **state) {
    (void)state;
    vs_fluid f = good_fluid("{\"refractive_index\": {\"cauchy\": [1.45797, 0.00598, -0.00036]},"
                            "\"median_um\": 0.5, \"gsd\": 1.0}");
    CHECK_TRUE(f.index.kind == VS_INDEX_CAUCHY);
    CHECK_NEAR(f.index.n[2], -0.00036, 0, 0);
}

#define DROPLETS "\"refractive_index\": 1.44, \"median_um\": 0.5, \"gsd\": 1.6"
static const struct {
    const char *text, *where, *words;
} bad_fluid[] = {
    {"[]", "", "must be an object, { } (got an array of 0)"},
    {"{\"refractive_index\": 0.9, \"median_um\": 0.5, \"gsd\": 1.6}", "/refractive_index",
     "must be between 1 and 3 (got 0.9)"},
    {"{\"refractive_index\": 1, \"median_um\": 0.5, \"gsd\": 1.6}", "/refractive_index",
     "must be over 1 (got 1)"},
    {"{\"refractive_index\": \"1.4\", \"median_um\": 0.5, \"gsd\": 1.6}", "/refractive_index",
     "must be a number, [red, green, blue] or {\"cauchy\": [A, B, C]} (got \"1.4\")"},
    {"{\"refractive_index\": [1.4, 1.4], \"median_um\": 0.5, \"gsd\": 1.6}", "/refractive_index",
     "must be an array of 3 numbers (got an array of 2)"},
    {"{\"refractive_index\": [1.4, 0.5, 1.4], \"median_um\": 0.5, \"gsd\": 1.6}",
     "/refractive_index/1", "must be between 1 and 3 (got 0.5)"},
    {"{\"refractive_index\": {\"cauchy\": [0.99, 0, 0]}, \"median_um\": 0.5, \"gsd\": 1.6}",
     "/refractive_index/cauchy", "must give an index over 1 and at most 3 at 611 nm (got 0.99)"},
    {"{\"refractive_index\": {\"cauchy\": [1.4, 0, 0], \"sellmeier\": 1}, \"median_um\": 0.5,"
     "\"gsd\": 1.6}",
     "/refractive_index/sellmeier", "unknown key; known here are cauchy"},
    {"{\"refractive_index\": 1.44, \"median_um\": 0.5, \"gsd\": 0.9}", "/gsd",
     "must be between 1 and 2.5 (got 0.9)"},
    {"{\"refractive_index\": 1.44, \"median_um\": 0.5}", "/gsd",
     "must be a number between 1 and 2.5 (got nothing)"},
    {"{\"refractive_index\": 1.44, \"median_um\": 500, \"gsd\": 1.6}", "/median_um",
     "must be between 0.005 and 20 (got 500)"},
    {"{\"refractive_index\": 1.44, \"median_um\": -1, \"gsd\": 1.6}", "/median_um",
     "must be between 0.005 and 20 (got -1)"},
    {"{\"refractive_index\": 1.44, \"mass_median_um\": 0.001, \"gsd\": 1.6}", "/mass_median_um",
     "must be between 0.02 and 20 (got 0.001)"},
    {"{\"refractive_index\": 1.44, \"median_um\": 15, \"gsd\": 2.5}", "/median_um",
     "must give, with this gsd, a median by mass of 0.02 to 20 um (got 186.2 um)"},
    {"{\"refractive_index\": 1.44, \"mass_median_um\": 0.02, \"gsd\": 2.5}", "/mass_median_um",
     "must give, with this gsd, a median by count of 0.005 to 20 um (got 0.001611 um)"},
    {"{\"refractive_index\": 1.44, \"gsd\": 1.6}", "/median_um",
     "must be given, or mass_median_um, but not both"},
    {"{" DROPLETS ", \"mass_median_um\": 1}", "/mass_median_um",
     "must be given, or median_um, but not both"},
    {"{" DROPLETS ", \"density_g_per_ml\": 0}", "/density_g_per_ml",
     "must be between 0.1 and 5 (got 0)"},
    {"{" DROPLETS ", \"density_g_per_ml\": 22}", "/density_g_per_ml",
     "must be between 0.1 and 5 (got 22)"},
    {"{" DROPLETS ", \"nonvolatile_fraction\": 1.2}", "/nonvolatile_fraction",
     "must be between 1e-06 and 1 (got 1.2)"},
    {"{" DROPLETS ", \"half_life_min\": 0}", "/half_life_min",
     "must be between 0.01 and 1e6 (got 0)"},
    {"{" DROPLETS ", \"class\": \"water\"}", "/class",
     "must be one of \"glycol\", \"glycerol\", \"oil\" (got \"water\")"},
    {"{" DROPLETS ", \"densty_g_per_ml\": 1}", "/densty_g_per_ml",
     "unknown key; did you mean \"density_g_per_ml\"?"},
    {"{" DROPLETS ", \"g\": 0.7}", "/g", "has a place only beside extinction_m2_per_g"},
    {"{" DROPLETS ", \"settling_m_per_s\": 0}", "/settling_m_per_s",
     "has a place only beside extinction_m2_per_g"},
    {"{\"extinction_m2_per_g\": 4}", "/g", "must be a number between -1 and 1 (got nothing)"},
    {"{\"extinction_m2_per_g\": 4, \"g\": 1}", "/g", "must be under 1 (got 1)"},
    {"{\"extinction_m2_per_g\": 0, \"g\": 0.5}", "/extinction_m2_per_g",
     "must be between 0.001 and 1000 (got 0)"},
    {"{\"extinction_m2_per_g\": 4, \"g\": 0.5, \"gsd\": 1.6}", "/gsd",
     "has no place beside extinction_m2_per_g, which replaces it"},
    {"{" DROPLETS ", \"title\": 7}", "/title", "must be a text in double quotes (got 7)"},
    {"{" DROPLETS ", \"sources\": 7}", "/sources", "must be an object, { } (got 7)"},
    {"{" DROPLETS ", \"sources\": {\"gsd\": {\"status\": \"read\"}}}", "/sources/gsd/source",
     "must be a text in double quotes (got nothing)"},
    {"{" DROPLETS ", \"sources\": {\"gsd\": {\"status\": \"sure\", \"source\": \"x\"}}}",
     "/sources/gsd/status",
     "must be one of \"read\", \"memory\", \"practice\", \"derived\", \"assumed\" (got "
     "\"sure\")"},
    {"{" DROPLETS ", \"sources\": {\"g\": {\"status\": \"read\", \"source\": \"x\"}}}",
     "/sources/g", "must belong to a figure of this fluid, which has no g"},
};

/* Every possible fault of a fluid, with its place and words. */
static void bad_fluids_are_refused_with_the_pointer(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof bad_fluid / sizeof bad_fluid[0]; i++) {
        vs_fluid_sheet sheet;
        vs_faults faults;
        CHECK_STATUS(read_sheet(&sheet, bad_fluid[i].text, false, &faults), VS_ERR_INPUT);
        if (faults.count != 1 || strcmp(faults.item[0].where, bad_fluid[i].where) != 0 ||
            strcmp(faults.item[0].text, bad_fluid[i].words) != 0) {
            fail_msg("%s\n  %zu: %s: %s\n  want %s: %s", bad_fluid[i].text, faults.count,
                     faults.item[0].where, faults.item[0].text, bad_fluid[i].where,
                     bad_fluid[i].words);
        }
    }
}

static void every_fault_of_a_fluid_is_told(void **state) {
    (void)state;
    vs_fluid_sheet sheet;
    vs_faults faults;
    CHECK_STATUS(read_sheet(&sheet,
                            "{\"class\": 1, \"density_g_per_ml\": -1, \"refractive_index\": 0.5,"
                            "\"mass_median_um\": 900, \"gsd\": 0.2, \"half_life_min\": -3}",
                            false, &faults),
                 VS_ERR_INPUT);
    CHECK_TRUE(faults.count == 6);
}

/* Our own data files: each figure with its source, droplet sizes marked as assumptions. */
static void data_fluids_have_their_sources(void **state) {
    (void)state;
    size_t fluids = 0;
    for (size_t i = 0; i < vs_data_file_count; i++) {
        if (strncmp(vs_data_files[i].name, "fluids/", 7) != 0) {
            continue;
        }
        fluids++;
        vs_fluid_sheet sheet;
        vs_faults faults = {0};
        vs_status status = vs_fluid_sheet_init(&sheet, "x", vs_data_files[i].bytes,
                                               vs_data_files[i].length, true, &faults);
        if (status != VS_OK) {
            fail_msg("%s:%s: %s", vs_data_files[i].name, faults.item[0].where, faults.item[0].text);
        }
        CHECK_TRUE(sheet.title != NULL && sheet.source_count == 6);
        for (size_t j = 0; j < sheet.source_count; j++) {
            if (strstr(sheet.source[j].figure, "median_um")) {
                CHECK_TRUE(sheet.source[j].status == VS_SOURCE_ASSUMED);
            }
        }
        vs_fluid_sheet_free(&sheet);
    }
    CHECK_TRUE(fluids == 5);
    vs_fluid_sheet sheet;
    vs_faults faults;
    CHECK_STATUS(read_sheet(&sheet,
                            "{" DROPLETS ", \"sources\": {\"gsd\": {\"status\": \"assumed\","
                            "\"source\": \"x\"}, \"median_um\": {\"status\": \"assumed\","
                            "\"source\": \"x\"}}}",
                            true, &faults),
                 VS_ERR_INPUT);
    CHECK_TRUE(faults.count == 1);
    CHECK_TRUE(strcmp(faults.item[0].where, "/sources/refractive_index") == 0);
    CHECK_TRUE(strcmp(faults.item[0].text, "must tell where refractive_index comes from: "
                                           "{\"status\", \"source\"}") == 0);
}

/* A scene's "fluid". */
static vs_status resolve(const char *scene, const char *directory, vs_fluid *fluid,
                         vs_faults *faults) {
    memset(faults, 0, sizeof *faults);
    vs_json_document document;
    CHECK_OK(vs_json_document_init(&document, scene, strlen(scene), faults));
    vs_json_value root = vs_json_root(&document, faults);
    vs_json_value value = vs_json_get(&root, "fluid");
    vs_status status = vs_fluid_resolve(&value, directory, NULL, fluid);
    if (status == VS_OK && fluid->name) {
        fluid->name = NULL; /* lives in the document */
    }
    vs_json_document_free(&document);
    return status;
}

static void a_scene_names_a_fluid_or_gives_one(void **state) {
    (void)state;
    vs_fluid fluid, other;
    vs_faults faults;
    CHECK_OK(resolve("{\"fluid\": \"oil\"}", NULL, &fluid, &faults));
    CHECK_TRUE(fluid.class_ == VS_FLUID_OIL);
    CHECK_OK(resolve("{}", NULL, &fluid, &faults));
    CHECK_OK(resolve("{\"fluid\": \"glycol\"}", NULL, &other, &faults));
    CHECK_TRUE(fluid.class_ == VS_FLUID_GLYCOL && fluid.median_m == other.median_m);
    CHECK_OK(
        resolve("{\"fluid\": {\"extinction_m2_per_g\": 4, \"g\": 0.5}}", NULL, &fluid, &faults));
    CHECK_TRUE(fluid.measured && !fluid.name);
}

static void a_scenes_bad_fluid_is_told_at_its_place(void **state) {
    (void)state;
    CHECK_TRUE(mkdir("mine", 0700) == 0 && mkdir("mine/fluids", 0700) == 0);
    FILE *file = fopen("mine/fluids/odd.json", "w");
    CHECK_TRUE(file && fputs("{\"gsd\": 0.5}", file) >= 0 && fclose(file) == 0);
    static const struct {
        const char *scene, *where, *words;
    } bad[] = {
        {"{\"fluid\": \"glycl\"}", "/fluid",
         "must name a fluid: did you mean \"glycol\"? (got \"glycl\")"},
        {"{\"fluid\": \"xyz\"}", "/fluid",
         "must be a fluid object or one of glycerol, glycol-fine, glycol, oil-coarse, oil (got "
         "\"xyz\")"},
        {"{\"fluid\": \"../secret\"}", "/fluid",
         "must be a fluid object or one of glycerol, glycol-fine, glycol, oil-coarse, oil (got "
         "\"../secret\")"},
        {"{\"fluid\": 3}", "/fluid", "must be a text in double quotes (got 3)"},
        {"{\"fluid\": {\"extinction_m2_per_g\": 4, \"g\": 2}}", "/fluid/g",
         "must be between -1 and 1 (got 2)"},
        {"{\"fluid\": \"odd\"}", "/fluid",
         "names a fluid whose data file is not right: mine/fluids/odd.json:/gsd: must be between "
         "1 and 2.5 (got 0.5)"},
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        vs_fluid fluid;
        vs_faults faults;
        CHECK_STATUS(resolve(bad[i].scene, "mine", &fluid, &faults), VS_ERR_INPUT);
        if (faults.count != 1 || strcmp(faults.item[0].where, bad[i].where) != 0 ||
            strcmp(faults.item[0].text, bad[i].words) != 0) {
            fail_msg("%s\n  got  %s: %s\n  want %s: %s", bad[i].scene, faults.item[0].where,
                     faults.item[0].text, bad[i].where, bad[i].words);
        }
    }
    vs_fluid fluid;
    vs_faults faults;
    CHECK_STATUS(resolve("{\"fluid\": \"oil\"}", "absent", &fluid, &faults), VS_ERR_FILE);
    CHECK_TRUE(strcmp(faults.item[0].text, "names a fluid whose data file cannot be read: absent/ "
                                           "(got: No such file or directory)") == 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(droplets_by_count_median),
        cmocka_unit_test(a_mass_median_is_converted),
        cmocka_unit_test(a_measured_haze),
        cmocka_unit_test(cauchys_formula_is_read),
        cmocka_unit_test(bad_fluids_are_refused_with_the_pointer),
        cmocka_unit_test(every_fault_of_a_fluid_is_told),
        cmocka_unit_test(data_fluids_have_their_sources),
        cmocka_unit_test(a_scene_names_a_fluid_or_gives_one),
        cmocka_unit_test(a_scenes_bad_fluid_is_told_at_its_place),
    };
    return RUN_TESTS(tests);
}
