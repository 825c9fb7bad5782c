/* SPDX-License-Identifier: GPL-3.0-or-later */
/* veilstop still as a user runs it: photos of our own making (veilstop picture, 8 bits), sheets,
 * files of layers, a scene with the photo's camera, one line for each kind of bad input, nothing
 * half written. How exact the haze is: unit/test_still.c; the camera: unit/test_match.c. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "frame.h"
#include "program.h"
#include "veilstop/picture/png.h"
#include "veilstop/report/file_out.h"

#define CELLAR  "\"$VS_TESTS\"/../data/demo/cellar.json "
#define PICTURE "\"$VS_PROGRAM\" picture " CELLAR "--shot \"1 wide\" --size 160x90 "
#define STILL   "\"$VS_PROGRAM\" still clear.png " CELLAR "--shot \"1 wide\" "
/* Camera A's pixels of 160 x 90, by the pinhole's definition, to a hundredth. */
#define PAIRS                                                                                      \
    "--match \"138.54,76.70=corner:floor-south-east; 67.73,25.37=opening:cellar "                  \
    "door:top-north; 101.67,78.05=6,1.8288,0.5; 24.08,71.18=7.2,4.2,0.5; "                         \
    "91.44,34.38=4.2,2.2,1.6; 111.85,40.10=9,1.1,1.5\" "

/* Root mean square of the difference of two pictures [codes of 255]. */
static double off_by(const char *a, const char *b) {
    vs_picture p = frame_read(a), q = frame_read(b);
    double sum = 0;
    CHECK_TRUE(p.width == q.width && p.height == q.height);
    for (size_t i = 0; i < 3 * p.width * p.height; i++) {
        double d = ((double)p.sample[i] - (double)q.sample[i]) / 257;
        sum += d * d;
    }
    double mean = sum / (3.0 * (double)(p.width * p.height));
    vs_picture_free(&p);
    vs_picture_free(&q);
    return sqrt(mean);
}

/* The photo in haze is nearly the picture in haze; what is left is light that haze takes on its way
 * to what it lights, which a photo does not tell. */
static void one_photo(void **state) {
    (void)state;
    program_expect_here(PICTURE "--extinction 0 --out clear.png", 0, "wrote", NULL);
    program_expect_here(PICTURE "--extinction 0.05 --out hazed.png", 0, "wrote", NULL);
    program_expect_here(PICTURE "--extinction 0 --as log --out clear16.png", 0, "wrote", NULL);
    program_expect_here(STILL "--extinction 0.05 --out out.png", 0,
                        "read as display (the file says so)", NULL);
    frame_check_size("out.png", 160, 90, 8);
    CHECK_TRUE(off_by("clear.png", "hazed.png") > 15);
    CHECK_TRUE(off_by("out.png", "hazed.png") < 5);
    program_expect_here(STILL "--extinction 0 --out same.png", 0, "Defer to local code", NULL);
    CHECK_NEAR(off_by("same.png", "clear.png"), 0, 0, 0);
    program_expect_here("\"$VS_PROGRAM\" still clear16.png " CELLAR
                        "--shot \"1 wide\" --haze heavy --out log.png",
                        0, "read as acescct", NULL);
    frame_check_size("log.png", 160, 90, 16);
    /* darker by the grey card: the same photo of a brighter room has less veil in it */
    program_expect_here(STILL "--extinction 0.05 --grey 20,20=400 --out bright.png", 0,
                        "the patch told", NULL);
    CHECK_TRUE(off_by("bright.png", "clear.png") < off_by("out.png", "clear.png"));
}

static void a_sheet_and_layers(void **state) {
    (void)state;
    program_expect_here(STILL "--haze thin,medium,heavy --out sheet.png", 0, "0.0800 /m", NULL);
    vs_picture sheet = frame_read("sheet.png");
    CHECK_TRUE(sheet.width >= 480 && sheet.height > 90);
    vs_picture_free(&sheet);
    program_expect_here(STILL "--haze medium --exr layers.exr --json", 0,
                        "\"extinction_per_m\":0.03", NULL);
    char *exr = file_read("layers.exr", NULL);
    CHECK_TRUE(exr && memcmp(exr, "\x76\x2f\x31\x01", 4) == 0); /* OpenEXR's magic number */
    free(exr);
    program_expect_here(STILL "--haze thin,medium --exr no-still.exr", 2, NULL,
                        "--exr: needs one density (got 2)");
    CHECK_TRUE(file_read("no-still.exr", NULL) == NULL);
}

