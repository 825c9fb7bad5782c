/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "ask/scene_args.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/base/units.h"
#include "veilstop/optics/index.h"
#include "veilstop/report/cautions.h"
#include "veilstop/report/choose.h"
#include "veilstop/report/rooms.h"
#include "veilstop/scene/json.h"

#define EXTINCTION_MAX_PER_M 100.0 /* [1/m] as in a scene */
#define WHY_SIZE             256   /* [bytes] of a clause */

bool vs_ask_units(const vs_ask_args *args, vs_length_unit *units) {
    const char *text = vs_ask_value(args, "units");
    if (!text) {
        return true;
    }
    if (strcmp(text, "m") != 0 && strcmp(text, "ft") != 0) {
        vs_ask_fail(VS_EXIT_USAGE, "--units: must be m or ft (got %s)", text);
        return false;
    }
    *units = strcmp(text, "ft") == 0 ? VS_LENGTH_FT : VS_LENGTH_M;
    return true;
}

/* Reads the data of the cautions; a fault in the user's own file is reported with its path. */
static vs_exit read_safety(const vs_ask_args *args, vs_ask_scene *scene) {
    vs_faults faults = {0};
    char *path;
    vs_status status = vs_safety_file_init(&scene->safety, vs_ask_value(args, "data"),
                                           vs_ask_files(), &faults, &path);
    if (status == VS_OK) {
        return VS_EXIT_DONE;
    }
    vs_exit code = path ? vs_ask_fail_faults(path, &faults) : vs_ask_fail_status(status, "data");
    free(path);
    return status == VS_ERR_FILE ? VS_EXIT_FILE : code;
}

static vs_exit fail_scene(const char *path, vs_status status, const vs_faults *faults) {
    vs_exit code =
        vs_faults_any(faults) ? vs_ask_fail_faults(path, faults) : vs_ask_fail_status(status, path);
    return status == VS_ERR_FILE ? VS_EXIT_FILE : code;
}

/* The folder of a path, "." if it names none. */
static void add_folder(vs_text *out, const char *path) {
    const char *slash = strrchr(path, '/');
    vs_text_add(out, path, slash ? (size_t)(slash - path) + (slash == path) : 0);
    vs_text_addf(out, "%s", slash ? "" : ".");
}

/* Reads the scene at a path. */
static vs_exit load_scene(const vs_ask_args *args, vs_ask_scene *scene) {
    vs_faults faults = {0};
    char *bytes = NULL;
    size_t length;
    vs_text folder;
    vs_text_init(&folder);
    add_folder(&folder, scene->path);
    vs_status status = folder.failed
                           ? VS_ERR_MEMORY
                           : vs_ask_file_read(scene->path, VS_JSON_BYTES_MAX, &bytes, &length);
    if (status == VS_ERR_FILE && errno == EFBIG) {
        vs_faults_add(&faults, "", "must be a file of at most 4 MiB (got a longer one)");
        status = VS_ERR_INPUT;
    } else if (status == VS_ERR_FILE) {
        vs_faults_add(&faults, "", "must be a file that can be read (got: %s)",
                      vs_ask_reason(scene->path));
    }
    if (status == VS_OK) {
        vs_scene_places places = {vs_ask_value(args, "data"), folder.bytes, vs_ask_files()};
        status = vs_scene_file_init(&scene->own_file, bytes, length, &places, &faults);
    }
    free(bytes);
    vs_text_free(&folder);
    scene->file = &scene->own_file;
    scene->scene = &scene->own_file.scene;
    return status == VS_OK ? VS_EXIT_DONE : fail_scene(scene->path, status, &faults);
}

vs_exit vs_ask_scene_open(const vs_ask_args *args, size_t operand, vs_ask_scene *scene) {
    const vs_ask_context *context = vs_ask_context_here();
    const vs_ask_scene blank = {.path = args->operand[operand],
                                .kept = context->kept,
                                .own_data = vs_ask_value(args, "data") != NULL};
    *scene = blank;
    if (scene->kept) {
        scene->file = scene->kept->file;
        scene->scene = &scene->kept->scene;
    } else {
        vs_exit code = load_scene(args, scene);
        if (code != VS_EXIT_DONE) {
            return code;
        }
    }
    scene->style.units = scene->scene->lengths;
    scene->style.colour = vs_ask_colour();
    if (!vs_ask_units(args, &scene->style.units) ||
        (context->outputs_spare && !context->outputs_spare(args, scene->file))) {
        vs_ask_scene_close(scene);
        return VS_EXIT_USAGE;
    }
    vs_exit code = read_safety(args, scene);
    if (code != VS_EXIT_DONE) {
        vs_ask_scene_close(scene);
    }
    return code;
}

void vs_ask_scene_close(vs_ask_scene *scene) {
    vs_scene_with_densities_free(&scene->filled);
    vs_scene_file_free(&scene->own_file);
    vs_safety_file_free(&scene->safety);
    scene->scene = NULL;
}

