/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Making the curves of choose_indirect.h: which densities, and the work at each, which is shared by
 * all shots in the same haze and spread over as many threads as the caller runs. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/vector.h"
#include "shot/choose/choose_indirect.h"
#include "shot/choose/choose_model.h"
#include "veilstop/shot/held.h"

#define FIRST_COUNT 5    /* nodes at first */
#define NEARLY_NONE 1e-9 /* [1] of the end: for clear air, where veil over density is 0/0 */
#define SHARED_MOST 2.5  /* [1] ends of searches further apart have densities of their own */
#define APART       0.03 /* [1] of the curve: nodes nearer to each other tell little but noise */
#define TRIED       127  /* places for one more node: our choice */
/* [1] by which all light at the newest node may be off what it was by the others: measured with
 * choose_indirect.c's constants, what is between them is then off by about a fifth of that */
#define MISS_MOST 0.001

/* Light to be worked out at a density, for all curves in the group of the first that lack it. */
typedef struct {
    size_t first;
    double k_per_m;
    vs_status status; /* VS_ERR_MEMORY or VS_OK */
} task;

/* Curves being made. */
typedef struct {
    vs_predictor *predictor;
    vs_predictor *beside; /* of the workers after the first */
    size_t beside_count;
    vs_indirect_curve *curve;
    size_t count;
    size_t
        *group; /* curve: the first of those in its haze whose light is worked out with its own */
    task *task;
    size_t task_count;
} filling;

static size_t beams_of(const vs_scene_shot *shot) {
    size_t count = 0;
    for (size_t i = 0; i < shot->want_count; i++) {
        count += shot->want[i].kind == VS_WANT_BEAM;
    }
    return count;
}

static vs_status begin(const vs_scene *scene, vs_indirect_curve *curve) {
    const vs_scene_shot *shot = &scene->shot[curve->shot];
    curve->points = shot->point_count;
    curve->beams = beams_of(shot);
    curve->lights = scene->light_count;
    curve->read.known = true;
    curve->read.points = curve->points;
    curve->read.note =
        calloc(vs_indirect_curve_notes(curve) * curve->lights + 1, sizeof *curve->read.note);
    return curve->read.note ? VS_OK : VS_ERR_MEMORY;
}

/* Whether two shots have the same haze at the same density: cameras in one room, openings set alike.
 */
static bool same_air(const vs_predictor *predictor, const vs_indirect_curve *a,
                     const vs_indirect_curve *b) {
    const vs_scene_shot *one = &predictor->scene->shot[a->shot];
    const vs_scene_shot *other = &predictor->scene->shot[b->shot];
    return vs_predictor_place_of(predictor, one) == vs_predictor_place_of(predictor, other) &&
           vs_choose_camera_room(predictor, one) == vs_choose_camera_room(predictor, other);
}

/* Ends of searches in the same air that are nearly alike become one, so that the same hazes serve
 * several shots. */
static void share_ends(const filling *f) {
    for (;;) {
        const vs_indirect_curve *farthest = NULL;
        for (size_t i = 0; i < f->count; i++) {
            const vs_indirect_curve *c = &f->curve[i];
            bool more = !farthest || c->search_end_per_m > farthest->search_end_per_m;
            farthest = c->end_per_m == 0 && c->search_end_per_m > 0 && more ? c : farthest;
        }
        if (!farthest) {
            return;
        }
        double most = farthest->search_end_per_m;
        for (size_t i = 0; i < f->count; i++) {
            vs_indirect_curve *c = &f->curve[i];
            bool with = c->end_per_m == 0 && c->search_end_per_m * SHARED_MOST >= most &&
                        same_air(f->predictor, farthest, c);
            c->end_per_m = with ? most : c->end_per_m;
        }
    }
}

/* ---- which are worked out together ---- */

static bool same_haze(const vs_predictor *predictor, const vs_indirect_curve *a,
                      const vs_indirect_curve *b) {
    return a->end_per_m == b->end_per_m && same_air(predictor, a, b);
}

/* Adds a shot's lights to some. Returns how many they are. */
static size_t add_lights(const vs_scene *scene, const vs_scene_shot *shot, bool *lit) {
    size_t count = 0;
    for (size_t i = 0; i < shot->light_count; i++) {
        lit[shot->light[i]] = true;
    }
    for (size_t i = 0; i < scene->light_count; i++) {
        count += lit[i];
    }
    return count;
}

