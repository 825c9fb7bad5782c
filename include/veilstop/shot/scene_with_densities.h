/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A scene in which every shot has a density: shots that leave theirs open get the recommended
 * one. */
#ifndef VEILSTOP_SHOT_SCENE_WITH_DENSITIES_H
#define VEILSTOP_SHOT_SCENE_WITH_DENSITIES_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/runner.h"
#include "veilstop/base/status.h"
#include "veilstop/shot/predict.h"
#include "veilstop/shot/scene.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Owns its shots and their densities; everything else belongs to the original. Must not be moved
 *  while its scene is in use. */
typedef struct {
    vs_scene scene;
    vs_scene_shot *shot;
    double *density_per_m; /* shot x room */
    bool *chosen;          /* one per shot: its density was open */
    double *chosen_per_m;  /* one per shot: in its camera's room; NaN if it was given */
    bool any_chosen;
    size_t culprit; /* as for vs_choose */
} vs_scene_with_densities;

/** Chooses densities for the open shots of a scene.
 *  scene  borrowed, must outlive the result
 *  only   this shot alone, with those it must look like; VS_NONE: all
 *  runner borrowed for this call, spreads the work; NULL: none
 *  Errors: those of vs_predictor_init and vs_choose. A scene without open shots costs nothing.
 *  Checked: tests/unit/test_scene_with_densities.c */
VS_WARN_UNUSED vs_status vs_scene_with_densities_init(vs_scene_with_densities *filled,
                                                      const vs_scene *scene, size_t only,
                                                      const vs_runner *runner);
/** The same by a predictor that is there; its scene must outlive the result. */
VS_WARN_UNUSED vs_status vs_scene_with_densities_by(vs_scene_with_densities *filled,
                                                    vs_predictor *predictor, size_t only);
/** The same where they were chosen before.
 *  chosen_per_m  one a shot, as a result for the same scene had them; borrowed for this call */
VS_WARN_UNUSED vs_status vs_scene_with_densities_of(vs_scene_with_densities *filled,
                                                    const vs_scene *scene, const vs_haze *haze,
                                                    const double *chosen_per_m);
void vs_scene_with_densities_free(vs_scene_with_densities *filled);

#ifdef __cplusplus
}
#endif
#endif