vs_status vs_ask_predictor_init(vs_predictor *predictor, const vs_ask_scene *scene) {
    vs_ask_kept *kept = scene->kept;
    vs_status status = VS_OK;
    if (!kept) {
        status = vs_predictor_init_by(predictor, scene->scene, vs_ask_runner());
    } else if (kept->lent) {
        status = vs_predictor_init_beside(predictor, &kept->predictor);
    } else {
        *predictor = kept->predictor;
        kept->lent = true;
    }
    if (status == VS_OK) {
        predictor->scene = scene->scene; /* the same rooms, with densities filled in */
        predictor->runner = vs_ask_runner();
    }
    return status;
}

void vs_ask_predictor_free(vs_predictor *predictor, const vs_ask_scene *scene) {
    vs_ask_kept *kept = scene->kept;
    if (!kept || !kept->lent || predictor->dim != kept->predictor.dim) {
        vs_predictor_free(predictor);
        return;
    }
    const vs_predictor given_back = {0};
    kept->predictor = *predictor;
    kept->predictor.scene = &kept->scene;
    kept->predictor.runner = NULL;
    kept->lent = false;
    kept->rays_shot = VS_NONE; /* the predictor may hold another shot now */
    *predictor = given_back;
}

/* The shot with a name; VS_NONE after a message with the nearest name. */
static size_t find_shot(const vs_ask_scene *scene, const char *name) {
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
        vs_ask_fail(VS_EXIT_USAGE, "--shot: %s has no shot named %s%s%s", scene->path, name,
                    near ? "; did you mean " : "", near ? near : "");
    }
    free(names);
    return found;
}

vs_exit vs_ask_scene_selected(const vs_ask_args *args, const vs_ask_scene *scene, bool *selected) {
    for (size_t i = 0; i < scene->scene->shot_count; i++) {
        selected[i] = args->shot_count == 0;
    }
    for (size_t i = 0; i < args->shot_count; i++) {
        size_t shot = find_shot(scene, args->shot[i]);
        if (shot == VS_NONE) {
            return VS_EXIT_USAGE;
        }
        selected[shot] = true;
    }
    return VS_EXIT_DONE;
}

