/* SPDX-License-Identifier: GPL-3.0-or-later */
/* 500 simulated days of each kind, a meter of 0.1 stop: how often the 90 % intervals contain the
 * truth, how often a plan that was carried out is recognised, and whether the corrected scene
 * replays closer to the truth than the file's. The true output and losses are drawn from the fit's
 * priors. */
#include "check.h"
#include "day.h"
#include "meter.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "shot/reading/reading_day.h"
#include "veilstop/base/units.h"

#define DAYS     500
#define READINGS 12
#define LOOKS    60 /* at the curve, for replays */

typedef struct {
    size_t rooms;
    bool decays;    /* the hazer is off from the first reading on */
    bool own_looks; /* each reading has its own clear reading of the card */
} kind;

typedef struct {
    int held, of;
} tally;

typedef struct {
    tally reading, loss, output, last, closer, plan;
} tallies;

static void count(tally *t, bool held) {
    t->held += held;
    t->of++;
}

static double share(const tally *t) {
    return t->of > 0 ? (double)t->held / t->of : (double)NAN;
}

static double normal(random_stream *r) {
    double u = random_uniform(r, 0, 1), angle = random_uniform(r, 0, 2 * VS_PI);
    return sqrt(-2 * log1p(-u)) * cos(angle);
}

/* One day as it really is. */
typedef struct {
    day_set set;
    vs_dwell plan, played; /* what was carried out: the plan, or its beginning; borrows from plan */
    double planned_per_s[DAY_ROOMS], true_per_s[DAY_ROOMS], output;
    vs_reading_point point[LOOKS];
    double truth[LOOKS];
    vs_scene_reading reading[READINGS];
    double first_s, span_s;
} true_day;

static void draw_rooms(true_day *t, const kind *k, random_stream *r) {
    day_set *s = &t->set;
    day_init(s);
    s->room[0].size_m.x = random_uniform(r, 8, 16);
    s->room[0].mixing_s = random_uniform(r, 30, 300);
    if (k->rooms > 1) {
        day_add_room(s, random_uniform(r, 6, 12), random_uniform(r, 0.3, 1.5));
        day_add_opening(s, 0, 1, random_uniform(r, 40, 200));
    }
    s->scene.fluid.half_life_s = random_log_uniform(r, 2500, 20000);
    s->scene.hazer.burst_min_s = 3;
    s->scene.hazer.burst_max_s = 120;
    s->scene.hazer.fluid_ml_per_s = 100 / VS_S_PER_H;
    day_add_shot(s, 0, random_log_uniform(r, 0.03, 0.1), random_uniform(r, 60, 120));
    CHECK_OK(vs_dwell_plan(&s->scene, &s->haze, NULL, NULL, &t->plan));
    t->output = exp(VS_READING_PRIOR_SD * normal(r));
    for (size_t i = 0; i < k->rooms; i++) {
        t->planned_per_s[i] = t->plan.room[i].loss.total;
        t->true_per_s[i] = t->planned_per_s[i] * exp(VS_READING_PRIOR_SD * normal(r));
    }
    t->first_s = t->plan.shot[0].start_s;
    t->span_s = t->plan.shot[0].end_s - t->first_s;
}

static vs_reading_day day_of(const true_day *t, size_t points) {
    vs_reading_day day = {.scene = &t->set.scene,
                          .haze = &t->set.haze,
                          .plan = &t->played,
                          .point = t->point,
                          .count = points,
                          .own_per_s = t->planned_per_s};
    return day;
}

static void take_readings(true_day *t, const kind *k, random_stream *r) {
    for (size_t i = 0; i < READINGS; i++) {
        double at = ((double)i + random_uniform(r, 0.1, 0.9)) / READINGS;
        t->point[i] = (vs_reading_point){.at_s = t->first_s + at * t->span_s, .room = i % k->rooms};
    }
    t->played = t->plan;
    for (size_t i = 0; i < t->plan.event_count && k->decays; i++) {
        if (t->plan.event[i].at_s >= t->point[0].at_s) {
            t->played.event_count = i;
            break;
        }
    }
    vs_reading_day day = day_of(t, READINGS);
    CHECK_OK(vs_reading_replay(&day, t->true_per_s, t->truth));
    vs_scene_reading look[DAY_ROOMS];
    for (size_t i = 0; i < k->rooms; i++) {
        look[i] = meter_reading(0, 0.9 * t->set.room[i].size_m.x, 2, 0);
        meter_spoil_clear(&look[i], 0.1, r);
    }
    for (size_t i = 0; i < READINGS; i++) {
        size_t room = t->point[i].room;
        vs_scene_reading *g = &t->reading[i];
        t->truth[i] *= t->output;
        do {
            *g = meter_reading(t->point[i].at_s, look[room].distance_m, 2, t->truth[i]);
            meter_spoil_hazed(g, 0.1, r);
            if (k->own_looks) {
                meter_spoil_clear(g, 0.1, r);
            } else {
                g->clear_white = look[room].clear_white;
                g->clear_black = look[room].clear_black;
            }
        } while (!(g->hazed_white > g->hazed_black)); /* nobody would write down such a pair */
        g->room = room;
    }
    t->set.scene.reading = t->reading;
    t->set.scene.reading_count = READINGS;
}

