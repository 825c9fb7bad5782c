/* Predictions against random walks on random locations, all kinds of light, point by point; writes
 * a section of docs/accuracy.md to standard output. Ends with status 1 where the mean of a class is
 * over its bound. VS_WALKS: walks a point, 100000 where not set. */
#include "check.h"
#include "walked.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "veilstop/base/statistics.h"
#include "veilstop/report/text.h"
#include "veilstop/scene/scene_file.h"

#define LOCATIONS  90
#define TOLD_ERROR 0.03 /* [1] points whose walks are off by more than that tell nothing */
#define LEAST_NITS 1e-4 /* [cd/m2] nor do darker ones */
#define OFFS_MAX   (3 * LOCATIONS)

/* ---- a location: the file of a scene ---- */

typedef struct {
    random_stream r;
    vs_text text;
    double size[2][3]; /* of the rooms; the second stands at the first one's east wall */
    size_t rooms;
    bool window;
    bool has_spot; /* the first light */
    double spot_at[3], spot_aim[3];
} location;

static double between(location *l, double low, double high) {
    return floor(1000 * random_uniform(&l->r, low, high) + 0.5) / 1000;
}

static bool chance(location *l, double share) {
    return random_uniform(&l->r, 0, 1) < share;
}

static void draw_place(location *l, size_t room, double p[3]) {
    for (int i = 0; i < 3; i++) {
        p[i] = (room == 1 && i == 0 ? l->size[0][0] : 0) + between(l, 0.2, l->size[room][i] - 0.2);
    }
}

static void add_place(location *l, const char *key, const double p[3]) {
    vs_text_addf(&l->text, "\"%s\":[%g,%g,%g]", key, p[0], p[1], p[2]);
}

static void add_rooms(location *l) {
    l->rooms = chance(l, 0.6) ? 2 : 1;
    l->window = chance(l, 0.7);
    vs_text_addf(&l->text, "\"rooms\":[");
    for (size_t r = 0; r < l->rooms; r++) {
        l->size[r][0] = between(l, 3, 9);
        l->size[r][1] = between(l, 2.5, 6);
        l->size[r][2] = between(l, 2.3, 5);
        vs_text_addf(&l->text,
                     "%s{\"name\":\"%s\",\"corner\":[%g,0,0],\"size\":[%g,%g,%g],"
                     "\"reflectance\":%g}",
                     r ? "," : "", r ? "passage" : "cellar", r ? l->size[0][0] : 0, l->size[r][0],
                     l->size[r][1], l->size[r][2], between(l, 0, 0.85));
    }
    vs_text_addf(&l->text, "],\"openings\":[");
    if (l->rooms == 2) {
        double from = between(l, 0.2, fmin(l->size[0][1], l->size[1][1]) - 1.2);
        vs_text_addf(&l->text,
                     "{\"name\":\"door\",\"rooms\":[\"cellar\",\"passage\"],\"corners\":"
                     "[[%g,%g,0],[%g,%g,%g]]}%s",
                     l->size[0][0], from, l->size[0][0], from + between(l, 0.6, 1),
                     between(l, 1.6, 2.1), l->window ? "," : "");
    }
    if (l->window) {
        double from = between(l, 0.3, l->size[0][0] - 1.5);
        vs_text_addf(&l->text,
                     "{\"name\":\"hatch\",\"rooms\":[\"cellar\",\"outside\"],\"corners\":"
                     "[[%g,0,0.8],[%g,0,1.9]],\"transmittance\":%g}",
                     from, from + 1, between(l, 0.5, 1));
    }
    vs_text_addf(&l->text, "],");
}

static void add_blockers(location *l) {
    size_t count = random_index(&l->r, 4);
    vs_text_addf(&l->text, "\"blockers\":[");
    for (size_t i = 0; i < count; i++) {
        double at[3], aim[3];
        draw_place(l, 0, at);
        draw_place(l, 0, aim);
        vs_text_addf(&l->text, "%s{\"name\":\"board %zu\",", i ? "," : "", i);
        add_place(l, "at", at);
        vs_text_addf(&l->text, ",");
        add_place(l, "aim", aim);
        bool net = chance(l, 0.4);
        vs_text_addf(&l->text, ",\"size\":[%g,%g],\"%s\":%g}", between(l, 0.2, 1.2),
                     between(l, 0.2, 1.2), net ? "transmittance" : "reflectance",
                     net ? between(l, 0.2, 0.8) : between(l, 0, 0.6));
    }
    vs_text_addf(&l->text, "],");
}