static void the_camera_of_a_photo(void **state) {
    (void)state;
    program_run_result got =
        program_run_shell(".", STILL PAIRS "--overlay over.png --write matched.json --json");
    if (got.status != 0) {
        fail_msg("%s", got.err);
    }
    CHECK_NEAR(program_number_after(got.out, "\"at\":["), 0.6, 0, 0.02);
    CHECK_NEAR(program_number_after(got.out, "\"focal_mm\":"), 32, 0, 0.1);
    program_free(&got);
    frame_check_size("over.png", 160, 90, 8);
    CHECK_TRUE(off_by("over.png", "clear.png") > 5);
    /* the scene with it is a scene, and its camera sees what the photo's did */
    program_expect_here("cp \"$VS_TESTS\"/../data/demo/bulkhead.ies .", 0, NULL,
                        NULL); /* the scene's lamp */
    program_expect_here("\"$VS_PROGRAM\" predict matched.json --shot \"1 wide\"", 0, "far wall",
                        NULL);
    program_expect_here(
        "\"$VS_PROGRAM\" picture matched.json --shot \"1 wide\" --size 160x90 --extinction 0 --out "
        "again.png",
        0, NULL, NULL);
    CHECK_TRUE(off_by("again.png", "clear.png") < 6);
    program_expect_here(STILL PAIRS "--extinction 0.05 --out matched.png", 0,
                        "camera of the photo, by 6 pairs", NULL);
    CHECK_TRUE(off_by("matched.png", "hazed.png") < 6);
    program_expect_here(STILL "--match \"1,1=0,0,0\" --out no-still.png", 3, NULL,
                        "four pairs or more");
    CHECK_TRUE(file_read("no-still.png", NULL) == NULL);
}

/* A PNG of one tone. */
static void write_tone(const char *path, size_t width, size_t height, int bits, uint16_t tone) {
    vs_picture picture;
    unsigned char *bytes;
    size_t length;
    CHECK_OK(vs_picture_init(&picture, width, height, bits));
    for (size_t i = 0; i < 3 * width * height; i++) {
        picture.sample[i] = tone;
    }
    CHECK_OK(vs_png_write(&picture, &bytes, &length));
    CHECK_OK(vs_file_write_whole(path, bytes, length));
    free(bytes);
    vs_picture_free(&picture);
}

/* A map of depth, all at 2 m: haze over 2 m, less than over the room. */
static void a_map_of_depth(void **state) {
    (void)state;
    write_tone("depth.png", 80, 45, 16, 2000);
    program_expect_here(STILL
                        "--extinction 0.05 --depth depth.png --depth-scale 0.001 --out near.png",
                        0, NULL, NULL);
    CHECK_TRUE(off_by("near.png", "clear.png") < 0.6 * off_by("out.png", "clear.png"));
    program_expect_here(STILL "--extinction 0.05 --depth depth.png --out no-still.png", 2, NULL,
                        "--depth: needs --depth-scale M");
    program_expect_here(PICTURE "--size 96x96 --extinction 0 --out square.png", 2, NULL,
                        "must be given once");
    program_expect_here("\"$VS_PROGRAM\" picture " CELLAR
                        "--shot \"1 wide\" --size 96x96 --extinction 0 --out "
                        "square.png",
                        0, NULL, NULL);
    program_expect_here(STILL "--depth square.png --depth-scale 0.001 --out no-still.png", 3, NULL,
                        "square.png: must have the photo's shape");
    CHECK_TRUE(file_read("no-still.png", NULL) == NULL);
}

