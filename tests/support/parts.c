/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See parts.h. */
#include "parts.h"

#include <math.h>

#include "check.h"

const vs_curve parts_log_curve = {.kind = VS_CURVE_LOG,
                                  .a = 5.5,
                                  .b = 0.052,
                                  .c = 0.25,
                                  .d = 0.39,
                                  .e = 5.0,
                                  .f = 0.0973459444,
                                  .cut = 0.01};

vs_camera parts_camera(vs_curve_kind curve) {
    vs_camera camera = {.name = "A",
                        .focal_m = 0.035,
                        .sensor_width_m = 0.0249,
                        .sensor_height_m = 0.014,
                        .t_stop = 2.8,
                        .iso = 800,
                        .shutter_s = 1.0 / 48,
                        .white_kelvin = 5600,
                        .stops_above_grey = 6,
                        .stops_below_grey = 8,
                        .curve = {.kind = curve}};
    return camera;
}

vs_shot_prediction parts_predict(const vs_scene *scene) {
    vs_predictor predictor;
    vs_shot_prediction prediction;
    CHECK_OK(vs_predictor_init(&predictor, scene));
    CHECK_OK(vs_predict_shot(&predictor, 0, NULL, &prediction));
    vs_predictor_free(&predictor);
    return prediction;
}

vs_fluid parts_fluid(double g) {
    vs_fluid fluid = {.density_g_per_ml = 1,
                      .nonvolatile_fraction = 1,
                      .half_life_s = INFINITY,
                      .measured = true,
                      .extinction_m2_per_g = 4,
                      .g = g};
    return fluid;
}
