/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The files a colourist gets, and three curves, as OpenColorIO reads them, independently of this
 * program. It computes in 32-bit floats, for which FLOATS allows. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "frame.h"
#include "ocio.h"
#include "parts.h"
#include "program.h"
#include "veilstop/picture/png.h"
#include "veilstop/report/cdl_file.h"
#include "veilstop/report/clf_file.h"
#include "veilstop/report/file_out.h"

#define COUNT  4096
#define FLOATS 4e-6 /* [signal] a few roundings of 32-bit floats through a log and a power */

static void write_file(const char *path, const vs_text *text) {
    CHECK_TRUE(!text->failed);
    CHECK_OK(vs_file_write_whole(path, text->bytes, text->length));
}

static void read_by_ocio(const char *path, float *rgb, size_t count) {
    char fault[512] = "";
    if (ocio_file(path, rgb, count, fault, sizeof fault) != 0) {
        fail_msg("OpenColorIO does not read %s: %s", path, fault);
    }
}

static double held(double signal) {
    return fmin(1, fmax(0, signal));
}

/* Signals from black to full scale: evenly spaced ones, and those whose result is near black. */
static void fill_signals(const vs_curve *curve, const vs_linear_grade *grade, float *rgb) {
    for (size_t i = 0; i < COUNT; i++) {
        for (size_t c = 0; c < 3; c++) {
            double signal = (double)i / (COUNT / 2 - 1);
            if (i >= COUNT / 2) {
                double dark = i == COUNT / 2 ? 0 : pow(1e-7, (double)(i - COUNT / 2) / (COUNT / 2));
                double x = (dark - grade->offset.v[c]) / grade->slope.v[c];
                signal = held(vs_curve_encode(curve, x));
            }
            rgb[3 * i + c] = (float)signal;
        }
    }
}

static double worst_off(const vs_curve *curve, const vs_linear_grade *grade, const float *in,
                        const float *out) {
    double worst = 0;
    for (size_t i = 0; i < 3 * COUNT; i++) {
        double x =
            vs_curve_decode(curve, (double)in[i]) * grade->slope.v[i % 3] + grade->offset.v[i % 3];
        worst = fmax(worst, fabs(held((double)out[i]) - held(vs_curve_encode(curve, x))));
    }
    return worst;
}

static void clf_in(const vs_curve *curve, const vs_depth *haze, double recover) {
    static float in[3 * COUNT], out[3 * COUNT];
    vs_linear_grade grade;
    CHECK_OK(vs_grade_undo(haze, recover, &grade));
    vs_text text;
    vs_text_init(&text);
    vs_clf_promise promise;
    CHECK_OK(vs_clf_file(&text, curve, &grade, "id", "undoes haze", &promise));
    write_file("x.clf", &text);
    vs_text_free(&text);
    fill_signals(curve, &grade, in);
    memcpy(out, in, sizeof out);
    read_by_ocio("x.clf", out, COUNT);
    double worst = worst_off(curve, &grade, in, out);
    printf("measured: CLF in %s by OpenColorIO: within %.1e of the exact signal, stated %.1e\n",
           vs_curve_name(curve), worst, promise.error);
    CHECK_TRUE(worst <= promise.error + FLOATS);
}

static void clf_keeps_its_promise(void **state) {
    (void)state;
    vs_curve curve[] = {{.kind = VS_CURVE_LINEAR}, {.kind = VS_CURVE_BT709},
                        {.kind = VS_CURVE_SRGB},   {.kind = VS_CURVE_ACESCCT},
                        {.kind = VS_CURVE_HLG},    {.kind = VS_CURVE_PQ},
                        parts_log_curve,           parts_log_curve};
    curve[7].f -= 2e-4; /* a step at the break, as printed constants have */
    const vs_depth thin = {{{0.78, 0.75, 0.7}}, {{0.010, 0.012, 0.015}}};
    const vs_depth thick = {{{0.32, 0.3, 0.27}}, {{0.08, 0.09, 0.1}}};
    for (size_t i = 0; i < sizeof curve / sizeof curve[0]; i++) {
        clf_in(&curve[i], &thin, 1);
        clf_in(&curve[i], &thick, 0.7);
    }
}