/* The light of the demo's points: 9 nits by its file, 3.60 of the wall by predict. */
static void light_off_a_photo(void **state) {
    (void)state;
#define LARGE "\"$VS_PROGRAM\" still large-clear.png " CELLAR "--shot \"1 wide\" "
    program_expect_here("\"$VS_PROGRAM\" picture " CELLAR
                        "--shot \"1 wide\" --size 640x360 --extinction 0 --out "
                        "large-clear.png",
                        0, NULL, NULL);
    program_run_result got = program_run_shell(".", LARGE "--read-points --json");
    CHECK_TRUE(got.status == 0);
    CHECK_NEAR(program_number_after(got.out, "\"name\":\"face\",\"nits\":"), 9, 0.03, 0);
    CHECK_NEAR(program_number_after(got.out, "\"name\":\"far wall\",\"nits\":"), 3.6, 0.03, 0);
    program_free(&got);
    /* one patch metered at twice that: all are twice that, and the file's point gets it */
    program_expect_here("cp \"$VS_TESTS\"/../data/demo/bulkhead.ies .", 0, NULL, NULL);
    got =
        program_run_shell(".", LARGE "--read-points --grey 366,138=18 --write metered.json --json");
    CHECK_TRUE(got.status == 0);
    CHECK_NEAR(program_number_after(got.out, "\"name\":\"face\",\"nits\":"), 18, 0.01, 0);
    CHECK_NEAR(program_number_after(got.out, "\"name\":\"far wall\",\"nits\":"), 7.2, 0.04, 0);
    program_free(&got);
    char *scene = file_read("metered.json", NULL);
    CHECK_TRUE(scene != NULL);
    CHECK_NEAR(program_number_after(scene, "\"at\": [4.2, 2.2, 1.6], \"nits\":"), 18, 0.01, 0);
    free(scene);
    program_expect_here("\"$VS_PROGRAM\" still white.png " CELLAR "--shot \"1 wide\" --read-points",
                        0, "not read: clipped", NULL);
    program_expect_here("\"$VS_PROGRAM\" still black.png " CELLAR "--shot \"1 wide\" --read-points",
                        0, "not read: too dark", NULL);
}

static void haze_off_two_photos(void **state) {
    (void)state;
    program_expect_here("\"$VS_PROGRAM\" picture " CELLAR
                        "--shot \"1 wide\" --size 640x360 --extinction 0.045 "
                        "--out large-hazed.png",
                        0, NULL, NULL);
    program_run_result got = program_run_shell(".", LARGE "--hazed large-hazed.png --json");
    CHECK_TRUE(got.status == 0);
    CHECK_NEAR(program_number_after(got.out, "],\"extinction_per_m\":"), 0.045, 0.05, 0);
    CHECK_TRUE(program_number_after(got.out, "\"extinction_90\":[") < 0.045);
    CHECK_NEAR(program_number_after(got.out, "\"planned_per_m\":"), 0.03, 1e-6, 0);
    CHECK_NEAR(program_number_after(got.out, "\"veil_ratio\":"), 1, 0.1, 0);
    program_free(&got);
    program_expect_here(LARGE "--hazed large-hazed.png", 0, "haze by 3 points", NULL);
    program_expect_here(LARGE "--hazed clear.png", 3, NULL,
                        "clear.png: must be as large as the photo");
    program_expect_here("\"$VS_PROGRAM\" still white.png " CELLAR
                        "--shot \"1 wide\" --hazed clear.png",
                        3, NULL, "two points of shot 1 wide or more");
    program_expect_here("\"$VS_PROGRAM\" still large-hazed.png " CELLAR
                        "--shot \"1 wide\" --hazed large-clear.png",
                        3, NULL, "must be the same framing and exposure in haze");
}

static void refused(const char *words, int status, const char *says) {
    char command[2048];
    snprintf(command, sizeof command, "\"$VS_PROGRAM\" still %s", words);
    program_expect_here(command, status, NULL, says);
    CHECK_TRUE(file_read("no-still.png", NULL) == NULL);
}

