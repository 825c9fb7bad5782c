/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "veilstop/ask/ask.h"
#include "veilstop/scene/file.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "ask/commands/commands.h"
#include "ask/kept.h"

#define EXTINCTION_MAX_PER_M 100.0 /* [1/m] as in a scene */
#define WORDS_MAX            64    /* of one question, with the scene's name: our choice */

static vs_status read_by_means(void *context, const char *path, size_t most, char **bytes,
                               size_t *length) {
    const vs_ask_kept *kept = context;
    if (kept->means.read) {
        return kept->means.read(kept->means.context, path, most, bytes, length);
    }
    *bytes = NULL;
    *length = 0;
    errno = ENOENT;
    return VS_ERR_FILE;
}

/* Copies the shots, initially as in the file, so that they can be set. */
static vs_status copy_shots(vs_ask_kept *kept) {
    const vs_scene *scene = &kept->file->scene;
    kept->scene = *scene;
    kept->shot = calloc(scene->shot_count + 1, sizeof *kept->shot);
    kept->extinction = calloc(scene->shot_count * scene->room_count + 1, sizeof(double));
    kept->dimmer = calloc(scene->shot_count * scene->light_count + 1, sizeof(double));
    kept->chosen_per_m = calloc(scene->shot_count + 1, sizeof(double));
    if (!kept->chosen_per_m || !kept->shot || !kept->extinction || !kept->dimmer) {
        return VS_ERR_MEMORY;
    }
    for (size_t i = 0; i < scene->shot_count; i++) {
        kept->shot[i] = scene->shot[i];
    }
    kept->scene.shot = kept->shot;
    kept->rays_shot = VS_NONE;
    return VS_OK;
}

static vs_ask_kept *new_kept(const vs_ask_means *means) {
    vs_ask_kept *kept = calloc(1, sizeof *kept);
    if (kept && means) {
        kept->means = *means;
    }
    return kept;
}

static vs_status read_scene(vs_ask_kept *kept, const char *text, size_t length, vs_faults *faults) {
    char *folder = vs_file_folder(kept->name);
    if (!folder) {
        return VS_ERR_MEMORY;
    }
    kept->reader = (vs_file_reader){read_by_means, kept};
    vs_scene_places places = {NULL, folder, &kept->reader};
    vs_status status = vs_scene_file_init(&kept->own_file, text, length, &places, faults);
    kept->file = &kept->own_file;
    free(folder);
    return status;
}

vs_status vs_ask_open(vs_ask *ask, const char *text, size_t length, const char *name,
                      const vs_ask_means *means, vs_faults *faults) {
    vs_ask_kept *kept = new_kept(means);
    ask->kept = kept;
    if (!kept) {
        return VS_ERR_MEMORY;
    }
    kept->name = strdup(name);
    vs_status status = kept->name ? read_scene(kept, text, length, faults) : VS_ERR_MEMORY;
    if (status == VS_OK) {
        status = copy_shots(kept);
    }
    if (status == VS_OK) {
        status = vs_predictor_init(&kept->predictor, &kept->scene);
    }
    if (status == VS_OK) {
        status = vs_rays_init(&kept->rays, &kept->predictor);
    }
    if (status != VS_OK) {
        vs_ask_close(ask);
    }
    return status;
}

vs_status vs_ask_open_beside(vs_ask *ask, const vs_ask *first) {
    const vs_ask_kept *other = first->kept;
    vs_ask_kept *kept = new_kept(&other->means);
    ask->kept = kept;
    if (!kept) {
        return VS_ERR_MEMORY;
    }
    kept->beside = true;
    kept->name = other->name;
    kept->file = other->file;
    vs_status status = copy_shots(kept);
    if (status == VS_OK) {
        status = vs_predictor_init_beside(&kept->predictor, &other->predictor);
        kept->predictor.scene = &kept->scene;
    }
    if (status == VS_OK) {
        status = vs_rays_init(&kept->rays, &kept->predictor);
    }
    if (status != VS_OK) {
        vs_ask_close(ask);
    }
    return status;
}

void vs_ask_close(vs_ask *ask) {
    vs_ask_kept *kept = ask->kept;
    ask->kept = NULL;
    if (!kept) {
        return;
    }
    vs_rays_free(&kept->rays);
    vs_predictor_free(&kept->predictor);
    free(kept->shot);
    free(kept->extinction);
    free(kept->dimmer);
    free(kept->chosen_per_m);
    if (!kept->beside) {
        vs_scene_file_free(&kept->own_file);
        free(kept->name);
    }
    free(kept);
}

static bool all_within(const double *value, size_t count, double high, bool none_allowed) {
    for (size_t i = 0; value && i < count; i++) {
        bool none = none_allowed && isnan(value[i]);
        if (!none && !(value[i] >= 0 && value[i] <= high)) {
            return false;
        }
    }
    return true;
}

