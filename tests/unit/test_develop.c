/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Scene light to code values, and what a PNG says of them. Sources: ITU-R BT.709-6 (OETF), ITU-T
 * H.273 tables 2 and 3 (code points), PNG third edition 11.3.2.6 (cICP), as read in the standards'
 * public texts; from memory where marked. */
#include "check.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/picture/contact.h"
#include "veilstop/picture/develop.h"
#include "veilstop/picture/png.h"

static vs_camera camera_with(vs_curve_kind kind) {
    vs_camera camera = {.t_stop = 2.8,
                        .iso = 800,
                        .shutter_s = 1.0 / 48,
                        .stops_above_grey = 6,
                        .stops_below_grey = 8,
                        .curve = {.kind = kind}};
    return camera;
}

static void rolls_off_smoothly(void **state) {
    (void)state;
    vs_camera camera = camera_with(VS_CURVE_ACESCCT);
    double clip = vs_camera_clip_linear(&camera), before = 0, slope_before = 1;
    CHECK_NEAR(vs_develop_rolled_off(&camera, 0.18), 0.18, 1e-12, 0); /* grey stays */
    CHECK_NEAR(vs_develop_rolled_off(&camera, clip), 1, 1e-9, 0);
    CHECK_NEAR(vs_develop_rolled_off(&camera, 100 * clip), 1, 1e-9, 0);
    for (double x = 0.01; x < clip; x += 0.01) {
        double y = vs_develop_rolled_off(&camera, x), slope = (y - before) / 0.01;
        CHECK_TRUE(y > before);                   /* brighter stays brighter */
        CHECK_TRUE(slope <= slope_before + 1e-6); /* and nothing kinks outwards */
        before = y;
        slope_before = slope;
    }
    vs_camera plain = camera_with(VS_CURVE_BT709); /* clips at 1: nothing to roll off */
    CHECK_NEAR(vs_develop_rolled_off(&plain, 0.7), 0.7, 1e-12, 0);
}

/* docs/picture.md: light is taken as it is up to 0.25; from there K + (1 - K) ln(1 + a (x - K))/
 * ln(1 + a (c - K)), whose slope at K is 1: (1 - K) a = ln(1 + a (c - K)), solved here by Newton. */
static void the_roll_off_begins_at_a_quarter(void **state) {
    (void)state;
    vs_camera camera = camera_with(VS_CURVE_ACESCCT);
    const double knee = 0.25, clip = vs_camera_clip_linear(&camera);
    double a = 10;
    for (int i = 0; i < 50; i++) {
        a -= ((1 - knee) * a - log1p(a * (clip - knee))) /
             (1 - knee - (clip - knee) / (1 + a * (clip - knee)));
    }
    CHECK_TRUE(a > 0.1);
    CHECK_NEAR(vs_develop_rolled_off(&camera, 0.2499), 0.2499, 1e-12, 0);
    for (double x = 0.3; x < clip; x *= 1.5) {
        double want = knee + (1 - knee) * log1p(a * (x - knee)) / log1p(a * (clip - knee));
        CHECK_NEAR(vs_develop_rolled_off(&camera, x), want, 1e-9, 0);
    }
}

static void signals(void **state) {
    (void)state;
    vs_camera camera = camera_with(VS_CURVE_ACESCCT);
    double grey = vs_camera_grey_nits(&camera);
    /* BT.709-6, 1.2: 1.099 x 0.18^0.45 - 0.099 = 0.4090 */
    CHECK_NEAR(vs_develop_signal(&camera, VS_DEVELOP_DISPLAY, grey), 0.40900, 0, 1e-4);
    /* Academy S-2016-001: grey of ACEScct is 0.4135884 */
    CHECK_NEAR(vs_develop_signal(&camera, VS_DEVELOP_LOG, grey), 0.4135884, 0, 1e-6);
    CHECK_NEAR(vs_develop_signal(&camera, VS_DEVELOP_LINEAR, grey), 0.18 / 8, 1e-12, 0);
    CHECK_NEAR(vs_develop_signal(&camera, VS_DEVELOP_LINEAR, 1e9), 1, 1e-12, 0);
}

#define SIDE 64

