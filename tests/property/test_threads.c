/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Handles of one scene on eight threads at the same time give the answers of each alone, and so does
 * a handle whose jobs its caller runs on threads. `make threads` runs this under the thread
 * sanitizer. */
#include "check.h"
#include "demo.h"
#include "program.h"

#include <pthread.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/ask/ask.h"
#include "veilstop/camera/view.h"

#define LINES 36

static void open_demo(vs_ask *ask) {
    size_t length;
    vs_faults faults = {0};
    char *text = tests_file("../data/demo/cellar.json", &length);
    CHECK_OK(vs_ask_open(ask, text, length, "data/demo/cellar.json", &demo_means, &faults));
    free(text);
}

#define HANDLES 8
typedef struct {
    vs_ask ask;
    size_t number;
    double veil_nits, point_nits;
    bool failed;
} asker;

/* The sum of the once-scattered veil over some lines of the second shot. */
static void ask_lines(asker *a) {
    const vs_scene *scene = vs_ask_scene_of(&a->ask);
    vs_view view = vs_view_make(&scene->camera[scene->shot[1].camera]);
    size_t columns = scene->light_count + 1;
    vs_vec3 direction[LINES];
    vs_bands *veil = calloc(LINES * columns, sizeof *veil);
    for (size_t i = 0; i < LINES; i++) {
        direction[i] =
            vs_view_direction(&view, 0.3 * (double)(i % 6) - 0.75, 0.3 * (double)(i / 6) - 0.75);
    }
    vs_rays_block block = {LINES, direction, NULL, 0};
    vs_rays_light light = {.veil = veil};
    a->failed = a->failed || !veil || vs_ask_rays(&a->ask, 1, &block, &light) != VS_OK;
    a->veil_nits = 0;
    for (size_t i = 0; veil && i < LINES * columns; i++) {
        a->veil_nits += vs_bands_luminance(veil[i]);
    }
    free(veil);
}

static void ask_command(asker *a) {
    const char *const word[] = {"predict", "--shot", vs_ask_scene_of(&a->ask)->shot[1].name,
                                "--json", NULL};
    vs_ask_answer answer;
    if (vs_ask_command_run(&a->ask, word, &answer) != VS_OK) {
        a->failed = true;
        return;
    }
    a->failed = a->failed || answer.exit > VS_EXIT_UNMET;
    a->point_nits = program_number_after(answer.text, "\"veil_nits\":");
    vs_ask_answer_free(&answer);
}

static void *ask_alone(void *context) {
    asker *a = context;
    double k[3];
    k[0] = k[1] = k[2] = 0.01 + 0.002 * (double)a->number;
    a->failed = vs_ask_set(&a->ask, 1, k, NULL) != VS_OK;
    ask_lines(a);
    ask_command(a);
    return NULL;
}

/* Each with its own density: they do not mix. */
static void handles_on_threads_keep_apart(void **state) {
    (void)state;
    static asker side[HANDLES];
    pthread_t thread[HANDLES];
    vs_ask first;
    open_demo(&first);
    for (size_t i = 0; i < HANDLES; i++) {
        side[i].number = i;
        CHECK_OK(vs_ask_open_beside(&side[i].ask, &first));
    }
    for (size_t i = 0; i < HANDLES; i++) {
        CHECK_TRUE(pthread_create(&thread[i], NULL, ask_alone, &side[i]) == 0);
    }
    for (size_t i = 0; i < HANDLES; i++) {
        pthread_join(thread[i], NULL);
    }
    for (size_t i = 0; i < HANDLES; i++) {
        asker alone = {.ask = first, .number = i};
        ask_alone(&alone);
        CHECK_TRUE(!side[i].failed && !alone.failed);
        CHECK_NEAR(side[i].veil_nits, alone.veil_nits, 1e-12, 0);
        CHECK_NEAR(side[i].point_nits, alone.point_nits, 1e-9, 0);
        CHECK_TRUE(i == 0 || side[i].point_nits > side[i - 1].point_nits);
        vs_ask_close(&side[i].ask);
    }
    vs_ask_close(&first);
}

/* ---- jobs on threads ---- */

#define WORKERS 3

typedef struct {
    size_t count, next, running;
    pthread_mutex_t lock;
    void (*job)(void *context, size_t worker, size_t i);
    void *context;
} job_list;

static void *do_jobs(void *context) {
    job_list *list = context;
    pthread_mutex_lock(&list->lock);
    size_t worker = list->running++;
    while (list->next < list->count) {
        size_t i = list->next++;
        pthread_mutex_unlock(&list->lock);
        list->job(list->context, worker, i);
        pthread_mutex_lock(&list->lock);
    }
    pthread_mutex_unlock(&list->lock);
    return NULL;
}

static size_t three_workers(void *context, size_t count) {
    (void)context;
    return count < WORKERS ? count : WORKERS;
}

static void each_on_threads(void *context, size_t count, const char *doing,
                            void (*job)(void *context, size_t worker, size_t i),
                            void *job_context) {
    job_list list = {.count = count, .job = job, .context = job_context};
    pthread_t thread[WORKERS];
    size_t started = three_workers(NULL, count), *jobs = context;
    (void)doing;
    *jobs += count;
    CHECK_TRUE(pthread_mutex_init(&list.lock, NULL) == 0);
    for (size_t i = 0; i < started; i++) {
        CHECK_TRUE(pthread_create(&thread[i], NULL, do_jobs, &list) == 0);
    }
    for (size_t i = 0; i < started; i++) {
        pthread_join(thread[i], NULL);
    }
    pthread_mutex_destroy(&list.lock);
}

static char *chosen_with(const vs_ask_means *means) {
    static const char *const word[] = {"choose", "--json", NULL};
    size_t length;
    vs_ask ask;
    vs_faults faults = {0};
    vs_ask_answer answer;
    char *text = tests_file("../data/demo/washroom.json", &length);
    CHECK_OK(vs_ask_open(&ask, text, length, "data/demo/washroom.json", means, &faults));
    CHECK_OK(vs_ask_command_run(&ask, word, &answer));
    CHECK_TRUE(answer.exit <= VS_EXIT_UNMET);
    char *told = strdup(answer.text);
    vs_ask_answer_free(&answer);
    vs_ask_close(&ask);
    free(text);
    return told;
}

/* The bounced light of a choice is shared out among threads. */
static void jobs_on_threads_give_the_same_answer(void **state) {
    (void)state;
    size_t jobs = 0;
    const vs_ask_means threads = {.context = &jobs,
                                  .read = demo_means.read,
                                  .workers = three_workers,
                                  .each = each_on_threads};
    char *shared = chosen_with(&threads), *alone = chosen_with(&demo_means);
    CHECK_TRUE(jobs >= 5 && strcmp(shared, alone) == 0);
    free(shared);
    free(alone);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(handles_on_threads_keep_apart),
        cmocka_unit_test(jobs_on_threads_give_the_same_answer),
    };
    return RUN_TESTS(tests);
}
