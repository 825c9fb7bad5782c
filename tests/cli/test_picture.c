/* SPDX-License-Identifier: GPL-3.0-or-later */
/* veilstop picture as a user runs it: sizes, sheets, numbered frames, the linear form against
 * predict, one line for each kind of bad input, nothing half written. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "frame.h"
#include "program.h"
#include "veilstop/base/bands.h"
#include "veilstop/picture/png.h"

#define CELLAR  "\"$VS_PROGRAM\" picture \"$VS_TESTS\"/../data/demo/cellar.json "
#define HAND    CELLAR "--shot \"2 hand lamp\" --size 64x36 "
#define COMMAND 1024

static void one_picture(void **state) {
    (void)state;
    program_expect_here(HAND "--out one.png", 0, "wrote one.png, 64 x 36 pixels", NULL);
    frame_check_size("one.png", 64, 36, 8);
    program_expect_here(HAND "--out log.png --as log", 0, "Defer to local code", NULL);
    frame_check_size("log.png", 64, 36, 16);
    program_expect_here(HAND "--extinction 0 --out none.png --json", 0, "\"visible_range_m\":null",
                        NULL);
    program_expect_here(HAND "--out log8.png --as log --bits 8 --json", 0, "\"bits\":8", NULL);
    frame_check_size("log8.png", 64, 36, 8);
}

static double mean_of(const vs_picture *p) {
    double sum = 0;
    for (size_t i = 0; i < 3 * p->width * p->height; i++) {
        sum += p->sample[i];
    }
    return sum / (3.0 * (double)(p->width * p->height));
}

/* More haze, more veil: in the linear form the picture of a dark place only gets brighter. */
static void several_densities(void **state) {
    (void)state;
    program_expect_here(HAND "--haze thin,medium,heavy --out sheet.png", 0, "0.0800 /m", NULL);
    vs_picture sheet = frame_read("sheet.png"), one, other;
    CHECK_TRUE(sheet.width >= 3 * 64 && sheet.height > 36 && sheet.height < 3 * 36);
    vs_picture_free(&sheet);
    program_expect_here(HAND "--extinction 0.002 --as linear --out thin.png", 0, NULL, NULL);
    program_expect_here(HAND "--extinction 0.08 --as linear --out thick.png", 0, NULL, NULL);
    one = frame_read("thin.png");
    other = frame_read("thick.png");
    double corner_thin = vs_picture_at(&one, 4, 34)[1], corner = vs_picture_at(&other, 4, 34)[1];
    CHECK_TRUE(corner > 1.5 * corner_thin); /* floor, far from the beam */
    CHECK_TRUE(mean_of(&one) > 0);
    vs_picture_free(&one);
    vs_picture_free(&other);
    program_expect_here(CELLAR "--size 48x27 --out all.png", 0, "4 down the passage", NULL);
}

/* docs/picture.md: 16-bit code = 65535 x/8, x = 0.18 L/L_grey. A card of 9 nits in the middle of
 * its own pixels, against what predict says of that point. */
static void linear_is_what_predict_says(void **state) {
    (void)state;
    program_run_result said = program_run_shell(
        ".",
        "\"$VS_PROGRAM\" predict \"$VS_TESTS\"/../data/demo/cellar.json --shot \"1 wide\" --json");
    double grey = program_number_after(said.out, "\"grey_nits\":");
    const char *face = strstr(said.out, "\"name\":\"face\"");
    double hazed = program_number_after(face, "\"hazed_nits\":");
    program_free(&said);
    program_expect_here(CELLAR "--shot \"1 wide\" --size 640x360 --as linear --out linear.png", 0,
                        NULL, NULL);
    vs_picture p = frame_read("linear.png");
    /* the face is at (4.2, 2.2, 1.6), the camera at (0.6, 2.4, 1.5) looking to (9, 2.4, 1.3) with 32
     * mm on 24.9 x 14.0: the picture is the sensor's whole height, 360 x 32/14.0 pixels a unit of
     * tangent */
    double pixels = 360 * 32 / 14.0, axis = hypot(8.4, 0.2);
    double ahead = (3.6 * 8.4 + 0.1 * -0.2) / axis;
    double right = 0.2, up = (0.1 * 8.4 + 3.6 * 0.2) / axis;
    size_t x = (size_t)(320 + pixels * right / ahead), y = (size_t)(180 - pixels * up / ahead);
    uint16_t *code = vs_picture_at(&p, x, y);
    vs_bands light = {{code[0], code[1], code[2]}};
    CHECK_NEAR(vs_bands_luminance(light) / 65535 * 8 / 0.18 * grey, hazed, 0.01, 0);
    vs_picture_free(&p);
}

static bool file_holds(const char *path, const unsigned char *bytes, size_t count) {
    static unsigned char file[1 << 20];
    FILE *in = fopen(path, "rb");
    CHECK_TRUE(in != NULL);
    size_t length = fread(file, 1, sizeof file, in);
    fclose(in);
    for (size_t i = 0; i + count <= length; i++) {
        if (memcmp(file + i, bytes, count) == 0) {
            return true;
        }
    }
    return false;
}

