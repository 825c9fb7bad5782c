/* SPDX-License-Identifier: GPL-3.0-or-later */
/* veilstop sheet as a user runs it: every figure on paper against the answers of predict, choose,
 * dwell, grade and cautions; names that HTML would take for its own; pages counted where Chromium is
 * there to lay them out; one line for each kind of bad input. */
#include "check.h"

#include <cjson/cJSON.h>
#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "program.h"
#include "veilstop/picture/png.h"

#define COMMAND  2048
#define M_PER_FT 0.3048 /* [m/ft] NIST SP 811, exact */

/* ---- figures ---- */

enum { PREDICT, CHOOSE, DWELL, CAUTIONS, GRADE, ANSWERS };
static const char *const answer_name[ANSWERS] = {"predict", "choose", "dwell", "cautions", "grade"};

typedef struct {
    cJSON *answer[GRADE];
    cJSON *grade[8];  /* one a shot of the scene */
    double start_min; /* NaN: none */
    size_t seen[ANSWERS], count;
} answers;

static cJSON *ask(const char *command, const char *scene, const char *options) {
    char line[COMMAND];
    snprintf(line, sizeof line, "\"$VS_PROGRAM\" %s %s %s --json", command, scene, options);
    program_run_result run = program_run_shell(NULL, line);
    cJSON *json = cJSON_Parse(run.out);
    if (run.status > 1 || !json) {
        fail_msg("%s: %d %s", line, run.status, run.err);
    }
    program_free(&run);
    return json;
}

static answers ask_all(const char *scene, const char *order) {
    answers a = {.start_min = NAN};
    for (size_t i = 0; i < GRADE; i++) {
        a.answer[i] = ask(answer_name[i], scene, i == DWELL || i == CAUTIONS ? order : "");
    }
    const cJSON *shots = cJSON_GetObjectItem(a.answer[PREDICT], "shots"), *shot;
    size_t n = 0;
    cJSON_ArrayForEach(shot, shots) {
        char option[256];
        snprintf(option, sizeof option, "--shot '%s'",
                 cJSON_GetObjectItem(shot, "name")->valuestring);
        assert_true(n < sizeof a.grade / sizeof a.grade[0]);
        a.grade[n++] = ask("grade", scene, option);
    }
    return a;
}

static void forget(answers *a) {
    for (size_t i = 0; i < GRADE; i++) {
        cJSON_Delete(a->answer[i]);
    }
    for (size_t i = 0; i < sizeof a->grade / sizeof a->grade[0]; i++) {
        cJSON_Delete(a->grade[i]);
    }
}

/* The place "predict/shots/0/density/extinction_per_m" in the answers; NULL: none. */
static const cJSON *look_up(answers *a, const char *place) {
    char part[64];
    const cJSON *at = NULL;
    size_t used = strcspn(place, "/");
    for (size_t i = 0; i < ANSWERS; i++) {
        if (strlen(answer_name[i]) == used && strncmp(place, answer_name[i], used) == 0) {
            a->seen[i]++;
            at = i == GRADE ? a->grade[strtoul(place + used + 1, NULL, 10)] : a->answer[i];
            used += i == GRADE ? 1 + strcspn(place + used + 1, "/") : 0;
        }
    }
    for (const char *c = place + used; at && *c == '/'; c += used) {
        used = 1 + strcspn(c + 1, "/");
        snprintf(part, sizeof part, "%.*s", (int)used - 1, c + 1);
        at = isdigit((unsigned char)part[0]) ? cJSON_GetArrayItem(at, atoi(part))
                                             : cJSON_GetObjectItemCaseSensitive(at, part);
    }
    return at;
}

/* An attribute of a tag, "" where it has none. */
static void attribute(const char *tag, const char *name, char *value, size_t size) {
    char form[32];
    const char *end = strchr(tag, '>');
    snprintf(form, sizeof form, " %s=\"", name);
    const char *at = strstr(tag, form);
    value[0] = '\0';
    if (at && at < end) {
        at += strlen(form);
        snprintf(value, size, "%.*s", (int)strcspn(at, "\""), at);
    }
}