/* A slope of light, darker than any display shows to three times the clip. */
static void tables_are_the_curve(void **state) {
    (void)state;
    static float value[SIDE * SIDE];
    vs_frame_plane plane = {{value, value, value}};
    for (int as = VS_DEVELOP_DISPLAY; as <= VS_DEVELOP_LINEAR; as++) {
        vs_camera camera = camera_with(VS_CURVE_ACESCCT);
        vs_picture fine, coarse;
        for (size_t i = 0; i < SIDE * SIDE; i++) {
            value[i] =
                (float)(vs_camera_grey_nits(&camera) * exp2(-20 + 28 * (double)i / (SIDE * SIDE)));
        }
        value[0] = 0;
        CHECK_OK(vs_picture_init(&fine, SIDE, SIDE, 16));
        CHECK_OK(vs_picture_init(&coarse, SIDE + 8, SIDE + 8, 8));
        CHECK_OK(vs_develop(&camera, (vs_develop_as)as, &plane, SIDE, SIDE, &fine, 0, 0));
        CHECK_OK(vs_develop(&camera, (vs_develop_as)as, &plane, SIDE, SIDE, &coarse, 8, 8));
        for (size_t i = 0; i < SIDE * SIDE; i++) {
            double want = vs_develop_signal(&camera, (vs_develop_as)as, (double)value[i]);
            CHECK_NEAR(vs_picture_at(&fine, i % SIDE, i / SIDE)[1] / 65535.0, want, 0, 1.0 / 65535);
            CHECK_NEAR(vs_picture_at(&coarse, 8 + i % SIDE, 8 + i / SIDE)[1] / 65535.0, want, 0,
                       1.01 / 255);
        }
        CHECK_STATUS(vs_develop(&camera, (vs_develop_as)as, &plane, SIDE, SIDE, &coarse, 9, 8),
                     VS_ERR_DOMAIN);
        vs_picture_free(&fine);
        vs_picture_free(&coarse);
    }
}

/* Where a chunk's data are; NULL where it has none of that name. */
static const unsigned char *chunk(const unsigned char *bytes, size_t length, const char *name) {
    for (size_t at = 8; at + 12 <= length;) {
        size_t size = (size_t)bytes[at] << 24 | (size_t)bytes[at + 1] << 16 |
                      (size_t)bytes[at + 2] << 8 | bytes[at + 3];
        if (memcmp(bytes + at + 4, name, 4) == 0) {
            return bytes + at + 8;
        }
        at += 12 + size;
    }
    return NULL;
}

static void told_in_the_file(void **state) {
    (void)state;
    static const struct {
        vs_curve_kind curve;
        vs_develop_as as;
        int transfer; /* H.273 table 3; 0: no cICP */
        bool srgb;
        unsigned gamma; /* gAMA x 100000; 0: none */
    } row[] = {{VS_CURVE_ACESCCT, VS_DEVELOP_DISPLAY, 1, false, 41667},
               {VS_CURVE_ACESCCT, VS_DEVELOP_LOG, 0, false, 0},
               {VS_CURVE_ACESCCT, VS_DEVELOP_LINEAR, 8, false, 100000},
               {VS_CURVE_SRGB, VS_DEVELOP_LOG, 13, true, 45455},
               {VS_CURVE_PQ, VS_DEVELOP_LOG, 16, false, 0},
               {VS_CURVE_HLG, VS_DEVELOP_LOG, 18, false, 0},
               {VS_CURVE_LINEAR, VS_DEVELOP_LOG, 8, false, 100000}};
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        vs_camera camera = camera_with(row[i].curve);
        vs_png_colour colour = vs_develop_colour(&camera, row[i].as);
        vs_picture picture, back;
        vs_faults faults = {0};
        unsigned char *bytes;
        size_t length;
        CHECK_OK(vs_picture_init(&picture, 4, 3, 16));
        picture.sample[5] = 4321;
        CHECK_OK(vs_png_write_colour(&picture, &colour, &bytes, &length));
        const unsigned char *cicp = chunk(bytes, length, "cICP");
        const unsigned char *gamma = chunk(bytes, length, "gAMA");
        CHECK_TRUE((cicp != NULL) == (row[i].transfer > 0));
        CHECK_TRUE(!cicp || (cicp[0] == 1 && cicp[1] == row[i].transfer && cicp[2] == 0 &&
                             cicp[3] == 1 && cicp < chunk(bytes, length, "IDAT")));
        CHECK_TRUE((chunk(bytes, length, "sRGB") != NULL) == row[i].srgb);
        CHECK_TRUE((gamma != NULL) == (row[i].gamma > 0));
        CHECK_TRUE(!gamma || ((unsigned)gamma[0] << 24 | (unsigned)gamma[1] << 16 |
                              (unsigned)gamma[2] << 8 | gamma[3]) == row[i].gamma);
        CHECK_TRUE((chunk(bytes, length, "tEXt") != NULL) == (colour.note != NULL));
        CHECK_OK(vs_png_read(bytes, length, &back, &faults)); /* sound, code values untouched */
        CHECK_TRUE(back.sample[5] == 4321 && back.bits == 16);
        free(bytes);
        vs_picture_free(&back);
        vs_picture_free(&picture);
    }
}