static void a_lamp_on_its_way(void **state) {
    (void)state;
    program_expect_here(HAND "--move \"hand lamp:along 2,0,0\" --frames 3 --out way.png", 0,
                        "3 pictures", NULL);
    vs_picture first = frame_read("way-0001.png"), last = frame_read("way-0003.png");
    size_t bytes = 3 * 64 * 36 * sizeof *first.sample;
    CHECK_TRUE(memcmp(first.sample, last.sample, bytes) != 0);
    CHECK_TRUE(access("way-0002.png", F_OK) == 0 && access("way.png", F_OK) != 0);
    program_expect_here(HAND "--out still.png", 0, NULL, NULL); /* it starts at its own place */
    vs_picture still = frame_read("still.png");
    CHECK_TRUE(memcmp(first.sample, still.sample, bytes) == 0);
    vs_picture_free(&last);
    vs_picture_free(&still);
    /* an animation begins with the first of them, and says how many it has (PNG 11.3.6: acTL) */
    program_expect_here(HAND "--move \"hand lamp:along 2,0,0\" --frames 3 --out way.apng", 0,
                        "way.apng, 3 pictures", NULL);
    vs_picture animated = frame_read("way.apng");
    CHECK_TRUE(memcmp(first.sample, animated.sample, bytes) == 0);
    static const unsigned char says_three[] = {'a', 'c', 'T', 'L', 0, 0, 0, 3, 0, 0, 0, 0};
    CHECK_TRUE(file_holds("way.apng", says_three, sizeof says_three));
    CHECK_TRUE(access("way-0001.apng", F_OK) != 0);
    vs_picture_free(&first);
    vs_picture_free(&animated);
}

static void bad_input_gets_one_line(void **state) {
    (void)state;
    program_expect_here(CELLAR, 2, NULL, "picture: needs --out FILE.png, or --exr FILE.exr");
    static const char *const size[] = {
        "0x0",  "15x400", "9000x100", "8000x8000", "640",
        "640x", "ax9",    "-1x90",    "640x360x2", "99999999999999999999x90"};
    for (size_t i = 0; i < sizeof size / sizeof *size; i++) {
        char command[COMMAND];
        snprintf(command, sizeof command, "%s--out no.png --size=\"%s\"", CELLAR, size[i]);
        program_expect_here(command, 2, NULL, "--size: must be WxH, each from 16 to 8192 pixels");
    }
    program_expect_here(CELLAR "--size 8000x4000 --haze thin,medium,heavy --out no.png", 2, NULL,
                        "--size: must be smaller for 12 pictures");
    program_expect_here(HAND "--as film --out no.png", 2, NULL,
                        "--as: must be display, log or linear (got film)");
    program_expect_here(HAND "--bits 12 --out no.png", 2, NULL, "--bits: must be 8 or 16 (got 12)");
    program_expect_here(HAND "--bits 8 --as linear --out no.png", 2, NULL,
                        "--bits: must be 16 with --as linear");
    program_expect_here(HAND "--haze thin,heavy --exr no.exr", 2, NULL,
                        "--exr: needs one shot at one density");
    program_expect_here(HAND "--frames 3 --out no.png", 2, NULL, "--frames: needs --move");
    program_expect_here(HAND "--move \"hand lamp:along 1,0,0\" --out no.png", 2, NULL,
                        "--move: needs --frames");
    program_expect_here(HAND "--move \"hand lamp:along 1,0\" --frames 3 --out no.png", 2, NULL,
                        "three lengths");
    program_expect_here(HAND "--move \"hand lmp:along 1,0,0\" --frames 3 --out no.png", 2, NULL,
                        "did you mean hand lamp");
    program_expect_here(HAND "--move \"hatch sun:along 1,0,0\" --frames 3 --out no.png", 2, NULL,
                        "a lamp that can be carried");
    program_expect_here(HAND "--move \"hand lamp:along 1,0,0\" --frames 2.5 --out no.png", 2, NULL,
                        "--frames: must be a whole number (got 2.5)");
    program_expect_here(CELLAR "--move \"hand lamp:along 1,0,0\" --frames 2 --out no.png", 2, NULL,
                        "--move: needs one shot at one density: give --shot once (got 4 pictures)");
    program_expect_here(
        "echo '{\"veilstop\":1,\"rooms\":[{\"name\":\"cellar\",\"corner\":[0,0,0],"
        "\"size\":[6,4,3]}]}' >shotless.json; \"$VS_PROGRAM\" picture shotless.json "
        "--out no.png; code=$?; rm shotless.json; exit $code",
        3, NULL, "/shots: must have a shot to be drawn (got none)");
    program_expect_here(HAND "--out nowhere/no.png", 4, NULL,
                        "nowhere/no.png: must be a file that can be written");
    CHECK_TRUE(access("no.png", F_OK) != 0 && access("no.exr", F_OK) != 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_picture),
        cmocka_unit_test(several_densities),
        cmocka_unit_test(linear_is_what_predict_says),
        cmocka_unit_test(a_lamp_on_its_way),
        cmocka_unit_test(bad_input_gets_one_line),
    };
    return RUN_TESTS(tests);
}