/* ASC CDL 1.2 with its clamps, on colours inside and outside its range. */
static void cdl_is_the_same_ten_numbers(void **state) {
    (void)state;
    static float rgb[3 * COUNT];
    static vs_bands in[COUNT];
    random_stream r = {11};
    for (int round = 0; round < 4; round++) {
        vs_cdl cdl;
        for (int b = 0; b < VS_BAND_COUNT; b++) {
            cdl.slope.v[b] = random_uniform(&r, 0.7, 2);
            cdl.offset.v[b] = random_uniform(&r, -0.3, 0.1);
            cdl.power.v[b] = random_uniform(&r, 0.5, 1.5);
        }
        cdl.saturation = random_uniform(&r, 0.6, 1.5);
        for (size_t i = 0; i < COUNT; i++) {
            for (size_t b = 0; b < 3; b++) {
                rgb[3 * i + b] = (float)random_uniform(&r, 0, 1);
                in[i].v[b] = (double)rgb[3 * i + b];
            }
        }
        vs_text text;
        vs_text_init(&text);
        vs_cdl_file(&text, &cdl, "id", "words");
        write_file("x.cc", &text);
        vs_text_free(&text);
        read_by_ocio("x.cc", rgb, COUNT);
        for (size_t i = 0; i < COUNT; i++) {
            vs_bands want = vs_cdl_apply(&cdl, in[i]);
            for (size_t b = 0; b < 3; b++) {
                /* the power is steep at black: floats in, floats out */
                CHECK_NEAR((double)rgb[3 * i + b], want.v[b], 0, want.v[b] < 0.02 ? 2e-4 : FLOATS);
            }
        }
    }
}

/* The file that `grade` writes, and its stated accuracy from its own answer. */
static void the_commands_files_undo_the_haze(void **state) {
    (void)state;
    char scene[TESTS_PATH_SIZE];
    tests_path(scene, "cli/grade/hall.json");
    program_run_result run =
        program_run(".", (const char *const[]){"grade", scene, "--shot", "1 log", "--cdl", "a.cc",
                                               "--clf", "a.clf", "--json", NULL});
    CHECK_TRUE(run.status == 0);
    double slope[3], offset[3];
    program_three_after(run.out, "\"linear\":{\"slope\":[", slope);
    program_three_after(strstr(run.out, "\"linear\":"), "\"offset\":[", offset);
    double error = program_number_after(run.out, "\"clf_error\":");
    double worst_stops = program_number_after(run.out, "\"worst_stops\":");
    double low = program_number_after(run.out, "\"from_linear\":");
    double high = program_number_after(run.out, "\"to_linear\":");
    program_free(&run);
    vs_curve curve = {.kind = VS_CURVE_ACESCCT};
    double floor = 0.18 / 256; /* the scene's camera sees eight stops under grey */
    for (int i = 0; i <= 50; i++) {
        double x = low * pow(high / low, i / 50.0);
        float clf[3], cdl[3];
        for (int c = 0; c < 3; c++) {
            clf[c] = cdl[c] = (float)vs_curve_encode(&curve, (x - offset[c]) / slope[c]);
        }
        read_by_ocio("a.clf", clf, 1);
        read_by_ocio("a.cc", cdl, 1);
        for (int c = 0; c < 3; c++) {
            CHECK_NEAR((double)clf[c], vs_curve_encode(&curve, x), 0, error + FLOATS);
            double got = fmax(0, vs_curve_decode(&curve, (double)cdl[c]));
            CHECK_TRUE(fabs(log2((got + floor) / (x + floor))) <= 1.01 * worst_stops + 1e-3);
        }
    }
}

