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

#include "demo.h"
#include "program.h"
#include "veilstop/ask/ask.h"
#include "veilstop/picture/png.h"
#include "veilstop/scene/file.h"

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

/* As alarms are told: down to five minutes, to one in the first ten. */
static double rough_min(double minutes) {
    double to = minutes < 10 ? 1 : 5;
    return floor(minutes / to) * to;
}

static bool shows_clock(const char *words, double minutes, double start_min) {
    int h = 0, m = 0, s = 0;
    if (sscanf(words, "%d:%d:%d", &h, &m, &s) < 2) {
        return false;
    }
    double off = fmod(fabs(60.0 * h + m + s / 60.0 - start_min - minutes), 1440);
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
        return shows_clock(words, value, a->start_min);
    }
    if (strcmp(as, "rough") == 0) {
        return isnan(a->start_min) ? shows(words, rough_min(value))
                                   : shows_clock(words, rough_min(value), a->start_min);
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
    char end[32], top[32], box[64];
    double width, height;
    const char *svg = strstr(html, "data-end-min=");
    CHECK_TRUE(svg != NULL);
    for (svg--; *svg != '<'; svg--) {
    }
    attribute(svg, "viewBox", box, sizeof box);
    CHECK_TRUE(sscanf(box, "0 0 %lf %lf", &width, &height) == 2);
    attribute(svg, "data-end-min", end, sizeof end);
    attribute(svg, "data-top-per-m", top, sizeof top);
    size_t lines = 0;
    for (const char *line = strstr(svg, "data-room=\""); line;
         line = strstr(line + 1, "data-room=\""), lines++) {
        int room = atoi(line + strlen("data-room=\""));
        const char *points = strstr(line, "points=\"") + strlen("points=\"");
        cJSON_ArrayForEach(sample, curve) {
            double x =
                40 + (width - 48) * cJSON_GetObjectItem(sample, "min")->valuedouble / atof(end);
            const cJSON *k = cJSON_GetObjectItem(sample, "extinction_per_m");
            double y =
                height - 26 - (height - 42) * cJSON_GetArrayItem(k, room)->valuedouble / atof(top);
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

/* ---- the file ---- */

static size_t count_of(const char *text, const char *what) {
    size_t count = 0;
    for (const char *at = strstr(text, what); at; at = strstr(at + 1, what)) {
        count++;
    }
    return count;
}

/* HTML Living Standard: what would run or load. */
static void nothing_runs_and_nothing_is_loaded(void **state) {
    (void)state;
    static const char *const none[] = {
        "<script", "javascript:", "http:",   "https:", "url(",   "@import",
        "<link",   "<iframe",     "<object", "srcset", " onload"};
    char *html = sheet_of("data/demo/washroom.json", "");
    for (size_t i = 0; i < sizeof none / sizeof none[0]; i++) {
        if (strstr(html, none[i])) {
            fail_msg("the sheet has %s", none[i]);
        }
    }
    CHECK_TRUE(count_of(html, " src=\"") == count_of(html, " src=\"data:image/png;base64,"));
    CHECK_TRUE(strncmp(html, "<!DOCTYPE html>\n<html lang=\"en\">", 32) == 0);
    CHECK_TRUE(count_of(html, "<svg ") == count_of(html, " role=\"img\" aria-label=\""));
    CHECK_TRUE(count_of(html, "<th ") == count_of(html, "<th scope=\""));
    CHECK_TRUE(count_of(html, "<img ") == count_of(html, " alt=\""));
    /* of a fluid's sheet one may speak, of no density; the third is a word of the security policy */
    CHECK_TRUE(count_of(html, "safe") ==
               count_of(html, "safety data sheet") + count_of(html, "'unsafe-inline'"));
    free(html);
}

/* The paper asks, as every answer does, whether lengths are in the unit they were meant in. */
static void lengths_in_another_unit_are_asked_about(void **state) {
    (void)state;
    char *html = sheet_of("tests/cli/scenes/centimetres.json", "");
    CHECK_TRUE(count_of(html, "washroom is 420 x 300 x 260 m: is every length in the unit meant? "
                              "One without a unit is in m.") == 1);
    free(html);
    html = sheet_of("data/demo/washroom.json", "");
    CHECK_TRUE(count_of(html, "in the unit meant?") == 0);
    free(html);
}

/* ---- pictures ---- */

static int base64_digit(char c) {
    static const char digits[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    const char *at = c ? strchr(digits, c) : NULL;
    return at ? (int)(at - digits) : -1;
}

static vs_picture picture_at(const char *img) {
    const char *code = strstr(img, "base64,") + strlen("base64,");
    unsigned char *bytes = malloc(strlen(code));
    size_t length = 0;
    unsigned group = 0;
    int bits = 0;
    vs_picture picture;
    vs_faults faults = {0};
    for (int digit; (digit = base64_digit(*code)) >= 0; code++) {
        group = group << 6 | (unsigned)digit;
        bits += 6;
        if (bits >= 8) {
            bits -= 8;
            bytes[length++] = (unsigned char)(group >> bits);
        }
    }
    CHECK_OK(vs_png_read(bytes, length, &picture, &faults));
    free(bytes);
    return picture;
}

/* The library alone, which cannot compress them, and the program show the same pixels. */
static void the_library_writes_the_same_sheet(void **state) {
    (void)state;
    const vs_ask_means means = {.read = demo_means.read};
    const char *const word[] = {"sheet", NULL};
    vs_ask ask;
    vs_ask_answer answer;
    vs_faults faults = {0};
    size_t length;
    char *scene = tests_file("../data/demo/washroom.json", &length);
    CHECK_OK(vs_ask_open(&ask, scene, length, "data/demo/washroom.json", &means, &faults));
    CHECK_OK(vs_ask_command_run(&ask, word, &answer));
    char *html = sheet_of("data/demo/washroom.json", "");
    const char *a = strstr(answer.text, "<img "), *b = strstr(html, "<img ");
    size_t pictures = 0;
    for (; a && b; a = strstr(a + 1, "<img "), b = strstr(b + 1, "<img "), pictures++) {
        vs_picture one = picture_at(a), other = picture_at(b);
        CHECK_TRUE(one.width == 320 && one.width == other.width && one.height == other.height);
        CHECK_TRUE(memcmp(one.sample, other.sample, 6 * one.width * one.height) == 0);
        vs_picture_free(&one);
        vs_picture_free(&other);
    }
    CHECK_TRUE(pictures == 2 && !a && !b);
    a = strstr(answer.text, "Run sheet");
    b = strstr(html, "Run sheet");
    CHECK_TRUE(a && b && strcmp(a, b) == 0); /* all that has no picture, to the byte */
    free(html);
    free(scene);
    vs_ask_answer_free(&answer);
    vs_ask_close(&ask);
}

/* ---- a day of many shots, and names that HTML would take for its own ---- */

#define ODD                                                                                        \
    "</td><b>&amp; \\\"x\\\" 'y' \xe5\x9c\xb0\xe4\xb8\x8b \xd0\xbd\xd0\xbe\xd1\x87\xd1\x8c" /* JSON */
#define ODD_SHOWN "&#60;/td&#62;&#60;b&#62;&#38;amp; &#34;x&#34; 'y' \xe5\x9c\xb0\xe4\xb8\x8b"

/* Writes a plain room with so many shots, two densities in turn. */
static void write_day(const char *path, size_t shots, const char *odd) {
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    fprintf(file,
            "{\"veilstop\":1,\"title\":\"A day %s\",\"start\":\"06:00\",\"indirect\":\"none\","
            "\"rooms\":[{\"name\":\"hall %s\",\"corner\":[0,0,0],\"size\":[9,6,3],"
            "\"purge_air_changes_per_h\":8}],"
            "\"hazer\":{\"room\":\"hall %s\",\"fluid_ml_per_h\":60},"
            "\"lights\":[{\"name\":\"key %s\",\"kind\":\"spot\",\"at\":[8,5,2.6],\"aim\":[4,3,1],"
            "\"beam_deg\":20,\"candela\":4000}],"
            "\"cameras\":[{\"name\":\"A%s\",\"at\":[1,1,1.5],\"aim\":[8,4,1.4],\"focal_mm\":28,"
            "\"curve\":\"acescct\"}],"
            "\"venue\":{\"detectors\":[{\"name\":\"head %s\",\"room\":\"hall %s\",\"kind\":"
            "\"point\",\"alarm_db_per_m\":0.1}],\"people\":[{\"who\":\"crew %s\",\"minutes\":600}],"
            "\"rules\":[\"No haze %s\"]},\"shots\":[",
            odd, odd, odd, odd, odd, odd, odd, odd, odd);
    for (size_t i = 0; i < shots; i++) {
        fprintf(file,
                "%s{\"name\":\"%zu %s\",\"camera\":\"A%s\",\"extinction_per_m\":%s,\"minutes\":15,"
                "\"points\":[{\"name\":\"wall %s\",\"at\":[9,4,1.5],\"reflectance\":0.5,"
                "\"facing\":[-1,0,0]}]}",
                i > 0 ? "," : "", i + 1, odd, odd, i % 2 ? "0.02" : "0.03", odd);
    }
    fprintf(file, "]}\n");
    fclose(file);
}

static program_run_result run_here(const char *command, int status) {
    program_run_result run = program_run_shell(".", command);
    if (run.status != status) {
        fail_msg("%s: %d, wanted %d\n%s", command, run.status, status, run.err);
    }
    return run;
}

static void names_are_words_and_no_tags(void **state) {
    (void)state;
    write_day("odd.json", 2, ODD);
    program_run_result run = run_here("\"$VS_PROGRAM\" sheet odd.json", 1);
    CHECK_TRUE(count_of(run.out, ODD_SHOWN) > 20);
    CHECK_TRUE(count_of(run.out, "</td><b>&") == 0 && count_of(run.out, "\"x\"") == 0);
    /* the running title, a string of CSS: CSS Syntax 3, 4.3.7 */
    CHECK_TRUE(strstr(run.out, "\\3c /td>\\3c b>&amp; \\22 x\\22  'y'") != NULL);
    CHECK_TRUE(count_of(run.out, "<tr>") == count_of(run.out, "</tr>"));
    CHECK_TRUE(count_of(run.out, "<td") == count_of(run.out, "</td>"));
    program_free(&run);
}

static bool has_chromium(void) {
    return system("command -v chromium >/dev/null 2>&1") == 0;
}

/* Pages of a PDF: ISO 32000-1, 7.7.3.3, each has a dictionary of type Page. */
static size_t pages_of(const char *path) {
    size_t length, pages = 0;
    char *bytes = file_read(path, &length);
    CHECK_TRUE(bytes != NULL && strncmp(bytes, "%PDF-", 5) == 0);
    for (size_t i = 0; i + 11 < length; i++) {
        pages += memcmp(bytes + i, "/Type /Page", 11) == 0 && bytes[i + 11] != 's';
    }
    free(bytes);
    return pages;
}

static void check_pages(size_t shots, const char *paper, size_t least, size_t most) {
    char command[COMMAND], name[32];
    snprintf(name, sizeof name, "day-%zu.json", shots);
    write_day(name, shots, "of the brewery");
    snprintf(command, sizeof command,
             "\"$VS_PROGRAM\" sheet %s --out day.html --pdf day.pdf --paper %s", name, paper);
    program_run_result run = run_here(command, 1);
    CHECK_TRUE(strstr(run.out, "wrote day.pdf") && strstr(run.out, "Defer to local code"));
    program_check_lines(run.out);
    size_t pages = pages_of("day.pdf");
    if (pages < least || pages > most) {
        fail_msg("%zu shots on %s: %zu pages, wanted %zu to %zu", shots, paper, pages, least, most);
    }
    program_free(&run);
}

/* Two for the crew and one for the venue, on both papers; twenty shots take more. */
static void pages_are_two_and_one(void **state) {
    (void)state;
    if (!has_chromium()) {
        print_message("no chromium: pages are not counted\n");
        skip();
    }
    check_pages(1, "a4", 3, 3);
    check_pages(4, "letter", 3, 3);
    check_pages(12, "a4", 3, 3);
    check_pages(12, "letter", 3, 3);
    check_pages(20, "a4", 4, 6);
}

/* ---- what goes wrong ---- */

static void fails(const char *command, int status, const char *says) {
    program_run_result run = program_run_shell(".", command);
    if (run.status != status || strcmp(run.err, says) != 0 || run.out[0]) {
        fail_msg("%s: %d\n%s%swanted %d\n%s", command, run.status, run.out, run.err, status, says);
    }
    program_free(&run);
}

static void what_cannot_be_done_is_one_line(void **state) {
    (void)state;
#define SHEET "\"$VS_PROGRAM\" sheet one.json "
    write_day("one.json", 1, "x");
    fails(SHEET "--paper a5", 2, "veilstop: --paper: must be a4 or letter (got a5)\n");
    fails(SHEET "--order best", 2, "veilstop: --order: must be file or chosen (got best)\n");
    fails(SHEET "--out one.json", 2,
          "veilstop: --out: must be another file than one.json, which is read\n");
    fails(SHEET "--out a --pdf a", 2, "veilstop: --pdf: must be another file than --out writes\n");
    fails(SHEET "--out none/day.html", 4,
          "veilstop: none/day.html: must be a file that can be written (got: No such file or "
          "directory)\n");
    fails("printf "
          "'{\"veilstop\":1,\"rooms\":[{\"name\":\"a\",\"corner\":[0,0,0],\"size\":[4,3,3]}]}' "
          ">none.json; \"$VS_PROGRAM\" sheet none.json",
          3, "veilstop: none.json:/shots: must have a shot to be put on paper (got none)\n");
}

/* Where Chromium is missing the sheet is there all the same, and nothing of the PDF. */
static void without_chromium_it_says_what_to_install(void **state) {
    (void)state;
    write_day("one.json", 1, "x");
    unlink("left.html");
    unlink("left.pdf");
    fails(
        "rm -rf empty; mkdir empty; PATH=$PWD/empty " SHEET "--out left.html --pdf left.pdf", 4,
        "veilstop: --pdf: needs Chromium: install it (Debian: apt-get install chromium), or print "
        "left.html from a browser\n");
    CHECK_TRUE(access("left.html", R_OK) == 0 && access("left.pdf", F_OK) != 0);
    /* one that fails, and one that writes nothing */
    fails("printf '#!/bin/sh\\nexit 1\\n' >empty/chromium; chmod +x empty/chromium; "
          "PATH=$PWD/empty:$PATH " SHEET "--pdf left.pdf",
          4, "veilstop: --pdf: Chromium could not lay the sheet out; print it from a browser\n");
    fails("printf '#!/bin/sh\\nexit 0\\n' >empty/chromium; PATH=$PWD/empty:$PATH " SHEET
          "--pdf left.pdf",
          4, "veilstop: --pdf: Chromium wrote no pages; print the sheet from a browser\n");
    CHECK_TRUE(access("left.pdf", F_OK) != 0);
}

/* The same file by --out, on standard output, and in JSON. */
static void every_way_gives_the_same_file(void **state) {
    (void)state;
    write_day("one.json", 1, "x");
    program_run_result plain = run_here("\"$VS_PROGRAM\" sheet one.json", 1);
    program_run_result json = run_here("\"$VS_PROGRAM\" sheet one.json --json", 1);
    program_run_result told = run_here("\"$VS_PROGRAM\" sheet one.json --out o.html", 1);
    size_t length;
    char *file = file_read("o.html", &length);
    cJSON *answer = cJSON_Parse(json.out);
    CHECK_TRUE(file && strcmp(file, plain.out) == 0);
    CHECK_TRUE(strcmp(cJSON_GetObjectItem(answer, "html")->valuestring, plain.out) == 0);
    CHECK_TRUE(strstr(told.out, "wrote o.html") && strstr(told.out, "Defer to local code"));
    program_check_lines(told.out);
    cJSON_Delete(answer);
    free(file);
    program_free(&told);
    program_free(&json);
    program_free(&plain);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(figures_are_those_of_the_answers),
        cmocka_unit_test(nothing_runs_and_nothing_is_loaded),
        cmocka_unit_test(lengths_in_another_unit_are_asked_about),
        cmocka_unit_test(the_library_writes_the_same_sheet),
        cmocka_unit_test(names_are_words_and_no_tags),
        cmocka_unit_test(pages_are_two_and_one),
        cmocka_unit_test(what_cannot_be_done_is_one_line),
        cmocka_unit_test(without_chromium_it_says_what_to_install),
        cmocka_unit_test(every_way_gives_the_same_file),
    };
    return RUN_TESTS(tests);
}
