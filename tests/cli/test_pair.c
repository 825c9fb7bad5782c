/* SPDX-License-Identifier: GPL-3.0-or-later */
/* veilstop pair as a user runs it: the answer's form, the files it writes, one line for each kind
 * of bad input. Frames are made by the test; figures of the estimate itself are in
 * unit/test_pair.c. */
#include "check.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "frame.h"
#include "program.h"
#include "veilstop/picture/png.h"
#include "veilstop/report/file_out.h"

static void write_bytes(const char *path, const char *bytes, size_t length) {
    CHECK_OK(vs_file_write_whole(path, bytes, length));
}

static void the_answer_and_its_files(void **state) {
    (void)state;
    frame_write("clear.png", FRAME_WIDTH, 1, 0);
    frame_write("hazed.png", FRAME_WIDTH, 0.7, 0.03);
    program_run_result got = program_run(
        ".", (const char *[]){"pair", "clear.png", "hazed.png", "--curve", "bt709", "--cdl",
                              "back.cdl", "--clf", "back.clf", "--map", "map.png", "--json", NULL});
    CHECK_TRUE(got.status == 0 && got.err[0] == '\0');
    CHECK_NEAR(program_number_after(got.out, "\"transmission\":["), 0.7, 0, 0.02);
    CHECK_NEAR(program_number_after(got.out, "\"veil\":["), 0.03, 0, 0.01);
    CHECK_NEAR(program_number_after(got.out, "\"explained\":"), 1, 0, 0.02);
    CHECK_TRUE(program_number_after(got.out, "\"error_after\":") <
               0.2 * program_number_after(got.out, "\"error_before\":"));
    program_free(&got);
    char *cdl = file_read("back.cdl", NULL), *clf = file_read("back.clf", NULL);
    CHECK_TRUE(cdl && strstr(cdl, "<ColorCorrection xmlns=\"urn:ASC:CDL:v1.2\""));
    CHECK_TRUE(clf && strstr(clf, "<ProcessList xmlns=\"urn:AMPAS:CLF:v3.0\""));
    CHECK_TRUE(strstr(clf, "<Matrix") && !strstr(clf, "<LUT1D"));
    size_t length;
    char *map = file_read("map.png", &length);
    vs_picture picture;
    vs_faults faults = {0};
    CHECK_OK(vs_png_read(map, length, &picture, &faults));
    CHECK_TRUE(picture.width == FRAME_WIDTH && picture.height == FRAME_HEIGHT);
    vs_picture_free(&picture);
    free(cdl);
    free(clf);
    free(map);
}

static void people_get_a_table_and_cautions(void **state) {
    (void)state;
    program_run_result got = program_run(
        ".", (const char *[]){"pair", "clear.png", "hazed.png", "--curve", "bt709", NULL});
    CHECK_TRUE(got.status == 0);
    CHECK_TRUE(strstr(got.out, "96 x 64 pixels, read as bt709") != NULL);
    CHECK_TRUE(strstr(got.out, "stops of light") != NULL);
    CHECK_TRUE(strstr(got.out, "Defer to local code") != NULL);
    program_free(&got);
}

/* Frames that do not match: one line, exit status 1, no file. */
static void not_a_pair(const char *hazed, const char *says, const char *match) {
    program_run_result got =
        program_run(".", (const char *[]){"pair", "clear.png", hazed, "--curve", "bt709", "--cdl",
                                          "never.cdl", "--clf", "never.clf", "--matte", "never.png",
                                          "--map", "never2.png", NULL});
    CHECK_TRUE(got.status == 1 && got.err[0] == '\0');
    CHECK_TRUE(strstr(got.out, says) != NULL && strstr(got.out, "CDL") == NULL);
    program_free(&got);
    static const char *const file[] = {"never.cdl", "never.clf", "never.png", "never2.png"};
    for (size_t i = 0; i < sizeof file / sizeof file[0]; i++) {
        CHECK_TRUE(file_read(file[i], NULL) == NULL);
    }
    got = program_run(".", (const char *[]){"pair", "clear.png", hazed, "--json", NULL});
    CHECK_TRUE(got.status == 1 && strstr(got.out, match) != NULL);
    program_free(&got);
}

