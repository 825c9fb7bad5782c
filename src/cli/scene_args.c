/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "cli/scene_args.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/apart.h"
#include "cli/progress.h"
#include "veilstop/base/units.h"
#include "veilstop/optics/index.h"
#include "veilstop/report/cautions.h"
#include "veilstop/report/choose.h"
#include "veilstop/scene/json.h"

#define EXTINCTION_MAX_PER_M 100.0 /* [1/m] as in a scene */
#define WHY_SIZE             256   /* [bytes] of a clause */

bool vs_cli_units(const vs_cli_args *args, vs_length_unit *units) {
    const char *text = vs_cli_value(args, "units");
    if (!text) {
        return true;
    }
    if (strcmp(text, "m") != 0 && strcmp(text, "ft") != 0) {
        vs_cli_fail(VS_EXIT_USAGE, "--units: must be m or ft (got %s)", text);
        return false;
    }
    *units = strcmp(text, "ft") == 0 ? VS_LENGTH_FT : VS_LENGTH_M;
    return true;
}

/* The figures behind the cautions; a fault in a file of the user's own is told with its path. */
static vs_exit read_safety(const vs_cli_args *args, vs_cli_scene *scene) {
    vs_faults faults = {0};
    char *path;
    vs_status status =
        vs_safety_file_init(&scene->safety, vs_cli_value(args, "data"), NULL, &faults, &path);
    if (status == VS_OK) {
        return VS_EXIT_DONE;
    }
    vs_exit code = path ? vs_cli_fail_faults(path, &faults) : vs_cli_fail_status(status, "data");
    free(path);
    return status == VS_ERR_FILE ? VS_EXIT_FILE : code;
}

vs_exit vs_cli_scene_open(const vs_cli_args *args, size_t operand, vs_cli_scene *scene) {
    const vs_cli_scene blank = {.path = args->operand[operand]};
    *scene = blank;
    vs_faults faults = {0};
    vs_status status =
        vs_scene_file_load(&scene->file, scene->path, vs_cli_value(args, "data"), &faults);
    if (status != VS_OK) {
        vs_exit code = vs_faults_any(&faults) ? vs_cli_fail_faults(scene->path, &faults)
                                              : vs_cli_fail_status(status, scene->path);
        return status == VS_ERR_FILE ? VS_EXIT_FILE : code;
    }
    scene->scene = &scene->file.scene;
    scene->style.units = scene->scene->lengths;
    scene->style.colour = vs_cli_colour();
    if (!vs_cli_units(args, &scene->style.units) || !vs_cli_outputs_spare(args, &scene->file)) {
        vs_cli_scene_close(scene);
        return VS_EXIT_USAGE;
    }
    vs_exit code = read_safety(args, scene);
    if (code != VS_EXIT_DONE) {
        vs_cli_scene_close(scene);
    }
    return code;
}

void vs_cli_scene_close(vs_cli_scene *scene) {
    vs_scene_with_densities_free(&scene->filled);
    vs_scene_file_free(&scene->file);
    vs_safety_file_free(&scene->safety);
    scene->scene = NULL;
}

/* The shot of a name; VS_NONE after a message, with the nearest name. */
static size_t find_shot(const vs_cli_scene *scene, const char *name) {
    const vs_scene *s = scene->scene;
    const char **names = calloc(s->shot_count + 1, sizeof *names);
    size_t found = VS_NONE;
    for (size_t i = 0; names && i < s->shot_count; i++) {
        names[i] = s->shot[i].name;
        found = strcmp(s->shot[i].name, name) == 0 ? i : found;
    }
    const char *near =
        names && found == VS_NONE ? vs_json_nearest(name, names, s->shot_count) : NULL;
    if (found == VS_NONE) {
        vs_cli_fail(VS_EXIT_USAGE, "--shot: %s has no shot named %s%s%s", scene->path, name,
                    near ? "; did you mean " : "", near ? near : "");
    }
    free(names);
    return found;
}