/* Shots in one haze with as many lights as are solved for at a time: another group of them costs no
 * more on another thread. */
static vs_status make_groups(filling *f) {
    const vs_scene *scene = f->predictor->scene;
    bool *lit = calloc(scene->light_count + 1, sizeof *lit);
    f->group = calloc(f->count + 1, sizeof *f->group);
    for (size_t c = 0; lit && f->group && c < f->count; c++) {
        f->group[c] = c;
        for (size_t g = 0; g < c && f->group[c] == c; g++) {
            memset(lit, 0, scene->light_count * sizeof *lit);
            for (size_t i = g; i < c; i++) {
                if (f->group[i] == g) {
                    add_lights(scene, &scene->shot[f->curve[i].shot], lit);
                }
            }
            bool with = f->group[g] == g && same_haze(f->predictor, &f->curve[g], &f->curve[c]) &&
                        add_lights(scene, &scene->shot[f->curve[c].shot], lit) <= LANES;
            f->group[c] = with ? g : c;
        }
    }
    vs_status status = lit && f->group ? VS_OK : VS_ERR_MEMORY;
    free(lit);
    return status;
}

/* ---- which densities ---- */

/* One more density, unless it is next to one that there is. */
static void add_node(vs_indirect_curve *curve, double k_per_m) {
    double place = vs_indirect_curve_place(curve, k_per_m);
    for (size_t i = 0; i < curve->count; i++) {
        if (!(fabs(place - vs_indirect_curve_place(curve, curve->k_per_m[i])) >= APART)) {
            return;
        }
    }
    curve->k_per_m[curve->count++] = k_per_m;
}

/* How far a place is from a curve's nodes: the logarithm of Leja's product. */
static double distance(const vs_indirect_curve *curve, double place) {
    double sum = 0;
    for (size_t i = 0; i < curve->count; i++) {
        sum += log(fabs(place - vs_indirect_curve_place(curve, curve->k_per_m[i])));
    }
    return sum;
}

static bool lacks_nodes(const vs_indirect_curve *curve, size_t wanted) {
    return curve->end_per_m > 0 && curve->count < wanted;
}

/* One more node for all curves in the haze of one of them that have fewer than it should have: where
 * they are farthest from those they have. */
static void add_common(const filling *f, size_t which, const size_t *wanted) {
    double best = -INFINITY, best_place = 0.5;
    for (int i = 1; i <= TRIED; i++) {
        double place = (double)i / (TRIED + 1), sum = 0;
        for (size_t c = 0; c < f->count; c++) {
            bool with = lacks_nodes(&f->curve[c], wanted[c]) &&
                        same_haze(f->predictor, &f->curve[which], &f->curve[c]);
            sum += with ? distance(&f->curve[c], place) : 0;
        }
        best_place = sum > best ? place : best_place;
        best = fmax(sum, best);
    }
    double k_per_m = vs_indirect_curve_per_m(&f->curve[which], best_place);
    for (size_t c = 0; c < f->count; c++) {
        vs_indirect_curve *curve = &f->curve[c];
        if (lacks_nodes(curve, wanted[c]) && same_haze(f->predictor, &f->curve[which], curve)) {
            curve->k_per_m[curve->count++] = k_per_m;
        }
    }
}

/* As many nodes for each curve as it should have. */
static void add_nodes(const filling *f, const size_t *wanted) {
    for (size_t c = 0; c < f->count; c++) {
        vs_indirect_curve *curve = &f->curve[c];
        if (curve->count == 0 && lacks_nodes(curve, wanted[c])) {
            curve->k_per_m[curve->count++] = NEARLY_NONE * curve->end_per_m;
            add_node(curve, curve->end_per_m);
            if (curve->planned_per_m <= curve->end_per_m) {
                add_node(curve, curve->planned_per_m);
            }
        }
    }
    for (size_t c = 0; c < f->count; c++) {
        while (lacks_nodes(&f->curve[c], wanted[c])) {
            add_common(f, c, wanted);
        }
    }
}

/* ---- the light at each ---- */

/* The node of a density that a curve has, but not its light; count if there is none. Other nodes'
 * light is not looked at: another task may be at it. */
static size_t lacking(const vs_indirect_curve *curve, double k_per_m) {
    for (size_t i = 0; i < curve->count; i++) {
        if (curve->k_per_m[i] == k_per_m && !curve->node[i]) {
            return i;
        }
    }
    return curve->count;
}

