/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A light's beam as a camera sees it. */
#ifndef VEILSTOP_SHOT_SIGHT_BEAM_H
#define VEILSTOP_SHOT_SIGHT_BEAM_H

#include "shot/sight/camera_setup.h"

/* Where the beam of a light, in any of its parts, reads best in frame: of evenly spaced places
 * along its axis that the camera sees, the one with the highest ratio to the background. NaN if
 * none is in frame. */
vs_status vs_camera_setup_beam_place(const vs_camera_setup *setup, size_t light, vs_vec3 *near_m);

/* Fills a beam's luminances; light and near_m are set. With extras, also its edge and where it
 * reads. */
vs_status vs_camera_setup_beam(const vs_camera_setup *setup, bool extras, size_t note,
                               vs_beam_prediction *beam);

/* Stops of a beam over its background, the camera's floor added to both; and how it reads: not at
 * all if all of it is below that floor. */
double vs_beam_over_stops(const vs_camera *camera, double beam_nits, double background_nits);
vs_reads vs_beam_reads(const vs_camera *camera, double beam_nits, double background_nits);

#endif
