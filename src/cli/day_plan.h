/* The day's plan for the hazer, as `dwell` and `cautions` share it: made, or its failure told. */
#ifndef VEILSTOP_CLI_DAY_PLAN_H
#define VEILSTOP_CLI_DAY_PLAN_H

#include "cli/scene_args.h"
#include "veilstop/shot/dwell.h"

/* Plans the scene's day, its densities decided; anything but VS_EXIT_DONE comes after a message,
 * with nothing to free. */
vs_exit vs_cli_day_plan(const vs_cli_scene *scene, const vs_haze *haze, vs_dwell *dwell);

/* The same in the order of the day that choose gives. */
vs_exit vs_cli_day_plan_chosen(const vs_cli_scene *scene, const vs_haze *haze, vs_dwell *dwell);

#endif