static bool takes_part(const filling *f, const task *t, size_t c) {
    const vs_indirect_curve *curve = &f->curve[c];
    return f->group[t->first] == f->group[c] && lacking(curve, t->k_per_m) < curve->count;
}

static vs_status predict(vs_predictor *p, const vs_indirect_curve *curve, double k_per_m,
                         vs_indirect_notes *notes, double *room_per_m, vs_shot_prediction *out) {
    const vs_predict_part part = {NULL, true, false, notes};
    vs_status status =
        vs_held_rooms(p->scene, &p->scene->shot[curve->shot], &p->haze, k_per_m, room_per_m);
    return status == VS_OK ? vs_predict_part_of_shot(p, curve->shot, &part, room_per_m, out)
                           : status;
}

/* Writes down a shot's indirect light at one density; of the newest of its own search all light. */
static vs_status ask_node(vs_predictor *p, vs_indirect_curve *curve, size_t node,
                          double *room_per_m) {
    size_t count = vs_indirect_curve_notes(curve) * curve->lights;
    vs_indirect_notes notes = {.points = curve->points};
    vs_shot_prediction prediction;
    bool newest = node == vs_indirect_curve_newest(curve);
    notes.note = calloc(count + 1, sizeof *notes.note);
    notes.direct = calloc(count + 1, sizeof *notes.direct);
    double k_per_m = curve->k_per_m[node];
    if (notes.direct && k_per_m != curve->planned_per_m) { /* there nothing is interpolated */
        notes.direct_known = vs_direct_curve_at(&curve->direct, k_per_m, notes.direct);
    }
    vs_status status = notes.note && notes.direct
                           ? predict(p, curve, k_per_m, &notes, room_per_m, &prediction)
                           : VS_ERR_MEMORY;
    if (status != VS_OK) {
        free(notes.note);
        free(notes.direct);
        return status;
    }
    if (newest) {
        vs_shot_prediction_free(&curve->newest);
        free(curve->newest_direct);
        curve->newest = prediction;
        curve->newest_direct = notes.direct;
    } else {
        vs_shot_prediction_free(&prediction);
        free(notes.direct);
    }
    curve->node[node] = notes.note;
    return VS_OK;
}

/* ---- how well it is known ---- */

/* By how much the light at the newest density is off what it was by the others. */
static vs_status find_miss(const filling *f, vs_indirect_curve *curve, double *miss) {
    vs_indirect_notes others = *vs_indirect_curve_foretold(curve);
    vs_shot_prediction prediction;
    double *room_per_m = calloc(f->predictor->scene->room_count + 1, sizeof *room_per_m);
    others.direct = curve->newest_direct;
    others.direct_known = true;
    double k_per_m = curve->k_per_m[vs_indirect_curve_newest(curve)];
    vs_status status = room_per_m
                           ? predict(f->predictor, curve, k_per_m, &others, room_per_m, &prediction)
                           : VS_ERR_MEMORY;
    if (status == VS_OK) {
        *miss = vs_indirect_most_off(&prediction, &curve->newest);
        vs_shot_prediction_free(&prediction);
    }
    free(room_per_m);
    return status;
}

/* ---- one density ---- */

/* The lights of a task's shots, as the first that uses each sets it. */
static vs_status gather_lights(const filling *f, vs_predictor *p, const task *t,
                               const double *room_per_m, vs_emitter *light) {
    vs_status status = VS_OK;
    for (size_t c = t->first; c < f->count && status == VS_OK; c++) {
        if (takes_part(f, t, c)) {
            vs_camera_setup setup =
                vs_camera_setup_make(p, &p->scene->shot[f->curve[c].shot], room_per_m);
            status = vs_camera_setup_lights(&setup);
            for (size_t e = 0; e < p->scene->light_count && status == VS_OK; e++) {
                bool dark = vs_bands_luminance(light[e].strength) == 0;
                light[e] = dark ? p->hazed_light[e] : light[e];
            }
        }
    }
    return status;
}

/* Works the fields of all those lights out together, which is quicker than shot by shot; the
 * predictor keeps them. */
static vs_status solve_together(const filling *f, vs_predictor *p, const task *t,
                                double *room_per_m, vs_emitter *light) {
    const vs_scene_shot *shot = &p->scene->shot[f->curve[t->first].shot];
    vs_status status = vs_predictor_set_openings(p, shot);
    if (status == VS_OK) {
        status = vs_held_rooms(p->scene, shot, &p->haze, t->k_per_m, room_per_m);
    }
    if (status == VS_OK) {
        status = gather_lights(f, p, t, room_per_m, light);
    }
    if (status == VS_OK) {
        vs_camera_setup setup = vs_camera_setup_make(p, shot, room_per_m);
        status = vs_camera_setup_solve(&setup, light, light);
    }
    return status;
}