vs_exit vs_cli_scene_told(const vs_cli_args *args, const vs_cli_scene *scene, bool *told) {
    for (size_t i = 0; i < scene->scene->shot_count; i++) {
        told[i] = args->shot_count == 0;
    }
    for (size_t i = 0; i < args->shot_count; i++) {
        size_t shot = find_shot(scene, args->shot[i]);
        if (shot == VS_NONE) {
            return VS_EXIT_USAGE;
        }
        told[shot] = true;
    }
    return VS_EXIT_DONE;
}

vs_exit vs_cli_scene_shots(const vs_cli_args *args, const vs_cli_scene *scene, size_t *first,
                           size_t *end) {
    const char *name = vs_cli_value(args, "shot");
    *first = 0;
    *end = scene->scene->shot_count;
    if (!name) {
        return VS_EXIT_DONE;
    }
    size_t shot = find_shot(scene, name);
    *first = shot;
    *end = shot + 1;
    return shot == VS_NONE ? VS_EXIT_USAGE : VS_EXIT_DONE;
}

vs_exit vs_cli_scene_extinction(const vs_cli_args *args, double *extinction_per_m) {
    *extinction_per_m = NAN;
    return vs_cli_number(args, "extinction", 0, EXTINCTION_MAX_PER_M, extinction_per_m)
               ? VS_EXIT_DONE
               : VS_EXIT_USAGE;
}

/* Why the fluid's optics have no answer, as a clause. A dispersion formula may leave the range at a
 * wavelength that detectors look with. */
static void say_why(const vs_cli_scene *scene, vs_status status, char why[WHY_SIZE]) {
    const vs_fluid *fluid = &scene->scene->fluid;
    snprintf(why, WHY_SIZE, "%s", vs_status_text(status));
    for (size_t i = 0; i < VS_DETECTOR_KIND_COUNT && status == VS_ERR_DOMAIN; i++) {
        double wavelength_m = scene->safety.tables.detector[i].wavelength_m;
        double n = fluid->measured ? (double)NAN : vs_index_real_at(&fluid->index, wavelength_m);
        if (!fluid->measured && !(n > VS_FLUID_INDEX_MIN && n <= VS_FLUID_INDEX_MAX)) {
            snprintf(why, WHY_SIZE,
                     "at %g nm, where detectors look, the fluid's refractive index must be over %g "
                     "and at most %g (got %.6g)",
                     wavelength_m * VS_NM_PER_M, VS_FLUID_INDEX_MIN, VS_FLUID_INDEX_MAX, n);
            return;
        }
    }
}

vs_exit vs_cli_fail_cautions(const vs_cli_scene *scene, vs_status status) {
    char why[WHY_SIZE];
    say_why(scene, status, why);
    return vs_cli_fail(status == VS_ERR_CONVERGENCE ? VS_EXIT_CONVERGENCE : VS_EXIT_INPUT,
                       "%s:/fluid: cautions cannot be worked out, expect an alarm: %s", scene->path,
                       why);
}

vs_exit vs_cli_scene_cautions(vs_text *out, const vs_cli_scene *scene,
                              const vs_cautions_peaks *peaks, vs_exit code) {
    vs_caution_optics optics;
    vs_status status = vs_caution_optics_init(&optics, &scene->scene->fluid, &scene->safety.tables);
    return vs_cli_scene_cautions_of(out, scene, &optics, status, peaks, code);
}

vs_exit vs_cli_scene_cautions_of(vs_text *out, const vs_cli_scene *scene,
                                 const vs_caution_optics *optics, vs_status status,
                                 const vs_cautions_peaks *peaks, vs_exit code) {
    char why[WHY_SIZE];
    say_why(scene, status, why);
    vs_report_density_cautions(out, &scene->style, scene->scene, &scene->safety.tables, optics,
                               status == VS_OK ? NULL : why, peaks);
    return status == VS_OK ? code : vs_cli_fail_cautions(scene, status);
}