vs_exit vs_ask_scene_shots(const vs_ask_args *args, const vs_ask_scene *scene, size_t *first,
                           size_t *end) {
    const char *name = vs_ask_value(args, "shot");
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

vs_exit vs_ask_scene_extinction(const vs_ask_args *args, double *extinction_per_m) {
    *extinction_per_m = NAN;
    return vs_ask_number(args, "extinction", 0, EXTINCTION_MAX_PER_M, extinction_per_m)
               ? VS_EXIT_DONE
               : VS_EXIT_USAGE;
}

/* Why the fluid's optics failed, as a clause. A dispersion formula may leave the valid range at a
 * detector's wavelength. */
static void say_why(const vs_ask_scene *scene, vs_status status, char why[WHY_SIZE]) {
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

vs_exit vs_ask_fail_cautions(const vs_ask_scene *scene, vs_status status) {
    char why[WHY_SIZE];
    say_why(scene, status, why);
    return vs_ask_fail(status == VS_ERR_CONVERGENCE ? VS_EXIT_CONVERGENCE : VS_EXIT_INPUT,
                       "%s:/fluid: cautions cannot be worked out, expect an alarm: %s", scene->path,
                       why);
}

vs_status vs_ask_scene_optics(const vs_ask_scene *scene, vs_caution_optics *optics) {
    vs_ask_kept *kept = scene->own_data ? NULL : scene->kept;
    const vs_fluid *fluid = &scene->scene->fluid;
    if (!kept) {
        return vs_caution_optics_init(optics, fluid, &scene->safety.tables);
    }
    if (!kept->optics_known) {
        kept->optics_status = vs_caution_optics_init(&kept->optics, fluid, &scene->safety.tables);
        kept->optics_known = kept->optics_status != VS_ERR_MEMORY;
    }
    *optics = kept->optics;
    return kept->optics_status;
}

vs_exit vs_ask_scene_cautions(vs_text *out, const vs_ask_scene *scene,
                              const vs_cautions_peaks *peaks, vs_exit code) {
    vs_caution_optics optics;
    vs_status status = vs_ask_scene_optics(scene, &optics);
    return vs_ask_scene_cautions_of(out, scene, &optics, status, peaks, code);
}

vs_exit vs_ask_scene_cautions_of(vs_text *out, const vs_ask_scene *scene,
                                 const vs_caution_optics *optics, vs_status status,
                                 const vs_cautions_peaks *peaks, vs_exit code) {
    char why[WHY_SIZE];
    say_why(scene, status, why);
    vs_report_density_cautions(out, &scene->style, scene->scene, &scene->safety.tables, optics,
                               status == VS_OK ? NULL : why, peaks);
    return status == VS_OK ? code : vs_ask_fail_cautions(scene, status);
}

vs_exit vs_ask_scene_light_caution(vs_text *out, const vs_ask_scene *scene,
                                   const vs_cautions_peaks *peaks, vs_exit code) {
    vs_caution_optics optics;
    vs_status status = vs_ask_scene_optics(scene, &optics);
    if (status != VS_OK) {
        return vs_ask_scene_cautions_of(out, scene, &optics, status, peaks, code);
    }
    vs_report_light_caution(out, scene->scene, &scene->safety.tables, &optics, peaks);
    return code;
}

void vs_ask_scene_alarms(vs_json *json, const vs_ask_scene *scene, const vs_cautions_peaks *peaks) {
    vs_caution_optics optics;
    if (vs_ask_scene_optics(scene, &optics) == VS_OK) {
        vs_report_alarms_json(json, scene->scene, &scene->safety.tables, &optics, peaks);
    }
}

/* Keeps, of the chosen densities, those relevant to an answer about one shot: its own and those of
 * shots it must look like. The others matter only for the day and are not shown. */
static void keep_relevant(vs_scene_with_densities *filled, size_t only) {
    const vs_scene_shot *shot = &filled->scene.shot[only];
    filled->any_chosen = false;
    for (size_t i = 0; i < filled->scene.shot_count; i++) {
        bool relevant = i == only;
        for (size_t w = 0; w < shot->want_count; w++) {
            relevant = relevant || (shot->want[w].kind == VS_WANT_LIKE && shot->want[w].shot == i);
        }
        filled->chosen[i] = filled->chosen[i] && relevant;
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

/* Chooses open densities; a handle keeps them until a shot is set. */
static vs_status fill_densities(vs_ask_scene *scene, size_t only) {
    vs_ask_kept *kept = scene->kept;
    vs_predictor predictor;
    if (!kept || !any_open(scene->scene)) {
        return vs_scene_with_densities_init(&scene->filled, scene->scene, only, vs_ask_runner());
    }
    if (kept->densities_chosen) {
        return vs_scene_with_densities_of(&scene->filled, scene->scene, &kept->predictor.haze,
                                          kept->chosen_per_m);
    }
    vs_status status = vs_ask_predictor_init(&predictor, scene);
    if (status != VS_OK) {
        return status;
    }
    status = vs_scene_with_densities_by(&scene->filled, &predictor, only);
    vs_ask_predictor_free(&predictor, scene);
    kept->densities_chosen = status == VS_OK && only == VS_NONE;
    for (size_t i = 0; i < scene->scene->shot_count && kept->densities_chosen; i++) {
        kept->chosen_per_m[i] = scene->filled.chosen_per_m[i];
    }
    return status;
}

vs_exit vs_ask_scene_fill_densities(vs_ask_scene *scene, size_t only) {
    vs_ask_doing(any_open(scene->scene) ? "choosing what your file leaves open" : "working");
    vs_status status = fill_densities(scene, VS_NONE);
    if (status == VS_ERR_INPUT && only != VS_NONE) {
        status = fill_densities(scene, only);
    }
    if (status != VS_OK) {
        return vs_ask_fail_choice(scene->path, status, scene->filled.culprit);
    }
    scene->scene = &scene->filled.scene;
    if (only != VS_NONE) {
        keep_relevant(&scene->filled, only);
    }
    return VS_EXIT_DONE;
}

vs_exit vs_ask_fail_choice(const char *path, vs_status status, size_t culprit) {
    if (status != VS_ERR_INPUT || culprit == VS_NONE) {
        return vs_ask_fail_status(status, path);
    }
    return vs_ask_fail(VS_EXIT_INPUT,
                       "%s:/shots/%zu: must give a density: it is open, and a shot that it is to "
                       "be like waits for it (got none)",
                       path, culprit);
}

/* A scene's title, or its file's name if it has none. */
static const char *title_of(const vs_ask_scene *scene) {
    return scene->scene->title ? scene->scene->title : scene->path;
}

void vs_ask_scene_head(vs_text *out, const vs_ask_scene *scene) {
    vs_text title;
    vs_text_init(&title);
    vs_ask_add_name(&title, title_of(scene));
    vs_style_wrap(out, vs_text_words(&title, out), 2);
    vs_text_free(&title);
    vs_text doubt;
    vs_text_init(&doubt);
    if (vs_report_size_doubt(&doubt, &scene->style, scene->scene)) {
        vs_text_addf(out, "  ");
        vs_style_wrap(out, vs_text_words(&doubt, out), 4);
    }
    vs_text_free(&doubt);
    vs_report_chosen_density_text(out, &scene->filled);
    if (scene->scene->shot_count == 0) {
        vs_text_addf(out, "  The scene has no shots: there is no haze to tell of.\n");
    }
}

void vs_ask_scene_head_json(vs_json *json, const char *command, const vs_ask_scene *scene) {
    vs_json_open_object(json, NULL);
    vs_json_string(json, "command", command);
    vs_json_string(json, "scene", title_of(scene));
    vs_text doubt;
    vs_text_init(&doubt);
    if (vs_report_size_doubt(&doubt, &scene->style, scene->scene)) {
        vs_json_string(json, "doubt", vs_text_words(&doubt, json->out));
    }
    vs_text_free(&doubt);
    vs_report_chosen_density_json(json, &scene->filled);
}
