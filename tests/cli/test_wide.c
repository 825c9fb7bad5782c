/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Names of forty columns and extreme figures through every command, in metres and feet; and every
 * golden: no line over 100 columns, no figure cut. Invented; no outside source. */
#include "check.h"
#include "program.h"

#include <ctype.h>
#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/report/style.h"

#define SCENE    "tests/cli/wide/names.json"
#define ELLIPSIS "\xe2\x80\xa6" /* U+2026 */

static bool is_of_a_figure(char c) {
    return isdigit((unsigned char)c) || c == '.' || c == '%';
}

/* A line too wide, or an ellipsis at a figure; the names here have digits only at their beginnings.
 */
static bool is_bad(const char *line) {
    const char *cut = strstr(line, ELLIPSIS);
    for (; cut; cut = strstr(cut + 1, ELLIPSIS)) {
        if ((cut > line && is_of_a_figure(cut[-1])) || is_of_a_figure(cut[strlen(ELLIPSIS)])) {
            return true;
        }
    }
    return vs_text_columns(line) > VS_REPORT_COLUMNS && line[0] != '{';
}

/* The message of a line: of a fault, what follows its place, however long that path is. Lists of
 * all known names may be long. */
static const char *told_of(const char *line) {
    const char *must = strstr(line, ": must ");
    const char *told = must ? must : strlen(line) > 10 ? strstr(line + 10, ": ") : NULL;
    bool lists = strstr(line, "known here are ") || strstr(line, " one of ");
    return strncmp(line, "veilstop: ", 10) != 0 ? line : lists ? "" : told ? told + 2 : line;
}

static size_t count_bad(const char *where, char *text) {
    size_t bad = 0;
    for (char *line = strtok(text, "\n"); line; line = strtok(NULL, "\n")) {
        if (is_bad(told_of(line))) {
            fprintf(stderr, "%s: %s\n", where, line);
            bad++;
        }
    }
    return bad;
}

static void long_names_leave_figures_whole(void **state) {
    (void)state;
    static const char *const command[] = {
        "predict " SCENE,
        "predict " SCENE " --units ft",
        "choose " SCENE " --spread --samples 16",
        "choose " SCENE " --units ft --turn 'the hard narrow spot on the copper kettle'",
        "dwell " SCENE,
        "dwell " SCENE " --units ft",
        "grade " SCENE,
        "grade " SCENE " --best --units ft",
        "grade " SCENE " --shot '1 the master of the cellar with its spots'",
        "trust " SCENE " --paths 200 --shot '1 the master of the cellar with its spots'",
        "reading " SCENE,
        "cautions " SCENE,
        "cautions " SCENE " --units ft",
    };
    size_t bad = 0, cut = 0;
    for (size_t i = 0; i < sizeof command / sizeof command[0]; i++) {
        char line[256];
        snprintf(line, sizeof line, "\"$VS_PROGRAM\" %s", command[i]);
        program_run_result run = program_run_shell(NULL, line);
        CHECK_TRUE(run.status <= 1 && run.out_length > 500);
        cut += strstr(run.out, ELLIPSIS) != NULL;
        bad += count_bad(line, run.out);
        program_free(&run);
    }
    CHECK_TRUE(bad == 0);
    CHECK_TRUE(cut > 4); /* names are shortened, so the rule is tested */
}

static void goldens_have_no_wide_line_and_no_cut_figure(void **state) {
    (void)state;
    static const char *const folder[] = {"cautions", "choose",  "dwell",   "fluid",
                                         "grade",    "predict", "reading", "bad"};
    size_t bad = 0, files = 0;
    for (size_t i = 0; i < sizeof folder / sizeof folder[0]; i++) {
        char path[512];
        snprintf(path, sizeof path, "%s/cli/%s", getenv("VS_TESTS"), folder[i]);
        DIR *directory = opendir(path);
        CHECK_TRUE(directory != NULL);
        for (struct dirent *entry; (entry = readdir(directory));) {
            if (strstr(entry->d_name, ".out") || strstr(entry->d_name, ".expected")) {
                snprintf(path, sizeof path, "cli/%s/%.200s", folder[i], entry->d_name);
                char *text = tests_file(path, NULL);
                bad += count_bad(path, text);
                files++;
                free(text);
            }
        }
        closedir(directory);
    }
    CHECK_TRUE(files > 60 && bad == 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(long_names_leave_figures_whole),
        cmocka_unit_test(goldens_have_no_wide_line_and_no_cut_figure),
    };
    return RUN_TESTS(tests);
}