/* What a reader sees of an element: without tags, a fixed blank as a blank. */
static void words_of(const char *from, char *words, size_t size) {
    size_t n = 0;
    for (const char *c = strchr(from, '>') + 1; strncmp(c, "</data>", 7) != 0 && n + 1 < size;) {
        if (*c == '<') {
            c = strchr(c, '>') + 1;
        } else if (strncmp(c, "&nbsp;", 6) == 0) {
            words[n++] = ' ';
            c += 6;
        } else {
            words[n++] = *c++;
        }
    }
    words[n] = '\0';
}

/* The worth of the last digit of a number as it is printed. */
static double last_digit(const char *number) {
    const char *point = strchr(number, '.'), *e = strpbrk(number, "eE");
    size_t decimals = point ? strspn(point + 1, "0123456789") : 0;
    return pow(10, (e ? atof(e + 1) : 0) - (double)decimals);
}

/* A number to as many digits as stand there; three significant ones of a whole number. */
static bool shows(const char *words, double value) {
    double unit = last_digit(words);
    if (!strchr(words, '.') && fabs(value) >= 1000) {
        unit = pow(10, floor(log10(fabs(value))) - 2);
    }
    return fabs(strtod(words, NULL) - value) <= 0.501 * unit;
}

static bool shows_clock(const char *words, double minutes, double start_min, double down_to_min) {
    int h = 0, m = 0, s = 0;
    double rough = down_to_min > 0 ? floor(minutes / down_to_min) * down_to_min : minutes;
    if (sscanf(words, "%d:%d:%d", &h, &m, &s) < 2) {
        return false;
    }
    double off = fmod(fabs(60.0 * h + m + s / 60.0 - start_min - rough), 1440);
    return fmin(off, 1440 - off) <= 0.51 / 60;
}

/* "1 h 5 min", "3 min 20 s": seconds. */
static double seconds_of(const char *words) {
    double sum = 0;
    for (char *end; *words; words = end) {
        double n = strtod(words, &end);
        end += strspn(end, " ");
        sum += n * (*end == 'h' ? 3600 : strncmp(end, "min", 3) == 0 ? 60 : 1);
        end += strcspn(end, " ");
        end += strspn(end, " ");
    }
    return sum;
}

static bool is_shown(const answers *a, const char *as, const char *place, const char *words,
                     double value) {
    if (strcmp(as, "ft") == 0) {
        return shows(words, value / M_PER_FT);
    }
    if (strcmp(as, "percent") == 0) {
        return shows(words, 100 * value);
    }
    if (strcmp(as, "clock") == 0) {
        return shows_clock(words, value, a->start_min, 0);
    }
    if (strcmp(as, "rough") == 0) {
        return isnan(a->start_min) ? shows(words, floor(value / 5) * 5)
                                   : shows_clock(words, value, a->start_min, 5);
    }
    if (strcmp(as, "minute") == 0) {
        return strstr(words, " min") != NULL && shows(words, value);
    }
    if (strcmp(as, "time") == 0) {
        bool minutes = strstr(place, "/minutes") != NULL;
        double seconds = minutes ? 60 * value : value, shown = seconds_of(words);
        return fabs(shown - seconds) <= (seconds < 600 ? 0.51 : 30.1);
    }
    return !as[0] && shows(words, value);
}

