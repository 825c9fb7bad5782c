/* SPDX-License-Identifier: GPL-3.0-or-later */
/* LM-63 files: published tables with their lumens, every edition, tilt, and what is refused. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/base/units.h"
#include "veilstop/scene/lm63.h"

#define DEG VS_RAD_PER_DEG

static vs_status parse(const char *text, vs_lm63 *file, vs_faults *faults) {
    memset(faults, 0, sizeof *faults);
    return vs_lm63_init(file, text, strlen(text), faults);
}

static void parse_good(const char *text, vs_lm63 *file) {
    vs_faults faults;
    vs_status status = parse(text, file, &faults);
    if (status != VS_OK) {
        fail_msg("%s: %s in:\n%s", faults.item[0].where, faults.item[0].text, text);
    }
    CHECK_OK(vs_photometric_check(&file->table));
}

/* Laboratories' tables of all four symmetries with the lumens stated for them; each file names its
 * source. */
static void published_files_have_their_stated_lumens(void **state) {
    (void)state;
    const struct {
        const char *name;
        size_t vertical, horizontal;
        double lumens, digit;
    } file[] = {{"rotational", 37, 1, 531.98, 0.01},
                {"quadrant", 37, 5, 753.80, 0.01},
                {"bilateral", 73, 9, 5821.76, 0.01},
                {"unsymmetric", 37, 9, 9230.16, 0.01}};
    for (size_t i = 0; i < sizeof file / sizeof file[0]; i++) {
        char name[64];
        snprintf(name, sizeof name, "reference/lm63_%s.ies", file[i].name);
        char *bytes = tests_file(name, NULL);
        vs_lm63 lm63;
        parse_good(bytes, &lm63);
        CHECK_TRUE(lm63.edition == VS_LM63_2002 && lm63.absolute && isnan(lm63.lamp_lumens));
        CHECK_TRUE(lm63.table.vertical_count == file[i].vertical);
        CHECK_TRUE(lm63.table.horizontal_count == file[i].horizontal);
        double lumens = vs_photometric_lumens(&lm63.table);
        CHECK_PRINTED(lumens, file[i].lumens, file[i].digit);
        printf("measured: %s table: %.3f lm (stated %.2f)\n", file[i].name, lumens, file[i].lumens);
        vs_lm63_free(&lm63);
        vs_lm63_free(&lm63);
        free(bytes);
    }
}

/* The figures of a small table: 3 vertical angles, one plane. */
#define SMALL_END "0.5 0.25 0.1\n0.9 0.8 60\n0 45 90\n0\n100 50 0\n"

static void editions_differ_in_the_second_factor(void **state) {
    (void)state;
    const struct {
        const char *begin;
        vs_lm63_edition edition;
        double factor;
    } row[] = {
        /* LM-63 of 1986 and 1991: ballast factor, ballast-lamp photometric factor, watts; from 1995
         * the second has no effect (2019: how the file was made) */
        {"A luminaire of 1986\nwith two lines of text\nTILT=NONE\n", VS_LM63_1986, 2 * 0.9 * 0.8},
        {"TILT=NONE\n", VS_LM63_1986, 2 * 0.9 * 0.8},
        {"IESNA91\n[TEST] none\nTILT=NONE\n", VS_LM63_1991, 2 * 0.9 * 0.8},
        {"IESNA:LM-63-1995\n[TEST] none\nTILT=NONE\n", VS_LM63_1995, 2 * 0.9},
        {"IESNA:LM-63-2002\n[TEST] none\nTILT=NONE\n", VS_LM63_2002, 2 * 0.9},
        {"IES:LM-63-2019\n[TEST] none\nTILT=NONE\n", VS_LM63_2019, 2 * 0.9},
    };
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        char text[512];
        snprintf(text, sizeof text, "%s%s", row[i].begin, "3 1200 2 3 1 1 1 " SMALL_END);
        vs_lm63 file;
        parse_good(text, &file);
        CHECK_TRUE(file.edition == row[i].edition);
        CHECK_NEAR(file.candela_factor, row[i].factor, 1e-15, 0);
        CHECK_NEAR(file.table.candela[0], 100 * row[i].factor, 1e-15, 0);
        CHECK_NEAR(file.table.candela[1], 50 * row[i].factor, 1e-15, 0);
        CHECK_TRUE(!file.absolute && file.lamps == 3 && file.lamp_lumens == 1200);
        CHECK_NEAR(file.width_m, 0.5 * 0.3048, 1e-15, 0);
        CHECK_NEAR(file.length_m, 0.25 * 0.3048, 1e-15, 0);
        CHECK_NEAR(file.height_m, 0.1 * 0.3048, 1e-15, 0);
        CHECK_TRUE(file.input_watts == 60);
        CHECK_TRUE(vs_lm63_tilt_factor(&file, 1) == 1);
        vs_lm63_free(&file);
    }
}