static void bad_input_gets_one_line(void **state) {
    (void)state;
    size_t length;
    char *whole = file_read("clear.png", &length);
    CHECK_OK(vs_file_write_whole("cut.png", whole, length / 2));
    CHECK_OK(vs_file_write_whole("text.png", "not a picture", 13));
    whole[18] = 0x30; /* a width of 12288 + 160: the header's check sum no longer holds */
    CHECK_OK(vs_file_write_whole("damaged.png", whole, length));
    free(whole);
    vs_picture flat;
    unsigned char *bytes;
    CHECK_OK(vs_picture_init(&flat, 160, 90, 8));
    memset(flat.sample, 0xff, 3u * 160 * 90 * sizeof *flat.sample);
    CHECK_OK(vs_png_write(&flat, &bytes, &length));
    CHECK_OK(vs_file_write_whole("white.png", bytes, length));
    free(bytes);
    memset(flat.sample, 0, 3u * 160 * 90 * sizeof *flat.sample);
    CHECK_OK(vs_png_write(&flat, &bytes, &length));
    CHECK_OK(vs_file_write_whole("black.png", bytes, length));
    free(bytes);
    vs_picture_free(&flat);
#define ON CELLAR "--shot \"1 wide\" --out no-still.png "
    refused("cut.png " ON, 3, "cut.png: must be a whole and sound PNG");
    refused("text.png " ON, 3, "text.png: must be a PNG");
    refused("damaged.png " ON, 3, "damaged.png: must be a whole and sound PNG");
    refused("missing.png " ON, 4, "missing.png: must be a file that can be read");
    refused("clear.png " ON "--depth cut.png --depth-scale 1", 3, "cut.png: must be a whole");
    refused("clear.png " ON "--curve log", 2, "--curve: must be linear");
    refused("clear.png " ON "--grey 5", 2, "--grey: must be the pixel of a grey card");
    refused("clear.png " ON "--grey 500,5", 2, "--grey: must be the pixel of a grey card");
    refused("clear.png " ON "--grey 5,5=0", 2, "--grey: must be the pixel of a grey card");
    refused("clear.png " ON "--grey 0,0", 3, "--grey: must have a patch about it");
    refused("white.png " ON "--grey 134,20", 3, "a clipped one");
    refused("black.png " ON "--grey 17,45", 3, "a black one");
    refused("clear.png " ON "--shot \"3 reverse\"", 2, "--shot: must be given once");
    refused("clear.png " CELLAR "--out no-still.png", 2, "needs --shot NAME");
    refused("clear.png " CELLAR "--shot \"1 wide\"", 2, "needs --out FILE.png");
    refused("clear.png " CELLAR "--shot \"1 wide\" --overlay no-still.png --extinction 0.1", 2,
            "--extinction: needs --out");
    refused("clear.png " ON "--write no-still.json", 2, "--write: needs --match");
    refused("clear.png " CELLAR "--shot \"1 wide\" --out clear.png", 2,
            "--out: must be another file than clear.png, which is read");
    refused("clear.png " ON "--depth depth.png --depth-scale 0.001 --overlay depth.png", 2,
            "--overlay: must be another file than");
    refused("clear.png " ON "--extinction 0.01,0.02,x", 2, "--extinction");
}

/* Fully 8K twice over of one tone in some kilobytes: memory and time are bounded. */
static void the_largest_photo_stays_within_bounds(void **state) {
    (void)state;
    write_tone("large.png", 8192, 8192, 8, 20000);
    double start = clock_now_s();
    program_run_result got =
        program_run_shell(".", "ulimit -v 900000; \"$VS_PROGRAM\" still large.png " CELLAR
                               "--shot \"2 hand lamp\" --out large-out.png");
    if (!strstr(getenv("VS_PROGRAM"), "sanitized")) {
        if (got.status != 0) {
            fail_msg("exit status %d, said: %s", got.status, got.err);
        }
        CHECK_TRUE(strstr(got.out, "worked on as 4096 x 4096") != NULL);
        CHECK_TRUE(clock_now_s() - start < 60);
    }
    program_free(&got);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_photo),
        cmocka_unit_test(a_sheet_and_layers),
        cmocka_unit_test(the_camera_of_a_photo),
        cmocka_unit_test(a_map_of_depth),
        cmocka_unit_test(bad_input_gets_one_line),
        cmocka_unit_test(light_off_a_photo),
        cmocka_unit_test(haze_off_two_photos),
        cmocka_unit_test(the_largest_photo_stays_within_bounds),
    };
    return RUN_TESTS(tests);
}