static void frames_that_do_not_match_get_no_grade(void **state) {
    (void)state;
    not_a_pair("clear.png", "clear.png and clear.png are identical", "\"match\":\"identical\"");
    vs_picture other;
    unsigned char *bytes;
    size_t length;
    random_stream r = {8};
    CHECK_OK(vs_picture_init(&other, FRAME_WIDTH, FRAME_HEIGHT, 8));
    for (size_t i = 0; i < 3 * FRAME_WIDTH * FRAME_HEIGHT; i++) {
        other.sample[i] = (uint16_t)(257 * random_index(&r, 250));
    }
    CHECK_OK(vs_png_write(&other, &bytes, &length));
    write_bytes("other.png", (const char *)bytes, length);
    free(bytes);
    vs_picture_free(&other);
    not_a_pair("other.png", "do not match: another set", "\"match\":\"other set\"");
}

/* Transmission 0.7 and source 0.1 all over: 0.7 x 65535 in every pixel of a 16-bit file. */
static void the_matte_and_the_physical_grade(void **state) {
    (void)state;
    program_run_result got = program_run(
        ".", (const char *[]){"pair", "clear.png", "hazed.png", "--curve", "bt709", "--matte",
                              "matte.png", "--clf", "exact.clf", "--physical", "--json", NULL});
    CHECK_TRUE(got.status == 0);
    CHECK_NEAR(program_number_after(got.out, "\"matte_source\":["), 0.1, 0.05, 0);
    CHECK_TRUE(program_number_after(got.out, "\"error_matte\":") <
               0.2 * program_number_after(got.out, "\"error_before\":"));
    program_free(&got);
    char *clf = file_read("exact.clf", NULL);
    CHECK_TRUE(clf && strstr(clf, "<LUT1D") != NULL);
    free(clf);
    vs_picture matte = frame_read("matte.png");
    CHECK_TRUE(matte.bits == 16 && matte.width == FRAME_WIDTH && matte.height == FRAME_HEIGHT);
    for (size_t i = 0; i < 3 * FRAME_WIDTH * FRAME_HEIGHT; i++) {
        CHECK_NEAR(matte.sample[i] / 65535.0, 0.7, 0, 0.02);
    }
    vs_picture_free(&matte);
    got = program_run(".", (const char *[]){"pair", "clear.png", "hazed.png", "--physical", NULL});
    CHECK_TRUE(got.status == 2 && strstr(got.err, "--physical: must stand beside --clf") != NULL);
    program_free(&got);
}

/* A tripod that was bumped: the second frame lies three pixels right of the first. */
static void a_moved_camera_and_the_map_are_told(void **state) {
    (void)state;
    enum { MOVED = 3 };
    unsigned char *bytes;
    size_t length;
    vs_picture hazed = frame_read("hazed.png"), moved;
    CHECK_OK(vs_picture_init(&moved, hazed.width, hazed.height, hazed.bits));
    for (size_t y = 0; y < hazed.height; y++) {
        for (size_t x = 0; x < hazed.width; x++) {
            memcpy(vs_picture_at(&moved, x, y), vs_picture_at(&hazed, x < MOVED ? 0 : x - MOVED, y),
                   3 * sizeof *moved.sample);
        }
    }
    CHECK_OK(vs_png_write(&moved, &bytes, &length));
    write_bytes("moved.png", (const char *)bytes, length);
    free(bytes);
    vs_picture_free(&hazed);
    vs_picture_free(&moved);
    program_run_result got =
        program_run(".", (const char *[]){"pair", "clear.png", "moved.png", "--curve", "bt709",
                                          "--matte", "matte.png", NULL});
    CHECK_TRUE(got.status == 0);
    CHECK_TRUE(strstr(got.out, "the camera moved: the hazed frame lies +3 right, +0 down") != NULL);
    double as_shot = program_number_after(got.out, "as shot"),
           by_map = program_number_after(got.out, "by the map");
    CHECK_TRUE(by_map < 0.3 * as_shot);
    CHECK_TRUE(strstr(got.out, "dB nearer\n") && strstr(got.out, "haze itself"));
    program_free(&got);
}

/* The largest picture allowed, one tone over most of it: time and memory are bounded, whatever the
 * few kilobytes of the file expand to. */
