/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Parts that the tests' scenes share: a camera, a fluid, a log curve. Each test changes what it
 * tests. */
#ifndef VEILSTOP_TESTS_PARTS_H
#define VEILSTOP_TESTS_PARTS_H

#include "veilstop/camera/camera.h"
#include "veilstop/optics/haze.h"
#include "veilstop/shot/predict.h"

/* Named A, at T2.8, index 800, 1/48 s, white at 5600 K, 35 mm on 24.9 x 14 mm, 6 stops over grey
 * and 8 under; without a place or a direction yet. */
vs_camera parts_camera(vs_curve_kind curve);

/* A fluid as if measured: 4 m2/g, grey, Henyey-Greenstein of that g, all of it droplets that
 * neither settle nor dry. */
vs_fluid parts_fluid(double g);

/* The prediction of a scene's first shot; the caller frees it. */
vs_shot_prediction parts_predict(const vs_scene *scene);

/* An invented log curve: linear up to 0.01, joined to the log part there in value. */
extern const vs_curve parts_log_curve;

#endif
