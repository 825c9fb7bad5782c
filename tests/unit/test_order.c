/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The order of the day against every possible order: by random waits, and by whole days' plans. */
#include "check.h"
#include "day.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "veilstop/base/units.h"
#include "veilstop/shot/dwell.h"
#include "veilstop/shot/order.h"

#define MANY 40

/* Waits as numbers, without a scene. */
typedef struct {
    vs_waits waits;
    double first_s[MANY], between_s[MANY * MANY];
    vs_scene_shot shot[MANY];
    size_t after[MANY][MANY];
} wait_set;

static void random_waits(wait_set *s, random_stream *r, size_t count, double chance_of_after) {
    memset(s, 0, sizeof *s);
    s->waits = (vs_waits){count, s->first_s, s->between_s};
    for (size_t i = 0; i < count; i++) {
        s->first_s[i] = random_uniform(r, 0, 3000);
        s->shot[i].after = s->after[i];
        for (size_t j = 0; j < count; j++) {
            s->between_s[i * count + j] = random_uniform(r, 0, 3000);
            if (j != i && (i * 7 + 3) % count < (j * 7 + 3) % count &&
                random_uniform(r, 0, 1) < chance_of_after) {
                s->after[i][s->shot[i].after_count++] = j;
            }
        }
    }
}

/* The least of all orders that continue from the `placed` shots. */
static double least_from(const wait_set *s, size_t *order, size_t placed, bool *used,
                         size_t *weighed) {
    size_t n = s->waits.count;
    if (placed == n) {
        ++*weighed;
        return vs_waits_total_s(&s->waits, order);
    }
    double least_s = INFINITY;
    for (size_t i = 0; i < n; i++) {
        bool free_to = !used[i];
        for (size_t k = 0; k < s->shot[i].after_count; k++) {
            free_to = free_to && used[s->shot[i].after[k]];
        }
        if (free_to) {
            used[i] = true;
            order[placed] = i;
            least_s = fmin(least_s, least_from(s, order, placed + 1, used, weighed));
            used[i] = false;
        }
    }
    return least_s;
}

static bool keeps_all(const wait_set *s, const size_t *order) {
    bool used[MANY] = {false};
    for (size_t i = 0; i < s->waits.count; i++) {
        const vs_scene_shot *shot = &s->shot[order[i]];
        if (used[order[i]]) {
            return false;
        }
        for (size_t k = 0; k < shot->after_count; k++) {
            if (!used[shot->after[k]]) {
                return false;
            }
        }
        used[order[i]] = true;
    }
    return true;
}

static void the_least_of_every_order_of_eight(void **state) {
    (void)state;
    static wait_set s;
    random_stream r = {5};
    size_t weighed = 0;
    for (int round = 0; round < 6; round++) {
        random_waits(&s, &r, 8, 0.1 * round / 2);
        size_t order[MANY], found[MANY];
        bool used[MANY] = {false}, exact;
        CHECK_OK(vs_order_least(&s.waits, s.shot, found, &exact));
        CHECK_TRUE(exact && keeps_all(&s, found));
        double least_s = least_from(&s, order, 0, used, &weighed);
        CHECK_NEAR(vs_waits_total_s(&s.waits, found), least_s, 0, 1.0 + 1e-9);
    }
    printf("measured: the order found is the least of all, 6 days of 8 shots, %zu orders\n",
           weighed);
}

/* If nothing is gained, the file's order stays. */
static void equal_orders_leave_the_file_alone(void **state) {
    (void)state;
    static wait_set s;
    random_stream r = {6};
    random_waits(&s, &r, 9, 0);
    for (size_t i = 0; i < 9 * 9; i++) {
        s.between_s[i] = 300;
    }
    for (size_t i = 0; i < 9; i++) {
        s.first_s[i] = 60;
    }
    size_t found[MANY];
    bool exact;
    CHECK_OK(vs_order_least(&s.waits, s.shot, found, &exact));
    for (size_t i = 0; i < 9; i++) {
        CHECK_TRUE(found[i] == i);
    }
    s.shot[2].after = s.after[2];
    s.shot[2].after_count = 1;
    s.after[2][0] = 7;
    CHECK_OK(vs_order_least(&s.waits, s.shot, found, &exact));
    CHECK_TRUE(found[0] == 0 && found[1] == 1 && found[2] == 3 && found[6] == 7 && found[7] == 2);
    s.shot[7].after = s.after[7];
    s.shot[7].after_count = 1;
    s.after[7][0] = 2;
    CHECK_STATUS(vs_order_least(&s.waits, s.shot, found, &exact), VS_ERR_INPUT);
}

/* Densities on a line, waits as their differences: the least is the span, for thin to thick. The
 * search for many shots must find it, respect every `after`, and come close to the exact one at
 * 12. */
