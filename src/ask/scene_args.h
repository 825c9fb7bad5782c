/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shared by commands that read a scene: the file, the shots requested, the style of the answer. */
#ifndef VEILSTOP_ASK_SCENE_ARGS_H
#define VEILSTOP_ASK_SCENE_ARGS_H

#include "ask/args.h"
#include "ask/kept.h"
#include "veilstop/report/cautions.h"
#include "veilstop/report/style.h"
#include "veilstop/scene/safety_file.h"
#include "veilstop/scene/scene_file.h"
#include "veilstop/shot/cautions.h"
#include "veilstop/shot/scene_with_densities.h"

/* Options shared by these commands. */
#define VS_ASK_JSON                                                                                \
    {"json", NULL, "one JSON object on standard output, nothing else"}, {                          \
        "csv", NULL, "every table of the answer for a spreadsheet"                                 \
    }
#define VS_ASK_UNITS                                                                               \
    { "units", "m|ft", "metres and nits, or feet and foot-lamberts" }
#define VS_ASK_DATA                                                                                \
    { "data", "DIR", "fluids and figures from here before those built in" }
#define VS_ASK_SHOT                                                                                \
    { "shot", "NAME", "this shot alone; may be given several times", true }

#define VS_ASK_EXTINCTION                                                                          \
    { "extinction", "X", "in place of your file's density in the camera's room, /m" }

/* Reads --units if given; false after a usage message. */
bool vs_ask_units(const vs_ask_args *args, vs_length_unit *units);

typedef struct {
    const vs_scene_file *file;
    vs_scene_file own_file; /* if it was read for this question */
    vs_ask_kept *kept;      /* the handle that owns the scene; NULL: none */
    vs_safety_file safety;  /* the figures behind its cautions */
    bool own_data;          /* some of them may come from --data */
    const vs_scene *scene;  /* of the file, or with its open densities chosen */
    const char *path;
    vs_style style;
    vs_scene_with_densities filled;
} vs_ask_scene;

/* Reads the scene named by an operand, or takes that of the handle in use, and --units and --data;
 * anything but VS_EXIT_DONE comes after a message and needs no close. */
vs_exit vs_ask_scene_open(const vs_ask_args *args, size_t operand, vs_ask_scene *scene);
void vs_ask_scene_close(vs_ask_scene *scene);

/* A predictor for the scene. A handle lends its own, with everything it has computed so far; while
 * that is lent, others are made beside it. Free it with vs_ask_predictor_free before the scene is
 * closed.  Errors: those of vs_predictor_init. */
VS_WARN_UNUSED vs_status vs_ask_predictor_init(vs_predictor *predictor, const vs_ask_scene *scene);
void vs_ask_predictor_free(vs_predictor *predictor, const vs_ask_scene *scene);

/* The shots given by --shot: [*first, *end). All if it is absent. */
vs_exit vs_ask_scene_shots(const vs_ask_args *args, const vs_ask_scene *scene, size_t *first,
                           size_t *end);

/* The extinction given by --extinction; NaN if it is absent. */
vs_exit vs_ask_scene_extinction(const vs_ask_args *args, double *extinction_per_m);

/* Marks the shots given by --shot, once or several times: selected[i] for each shot of the scene.
 * All if it is absent. */
vs_exit vs_ask_scene_selected(const vs_ask_args *args, const vs_ask_scene *scene, bool *selected);

/* vs_caution_optics_init for the scene; a handle keeps the result. */
VS_WARN_UNUSED vs_status vs_ask_scene_optics(const vs_ask_scene *scene, vs_caution_optics *optics);

/* Ends a text answer with the cautions for densities. If some cannot be calculated, the cautions
 * and a message say so and why.
 * peaks  the thickest haze of each room
 * code   the exit status of the answer
 * Returns `code` or, if a caution is missing, the status of its failure. */
vs_exit vs_ask_scene_cautions(vs_text *out, const vs_ask_scene *scene,
                              const vs_cautions_peaks *peaks, vs_exit code);
/* The same where vs_ask_scene_optics was called already, with what it gave. */
vs_exit vs_ask_scene_cautions_of(vs_text *out, const vs_ask_scene *scene,
                                 const vs_caution_optics *optics, vs_status status,
                                 const vs_cautions_peaks *peaks, vs_exit code);
/* Ends an answer about light alone: one line in place of the cautions, if they can be
 * calculated. */
vs_exit vs_ask_scene_light_caution(vs_text *out, const vs_ask_scene *scene,
                                   const vs_cautions_peaks *peaks, vs_exit code);
/* The message for cautions that vs_caution_optics_init could not calculate. */
vs_exit vs_ask_fail_cautions(const vs_ask_scene *scene, vs_status status);
/* The alarms of a JSON answer; none if the fluid's optics fail. */
void vs_ask_scene_alarms(vs_json *json, const vs_ask_scene *scene, const vs_cautions_peaks *peaks);

/* Gives shots with open density the one that choose recommends. If that is impossible for all, only
 * for the shot `only` and those it must look like (VS_NONE: all or none). After this scene->scene
 * must not be moved. */
vs_exit vs_ask_scene_fill_densities(vs_ask_scene *scene, size_t only);

/* Reports the failure of a choice: open shots that must look like each other are named by their
 * place. */
vs_exit vs_ask_fail_choice(const char *path, vs_status status, size_t culprit);

/* Begins a text answer: the scene's title, a line where its lengths look as if they were in another
 * unit, and one for each open density that was chosen. */
void vs_ask_scene_head(vs_text *out, const vs_ask_scene *scene);
/* Begins a JSON answer: an open object with its command, scene, doubt and chosen densities. */
void vs_ask_scene_head_json(vs_json *json, const char *command, const vs_ask_scene *scene);

#endif