/* The standard's delimiters: a comma, blanks, the end of a line; anywhere among the figures. */
static void figures_may_be_broken_over_lines(void **state) {
    (void)state;
    const char *text[] = {
        "IESNA91\nTILT=NONE\n1\n-1\n1\n3\n2\n1\n2\n0 0 0\n1 1.0 0.0\n0 45\n90\n0 90\n10,20\n30\n40 "
        "50 60",
        "IESNA91\r\nTILT=NONE\r\n1 -1 1 3 2 1 2 0 0 0 1 1 0 0 45 90 0 90 10 20 30 40 50 60\r\n\x1a",
        "\xef\xbb\xbfIESNA91\nTILT=none  "
        "\n\t1,-1,1,3,2,1,2,0,0,0\n1,1,0\n0,45,90\n0,90\n1e1,20.,+30"
        "\n\n40, 50, .6E2\n\n\n"};
    for (size_t i = 0; i < sizeof text / sizeof text[0]; i++) {
        vs_lm63 file;
        parse_good(text[i], &file);
        CHECK_TRUE(file.absolute);
        CHECK_TRUE(file.table.vertical_count == 3 && file.table.horizontal_count == 2);
        for (int k = 0; k < 6; k++) {
            CHECK_TRUE(file.table.candela[k] == 10 * (k + 1));
        }
        CHECK_NEAR(file.table.vertical_rad[1], VS_PI / 4, 1e-15, 0);
        CHECK_NEAR(file.table.horizontal_rad[1], VS_PI / 2, 1e-15, 0);
        vs_lm63_free(&file);
    }
}

static void tilt_tables_are_interpolated(void **state) {
    (void)state;
    vs_lm63 file;
    parse_good("IESNA:LM-63-1995\nTILT=INCLUDE\n2\n4\n0 30 60\n90\n1.0 0.94 0.85 0.7\n"
               "1 4000 1 3 1 1 2 " SMALL_END,
               &file);
    CHECK_TRUE(file.tilt_geometry == 2 && file.tilt_count == 4);
    CHECK_TRUE(vs_lm63_tilt_factor(&file, 0) == 1);
    CHECK_NEAR(vs_lm63_tilt_factor(&file, 30 * DEG), 0.94, 1e-15, 0);
    CHECK_NEAR(vs_lm63_tilt_factor(&file, 45 * DEG), (0.94 + 0.85) / 2, 1e-15, 0);
    CHECK_NEAR(vs_lm63_tilt_factor(&file, 90 * DEG), 0.7, 1e-15, 0);
    CHECK_NAN(vs_lm63_tilt_factor(&file, 91 * DEG));
    CHECK_NAN(vs_lm63_tilt_factor(&file, (double)NAN));
    vs_lm63_free(&file);
}

/* LM-63 of 1995 and later: 90 to 270 is symmetric about the plane from 90 to 270. */
static void a_table_from_90_to_270_is_opened_out(void **state) {
    (void)state;
    vs_lm63 file;
    parse_good("IESNA:LM-63-2002\nTILT=NONE\n1 -1 1 2 5 1 2 0 0 0\n1 1 10\n0 90\n"
               "90 150 180 240 270\n1 10 2 20 3 30 4 40 5 50\n",
               &file);
    const double h[] = {0, 30, 90, 150, 180, 240, 270, 300, 360};
    const double cd[] = {30, 20, 10, 20, 30, 40, 50, 40, 30}; /* at vertical 90 */
    CHECK_TRUE(file.table.horizontal_count == 9);
    for (size_t i = 0; i < 9; i++) {
        CHECK_NEAR(file.table.horizontal_rad[i] / DEG, h[i], 1e-12, 0);
        CHECK_TRUE(file.table.candela[2 * i + 1] == cd[i]);
        CHECK_TRUE(file.table.candela[2 * i] == cd[i] / 10);
    }
    for (double turn = 0; turn < 90; turn += 7) { /* the mirror itself */
        double right = vs_photometric_candela_at(&file.table, 1, (90 - turn) * DEG);
        CHECK_NEAR(vs_photometric_candela_at(&file.table, 1, (90 + turn) * DEG), right, 1e-12, 0);
    }
    vs_lm63_free(&file);
}

#define HEAD "IESNA:LM-63-2002\n[TEST] bad\nTILT=NONE\n"

