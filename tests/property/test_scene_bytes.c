/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any bytes: the reader returns a scene or faults, never crashes, and what it accepts is a scene of
 * finite figures. Run under the sanitizers too. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/scene/scene_file.h"

typedef struct {
    char *bytes;
    size_t length;
} text;

static text load(const char *name) {
    text t;
    t.bytes = tests_file(name, &t.length);
    return t;
}

static bool is_one_line(const char *c) {
    for (; *c; c++) {
        if ((unsigned char)*c < 0x20 || *c == 0x7f) {
            return false;
        }
    }
    return true;
}

static void check_faults(const vs_faults *faults) {
    CHECK_TRUE(faults->count >= 1 && faults->count <= VS_FAULT_MAX);
    for (size_t i = 0; i < faults->count; i++) {
        CHECK_TRUE(is_one_line(faults->item[i].where) && is_one_line(faults->item[i].text));
        CHECK_TRUE(faults->item[i].text[0] != '\0');
    }
}

static void check_finite(vs_vec3 a) {
    CHECK_TRUE(isfinite(a.x) && isfinite(a.y) && isfinite(a.z));
}

/* The properties every later step relies on. */
static void check_scene(const vs_scene *s) {
    CHECK_TRUE(s->room_count >= 1);
    for (size_t i = 0; i < s->room_count; i++) {
        check_finite(s->room[i].corner_m);
        CHECK_TRUE(s->room[i].name && s->room[i].size_m.x > 0 && s->room[i].size_m.y > 0 &&
                   s->room[i].size_m.z > 0 && s->room[i].air_change_per_s >= 0);
    }
    for (size_t i = 0; i < s->opening_count; i++) {
        check_finite(s->opening[i].corner_m[0]);
        CHECK_TRUE(s->opening[i].room[0] < s->room_count);
        CHECK_TRUE(s->opening[i].room[1] < s->room_count || s->opening[i].room[1] == VS_OUTSIDE);
    }
    for (size_t i = 0; i < s->light_count; i++) {
        const vs_light *l = &s->light[i];
        bool needs_opening = l->kind == VS_LIGHT_SUN || l->kind == VS_LIGHT_SKY;
        CHECK_TRUE(l->name && l->dimmer >= 0 && l->dimmer <= 1);
        CHECK_TRUE(!needs_opening || l->through < s->opening_count);
        if (l->strength == VS_STRENGTH_TABLE) {
            CHECK_OK(vs_photometric_check(&l->table));
        } else {
            CHECK_TRUE(l->strength == VS_STRENGTH_FED ? l->fed_by < s->light_count : l->value >= 0);
        }
    }
    for (size_t i = 0; i < s->camera_count; i++) {
        check_finite(s->camera[i].at_m);
        CHECK_TRUE(s->camera[i].shutter_s > 0 && s->camera[i].iso > 0 && s->camera[i].t_stop > 0);
    }
    for (size_t i = 0; i < s->shot_count; i++) {
        const vs_scene_shot *shot = &s->shot[i];
        CHECK_TRUE(shot->name && shot->camera < s->camera_count && shot->length_s > 0);
        CHECK_TRUE(shot->density != VS_DENSITY_OPEN || shot->want_count > 0);
        for (size_t j = 0; j < shot->point_count; j++) {
            check_finite(shot->point[j].at_m);
            CHECK_TRUE(shot->point[j].name && isfinite(shot->point[j].value));
        }
        for (size_t j = 0; j < shot->want_count; j++) {
            CHECK_TRUE(shot->want[j].limit > 0);
        }
    }
}

/* 1 where the bytes make a scene; the lamps' files lie in the demo's folder. */
static size_t try_bytes(const char *bytes, size_t length) {
    vs_scene_file file;
    vs_faults faults = {0};
    char folder[TESTS_PATH_SIZE];
    tests_path(folder, "../data/demo");
    vs_scene_places places = {.scene_directory = folder};
    vs_status status = vs_scene_file_init(&file, bytes, length, &places, &faults);
    if (status == VS_OK) {
        CHECK_TRUE(!vs_faults_any(&faults));
        check_scene(&file.scene);
        vs_scene_file_free(&file);
        return 1;
    }
    CHECK_TRUE(status == VS_ERR_INPUT || status == VS_ERR_FILE); /* a lamp's file of another name */
    CHECK_TRUE(file.memory == NULL);
    check_faults(&faults);
    return 0;
}

