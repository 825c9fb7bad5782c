/* SPDX-License-Identifier: GPL-3.0-or-later */
/* camera: middle grey by ISO 2720, clipping, the floor. */
#include "check.h"

#include <math.h>

#include "parts.h"
#include "veilstop/camera/camera.h"

/* ISO 2720:1974 with K = 12.5: EV100 0 is 0.125 cd/m2 and each step doubles it;
 * N = 16 at t = 1/S gives 3200 cd/m2. */
static void middle_grey_follows_iso_2720(void **state) {
    (void)state;
    vs_camera camera = parts_camera(VS_CURVE_BT709);
    camera.iso = 100;
    camera.t_stop = 1;
    camera.shutter_s = 1;
    for (int ev = 0; ev < 12; ev++) {
        CHECK_NEAR(vs_camera_grey_nits(&camera), 0.125 * exp2(ev), 1e-14, 0);
        camera.shutter_s /= 2;
    }
    camera.t_stop = 16;
    camera.shutter_s = 1.0 / 100;
    CHECK_NEAR(vs_camera_grey_nits(&camera), 3200, 1e-14, 0);
    camera.nd_stops = 3;
    CHECK_NEAR(vs_camera_grey_nits(&camera), 8 * 3200, 1e-14, 0);
    CHECK_NEAR(vs_camera_linear(&camera, 8 * 3200), 0.18, 1e-14, 0);
    CHECK_NEAR(vs_camera_nits(&camera, 0.09), 4 * 3200, 1e-14, 0);
    CHECK_NEAR(vs_camera_floor_nits(&camera), 8 * 3200 / 256.0, 1e-14, 0);
}

static void the_signal_clips_at_the_lower_of_two_tops(void **state) {
    (void)state;
    vs_camera camera = parts_camera(VS_CURVE_BT709);
    double grey = vs_camera_grey_nits(&camera);
    CHECK_NEAR(vs_camera_signal_percent(&camera, 100 * grey), 100, 1e-12, 0); /* the curve's top */
    CHECK_PRINTED(vs_camera_signal_percent(&camera, grey), 40.9007728864150, 1e-12);
    camera.stops_above_grey = 2; /* now the sensor's: 0.72 */
    double top = 100 * (1.099 * pow(0.72, 0.45) - 0.099);
    CHECK_NEAR(vs_camera_signal_percent(&camera, 100 * grey), top, 1e-12, 0);
    camera.curve.kind = VS_CURVE_ACESCCT;
    camera.stops_above_grey = 20;
    /* Academy S-2016-001: (log2 x + 9.72)/17.52 = 1 at x = 2^7.8 */
    CHECK_NEAR(vs_camera_clip_linear(&camera), exp2(7.8), 1e-12, 0);
    for (double nits = 1e-3 * grey; nits < 1000 * grey; nits *= 3.1) {
        double percent = vs_camera_signal_percent(&camera, nits);
        CHECK_NEAR(vs_camera_nits(&camera, vs_curve_decode(&camera.curve, percent / 100)), nits,
                   1e-9, 0);
    }
    CHECK_NAN(vs_camera_signal_percent(&camera, NAN));
}

static void stops_carry_the_floor(void **state) {
    (void)state;
    vs_camera camera = parts_camera(VS_CURVE_BT709);
    double e = vs_camera_floor_nits(&camera);
    CHECK_NEAR(vs_camera_stops_between(&camera, 3 * e, 0), 2, 1e-13, 0);
    CHECK_NEAR(vs_camera_stops_between(&camera, 0, 3 * e), -2, 1e-13, 0);
    CHECK_NEAR(vs_camera_stops_between(&camera, 8e6 * e, 1e6 * e), 3, 1e-5, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(middle_grey_follows_iso_2720),
        cmocka_unit_test(the_signal_clips_at_the_lower_of_two_tops),
        cmocka_unit_test(stops_carry_the_floor),
    };
    return RUN_TESTS(tests);
}
