/* SPDX-License-Identifier: GPL-3.0-or-later */
/* veilstop fluid: what a fluid's haze does to light, how it settles and evaporates, and how certain
 * that is. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "ask/args.h"
#include "ask/scene_args.h"
#include "veilstop/base/units.h"
#include "veilstop/optics/index.h"
#include "veilstop/report/cautions.h"
#include "veilstop/report/fluid.h"
#include "veilstop/scene/data.h"
#include "veilstop/scene/file.h"
#include "veilstop/scene/fluid.h"

static vs_exit fail_sheet(vs_status status, const char *file, const vs_faults *faults) {
    return vs_faults_any(faults) ? vs_ask_fail_faults(file, faults)
                                 : vs_ask_fail_status(status, file);
}

static vs_exit fail_name(const char *name) {
    char advice[VS_FAULT_TEXT_SIZE];
    vs_fluid_name_advice(name, advice, sizeof advice);
    return vs_ask_fail(VS_EXIT_USAGE, "fluid: must be FILE.json or a name: %s (got %s)", advice,
                       name);
}

/* A fluid compiled in, or one in --data DIR: each figure needs its source. */
static vs_exit read_named(vs_fluid_sheet *sheet, const char *name, const char *directory) {
    char path[VS_FLUID_PATH_SIZE];
    if (!vs_fluid_path(name, path)) {
        return fail_name(name);
    }
    vs_data data;
    vs_faults faults = {0};
    vs_exit code = VS_EXIT_DONE;
    vs_status status = vs_data_init(&data, directory, path, vs_ask_files());
    if (status == VS_OK) {
        status = vs_fluid_sheet_init(sheet, name, data.bytes, data.length, true, &faults);
        if (status != VS_OK) {
            code = fail_sheet(status, data.path ? data.path : path, &faults);
        }
    } else if (status == VS_ERR_INPUT) {
        code = fail_name(name);
    } else {
        const char *at = data.path ? data.path : path;
        code =
            status == VS_ERR_FILE ? vs_ask_fail_file(at, "read") : vs_ask_fail_status(status, at);
    }
    vs_data_free(&data);
    return code;
}

/* A file of the user's own: sources are optional. */
static vs_exit read_file(vs_fluid_sheet *sheet, const char *path) {
    char *bytes;
    size_t length;
    vs_faults faults = {0};
    vs_status status = vs_ask_file_read(path, VS_DATA_BYTES_MAX, &bytes, &length);
    if (status != VS_OK) {
        return status == VS_ERR_FILE ? vs_ask_fail_file(path, "read")
                                     : vs_ask_fail_status(status, path);
    }
    status = vs_fluid_sheet_init(sheet, path, bytes, length, false, &faults);
    free(bytes);
    return status == VS_OK ? VS_EXIT_DONE : fail_sheet(status, path, &faults);
}

static vs_exit print(const vs_ask_args *args, const vs_style *style, const vs_fluid_sheet *sheet,
                     const vs_fluid_answer *answer) {
    vs_fluid_label label = {sheet->fluid.name, sheet->title, sheet->source, sheet->source_count};
    vs_text out;
    vs_json json;
    vs_text_init(&out);
    vs_json_begin(&json, &out);
    if (vs_ask_flag(args, "json")) {
        vs_report_fluid_json(&json, &label, answer);
        vs_text_addf(&out, "\n");
    } else {
        vs_report_fluid_text(&out, style, &label, answer);
        vs_report_light_caution(&out, NULL, NULL, NULL, NULL);
    }
    vs_exit code = vs_ask_print_answer(&out, &json, VS_EXIT_DONE);
    vs_text_free(&out);
    return code;
}

/* A dispersion formula may leave the valid range at wavelengths for which it was not made. */
static vs_exit fail_answer(vs_status status, const vs_fluid *fluid, double wavelength_m) {
    double n = vs_index_real_at(&fluid->index, wavelength_m);
    if (status == VS_ERR_DOMAIN && !(n > VS_FLUID_INDEX_MIN && n <= VS_FLUID_INDEX_MAX)) {
        return vs_ask_fail(VS_EXIT_INPUT,
                           "%s:/refractive_index: must be over %g and at most %g at %g nm (got "
                           "%.6g)",
                           fluid->name, VS_FLUID_INDEX_MIN, VS_FLUID_INDEX_MAX,
                           wavelength_m / VS_M_PER_NM, n);
    }
    return vs_ask_fail_status(status, fluid->name);
}

static vs_exit answer_sheet(const vs_ask_args *args, const vs_style *style,
                            const vs_fluid_sheet *sheet, double wavelength_m) {
    vs_fluid_answer answer;
    vs_status status = vs_fluid_answer_init(&answer, &sheet->fluid, wavelength_m);
    if (status != VS_OK) {
        return fail_answer(status, &sheet->fluid, wavelength_m);
    }
    vs_exit code = print(args, style, sheet, &answer);
    vs_fluid_answer_free(&answer);
    return code;
}

static vs_exit run(const vs_ask_args *args) {
    double nm = NAN;
    vs_style style = {VS_LENGTH_M, vs_ask_colour()};
    if (!vs_ask_number(args, "nm", VS_WAVELENGTH_MIN_M / VS_M_PER_NM,
                       VS_WAVELENGTH_MAX_M / VS_M_PER_NM, &nm) ||
        !vs_ask_units(args, &style.units)) {
        return VS_EXIT_USAGE;
    }
    const char *what = args->operand[0], *data = vs_ask_value(args, "data");
    bool is_file = strpbrk(what, "./\\") != NULL;
    if (is_file && data) {
        return vs_ask_fail(VS_EXIT_USAGE, "--data: is for the name of a fluid (got the file %s)",
                           what);
    }
    vs_fluid_sheet sheet = {0};
    vs_exit code = is_file ? read_file(&sheet, what) : read_named(&sheet, what, data);
    if (code == VS_EXIT_DONE) {
        code = answer_sheet(args, &style, &sheet, nm * VS_M_PER_NM);
        vs_fluid_sheet_free(&sheet);
    }
    return code;
}

const vs_ask_command vs_ask_command_fluid = {
    .name = "fluid",
    .operands = "NAME|FILE.json",
    .summary =
        "what a fluid's droplets do to light, how they settle and evaporate, how sure that is",
    .operand_min = 1,
    .operand_max = 1,
    .option = {{"nm", "N", "this wavelength in place of the three bands, 200 to 2500 nm"},
               VS_ASK_JSON,
               VS_ASK_UNITS,
               VS_ASK_DATA},
    .example = {"fluid glycol", "fluid oil --json"},
    .run = run,
};