vs_exit vs_cli_scene_light_caution(vs_text *out, const vs_cli_scene *scene,
                                   const vs_cautions_peaks *peaks, vs_exit code) {
    vs_caution_optics optics;
    vs_status status = vs_caution_optics_init(&optics, &scene->scene->fluid, &scene->safety.tables);
    if (status != VS_OK) {
        return vs_cli_scene_cautions_of(out, scene, &optics, status, peaks, code);
    }
    vs_report_light_caution(out, scene->scene, &scene->safety.tables, &optics, peaks);
    return code;
}

void vs_cli_scene_alarms(vs_json *json, const vs_cli_scene *scene, const vs_cautions_peaks *peaks) {
    vs_caution_optics optics;
    if (vs_caution_optics_init(&optics, &scene->scene->fluid, &scene->safety.tables) == VS_OK) {
        vs_report_alarms_json(json, scene->scene, &scene->safety.tables, &optics, peaks);
    }
}

/* Of the shots decided, those that an answer about one shot is of: itself and those it is to be
 * like. The others count for the day alone, and are not told. */
static void tell_only(vs_scene_with_densities *filled, size_t only) {
    const vs_scene_shot *shot = &filled->scene.shot[only];
    filled->any_chosen = false;
    for (size_t i = 0; i < filled->scene.shot_count; i++) {
        bool told = i == only;
        for (size_t w = 0; w < shot->want_count; w++) {
            told = told || (shot->want[w].kind == VS_WANT_LIKE && shot->want[w].shot == i);
        }
        filled->chosen[i] = filled->chosen[i] && told;
        filled->any_chosen = filled->any_chosen || filled->chosen[i];
    }
}

static bool any_open(const vs_scene *scene) {
    for (size_t i = 0; i < scene->shot_count; i++) {
        if (scene->shot[i].density == VS_DENSITY_OPEN) {
            return true;
        }
    }
    return false;
}

vs_exit vs_cli_scene_decide(vs_cli_scene *scene, size_t only) {
    vs_cli_doing(any_open(scene->scene) ? "choosing what your file leaves open" : "working");
    vs_status status = vs_scene_with_densities_init(&scene->filled, scene->scene, VS_NONE);
    if (status == VS_ERR_INPUT && only != VS_NONE) {
        status = vs_scene_with_densities_init(&scene->filled, scene->scene, only);
    }
    if (status != VS_OK) {
        return vs_cli_fail_choice(scene->path, status, scene->filled.culprit);
    }
    scene->scene = &scene->filled.scene;
    if (only != VS_NONE) {
        tell_only(&scene->filled, only);
    }
    return VS_EXIT_DONE;
}

vs_exit vs_cli_fail_choice(const char *path, vs_status status, size_t culprit) {
    if (status != VS_ERR_INPUT || culprit == VS_NONE) {
        return vs_cli_fail_status(status, path);
    }
    return vs_cli_fail(VS_EXIT_INPUT,
                       "%s:/shots/%zu: must give a density: it is open, and a shot that it is to "
                       "be like waits for it (got none)",
                       path, culprit);
}

/* A scene's title, or its file's name where it has none. */
static const char *title_of(const vs_cli_scene *scene) {
    return scene->scene->title ? scene->scene->title : scene->path;
}

void vs_cli_scene_head(vs_text *out, const vs_cli_scene *scene) {
    vs_text title;
    vs_text_init(&title);
    vs_cli_add_name(&title, title_of(scene));
    if (!title.failed && title.bytes) {
        vs_style_wrap(out, title.bytes, 2);
    }
    out->failed = out->failed || title.failed;
    vs_text_free(&title);
    vs_report_chosen_density_text(out, &scene->filled);
    if (scene->scene->shot_count == 0) {
        vs_text_addf(out, "  The scene has no shots: there is no haze to tell of.\n");
    }
}

void vs_cli_scene_head_json(vs_json *json, const char *command, const vs_cli_scene *scene) {
    vs_json_open_object(json, NULL);
    vs_json_string(json, "command", command);
    vs_json_string(json, "scene", title_of(scene));
    vs_report_chosen_density_json(json, &scene->filled);
}
