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
#include "veilstop/report/text.h"

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
    CHECK_TRUE(strstr(got.out, "stops of contrast lost") != NULL);
    CHECK_TRUE(strstr(got.out, "Defer to local code") != NULL);
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
        cmocka_unit_test(bad_input_gets_one_line),
        cmocka_unit_test(usage_is_told),
    };
    return RUN_TESTS(tests);
}