/* A diffusion frame square to the first spot, where that aims. */
static void add_frame(location *l) {
    double beyond[3];
    for (int i = 0; i < 3; i++) {
        beyond[i] = 2 * l->spot_aim[i] - l->spot_at[i];
    }
    vs_text_addf(&l->text, "\"kind\":\"panel\",");
    add_place(l, "at", l->spot_aim);
    vs_text_addf(&l->text, ",");
    add_place(l, "aim", beyond);
    vs_text_addf(&l->text,
                 ",\"size\":[%g,%g],\"fed_by\":{\"light\":\"light 0\",\"transmittance\":%g}",
                 between(l, 0.4, 1.2), between(l, 0.4, 1.2), between(l, 0.2, 0.6));
}

static void add_inside(location *l, size_t kind, bool first) {
    static const char *const name[] = {"lamp", "spot", "panel", "tube"};
    double at[3], aim[3];
    size_t room = random_index(&l->r, l->rooms);
    draw_place(l, room, at);
    draw_place(l, room, aim);
    vs_text_addf(&l->text, "\"kind\":\"%s\",", name[kind]);
    add_place(l, kind == 3 ? "from" : "at", at);
    if (kind > 0) {
        vs_text_addf(&l->text, ",");
        add_place(l, kind == 3 ? "to" : "aim", aim);
    }
    if (kind == 1) {
        vs_text_addf(&l->text, ",\"beam_deg\":%g,\"field_deg\":%g,\"candela\":%g",
                     between(l, 4, 30), between(l, 31, 70), between(l, 500, 9000));
        for (int i = 0; i < 3 && first; i++) {
            l->has_spot = true;
            l->spot_at[i] = at[i];
            l->spot_aim[i] = aim[i];
        }
        return;
    }
    if (kind == 2) {
        vs_text_addf(&l->text, ",\"size\":[%g,%g]", between(l, 0.2, 1.2), between(l, 0.2, 1.2));
    }
    vs_text_addf(&l->text, ",\"lumens\":%g", between(l, 200, 4000));
}

static void add_lights(location *l) {
    size_t count = 1 + random_index(&l->r, 6);
    vs_text_addf(&l->text, "\"lights\":[");
    for (size_t i = 0; i < count; i++) {
        size_t kind = random_index(&l->r, 7);
        vs_text_addf(&l->text, "%s{\"name\":\"light %zu\",", i ? "," : "", i);
        if (kind == 4 && l->window) {
            vs_text_addf(&l->text,
                         "\"kind\":\"sun\",\"through\":\"hatch\",\"direction\":[%g,%g,%g],"
                         "\"lux\":%g",
                         between(l, -0.7, 0.7), between(l, 0.3, 1), between(l, -1, -0.2),
                         between(l, 5000, 60000));
        } else if (kind == 5 && l->window) {
            vs_text_addf(&l->text, "\"kind\":\"sky\",\"through\":\"hatch\",\"nits\":%g",
                         between(l, 500, 6000));
        } else if (kind == 6 && l->has_spot) {
            add_frame(l);
            l->has_spot = false; /* one frame is enough */
        } else {
            add_inside(l, kind % 4, i == 0);
        }
        vs_text_addf(&l->text, "}");
    }
    vs_text_addf(&l->text, "],");
}

static void add_shot(location *l) {
    double at[3], aim[3];
    draw_place(l, 0, at);
    draw_place(l, l->rooms - 1, aim);
    vs_text_addf(&l->text, "\"cameras\":[{\"name\":\"A\",");
    add_place(l, "at", at);
    vs_text_addf(&l->text, ",");
    add_place(l, "aim", aim);
    vs_text_addf(
        &l->text,
        ",\"focal_mm\":25,\"sensor_mm\":[24.9,14],\"t_stop\":2.8,\"iso\":800,\"fps\":24,"
        "\"shutter_deg\":180}],\"shots\":[{\"name\":\"1\",\"camera\":\"A\",\"minutes\":3,");
    if (l->rooms == 2 && chance(l, 0.2)) {
        vs_text_addf(&l->text, "\"extinction_per_m\":{\"cellar\":%g,\"passage\":%g},\"points\":[",
                     between(l, 0.01, 0.12), between(l, 0.01, 0.12));
    } else {
        vs_text_addf(&l->text, "\"extinction_per_m\":%g,\"points\":[", between(l, 0.01, 0.12));
    }
    size_t points = 1 + random_index(&l->r, 3);
    for (size_t i = 0; i < points; i++) {
        draw_place(l, random_index(&l->r, l->rooms), at);
        vs_text_addf(&l->text, "%s{\"name\":\"%zu\",", i ? "," : "", i);
        add_place(l, "at", at);
        if (chance(l, 0.6)) {
            vs_text_addf(&l->text, ",\"nits\":%g}", between(l, 0.1, 20));
        } else {
            vs_text_addf(&l->text, ",\"reflectance\":%g,\"facing\":[%g,%g,%g]}",
                         between(l, 0.05, 0.8), between(l, -1, 1), between(l, -1, 1),
                         between(l, 0.1, 1));
        }
    }
    vs_text_addf(&l->text, "]}]}");
}

