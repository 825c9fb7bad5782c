/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The page's door, compiled for this machine: bytes as calls of it, on a small scene of its own or on
 * one that the bytes hold. */
#include "fuzz.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "page/core/page.h"
#include "veilstop/scene/file_list.h"

#define SIDE_MAX  24 /* [pixels] larger ones only take longer */
#define CALLS_MAX 6

static const char *scene;
static size_t scene_length;

void vs_page_share_done(int done, int count) {
    FUZZ_TRUE(done >= 0 && done <= count);
}

int LLVMFuzzerInitialize(int *argc, char ***argv) {
    (void)argc;
    (void)argv;
    scene = fuzz_project_text("tests/fuzz/scenes/small.json", &scene_length);
    return 0;
}

typedef struct {
    const uint8_t *at, *end;
} stream;

static uint8_t take(stream *s) {
    return s->at < s->end ? *s->at++ : 0;
}

/* NaN, a plain density, or any bits. */
static double take_density(stream *s) {
    uint8_t how = take(s);
    if (how < 64) {
        return NAN;
    }
    if (how < 224) {
        return (double)(how - 64) * 0.002;
    }
    double any;
    uint8_t bits[sizeof any];
    for (size_t i = 0; i < sizeof any; i++) {
        bits[i] = take(s);
    }
    memcpy(&any, bits, sizeof any);
    return any;
}

/* Bytes up to the next 0xFF, with two NULs behind them. */
static char *take_text(stream *s, size_t *length) {
    const uint8_t *end = s->at;
    while (end < s->end && *end != 0xff) {
        end++;
    }
    *length = (size_t)(end - s->at);
    char *text = calloc(*length + 2, 1);
    FUZZ_TRUE(text != NULL);
    memcpy(text, s->at, *length);
    s->at = end < s->end ? end + 1 : end;
    return text;
}

/* Words as lines; what walks or draws as often as it is told to is not asked here. */
static void run(vs_page *page, stream *s) {
    size_t length;
    char *text = take_text(s, &length);
    bool slow = strstr(text, "trust") || strstr(text, "spread");
    for (size_t i = 0; i < length; i++) {
        text[i] = text[i] == '\n' ? '\0' : text[i];
    }
    if (!slow) {
        int code = vs_page_run(page, text);
        FUZZ_TRUE(code >= VS_EXIT_DONE && code <= VS_EXIT_CONVERGENCE);
        FUZZ_TRUE(vs_page_answer(page) && vs_page_messages(page));
        FUZZ_TRUE(code <= VS_EXIT_UNMET || *vs_page_messages(page));
        FUZZ_TRUE(!fuzz_is_bug(code, vs_page_messages(page)));
    }
    free(text);
}

static void picture(vs_page *page, int shot, stream *s) {
    double density = take_density(s), grade[6];
    int width = 1 + take(s) % SIDE_MAX, height = 1 + take(s) % SIDE_MAX;
    uint8_t how = take(s);
    for (int i = 0; i < 6; i++) {
        grade[i] = take(s) / 128.0 - (i < 3 ? 0 : 1);
    }
    const unsigned char *seen =
        vs_page_picture(page, shot, density, width, height, how % 8 == 0, how & 64 ? grade : NULL);
    for (int i = 0; seen && i < width * height; i++) {
        FUZZ_TRUE(seen[4 * i + 3] == 255);
    }
}

static void scouted(vs_page *page, int shot, stream *s) {
    double density = take_density(s);
    int width = 1 + take(s) % SIDE_MAX, height = 1 + take(s) % SIDE_MAX;
    size_t bytes = 4 * (size_t)width * (size_t)height;
    unsigned char *photo = malloc(bytes);
    FUZZ_TRUE(photo != NULL);
    for (size_t i = 0; i < bytes; i++) {
        photo[i] = s->at < s->end ? s->at[i % (size_t)(s->end - s->at)] : 90;
    }
    const double grey[] = {width / 3.0, height / 2.0, take(s) & 1 ? (double)NAN : 0.5 * take(s)};
    int exposed = vs_page_scout_grey(page, shot, width, height, photo, grey);
    FUZZ_TRUE(exposed == 1 || exposed == 0 || exposed == -1);
    const unsigned char *hazed =
        vs_page_scouted(page, shot, density, width, height, photo, take(s) & 1 ? grey : NULL);
    FUZZ_TRUE(!hazed || hazed[3] == 255);
    free(photo);
}

static void files(stream *s) {
    size_t length, found;
    char *text = take_text(s, &length);
    FUZZ_TRUE(vs_page_put_file("lamp.ies", text, length) == 1);
    const char *kept = vs_page_get_file("lamp.ies", &found);
    FUZZ_TRUE(kept && found == length && memcmp(kept, text, length) == 0);
    FUZZ_TRUE(!vs_page_get_file("none", &found) && found == 0);
    free(text);
}

static void call(vs_page *page, stream *s) {
    const vs_scene *opened = vs_ask_scene_of(&page->ask);
    uint8_t which = take(s);
    int shot = opened->shot_count ? (int)(take(s) % opened->shot_count) : -1;
    switch (which % 8) {
    case 0:
    case 1:
        run(page, s);
        return;
    case 2:
        files(s);
        return;
    case 3:
    case 4:
        if (shot >= 0) {
            picture(page, shot, s);
        }
        return;
    case 5:
        if (shot >= 0) {
            scouted(page, shot, s);
        }
        return;
    default:
        if (shot >= 0) {
            const char *told = vs_page_predict(page, shot, take_density(s));
            FUZZ_TRUE(!told || *told == '{');
        }
        return;
    }
}

static vs_page *open_page(stream *s) {
    size_t length = scene_length;
    char *text = NULL;
    if (take(s) % 4 == 0) {
        text = take_text(s, &length);
    }
    vs_page *page = vs_page_open(text ? text : scene, length, "scene.json");
    fuzz_check_json(vs_page_faults());
    FUZZ_TRUE(page || text);
    free(text);
    return page;
}

/* Larger scenes only take longer. */
static bool is_small(const vs_scene *opened) {
    return opened->room_count <= 2 && opened->light_count <= 2 && opened->opening_count <= 2;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    stream s = {data, data + size};
    vs_page *page = open_page(&s);
    if (page && is_small(vs_ask_scene_of(&page->ask))) {
        for (int i = 0; i < CALLS_MAX && s.at < s.end; i++) {
            call(page, &s);
        }
    }
    vs_page_close(page);
    return 0;
}