static const struct {
    const char *text, *where, *what;
} bad_file[] = {
    {"", "line 1", "must be an LM-63 file (got an empty file)"},
    {"IESNA:LM-63-2030\nTILT=NONE\n", "line 1",
     "must be IESNA91, IESNA:LM-63-1995, IESNA:LM-63-2002, IES:LM-63-2019, or text as in the "
     "edition of 1986 (got IESNA:LM-63-2030)"},
    {"just\nany\ntext\n", "line 4",
     "must have a line TILT=NONE or TILT=INCLUDE (got the end of the file)"},
    {"IESNA91\nTILT=lamp.tlt\n1 -1\n", "line 2",
     "must be TILT=NONE or TILT=INCLUDE with the table in this file, not in another (got "
     "TILT=lamp.tlt)"},
    {"IESNA91\nTILT=\n1 -1\n", "line 2",
     "must be TILT=NONE or TILT=INCLUDE with the table in this file, not in another (got "
     "TILT=)"},
    {"IESNA91\nTILT=INCLUDE\n4\n", "line 3",
     "must be 1, 2 or 3: how the lamp sits in the luminaire (got 4)"},
    {"IESNA91\nTILT=INCLUDE\n1\n0\n", "line 4", "must be 1 to 1000 tilt angles (got 0)"},
    {"IESNA91\nTILT=INCLUDE\n1\n2\n10 90\n1 1\n", "line 5",
     "must be tilt angles that start at 0 (got 10)"},
    {"IESNA91\nTILT=INCLUDE\n1\n2\n0 90\n1 -1\n", "line 6",
     "must be 0 to 1e+10 with factors: tilt factor 2 (got -1)"},
    {HEAD "0 -1 1 3 1 1 2 0 0 0\n", "line 4",
     "must be a whole number of lamps, at least 1 (got 0)"},
    {HEAD "1 0 1 3 1 1 2 0 0 0\n", "line 4",
     "must be lumens per lamp over 0, or -1 for absolute photometry (got 0)"},
    {HEAD "1 -1 0 3 1 1 2 0 0 0\n", "line 4", "must be a candela multiplier over 0 (got 0)"},
    {HEAD "1 -1 1 1 1 1 2 0 0 0\n", "line 4", "must be 2 to 2000 vertical angles (got 1)"},
    {HEAD "1 -1 1 3.5 1 1 2 0 0 0\n", "line 4", "must be 2 to 2000 vertical angles (got 3.5)"},
    {HEAD "1 -1 1 3 0 1 2 0 0 0\n", "line 4", "must be 1 to 4000 horizontal angles (got 0)"},
    {HEAD "1 -1 1 2000 4000 1 2 0 0 0\n", "line 4",
     "must be at most 500000 candela values in all (got 8e+06)"},
    {HEAD "1 -1 1 3 1 2 2 0 0 0\n", "line 4",
     "must be photometric type 1, which is C: ask the maker for a file of type C (got 2, type "
     "B)"},
    {HEAD "1 -1 1 3 1 3 2 0 0 0\n", "line 4",
     "must be photometric type 1, which is C: ask the maker for a file of type C (got 3, type "
     "A)"},
    {HEAD "1 -1 1 3 1 7 2 0 0 0\n", "line 4", "must be photometric type 1, which is C (got 7)"},
    {HEAD "1 -1 1 3 1 1 3 0 0 0\n", "line 4", "must be units 1 (feet) or 2 (metres) (got 3)"},
    {HEAD "1 -1 1 3 1 1 2 0 wide 0\n", "line 4", "must be a number: length (got wide)"},
    {HEAD "1 -1 1 3 1 1 2 0 0 0\n0 1 60\n", "line 5", "must be a ballast factor over 0 (got 0)"},
    {HEAD "1 -1 1 3 1 1 2 0 0 0\n1 1 -60\n", "line 5",
     "must be input watts of at least 0 (got -60)"},
    {"IESNA91\nTILT=NONE\n1 -1 1 3 1 1 2 0 0 0\n1 0 60\n", "line 4",
     "must be a ballast-lamp photometric factor over 0 (got 0)"},
    {HEAD "1 -1 1e300 3 1 1 2 0 0 0\n1e300 1 60\n", "line 5",
     "must be factors whose product is a number (got inf)"},
    {HEAD "1 -1 1 3 1 1 2 0 0 0\n1 1 60\n0 45 40\n", "line 6",
     "must rise from 0 to at most 180 degrees: vertical angle 3 (got 40)"},
    {HEAD "1 -1 1 3 1 1 2 0 0 0\n1 1 60\n0 45 85\n0\n", "line 6",
     "must be vertical angles from 0 or 90 to 90 or 180 (got 0 to 85)"},
    {HEAD "1 -1 1 3 1 1 2 0 0 0\n1 1 60\n5 45 90\n0\n", "line 6",
     "must be vertical angles from 0 or 90 to 90 or 180 (got 5 to 90)"},
    {HEAD "1 -1 1 3 2 1 2 0 0 0\n1 1 60\n0 45 90\n0 345\n", "line 7",
     "must be horizontal angles of 0, 0 to 90, 0 to 180, 0 to 360, or 90 to 270 with 180 among "
     "them (got 0 to 345)"},
    {HEAD "1 -1 1 3 2 1 2 0 0 0\n1 1 60\n0 45 90\n90 270\n", "line 7",
     "must be horizontal angles of 0, 0 to 90, 0 to 180, 0 to 360, or 90 to 270 with 180 among "
     "them (got 90 to 270)"},
    {HEAD "1 -1 1 3 1 1 2 0 0 0\n1 1 60\n0 45 90\n45\n", "line 7",
     "must be horizontal angles of 0, 0 to 90, 0 to 180, 0 to 360, or 90 to 270 with 180 among "
     "them (got 45 to 45)"},
    {HEAD "1 -1 1 3 1 1 2 0 0 0\n1 1 60\n0 45 90\n0\n10 -20 30\n", "line 8",
     "must be 0 to 1e+10 with factors: candela value 2 (got -20)"},
    {HEAD "1 -1 1 3 1 1 2 0 0 0\n1 1 60\n0 45 90\n0\n10 20e155 30\n", "line 8",
     "must be 0 to 1e+10 with factors: candela value 2 (got 2e+156)"},
    {HEAD "1 -1 1 3 1 1 2 0 0 0\n1 1 60\n0 45 90\n0\n10 2O 30\n", "line 8",
     "must be a number: candela value 2 (got 2O)"},
    {HEAD "1 -1 1 3 1 1 2 0 0 0\n1 1 60\n0 45 90\n0\n10 nan 30\n", "line 8",
     "must be a number: candela value 2 (got nan)"},
    {HEAD "1 -1 1 3 1 1 2 0 0 0\n1 1 60\n0 45 90\n0\n10 20\n", "line 9",
     "must be a number: candela value 3 (got the end of the file)"},
    {HEAD "1 -1 1 3 1 1 2 0 0 0\n1 1 60\n0 45 90\n0\n10 20 30\n\n40\n", "line 10",
     "must be the end of the file after 3 x 1 candela values (got 40)"},
    {HEAD "1 -1 1 3 1 1 2 0 0 0\n1 1 60\n0 45 90\n0\n10 20 3\xb0\n", "line 8",
     "must be a number: candela value 3 (got 3?)"},
};