static size_t lit_in(const vs_picture *p, size_t x0, size_t y0, size_t width, size_t height) {
    size_t count = 0;
    for (size_t y = y0; y < y0 + height; y++) {
        for (size_t x = x0; x < x0 + width; x++) {
            count += vs_picture_at(p, x, y)[0] > 0;
        }
    }
    return count;
}

static void captions(void **state) {
    (void)state;
    vs_contact c = vs_contact_make(160, 90, 3, 2), alone = vs_contact_make(160, 90, 1, 1);
    vs_picture sheet;
    size_t x, y, x2, y2;
    CHECK_TRUE(alone.gap == 0 && alone.caption == 0); /* one picture is its own size */
    CHECK_OK(vs_contact_init(&c, 8, &sheet));
    vs_contact_place(&c, 0, 0, &x, &y);
    vs_contact_place(&c, 1, 1, &x2, &y2);
    CHECK_TRUE(x2 >= x + 160 && y2 >= y + 90 + c.caption && x2 + 160 <= sheet.width &&
               y2 + 90 + c.caption <= sheet.height);
    vs_contact_write(&c, &sheet, 1, 1, 1, "i", 1);
    CHECK_TRUE(lit_in(&sheet, x2, y2 + 90, 5, c.caption) == 9); /* an i has nine dots here */
    CHECK_TRUE(lit_in(&sheet, 0, 0, sheet.width, y2 + 90) == 0);
    vs_contact_write(&c, &sheet, 0, 0, 0, "a name that is far too long for this little picture", 1);
    CHECK_TRUE(lit_in(&sheet, x + 160, y, c.gap, 90 + c.caption) == 0); /* stays under its own */
    vs_contact_write(&c, &sheet, 2, 0, 0, "\xc3\xa9\xe2\x82\xac", 1);   /* two letters, two boxes */
    vs_contact_place(&c, 2, 0, &x, &y);
    CHECK_TRUE(lit_in(&sheet, x, y + 90, 5, c.caption) ==
               lit_in(&sheet, x + 6, y + 90, 5, c.caption));
    CHECK_TRUE(lit_in(&sheet, x + 12, y + 90, 100, c.caption) == 0);
    vs_picture_free(&sheet);
    vs_contact huge = vs_contact_make(8192, 4096, 16, 64);
    CHECK_STATUS(vs_contact_init(&huge, 8, &sheet), VS_ERR_DOMAIN);
}

static void there_and_back(void **state) {
    (void)state;
    vs_camera camera = camera_with(VS_CURVE_ACESCCT);
    double clip = vs_camera_clip_linear(&camera);
    for (int as = VS_DEVELOP_DISPLAY; as <= VS_DEVELOP_LINEAR; as++) {
        for (double x = 1e-4; x < clip && x < 8; x *= 1.1) {
            double signal =
                vs_develop_signal(&camera, (vs_develop_as)as, vs_camera_nits(&camera, x));
            CHECK_NEAR(vs_develop_linear(&camera, (vs_develop_as)as, signal), x, 1e-3, 0);
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rolls_off_smoothly),
        cmocka_unit_test(the_roll_off_begins_at_a_quarter),
        cmocka_unit_test(signals),
        cmocka_unit_test(there_and_back),
        cmocka_unit_test(tables_are_the_curve),
        cmocka_unit_test(told_in_the_file),
        cmocka_unit_test(captions),
    };
    return RUN_TESTS(tests);
}