static void the_largest_frames_stay_within_bounds(void **state) {
    (void)state;
    vs_picture picture;
    const char *const name[] = {"large-clear.png", "large-hazed.png"};
    const uint16_t tone[] = {40000, 30000};
    for (int f = 0; f < 2; f++) {
        unsigned char *bytes;
        size_t length;
        CHECK_OK(vs_picture_init(&picture, 8192, 8192, 8));
        for (size_t i = 0; i < 3u * 8192 * 8192; i++) {
            picture.sample[i] = i / 3 % 8192 < 900 ? 20000 : tone[f];
        }
        CHECK_OK(vs_png_write(&picture, &bytes, &length));
        vs_picture_free(&picture);
        write_bytes(name[f], (const char *)bytes, length);
        free(bytes);
    }
    double start = clock_now_s();
    program_run_result got = program_run_shell(
        ".", "ulimit -v 600000; \"$VS_PROGRAM\" pair large-clear.png large-hazed.png");
    if (!strstr(getenv("VS_PROGRAM"), "sanitized")) { /* whose own memory is larger than that */
        if (got.status != 0) {
            fail_msg("exit status %d, said: %s", got.status, got.err);
        }
        CHECK_TRUE(strstr(got.out, "means of 2 x 2 pixels") != NULL);
        CHECK_TRUE(clock_now_s() - start < 60);
    }
    program_free(&got);
}

static void refused(const char *clear, const char *hazed, int status, const char *says) {
    program_run_result got =
        program_run(".", (const char *[]){"pair", clear, hazed, "--cdl", "never.cdl", NULL});
    const char *end = strchr(got.err, '\n');
    bool one_line = end && end[1] == '\0';
    if (got.status != status || got.out[0] || !one_line || !strstr(got.err, says)) {
        fail_msg("exit status %d, said '%s', want %d and '%s'", got.status, got.err, status, says);
    }
    program_free(&got);
    CHECK_TRUE(file_read("never.cdl", NULL) == NULL);
}

static void bad_input_gets_one_line(void **state) {
    (void)state;
    frame_write("narrow.png", FRAME_WIDTH / 2, 0.7, 0.03);
    frame_write("black.png", FRAME_WIDTH, 0, 0);
    write_bytes("text.png", "not a picture", 13);
    size_t length;
    char *whole = file_read("hazed.png", &length);
    write_bytes("cut.png", whole, length / 2);
    whole[18] = 0x30; /* a width of 12288 + 96: the checksum of the header no longer holds */
    write_bytes("damaged.png", whole, length);
    free(whole);
    refused("clear.png", "narrow.png", 3, "narrow.png: must be as large as the clear frame");
    refused("clear.png", "text.png", 3, "text.png: must be a PNG");
    refused("cut.png", "hazed.png", 3, "cut.png: must be a whole and sound PNG");
    refused("clear.png", "damaged.png", 3, "damaged.png: must be a whole and sound PNG");
    refused("black.png", "hazed.png", 3, "black.png: must show light and dark things");
    refused("hazed.png", "clear.png", 3, "frames swapped");
    refused("clear.png", "missing.png", 4,
            "missing.png: must be a file that can be read (got: No such file");
}

static void usage_is_told(void **state) {
    (void)state;
    program_run_result got = program_run(
        ".", (const char *[]){"pair", "clear.png", "hazed.png", "--curve", "log", NULL});
    CHECK_TRUE(got.status == 2 && strstr(got.err, "--curve: must be linear") != NULL);
    program_free(&got);
    got = program_run(".", (const char *[]){"pair", "clear.png", "hazed.png", "--curve", "bt709",
                                            "--clf", "no/such/folder/x.clf", NULL});
    CHECK_TRUE(got.status == 4 && got.out[0] == '\0');
    program_free(&got);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_answer_and_its_files),
        cmocka_unit_test(people_get_a_table_and_cautions),
        cmocka_unit_test(frames_that_do_not_match_get_no_grade),
        cmocka_unit_test(the_matte_and_the_physical_grade),
        cmocka_unit_test(a_moved_camera_and_the_map_are_told),
        cmocka_unit_test(the_largest_frames_stay_within_bounds),
        cmocka_unit_test(bad_input_gets_one_line),
        cmocka_unit_test(usage_is_told),
    };
    return RUN_TESTS(tests);
}
