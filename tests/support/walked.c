/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "walked.h"

#include <pthread.h>
#include <stdatomic.h>

const char *const walked_class_name[WALKED_CLASSES] = {"to 0.5, rooms' mean ways to 0.15", "to 1",
                                                       "over 1"};

int walked_class(const vs_shot_prediction *p) {
    return p->longest_way_depth <= 0.5 && p->room_depth <= 0.15 ? 0
           : p->longest_way_depth <= 1                          ? 1
                                                                : 2;
}

typedef struct {
    const vs_trust *trust;
    size_t count;
    atomic_size_t next;
} queue;

static void *work(void *argument) {
    queue *q = argument;
    for (size_t chunk; (chunk = atomic_fetch_add(&q->next, 1)) < q->count;) {
        vs_trust_run_chunk(q->trust, chunk);
    }
    return NULL;
}

void walked_run(vs_trust *trust) {
    pthread_t other;
    queue q = {.trust = trust, .count = vs_trust_chunk_count(trust)};
    bool two = pthread_create(&other, NULL, work, &q) == 0;
    work(&q);
    if (two) {
        pthread_join(other, NULL);
    }
    vs_trust_finish(trust);
}

double walked_ratio(vs_bands predicted, const vs_tally *walks, double *error) {
    double nits = vs_bands_luminance(vs_tally_mean(walks));
    *error = vs_tally_error(walks) / nits;
    return vs_bands_luminance(predicted) / nits;
}