static vs_predictor *predictor_of(const filling *f, size_t worker) {
    return worker == 0 ? f->predictor : &f->beside[worker - 1];
}

/* One task. A curve whose light cannot be worked out goes on lacking it. */
static void do_task(void *context, size_t worker, size_t i) {
    const filling *f = context;
    task *t = &f->task[i];
    vs_predictor *p = predictor_of(f, worker);
    const vs_scene *scene = f->predictor->scene;
    double *room_per_m = calloc(scene->room_count + 1, sizeof *room_per_m);
    vs_emitter *light = calloc(scene->light_count + 1, sizeof *light);
    vs_status status = room_per_m && light ? VS_OK : VS_ERR_MEMORY;
    if (status == VS_OK) {
        status = solve_together(f, p, t, room_per_m, light);
    }
    for (size_t c = t->first; c < f->count && status != VS_ERR_MEMORY; c++) {
        if (takes_part(f, t, c)) {
            vs_indirect_curve *curve = &f->curve[c];
            vs_status asked = ask_node(p, curve, lacking(curve, t->k_per_m), room_per_m);
            status = asked == VS_ERR_MEMORY ? asked : status;
        }
    }
    t->status = status == VS_ERR_MEMORY ? status : VS_OK;
    free(room_per_m);
    free(light);
}

static bool is_listed(const filling *f, size_t c, double k_per_m) {
    for (size_t i = 0; i < f->task_count; i++) {
        if (f->task[i].k_per_m == k_per_m && f->group[f->task[i].first] == f->group[c]) {
            return true;
        }
    }
    return false;
}

/* The densities at which light is lacking; the longest, in thick haze with all lamps, first. */
static vs_status list_tasks(filling *f) {
    free(f->task);
    f->task_count = 0;
    f->task = calloc(f->count * VS_INDIRECT_NODES_MAX + 1, sizeof *f->task);
    if (!f->task) {
        return VS_ERR_MEMORY;
    }
    for (size_t i = VS_INDIRECT_NODES_MAX; i-- > 0;) {
        for (size_t c = 0; c < f->count; c++) {
            const vs_indirect_curve *curve = &f->curve[c];
            if (i < curve->count && !curve->node[i] && !is_listed(f, c, curve->k_per_m[i])) {
                f->task[f->task_count++] = (task){c, curve->k_per_m[i], VS_OK};
            }
        }
    }
    return VS_OK;
}

/* A predictor for one more worker, with what the first has of the lamps. */
static vs_status add_worker(filling *f, vs_predictor *p) {
    vs_status status = vs_predictor_init_beside(p, f->predictor);
    if (status != VS_OK) {
        return status;
    }
    for (size_t i = 0; i < f->predictor->scene->light_count; i++) {
        p->dim[i] = f->predictor->dim[i];
    }
    f->beside_count++;
    return VS_OK;
}

static vs_status have_workers(filling *f, size_t workers) {
    if (workers <= f->beside_count + 1) {
        return VS_OK;
    }
    vs_predictor *more = realloc(f->beside, (workers - 1) * sizeof *more);
    vs_status status = more ? VS_OK : VS_ERR_MEMORY;
    f->beside = more ? more : f->beside;
    while (status == VS_OK && f->beside_count + 1 < workers) {
        status = add_worker(f, &f->beside[f->beside_count]);
    }
    return status;
}

/* Does each of some jobs, on threads if there are any. */
static vs_status run(filling *f, size_t count,
                     void (*job)(void *context, size_t worker, size_t i)) {
    const vs_runner *runner = f->predictor->runner;
    vs_status status = VS_OK;
    if (runner) {
        status = have_workers(f, runner->workers(runner->context, count));
    }
    if (runner && status == VS_OK) {
        runner->each(runner->context, count, job, f);
    }
    for (size_t i = 0; i < count && !runner; i++) {
        job(f, 0, i);
    }
    return status;
}

static vs_status do_tasks(filling *f) {
    vs_status status = run(f, f->task_count, do_task);
    for (size_t i = 0; i < f->task_count && status == VS_OK; i++) {
        status = f->task[i].status;
    }
    return status;
}