/* Each prefix is in memory of exactly its size, so that a sanitizer notices any read past it. */
static void no_beginning_of_a_file_breaks_it(void **state) {
    (void)state;
    text t = load("cli/good/every_key.json");
    size_t scenes = 0;
    for (size_t length = 0; length < t.length; length++) {
        char *part = malloc(length ? length : 1);
        assert_non_null(part);
        memcpy(part, t.bytes, length);
        scenes += try_bytes(part, length);
        free(part);
    }
    CHECK_TRUE(scenes == 1); /* all but the line's end */
    free(t.bytes);
}

/* A byte changed, dropped or inserted, or a piece repeated, as by a typing error or a bad disk. */
static size_t mutate(random_stream *r, char *bytes, size_t length, size_t size) {
    static const char spice[] = "{}[]\",:-+.0123456789eE\\u/ntf\n\t \x00\x01\x7f\xc3\xa9\xff";
    size_t at = random_index(r, length), span = 1 + random_index(r, 12);
    switch (random_index(r, 4)) {
    case 0:
        bytes[at] = (char)random_index(r, 256);
        return length;
    case 1:
        bytes[at] = spice[random_index(r, sizeof spice - 1)];
        return length;
    case 2:
        span = at + span > length ? length - at : span;
        memmove(bytes + at, bytes + at + span, length - at - span);
        return length - span;
    default:
        span = at + span > length ? length - at : span;
        if (length + span > size) {
            return length;
        }
        memmove(bytes + at + span, bytes + at, length - at);
        return length + span;
    }
}

static void no_mutation_breaks_it(void **state) {
    (void)state;
    static const char *const seed[] = {"cli/good/every_key.json", "../data/demo/cellar.json"};
    enum { TRIALS = 4000 };
    random_stream r = {20};
    size_t scenes = 0;
    for (size_t which = 0; which < 2; which++) {
        text t = load(seed[which]);
        size_t size = t.length + 256;
        for (int trial = 0; trial < TRIALS; trial++) {
            char *bytes = malloc(size);
            assert_non_null(bytes);
            memcpy(bytes, t.bytes, t.length);
            size_t length = t.length, edits = 1 + random_index(&r, 6);
            for (size_t i = 0; i < edits; i++) {
                length = mutate(&r, bytes, length, size);
            }
            scenes += try_bytes(bytes, length);
            free(bytes);
        }
        free(t.bytes);
    }
    printf("measured: %d mutated scene files: %zu still scenes, the rest refused, none broke\n",
           2 * TRIALS, scenes);
    CHECK_TRUE(scenes > 100 && scenes < 2 * TRIALS);
}

/* JSON that is valid in form but wrong in meaning: one value in place of another. */
static void no_swapped_value_breaks_it(void **state) {
    (void)state;
    static const char *const value[] = {
        "null", "true",      "-1",     "0",    "1e308",      "\"hall\"",    "\"\"",     "[]",
        "{}",   "[1, 2, 3]", "1e-308", "[[]]", "{\"a\": 0}", "\"outside\"", "\"face\"", "-0.0"};
    text t = load("cli/good/every_key.json");
    size_t scenes = 0, trials = 0;
    for (size_t at = 0; at < t.length; at++) {
        /* a number after a colon or a bracket, up to what ends it */
        size_t length = strspn(t.bytes + at, "-.0123456789e");
        if (length == 0 || !strchr(":[ ", t.bytes[at - 1]) ||
            !strchr(",]} \n", t.bytes[at + length])) {
            continue;
        }
        const char *put = value[trials % (sizeof value / sizeof value[0])];
        char *bytes = malloc(t.length + 32);
        assert_non_null(bytes);
        int whole = snprintf(bytes, t.length + 32, "%.*s%s%s", (int)at, t.bytes, put,
                             t.bytes + at + length);
        scenes += try_bytes(bytes, (size_t)whole);
        free(bytes);
        trials++;
        at += length;
    }
    CHECK_TRUE(trials > 100 && scenes < trials);
    free(t.bytes);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_beginning_of_a_file_breaks_it),
        cmocka_unit_test(no_mutation_breaks_it),
        cmocka_unit_test(no_swapped_value_breaks_it),
    };
    return RUN_TESTS(tests);
}