static void many_shots_are_ordered_well(void **state) {
    (void)state;
    static wait_set s;
    random_stream r = {7};
    random_waits(&s, &r, MANY, 0);
    double place[MANY], low = INFINITY, high = 0;
    for (size_t i = 0; i < MANY; i++) {
        place[i] = random_uniform(&r, 100, 5000);
        s.first_s[i] = place[i];
        low = fmin(low, place[i]);
        high = fmax(high, place[i]);
    }
    for (size_t i = 0; i < MANY * MANY; i++) {
        s.between_s[i] = fabs(place[i / MANY] - place[i % MANY]);
    }
    size_t found[MANY];
    bool exact;
    CHECK_OK(vs_order_least(&s.waits, s.shot, found, &exact));
    CHECK_TRUE(!exact && keeps_all(&s, found));
    CHECK_NEAR(vs_waits_total_s(&s.waits, found), high, 0, 2);
    random_waits(&s, &r, MANY, 0.05);
    CHECK_OK(vs_order_least(&s.waits, s.shot, found, &exact));
    CHECK_TRUE(keeps_all(&s, found));
    size_t file[MANY];
    for (size_t i = 0; i < MANY; i++) {
        file[i] = i;
    }
    printf("measured: 40 shots of random waits: %.0f min found, %.0f min as filed\n",
           vs_waits_total_s(&s.waits, found) / 60, vs_waits_total_s(&s.waits, file) / 60);
}

/* A random day: up to three rooms in a row, some that purge, takes in some shots. */
#define DAY_MOST 7

typedef struct {
    day_set day;
    vs_scene_shot shot[DAY_MOST];
    double density[DAY_MOST][DAY_ROOMS];
} many_shots;

static void random_shot(many_shots *s, random_stream *r, size_t i, size_t rooms) {
    double k = random_log_uniform(r, 0.004, 0.06);
    for (size_t room = 0; room < DAY_ROOMS; room++) {
        s->density[i][room] = k;
    }
    s->shot[i] = (vs_scene_shot){.name = "shot",
                                 .camera = random_index(r, 3) ? 0 : random_index(r, rooms),
                                 .density = VS_DENSITY_EXTINCTION,
                                 .room_density = s->density[i],
                                 .length_s = random_uniform(r, 4, 50) * VS_S_PER_MIN,
                                 .roll_s = NAN,
                                 .reset_s = NAN};
    if (random_index(r, 2)) {
        s->shot[i].roll_s = random_uniform(r, 20, 240);
        s->shot[i].reset_s = random_uniform(r, 60, 300);
    }
}

static void random_day(many_shots *s, random_stream *r, size_t shots) {
    day_set *d = &s->day;
    day_init(d);
    d->room[0].size_m.x = random_uniform(r, 4, 16);
    d->room[0].mixing_s = random_uniform(r, 0, 400);
    size_t rooms = 1 + random_index(r, DAY_ROOMS);
    bool purges = random_index(r, 2);
    for (size_t i = 0; i < rooms; i++) {
        if (i > 0) {
            day_add_room(d, random_uniform(r, 3, 10), random_uniform(r, 0.2, 3));
            day_add_opening(d, i - 1, i, random_uniform(r, 20, 250));
        }
        d->room[i].purge_air_change_per_s =
            purges ? random_uniform(r, 2, 12) / VS_S_PER_H : (double)NAN;
    }
    d->scene.fluid.half_life_s = random_log_uniform(r, 1500, 30000);
    d->scene.hazer.fluid_ml_per_s = random_log_uniform(r, 20, 150) / VS_S_PER_H;
    d->scene.hazer.burst_min_s = random_log_uniform(r, 2, 20);
    d->scene.hazer.burst_max_s = d->scene.hazer.burst_min_s * random_log_uniform(r, 4, 40);
    d->scene.hazer.warm_up_s = random_uniform(r, 0, 120);
    for (size_t i = 0; i < shots; i++) {
        random_shot(s, r, i, rooms);
    }
    d->scene.shot = s->shot;
    d->scene.shot_count = shots;
}

static double plan_wait_s(const many_shots *s, const size_t *order) {
    vs_dwell d;
    CHECK_OK(vs_dwell_plan(&s->day.scene, &s->day.haze, order, NULL, &d));
    double wait_s = d.end_s;
    for (size_t i = 0; i < s->day.scene.shot_count; i++) {
        wait_s -= s->shot[i].length_s;
    }
    vs_dwell_free(&d);
    return wait_s;
}

/* The least of every order of a day planned whole. */
static double least_plan_s(const many_shots *s, size_t *order, size_t placed) {
    size_t n = s->day.scene.shot_count;
    if (placed == n) {
        return plan_wait_s(s, order);
    }
    double least_s = INFINITY;
    for (size_t i = placed; i < n; i++) {
        size_t keep = order[placed];
        order[placed] = order[i];
        order[i] = keep;
        least_s = fmin(least_s, least_plan_s(s, order, placed + 1));
        order[i] = order[placed];
        order[placed] = keep;
    }
    return least_s;
}