/* Part of the direct light of one shot. */
static void know_direct(void *context, size_t worker, size_t i) {
    const filling *f = context;
    vs_indirect_curve *curve = &f->curve[i / VS_DIRECT_PARTS];
    size_t part = i % VS_DIRECT_PARTS;
    curve->direct_status[part] =
        vs_direct_curve_part(&curve->direct, predictor_of(f, worker), curve->shot, part);
}

/* A shot that cannot be predicted goes without. */
static vs_status know_all_direct(filling *f) {
    const vs_scene *scene = f->predictor->scene;
    vs_status status = VS_OK;
    for (size_t c = 0; c < f->count && status == VS_OK; c++) {
        vs_indirect_curve *curve = &f->curve[c];
        status = vs_direct_curve_begin(&curve->direct, scene, curve->shot, curve->search_end_per_m);
    }
    status = status == VS_OK ? run(f, f->count * VS_DIRECT_PARTS, know_direct) : status;
    for (size_t c = 0; c < f->count && status == VS_OK; c++) {
        vs_indirect_curve *curve = &f->curve[c];
        bool good = true;
        for (size_t i = 0; i < VS_DIRECT_PARTS; i++) {
            good = good && curve->direct_status[i] == VS_OK;
            status = curve->direct_status[i] == VS_ERR_MEMORY ? VS_ERR_MEMORY : status;
        }
        vs_direct_curve_end(&curve->direct, curve->search_end_per_m, good);
    }
    return status;
}

/* Works out what is lacking. A curve that goes on lacking light is let go. */
static vs_status fill(filling *f) {
    vs_status status = list_tasks(f);
    status = status == VS_OK ? do_tasks(f) : status;
    for (size_t c = 0; c < f->count && status == VS_OK; c++) {
        bool whole = true;
        for (size_t i = 0; i < f->curve[c].count; i++) {
            whole = whole && f->curve[c].node[i];
        }
        if (!whole) {
            vs_indirect_curve_free(&f->curve[c]);
        }
    }
    return status;
}

/* How many nodes each curve should have; *more: some have fewer. */
static vs_status want_nodes(const filling *f, size_t *wanted, bool *more) {
    vs_status status = VS_OK;
    *more = false;
    for (size_t c = 0; c < f->count && status == VS_OK; c++) {
        vs_indirect_curve *curve = &f->curve[c];
        wanted[c] = FIRST_COUNT;
        if (curve->count > 0) {
            double miss = NAN;
            status = find_miss(f, curve, &miss);
            bool known = miss <= MISS_MOST || curve->count == VS_INDIRECT_NODES_MAX;
            wanted[c] = curve->count + !known;
        }
        *more = *more || lacks_nodes(curve, wanted[c]);
    }
    return status;
}

/* Follows the lamps of all shots, once for all workers. */
static vs_status trace_lamps(vs_predictor *predictor, const vs_indirect_curve *curve,
                             size_t count) {
    size_t *shot = calloc(count + 1, sizeof *shot);
    if (!shot) {
        return VS_ERR_MEMORY;
    }
    for (size_t i = 0; i < count; i++) {
        shot[i] = curve[i].shot;
    }
    vs_status status = vs_predictor_trace(predictor, shot, count);
    free(shot);
    return status;
}

vs_status vs_indirect_curves_make(vs_predictor *predictor, vs_indirect_curve *curve, size_t count) {
    filling f = {.predictor = predictor, .curve = curve, .count = count};
    size_t *wanted = calloc(count + 1, sizeof *wanted);
    vs_status status = wanted ? VS_OK : VS_ERR_MEMORY;
    for (size_t i = 0; i < count && status == VS_OK; i++) {
        status = begin(predictor->scene, &curve[i]);
    }
    share_ends(&f);
    status = status == VS_OK ? make_groups(&f) : status;
    status = status == VS_OK ? trace_lamps(predictor, curve, count) : status;
    status = status == VS_OK ? know_all_direct(&f) : status;
    bool computed = predictor->scene->indirect == VS_INDIRECT_COMPUTED;
    for (bool more = computed; more && status == VS_OK;) {
        status = want_nodes(&f, wanted, &more);
        if (status == VS_OK && more) {
            add_nodes(&f, wanted);
            status = fill(&f);
        }
    }
    for (size_t i = 0; i < f.beside_count; i++) {
        vs_predictor_free(&f.beside[i]);
    }
    free(f.beside);
    free(f.task);
    free(f.group);
    free(wanted);
    return status;
}