/* Rms of hazed - clear code values, the hazed frame through a file of `pair` by OpenColorIO. */
static double frames_off(const char *clear, const char *hazed, const char *file) {
    vs_picture picture[2] = {frame_read(clear), frame_read(hazed)};
    size_t pixels = picture[0].width * picture[0].height;
    float *rgb = malloc(3 * pixels * sizeof *rgb);
    double sum = 0;
    for (size_t i = 0; i < 3 * pixels; i++) {
        rgb[i] = (float)picture[1].sample[i] / 65535;
    }
    read_by_ocio(file, rgb, pixels);
    for (size_t i = 0; i < 3 * pixels; i++) {
        sum += pow(held((double)rgb[i]) - picture[0].sample[i] / 65535.0, 2);
    }
    free(rgb);
    vs_picture_free(&picture[0]);
    vs_picture_free(&picture[1]);
    return sqrt(sum / (3.0 * (double)pixels));
}

static void what_pair_writes_does_what_it_says(void **state) {
    (void)state;
    frame_write("clear.png", FRAME_WIDTH, 1, 0);
    frame_write("hazed.png", FRAME_WIDTH, 0.6, 0.05);
    program_run_result run =
        program_run(".", (const char *const[]){"pair", "clear.png", "hazed.png", "--curve", "bt709",
                                               "--cdl", "p.cc", "--clf", "p.clf", "--json", NULL});
    CHECK_TRUE(run.status == 0);
    CHECK_NEAR(frames_off("clear.png", "hazed.png", "p.cc"),
               program_number_after(run.out, "\"error_after\":"), 1e-3, 1e-6);
    CHECK_NEAR(frames_off("clear.png", "hazed.png", "p.clf"),
               program_number_after(run.out, "\"error_matrix\":"), 1e-3, 1e-6);
    program_free(&run);
}

/* Greys from signal to light by OpenColorIO's own curves. */
static void curves_are_the_standards(void **state) {
    (void)state;
    static float cct[3 * COUNT], pq[3 * COUNT], srgb[3 * COUNT];
    for (size_t i = 0; i < 3 * COUNT; i++) {
        cct[i] = pq[i] = srgb[i] = (float)(i / 3) / (COUNT - 1);
    }
    char fault[512];
    CHECK_TRUE(!ocio_built_in("CURVE - ACEScct-LOG_to_LINEAR", cct, COUNT, fault, sizeof fault));
    CHECK_TRUE(!ocio_built_in("CURVE - ST-2084_to_LINEAR", pq, COUNT, fault, sizeof fault));
    CHECK_TRUE(!ocio_moncurve(2.4, 0.055, srgb, COUNT, fault, sizeof fault));
    CHECK_TRUE(ocio_built_in("CURVE - NONE", pq, COUNT, fault, sizeof fault) && fault[0]);
    const vs_curve of_cct = {.kind = VS_CURVE_ACESCCT}, of_pq = {.kind = VS_CURVE_PQ},
                   of_srgb = {.kind = VS_CURVE_SRGB};
    for (size_t i = 0; i < COUNT; i++) {
        double signal = (double)((float)i / (COUNT - 1));
        CHECK_NEAR((double)cct[3 * i], vs_curve_decode(&of_cct, signal), 1e-4, 1e-6);
        CHECK_NEAR((double)srgb[3 * i], vs_curve_decode(&of_srgb, signal), 1e-4, 1e-6);
        /* 1.0 is 100 cd/m2 there, 203 cd/m2 here (BT.2408); its curve is a table in half floats */
        CHECK_NEAR(100 * (double)pq[3 * i], 203 * vs_curve_decode(&of_pq, signal), 1e-3, 1e-3);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(clf_keeps_its_promise),
        cmocka_unit_test(cdl_is_the_same_ten_numbers),
        cmocka_unit_test(the_commands_files_undo_the_haze),
        cmocka_unit_test(what_pair_writes_does_what_it_says),
        cmocka_unit_test(curves_are_the_standards),
    };
    return RUN_TESTS(tests);
}