static void hold_against(const true_day *t, const kind *k, const vs_readings *o, tallies *all) {
    double last[DAY_ROOMS] = {0};
    for (size_t i = 0; i < READINGS; i++) {
        const vs_reading *q = &o->reading[i];
        double raw = -q->log_kept / q->path_m, reach = VS_READING_NINETIES * q->sd_per_m;
        count(&all->reading,
              t->truth[i] >= raw - reach && t->truth[i] <= q->extinction_per_m + reach);
        last[t->point[i].room] = t->truth[i];
    }
    for (size_t i = 0; i < k->rooms; i++) {
        const vs_room_readings *m = &o->room[i];
        double loss = t->true_per_s[i] + m->planned_loss_per_s - t->planned_per_s[i];
        if (!isnan(m->loss_per_s)) {
            count(&all->loss, loss >= m->loss_low_per_s && loss <= m->loss_high_per_s);
        }
        count(&all->last, fabs(last[i] - m->last_per_m) <= VS_READING_NINETIES * m->last_sd_per_m);
    }
    if (!isnan(o->output_ratio)) {
        count(&all->output, t->output >= o->output_low && t->output <= o->output_high);
    }
    count(&all->plan, o->as == VS_READ_PLAN);
}

/* Sum of squared errors of the curve over the shot, with other hazer output and losses than the
 * true ones. */
static void compare_replays(true_day *t, const kind *k, const vs_readings *o, tallies *all) {
    double corrected[DAY_ROOMS], truth[LOOKS], file[LOOKS], fitted[LOOKS];
    double by_file = 0, by_fit = 0, output = isnan(o->output_ratio) ? 1 : o->output_ratio;
    for (size_t i = 0; i < k->rooms; i++) {
        double doors = o->room[i].planned_loss_per_s - t->planned_per_s[i];
        corrected[i] =
            isnan(o->room[i].loss_per_s) ? t->planned_per_s[i] : o->room[i].loss_per_s - doors;
    }
    for (size_t i = 0; i < LOOKS; i++) {
        t->point[i] = (vs_reading_point){.at_s = t->first_s + t->span_s * (double)i / LOOKS,
                                         .room = i % k->rooms};
    }
    vs_reading_day day = day_of(t, LOOKS);
    CHECK_OK(vs_reading_replay(&day, t->true_per_s, truth));
    CHECK_OK(vs_reading_replay(&day, t->planned_per_s, file));
    CHECK_OK(vs_reading_replay(&day, corrected, fitted));
    for (size_t i = 0; i < LOOKS; i++) {
        by_file += pow(file[i] - t->output * truth[i], 2);
        by_fit += pow(output * fitted[i] - t->output * truth[i], 2);
    }
    count(&all->closer, by_fit < by_file);
}

static tallies simulate(const kind *k, vs_read_as as, uint64_t seed) {
    static true_day t;
    random_stream r = {seed};
    tallies all;
    memset(&all, 0, sizeof all);
    for (int day = 0; day < DAYS; day++) {
        vs_readings o;
        vs_reading_ask ask = {VS_NONE, as};
        draw_rooms(&t, k, &r);
        take_readings(&t, k, &r);
        CHECK_OK(vs_readings_init(&t.set.scene, &t.set.haze, ask, &o));
        hold_against(&t, k, &o, &all);
        compare_replays(&t, k, &o, &all);
        vs_readings_free(&o);
        vs_dwell_free(&t.plan);
    }
    printf("measured: %d days, %zu room%s, %s, %s: 90 %% intervals hold the reading %.1f, the loss "
           "%.1f, the output %.1f, the last density %.1f; replays closer %.1f; read as the plan "
           "%.1f %%\n",
           DAYS, k->rooms, k->rooms > 1 ? "s" : "", k->decays ? "decay" : "plan",
           k->own_looks ? "a clear look each" : "one clear look a room", 100 * share(&all.reading),
           100 * share(&all.loss), 100 * share(&all.output), 100 * share(&all.last),
           100 * share(&all.closer), 100 * share(&all.plan));
    return all;
}

static void check_coverage(const tallies *all) {
    CHECK_NEAR(share(&all->reading), 0.90, 0, 0.04);
    CHECK_NEAR(share(&all->loss), 0.90, 0, 0.04);
    CHECK_NEAR(share(&all->output), 0.90, 0, 0.04);
    CHECK_NEAR(share(&all->last), 0.90, 0, 0.04);
}

static void played_plans(void **state) {
    (void)state;
    for (size_t rooms = 1; rooms <= 2; rooms++) {
        for (int own = 0; own < 2; own++) {
            kind k = {rooms, false, own > 0};
            tallies all = simulate(&k, VS_READ_ALONE, 2100 + 10 * rooms + (uint64_t)own);
            check_coverage(&all);
            CHECK_TRUE(share(&all.plan) >= 0.97);
            CHECK_TRUE(share(&all.closer) >= (own ? 0.90 : 0.80));
        }
    }
}

static void decays(void **state) {
    (void)state;
    for (size_t rooms = 1; rooms <= 2; rooms++) {
        kind k = {rooms, true, false};
        tallies all = simulate(&k, VS_READ_DECAY, 2150 + rooms);
        check_coverage(&all);
        CHECK_TRUE(share(&all.closer) >= 0.75);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(played_plans),
        cmocka_unit_test(decays),
    };
    return RUN_TESTS(tests);
}