/* 50 random days of 4 to 6 shots: no permutation, planned whole, waits less than the order found.
 */
static void no_order_waits_less(void **state) {
    (void)state;
    static many_shots s;
    random_stream r = {1601};
    double worst_s = 0, saved_s = 0, off_s = 0;
    for (int day = 0; day < 50; day++) {
        size_t shots = day % 25 == 0 ? 6 : day % 3 == 0 ? 5 : 4, order[DAY_MOST];
        vs_order found;
        random_day(&s, &r, shots);
        CHECK_OK(vs_order_day(&s.day.scene, &s.day.haze, NULL, VS_ORDER_EXACT_MAX, &found));
        CHECK_TRUE(found.exact && found.wait_s <= found.file_wait_s);
        for (size_t i = 0; i < shots; i++) {
            order[i] = i;
        }
        worst_s = fmax(worst_s, found.wait_s - least_plan_s(&s, order, 0));
        saved_s += found.file_wait_s - found.wait_s;
        off_s = fmax(off_s, fabs(found.wait_s - plan_wait_s(&s, found.shot)));
        vs_order_free(&found);
    }
    printf("measured: 50 random days of 4 to 6 shots: at most %.2f s over the least of all "
           "permutations; %.0f min a day saved on the file's; rehearsal and plan within %.1e s\n",
           worst_s, saved_s / 50 / VS_S_PER_MIN, off_s);
    CHECK_TRUE(worst_s <= VS_ORDER_EQUAL_S);
    CHECK_TRUE(off_s <= 1e-6);
}

/* The result of the search for many shots, on days of 7 shots, for which every order can be
 * tried. */
static void the_search_for_many_comes_near(void **state) {
    (void)state;
    static many_shots s;
    random_stream r = {1602};
    double worst = 0, sum = 0;
    int days = 8;
    for (int day = 0; day < days; day++) {
        vs_order all, some;
        random_day(&s, &r, 7);
        CHECK_OK(vs_order_day(&s.day.scene, &s.day.haze, NULL, VS_ORDER_EXACT_MAX, &all));
        CHECK_OK(vs_order_day(&s.day.scene, &s.day.haze, NULL, 3, &some));
        CHECK_TRUE(all.exact && !some.exact);
        CHECK_TRUE(some.wait_s >= all.wait_s - VS_ORDER_EQUAL_S);
        double gap = all.wait_s > 0 ? some.wait_s / all.wait_s - 1 : 0;
        worst = fmax(worst, gap);
        sum += gap / days;
        vs_order_free(&all);
        vs_order_free(&some);
    }
    printf("measured: the search for many shots, on %d days of 7: %.2f %% over the least in the "
           "mean, %.2f %% at most\n",
           days, 100 * sum, 100 * worst);
    CHECK_TRUE(worst <= VS_ORDER_GAP);
}

/* The first wait is the fill's closed form; of two shots, the thinner first is the better. */
static void waits_are_those_of_the_rooms(void **state) {
    (void)state;
    day_set s;
    day_init(&s);
    day_add_shot(&s, 0, 0.04, 20);
    day_add_shot(&s, 0, 0.02, 20);
    vs_waits w;
    size_t culprit;
    CHECK_OK(vs_waits_init(&w, &s.scene, &s.haze, NULL, &culprit));
    vs_dwell d;
    CHECK_OK(vs_dwell_plan(&s.scene, &s.haze, NULL, NULL, &d));
    CHECK_NEAR(w.first_s[0], d.shot[0].start_s, 1e-9, 0);
    double loss_per_s = d.room[0].loss.total;
    /* from held at 0.04 down to 5 % over 0.02 */
    CHECK_NEAR(w.between_s[1], log(0.04 / (1.05 * 0.02)) / loss_per_s, 1e-3, 0);
    CHECK_TRUE(w.first_s[1] + w.between_s[2] < w.first_s[0] + w.between_s[1]);
    vs_dwell_free(&d);
    vs_waits_free(&w);
    s.scene.hazer.room = VS_NONE;
    CHECK_STATUS(vs_waits_init(&w, &s.scene, &s.haze, NULL, &culprit), VS_ERR_INPUT);
    CHECK_TRUE(culprit == 0 && !w.first_s);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_least_of_every_order_of_eight),
        cmocka_unit_test(equal_orders_leave_the_file_alone),
        cmocka_unit_test(many_shots_are_ordered_well),
        cmocka_unit_test(waits_are_those_of_the_rooms),
        cmocka_unit_test(no_order_waits_less),
        cmocka_unit_test(the_search_for_many_comes_near),
    };
    return RUN_TESTS(tests);
}
