/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The contents of a handle. */
#ifndef VEILSTOP_ASK_KEPT_H
#define VEILSTOP_ASK_KEPT_H

#include "veilstop/ask/means.h"
#include "veilstop/scene/scene_file.h"
#include "veilstop/shot/cautions.h"
#include "veilstop/shot/predict.h"
#include "veilstop/shot/rays.h"

typedef struct vs_ask_kept {
    vs_ask_means means;
    bool beside; /* file and name belong to another handle */
    char *name;
    const vs_scene_file *file;
    vs_scene_file own_file;
    vs_file_reader reader;
    vs_scene scene;         /* the file's, with the shots' current settings */
    vs_scene_shot *shot;    /* of that scene */
    double *extinction;     /* shot x room, of those that are set */
    double *dimmer;         /* shot x light, likewise */
    vs_predictor predictor; /* reused from question to question */
    bool lent;              /* in use by the current question */
    bool densities_chosen;  /* open densities chosen since the last setting */
    double *chosen_per_m;   /* one per shot; NaN: it was given */
    bool optics_known;      /* for the cautions, with the built-in figures */
    vs_caution_optics optics;
    vs_status optics_status;
    vs_rays rays;
    size_t rays_shot; /* for which the rays are set; VS_NONE: none */
} vs_ask_kept;

#endif