vs_status vs_ask_set(vs_ask *ask, size_t shot, const double *room_extinction_per_m,
                     const double *dimmer) {
    vs_ask_kept *kept = ask->kept;
    size_t rooms = kept->scene.room_count, lights = kept->scene.light_count;
    if (shot >= kept->scene.shot_count ||
        !all_within(room_extinction_per_m, rooms, EXTINCTION_MAX_PER_M, false) ||
        !all_within(dimmer, lights, 1, true)) {
        return VS_ERR_DOMAIN;
    }
    const vs_scene_shot *filed = &kept->file->scene.shot[shot];
    vs_scene_shot *set = &kept->shot[shot];
    *set = *filed;
    if (room_extinction_per_m) {
        double *own = kept->extinction + shot * rooms;
        memcpy(own, room_extinction_per_m, rooms * sizeof *own);
        set->density = VS_DENSITY_EXTINCTION;
        set->room_density = own;
        set->density_by_room = true;
    }
    if (dimmer) {
        double *own = kept->dimmer + shot * lights;
        for (size_t i = 0; i < lights; i++) {
            own[i] = isnan(dimmer[i]) && filed->dimmer ? filed->dimmer[i] : dimmer[i];
        }
        set->dimmer = own;
    }
    kept->rays_shot = kept->rays_shot == shot ? VS_NONE : kept->rays_shot;
    kept->densities_chosen = false;
    return VS_OK;
}

/* Runs the words, with the scene's name inserted if the command is about a scene. */
static vs_exit run_words(vs_ask_kept *kept, const char *const *word) {
    const char *all[WORDS_MAX];
    size_t count = 0;
    if (!word[0]) {
        return vs_ask_fail(VS_EXIT_USAGE, "needs a command");
    }
    vs_ask_args args = {.command = vs_ask_find_command(word[0])};
    if (!args.command) {
        return vs_ask_fail(VS_EXIT_USAGE, "unknown command %s", word[0]);
    }
    if (strstr(args.command->operands, "SCENE")) {
        all[count++] = kept->name;
    }
    for (size_t i = 1; word[i]; i++) {
        if (count + 1 == WORDS_MAX) {
            return vs_ask_fail(VS_EXIT_USAGE, "%s: too many words", word[0]);
        }
        all[count++] = word[i];
    }
    all[count] = NULL;
    return vs_ask_args_read(&args, all) ? vs_ask_args_run(&args) : VS_EXIT_USAGE;
}

/* Takes a text out of its growable memory. */
static char *taken(vs_text *text, size_t *length) {
    char *bytes = text->bytes ? text->bytes : calloc(1, 1);
    *length = text->bytes ? text->length : 0;
    if (text->failed) {
        free(bytes);
        bytes = NULL;
    }
    vs_text_init(text);
    return bytes;
}

vs_status vs_ask_command_run(vs_ask *ask, const char *const *word, vs_ask_answer *answer) {
    vs_ask_kept *kept = ask->kept;
    vs_ask_context context;
    size_t length;
    vs_ask_context_begin(&context, &kept->means);
    context.kept = kept;
    answer->exit = run_words(kept, word);
    answer->text = taken(&context.text, &answer->length);
    answer->messages = taken(&context.messages, &length);
    vs_ask_context_end(&context);
    if (!answer->text || !answer->messages) {
        vs_ask_answer_free(answer);
        return VS_ERR_MEMORY;
    }
    return VS_OK;
}

void vs_ask_answer_free(vs_ask_answer *answer) {
    const vs_ask_answer blank = {.exit = VS_EXIT_DONE};
    free(answer->text);
    free(answer->messages);
    *answer = blank;
}

vs_status vs_ask_rays(vs_ask *ask, size_t shot, const vs_rays_block *block,
                      const vs_rays_light *light) {
    vs_ask_kept *kept = ask->kept;
    vs_status status = VS_OK;
    if (kept->rays_shot != shot) {
        kept->rays_shot = VS_NONE;
        status = vs_rays_set(&kept->rays, shot, NULL);
        kept->rays_shot = status == VS_OK ? shot : VS_NONE;
    }
    return status == VS_OK ? vs_rays_ask(&kept->rays, block, light) : status;
}

vs_surface_seen vs_ask_surface(const vs_ask *ask, uint32_t surface) {
    const vs_ask_kept *kept = ask->kept;
    return vs_rays_surface(&kept->rays, surface);
}

const vs_scene *vs_ask_scene_of(const vs_ask *ask) {
    const vs_ask_kept *kept = ask->kept;
    return &kept->scene;
}