static void check_figure(answers *a, const char *tag) {
    char place[192], value[32], as[16], words[64];
    attribute(tag, "data-of", place, sizeof place);
    attribute(tag, "value", value, sizeof value);
    attribute(tag, "data-as", as, sizeof as);
    words_of(tag, words, sizeof words);
    const cJSON *at = look_up(a, place);
    if (!cJSON_IsNumber(at)) {
        fail_msg("%s: no number in the answer", place);
    }
    if (strtod(value, NULL) != at->valuedouble) {
        fail_msg("%s: %s on paper, %.9g in the answer", place, value, at->valuedouble);
    }
    if (!is_shown(a, as, place, words, at->valuedouble)) {
        fail_msg("%s: shows \"%s\" (%s) for %.9g", place, words, as, at->valuedouble);
    }
    a->count++;
}

static char *sheet_of(const char *scene, const char *options) {
    char line[COMMAND];
    snprintf(line, sizeof line, "\"$VS_PROGRAM\" sheet %s %s", scene, options);
    program_run_result run = program_run_shell(NULL, line);
    if (run.status > 1 || run.err[0]) {
        fail_msg("%s: %d %s", line, run.status, run.err);
    }
    char *html = run.out;
    run.out = NULL;
    program_free(&run);
    return html;
}

/* The drawn curve of each room goes through every sample of dwell's. */
static void check_curve(const answers *a, const char *html) {
    const cJSON *curve = cJSON_GetObjectItem(a->answer[DWELL], "curve"), *sample;
    char end[32], top[32];
    const char *svg = strstr(html, "data-end-min=");
    CHECK_TRUE(svg != NULL);
    svg -= 1;
    attribute(svg, "data-end-min", end, sizeof end);
    attribute(svg, "data-top-per-m", top, sizeof top);
    size_t lines = 0;
    for (const char *line = strstr(svg, "data-room=\""); line;
         line = strstr(line + 1, "data-room=\""), lines++) {
        int room = atoi(line + strlen("data-room=\""));
        const char *points = strstr(line, "points=\"") + strlen("points=\"");
        cJSON_ArrayForEach(sample, curve) {
            double x = 40 + 592 * cJSON_GetObjectItem(sample, "min")->valuedouble / atof(end);
            const cJSON *k = cJSON_GetObjectItem(sample, "extinction_per_m");
            double y = 130 - 114 * cJSON_GetArrayItem(k, room)->valuedouble / atof(top);
            bool found = false;
            for (const char *p = points; *p != '"' && !found; p += strspn(p, " ")) {
                char *comma;
                double px = strtod(p, &comma), py = strtod(comma + 1, NULL);
                found = fabs(px - x) < 0.006 && fabs(py - y) < 0.006;
                p += strcspn(p, " \"");
            }
            if (!found) {
                fail_msg("room %d: no point at %.2f,%.2f", room, x, y);
            }
        }
    }
    CHECK_TRUE(lines >= 1);
}

static void check_scene(const char *scene, const char *order, double start_min, size_t least) {
    answers a = ask_all(scene, order);
    a.start_min = start_min;
    char *html = sheet_of(scene, order);
    for (const char *tag = strstr(html, "<data "); tag; tag = strstr(tag + 1, "<data ")) {
        check_figure(&a, tag);
    }
    check_curve(&a, html);
    for (size_t i = 0; i < ANSWERS; i++) {
        if (a.seen[i] < 2) {
            fail_msg("%s: %zu figures of %s", scene, a.seen[i], answer_name[i]);
        }
    }
    if (a.count < least) {
        fail_msg("%s: %zu figures, wanted %zu", scene, a.count, least);
    }
    forget(&a);
    free(html);
}

static void figures_are_those_of_the_answers(void **state) {
    (void)state;
    check_scene("data/demo/cellar.json", "", 450, 160);
    check_scene("data/demo/cellar.json", "--order chosen", 450, 160);
    check_scene("data/demo/yard.json", "", 1260, 70);
    check_scene("data/demo/loft.json", "", 510, 70);
    check_scene("data/demo/washroom.json", "", NAN, 70); /* in feet, without a clock */
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(figures_are_those_of_the_answers),
    };
    return RUN_TESTS(tests);
}
