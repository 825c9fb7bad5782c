/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Several hazers: against one of the same strength, and by symmetry. */
#include "check.h"
#include "written.h"

#include <math.h>

#include "veilstop/shot/dwell.h"

#define DAY(hazer, second_room)                                                                    \
    "{'veilstop': 1, 'rooms': [{'name': 'loft', 'size': [8, 5, 3]}" second_room "],"               \
    "'hazer': " hazer ", 'cameras': [{'name': 'A', 'at': [4, 0.3, 1.5], 'aim': [4, 5, 1.2]}],"     \
    "'shots': [{'camera': 'A', 'extinction_per_m': 0.03, 'minutes': 60}]}"
#define TWIN ", {'name': 'twin', 'corner': [20, 0, 0], 'size': [8, 5, 3]}"

static void plan(const char *text, written_scene *w, vs_dwell *d) {
    written_init(w, text);
    CHECK_OK(vs_dwell_plan(&w->file.scene, &w->predictor.haze, NULL, NULL, d));
}

/* Two machines in one room are one with the sum of their outputs. */
static void outputs_add_up(void **state) {
    (void)state;
    written_scene a, b;
    vs_dwell one, two;
    plan(DAY("{'fluid_ml_per_h': 60}", ""), &a, &one);
    plan(DAY("[{'fluid_ml_per_h': 20}, {'fluid_ml_per_h': 40}]", ""), &b, &two);
    CHECK_NEAR(two.shot[0].run_s, one.shot[0].run_s, 1e-6, 0);
    CHECK_NEAR(two.fluid_ml, one.fluid_ml, 1e-6, 0);
    CHECK_NEAR(two.room[0].peak_g_per_m3, one.room[0].peak_g_per_m3, 1e-6, 0);
    vs_dwell_free(&one);
    vs_dwell_free(&two);
    written_free(&a);
    written_free(&b);
}

/* Two equal, separate rooms with a machine in each: each is like one room with its own, and the
 * fluid is twice as much. */
static void like_rooms_have_like_haze(void **state) {
    (void)state;
    written_scene a, b;
    vs_dwell one, two;
    plan(DAY("{'fluid_ml_per_h': 30}", ""), &a, &one);
    plan(DAY("[{'room': 'loft', 'fluid_ml_per_h': 30}, {'room': 'twin', 'fluid_ml_per_h': 30}]",
             TWIN),
         &b, &two);
    CHECK_NEAR(two.room[0].peak_g_per_m3, one.room[0].peak_g_per_m3, 1e-6, 0);
    CHECK_NEAR(two.room[1].peak_g_per_m3, two.room[0].peak_g_per_m3, 1e-9, 0);
    CHECK_NEAR(two.shot[0].run_s, one.shot[0].run_s, 1e-6, 0);
    CHECK_NEAR(two.fluid_ml, 2 * one.fluid_ml, 1e-6, 0);
    vs_dwell_free(&one);
    vs_dwell_free(&two);
    written_free(&a);
    written_free(&b);
}

/* Shares go by what stays in the air: 40 ml/h at 0.5 and 20 at 1 emit equally. */
static void shares_go_by_output(void **state) {
    (void)state;
    written_scene a;
    vs_dwell two;
    plan(DAY("[{'room': 'loft', 'fluid_ml_per_h': 40, 'airborne_fraction': 0.5},"
             " {'room': 'twin', 'fluid_ml_per_h': 20, 'airborne_fraction': 1}]",
             TWIN),
         &a, &two);
    CHECK_NEAR(two.room[1].peak_g_per_m3, two.room[0].peak_g_per_m3, 1e-9, 0);
    CHECK_NEAR(vs_dwell_share_in(&a.file.scene, 1), 0.5, 1e-12, 0);
    vs_dwell_free(&two);
    written_free(&a);
}

/* A machine elsewhere whose haze has no way here is reported if it is the only one. */
static void haze_comes_from_any(void **state) {
    (void)state;
    written_scene w;
    vs_dwell d;
    written_init(&w, DAY("{'room': 'twin'}", TWIN));
    CHECK_STATUS(vs_dwell_plan(&w.file.scene, &w.predictor.haze, NULL, NULL, &d),
                 VS_ERR_UNREACHABLE);
    written_free(&w);
    plan(DAY("[{'room': 'twin', 'fluid_ml_per_h': 60}, {'room': 'loft'}]", TWIN), &w, &d);
    CHECK_TRUE(vs_dwell_met(&d));
    vs_dwell_free(&d);
    written_free(&w);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(outputs_add_up),
        cmocka_unit_test(like_rooms_have_like_haze),
        cmocka_unit_test(shares_go_by_output),
        cmocka_unit_test(haze_comes_from_any),
    };
    return RUN_TESTS(tests);
}