static void draw_location(uint64_t seed, vs_scene_file *file) {
    static const char *const fluid[] = {"glycol", "glycol-fine", "oil-coarse"};
    location l = {.r = {seed}};
    vs_faults faults = {0};
    vs_text_init(&l.text);
    vs_text_addf(&l.text,
                 "{\"veilstop\":1,\"lengths\":\"m\",\"fluid\":\"%s\",\"indirect\":\"computed\",",
                 fluid[random_index(&l.r, 3)]);
    add_rooms(&l);
    add_blockers(&l);
    add_lights(&l);
    add_shot(&l);
    vs_status status = vs_scene_file_init(file, l.text.bytes, l.text.length, NULL, &faults);
    if (status != VS_OK) {
        fprintf(stderr, "seed %llu: %s %s\n", (unsigned long long)seed, faults.item[0].where,
                faults.item[0].text);
    }
    CHECK_OK(status);
    vs_text_free(&l.text);
}

/* ---- how far off ---- */

typedef struct {
    double off[OFFS_MAX]; /* sizes */
    double sum;           /* of the errors with their signs */
    size_t count;
    double worst;
    uint64_t worst_seed;
} tally;

static tally veils[WALKED_CLASSES], hazed[WALKED_CLASSES];
static size_t left_out;

static void add(tally *t, vs_bands predicted, const vs_tally *walks, uint64_t seed) {
    double error, ratio = walked_ratio(predicted, walks, &error);
    if (!(vs_bands_luminance(vs_tally_mean(walks)) > LEAST_NITS) || !(error < TOLD_ERROR)) {
        left_out++;
        return;
    }
    double off = fabs(ratio - 1);
    t->off[t->count++] = off;
    t->sum += ratio - 1;
    if (off > t->worst) {
        t->worst = off;
        t->worst_seed = seed;
    }
}

static void measure(uint64_t seed, double walks) {
    vs_scene_file file;
    vs_predictor predictor;
    vs_trust trust;
    draw_location(seed, &file);
    CHECK_OK(vs_predictor_init(&predictor, &file.scene));
    CHECK_OK(vs_trust_init(&trust, &predictor, 0, NULL, walks, 1));
    walked_run(&trust);
    const vs_shot_prediction *p = &trust.prediction;
    int depths = walked_class(p);
    for (size_t i = 0; i < p->shot->point_count; i++) {
        add(&veils[depths], p->point[i].veil_nits, &trust.point[i].veil, seed);
        add(&hazed[depths], p->point[i].hazed_nits, &trust.point[i].hazed, seed);
    }
    vs_trust_free(&trust);
    vs_predictor_free(&predictor);
    vs_scene_file_free(&file);
}

/* A row of the table. Returns the mean of the errors' sizes. */
static double tell(const char *what, const char *depths, tally *t) {
    double sum = 0;
    for (size_t i = 0; i < t->count; i++) {
        sum += t->off[i];
    }
    double count = (double)t->count;
    vs_sort(t->off, t->count);
    printf("| %s | %s | %zu | %.1f %% | %+.1f %% | %.1f %% | %.1f %% (%llu) |\n", what, depths,
           t->count, 100 * sum / count, 100 * t->sum / count,
           100 * vs_quantile(t->off, t->count, 0.9), 100 * t->worst,
           (unsigned long long)t->worst_seed);
    return sum / count;
}

int main(void) {
    const char *given = getenv("VS_WALKS");
    double walks = given ? strtod(given, NULL) : 100000;
    static const double bound[WALKED_CLASSES] = {0.05, 0.10, INFINITY}; /* [1] of the means */
    int broken = 0;
    tests_begin();
    for (uint64_t seed = 1; seed <= LOCATIONS; seed++) {
        measure(seed, walks);
    }
    printf(
        "\n## Random locations\n\nThe same on %d locations drawn at random: one room or two with "
        "a doorway, a window or none, walls of reflectance 0 to 0.85, up to three boards and "
        "nets, one to six lights of every kind, 0.01 to 0.12 /m; %.0f walks a point. Points "
        "whose walks are off by over 3 %% themselves, or darker than 1e-4 cd/m2, are left out "
        "(%zu). Nobody has arranged these: cameras look at a wall beside a patch of sun, "
        "through a doorway at a wall lit round the corner. There single points are off by far "
        "more than the mean; in brackets, which seed. Held to: the mean off at most 5 %% in the "
        "first class, 10 %% in the second.\n\n"
        "| luminance | longest way | points | mean off | mean, signed | 90 %% within | worst "
        "(seed) |\n| --- | --- | --- | --- | --- | --- | --- |\n",
        LOCATIONS, walks, left_out);
    for (int i = 0; i < WALKED_CLASSES; i++) {
        broken += !(tell("veil", walked_class_name[i], &veils[i]) <= bound[i]);
        broken += !(tell("hazed", walked_class_name[i], &hazed[i]) <= bound[i]);
    }
    return broken > 0;
}
