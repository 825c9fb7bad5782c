/* See the header. */
#include "cli/scene_args.h"

#include <stdlib.h>
#include <string.h>

#include "veilstop/report/cautions.h"
#include "veilstop/report/choose.h"
#include "veilstop/scene/json.h"

#define EXTINCTION_MAX_PER_M 100.0 /* [1/m] as in a scene */

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
        vs_safety_file_init(&scene->safety, vs_cli_value(args, "data"), &faults, &path);
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
    if (!vs_cli_units(args, &scene->style.units)) {
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
    vs_decided_free(&scene->decided);
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

vs_exit vs_cli_scene_extinction(const vs_cli_args *args, const vs_cli_scene *scene,
                                double **room_extinction_per_m) {
    double k = 0, *room = NULL;
    *room_extinction_per_m = NULL;
    if (!vs_cli_number(args, "extinction", 0, EXTINCTION_MAX_PER_M, &k)) {
        return VS_EXIT_USAGE;
    }
    if (!vs_cli_value(args, "extinction")) {
        return VS_EXIT_DONE;
    }
    room = calloc(scene->scene->room_count + 1, sizeof *room);
    if (!room) {
        return vs_cli_fail_status(VS_ERR_MEMORY, scene->path);
    }
    for (size_t r = 0; r < scene->scene->room_count; r++) {
        room[r] = k;
    }
    *room_extinction_per_m = room;
    return VS_EXIT_DONE;
}

void vs_cli_scene_cautions(vs_text *out, const vs_cli_scene *scene,
                           const double *room_extinction_per_m) {
    vs_caution_optics optics;
    vs_status status = vs_caution_optics_init(&optics, &scene->scene->fluid, &scene->safety.tables);
    vs_cli_scene_cautions_of(out, scene, status == VS_OK ? &optics : NULL, room_extinction_per_m);
}

void vs_cli_scene_cautions_of(vs_text *out, const vs_cli_scene *scene,
                              const vs_caution_optics *optics,
                              const double *room_extinction_per_m) {
    if (optics) {
        vs_report_density_cautions(out, &scene->style, scene->scene, &scene->safety.tables, optics,
                                   room_extinction_per_m);
    } else {
        vs_report_short_cautions(out, scene->scene);
    }
}

vs_exit vs_cli_scene_decide(vs_cli_scene *scene, size_t only) {
    vs_status status = vs_decided_init(&scene->decided, scene->scene, only);
    if (status != VS_OK) {
        return vs_cli_fail_choice(scene->path, status, scene->decided.culprit);
    }
    scene->scene = &scene->decided.scene;
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
    vs_text_addf(out, "%s\n", title_of(scene));
    vs_report_decided_text(out, &scene->decided);
}

void vs_cli_scene_head_json(vs_json *json, const char *command, const vs_cli_scene *scene) {
    vs_json_open_object(json, NULL);
    vs_json_string(json, "command", command);
    vs_json_string(json, "scene", title_of(scene));
    vs_report_decided_json(json, &scene->decided);
}