static void what_is_wrong_is_told_with_its_line(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof bad_file / sizeof bad_file[0]; i++) {
        vs_lm63 file;
        vs_faults faults;
        CHECK_STATUS(parse(bad_file[i].text, &file, &faults), VS_ERR_INPUT);
        CHECK_TRUE(faults.count == 1);
        assert_string_equal(faults.item[0].where, bad_file[i].where);
        assert_string_equal(faults.item[0].text, bad_file[i].what);
        CHECK_TRUE(file.table.candela == NULL && file.memory[0] == NULL && file.memory[1] == NULL);
    }
    vs_lm63 file;
    vs_faults faults = {0};
    CHECK_STATUS(vs_lm63_init(&file, "IESNA91\nx\0y\nTILT=NONE\n", 22, &faults), VS_ERR_INPUT);
    assert_string_equal(faults.item[0].text, "must be text (got a zero byte)");
    char *large = calloc(1, VS_LM63_BYTES_MAX + 1);
    assert_non_null(large);
    memset(&faults, 0, sizeof faults);
    CHECK_STATUS(vs_lm63_init(&file, large, VS_LM63_BYTES_MAX + 1, &faults), VS_ERR_INPUT);
    assert_string_equal(faults.item[0].text, "must be a file of at most 4 MiB (got a larger one)");
    free(large);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(published_files_have_their_stated_lumens),
        cmocka_unit_test(editions_differ_in_the_second_factor),
        cmocka_unit_test(figures_may_be_broken_over_lines),
        cmocka_unit_test(tilt_tables_are_interpolated),
        cmocka_unit_test(a_table_from_90_to_270_is_opened_out),
        cmocka_unit_test(what_is_wrong_is_told_with_its_line),
    };
    return RUN_TESTS(tests);
}
